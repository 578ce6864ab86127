//! follow-up.csv (internal): wells whose newest result calls for action, and those that a later sample cleared.
//!
//! The newest result decides, whatever `per_well.choose` says, and also of wells that no area holds or no list names:
//! a household is not less at risk because its coordinates are wrong. Chemicals are listed above a limit in force for
//! health; bacteria when found. A well that was above and whose later result meets every such limit is listed as cleared, last: one
//! good sample is good news, not proof. Of two results of one day that disagree the bad one counts. The caution defers to the local
//! health authority and licensed practice.

use super::rows::{FollowUpRow, Urgency};
use crate::dictionary::{Analyte, Benchmark, BenchmarkKind, Dictionary, Effect};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::methods::exceedance::Verdict;
use crate::normalise::{Block, Row};
use crate::per_well::{Candidate, Survey, better};
use crate::place::Wells;
use crate::plan::Choose;
use crate::problem::Problem;
use crate::summarise::judge;
use rustc_hash::FxHashMap;
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
    /// Urgent ones first, cleared ones last, then by well and analyte.
    entries: Vec<Entry>,
    /// Health limits in force, by analyte.
    limits: BTreeMap<AnalyteId, Vec<Benchmark>>,
    /// The day that ages refer to.
    as_of: Option<Day>,
    /// Ids as written of wells that no list names.
    unlisted: Vec<String>,
}

#[derive(Clone, Copy, Debug)]
struct Entry {
    well: Called,
    analyte: AnalyteId,
    newest: Candidate,
    over: Candidate,
}

/// A well by its place in the list, or among `unlisted`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Called {
    Listed(u32),
    Unlisted(u32),
}

impl FollowUps {
    /// Finds them.
    ///
    /// # Errors
    /// A disk that fails.
    pub(super) fn of(
        dictionary: &Dictionary,
        wells: &Wells,
        survey: &Survey,
        as_of: Option<Day>,
        limits: &Limits<'_>,
    ) -> Result<FollowUps, Problem> {
        if as_of.is_none() {
            return Ok(FollowUps::default());
        }
        let (over, unlisted) = over(wells, survey, limits)?;
        let entries = newest(survey, over, &unlisted)?;
        let limits = limits.iter().map(|(analyte, list)| (*analyte, list.iter().map(|one| (*one).clone()).collect()));
        let mut all = FollowUps { entries: Vec::new(), limits: limits.collect(), as_of, unlisted };
        let judged = entries.into_iter().filter_map(|entry| Some((all.judged(dictionary, &entry)?.urgency, entry)));
        let mut judged: Vec<(Urgency, Entry)> = judged.collect();
        judged.sort_by(|(a, one), (b, other)| {
            let names = || all.name(wells, one.well).cmp(all.name(wells, other.well));
            a.cmp(b).then_with(names).then(one.analyte.cmp(&other.analyte))
        });
        all.entries = judged.into_iter().map(|(_, entry)| entry).collect();
        Ok(all)
    }

    /// Rows: urgent ones first, cleared ones last, then by well and analyte.
    pub fn rows<'a>(&'a self, dictionary: &'a Dictionary, wells: &'a Wells) -> impl Iterator<Item = FollowUpRow> + 'a {
        self.entries.iter().filter_map(move |entry| self.row(dictionary, wells, entry))
    }

    fn name<'a>(&'a self, wells: &'a Wells, well: Called) -> &'a str {
        match well {
            Called::Listed(well) => wells.id_at(well).unwrap_or_default(),
            Called::Unlisted(at) => self.unlisted.get(at as usize).map_or("", String::as_str),
        }
    }

    fn judged<'a>(&'a self, dictionary: &'a Dictionary, entry: &Entry) -> Option<Judged<'a>> {
        let (limits, known) = (self.limits.get(&entry.analyte)?, dictionary.analytes().get(entry.analyte)?);
        judged(known, limits, entry)
    }

    fn row(&self, dictionary: &Dictionary, wells: &Wells, entry: &Entry) -> Option<FollowUpRow> {
        let known = dictionary.analytes().get(entry.analyte)?;
        let Judged { limit, meets, why, urgency } = self.judged(dictionary, entry)?;
        let unit = dictionary.unit_text(entry.analyte);
        Some(FollowUpRow {
            well: self.name(wells, entry.well).to_owned(),
            analyte: entry.analyte,
            result: result_text(entry.over.interval, &unit),
            limit: limit_text(limit.kind, &unit),
            set: limit.set.clone(),
            date: entry.over.day,
            age_years: f64::from(self.as_of?.0 - entry.over.day.0) / 365.25,
            urgency,
            why,
            later: later(entry, meets, limit.kind, &unit),
            caution: caution(known, urgency),
        })
    }
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

/// A well and an analyte.
type Key = (Called, AnalyteId);

