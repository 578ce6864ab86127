//! What may be published. This file alone decides what is hidden, and every public writer takes its decision.
//!
//! A group is a row's wells. A group under `smallest_group` is hidden; then as many more as it takes that no hidden
//! number of wells can be worked out from all that is shown to an interval narrower than `smallest_group`: `counts` lists the
//! numbers of a run and what holds between them, `system` attacks and hides. Areas with no well at all look the same as hidden
//! ones, so that an absent row tells nothing. Figures that rest on hidden numbers without being one, such as an odds ratio
//! against a hidden band, are emptied; those that rest on all areas together, such as smoothed rates, are made anew from what is shown
//! (`told`).

mod counts;
pub(super) mod points;
mod public;
mod spread;
mod system;
mod told;

pub(super) use public::period;
pub use public::{Public, ToldCount};
pub use told::Told;

use super::Results;
use crate::compare::{Comparison, LandUseRow, PeriodRow};
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::Accounting;
use crate::recommend::{Advice, PanelRow};
use crate::summarise::{AnyHealthRow, CoverageRow, Scope};
use crate::table::{Cell, Table};
use std::collections::BTreeSet;

/// A table of which everything that must be hidden is hidden. Only this file makes one.
#[derive(Clone, Debug)]
pub struct Protected<T>(T);

impl<T> Protected<T> {
    /// The protected thing.
    pub fn get(&self) -> &T {
        &self.0
    }
}

/// What is hidden in a run's public files.
#[derive(Clone, Debug, Default)]
pub struct Protection {
    smallest_group: u32,
    /// Areas of which not even the number of sampled wells is shown.
    areas: BTreeSet<AreaId>,
    /// (scope, analyte) groups.
    groups: BTreeSet<(Scope, AnalyteId)>,
    /// (land use, band, analyte) groups.
    bands: BTreeSet<(String, usize, AnalyteId)>,
    /// Trends of groups that are shown themselves.
    trends: BTreeSet<(Scope, AnalyteId)>,
    /// Scopes whose wells with the whole panel are hidden.
    any_health: BTreeSet<Scope>,
    /// Groups whose comparison of two periods is hidden.
    periods: BTreeSet<(Scope, AnalyteId)>,
    /// Rows of models, by their places among them.
    models: BTreeSet<usize>,
    /// Whether the region's number of sampled wells is shown.
    sampled: Total,
}

impl Protection {
    /// Decides for a whole run, or for a further layer of areas.
    pub fn decide(results: &Results<'_>) -> Protection {
        let smallest_group = results.job.plan.smallest_group;
        let mut counts = counts::Counts::of(results);
        counts.system.protect(smallest_group);
        counts.into_protection(smallest_group)
    }

    /// Decides again after more was hidden from outside; `None` where that was enough.
    pub fn again(&self, results: &Results<'_>) -> Option<Protection> {
        let mut counts = counts::Counts::of(results);
        counts.hide(self);
        counts.system.protect(self.smallest_group);
        let mut next = counts.into_protection(self.smallest_group);
        next.areas.extend(&self.areas); // it only grows, so that it comes to an end
        next.groups.extend(&self.groups);
        (next.areas != self.areas || next.groups != self.groups).then_some(next)
    }

    /// Hides an area and all groups in it.
    pub fn hide_area(&mut self, area: AreaId) {
        self.areas.insert(area);
    }

    /// Hides a group.
    pub fn hide_group(&mut self, scope: Scope, analyte: AnalyteId) {
        self.groups.insert((scope, analyte));
    }

    /// Whether a row of trend.csv is hidden: its own wells are few, or the group's number is hidden.
    pub fn hides_trend(&self, scope: Scope, analyte: AnalyteId) -> bool {
        self.trends.contains(&(scope, analyte)) || self.hides(scope, analyte)
    }

    /// Whether a row about any health limit is hidden.
    pub fn hides_any_health(&self, scope: Scope) -> bool {
        self.any_health.contains(&scope) || matches!(scope, Scope::Area(area) if self.areas.contains(&area))
    }

    /// Whether the region's number of sampled wells is hidden.
    pub fn hides_sampled(&self) -> bool {
        self.sampled == Total::Hidden
    }

    /// Whether a row of a model is hidden, by its place among them.
    pub fn hides_model(&self, at: usize, row: &crate::compare::ModelRow) -> bool {
        self.models.contains(&at) || self.hides(Scope::Region, row.analyte)
    }

