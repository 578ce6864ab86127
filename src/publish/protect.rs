//! What may be published. This file alone decides what is hidden, and every public writer takes its decision.
//!
//! A group is a row's wells. A group under `smallest_group` is hidden; then as many more as it takes that no hidden
//! number of wells can be worked out from a shown total to an interval narrower than `smallest_group`. The smallest shown
//! groups go first. Areas with no well at all look the same as hidden ones, so that an absent row tells nothing.

use crate::compare::{Comparison, LandUseRow, PeriodRow};
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::{Accounting, Survey};
use crate::place::Wells;
use crate::recommend::{Advice, OutreachRow, PanelRow};
use crate::summarise::{AnyHealthRow, CoverageRow, Findings, Scope};
use crate::table::{Cell, Table};
use std::collections::{BTreeMap, BTreeSet};

/// Columns of land-use.csv that compare a band with the lowest one.
const AGAINST_LOWEST: [&str; 12] = [
    "odds_ratio",
    "odds_low",
    "odds_high",
    "risk_ratio",
    "risk_ratio_low",
    "risk_ratio_high",
    "risk_difference",
    "risk_difference_low",
    "risk_difference_high",
    "fisher_p",
    "fisher_mid_p",
    "fisher_q",
];

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
    /// Rows of wells with the whole panel of health limits.
    panels: BTreeSet<Scope>,
    /// (land use, band, analyte) groups.
    bands: BTreeSet<(String, usize, AnalyteId)>,
}

impl Protection {
    /// Decides for a whole run.
    pub fn decide(
        smallest_group: u32,
        wells: &Wells,
        survey: &Survey,
        findings: &Findings,
        comparison: &Comparison,
    ) -> Protection {
        let sampled = crate::recommend::sampled(wells, survey);
        let total: u64 = sampled.iter().map(|n| u64::from(*n)).sum();
        let bounds = vec![total; sampled.len()];
        let hidden = hide(smallest_group, &sampled, &bounds, Total::Shown);
        let mut protection = Protection {
            smallest_group,
            areas: hidden.into_iter().map(|at| AreaId(at as u32)).collect(),
            ..Protection::default()
        };
        protection.decide_groups(&sampled, findings);
        protection.decide_panels(&sampled, findings);
        protection.decide_bands(findings, comparison);
        protection
    }

    fn decide_groups(&mut self, sampled: &[u32], findings: &Findings) {
        let mut sizes: BTreeMap<AnalyteId, Vec<u32>> = BTreeMap::new();
        // Sums are computed and have no summary; their wells are those of their rows.
        let single = findings.summaries.iter().map(|row| (row.scope, row.analyte, row.wells));
        let sums = findings.sums.iter().map(|row| (row.scope, row.analyte, row.wells));
        for (scope, analyte, wells) in single.chain(sums) {
            if let Scope::Area(area) = scope {
                let list = sizes.entry(analyte).or_insert_with(|| vec![0; sampled.len()]);
                if let Some(size) = list.get_mut(area.index()) {
                    *size = wells;
                }
            }
        }
        for (analyte, sizes) in sizes {
            self.decide_analyte(analyte, &sizes, sampled);
        }
    }

    fn decide_analyte(&mut self, analyte: AnalyteId, sizes: &[u32], sampled: &[u32]) {
        let total: u32 = sizes.iter().sum();
        let hidden_areas: Vec<u32> = self.areas.iter().filter_map(|area| sampled.get(area.index()).copied()).collect();
        let hidden_total: u64 = hidden_areas.iter().map(|n| u64::from(*n)).sum();
        // What an outsider knows of an area beforehand: no more wells than were sampled there.
        let bounds: Vec<u64> = sampled
            .iter()
            .enumerate()
            .map(|(at, n)| if self.areas.contains(&AreaId(at as u32)) { hidden_total } else { u64::from(*n) })
            .collect();
        let shown = if total < self.smallest_group { Total::Hidden } else { Total::Shown };
        let mut forced = sizes.to_vec();
        for area in &self.areas {
            if let Some(size) = forced.get_mut(area.index()) {
                *size = 0; // hidden whatever its size: nothing of this area is shown
            }
        }
        let hidden = hide_with(self.smallest_group, sizes, &forced, &bounds, shown);
        if shown == Total::Hidden || hidden.total == Total::Hidden {
            self.groups.insert((Scope::Region, analyte));
        }
        self.groups.extend(hidden.groups.into_iter().map(|at| (Scope::Area(AreaId(at as u32)), analyte)));
    }

