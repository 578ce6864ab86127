//! period.csv: the rate of each limit in two periods of the plan, by area and for the region.
//!
//! Within each period one value stands for a well, chosen as `per_well.choose` says (`median` counts as `latest` here). Rates come from
//! all wells of each period, their difference with Newcombe's interval and Fisher's test; wells tested in both are
//! compared with themselves by McNemar's exact test. A reader would question the first: other wells may have been tested in
//! the second period, so a difference of rates may be one of wells. The note says how it stands; where the two tests disagree, the one
//! of the same wells goes before. Wells in both periods make the interval of the difference a little too wide.

#![allow(clippy::indexing_slicing, reason = "two periods, and two alone are counted over")]

use crate::dictionary::Benchmark;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, WellId};
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::exceedance::{Counts, Verdict};
use crate::methods::fisher;
use crate::methods::paired::mcnemar;
use crate::methods::two_by_two::{TwoByTwo, risk_difference};
use crate::normalise::Row;
use crate::per_well::{Candidate, Numbered, Survey, better};
use crate::place::Wells;
use crate::plan::Plan;
use crate::problem::Problem;
use crate::summarise::{Findings, Scope, judge};
use rayon::prelude::*;
use rustc_hash::FxHashMap;
use std::collections::{BTreeMap, BTreeSet};

/// Below this adjusted p a change is called clear (common practice, no source).
const CLEAR: f64 = 0.05;

