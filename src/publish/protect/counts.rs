//! The numbers of wells that a run tells of, and what an outsider knows to hold between them.
//!
//! A number is listed here if any public file would show it: sampled wells, groups, bands, trends, models, the whole panel.
//! A new table with numbers of wells adds its numbers and relations here, and nowhere else.

use super::system::{Cell, Rank, System};
use super::{Protection, Results, Total};
use crate::compare::Comparison;
use crate::dictionary::SumRule;
use crate::ids::{AnalyteId, AreaId};
use crate::summarise::{Findings, Scope};
use std::collections::BTreeMap;

type Band = (String, usize, AnalyteId);

/// The system and what its numbers are.
pub struct Counts {
    pub system: System,
    areas: Vec<Cell>,
    sampled: Cell,
    groups: BTreeMap<(Scope, AnalyteId), Cell>,
    bands: BTreeMap<Band, Cell>,
    trends: BTreeMap<(Scope, AnalyteId), Cell>,
    any_health: BTreeMap<Scope, Cell>,
    /// Wells of the earlier and of the later period.
    periods: BTreeMap<(Scope, AnalyteId), [Cell; 2]>,
    /// By place among the rows of models.
    models: BTreeMap<usize, Cell>,
}

fn rank(scope: Scope) -> Rank {
    if scope == Scope::Region { Rank::Total } else { Rank::Part }
}

impl Counts {
    pub fn of(results: &Results<'_>) -> Counts {
        let (findings, comparison) = (results.findings, results.comparison);
        let mut system = System::default();
        let sizes = crate::recommend::sampled(results.wells, results.survey);
        let areas: Vec<Cell> = sizes.iter().map(|size| system.number((*size).into(), Rank::Area)).collect();
        let sampled = system.number(sizes.iter().map(|size| u64::from(*size)).sum(), Rank::Total);
        system.sum(sampled, &areas);
        let none = BTreeMap::new;
        let mut counts = Counts {
            system,
            areas,
            sampled,
            groups: none(),
            bands: BTreeMap::new(),
            trends: none(),
            any_health: BTreeMap::new(),
            periods: BTreeMap::new(),
            models: BTreeMap::new(),
        };
        counts.add_groups(findings);
        counts.add_sums(results.job.dictionary.sum_rules(), findings);
        counts.add_trends(findings);
        counts.add_any_health(findings);
        counts.add_periods(comparison);
        counts.add_bands(results);
        counts.add_models(comparison);
        counts
    }

    /// An area's sampled wells; the region's.
    fn sampled_in(&self, scope: Scope) -> Cell {
        match scope {
            Scope::Region => self.sampled,
            Scope::Area(area) => self.areas.get(area.index()).copied().unwrap_or(self.sampled),
        }
    }

    /// Groups sum up over areas, hold no more wells than were sampled, and together at least those.
    fn add_groups(&mut self, findings: &Findings) {
        for row in &findings.summaries {
            let cell = self.system.number(row.wells.into(), rank(row.scope));
            self.groups.insert((row.scope, row.analyte), cell);
            let all = self.sampled_in(row.scope);
            self.system.at_least(all, &[cell]);
            if row.scope != Scope::Region {
                self.system.follows(all, cell);
            }
        }
        let groups = self.groups.clone();
        let mut of_scope: BTreeMap<Scope, Vec<Cell>> = BTreeMap::new();
        for ((scope, _), cell) in &groups {
            of_scope.entry(*scope).or_default().push(*cell);
        }
        for (scope, cells) in of_scope {
            self.system.at_most(self.sampled_in(scope), &cells);
        }
        self.sum_over_areas(&groups);
    }

    /// Wells with a sum were tested for enough of its parts: at most those of the parts, and at least as many as those overlap.
    fn add_sums(&mut self, rules: &[SumRule], findings: &Findings) {
        let mut sums = BTreeMap::new();
        for row in &findings.sums {
            let key = (row.scope, row.analyte);
            if self.groups.contains_key(&key) {
                continue; // the same wells against another limit
            }
            let cell = self.system.number(row.wells.into(), rank(row.scope));
            let all = self.sampled_in(row.scope);
            self.system.at_least(all, &[cell]);
            if row.scope != Scope::Region {
                self.system.follows(all, cell);
            }
            if let Some(rule) = rules.iter().find(|rule| rule.analyte == row.analyte) {
                let parts: Vec<AnalyteId> = rule.parts.iter().map(|part| part.analyte).collect();
                self.overlap(cell, row.scope, &parts, rule.needed);
            }
            self.groups.insert(key, cell);
            sums.insert(key, cell);
        }
        self.sum_over_areas(&sums);
    }

