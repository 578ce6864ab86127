//! exceedance.csv: how many wells exceed each limit in force, by area and for the region.

use super::cells::WellCells;
use super::groups::{Groups, Member};
use super::rows::{ExceedanceRow, Scope};
use crate::dictionary::{Benchmark, BenchmarkKind};
use crate::ids::Interval;
use crate::methods::censored::Censored;
use crate::methods::equal_area;
use crate::methods::exceedance::{self, Counts, Reading, Verdict};
use crate::methods::integrated::{AreaRate, Posterior, Question};
use crate::methods::random::Stream;
use crate::methods::rate_censored::{CensoredRate, rate_censored};
use crate::plan::Plan;
use std::sync::Arc;

/// What an interval says, in the words of the statistics.
pub fn reading(interval: Interval) -> Reading {
    match interval {
        Interval::Detect(x) => Reading::Exact(x),
        Interval::Below(x) => Reading::Below(x),
        Interval::Above(x) => Reading::Above(x),
        Interval::Present => Reading::Present,
        Interval::Absent => Reading::Absent,
    }
}

/// The verdict on an interval.
pub fn judge(interval: Interval, kind: BenchmarkKind) -> Verdict {
    let benchmark = match kind {
        BenchmarkKind::Max { limit } => exceedance::Benchmark::Maximum(limit),
        BenchmarkKind::Range { low, high } => exceedance::Benchmark::Range { low, high },
        BenchmarkKind::Absent => exceedance::Benchmark::Absent,
    };
    exceedance::judge(reading(interval), benchmark)
}

/// Rows of one analyte: each of its limits, the region first.
pub(super) fn rows(plan: &Plan, benchmarks: &[Benchmark], cells: &WellCells, group: &Groups<'_>) -> Vec<ExceedanceRow> {
    let own = benchmarks.iter().filter(|benchmark| benchmark.analyte == group.analyte);
    own.flat_map(|benchmark| one_limit(plan, benchmark, cells, group)).collect()
}

fn one_limit(plan: &Plan, benchmark: &Benchmark, cells: &WellCells, group: &Groups<'_>) -> Vec<ExceedanceRow> {
    let mut rows: Vec<ExceedanceRow> =
        group.scopes().map(|scope| counted(plan, benchmark, scope, group.members(scope))).collect();
    smooth(plan, &mut rows);
    if cells.is_on() {
        for row in rows.iter_mut().filter(|row| row.scope != Scope::Region) {
            spread_corrected(plan, benchmark, cells, row, group.members(row.scope));
        }
    }
    rows
}

