//! exceedance.csv: how many wells exceed each limit in force, by area and for the region.

use super::groups::{Groups, Member};
use super::rows::{ExceedanceRow, Scope};
use crate::dictionary::{Benchmark, BenchmarkKind};
use crate::ids::{AreaId, Interval};
use crate::methods::equal_area;
use crate::methods::exceedance::{self, Counts, Reading, Verdict};
use crate::methods::integrated::{AreaRate, Posterior, Question};
use crate::place::Wells;
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
pub fn rows(plan: &Plan, benchmarks: &[Benchmark], wells: &Wells, group: &Groups<'_>) -> Vec<ExceedanceRow> {
    let own = benchmarks.iter().filter(|benchmark| benchmark.analyte == group.analyte);
    own.flat_map(|benchmark| one_limit(plan, benchmark, wells, group)).collect()
}

fn one_limit(plan: &Plan, benchmark: &Benchmark, wells: &Wells, group: &Groups<'_>) -> Vec<ExceedanceRow> {
    let mut rows: Vec<ExceedanceRow> =
        group.scopes().map(|scope| counted(plan, benchmark, scope, group.members(scope))).collect();
    smooth(plan, &mut rows);
    if plan.summary.equal_area_cells > 0 {
        for row in &mut rows {
            row.equal_area = spread_corrected(plan, benchmark, wells, row.scope, group.members(row.scope));
        }
    }
    rows
}

fn counted(plan: &Plan, benchmark: &Benchmark, scope: Scope, members: &[Member<'_>]) -> ExceedanceRow {
    let counts = Counts::of(members.iter().map(|member| judge(member.value.interval, benchmark.kind)));
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

/// Adds the small-area model's figures to the areas' rows.
fn smooth(plan: &Plan, rows: &mut [ExceedanceRow]) {
    let areas: Vec<&mut ExceedanceRow> = rows.iter_mut().filter(|row| row.scope != Scope::Region).collect();
    let exceeding: Vec<u64> = areas.iter().map(|row| u64::from(row.exceeding)).collect();
    let known: Vec<u64> = areas.iter().map(|row| u64::from(row.exceeding) + u64::from(row.meeting)).collect();
    let question = Question { level: plan.summary.interval, concern: plan.recommend.concern_rate };
    match Posterior::fit(&exceeding, &known).and_then(|posterior| Ok((posterior.rates(&question)?, posterior))) {
        Ok((figures, posterior)) => {
            let posterior = Arc::new(posterior);
            for (row, figure) in areas.into_iter().zip(figures) {
                set_smoothed(row, &figure);
                row.posterior = Some(Arc::clone(&posterior));
            }
        }
        Err(why) => areas.into_iter().for_each(|row| row.notes.push(format!("no smoothed rate: {why}"))),
    }
}

fn set_smoothed(row: &mut ExceedanceRow, figure: &AreaRate) {
    row.smoothed = Some(figure.mean);
    row.smoothed_interval = Some((figure.low, figure.high));
    row.chance_of_concern = Some(figure.chance_above);
}

/// The rate over equal-area cells, so that ten neighbours do not outvote a lone well.
fn spread_corrected(
    plan: &Plan,
    benchmark: &Benchmark,
    wells: &Wells,
    scope: Scope,
    members: &[Member<'_>],
) -> Option<f64> {
    let Scope::Area(area) = scope else { return None };
    let grid = grid(wells, area, plan.summary.equal_area_cells)?;
    let cells: Vec<Option<(usize, usize)>> =
        members.iter().map(|member| wells.xy(member.value.well).and_then(|[x, y]| grid.cell(x, y))).collect();
    let exceeds: Vec<Option<bool>> = members
        .iter()
        .map(|member| match judge(member.value.interval, benchmark.kind) {
            Verdict::Exceeding => Some(true),
            Verdict::Meeting => Some(false),
            Verdict::Undetermined => None,
        })
        .collect();
    equal_area::rate(&cells, &exceeds, plan.summary.interval).map(|rate| rate.rate)
}

/// About `wanted` square cells over the area's box.
fn grid(wells: &Wells, area: AreaId, wanted: u32) -> Option<equal_area::Grid> {
    let rect = wells.areas().rect(area)?;
    let (width, height) = (rect.max[0] - rect.min[0], rect.max[1] - rect.min[1]);
    let size = (width * height / f64::from(wanted)).sqrt();
    if !(size > 0.0 && size.is_finite()) {
        return None;
    }
    let along = |length: f64| (length / size).ceil().max(1.0) as usize;
    Some(equal_area::Grid { origin: (rect.min[0], rect.min[1]), size, columns: along(width), rows: along(height) })
}