    /// `some` wells have values of at least `needed` of the `parts`, and no other well has.
    fn overlap(&mut self, some: Cell, scope: Scope, parts: &[AnalyteId], needed: usize) {
        let all = self.sampled_in(scope);
        let of = |analyte: &AnalyteId| self.groups.get(&(scope, *analyte)).copied();
        let groups: Vec<Cell> = parts.iter().filter_map(of).collect();
        let whole = |n: usize| i64::try_from(n).unwrap_or(0);
        let (parts, needed) = (whole(parts.len()), whole(needed));
        let without = |factor: &(i64, Cell)| factor.0 != 0;
        if needed == parts {
            groups.iter().for_each(|group| self.system.at_least(*group, &[some]));
        }
        let most = groups.iter().map(|group| (1, *group)).chain([(-needed, some)]);
        self.system.relation(most.filter(without).collect());
        // Values of all parts together: at most `parts` for each of the wells, one less than needed for each other one.
        let least = groups.iter().map(|group| (-1, *group)).chain([(parts - needed + 1, some), (needed - 1, all)]);
        self.system.relation(least.filter(without).collect());
    }

    /// Wells of a period are some of the group's; the two periods may hold all of them. A row is shown with both or not at all.
    fn add_periods(&mut self, comparison: &Comparison) {
        for row in &comparison.periods {
            let key = (row.scope, row.analyte);
            if self.periods.contains_key(&key) {
                continue; // the same wells against another limit
            }
            let cells = row.wells.map(|wells| self.system.number(wells.into(), rank(row.scope)));
            let [first, second] = cells;
            self.system.follows(first, second);
            self.system.follows(second, first);
            if let Some(group) = self.groups.get(&key).copied() {
                cells.iter().for_each(|cell| self.system.at_least(group, &[*cell]));
                self.system.at_most(group, &cells);
                self.system.follows(group, first);
            }
            self.periods.insert(key, cells);
        }
        for place in [0, 1] {
            let of = |(key, cells): (&(Scope, AnalyteId), &[Cell; 2])| Some((*key, *cells.get(place)?));
            let cells: BTreeMap<(Scope, AnalyteId), Cell> = self.periods.iter().filter_map(of).collect();
            self.sum_over_areas(&cells);
        }
    }

    fn sum_over_areas(&mut self, cells: &BTreeMap<(Scope, AnalyteId), Cell>) {
        let mut parts: BTreeMap<AnalyteId, Vec<Cell>> = BTreeMap::new();
        for ((_, analyte), cell) in cells.iter().filter(|((scope, _), _)| *scope != Scope::Region) {
            parts.entry(*analyte).or_default().push(*cell);
        }
        for (analyte, parts) in parts {
            if let Some(whole) = cells.get(&(Scope::Region, analyte)) {
                self.system.sum(*whole, &parts);
            }
        }
    }

    /// Wells with a trend are some of their group.
    fn add_trends(&mut self, findings: &Findings) {
        let mut trends = BTreeMap::new();
        for row in &findings.trends {
            let cell = self.system.number(row.wells.into(), rank(row.scope));
            trends.insert((row.scope, row.analyte), cell);
            if let Some(group) = self.groups.get(&(row.scope, row.analyte)) {
                self.system.at_least(*group, &[cell]);
                self.system.follows(*group, cell);
            }
        }
        self.sum_over_areas(&trends);
        self.trends = trends;
    }

    /// Wells with the whole panel have each of its analytes; a well without it lacks one.
    fn add_any_health(&mut self, findings: &Findings) {
        for row in &findings.any_health {
            let cell = self.system.number(row.wells.into(), rank(row.scope));
            self.any_health.insert(row.scope, cell);
            self.system.at_least(self.sampled_in(row.scope), &[cell]);
        }
        let parts: Vec<Cell> =
            self.any_health.iter().filter(|(scope, _)| **scope != Scope::Region).map(|(_, cell)| *cell).collect();
        if let Some(whole) = self.any_health.get(&Scope::Region) {
            self.system.sum(*whole, &parts);
        }
        for row in findings.any_health.iter().filter(|row| row.wells > 0) {
            if let Some(whole) = self.any_health.get(&row.scope).copied() {
                self.overlap(whole, row.scope, &row.panel, row.panel.len());
            }
            // The panel is named, and holds what at least half of the sampled wells were tested for.
            let region = row.panel.iter().filter_map(|analyte| self.groups.get(&(Scope::Region, *analyte)).copied());
            let sampled = self.sampled;
            region.for_each(|group| self.system.relation(vec![(2, group), (-1, sampled)]));
        }
    }