/// The newest result above a limit, by well and analyte, and the wells that no list names. Rows set aside only for their place
/// take part; a well that no list names goes by its id as written.
fn over(
    wells: &Wells,
    survey: &Survey,
    limits: &Limits<'_>,
) -> Result<(FxHashMap<Key, Candidate>, Vec<String>), Problem> {
    let mut over: FxHashMap<Key, Candidate> = FxHashMap::default();
    let mut places: BTreeMap<String, u32> = BTreeMap::new();
    let exceeds = |analyte: &AnalyteId, new: &Candidate| {
        let own = limits.get(analyte).into_iter().flatten();
        own.into_iter().any(|limit| judge(new.interval, limit.kind) == Verdict::Exceeding)
    };
    let of_block = |start: u64, block: &Block| {
        let known = block.rows.iter().zip(start..).filter_map(|(row, n)| Some((row, candidate(row, n)?)));
        let over = known.filter(|(_, (analyte, new))| exceeds(analyte, new));
        let named = over.map(|(row, new)| {
            let name = wells.id_at(row.well).is_none().then(|| block.text(row.well_text).to_owned());
            (row.well, name, new)
        });
        named.collect::<Vec<_>>()
    };
    survey.ledger.in_order(
        1,
        |blocks| blocks.iter().map(|(start, block)| of_block(*start, block)).collect::<Vec<_>>(),
        |parts| {
            for (well, name, (analyte, new)) in parts.into_iter().flatten() {
                let next = u32::try_from(places.len()).unwrap_or(u32::MAX);
                let called =
                    name.map_or(Called::Listed(well), |name| Called::Unlisted(*places.entry(name).or_insert(next)));
                let later = |known: &mut Candidate| *known = better(Choose::Latest, *known, new);
                over.entry((called, analyte)).and_modify(later).or_insert(new);
            }
            Ok(())
        },
    )?;
    let mut unlisted = vec![String::new(); places.len()];
    places
        .into_iter()
        .for_each(|(name, at)| unlisted.get_mut(at as usize).into_iter().for_each(|slot| slot.clone_from(&name)));
    Ok((over, unlisted))
}

/// The same with the newest result of each: one more walk, since only now is known whose newest result matters.
fn newest(survey: &Survey, over: FxHashMap<Key, Candidate>, unlisted: &[String]) -> Result<Vec<Entry>, Problem> {
    let places: BTreeMap<&str, u32> = unlisted.iter().map(String::as_str).zip(0..).collect();
    let mut entries: Vec<Entry> = Vec::with_capacity(over.len());
    let mut keys: Vec<(Key, Candidate)> = over.into_iter().collect();
    keys.sort_unstable_by_key(|(key, _)| *key);
    entries.extend(keys.iter().map(|((well, analyte), over)| Entry {
        well: *well,
        analyte: *analyte,
        newest: *over,
        over: *over,
    }));
    let place: FxHashMap<Key, usize> = keys.into_iter().map(|(key, _)| key).zip(0..).collect();
    let of_block = |start: u64, block: &Block| {
        let known = block.rows.iter().zip(start..).filter_map(|(row, n)| Some((row, candidate(row, n)?)));
        let wanted = known.filter_map(|(row, (analyte, new))| {
            let unlisted = || places.get(block.text(row.well_text)).map(|at| Called::Unlisted(*at));
            let called = if row.well == u32::MAX { unlisted()? } else { Called::Listed(row.well) };
            Some((*place.get(&(called, analyte))?, new))
        });
        wanted.collect::<Vec<_>>()
    };
    survey.ledger.in_order(
        1,
        |blocks| blocks.iter().map(|(start, block)| of_block(*start, block)).collect::<Vec<_>>(),
        |parts| {
            for (at, new) in parts.into_iter().flatten() {
                let newer = |entry: &mut Entry| entry.newest = better(Choose::Latest, entry.newest, new);
                entries.get_mut(at).into_iter().for_each(newer);
            }
            Ok(())
        },
    )?;
    Ok(entries)
}

fn candidate(row: &Row, number: u64) -> Option<(AnalyteId, Candidate)> {
    let counts = matches!(
        row.reason,
        None | Some(Reason::Repeat | Reason::UnknownWell | Reason::NoLocation | Reason::OutsideAreas)
    );
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    counts.then_some((analyte, Candidate { row: number, day, interval, kind, method, estimated }))
}

/// What an entry's results say beside its limits.
struct Judged<'a> {
    limit: &'a Benchmark,
    /// Whether the newest result meets every limit.
    meets: bool,
    why: &'static str,
    urgency: Urgency,
}

fn judged<'a>(known: &Analyte, limits: &'a [Benchmark], entry: &Entry) -> Option<Judged<'a>> {
    let over = entry.over;
    let passed = limits.iter().filter(|b| judge(over.interval, b.kind) == Verdict::Exceeding);
    // Of several limits passed, the one with the graver effect is named; acute stands first.
    let limit = passed.min_by_key(|b| b.effect)?;
    let meets = limits.iter().all(|b| judge(entry.newest.interval, b.kind) == Verdict::Meeting);
    let cleared = entry.newest.day > over.day && meets;
    let (high, why) = why(known, limit, over.interval);
    let filtered = known.dissolved_of.and_then(|_| known.id.strip_suffix("_dissolved"));
    let at_once = high || NOW.contains(&filtered.unwrap_or(&known.id)) || is_acute(known, limit);
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