fn counted(plan: &Plan, benchmark: &Benchmark, scope: Scope, members: &[Member<'_>]) -> ExceedanceRow {
    let counts = Counts::of(members.iter().map(|member| judge(member.value.interval, benchmark.kind)));
    let mut row = counts_row(plan, benchmark, scope, counts);
    censored(plan, benchmark, members, &mut row);
    row
}

/// A row from its counts, not yet smoothed.
pub(super) fn counts_row(plan: &Plan, benchmark: &Benchmark, scope: Scope, counts: Counts) -> ExceedanceRow {
    let small = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    let rates = counts.rates(plan.summary.interval);
    ExceedanceRow {
        scope,
        analyte: benchmark.analyte,
        set: benchmark.set.clone(),
        effect: benchmark.effect.as_str().to_owned(),
        ranks: benchmark.ranks,
        kind: benchmark.kind,
        wells: small(counts.wells()),
        exceeding: small(counts.exceeding),
        meeting: small(counts.meeting),
        undetermined: small(counts.undetermined),
        rate: rates.rate,
        rate_interval: rates.low.zip(rates.high),
        floor: rates.floor,
        ceiling: rates.ceiling,
        smoothed: None,
        smoothed_interval: None,
        chance_of_concern: None,
        posterior: None,
        equal_area: None,
        equal_area_interval: None,
        equal_area_wells: None,
        censored: None,
        censored_interval: None,
        chance_worst_fifth: None,
        notes: notes(benchmark, counts),
    }
}

fn notes(benchmark: &Benchmark, counts: Counts) -> Vec<String> {
    let mut notes = Vec::new();
    if counts.wells() == 0 {
        notes.push("no well has a value".to_owned());
    } else if counts.exceeding + counts.meeting == 0 {
        notes.push("no result tells on which side of the limit it is".to_owned());
    }
    if benchmark.lent_by.is_some() {
        notes.push("judged by a limit made for a close relative".to_owned());
    }
    if !benchmark.ranks {
        notes.push("not a limit for everybody's health: left out of rankings".to_owned());
    }
    notes
}

/// Begins the note of a row that could not be smoothed.
pub const NOT_SMOOTHED: &str = "no smoothed rate: ";

/// Adds the small-area model's figures to the areas' rows of one limit.
pub fn smooth(plan: &Plan, rows: &mut [ExceedanceRow]) {
    let areas: Vec<&mut ExceedanceRow> = rows.iter_mut().filter(|row| row.scope != Scope::Region).collect();
    let exceeding: Vec<u64> = areas.iter().map(|row| u64::from(row.exceeding)).collect();
    let known: Vec<u64> = areas.iter().map(|row| u64::from(row.exceeding) + u64::from(row.meeting)).collect();
    let question = Question { level: plan.summary.interval, concern: plan.recommend.concern_rate };
    let key = areas.first().map(|row| format!("{} {} {}", row.analyte.0, row.set, row.effect)).unwrap_or_default();
    match Posterior::fit(&exceeding, &known).and_then(|posterior| Ok((posterior.rates(&question)?, posterior))) {
        Ok((figures, posterior)) => {
            let figures = figures.into_iter().zip(worst(plan, &posterior, &key));
            let posterior = Arc::new(posterior);
            for (row, (figure, chance)) in areas.into_iter().zip(figures) {
                set_smoothed(row, &figure, chance);
                row.posterior = Some(Arc::clone(&posterior));
            }
        }
        Err(why) => areas.into_iter().for_each(|row| row.notes.push(format!("{NOT_SMOOTHED}{why}"))),
    }
}

/// Joint draws for the chance to be among the worst fifth; they leave a standard error of at most 0.025.
const DRAWS: u32 = 400;

/// Chances to two digits: more the draws do not tell. The stream is this limit's own.
fn worst(plan: &Plan, posterior: &Posterior, key: &str) -> Vec<f64> {
    let stream = Stream::new(plan.summary.seed, xxhash_rust::xxh3::xxh3_64(key.as_bytes()));
    posterior.chance_worst_fifth(stream, DRAWS).into_iter().map(|chance| (chance * 100.0).round() / 100.0).collect()
}

fn set_smoothed(row: &mut ExceedanceRow, figure: &AreaRate, chance: f64) {
    row.chance_worst_fifth = Some(chance);
    row.smoothed = Some(figure.mean);
    row.smoothed_interval = Some((figure.low, figure.high));
    row.chance_of_concern = Some(figure.chance_above);
}

/// The rate over equal-area cells, so that ten neighbours do not outvote a lone well.
fn spread_corrected(
    plan: &Plan,
    benchmark: &Benchmark,
    cells: &WellCells,
    row: &mut ExceedanceRow,
    members: &[Member<'_>],
) {
    let places: Vec<Option<u32>> = members.iter().map(|member| cells.cell(member.value.well)).collect();
    let exceeds: Vec<Option<bool>> = members
        .iter()
        .map(|member| match judge(member.value.interval, benchmark.kind) {
            Verdict::Exceeding => Some(true),
            Verdict::Meeting => Some(false),
            Verdict::Undetermined => None,
        })
        .collect();
    if let Some(found) = equal_area::rate(&places, &exceeds, plan.summary.interval) {
        row.equal_area = Some(found.rate);
        row.equal_area_interval = found.interval.map(|[low, high]| (low, high));
        row.equal_area_wells = Some(found.effective_wells);
    }
}

/// The share above the limit with undetermined wells taking part; where there are none it is the plain rate.
fn censored(plan: &Plan, benchmark: &Benchmark, members: &[Member<'_>], row: &mut ExceedanceRow) {
    if row.undetermined == 0 {
        (row.censored, row.censored_interval) = (row.rate, row.rate_interval);
        return;
    }
    match of_all(members, benchmark.kind, plan.summary.interval) {
        Ok(found) => {
            row.censored = Some(found.rate);
            row.censored_interval = Some((found.interval[0], found.interval[1]));
        }
        Err(why) => row.notes.push(format!("no rate_censored: {why}")),
    }
}

fn of_all(members: &[Member<'_>], kind: BenchmarkKind, level: f64) -> Result<CensoredRate, &'static str> {
    let BenchmarkKind::Max { limit } = kind else {
        return Err("undetermined wells are only estimated against an upper limit");
    };
    let (mut value, mut nondetect) = (Vec::new(), Vec::new());
    for interval in members.iter().map(|member| member.value.interval) {
        match interval {
            Interval::Above(x) if x < limit => {
                return Err("a result is only known to lie above a figure below the limit");
            }
            Interval::Present | Interval::Absent => return Err("a result has no number"),
            Interval::Detect(x) | Interval::Above(x) | Interval::Below(x) => value.push(x),
        }
        nondetect.push(matches!(interval, Interval::Below(_)));
    }
    // A value at the limit within rounding meets it, as in the counts.
    let limit = limit + exceedance::LIMIT_EPS * limit.abs();
    let group = Censored::new(&value, &nondetect).map_err(|_| "a value is no number")?;
    rate_censored(&group, limit, level).ok_or("no detect tells how values near the limit spread")
}
