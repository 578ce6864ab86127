//! follow-up.csv (internal): wells whose newest result calls for action, and those that a later sample cleared.
//!
//! The newest result decides, whatever `per_well.choose` says, and also of wells that no area holds or no list names:
//! a household is not less at risk because its coordinates are wrong. Chemicals are listed above a limit in force for
//! health; bacteria when found. A well that was above and whose later result meets every such limit is listed as cleared, last: one
//! good sample is good news, not proof. Of two results of one day that disagree the bad one counts. The caution defers to the local
//! health authority and licensed practice.

use super::over::Over;
use super::rows::{FollowUpRow, Urgency};
use crate::dictionary::{Analyte, Benchmark, BenchmarkKind, Dictionary, Effect};
use crate::ids::{AnalyteId, Day, Interval};
use crate::methods::exceedance::Verdict;
use crate::per_well::Candidate;
use crate::place::Wells;
use crate::summarise::judge;
use std::collections::BTreeMap;

/// A result this many times its limit is called for now, whatever the effect (common practice, no source).
const VERY_HIGH: f64 = 10.0;
/// Analytes of which any result above a health limit is called for now (common practice, no source).
const NOW: [&str; 5] = ["arsenic", "lead", "lead_first_draw", "uranium", "nitrite_as_n"];

/// Health limits in force, by analyte.
pub type Limits<'f> = BTreeMap<AnalyteId, Vec<&'f Benchmark>>;

/// Whom to call. A row is made when it is asked for: its sentences take ten times the room of what they are made from.
#[derive(Debug, Default)]
pub struct FollowUps {
    entries: Vec<Entry>,
    /// Places in `entries` of those that call for action: urgent ones first, cleared ones last, then by well and analyte.
    order: Vec<u32>,
    /// What is to be said of each analyte with a health limit in force.
    told: BTreeMap<AnalyteId, Told>,
    /// The day that ages refer to.
    as_of: Option<Day>,
    /// Ids as written of wells that no list names.
    unlisted: Vec<String>,
}

/// A well and analyte above a limit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entry {
    pub(super) well: Called,
    pub(super) analyte: AnalyteId,
    /// Its newest result.
    pub(super) newest: Candidate,
    /// Its newest result above a limit.
    pub(super) over: Candidate,
}

/// What rows of one analyte have in common.
#[derive(Debug)]
struct Told {
    unit: String,
    /// Health limits in force, and each as people write it.
    limits: Vec<(Benchmark, String)>,
    /// By urgency.
    cautions: [String; 3],
}

impl Told {
    fn new(dictionary: &Dictionary, analyte: AnalyteId, limits: &[&Benchmark]) -> Option<Told> {
        let known = dictionary.analytes().get(analyte)?;
        let unit = dictionary.unit_text(analyte);
        let limits = limits.iter().map(|limit| ((*limit).clone(), limit_text(limit.kind, &unit))).collect();
        let cautions = [Urgency::Now, Urgency::Soon, Urgency::Cleared].map(|urgency| caution(known, urgency));
        Some(Told { unit, limits, cautions })
    }
}

/// A well by its place in the list, or among `unlisted`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Called {
    Listed(u32),
    Unlisted(u32),
}

impl FollowUps {
    /// Finds them among what is above a limit.
    pub(super) fn of(
        dictionary: &Dictionary,
        wells: &Wells,
        as_of: Option<Day>,
        limits: &Limits<'_>,
        over: Over,
    ) -> FollowUps {
        if as_of.is_none() {
            return FollowUps::default();
        }
        let (entries, unlisted) = over.by_well();
        let told = limits.iter().filter_map(|(id, limits)| Some((*id, Told::new(dictionary, *id, limits)?)));
        let mut all = FollowUps { entries, order: Vec::new(), told: told.collect(), as_of, unlisted };
        all.order = all.sorted(dictionary, wells);
        all
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.order.len()
    }

    /// Whether nobody is to be called.
    pub fn is_empty(&self) -> bool {
        self.order.is_empty()
    }