    /// Bands hold at most the region's wells, and all but those with too coarse a location. Where these are few they are a group
    /// like another, though no row is about them: what is left of the region's row without its bands would be theirs.
    fn add_bands(&mut self, results: &Results<'_>) {
        let order: Vec<&str> = results.job.plan.land_use.iter().map(|land_use| land_use.name.as_str()).collect();
        let mut parts: BTreeMap<(usize, AnalyteId), Vec<Cell>> = BTreeMap::new();
        for row in &results.comparison.land_use {
            let key = (row.land_use.clone(), row.band_number, row.analyte);
            if self.bands.contains_key(&key) {
                continue; // the same wells against another limit
            }
            let cell = self.system.number(row.wells.into(), Rank::Part);
            self.bands.insert(key, cell);
            let land_use = order.iter().position(|name| *name == row.land_use).unwrap_or(0);
            parts.entry((land_use, row.analyte)).or_default().push(cell);
        }
        for ((land_use, analyte), parts) in parts {
            let Some(whole) = self.groups.get(&(Scope::Region, analyte)).copied() else { continue };
            let banded: u64 = parts.iter().map(|cell| self.system.value(*cell)).sum();
            let left = self.system.value(whole).saturating_sub(banded);
            if (1..results.job.plan.smallest_group.into()).contains(&left) {
                let left = self.system.number(left, Rank::Part);
                let all: Vec<Cell> = parts.iter().copied().chain([left]).collect();
                self.system.sum(whole, &all);
            } else {
                self.system.at_least(whole, &parts);
            }
            let told = results.wells.left_out(land_use); // the quality table shows it
            if self.system.value(whole) <= banded + told {
                self.system.at_most_with(whole, &parts, told);
            }
        }
    }

    /// A model's wells are in a band of every land use.
    fn add_models(&mut self, comparison: &Comparison) {
        let mut known: BTreeMap<(AnalyteId, u32), Cell> = BTreeMap::new();
        for (at, row) in comparison.model.iter().enumerate() {
            if let Some(cell) = known.get(&(row.analyte, row.wells)) {
                self.models.insert(at, *cell);
                continue;
            }
            let cell = self.system.number(row.wells.into(), Rank::Part);
            known.insert((row.analyte, row.wells), cell);
            self.models.insert(at, cell);
            if let Some(whole) = self.groups.get(&(Scope::Region, row.analyte)) {
                self.system.at_least(*whole, &[cell]);
                self.system.follows(*whole, cell);
            }
            let mut parts: BTreeMap<&str, Vec<Cell>> = BTreeMap::new();
            for ((land_use, _, analyte), band) in &self.bands {
                if *analyte == row.analyte {
                    parts.entry(land_use).or_default().push(*band);
                }
            }
            parts.values().for_each(|parts| self.system.at_most(cell, parts));
        }
    }

    /// Hides what is hidden already.
    pub fn hide(&mut self, known: &Protection) {
        let areas = (0_u32..).zip(&self.areas).filter(|(at, _)| known.hides_area(AreaId(*at))).map(|(_, cell)| *cell);
        let groups =
            self.groups.iter().filter(|((scope, analyte), _)| known.hides(*scope, *analyte)).map(|(_, cell)| *cell);
        let cells: Vec<Cell> = areas.chain(groups).collect();
        cells.into_iter().for_each(|cell| self.system.hide(cell));
    }

    /// What came out.
    pub fn into_protection(self, smallest_group: u32) -> Protection {
        let system = &self.system;
        let areas = (0_u32..).zip(&self.areas).filter(|(_, cell)| system.hides(**cell)).map(|(at, _)| AreaId(at));
        Protection {
            smallest_group,
            areas: areas.collect(),
            groups: hidden(system, &self.groups),
            bands: hidden(system, &self.bands),
            trends: hidden(system, &self.trends),
            any_health: hidden(system, &self.any_health),
            periods: self.hidden_periods(),
            models: hidden(system, &self.models),
            sampled: if system.hides(self.sampled) { Total::Hidden } else { Total::Shown },
        }
    }
}

impl Counts {
    fn hidden_periods(&self) -> std::collections::BTreeSet<(Scope, AnalyteId)> {
        let hidden = self.periods.iter().filter(|(_, cells)| cells.iter().any(|cell| self.system.hides(*cell)));
        hidden.map(|(key, _)| *key).collect()
    }
}

fn hidden<K: Clone + Ord>(system: &System, cells: &BTreeMap<K, Cell>) -> std::collections::BTreeSet<K> {
    cells.iter().filter(|(_, cell)| system.hides(**cell)).map(|(key, _)| key.clone()).collect()
}
