//! What may be told, as rows: the stages' rows with hidden figures taken out, and made anew what one row owes to others.
//!
//! A smoothed rate leans on every area, an adjusted p-value on every test, a rank on every row, the distance to the next well on wells of
//! other areas. To leave them as they are would tell of hidden groups, to whatever digit; so they are worked out once more from what is shown, with hidden
//! groups as if nobody had been tested there. Public files are thus a function of what they show and of the totals: a test moves wells between
//! hidden areas and finds every public byte the same. A reader would question that public and internal figures differ a little: they do,
//! wherever something is hidden.

use super::{Protection, Results};
use crate::compare::{Comparison, HotSpot, LandUseRow, ModelRow, PeriodRow, made_anew};
use crate::ids::{AnalyteId, AreaId};
use crate::problem::Problems;
use crate::recommend::{self, Advice, AdviceRow, OutreachRow};
use crate::summarise::{
    self, AnyHealthRow, CoverageRow, ExceedanceRow, Findings, Scope, SummaryRow, TrendRow, adjust_trends, smooth,
};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Rows without anything hidden. Hidden rows keep their place and their keys.
#[derive(Debug)]
pub struct Told {
    findings: Findings,
    comparison: Comparison,
    advice: Advice,
}

impl Told {
    /// Rates, summaries, trends.
    pub fn findings(&self) -> &Findings {
        &self.findings
    }

    /// Comparisons.
    pub fn comparison(&self) -> &Comparison {
        &self.comparison
    }

    /// Advice by area, where to go first (hidden areas last), panels.
    pub fn advice(&self) -> &Advice {
        &self.advice
    }
}

impl Protection {
    /// Takes out what is hidden.
    ///
    /// # Errors
    /// A price list that cannot be read again.
    pub fn told(&self, results: &Results<'_>) -> Result<Told, Problems> {
        let plan = &results.job.plan;
        let touched = self.touched(results.findings);
        // First with hidden groups as if untested, which is what others may lean on.
        let mut findings = self.told_findings(results, &touched);
        let mut comparison = self.told_comparison(results.comparison);
        made_anew(&mut comparison, plan, results.wells, &findings, |analyte| touched.contains(&analyte));
        for spot in comparison.hot_spots.iter_mut().filter(|spot| self.hides(Scope::Area(spot.area), spot.analyte)) {
            *spot = HotSpot { z: None, p: None, q: None, notes: Vec::new(), ..spot.clone() };
        }
        let advice = self.told_advice(results, &findings)?;
        // Then without what others say of a hidden group.
        let rates = findings.exceedance.iter_mut().chain(&mut findings.sums);
        for row in rates {
            row.posterior = None;
            if self.hides(row.scope, row.analyte) {
                *row = emptied(row);
            }
        }
        Ok(Told { findings, comparison, advice })
    }

    /// Analytes with a hidden group that is not empty: figures of their other groups lean on it.
    fn touched(&self, findings: &Findings) -> BTreeSet<AnalyteId> {
        let area = |row: &&ExceedanceRow| row.scope != Scope::Region && row.wells > 0;
        let hidden = findings.all_exceedance().filter(area).filter(|row| self.hides(row.scope, row.analyte));
        hidden.map(|row| row.analyte).collect()
    }

    fn told_findings(&self, results: &Results<'_>, touched: &BTreeSet<AnalyteId>) -> Findings {
        let findings = results.findings;
        let mut trends: Vec<TrendRow> = findings.trends.iter().map(|row| self.told_trend(row)).collect();
        adjust_trends(&mut trends);
        Findings {
            benchmarks: findings.benchmarks.clone(),
            as_of: findings.as_of,
            exceedance: self.told_rates(results, &findings.exceedance, touched),
            sums: self.told_rates(results, &findings.sums, touched),
            summaries: findings.summaries.iter().map(|row| self.told_summary(row)).collect(),
            trends,
            any_health: findings.any_health.iter().map(|row| self.told_any_health(row)).collect(),
            coverage: self.told_coverage(results),
        }
    }

    /// Rates with hidden counts at zero, smoothed again where any of them was not.
    fn told_rates(
        &self,
        results: &Results<'_>,
        rows: &[ExceedanceRow],
        touched: &BTreeSet<AnalyteId>,
    ) -> Vec<ExceedanceRow> {
        let mut told = rows.to_vec();
        let maps = told.par_chunk_by_mut(|_, next| next.scope != Scope::Region);
        maps.for_each(|map| self.tell_rates(results, map, touched));
        told
    }

