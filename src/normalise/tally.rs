//! Odd spellings of a block and of a whole run: how often, and where first.
//!
//! A run's memory must not grow with its rows, so a list keeps `MOST` different texts, none longer than `LONGEST`, and counts the rest
//! together.

use std::borrow::Cow;
use std::collections::BTreeMap;

/// Different texts that one list keeps.
const MOST: usize = 10_000;
/// Characters of a text that is kept; a longer one is cut, and told apart by its start alone.
const LONGEST: usize = 200;
/// What texts beyond that are counted under.
pub const OTHERS: &str = "(others)";

/// Where something was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Number of the file.
    pub file: u16,
    /// Line, counted from 1.
    pub line: u32,
    /// The `[[results]]` of the file, counted from 0.
    pub part: usize,
}

/// How often a text was met, and where first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// How often.
    pub count: u64,
    /// Where first.
    pub first: Place,
    /// In which parts, ascending.
    pub parts: Vec<usize>,
}

/// Texts with their counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Texts<K: Ord = String>(pub BTreeMap<K, Seen>);

impl<K: Ord> Default for Texts<K> {
    fn default() -> Self {
        Texts(BTreeMap::new())
    }
}

impl Texts {
    /// Counts a text once.
    pub fn note(&mut self, text: &str, place: Place) {
        let text = short(text);
        match self.0.get_mut(&*text) {
            Some(seen) => seen.again(1, place),
            None => self.insert(text.into_owned(), Seen { count: 1, first: place, parts: vec![place.part] }),
        }
    }

    fn add(&mut self, other: &Texts) {
        for (text, seen) in &other.0 {
            match self.0.get_mut(text) {
                Some(known) => known.merge(seen),
                None => self.insert(text.clone(), seen.clone()),
            }
        }
    }

    fn insert(&mut self, text: String, seen: Seen) {
        if self.0.len() < MOST {
            self.0.insert(text, seen);
        } else if let Some(others) = self.0.get_mut(OTHERS) {
            others.merge(&seen);
        } else {
            self.0.insert(OTHERS.to_owned(), seen);
        }
    }
}

impl Texts<(String, String)> {
    /// Counts a pair of texts once.
    pub fn note(&mut self, one: &str, other: &str, place: Place) {
        let fresh = Seen { count: 0, first: place, parts: vec![place.part] };
        self.entry(one, other, fresh).again(1, place);
    }

    fn add(&mut self, other: &Self) {
        for ((one, two), seen) in &other.0 {
            let fresh = Seen { count: 0, ..seen.clone() };
            self.entry(one, two, fresh).merge(seen);
        }
    }

    fn entry(&mut self, one: &str, other: &str, fresh: Seen) -> &mut Seen {
        let mut key = (short(one).into_owned(), short(other).into_owned());
        if self.0.len() >= MOST && !self.0.contains_key(&key) {
            key = (OTHERS.to_owned(), OTHERS.to_owned());
        }
        self.0.entry(key).or_insert(fresh)
    }
}

fn short(text: &str) -> Cow<'_, str> {
    let end = (text.len() > LONGEST).then(|| text.char_indices().nth(LONGEST)).flatten();
    let start = end.and_then(|(at, _)| text.get(..at));
    start.map_or(Cow::Borrowed(text), |start| Cow::Owned(format!("{start}...")))
}

impl Seen {
    fn again(&mut self, count: u64, place: Place) {
        self.count += count;
        self.first = self.first.min(place);
        if let Err(at) = self.parts.binary_search(&place.part) {
            self.parts.insert(at, place.part);
        }
    }

    fn merge(&mut self, other: &Seen) {
        self.again(other.count, other.first);
        self.parts.extend(&other.parts);
        self.parts.sort_unstable();
        self.parts.dedup();
    }
}

/// Odd spellings met in a block, with their counts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Unknown analyte names.
    pub names: Texts,
    /// Names that do not say what they are counted as.
    pub bases: Texts,
    /// Unknown units, with the analyte's name: (unit, name).
    pub units: Texts<(String, String)>,
    /// Units that measure something else, with the analyte's name.
    pub unfit_units: Texts<(String, String)>,
    /// Unknown qualifiers.
    pub qualifiers: Texts,
    /// Marks of one line that contradict each other.
    pub disagreeing: Texts,
    /// Unknown sample kinds.
    pub kinds: Texts,
    /// Sample fractions, with the analyte's name, that make no analyte of it.
    pub fractions: Texts<(String, String)>,
    /// Dates that could be read in two ways.
    pub ambiguous_dates: Texts,
    /// Dates that could not be read.
    pub dates: Texts,
    /// Ids of wells that no list holds.
    pub wells: Texts,
    /// Dates of sampling after the day on which the run is made.
    pub late: Texts,
    /// Days of receipt that could not be read.
    pub received: Texts,
    /// Values that could not be read.
    pub values: Texts,
    /// Limits that could not be read.
    pub limits: Texts,
    /// Lines that the reader could not split.
    pub damaged: u64,
    /// Results whose unit was a mass ratio (ppm, ppb, ppt) taken as mass per litre.
    pub mass_ratios: u64,
    /// Results that the laboratory calls preliminary.
    pub preliminary: u64,
    /// Counts of bacteria in a unit without a volume, taken as found or not found.
    pub no_volume: u64,
}

impl Tally {
    /// Adds another block's counts.
    pub fn add(&mut self, other: &Tally) {
        self.names.add(&other.names);
        self.bases.add(&other.bases);
        self.units.add(&other.units);
        self.unfit_units.add(&other.unfit_units);
        self.qualifiers.add(&other.qualifiers);
        self.disagreeing.add(&other.disagreeing);
        self.kinds.add(&other.kinds);
        self.fractions.add(&other.fractions);
        self.ambiguous_dates.add(&other.ambiguous_dates);
        self.dates.add(&other.dates);
        self.wells.add(&other.wells);
        self.late.add(&other.late);
        self.received.add(&other.received);
        self.values.add(&other.values);
        self.limits.add(&other.limits);
        self.damaged += other.damaged;
        self.mass_ratios += other.mass_ratios;
        self.preliminary += other.preliminary;
        self.no_volume += other.no_volume;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(line: u32) -> Place {
        Place { file: 0, line, part: 0 }
    }

    #[test]
    fn counts_and_first_places_add_up_in_any_order() {
        let (mut one, mut other) = (Tally::default(), Tally::default());
        one.names.note("x", at(9));
        other.names.note("x", at(3));
        other.units.note("u", "x", at(4));
        let mut turned = other.clone();
        turned.add(&one);
        one.add(&other);
        assert_eq!(one, turned);
        assert_eq!(one.names.0["x"], Seen { count: 2, first: at(3), parts: vec![0] });
    }

    #[test]
    fn a_long_text_is_cut_at_a_character() {
        let mut texts = <Texts>::default();
        texts.note(&"ü".repeat(300_000), at(1));
        texts.note(&"ü".repeat(200), at(2));
        let kept: Vec<usize> = texts.0.keys().map(|text| text.chars().count()).collect();
        assert_eq!(kept, [200, 203]);
    }

    #[test]
    fn a_flood_of_texts_is_counted_and_not_kept() {
        let mut texts = <Texts>::default();
        for number in 0..12_000u32 {
            texts.note(&number.to_string(), at(number));
        }
        assert_eq!(texts.0.len(), MOST + 1);
        assert_eq!(texts.0.values().map(|seen| seen.count).sum::<u64>(), 12_000);
    }
}
