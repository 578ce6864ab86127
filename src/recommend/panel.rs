//! panel.csv: what to buy for a budget, test by test, with what each step finds.
//!
//! Greedy: at each step the test or panel that is expected to find most results above a health limit for a unit of money, given
//! what was bought before. A reader would question whether that is the best set for a budget: not always, only near it, but each
//! step can be read alone and the whole curve is there. A test that is bought alone and once more in a panel within the budget is left
//! out, and the rest chosen anew. Close relatives (bacteria; a metal and its first-draw stratum; nitrate
//! with and without nitrite) count once, by the worst of them.

use super::family::family;
use super::prices::{Item, Prices};
use super::rows::{InBudget, PanelRow};
use crate::dictionary::Dictionary;
use crate::ids::AnalyteId;
use crate::summarise::{ExceedanceRow, Findings, Scope};
use std::collections::{BTreeMap, BTreeSet};

/// What panels are chosen from: prices, and rates by scope and analyte.
#[derive(Clone, Debug, Default)]
pub struct Panels {
    items: Vec<Item>,
    budget: Option<f64>,
    families: BTreeMap<AnalyteId, AnalyteId>,
    /// Expected share of wells above the worst health limit.
    rates: BTreeMap<Scope, BTreeMap<AnalyteId, f64>>,
}

impl Panels {
    /// Gathers them; empty without a price list.
    pub fn of(dictionary: &Dictionary, prices: Prices, budget: Option<f64>, findings: &Findings) -> Panels {
        let mut panels = Panels { items: prices.items, budget, ..Panels::default() };
        if panels.items.is_empty() {
            return panels;
        }
        for row in findings.exceedance.iter().filter(|row| row.is_health()) {
            panels.families.insert(row.analyte, family(dictionary, row.analyte));
            if let Some(rate) = expected(row) {
                let known = panels.rates.entry(row.scope).or_default().entry(row.analyte).or_insert(rate);
                *known = known.max(rate);
            }
        }
        for item in &panels.items {
            panels.families.extend(item.analytes.iter().map(|analyte| (*analyte, family(dictionary, *analyte))));
        }
        panels
    }

    /// The curve of the region and then of every area, from the rates that `hides` does not hide.
    pub fn rows(&self, hides: impl Fn(Scope, AnalyteId) -> bool) -> Vec<PanelRow> {
        let scopes = self.rates.iter();
        scopes.flat_map(|(scope, rates)| self.curve(*scope, &self.by_family(*scope, rates, &hides))).collect()
    }

    fn by_family(
        &self,
        scope: Scope,
        rates: &BTreeMap<AnalyteId, f64>,
        hides: impl Fn(Scope, AnalyteId) -> bool,
    ) -> BTreeMap<AnalyteId, f64> {
        let mut worst: BTreeMap<AnalyteId, f64> = BTreeMap::new();
        for (analyte, rate) in rates.iter().filter(|(analyte, _)| !hides(scope, **analyte)) {
            let known = worst.entry(self.family(*analyte)).or_insert(*rate);
            *known = known.max(*rate);
        }
        worst
    }

    fn family(&self, analyte: AnalyteId) -> AnalyteId {
        self.families.get(&analyte).copied().unwrap_or(analyte)
    }

    /// The curve, chosen anew without what a panel within the budget makes needless, as long as the budget then finds no less.
    fn curve(&self, scope: Scope, rates: &BTreeMap<AnalyteId, f64>) -> Vec<PanelRow> {
        let mut items: Vec<&Item> = self.items.iter().collect();
        let mut rows = self.chosen(scope, rates, &items);
        while let Some(needless) = self.needless(&rows, &items) {
            items.retain(|item| item.name != needless);
            let anew = self.chosen(scope, rates, &items);
            if within(&anew) + 1e-9 < within(&rows) {
                break;
            }
            rows = anew;
        }
        rows
    }

    /// The first thing bought within the budget whose tests are all in others bought within it.
    fn needless(&self, rows: &[PanelRow], items: &[&Item]) -> Option<String> {
        let bought: Vec<&str> =
            rows.iter().filter(|row| row.in_budget == Some(InBudget::Yes)).map(|row| row.bought.as_str()).collect();
        let tests = |name: &str| -> BTreeSet<AnalyteId> {
            let item = items.iter().find(|item| item.name == name);
            item.into_iter().flat_map(|item| &item.analytes).map(|analyte| self.family(*analyte)).collect()
        };
        let covered = |name: &&&str| {
            let others = bought.iter().filter(|other| **other != **name).flat_map(|other| tests(other));
            tests(name).is_subset(&others.collect())
        };
        bought.iter().find(covered).map(|name| (*name).to_owned())
    }

