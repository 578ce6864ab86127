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

/// Rows: urgent ones first, cleared ones last, then by well and analyte.
///
/// # Errors
/// A disk that fails.
pub fn rows(
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    as_of: Option<Day>,
    limits: &Limits<'_>,
) -> Result<Vec<FollowUpRow>, Problem> {
    let Some(as_of) = as_of else { return Ok(Vec::new()) };
    let mut rows: Vec<FollowUpRow> = seen(wells, survey, limits)?
        .into_iter()
        .filter_map(|((well, analyte), seen)| row(dictionary, as_of, &well, analyte, seen, limits.get(&analyte)?))
        .collect();
    rows.sort_by(|a, b| (a.urgency, &a.well, a.analyte).cmp(&(b.urgency, &b.well, b.analyte)));
    Ok(rows)
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

/// Two results of a well and analyte.
#[derive(Clone, Copy)]
struct Seen {
    newest: Candidate,
    /// The newest one above a limit.
    over: Option<Candidate>,
}

impl Seen {
    fn of(new: Candidate, limits: &[&Benchmark]) -> Seen {
        let over = limits.iter().any(|limit| judge(new.interval, limit.kind) == Verdict::Exceeding);
        Seen { newest: new, over: over.then_some(new) }
    }

    fn add(&mut self, other: Seen) {
        self.newest = better(Choose::Latest, self.newest, other.newest);
        self.over = match (self.over, other.over) {
            (Some(a), Some(b)) => Some(better(Choose::Latest, a, b)),
            (a, b) => a.or(b),
        };
    }
}

/// A well's id, or its id as written, and an analyte.
type Key = (String, AnalyteId);

/// By well and analyte, in no order that matters: rows are sorted afterwards. Rows set aside only for their place take
/// part; a well that no list names goes by its id as written.
fn seen(wells: &Wells, survey: &Survey, limits: &Limits<'_>) -> Result<Vec<(Key, Seen)>, Problem> {
    let mut listed: FxHashMap<(u32, AnalyteId), Seen> = FxHashMap::default();
    let mut unlisted: BTreeMap<Key, Seen> = BTreeMap::new();
    let of_block = |block: &Block, start: u64| {
        let rows = block.rows.iter().zip(start..);
        let known = rows.filter_map(|(row, number)| Some((row, candidate(row, number)?)));
        let judged = known.filter_map(|(row, (analyte, new))| {
            let name = wells.id_at(row.well).is_none().then(|| block.text(row.well_text).to_owned());
            Some((row.well, name, analyte, Seen::of(new, limits.get(&analyte)?)))
        });
        judged.collect::<Vec<_>>()
    };
    let mut take = |(well, name, analyte, new): (u32, Option<String>, AnalyteId, Seen)| match name {
        None => {
            listed.entry((well, analyte)).and_modify(|known| known.add(new)).or_insert(new);
        }
        Some(name) => {
            unlisted.entry((name, analyte)).and_modify(|known| known.add(new)).or_insert(new);
        }
    };
    survey.ledger.in_order(
        1,
        |blocks| blocks.iter().flat_map(|(start, block)| of_block(block, *start)).collect::<Vec<_>>(),
        |found| {
            found.into_iter().for_each(&mut take);
            Ok(())
        },
    )?;
    let id = |well| wells.id_at(well).unwrap_or_default().to_owned();
    let named = listed.into_iter().map(|((well, analyte), found)| ((id(well), analyte), found));
    Ok(named.chain(unlisted).collect())
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

fn row(
    dictionary: &Dictionary,
    as_of: Day,
    well: &str,
    analyte: AnalyteId,
    seen: Seen,
    limits: &[&Benchmark],
) -> Option<FollowUpRow> {
    let entry = dictionary.analytes().get(analyte)?;
    let over = seen.over?;
    let passed = limits.iter().filter(|b| judge(over.interval, b.kind) == Verdict::Exceeding);
    // Of several limits passed, the one with the graver effect is named; acute stands first.
    let limit = passed.min_by_key(|b| b.effect)?;
    let unit = dictionary.unit_text(analyte);
    let meets = limits.iter().all(|b| judge(seen.newest.interval, b.kind) == Verdict::Meeting);
    let cleared = seen.newest.day > over.day && meets;
    let (high, why) = why(entry, limit, over.interval);
    let filtered = entry.dissolved_of.and_then(|_| entry.id.strip_suffix("_dissolved"));
    let at_once = high || NOW.contains(&filtered.unwrap_or(&entry.id)) || is_acute(entry, limit);
    let urgency = match at_once {
        _ if cleared => Urgency::Cleared,
        true => Urgency::Now,
        false => Urgency::Soon,
    };
    Some(FollowUpRow {
        well: well.to_owned(),
        analyte,
        result: result_text(over.interval, &unit),
        limit: limit_text(limit.kind, &unit),
        set: limit.set.clone(),
        date: over.day,
        age_years: f64::from(as_of.0 - over.day.0) / 365.25,
        urgency,
        why,
        later: later(seen, over, meets, &unit),
        caution: caution(entry, urgency),
    })
}

/// What another result, of a later day or of the same, says.
fn later(seen: Seen, over: Candidate, meets: bool, unit: &str) -> String {
    if seen.newest.row == over.row {
        return String::new();
    }
    let result = result_text(seen.newest.interval, unit);
    let day = seen.newest.day;
    match (day > over.day, meets) {
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
        return "A later sample met the limit. One good sample is no proof: ask the local health authority when to test again."
            .to_owned();
    }
    let own = if entry.caution.is_empty() { String::new() } else { format!("{} ", entry.caution.trim()) };
    // Who has been told to ask the health authority is not told twice.
    let rest = if own.contains("local health authority") { CONFIRM } else { ASK };
    format!("{own}{rest}")
}

/// A result as people write it.
pub(crate) fn result_text(interval: Interval, unit: &str) -> String {
    use crate::publish::number::text;
    let text = |x: f64| text(five_digits(x));
    match interval {
        Interval::Detect(x) => format!("{} {unit}", text(x)),
        Interval::Below(x) => format!("<{} {unit}", text(x)),
        Interval::Above(x) => format!(">{} {unit}", text(x)),
        Interval::Present => "present".to_owned(),
        Interval::Absent => "absent".to_owned(),
    }
}

/// A limit as people write it.
pub(crate) fn limit_text(kind: BenchmarkKind, unit: &str) -> String {
    use crate::publish::number::text;
    match kind {
        BenchmarkKind::Max { limit } => format!("{} {unit}", text(limit)),
        BenchmarkKind::Range { low, high } if low.is_infinite() => format!("{} {unit}", text(high)),
        BenchmarkKind::Range { low, high } if high.is_infinite() => format!("at least {} {unit}", text(low)),
        BenchmarkKind::Range { low, high } => format!("{} to {} {unit}", text(low), text(high)),
        BenchmarkKind::Absent => "none to be found".to_owned(),
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