    /// Places of those that call for action, in the order of the table. The entries stand by well.
    fn sorted(&self, dictionary: &Dictionary, wells: &Wells) -> Vec<u32> {
        let named = |own: &'_ [Entry]| own.first().map(|entry| self.name(wells, entry.well)).unwrap_or_default();
        let own = self.entries.chunk_by(|a, b| a.well == b.well).scan(0u32, |next, own| {
            let start = *next;
            *next += u32::try_from(own.len()).unwrap_or(u32::MAX);
            Some((start, own))
        });
        let mut by_well: Vec<(u128, &str, u32, &[Entry])> =
            own.map(|(start, own)| (first_bytes(named(own)), named(own), start, own)).collect();
        by_well.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)));
        let placed = by_well.iter().flat_map(|(_, _, start, own)| (*start..).zip(own.iter()));
        let judged = placed.filter_map(|(place, entry)| Some((self.judged(dictionary, entry)?.urgency, place)));
        let judged: Vec<(Urgency, u32)> = judged.collect();
        let of = |urgency| judged.iter().filter(move |(own, _)| *own == urgency).map(|(_, place)| *place);
        [Urgency::Now, Urgency::Soon, Urgency::Cleared].into_iter().flat_map(of).collect()
    }

    fn name<'a>(&'a self, wells: &'a Wells, well: Called) -> &'a str {
        match well {
            Called::Listed(well) => wells.id_at(well).unwrap_or_default(),
            Called::Unlisted(at) => self.unlisted.get(at as usize).map_or("", String::as_str),
        }
    }

    fn judged<'a>(&'a self, dictionary: &'a Dictionary, entry: &Entry) -> Option<Judged<'a>> {
        let (told, known) = (self.told.get(&entry.analyte)?, dictionary.analytes().get(entry.analyte)?);
        judged(known, &told.limits, entry)
    }

    /// A row by its number: urgent ones first, cleared ones last, then by well and analyte.
    pub fn row<'a>(&'a self, dictionary: &'a Dictionary, wells: &'a Wells, number: usize) -> Option<FollowUpRow<'a>> {
        let entry = self.entries.get(*self.order.get(number)? as usize)?;
        let Judged { limit: (limit, text), meets, why, urgency } = self.judged(dictionary, entry)?;
        let told = self.told.get(&entry.analyte)?;
        Some(FollowUpRow {
            well: self.name(wells, entry.well),
            analyte: entry.analyte,
            result: result_text(entry.over.interval, &told.unit),
            limit: text,
            set: &limit.set,
            date: entry.over.day,
            age_years: f64::from(self.as_of?.0 - entry.over.day.0) / 365.25,
            urgency,
            why,
            later: later(entry, meets, limit.kind, &told.unit),
            caution: told.cautions.get(urgency as usize)?,
        })
    }
}

/// The first bytes of a name as a number that sorts as they do: most comparisons then need not look the name up.
fn first_bytes(name: &str) -> u128 {
    let mut first = [0; 16];
    first.iter_mut().zip(name.bytes()).for_each(|(slot, byte)| *slot = byte);
    u128::from_be_bytes(first)
}

/// The health limits among benchmarks.
pub fn health_limits(benchmarks: &[Benchmark]) -> Limits<'_> {
    let mut limits: Limits<'_> = BTreeMap::new();
    for benchmark in benchmarks {
        if benchmark.ranks && matches!(benchmark.effect, Effect::AcuteHealth | Effect::ChronicHealth) {
            limits.entry(benchmark.analyte).or_default().push(benchmark);
        }
    }
    limits
}

/// What an entry's results say beside its limits.
struct Judged<'a> {
    /// The limit that is named, and as people write it.
    limit: &'a (Benchmark, String),
    /// Whether the newest result meets every limit.
    meets: bool,
    why: &'static str,
    urgency: Urgency,
}

fn judged<'a>(known: &Analyte, limits: &'a [(Benchmark, String)], entry: &Entry) -> Option<Judged<'a>> {
    let over = entry.over;
    let passed = limits.iter().filter(|(b, _)| judge(over.interval, b.kind) == Verdict::Exceeding);
    // Of several limits passed, the one with the graver effect is named; acute stands first.
    let limit = passed.min_by_key(|(b, _)| b.effect)?;
    let meets = limits.iter().all(|(b, _)| judge(entry.newest.interval, b.kind) == Verdict::Meeting);
    let cleared = entry.newest.day > over.day && meets;
    let (high, why) = why(known, &limit.0, over.interval);
    let filtered = known.dissolved_of.and_then(|_| known.id.strip_suffix("_dissolved"));
    let at_once = high || NOW.contains(&filtered.unwrap_or(&known.id)) || is_acute(known, &limit.0);
    let urgency = match at_once {
        _ if cleared => Urgency::Cleared,
        true => Urgency::Now,
        false => Urgency::Soon,
    };
    Some(Judged { limit, meets, why, urgency })
}

