//! trend.csv: wells tested again and again, by area and for the region: does an analyte rise or fall?
//!
//! Kendall's test for values with non-detects in each well, added up over wells (regional Kendall), so that wells are only
//! compared with themselves. A reader would question that a handful of wells gets no figures: below three a region is
//! not described (common practice, no source), and below `smallest_group` a figure would be that of a household.
//! Bacteria are left out: they have shares only.

use super::rows::{Scope, TrendRow};
use crate::dictionary::{Analyte, Dictionary};
use crate::fate::Reason;
use crate::ids::{AnalyteId, AreaId, Interval, WellId};
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::special::two_sided_normal_p;
use crate::methods::trend::{Series, kendall};
use crate::normalise::Row;
use crate::per_well::{Candidate, Survey, WellValue, better};
use crate::place::Wells;
use crate::plan::{Choose, Plan};
use crate::problem::Problem;
use rayon::prelude::*;
use rustc_hash::FxHashSet;
use std::collections::BTreeMap;

/// Fewest days with a result for a well to tell of a trend (common practice, no source).
const FEWEST_DAYS: usize = 4;
/// Fewest days between its first and last: two years (common practice, no source).
const SHORTEST_SPAN: i32 = 730;
/// Fewest wells of a scope (common practice, no source).
const FEWEST_WELLS: u32 = 3;
/// Results held in memory at a time, some 50 bytes each.
const BATCH: u64 = 10_000_000;
/// Days of a year.
const YEAR: f64 = 365.25;

/// Rows of every analyte that some well was tested for often enough, the region first.
///
/// # Errors
/// A disk that fails.
pub(super) fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
) -> Result<Vec<TrendRow>, Problem> {
    let wanted = wanted(plan);
    let areas = u32::try_from(wells.areas().len()).unwrap_or(u32::MAX);
    let mut rows = Vec::new();
    for keys in often_tested(dictionary, survey) {
        let picks = picks(&keys, survey)?;
        let groups: Vec<&[Pick]> = picks.chunk_by(|a, b| a.analyte == b.analyte).collect();
        let of_group = |group: &&[Pick]| {
            let found = of_wells(group, wells);
            let analyte = group.first().map(|pick| pick.analyte).filter(|_| !found.is_empty());
            analyte.map_or_else(Vec::new, |analyte| of_scopes(analyte, &found, areas, wanted))
        };
        let parts: Vec<Vec<TrendRow>> = groups.par_iter().map(of_group).collect();
        rows.extend(parts.into_iter().flatten());
    }
    adjust(&mut rows);
    Ok(rows)
}

fn wanted(plan: &Plan) -> u32 {
    plan.smallest_group.max(FEWEST_WELLS)
}

/// A result of a well and analyte with enough of them.
#[derive(Clone, Copy, Debug)]
struct Pick {
    analyte: AnalyteId,
    well: WellId,
    result: Candidate,
}

/// Wells and analytes.
type Keys = FxHashSet<(u32, AnalyteId)>;

/// Wells and analytes with enough results, in batches of whole analytes, in order; the results of a batch fit into memory.
fn often_tested(dictionary: &Dictionary, survey: &Survey) -> Vec<Keys> {
    let bacteria = |analyte| dictionary.analytes().get(analyte).is_some_and(Analyte::is_microbial);
    let mut batches: Vec<Keys> = Vec::new();
    let mut room = 0;
    for (_, values) in survey.by_analyte().filter(|(analyte, _)| !bacteria(*analyte)) {
        let often: Vec<&WellValue> = values.iter().filter(|value| value.results as usize >= FEWEST_DAYS).collect();
        let results: u64 = often.iter().map(|value| u64::from(value.results)).sum();
        if batches.is_empty() || results > room {
            batches.push(Keys::default());
            room = BATCH;
        }
        room = room.saturating_sub(results);
        if let Some(batch) = batches.last_mut() {
            batch.extend(often.iter().map(|value| (value.well.0, value.analyte)));
        }
    }
    batches.retain(|batch| !batch.is_empty());
    batches
}

/// One pass over the ledger: results that could have stood, where their well has enough of them; in order.
fn picks(keys: &Keys, survey: &Survey) -> Result<Vec<Pick>, Problem> {
    let parts = survey.ledger.map(|start, block| {
        let numbered =
            block.rows.iter().zip(start..).filter(|(row, _)| matches!(row.reason, None | Some(Reason::Repeat)));
        let wanted = numbered.filter(|(row, _)| row.analyte.is_some_and(|analyte| keys.contains(&(row.well, analyte))));
        wanted.filter_map(|(row, number)| pick(row, number)).collect::<Vec<Pick>>()
    })?;
    let mut picks = parts.concat();
    picks.par_sort_unstable_by_key(|pick| (pick.analyte, pick.well, pick.result.row));
    Ok(picks)
}

fn pick(row: &Row, number: u64) -> Option<Pick> {
    let (interval, day) = (row.interval?, row.day?);
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    let result = Candidate { row: number, day, interval, kind, method, estimated };
    Some(Pick { analyte: row.analyte?, well: WellId(row.well), result })
}