    fn chosen(&self, scope: Scope, rates: &BTreeMap<AnalyteId, f64>, items: &[&Item]) -> Vec<PanelRow> {
        let mut left: Vec<&Item> = items.to_vec();
        let mut bought: BTreeSet<AnalyteId> = BTreeSet::new();
        let (mut rows, mut spent, mut found_so_far, mut in_purse) = (Vec::new(), 0.0, 0.0, 0.0);
        while let Some((at, adds, found)) = self.best(&left, &bought, rates) {
            let item = left.remove(at);
            bought.extend(adds.iter().map(|analyte| self.family(*analyte)));
            spent += item.price;
            found_so_far += found;
            let in_budget = self.budget.map(|budget| {
                let fits = in_purse + item.price <= budget + 1e-9;
                in_purse += if fits { item.price } else { 0.0 };
                if fits { InBudget::Yes } else { InBudget::No }
            });
            rows.push(PanelRow {
                scope,
                step: rows.len() as u32 + 1,
                bought: item.name.clone(),
                adds,
                price: item.price,
                spent,
                found: found * 100.0,
                found_so_far: found_so_far * 100.0,
                in_budget,
            });
        }
        rows
    }

    /// The item with most expected results for a unit of money, what it adds, and how much; ties go by price and then by name.
    fn best(
        &self,
        left: &[&Item],
        bought: &BTreeSet<AnalyteId>,
        rates: &BTreeMap<AnalyteId, f64>,
    ) -> Option<(usize, Vec<AnalyteId>, f64)> {
        let gains = left.iter().enumerate().map(|(at, item)| {
            let mut seen = bought.clone();
            let new = item.analytes.iter().filter(|analyte| seen.insert(self.family(**analyte)));
            let adds: Vec<AnalyteId> =
                new.filter(|analyte| rates.contains_key(&self.family(**analyte))).copied().collect();
            let found = adds.iter().filter_map(|analyte| rates.get(&self.family(*analyte))).sum::<f64>();
            (at, adds, found)
        });
        let per_money = |(at, _, found): &(usize, Vec<AnalyteId>, f64)| {
            found / left.get(*at).map_or(1.0, |item| item.price).max(1e-9)
        };
        let key = |at: usize| left.get(at).map_or((0.0, ""), |item| (item.price, item.name.as_str()));
        gains.filter(|(_, _, found)| *found > 0.0).max_by(|a, b| {
            let (cheap_a, cheap_b) = (key(a.0), key(b.0));
            let by_price = cheap_b.0.total_cmp(&cheap_a.0).then(cheap_b.1.cmp(cheap_a.1));
            per_money(a).total_cmp(&per_money(b)).then(by_price)
        })
    }
}

/// What is found within the budget.
fn within(rows: &[PanelRow]) -> f64 {
    rows.iter().filter(|row| row.in_budget == Some(InBudget::Yes)).map(|row| row.found).sum()
}

/// The smoothed rate of an area, the plain rate of the region.
fn expected(row: &ExceedanceRow) -> Option<f64> {
    match row.scope {
        Scope::Region => row.rate,
        Scope::Area(_) => row.smoothed,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(name: &str, price: f64, analytes: &[u16]) -> Item {
        Item { name: name.to_owned(), price, analytes: analytes.iter().map(|id| AnalyteId(*id)).collect() }
    }

    fn panels(budget: Option<f64>) -> Panels {
        let rates = BTreeMap::from([(AnalyteId(1), 0.3), (AnalyteId(2), 0.2), (AnalyteId(3), 0.1)]);
        Panels {
            items: vec![
                item("a", 30.0, &[1]),
                item("b", 10.0, &[2]),
                item("all", 50.0, &[1, 2, 3]),
                item("none", 5.0, &[]),
            ],
            budget,
            families: BTreeMap::new(),
            rates: BTreeMap::from([(Scope::Region, rates)]),
        }
    }

    #[test]
    fn most_for_the_money_first_and_nothing_twice() {
        let rows = panels(Some(45.0)).rows(|_, _| false);
        let told: Vec<(&str, f64, f64)> =
            rows.iter().map(|row| (row.bought.as_str(), row.spent, row.found_so_far.round())).collect();
        assert_eq!(told, [("b", 10.0, 20.0), ("a", 40.0, 50.0), ("all", 90.0, 60.0)]);
        assert_eq!(rows[2].adds, [AnalyteId(3)]);
        assert_eq!(
            rows.iter().map(|row| row.in_budget.unwrap()).collect::<Vec<_>>(),
            [InBudget::Yes, InBudget::Yes, InBudget::No]
        );
    }

    #[test]
    fn nothing_is_bought_twice_within_the_budget() {
        let told = |budget: f64| -> Vec<String> {
            let rows = panels(Some(budget)).rows(|_, _| false);
            rows.into_iter().filter(|row| row.in_budget == Some(InBudget::Yes)).map(|row| row.bought).collect()
        };
        assert_eq!(told(90.0), ["all"], "it holds what the two cheaper ones test");
        assert_eq!(told(45.0), ["b", "a"]);
    }

    #[test]
    fn a_hidden_rate_is_as_if_it_were_not_known() {
        let rows = panels(None).rows(|_, analyte| analyte == AnalyteId(2));
        assert!(
            rows.iter().all(|row| row.bought != "b" && !row.adds.contains(&AnalyteId(2)) && row.in_budget.is_none())
        );
    }
}