/// What another result, of a later day or of the same, says.
fn later(entry: &Entry, meets: bool, limit: BenchmarkKind, unit: &str) -> String {
    let Entry { newest, over, .. } = entry;
    if newest.row == over.row {
        return String::new();
    }
    let result = result_text(newest.interval, unit);
    let day = newest.day;
    match (day > over.day, meets) {
        (true, true) if limit == BenchmarkKind::Absent => format!("{day}: {result}, none found"),
        (true, true) => format!("{day}: {result}, within the limit"),
        (true, false) => format!("{day}: {result}, which cannot tell"),
        (false, _) => format!("another result of that day: {result}"),
    }
}

/// Total coliform alone only says that surface water may get in: soon, not now.
fn is_acute(entry: &Analyte, limit: &Benchmark) -> bool {
    limit.effect == Effect::AcuteHealth && entry.id != "total_coliform"
}

/// Whether the result is very high, and why it is listed.
fn why(entry: &Analyte, limit: &Benchmark, interval: Interval) -> (bool, &'static str) {
    let times = match (limit.kind, interval.number()) {
        (BenchmarkKind::Max { limit }, Some(x)) if limit > 0.0 => x / limit,
        _ => 0.0,
    };
    match times >= VERY_HIGH {
        true => (true, "10 times the limit or more"),
        false if entry.is_microbial() => (false, "found"),
        false => (false, "above the limit"),
    }
}

fn caution(entry: &Analyte, urgency: Urgency) -> String {
    const CONFIRM: &str = "Have a certified laboratory confirm it; a licensed well or water-treatment professional can say what would help.";
    const ASK: &str = "Ask the local health authority, and have a certified laboratory confirm it; a licensed well or \
                       water-treatment professional can say what would help.";
    if urgency == Urgency::Cleared {
        let cleared = if entry.is_microbial() {
            "In a later sample none was found."
        } else {
            "A later sample was within the limit."
        };
        return format!("{cleared} One good sample is no proof: ask the local health authority when to test again.");
    }
    let own = if entry.caution.is_empty() { String::new() } else { format!("{} ", entry.caution.trim()) };
    // Who has been told to ask the health authority is not told twice.
    let rest = if own.contains("local health authority") { CONFIRM } else { ASK };
    format!("{own}{rest}")
}

/// The unit of counted bacteria, which nobody says so.
const COUNTS: &str = "count/100mL";

/// A result as people write it.
pub(crate) fn result_text(interval: Interval, unit: &str) -> String {
    use crate::publish::number::text;
    let text = |x: f64| text(five_digits(x));
    let unit = said_unit(unit);
    let with_unit = |value: String| format!("{value} {unit}").trim_end().to_owned();
    match interval {
        Interval::Detect(x) => with_unit(text(x)),
        Interval::Below(x) => with_unit(format!("<{}", text(x))),
        Interval::Above(x) => with_unit(format!(">{}", text(x))),
        Interval::Present => "present".to_owned(),
        Interval::Absent => "absent".to_owned(),
    }
}

/// A limit as people write it.
pub(crate) fn limit_text(kind: BenchmarkKind, unit: &str) -> String {
    use crate::publish::number::text;
    let unit = said_unit(unit);
    let said = match kind {
        BenchmarkKind::Max { limit } => format!("{} {unit}", text(limit)),
        BenchmarkKind::Range { low, high } if low.is_infinite() => format!("{} {unit}", text(high)),
        BenchmarkKind::Range { low, high } if high.is_infinite() => format!("at least {} {unit}", text(low)),
        BenchmarkKind::Range { low, high } => format!("{} to {} {unit}", text(low), text(high)),
        BenchmarkKind::Absent => "none to be found".to_owned(),
    };
    said.trim_end().to_owned()
}

/// A unit as people say it beside a number.
fn said_unit(unit: &str) -> &str {
    match unit {
        COUNTS => "in 100 mL",
        "pH" => "",
        other => other,
    }
}

/// More digits than any laboratory knows; conversions give twelve.
fn five_digits(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let scale = libm::pow(10.0, 4.0 - libm::floor(libm::log10(x.abs())));
    (x * scale).round() / scale
}