    /// Wells with the whole panel are some of the wells of each of its analytes: where one of those is hidden, a shown number would
    /// say how many it has at least, and a hidden one is known to be no more than the fewest shown.
    fn decide_panels(&mut self, sampled: &[u32], findings: &Findings) {
        let Some(region) = findings.any_health.iter().find(|row| row.scope == Scope::Region) else { return };
        let in_panel: BTreeSet<AnalyteId> = region.panel.iter().copied().collect();
        let mut sizes = vec![0u32; sampled.len()];
        for row in &findings.any_health {
            if let Scope::Area(area) = row.scope
                && let Some(size) = sizes.get_mut(area.index())
            {
                *size = row.wells;
            }
        }
        let all: u64 = sampled.iter().map(|n| u64::from(*n)).sum();
        let known = |(at, n): (usize, &u32)| if self.areas.contains(&AreaId(at as u32)) { all } else { u64::from(*n) };
        let mut bounds: Vec<u64> = sampled.iter().enumerate().map(known).collect();
        let mut judged = sizes.clone();
        for row in findings.summaries.iter().filter(|row| in_panel.contains(&row.analyte)) {
            let Scope::Area(area) = row.scope else { continue };
            let hidden = self.hides(row.scope, row.analyte);
            if let (Some(size), true) = (judged.get_mut(area.index()), hidden) {
                *size = 0;
            }
            if let (Some(bound), false) = (bounds.get_mut(area.index()), hidden) {
                *bound = (*bound).min(u64::from(row.wells));
            }
        }
        let lost = in_panel.iter().any(|analyte| self.hides(Scope::Region, *analyte));
        let shown = if lost || region.wells < self.smallest_group { Total::Hidden } else { Total::Shown };
        let hidden = hide_with(self.smallest_group, &sizes, &judged, &bounds, shown);
        self.panels.extend((hidden.total == Total::Hidden).then_some(Scope::Region));
        self.panels.extend(hidden.groups.into_iter().map(|at| Scope::Area(AreaId(at as u32))));
    }