    /// Which comparisons of a row may be told: an odds ratio and its interval give the lowest band's counts away, a test over all
    /// bands those of any hidden one.
    pub fn comparisons(&self, row: &LandUseRow) -> Comparisons {
        let own =
            |(land_use, _, analyte): &&(String, usize, AnalyteId)| *land_use == row.land_use && *analyte == row.analyte;
        let hidden: Vec<usize> = self.bands.iter().filter(own).map(|(_, band, _)| *band).collect();
        Comparisons { with_lowest: !hidden.contains(&0), with_all: hidden.is_empty() }
    }

    /// Whether a group is hidden.
    pub fn hides(&self, scope: Scope, analyte: AnalyteId) -> bool {
        self.groups.contains(&(scope, analyte)) || matches!(scope, Scope::Area(area) if self.areas.contains(&area))
    }

    /// Whether an area's number of sampled wells is hidden.
    pub fn hides_area(&self, area: AreaId) -> bool {
        self.areas.contains(&area)
    }

    /// Whether a band of an analyte is hidden.
    pub fn hides_band(&self, row: &LandUseRow) -> bool {
        self.bands.contains(&(row.land_use.clone(), row.band_number, row.analyte))
    }

    /// The smallest group that is shown.
    pub fn smallest_group(&self) -> u32 {
        self.smallest_group
    }

    /// The sentence that stands where something is hidden.
    pub fn why(&self) -> String {
        format!("not shown, to protect households: groups under {} wells, or needed to hide one", self.smallest_group)
    }

    /// exceedance.csv and summary.csv: `table`'s rows are those of the scopes and analytes, in order.
    pub fn by_group(&self, table: &Table, keys: impl IntoIterator<Item = (Scope, AnalyteId)>) -> Protected<Table> {
        let keys: Vec<(Scope, AnalyteId)> = keys.into_iter().collect();
        let hidden: Vec<bool> = keys.iter().map(|(scope, analyte)| self.hides(*scope, *analyte)).collect();
        self.blank(table, &hidden)
    }

    /// land-use.csv
    pub fn land_use(&self, table: &Table, rows: &[LandUseRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_band(row)).collect();
        self.blank(table, &hidden)
    }

