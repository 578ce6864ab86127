//! Which analyte a laboratory's name means. Ids, display names, synonyms and CAS numbers count; letter
//! case, punctuation, spacing and, as a second step, the order of words do not. A name that could mean two
//! analytes means none: it stays unknown and the nearest ids are offered.

use rustc_hash::FxHashMap;

use crate::ids::AnalyteId;

use super::analytes::{Analyte, Analytes};
use super::bases::{Bases, Basis};
use super::cas;
use super::fold::{bag, compact, words};
use super::fractions;
use super::name_parts::{Peeled, peelings};

/// Which part of the sample was analysed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fraction {
    /// Unfiltered.
    Total,
    /// Filtered.
    Dissolved,
    /// The first water out of the tap: speaks of the plumbing.
    FirstDraw,
    /// Water after the pipes were run.
    Flushed,
}

/// What a name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NameReading {
    /// The analyte; for a first draw of lead or copper its first-draw stratum.
    pub analyte: AnalyteId,
    /// The basis the name states.
    pub basis: Option<Basis>,
    /// The fraction the name states.
    pub fraction: Option<Fraction>,
}

/// What became of a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NameOutcome {
    /// One analyte; its basis is stated or has a usual one.
    Known(NameReading),
    /// One analyte ("Nitrate"), but the unit must state the basis.
    NeedsBasis(NameReading),
    /// No analyte, or more than one.
    Unknown {
        /// Ids that look alike, best first, at most three.
        nearest: Vec<String>,
    },
}

/// What a key leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    One { analyte: AnalyteId, basis: Option<Basis> },
    Many,
}

/// All names.
#[derive(Debug, Clone, Default)]
pub(super) struct Names {
    exact: FxHashMap<String, Entry>,
    bags: FxHashMap<String, Entry>,
    numbers: FxHashMap<String, Entry>,
    spelled: Vec<(String, AnalyteId)>,
}

impl Names {
    /// Gathers the names of all analytes and of the ways to report them.
    pub(super) fn gather(analytes: &Analytes, bases: &Bases) -> Self {
        let mut names = Self::default();
        for (id, entry) in analytes.iter() {
            names.add_all(id, entry, entry.basis_must_be_stated, analytes, bases);
        }
        for (id, way) in analytes.ways() {
            names.add_all(id, way, true, analytes, bases);
        }
        for (id, way) in analytes.iter().chain(analytes.ways()) {
            for other in &way.lookalikes {
                names.put_words(&words(other), Entry::Many);
            }
            if analytes.get(id).is_some_and(|main| main.basis_must_be_stated) {
                names.add_stems(id, way, bases);
            }
        }
        names
    }

    /// What `name` says, and what is like it where it says nothing.
    pub(super) fn resolve(&self, name: &str, analytes: &Analytes, bases: &Bases) -> NameOutcome {
        match self.find(name, analytes, bases) {
            Some(reading) => outcome(reading, analytes),
            None => NameOutcome::Unknown { nearest: self.nearest(name, analytes) },
        }
    }

    /// What `name` says. Looking for the nearest of all names costs a thousand times as much.
    pub(super) fn find(&self, name: &str, analytes: &Analytes, bases: &Bases) -> Option<NameReading> {
        let number = cas::verified(name).and_then(|number| self.numbers.get(number));
        if let Some(Entry::One { analyte, basis }) = number.copied() {
            return Some(NameReading { analyte, basis, fraction: None });
        }
        let whole = self.peel(&words(name), analytes, bases);
        whole.or_else(|| self.with_alias(name, analytes, bases))
    }

    fn add_all(&mut self, id: AnalyteId, entry: &Analyte, stated: bool, analytes: &Analytes, bases: &Bases) {
        let must = analytes.get(id).is_some_and(|main| main.basis_must_be_stated);
        let own = entry.own_basis.filter(|_| stated);
        let printed = [&entry.id, &entry.display_name];
        for name in printed.into_iter().chain(&entry.synonyms) {
            let tail = peelings(&words(name), bases).into_iter().find_map(|peeled| peeled.basis);
            self.add(name, id, own.or(tail));
        }
        if let Some(number) = entry.cas.as_ref().filter(|_| entry.dissolved_of.is_none()) {
            let basis = own.filter(|_| !must);
            put(&mut self.numbers, number.clone(), Entry::One { analyte: id, basis });
        }
    }

    /// "Nitrate as N" also makes "nitrate" known, without a basis.
    fn add_stems(&mut self, id: AnalyteId, entry: &Analyte, bases: &Bases) {
        for name in &entry.synonyms {
            let stem = peelings(&words(name), bases).into_iter().find(|peeled| peeled.basis.is_some());
            if let Some(stem) = stem {
                self.put_words(&stem.words, Entry::One { analyte: id, basis: None });
            }
        }
    }

    fn add(&mut self, name: &str, analyte: AnalyteId, basis: Option<Basis>) {
        self.spelled.push((words(name).join(" "), analyte));
        self.put_words(&words(name), Entry::One { analyte, basis });
    }

    fn put_words(&mut self, words: &[String], entry: Entry) {
        put(&mut self.exact, compact(words), entry);
        put(&mut self.bags, bag(words), entry);
    }

