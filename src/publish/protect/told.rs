//! What may be told, as rows: the stages' rows with hidden figures taken out and the others told to as many digits as the tables.
//!
//! `Public` is what the public maps, areas files and the page are made from; only this file makes one, so a writer that forgets to
//! ask what is hidden finds nothing to give away. Hidden rows keep their keys, as in the tables. A reader would question what is
//! left as it was: the survey's single values, of which the page draws the region's classes (`spread`), and the advice, whose
//! rows the page asks for one by one.

use super::{Protection, Results, three_digits};
use crate::compare::{Comparison, LandUseRow, ModelRow};
use crate::summarise::{ExceedanceRow, Findings, Scope, SummaryRow};

/// Rows without anything hidden.
#[derive(Debug)]
pub struct Told {
    findings: Findings,
    comparison: Comparison,
}

/// A run's results as they may be told.
#[derive(Clone, Copy)]
pub struct Public<'a>(Results<'a>);

impl<'a> Public<'a> {
    /// The results; findings and comparison are those that may be told.
    pub fn get(&self) -> &Results<'a> {
        &self.0
    }
}

impl Told {
    /// Beside the rest of the results.
    pub fn beside<'a>(&'a self, results: &Results<'a>) -> Public<'a> {
        Public(Results { findings: &self.findings, comparison: &self.comparison, ..*results })
    }
}

impl Protection {
    /// Takes out what is hidden.
    pub fn told(&self, results: &Results<'_>) -> Told {
        let (findings, comparison) = (results.findings, results.comparison);
        let area = |area| self.hides_area(area);
        Told {
            findings: Findings {
                benchmarks: findings.benchmarks.clone(),
                as_of: findings.as_of,
                exceedance: findings.exceedance.iter().map(|row| self.told_rate(row)).collect(),
                sums: findings.sums.iter().map(|row| self.told_rate(row)).collect(),
                summaries: findings.summaries.iter().map(|row| self.told_summary(row)).collect(),
                trends: kept(&findings.trends, |row| self.hides_trend(row.scope, row.analyte)),
                any_health: kept(&findings.any_health, |row| self.hides_any_health(row.scope)),
                coverage: kept(&findings.coverage, |row| area(row.area)),
            },
            comparison: Comparison {
                land_use: comparison.land_use.iter().map(|row| self.told_band(row)).collect(),
                model: comparison.model.iter().map(|row| self.told_model(row)).collect(),
                hot_spots: kept(&comparison.hot_spots, |row| self.hides(Scope::Area(row.area), row.analyte)),
                periods: kept(&comparison.periods, |row| self.hides_period(row)),
                ..Comparison::default()
            },
        }
    }

    fn told_rate(&self, row: &ExceedanceRow) -> ExceedanceRow {
        if !self.hides(row.scope, row.analyte) {
            let coarse = self.is_coarse(row.analyte);
            let told = |x: f64| if coarse { three_digits(x) } else { x };
            return ExceedanceRow {
                smoothed: row.smoothed.map(told),
                smoothed_interval: row.smoothed_interval.map(|(low, high)| (told(low), told(high))),
                chance_of_concern: row.chance_of_concern.map(told),
                chance_worst_fifth: row.chance_worst_fifth.map(told),
                posterior: None,
                ..row.clone()
            };
        }
        ExceedanceRow {
            scope: row.scope,
            analyte: row.analyte,
            set: row.set.clone(),
            effect: row.effect.clone(),
            ranks: row.ranks,
            kind: row.kind,
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
        }
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

    /// Comparisons with hidden bands are taken out too.
    fn told_band(&self, row: &LandUseRow) -> LandUseRow {
        let (hidden, beside) = (self.hides_band(row), self.comparisons(row));
        let (own, lowest) = (!hidden, !hidden && beside.with_lowest);
        let all = lowest && beside.with_all;
        let told = |x: f64| if self.bands.is_empty() { x } else { three_digits(x) };
        let one = |x: Option<f64>, shown: bool| x.filter(|_| shown).map(told);
        let two = |x: Option<(f64, f64)>, shown: bool| x.filter(|_| shown).map(|(low, high)| (told(low), told(high)));
        LandUseRow {
            wells: if own { row.wells } else { 0 },
            exceeding: row.exceeding.filter(|_| own),
            undetermined: row.undetermined.filter(|_| own),
            rate: row.rate.filter(|_| own),
            rate_interval: row.rate_interval.filter(|_| own),
            odds_ratio: one(row.odds_ratio, lowest),
            odds_interval: two(row.odds_interval, lowest),
            risk_ratio: one(row.risk_ratio, lowest),
            risk_ratio_interval: two(row.risk_ratio_interval, lowest),
            risk_difference: one(row.risk_difference, lowest),
            risk_difference_interval: two(row.risk_difference_interval, lowest),
            fisher_p: one(row.fisher_p, lowest),
            fisher_mid_p: one(row.fisher_mid_p, lowest),
            fisher_q: one(row.fisher_q, lowest),
            trend_p: one(row.trend_p, all),
            rank_p: one(row.rank_p, all),
            rank_q: one(row.rank_q, all),
            rank_trend_p: one(row.rank_trend_p, all),
            block_p: one(row.block_p, all),
            block_q: one(row.block_q, all),
            rank_block_p: one(row.rank_block_p, all),
            notes: if own { row.notes.clone() } else { Vec::new() },
            ..row.clone()
        }
    }

    fn told_model(&self, row: &ModelRow) -> ModelRow {
        if !self.hides_model(row) {
            return row.clone();
        }
        ModelRow {
            estimate: None,
            std_error: None,
            odds_ratio: None,
            odds_interval: None,
            p: None,
            q: None,
            fit: self.why(),
            ..row.clone()
        }
    }
}

fn kept<T: Clone>(rows: &[T], hides: impl Fn(&T) -> bool) -> Vec<T> {
    rows.iter().filter(|row| !hides(row)).cloned().collect()
}