/// One well's trend.
#[derive(Clone, Copy, Debug, PartialEq)]
struct WellTrend {
    area: AreaId,
    s: f64,
    variance: f64,
    pairs: f64,
    slope: Option<f64>,
    /// Results above what could be measured.
    above: u32,
}

fn of_wells(group: &[Pick], wells: &Wells) -> Vec<WellTrend> {
    let one = |own: &[Pick]| {
        let area = wells.area(own.first()?.well)?;
        let candidates: Vec<Candidate> = own.iter().map(|pick| pick.result).collect();
        well_trend(area, &candidates)
    };
    group.chunk_by(|a, b| a.well == b.well).filter_map(one).collect()
}

/// The trend of one well's results; `None` with too few days or too short a time.
fn well_trend(area: AreaId, candidates: &[Candidate]) -> Option<WellTrend> {
    let mut days: BTreeMap<i32, Candidate> = BTreeMap::new();
    for new in candidates.iter().filter(|c| c.interval.number().is_some()) {
        days.entry(new.day.0).and_modify(|old| *old = better(Choose::Latest, *old, *new)).or_insert(*new);
    }
    let (first, last) = (days.keys().next()?, days.keys().next_back()?);
    if days.len() < FEWEST_DAYS || last - first < SHORTEST_SPAN {
        return None;
    }
    let times: Vec<f64> = days.keys().map(|day| f64::from(*day) / YEAR).collect();
    let values: Vec<f64> = days.values().filter_map(|c| c.interval.number()).collect();
    let nondetect: Vec<bool> = days.values().map(|c| matches!(c.interval, Interval::Below(_))).collect();
    let above = days.values().filter(|c| matches!(c.interval, Interval::Above(_))).count();
    let found = kendall(Series { times: &times, values: &values, nondetect: &nondetect }).ok()?;
    let count = times.len() as f64;
    Some(WellTrend {
        area,
        s: found.s,
        variance: found.variance,
        pairs: count * (count - 1.0) / 2.0,
        slope: found.slope.map(|slope| slope.middle),
        above: u32::try_from(above).unwrap_or(u32::MAX),
    })
}

fn of_scopes(analyte: AnalyteId, wells: &[WellTrend], areas: u32, wanted: u32) -> Vec<TrendRow> {
    let mut by_area: BTreeMap<AreaId, Vec<WellTrend>> = BTreeMap::new();
    for well in wells {
        by_area.entry(well.area).or_default().push(*well);
    }
    let region = row(Scope::Region, analyte, wells, wanted);
    let area = |area| row(Scope::Area(area), analyte, by_area.get(&area).map_or(&[], Vec::as_slice), wanted);
    std::iter::once(region).chain((0..areas).map(AreaId).map(area)).collect()
}

fn row(scope: Scope, analyte: AnalyteId, wells: &[WellTrend], wanted: u32) -> TrendRow {
    let count = u32::try_from(wells.len()).unwrap_or(u32::MAX);
    let mut row =
        TrendRow { scope, analyte, wells: count, tau: None, slope_per_year: None, p: None, q: None, notes: Vec::new() };
    if count < wanted {
        row.notes.push(too_few(count, wanted));
        return row;
    }
    let sum = Sum::of(wells);
    row.tau = (sum.pairs > 0.0).then(|| sum.s / sum.pairs);
    row.p = sum.p();
    if row.p.is_none() {
        row.notes.push("no test: non-detects leave no pair of results in a certain order".to_owned());
    }
    let slopes: Vec<f64> = wells.iter().filter_map(|well| well.slope).collect();
    let without = wells.len() - slopes.len();
    row.slope_per_year = median(slopes);
    if without > 0 {
        let words = if without == 1 { "well has" } else { "wells have" };
        row.notes.push(format!("{without} {words} too few detects for a slope"));
    }
    let above: u32 = wells.iter().map(|well| well.above).sum();
    if above > 0 {
        row.notes.push(format!("{above} results above what could be measured stand at that figure"));
    }
    row
}

fn too_few(count: u32, wanted: u32) -> String {
    let found = match count {
        0 => "no well has".to_owned(),
        1 => "only 1 well has".to_owned(),
        n => format!("only {n} wells have"),
    };
    format!("no trend: {found} results of {FEWEST_DAYS} days over 2 years, and {wanted} are needed")
}

/// The regional Kendall test from the figures of its wells: S and variances add up, since wells are independent.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    s: f64,
    variance: f64,
    pairs: f64,
}

impl Sum {
    fn of(wells: &[WellTrend]) -> Sum {
        wells.iter().fold(Sum::default(), |sum, well| Sum {
            s: sum.s + well.s,
            variance: sum.variance + well.variance,
            pairs: sum.pairs + well.pairs,
        })
    }

