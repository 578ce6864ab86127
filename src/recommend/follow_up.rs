//! follow-up.csv (internal): wells whose newest result calls for action.
//!
//! The newest result decides, whatever `per_well.choose` says, and also of wells that no area holds or no list names:
//! a household is not less at risk because its coordinates are wrong. Chemicals are listed above a limit in force for
//! health; bacteria when found. The caution defers to the local health authority and licensed practice.

use super::rows::FollowUpRow;
use crate::dictionary::{Analyte, Benchmark, BenchmarkKind, Dictionary, Effect};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::methods::exceedance::Verdict;
use crate::normalise::{Block, Row};
use crate::per_well::{Candidate, Survey, better};
use crate::place::Wells;
use crate::plan::Choose;
use crate::problem::Problem;
use crate::summarise::{Findings, judge};
use rustc_hash::FxHashMap;
use std::collections::BTreeMap;

/// A result this many times its limit is called for now, whatever the effect.
const VERY_HIGH: f64 = 10.0;
/// Total coliform alone only says that surface water may get in: soon, not now.
/// Analytes of which any result above a health limit is called for now (common practice, no source).
const NOW: [&str; 5] = ["arsenic", "lead", "lead_first_draw", "uranium", "nitrite_as_n"];

/// Rows: urgent ones first, then by well and analyte.
///
/// # Errors
/// A disk that fails.
pub fn rows(
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Vec<FollowUpRow>, Problem> {
    let Some(as_of) = findings.as_of else { return Ok(Vec::new()) };
    let limits = health_limits(findings);
    let mut rows: Vec<FollowUpRow> = newest(wells, survey, &limits)?
        .into_iter()
        .filter_map(|((well, analyte), candidate)| {
            row(dictionary, as_of, &well, analyte, candidate, limits.get(&analyte)?)
        })
        .collect();
    rows.sort_by(|a, b| a.urgency.cmp(b.urgency).then_with(|| a.well.cmp(&b.well)).then(a.analyte.cmp(&b.analyte)));
    Ok(rows)
}

fn health_limits(findings: &Findings) -> BTreeMap<AnalyteId, Vec<&Benchmark>> {
    let mut limits: BTreeMap<AnalyteId, Vec<&Benchmark>> = BTreeMap::new();
    for benchmark in &findings.benchmarks {
        if benchmark.ranks && matches!(benchmark.effect, Effect::AcuteHealth | Effect::ChronicHealth) {
            limits.entry(benchmark.analyte).or_default().push(benchmark);
        }
    }
    limits
}

/// A well's id, or its id as written, and an analyte.
type Key = (String, AnalyteId);

/// Newest result of each well and analyte, in no order that matters: rows are sorted afterwards. Rows set aside only for
/// their place take part; a well that no list names goes by its id as written.
fn newest(
    wells: &Wells,
    survey: &Survey,
    limits: &BTreeMap<AnalyteId, Vec<&Benchmark>>,
) -> Result<Vec<(Key, Candidate)>, Problem> {
    let mut listed: FxHashMap<(u32, AnalyteId), Candidate> = FxHashMap::default();
    let mut unlisted: BTreeMap<Key, Candidate> = BTreeMap::new();
    let keep = |known: &mut Candidate, new: Candidate| *known = better(Choose::Latest, *known, new);
    let of_block = |block: &Block, start: u64| {
        let rows = block.rows.iter().zip(start..);
        let known = rows.filter_map(|(row, number)| Some((row, candidate(row, number)?)));
        let wanted = known.filter(|(_, (analyte, _))| limits.contains_key(analyte));
        let named = wanted.map(|(row, (analyte, new))| {
            let name = wells.id_at(row.well).is_none().then(|| block.text(row.well_text).to_owned());
            (row.well, name, analyte, new)
        });
        named.collect::<Vec<_>>()
    };
    let mut take = |(well, name, analyte, new)| match name {
        None => {
            listed.entry((well, analyte)).and_modify(|known| keep(known, new)).or_insert(new);
        }
        Some(name) => {
            unlisted.entry((name, analyte)).and_modify(|known| keep(known, new)).or_insert(new);
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
    newest: Candidate,
    limits: &[&Benchmark],
) -> Option<FollowUpRow> {
    let entry = dictionary.analytes().get(analyte)?;
    let passed: Vec<&&Benchmark> =
        limits.iter().filter(|b| judge(newest.interval, b.kind) == Verdict::Exceeding).collect();
    // Of several limits passed, the one with the graver effect is named; acute stands first.
    let limit = passed.iter().min_by_key(|b| b.effect)?;
    let unit = dictionary.unit_text(analyte);
    Some(FollowUpRow {
        well: well.to_owned(),
        analyte,
        result: result_text(newest.interval, &unit),
        limit: limit_text(limit.kind, &unit),
        set: limit.set.clone(),
        date: newest.day,
        age_years: f64::from(as_of.0 - newest.day.0) / 365.25,
        urgency: urgency(entry, limit, newest.interval),
        caution: caution(entry),
    })
}

fn urgency(entry: &Analyte, limit: &Benchmark, interval: Interval) -> &'static str {
    let times = match (limit.kind, interval.number()) {
        (BenchmarkKind::Max { limit }, Some(x)) if limit > 0.0 => x / limit,
        _ => 0.0,
    };
    let acute = limit.effect == Effect::AcuteHealth && entry.id != "total_coliform";
    let filtered = entry.dissolved_of.and_then(|_| entry.id.strip_suffix("_dissolved"));
    let now = acute || NOW.contains(&filtered.unwrap_or(&entry.id)) || times >= VERY_HIGH;
    if now { "now" } else { "soon" }
}

fn caution(entry: &Analyte) -> String {
    let own = if entry.caution.is_empty() { String::new() } else { format!("{} ", entry.caution.trim()) };
    format!(
        "{own}Ask the local health authority, and have a certified laboratory confirm it; a licensed well or water-treatment \
         professional can say what would help."
    )
}

fn result_text(interval: Interval, unit: &str) -> String {
    use crate::publish::number::text;
    match interval {
        Interval::Detect(x) => format!("{} {unit}", text(x)),
        Interval::Below(x) => format!("<{} {unit}", text(x)),
        Interval::Above(x) => format!(">{} {unit}", text(x)),
        Interval::Present => "present".to_owned(),
        Interval::Absent => "absent".to_owned(),
    }
}

fn limit_text(kind: BenchmarkKind, unit: &str) -> String {
    use crate::publish::number::text;
    match kind {
        BenchmarkKind::Max { limit } => format!("{} {unit}", text(limit)),
        BenchmarkKind::Range { low, high } => format!("{} to {} {unit}", text(low), text(high)),
        BenchmarkKind::Absent => "none to be found".to_owned(),
    }
}