    /// Rates of one limit.
    fn tell_rates(&self, results: &Results<'_>, map: &mut [ExceedanceRow], touched: &BTreeSet<AnalyteId>) {
        for row in map.iter_mut() {
            if self.hides(row.scope, row.analyte) {
                // Where nobody was tested, what others say of it is as it was.
                let (smoothed, interval, posterior) = (row.smoothed, row.smoothed_interval, row.posterior.clone());
                let chance = row.chance_of_concern;
                *row = ExceedanceRow {
                    smoothed,
                    smoothed_interval: interval,
                    posterior,
                    chance_of_concern: chance,
                    ..emptied(row)
                };
            }
            if self.hides_a_part(results, row) {
                row.notes.retain(|note| note != summarise::EXCEED_ALREADY);
            }
        }
        if map.first().is_some_and(|row| touched.contains(&row.analyte)) {
            for row in map.iter_mut() {
                row.notes.retain(|note| !note.starts_with(summarise::NOT_SMOOTHED));
                (row.smoothed, row.smoothed_interval, row.posterior) = (None, None, None);
                (row.chance_of_concern, row.chance_worst_fifth) = (None, None);
            }
            smooth(&results.job.plan, map);
        }
    }

    /// Whether a part of a computed sum is hidden: wells tested for some parts only are then nobody's business.
    fn hides_a_part(&self, results: &Results<'_>, row: &ExceedanceRow) -> bool {
        let rule = results.job.dictionary.sum_rules().iter().find(|rule| rule.analyte == row.analyte);
        rule.is_some_and(|rule| rule.parts.iter().any(|part| self.hides(row.scope, part.analyte)))
    }

    fn told_coverage(&self, results: &Results<'_>) -> Vec<CoverageRow> {
        let coverage = &results.findings.coverage;
        let hidden = |area: AreaId| self.hides_area(area);
        if !coverage.iter().any(|row| row.wells_sampled > 0 && hidden(row.area)) {
            return coverage.clone();
        }
        summarise::coverage(results.wells, results.survey, |area| !hidden(area))
    }

    fn told_comparison(&self, comparison: &Comparison) -> Comparison {
        Comparison {
            land_use: comparison.land_use.iter().map(|row| self.told_band(row)).collect(),
            model: comparison.model.iter().enumerate().map(|(at, row)| self.told_model(at, row)).collect(),
            hot_spots: comparison.hot_spots.clone(),
            periods: comparison.periods.iter().map(|row| self.told_period(row)).collect(),
            ..Comparison::default()
        }
    }

    /// Advice from what may be told; hidden areas last in where to go first.
    fn told_advice(&self, results: &Results<'_>, findings: &Findings) -> Result<Advice, Problems> {
        let job = results.job;
        let mut advice =
            recommend::by_area(&job.plan, &job.dictionary, &job.inputs, results.wells, results.survey, findings)?;
        advice.outreach = self.outreach_rows(&advice);
        for row in &mut advice.areas {
            if self.hides(Scope::Area(row.area), row.analyte) {
                *row = AdviceRow {
                    chance_of_concern: None,
                    expected_per_100: None,
                    wells: 0,
                    evidence: "",
                    because: self.why(),
                    in_words: String::new(),
                    years: None,
                    parts_sampled: None,
                    more_to_halve: None,
                    more_to_settle: None,
                    ..row.clone()
                };
            }
        }
        Ok(advice)
    }

    /// Where to go first, as it may be told: hidden areas stand last, in file order and without a figure, since a rank
    /// would say between which figures theirs lies.
    fn outreach_rows(&self, advice: &Advice) -> Vec<OutreachRow> {
        let mut rows = advice.outreach.clone();
        rows.sort_by_key(|row| {
            (self.hides_area(row.area), if self.hides_area(row.area) { row.area.0 } else { row.rank })
        });
        // Ranks, and what chance allows of them, among the shown areas alone.
        let shown = rows.iter().take_while(|row| !self.hides_area(row.area)).count();
        let (shown, hidden) = rows.split_at_mut(shown);
        recommend::set_ranks(shown, &advice.draws);
        hidden.iter_mut().for_each(|row| *row = unranked(row, self.why()));
        rows
    }

    fn told_summary(&self, row: &SummaryRow) -> SummaryRow {
        if !self.hides(row.scope, row.analyte) {
            return row.clone();
        }
        SummaryRow {
            scope: row.scope,
            analyte: row.analyte,
            wells: 0,
            detected: 0,
            limits: 0,
            limit_range: None,
            lowest_detect: None,
            highest: None,
            mean: None,
            mean_interval: None,
            sd: None,
            quantiles: [None; 5],
            mean_upper: None,
            quantile_intervals: [[None; 2]; 2],
            p95_upper: None,
            gaps: [None; 2],
            method: "",
            notes: Vec::new(),
        }
    }