    /// Two-sided, with a continuity correction of one; `None` where S cannot vary.
    fn p(self) -> Option<f64> {
        let corrected = if self.s == 0.0 { 0.0 } else { self.s - self.s.signum() };
        (self.variance > 1e-9).then(|| two_sided_normal_p(corrected / self.variance.sqrt()))
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let high = *values.get(values.len() / 2)?;
    let low = *values.get(values.len().checked_sub(1)? / 2)?;
    Some(low + 0.5 * (high - low))
}

/// Benjamini-Hochberg over the analytes of a scope.
pub fn adjust(rows: &mut [TrendRow]) {
    let mut by_scope: BTreeMap<Scope, Vec<usize>> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate() {
        by_scope.entry(row.scope).or_default().push(at);
    }
    for own in by_scope.into_values() {
        let p: Vec<Option<f64>> = own.iter().map(|at| rows.get(*at).and_then(|row| row.p)).collect();
        for (at, q) in own.into_iter().zip(benjamini_hochberg(&p)) {
            if let Some(row) = rows.get_mut(at) {
                row.q = q;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::Day;
    use crate::methods::trend::regional;
    use crate::plan::{Method, SampleKind};

    fn result(row: u64, day: i32, interval: Interval) -> Candidate {
        Candidate {
            row,
            day: Day(day),
            interval,
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            estimated: false,
        }
    }

    /// Yearly results from 2000 on.
    fn yearly(values: &[Interval]) -> Vec<Candidate> {
        values.iter().zip(0u64..).map(|(value, n)| result(n, 10957 + 365 * n as i32, *value)).collect()
    }

    fn rising() -> Vec<Candidate> {
        yearly(&[
            Interval::Below(1.0),
            Interval::Detect(2.0),
            Interval::Detect(3.0),
            Interval::Detect(4.0),
            Interval::Detect(5.0),
        ])
    }

    fn steady() -> Vec<Candidate> {
        yearly(&[Interval::Detect(2.0), Interval::Detect(4.0), Interval::Below(3.0), Interval::Detect(3.5)])
    }

    #[test]
    fn a_well_needs_four_days_and_two_years() {
        let all = rising();
        assert!(well_trend(AreaId(0), &all[..4]).is_some());
        assert!(well_trend(AreaId(0), &all[..3]).is_none());
        let monthly: Vec<Candidate> = (0u64..9).map(|n| result(n, 30 * n as i32, Interval::Detect(1.0))).collect();
        assert!(well_trend(AreaId(0), &monthly).is_none());
    }

    #[test]
    fn two_results_of_a_day_are_one() {
        let mut twice = rising();
        twice.push(Candidate { kind: SampleKind::Duplicate, ..result(9, 10957 + 365, Interval::Detect(90.0)) });
        assert_eq!(well_trend(AreaId(0), &twice), well_trend(AreaId(0), &rising()));
    }

    /// Helsel and Frans 2006 by `methods::trend::regional`, which the statistics reference checks.
    #[test]
    fn the_sum_of_wells_is_the_regional_test() {
        let wells = [rising(), steady(), rising(), steady()];
        let split = |own: &Vec<Candidate>| -> (Vec<f64>, Vec<f64>, Vec<bool>) {
            let times = own.iter().map(|c| f64::from(c.day.0) / YEAR).collect();
            let nondetect = own.iter().map(|c| matches!(c.interval, Interval::Below(_))).collect();
            (times, own.iter().filter_map(|c| c.interval.number()).collect(), nondetect)
        };
        let lists: Vec<_> = wells.iter().map(split).collect();
        let series: Vec<Series<'_>> =
            lists.iter().map(|(times, values, nondetect)| Series { times, values, nondetect }).collect();
        let whole = regional(&series).unwrap();
        let found: Vec<WellTrend> = wells.iter().filter_map(|own| well_trend(AreaId(0), own)).collect();
        let row = row(Scope::Region, AnalyteId(0), &found, 3);
        assert_eq!((row.wells, row.tau, row.p), (4, whole.tau, whole.test.map(|test| test.p)));
    }

    #[test]
    fn few_wells_get_words_and_no_figures() {
        let found: Vec<WellTrend> = [rising(), steady()].iter().filter_map(|own| well_trend(AreaId(1), own)).collect();
        let rows = of_scopes(AnalyteId(4), &found, 2, 3);
        assert_eq!(rows.iter().map(|row| row.wells).collect::<Vec<_>>(), [2, 0, 2]);
        assert!(rows.iter().all(|row| row.tau.is_none() && row.slope_per_year.is_none() && row.p.is_none()));
        assert!(rows[0].notes[0].contains("only 2 wells have"));
    }

    #[test]
    fn the_slope_is_the_middle_one_of_the_wells() {
        assert_eq!(median(vec![3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(vec![3.0, 1.0]), Some(2.0));
        assert_eq!(median(vec![]), None);
        let climb = well_trend(AreaId(0), &rising()).unwrap();
        assert!((climb.slope.unwrap() - YEAR / 365.0).abs() < 1e-9);
    }

    #[test]
    fn all_non_detects_have_no_test() {
        let limits = yearly(&[Interval::Below(1.0); 5]);
        let found: Vec<WellTrend> = (0..3).filter_map(|_| well_trend(AreaId(0), &limits)).collect();
        let row = row(Scope::Region, AnalyteId(0), &found, 3);
        assert_eq!((row.tau, row.p, row.slope_per_year), (Some(0.0), None, None));
        assert_eq!(row.notes.len(), 2);
    }
}