    /// Reads the name whole, then with less and less of it, up to the first that means something. A name
    /// found whole may still show its fraction when peeled ("Arsenic, total" is a synonym of its own).
    fn peel(&self, words: &[String], analytes: &Analytes, bases: &Bases) -> Option<NameReading> {
        let mut first: Option<NameReading> = None;
        for peeled in peelings(words, bases) {
            let reading = match self.entry(&peeled.words) {
                Some(Entry::Many) => break,
                Some(Entry::One { analyte, basis }) => read(&peeled, analyte, basis, analytes, bases),
                None => None,
            };
            match (&mut first, reading) {
                (None, reading) => first = reading,
                (Some(first), Some(reading)) if first.analyte == reading.analyte => {
                    first.fraction = first.fraction.or(reading.fraction);
                }
                (Some(_), _) => {}
            }
        }
        first
    }

    fn entry(&self, words: &[String]) -> Option<Entry> {
        let exact = self.exact.get(&compact(words));
        exact.or_else(|| self.bags.get(&bag(words))).copied()
    }

    /// "Trichloroethylene (TCE)": both parts must mean the same analyte.
    fn with_alias(&self, name: &str, analytes: &Analytes, bases: &Bases) -> Option<NameReading> {
        let (before, rest) = name.split_once(['(', '['])?;
        let (inside, after) = rest.split_once([')', ']'])?;
        let outer = self.peel(&words(&format!("{before} {after}")), analytes, bases)?;
        let inner = self.peel(&words(inside), analytes, bases)?;
        (outer.analyte == inner.analyte).then_some(NameReading {
            analyte: outer.analyte,
            basis: agreed(outer.basis, inner.basis),
            fraction: outer.fraction.or(inner.fraction),
        })
    }

    /// How like a name is to the nearest spelling of an analyte: 1 is the same.
    pub(super) fn likeness(&self, name: &str, analyte: AnalyteId) -> f64 {
        let key = words(name).join(" ");
        let own = self.spelled.iter().filter(|(_, id)| *id == analyte);
        own.map(|(spelled, _)| strsim::normalized_damerau_levenshtein(&key, spelled)).fold(0.0, f64::max)
    }

    fn nearest(&self, name: &str, analytes: &Analytes) -> Vec<String> {
        let key = words(name).join(" ");
        let mut scored: Vec<(f64, &str)> = Vec::new();
        for (spelled, id) in &self.spelled {
            let score = strsim::normalized_damerau_levenshtein(&key, spelled);
            let id = analytes.id(*id);
            match scored.iter_mut().find(|(_, known)| *known == id) {
                Some(known) => known.0 = known.0.max(score),
                None => scored.push((score, id)),
            }
        }
        scored.retain(|(score, _)| *score >= 0.6);
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
        scored.into_iter().take(3).map(|(_, id)| id.to_owned()).collect()
    }
}

fn read(
    peeled: &Peeled,
    analyte: AnalyteId,
    basis: Option<Basis>,
    analytes: &Analytes,
    bases: &Bases,
) -> Option<NameReading> {
    let main = analytes.get(analyte)?;
    // A temperature matters to a conductance and says nothing of anything else ("pH at 25 C").
    let by_temperature = main.own_basis.is_some_and(|own| bases.is_temperature(own));
    let stated = peeled.basis.filter(|basis| by_temperature || !bases.is_temperature(*basis));
    if !may_peel(main, peeled.fraction) {
        return None;
    }
    let first_draw = peeled.fraction == Some(Fraction::FirstDraw) || main.first_draw_of.is_some();
    let stratum = analytes.first_draw_stratum(analyte).filter(|_| first_draw);
    let fraction = first_draw.then_some(Fraction::FirstDraw);
    let reading = NameReading {
        analyte: stratum.unwrap_or(analyte),
        basis: agreed(basis, stated),
        fraction: fraction.or(peeled.fraction),
    };
    match peeled.fraction {
        Some(Fraction::Dissolved) if !first_draw => fractions::dissolved(analytes, reading),
        _ => Some(reading),
    }
}

/// Total and dissolved are fractions only of what is weighed: "dissolved organic carbon" is not organic
/// carbon, "total chlorine" not free chlorine.
fn may_peel(analyte: &Analyte, fraction: Option<Fraction>) -> bool {
    let group = analyte.group.as_str();
    match fraction {
        None => true,
        Some(Fraction::Total) => !matches!(group, "field" | "physical"),
        Some(Fraction::Dissolved) => {
            matches!(group, "metal" | "major-ion" | "nutrient" | "radionuclide")
        }
        Some(Fraction::FirstDraw | Fraction::Flushed) => true,
    }
}

/// One basis stated by two places; none when they disagree.
fn agreed(one: Option<Basis>, other: Option<Basis>) -> Option<Basis> {
    match (one, other) {
        (Some(a), Some(b)) => (a == b).then_some(a),
        (one, other) => one.or(other),
    }
}

fn outcome(reading: NameReading, analytes: &Analytes) -> NameOutcome {
    let must = analytes.get(reading.analyte).is_some_and(|entry| entry.basis_must_be_stated);
    if must && reading.basis.is_none() {
        return NameOutcome::NeedsBasis(reading);
    }
    NameOutcome::Known(reading)
}

/// Two entries under one key: the same analyte keeps what they agree on, two analytes cancel.
fn put(map: &mut FxHashMap<String, Entry>, key: String, entry: Entry) {
    let known = *map.entry(key.clone()).or_insert(entry);
    let merged = match (known, entry) {
        (Entry::One { analyte, basis }, Entry::One { analyte: other, basis: second }) if analyte == other => {
            Entry::One { analyte, basis: basis.filter(|_| basis == second) }
        }
        _ => Entry::Many,
    };
    map.insert(key, merged);
}