    fn decide_bands(&mut self, findings: &Findings, comparison: &Comparison) {
        let region: BTreeMap<AnalyteId, u32> = findings
            .summaries
            .iter()
            .filter(|row| row.scope == Scope::Region)
            .map(|row| (row.analyte, row.wells))
            .collect();
        let mut sizes: BTreeMap<(&str, AnalyteId), BTreeMap<usize, u32>> = BTreeMap::new();
        for row in &comparison.land_use {
            sizes.entry((&row.land_use, row.analyte)).or_default().insert(row.band_number, row.wells);
        }
        let mut bands = BTreeSet::new();
        for ((land_use, analyte), sizes) in sizes {
            let total = u64::from(region.get(&analyte).copied().unwrap_or(0));
            let counts: Vec<u32> = sizes.values().copied().collect();
            // Wells left out of the comparison are one more unknown part of the region's total: only its bound counts.
            let shown = if self.hides(Scope::Region, analyte) { Total::Hidden } else { Total::Shown };
            let hidden = hide(self.smallest_group, &counts, &vec![total; counts.len()], shown);
            let numbers: Vec<usize> = sizes.keys().copied().collect();
            bands.extend(hidden.into_iter().filter_map(|at| Some((land_use.to_owned(), *numbers.get(at)?, analyte))));
        }
        self.bands = bands;
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

    /// Hides one group more.
    pub(super) fn hide_group(&mut self, scope: Scope, analyte: AnalyteId) {
        self.groups.insert((scope, analyte));
    }

    /// Hides one area more.
    pub(super) fn hide_area(&mut self, area: AreaId) {
        self.areas.insert(area);
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
        let hidden: Vec<bool> = keys.into_iter().map(|(scope, analyte)| self.hides(scope, analyte)).collect();
        self.blank(table, &hidden)
    }

    /// land-use.csv
    pub fn land_use(&self, table: &Table, rows: &[LandUseRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_band(row)).collect();
        let Protected(mut table) = self.blank(table, &hidden);
        let against: Vec<bool> = table.columns.iter().map(|column| AGAINST_LOWEST.contains(&column.as_str())).collect();
        for (cells, _) in table.rows.iter_mut().zip(rows).filter(|(_, row)| self.hides_lowest_band(row)) {
            cells.iter_mut().zip(&against).filter(|(_, against)| **against).for_each(|(cell, _)| *cell = Cell::Empty);
        }
        Protected(table)
    }

    /// Whether the band that a row is compared with is hidden: ratios and differences would let its counts be worked out.
    pub fn hides_lowest_band(&self, row: &LandUseRow) -> bool {
        self.bands.contains(&(row.land_use.clone(), 0, row.analyte))
    }

    /// radii.csv: a row is hidden with any of the bands that it is made of.
    pub fn radii(&self, table: &Table, comparison: &Comparison) -> Protected<Table> {
        let band = |at: &usize| comparison.land_use.get(*at).is_none_or(|row| self.hides_band(row));
        let hidden: Vec<bool> = comparison.radii.iter().map(|row| row.made_of.iter().any(band)).collect();
        self.blank(table, &hidden)
    }

    /// coverage.csv
    pub fn coverage(&self, table: &Table, rows: &[CoverageRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_area(row.area)).collect();
        self.blank(table, &hidden)
    }

    /// land-use-model.csv: a model of a hidden analyte, or of too few wells, is hidden.
    pub fn model(&self, table: &Table, rows: &[crate::compare::ModelRow]) -> Protected<Table> {
        let hidden: Vec<bool> =
            rows.iter().map(|row| row.wells < self.smallest_group || self.hides(Scope::Region, row.analyte)).collect();
        self.blank(table, &hidden)
    }

    /// period.csv: every period is a total of its own over the areas, so each is judged as a table of its own; a row is hidden where
    /// any of them asks for it, and a region whose areas must all be hidden is hidden too.
    pub fn periods(&self, table: &Table, rows: &[PeriodRow]) -> Protected<Table> {
        let mut hidden = Vec::with_capacity(rows.len());
        for rows in rows.chunk_by(|_, next| next.scope != Scope::Region) {
            let (region, areas) = (rows.first(), rows.get(1..).unwrap_or_default());
            let mut own: BTreeSet<usize> = (0..areas.len())
                .filter(|at| areas.get(*at).is_some_and(|row| self.hides(row.scope, row.analyte)))
                .collect();
            let mut all = region.is_some_and(|row| {
                self.hides(row.scope, row.analyte) || row.wells.iter().any(|wells| *wells < self.smallest_group)
            });
            loop {
                let before = (own.len(), all);
                for period in [0, 1] {
                    let sizes: Vec<u32> = areas.iter().map(|row| row.wells[period]).collect();
                    let judged: Vec<u32> =
                        sizes.iter().enumerate().map(|(at, n)| if own.contains(&at) { 0 } else { *n }).collect();
                    let total: u64 = sizes.iter().map(|n| u64::from(*n)).sum();
                    let shown = if all { Total::Hidden } else { Total::Shown };
                    let found = hide_with(self.smallest_group, &sizes, &judged, &vec![total; sizes.len()], shown);
                    own.extend(found.groups);
                    all |= found.total == Total::Hidden;
                }
                if before == (own.len(), all) {
                    break;
                }
            }
            hidden.push(all);
            hidden.extend((0..areas.len()).map(|at| own.contains(&at)));
        }
        self.blank(table, &hidden)
    }

    /// recommend.csv
    pub fn recommend(&self, table: &Table, advice: &Advice) -> Protected<Table> {
        let hidden: Vec<bool> = advice.areas.iter().map(|row| self.hides(Scope::Area(row.area), row.analyte)).collect();
        self.blank(table, &hidden)
    }

    /// Where to go first, as it may be told: hidden areas stand last, in file order and without a rank, since a rank
    /// would say between which figures theirs lies.
    pub fn outreach_rows(&self, advice: &Advice) -> Vec<OutreachRow> {
        let mut rows = advice.outreach.clone();
        rows.sort_by_key(|row| {
            (self.hides_area(row.area), if self.hides_area(row.area) { row.area.0 } else { row.rank })
        });
        // Ranks, and what chance allows of them, among the shown areas alone.
        let shown = rows.iter().take_while(|row| !self.hides_area(row.area)).count();
        let (shown, hidden) = rows.split_at_mut(shown);
        crate::recommend::set_ranks(shown, &advice.draws);
        hidden.iter_mut().for_each(|row| row.rank_interval = None);
        rows
    }

    /// panel.csv: chosen anew from the rates that are shown, since an order of tests would tell of the hidden ones.
    pub fn panel(&self, advice: &Advice, table: impl Fn(&[PanelRow]) -> Table) -> Protected<Table> {
        Protected(table(&advice.panels.rows(|scope, analyte| self.hides(scope, analyte))))
    }

    /// outreach.csv: `table` is made of `outreach_rows`.
    pub fn outreach(&self, table: &Table, rows: &[OutreachRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_area(row.area)).collect();
        self.blank(table, &hidden)
    }

    /// Whether the row of wells with the whole panel is hidden.
    pub fn hides_any_health(&self, scope: Scope) -> bool {
        self.panels.contains(&scope)
    }

    /// any-health.csv
    pub fn any_health(&self, table: &Table, rows: &[AnyHealthRow]) -> Protected<Table> {
        let hidden: Vec<bool> = rows.iter().map(|row| self.hides_any_health(row.scope)).collect();
        self.blank(table, &hidden)
    }

    /// accounting.csv: numbers of wells under the smallest group are hidden; results are not about households.
    pub fn accounting(&self, table: &Table, accounting: &Accounting) -> Protected<Table> {
        let mut table = table.clone();
        for (row, count) in table.rows.iter_mut().zip(&accounting.rows) {
            if count.wells < u64::from(self.smallest_group)
                && let Some(cell) = row.last_mut()
            {
                *cell = Cell::Empty;
            }
        }
        Protected(table)
    }

    /// A table about checks, in which no number counts wells.
    pub fn harmless(&self, table: Table) -> Protected<Table> {
        Protected(table)
    }

    /// Empties a hidden row but for its keys, limit and unit; its note says why.
    fn blank(&self, table: &Table, hidden: &[bool]) -> Protected<Table> {
        const KEPT: [&str; 15] = [
            "square_km",
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
            "wells_on_record",
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

/// Whether the sum of all groups is shown beside them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Total {
    Shown,
    Hidden,
}

struct Hidden {
    groups: BTreeSet<usize>,
    total: Total,
}

fn hide(smallest: u32, sizes: &[u32], bounds: &[u64], total: Total) -> BTreeSet<usize> {
    hide_with(smallest, sizes, sizes, bounds, total).groups
}

/// Which groups to hide. `judged` are the sizes that are held against the smallest group, `sizes` the true ones, `bounds`
/// what an outsider knows each to be at most. If hiding every group does not do, the total is hidden as well.
fn hide_with(smallest: u32, sizes: &[u32], judged: &[u32], bounds: &[u64], total: Total) -> Hidden {
    let mut hidden: BTreeSet<usize> =
        (0..sizes.len()).filter(|at| judged.get(*at).is_none_or(|n| *n < smallest)).collect();
    let mut total = total;
    while total == Total::Shown && !hidden.is_empty() && !is_safe(smallest, sizes, bounds, &hidden) {
        let next = (0..sizes.len()).filter(|at| !hidden.contains(at)).min_by_key(|at| (sizes.get(*at).copied(), *at));
        match next {
            Some(next) => {
                hidden.insert(next);
            }
            None => total = Total::Hidden,
        }
    }
    Hidden { groups: hidden, total }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn hidden(sizes: &[u32]) -> Vec<usize> {
        let total = sizes.iter().map(|n| u64::from(*n)).sum();
        hide(5, sizes, &vec![total; sizes.len()], Total::Shown).into_iter().collect()
    }

    #[test]
    fn a_lone_small_group_takes_another_with_it() {
        assert_eq!(hidden(&[20, 3, 9, 30]), [1, 2]);
        assert_eq!(hidden(&[20, 30]), Vec::<usize>::new());
        assert_eq!(hidden(&[3, 4, 30]), [0, 1]);
    }

    #[test]
    fn two_groups_of_one_are_not_enough() {
        assert_eq!(hidden(&[1, 1, 30, 8]), [0, 1, 3]);
    }

    /// Two periods are two totals: an area too small in one of them takes another with it, and so does the other period.
    #[test]
    fn a_period_cannot_be_worked_out_from_the_others() {
        let row = |scope, wells| PeriodRow {
            scope,
            analyte: AnalyteId(0),
            set: String::new(),
            effect: String::new(),
            wells,
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
        };
        let areas = [[20, 20], [2, 30], [9, 12], [40, 40]];
        let mut rows = vec![row(Scope::Region, [71, 102])];
        rows.extend(areas.iter().zip(0..).map(|(wells, at)| row(Scope::Area(AreaId(at)), *wells)));
        let cells = |row: &PeriodRow| vec![Cell::Text("a".to_owned()), Cell::Count(row.wells[0].into()), Cell::Empty];
        let table = Table {
            name: "period",
            columns: ["area_id", "wells_first", "note"].map(str::to_owned).to_vec(),
            rows: rows.iter().map(cells).collect(),
        };
        let protection = Protection { smallest_group: 5, ..Protection::default() };
        let shown: Vec<bool> =
            protection.periods(&table, &rows).get().rows.iter().map(|row| row[1] != Cell::Empty).collect();
        assert_eq!(shown, [true, true, false, false, true]);
    }

    proptest::proptest! {
        #[test]
        fn nothing_hidden_is_narrowed(sizes in proptest::collection::vec(0u32..40, 1..12)) {
            let total: u64 = sizes.iter().map(|n| u64::from(*n)).sum();
            let bounds = vec![total; sizes.len()];
            let found = hide_with(5, &sizes, &sizes, &bounds, Total::Shown);
            for (at, size) in sizes.iter().enumerate() {
                proptest::prop_assert!(*size >= 5 || found.groups.contains(&at));
            }
            proptest::prop_assert!(found.total == Total::Hidden || found.groups.is_empty() || is_safe(5, &sizes, &bounds, &found.groups));
        }
    }
}