/// One row of period.csv.
#[derive(Clone, Debug)]
pub struct PeriodRow {
    /// Region or area.
    pub scope: Scope,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set's id.
    pub set: String,
    /// Effect the limit guards against.
    pub effect: String,
    /// Wells with a value, in the earlier and in the later period.
    pub wells: [u32; 2],
    /// Wells that exceed.
    pub exceeding: [u32; 2],
    /// exceeding / (exceeding + meeting).
    pub rate: [Option<f64>; 2],
    /// Later rate less the earlier one.
    pub difference: Option<f64>,
    /// Newcombe's interval.
    pub difference_interval: Option<(f64, f64)>,
    /// Fisher's exact p of the two rates.
    pub p: Option<f64>,
    /// Benjamini-Hochberg over the limits of the scope.
    pub q: Option<f64>,
    /// Wells with a verdict in both periods.
    pub both: u32,
    /// Wells of these that went above the limit.
    pub rose: u32,
    /// Wells of these that went below it.
    pub fell: u32,
    /// McNemar's exact p.
    pub paired_p: Option<f64>,
    /// Benjamini-Hochberg over the limits of the scope.
    pub paired_q: Option<f64>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

type Pair = [Option<Candidate>; 2];

/// Rows of every limit, the region first; none where the plan names no periods.
pub(super) fn rows(
    plan: &Plan,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Vec<PeriodRow>, Problem> {
    let Some(periods) = plan.survey.compare_periods else { return Ok(Vec::new()) };
    let wanted: BTreeSet<AnalyteId> = findings.benchmarks.iter().map(|b| b.analyte).collect();
    let values = values(plan, survey, periods, &wanted)?;
    let areas = wells.areas().len();
    let limits: Vec<&Benchmark> = findings.benchmarks.iter().filter(|b| values.contains_key(&b.analyte)).collect();
    let parts: Vec<Vec<PeriodRow>> = limits
        .par_iter()
        .map(|limit| one_limit(plan, wells, limit, values.get(&limit.analyte).map_or(&[], Vec::as_slice), areas))
        .collect();
    let mut rows: Vec<PeriodRow> = parts.into_iter().flatten().collect();
    adjust(&mut rows);
    rows.iter_mut().for_each(tell);
    Ok(rows)
}

/// One value a well and period, by analyte and then well.
type Values = BTreeMap<AnalyteId, Vec<(WellId, Pair)>>;

/// Rows of the ledger that are looked at together.
const GROUP: u64 = 1 << 16;

/// One pass over the ledger; memory grows with wells and analytes, not with results.
fn values(
    plan: &Plan,
    survey: &Survey,
    periods: [(Day, Day); 2],
    wanted: &BTreeSet<AnalyteId>,
) -> Result<Values, Problem> {
    let mut pairs: FxHashMap<(AnalyteId, u32), Pair> = FxHashMap::default();
    let found = |blocks: &[Numbered<'_>]| -> Vec<Found> {
        let rows = blocks.iter().flat_map(|(start, block)| block.rows.iter().zip(*start..));
        rows.filter_map(|(row, number)| in_period(row, number, periods, wanted)).collect()
    };
    survey.ledger.in_order(GROUP, found, |found| {
        for (key, place, new) in found {
            if let Some(old) = pairs.entry(key).or_default().get_mut(place) {
                *old = Some(old.map_or(new, |old| better(plan.per_well.choose, old, new)));
            }
        }
        Ok(())
    })?;
    let mut sorted: Vec<((AnalyteId, u32), Pair)> = pairs.into_iter().collect();
    sorted.sort_unstable_by_key(|(key, _)| *key);
    let mut values = Values::new();
    for ((analyte, well), pair) in sorted {
        values.entry(analyte).or_default().push((WellId(well), pair));
    }
    Ok(values)
}

/// Analyte and well, which period, and the result.
type Found = ((AnalyteId, u32), usize, Candidate);

fn in_period(row: &Row, number: u64, periods: [(Day, Day); 2], wanted: &BTreeSet<AnalyteId>) -> Option<Found> {
    if !matches!(row.reason, None | Some(Reason::Repeat)) {
        return None;
    }
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let place = periods.iter().position(|(from, to)| *from <= day && day <= *to)?;
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    let result = Candidate { row: number, day, interval, kind, method, estimated };
    wanted.contains(&analyte).then_some(((analyte, row.well), place, result))
}

fn one_limit(plan: &Plan, wells: &Wells, limit: &Benchmark, values: &[(WellId, Pair)], areas: usize) -> Vec<PeriodRow> {
    let mut scopes: Vec<Vec<[Option<Verdict>; 2]>> = vec![Vec::new(); areas + 1];
    for (well, pair) in values {
        let Some(area) = wells.area(*well) else { continue };
        let verdicts = pair.map(|value| value.map(|value| judge(value.interval, limit.kind)));
        for at in [0, area.index() + 1] {
            if let Some(scope) = scopes.get_mut(at) {
                scope.push(verdicts);
            }
        }
    }
    let ids = std::iter::once(Scope::Region).chain((0..areas as u32).map(|area| Scope::Area(crate::ids::AreaId(area))));
    ids.zip(&scopes).map(|(scope, verdicts)| row(plan, limit, scope, verdicts)).collect()
}

fn row(plan: &Plan, limit: &Benchmark, scope: Scope, verdicts: &[[Option<Verdict>; 2]]) -> PeriodRow {
    let counts = [0, 1].map(|at| Counts::of(verdicts.iter().filter_map(|pair: &[Option<Verdict>; 2]| pair[at])));
    let small = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    let level = plan.summary.interval;
    let table = TwoByTwo {
        exposed_exceeding: counts[1].exceeding,
        exposed_meeting: counts[1].meeting,
        reference_exceeding: counts[0].exceeding,
        reference_meeting: counts[0].meeting,
    };
    let difference = risk_difference(table, level);
    let pairs =
        |from: Verdict, to: Verdict| verdicts.iter().filter(|pair| **pair == [Some(from), Some(to)]).count() as u64;
    let rose = pairs(Verdict::Meeting, Verdict::Exceeding);
    let fell = pairs(Verdict::Exceeding, Verdict::Meeting);
    let stayed = pairs(Verdict::Meeting, Verdict::Meeting) + pairs(Verdict::Exceeding, Verdict::Exceeding);
    PeriodRow {
        scope,
        analyte: limit.analyte,
        set: limit.set.clone(),
        effect: limit.effect.as_str().to_owned(),
        wells: counts.map(|c| small(c.wells())),
        exceeding: counts.map(|c| small(c.exceeding)),
        rate: counts.map(|c| c.rates(level).rate),
        difference: difference.map(|d| d.value),
        difference_interval: difference.and_then(|d| d.interval).map(|[low, high]| (low, high)),
        p: difference.map(|_| fisher::test(table).p),
        q: None,
        both: small(rose + fell + stayed),
        rose: small(rose),
        fell: small(fell),
        paired_p: mcnemar(rose, fell),
        paired_q: None,
        notes: Vec::new(),
    }
}

/// Benjamini-Hochberg over the limits of a scope.
pub(super) fn adjust(rows: &mut [PeriodRow]) {
    let mut by_scope: BTreeMap<Scope, Vec<usize>> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate() {
        by_scope.entry(row.scope).or_default().push(at);
    }
    for own in by_scope.into_values() {
        let of = |take: fn(&PeriodRow) -> Option<f64>| -> Vec<Option<f64>> {
            benjamini_hochberg(&own.iter().map(|at| rows.get(*at).and_then(take)).collect::<Vec<_>>())
        };
        let (all, paired) = (of(|row| row.p), of(|row| row.paired_p));
        for ((at, q), paired_q) in own.iter().zip(all).zip(paired) {
            if let Some(row) = rows.get_mut(*at) {
                (row.q, row.paired_q) = (q, paired_q);
            }
        }
    }
}

/// What the row says, in plain words and without numbers.
fn tell(row: &mut PeriodRow) {
    let called = |q: Option<f64>| q.is_some_and(|q| q <= CLEAR);
    let way = |up: bool| if up { "rose" } else { "fell" };
    let words = match row.difference {
        None => "cannot be compared: in one of the periods no well could be judged",
        Some(_) if !called(row.q) => "no clear change of the share above the limit",
        Some(d) if d > 0.0 => "the share above the limit rose clearly",
        Some(_) => "the share above the limit fell clearly",
    };
    row.notes.push(words.to_owned());
    if called(row.paired_q) {
        row.notes.push(format!("wells tested in both periods {} clearly", way(row.rose > row.fell)));
    } else if row.both == 0 && row.difference.is_some() {
        row.notes.push(
            "no well was tested in both periods, so a difference may come from other wells having been tested"
                .to_owned(),
        );
    } else if row.difference.is_some() && 2 * row.both < row.wells[0].min(row.wells[1]) {
        row.notes.push(
            "few wells were tested in both periods, so a difference may come from other wells having been tested"
                .to_owned(),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made_up(both: u32, q: f64, difference: f64) -> PeriodRow {
        PeriodRow {
            scope: Scope::Region,
            analyte: AnalyteId(0),
            set: String::new(),
            effect: String::new(),
            wells: [40, 50],
            exceeding: [4, 20],
            rate: [Some(0.1), Some(0.4)],
            difference: Some(difference),
            difference_interval: None,
            p: Some(q),
            q: Some(q),
            both,
            rose: 9,
            fell: 0,
            paired_p: Some(q),
            paired_q: Some(q),
            notes: Vec::new(),
        }
    }

    #[test]
    fn the_note_tells_the_way_and_the_doubt() {
        let told = |mut row: PeriodRow| {
            tell(&mut row);
            row.notes.join("; ")
        };
        assert_eq!(
            told(made_up(30, 0.001, 0.3)),
            "the share above the limit rose clearly; wells tested in both periods rose clearly"
        );
        assert!(told(made_up(5, 0.4, 0.3)).starts_with("no clear change of the share above the limit; few wells"));
        assert!(told(made_up(0, 0.4, -0.1)).contains("no well was tested in both"));
    }
}