    /// Comparisons with hidden bands are taken out too, and what is said of them.
    fn told_band(&self, row: &LandUseRow) -> LandUseRow {
        let (hidden, beside) = (self.hides_band(row), self.comparisons(row));
        let (own, lowest) = (!hidden, !hidden && beside.with_lowest);
        let all = lowest && beside.with_all;
        let said = if all { usize::MAX } else { usize::from(own && row.benchmark.is_some()) };
        LandUseRow {
            wells: if own { row.wells } else { 0 },
            exceeding: row.exceeding.filter(|_| own),
            undetermined: row.undetermined.filter(|_| own),
            rate: row.rate.filter(|_| own),
            rate_interval: row.rate_interval.filter(|_| own),
            odds_ratio: row.odds_ratio.filter(|_| lowest),
            odds_interval: row.odds_interval.filter(|_| lowest),
            risk_ratio: row.risk_ratio.filter(|_| lowest),
            risk_ratio_interval: row.risk_ratio_interval.filter(|_| lowest),
            risk_difference: row.risk_difference.filter(|_| lowest),
            risk_difference_interval: row.risk_difference_interval.filter(|_| lowest),
            fisher_p: row.fisher_p.filter(|_| lowest),
            fisher_mid_p: row.fisher_mid_p.filter(|_| lowest),
            trend_p: row.trend_p.filter(|_| all),
            rank_p: row.rank_p.filter(|_| all),
            rank_trend_p: row.rank_trend_p.filter(|_| all),
            neighbour_p: row.neighbour_p.filter(|_| all),
            rank_neighbour_p: row.rank_neighbour_p.filter(|_| all),
            // The first says what kind of limit it is; the others speak of the comparison.
            notes: row.notes.iter().take(said).cloned().collect(),
            test_notes: row.test_notes.iter().filter(|_| all).cloned().collect(),
            ..row.clone()
        }
    }

    fn told_model(&self, at: usize, row: &ModelRow) -> ModelRow {
        if !self.hides_model(at, row) {
            return row.clone();
        }
        ModelRow {
            estimate: None,
            std_error: None,
            odds_ratio: None,
            odds_interval: None,
            p: None,
            q: None,
            wells: 0,
            fit: self.why(),
            ..row.clone()
        }
    }

    fn told_trend(&self, row: &TrendRow) -> TrendRow {
        if !self.hides_trend(row.scope, row.analyte) {
            return row.clone();
        }
        TrendRow { wells: 0, tau: None, slope_per_year: None, p: None, q: None, notes: Vec::new(), ..row.clone() }
    }

    fn told_any_health(&self, row: &AnyHealthRow) -> AnyHealthRow {
        if !self.hides_any_health(row.scope) {
            return row.clone();
        }
        AnyHealthRow { wells: 0, exceeding: 0, undetermined: 0, rate: None, interval: None, ..row.clone() }
    }

    fn told_period(&self, row: &PeriodRow) -> PeriodRow {
        if !self.hides_period(row) {
            // How many changed is about the wells of both periods, a group of its own.
            let few = row.both < self.smallest_group();
            return if few { without_changes(row) } else { row.clone() };
        }
        PeriodRow {
            wells: [0; 2],
            exceeding: [0; 2],
            rate: [None; 2],
            difference: None,
            difference_interval: None,
            p: None,
            q: None,
            both: 0,
            rose: 0,
            fell: 0,
            paired_p: None,
            paired_q: None,
            notes: Vec::new(),
            ..row.clone()
        }
    }
}

/// A comparison of periods without the wells that were tested in both.
fn without_changes(row: &PeriodRow) -> PeriodRow {
    let own = row.notes.iter().take(1).cloned().collect(); // the rest speak of those wells
    PeriodRow { both: 0, rose: 0, fell: 0, paired_p: None, paired_q: None, notes: own, ..row.clone() }
}

/// A rate of which nothing is known but what it is of.
fn emptied(row: &ExceedanceRow) -> ExceedanceRow {
    ExceedanceRow {
        wells: 0,
        exceeding: 0,
        meeting: 0,
        undetermined: 0,
        rate: None,
        rate_interval: None,
        floor: None,
        ceiling: None,
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
        notes: Vec::new(),
        set: row.set.clone(),
        effect: row.effect.clone(),
        ..*row
    }
}

/// A hidden area in the order of where to go first.
fn unranked(row: &OutreachRow, why: String) -> OutreachRow {
    OutreachRow {
        rank: row.rank,
        area: row.area,
        wells_on_record: row.wells_on_record,
        wells_sampled: 0,
        share_sampled: None,
        expected_wells_over: None,
        expected_interval: None,
        leading: None,
        because: why,
        rank_interval: None,
        households: (row.households.0, None),
        household_rank: None,
        infants: (row.infants.0, None),
        infant_rank: None,
    }
}