    /// land-use-model.csv: a model of a hidden analyte, or of too few wells, is hidden.
    pub fn model(&self, table: &Table, rows: &[crate::compare::ModelRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().enumerate().map(|(at, row)| self.hides_model(at, row)).collect();
        self.blank(table, &hidden)
    }

    /// trend.csv
    pub fn trend(&self, table: &Table, rows: &[crate::summarise::TrendRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_trend(row.scope, row.analyte)).collect();
        self.blank(table, &hidden)
    }

    /// trend.csv of a further layer: numbers of wells and words that hold them are left out, since they are not held against those of
    /// other layers.
    pub fn trend_without_counts(&self, table: &Table, rows: &[crate::summarise::TrendRow]) -> Protected<Table> {
        let mut table = self.trend(table, rows).0;
        let counts: Vec<bool> =
            table.columns.iter().map(|name| matches!(name.as_str(), "wells" | "note" | "in_words")).collect();
        for (row, _) in table.rows.iter_mut().zip(rows).filter(|(_, row)| !self.hides_trend(row.scope, row.analyte)) {
            row.iter_mut().zip(&counts).filter(|(_, of)| **of).for_each(|(cell, _)| *cell = Cell::Empty);
        }
        Protected(table)
    }

    /// any-health.csv
    pub fn any_health(&self, table: &Table, rows: &[AnyHealthRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_any_health(row.scope)).collect();
        self.blank(table, &hidden)
    }

    /// Whether a comparison of two periods is hidden.
    pub fn hides_period(&self, row: &PeriodRow) -> bool {
        self.periods.contains(&(row.scope, row.analyte)) || self.hides(row.scope, row.analyte)
    }

    /// period.csv
    pub fn periods(&self, table: &Table, rows: &[PeriodRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_period(row)).collect();
        let mut table = self.blank(table, &hidden).0;
        let changes: Vec<bool> =
            table.columns.iter().map(|column| matches!(column.as_str(), "both" | "rose" | "fell")).collect();
        for (row, _) in table.rows.iter_mut().zip(rows).filter(|(_, row)| row.both < self.smallest_group) {
            row.iter_mut().zip(&changes).filter(|(_, of)| **of).for_each(|(cell, _)| *cell = Cell::Empty);
        }
        Protected(table)
    }

    /// coverage.csv
    pub fn coverage(&self, table: &Table, rows: &[CoverageRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_area(row.area)).collect();
        self.blank(table, &hidden)
    }

    /// radii.csv: a row is hidden with any of the bands that it is made of.
    pub fn radii(&self, table: &Table, comparison: &Comparison) -> Protected<Table> {
        let band = |at: &usize| comparison.land_use.get(*at).is_none_or(|row| self.hides_band(row));
        let hidden: Vec<bool> = comparison.radii.iter().map(|row| row.made_of.iter().any(band)).collect();
        self.blank(table, &hidden)
    }

    /// panel.csv: chosen from the rates that are shown, since an order of tests would tell of the hidden ones.
    pub fn panel(&self, told: &Told, table: impl Fn(&[PanelRow]) -> Table) -> Protected<Table> {
        Protected(table(&told.advice().panels.rows(|scope, analyte| self.hides(scope, analyte))))
    }

    /// recommend.csv
    pub fn recommend(&self, table: &Table, advice: &Advice) -> Protected<Table> {
        let hidden: Vec<bool> = advice.areas.iter().map(|row| self.hides(Scope::Area(row.area), row.analyte)).collect();
        self.blank(table, &hidden)
    }

    /// outreach.csv
    pub fn outreach(&self, table: &Table, advice: &Advice) -> Protected<Table> {
        let hidden: Vec<bool> = advice.outreach.iter().map(|row| self.hides_area(row.area)).collect();
        self.blank(table, &hidden)
    }

    /// accounting.csv: numbers of wells under the smallest group are hidden; results are not about households.
    pub fn accounting(&self, table: &Table, accounting: &Accounting) -> Protected<Table> {
        let mut table = table.clone();
        for (row, count) in table.rows.iter_mut().zip(&accounting.rows) {
            if self.hides_accounted(count)
                && let Some(cell) = row.last_mut()
            {
                *cell = Cell::Empty;
            }
        }
        Protected(table)
    }

    /// Whether a number of wells of the accounting is hidden.
    pub fn hides_accounted(&self, row: &crate::per_well::StageCount) -> bool {
        row.wells < u64::from(self.smallest_group) || (row.stage == "used" && self.hides_sampled())
    }

    /// quality.csv: a check of fewer wells than the smallest group is hidden; checks of results are not about households.
    pub fn quality(&self, table: &Table, rows: &[crate::summarise::QualityRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_check(row)).collect();
        self.blank(table, &hidden)
    }

    /// Whether a check is hidden: of few wells, or of an analyte whose number of wells in the region is hidden.
    pub fn hides_check(&self, row: &crate::summarise::QualityRow) -> bool {
        let of_hidden = row.analyte.is_some_and(|analyte| self.hides(Scope::Region, analyte));
        row.tested < u64::from(self.smallest_group) || of_hidden
    }

    /// Empties a hidden row but for its keys, limit and unit; its note says why.
    fn blank(&self, table: &Table, hidden: &[bool]) -> Protected<Table> {
        const KEPT: [&str; 15] = [
            "area_id",
            "area_name",
            "analyte",
            "benchmark_set",
            "effect",
            "limit",
            "limit_low",
            "unit",
            "land_use",
            "band",
            "band_from",
            "band_to",
            "term",
            "check",
            "subject",
        ];
        let kept: Vec<bool> = table.columns.iter().map(|column| KEPT.contains(&column.as_str())).collect();
        let note = table.columns.iter().position(|column| matches!(column.as_str(), "note" | "because" | "fit"));
        let mut table = table.clone();
        for (row, _) in table.rows.iter_mut().zip(hidden).filter(|(_, hidden)| **hidden) {
            for (at, cell) in row.iter_mut().enumerate() {
                if Some(at) == note {
                    *cell = Cell::Text(self.why());
                } else if !kept.get(at).copied().unwrap_or(false) {
                    *cell = Cell::Empty;
                }
            }
        }
        Protected(table)
    }
}

/// Which comparisons of a land-use row may be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Comparisons {
    /// Those with the lowest band.
    pub with_lowest: bool,
    /// Those over all bands.
    pub with_all: bool,
}

/// Whether a total is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Total {
    #[default]
    Shown,
    Hidden,
}

/// Whether every hidden size could be anything in an interval of at least `smallest`, given the hidden sum and bounds.
pub(super) fn is_safe(smallest: u32, sizes: &[u32], bounds: &[u64], hidden: &BTreeSet<usize>) -> bool {
    let size = |at: usize| sizes.get(at).copied().map_or(0, u64::from);
    let sum: u64 = hidden.iter().map(|at| size(*at)).sum();
    let bound = |at: usize| bounds.get(at).copied().unwrap_or(sum).min(sum);
    let all: u64 = hidden.iter().map(|at| bound(*at)).sum();
    hidden.iter().all(|at| {
        let low = sum.saturating_sub(all - bound(*at));
        bound(*at).saturating_sub(low) >= u64::from(smallest)
    })
}
