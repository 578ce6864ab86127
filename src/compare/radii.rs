//! radii.csv: whether what is found about a land use hangs on the choice of one radius.
//!
//! Only the highest band against the lowest is looked at, by Fisher's test after the adjustment for many tests (`fisher_q`), each
//! radius for itself; bands have the same edges at every radius.

use super::rows::LandUseRow;
use crate::ids::AnalyteId;
use crate::plan::{LandUse, Plan};

/// Below this a difference is called found.
const FOUND: f64 = 0.05;

/// One row of radii.csv.
#[derive(Clone, Debug, PartialEq)]
pub struct RadiiRow {
    /// The land use's name in the plan, that of all its radii.
    pub land_use: String,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set and effect.
    pub benchmark: (String, String),
    /// Radii with an odds ratio, metres.
    pub radii: Vec<f64>,
    /// Radii at which the highest band differs from the lowest.
    pub found: Vec<f64>,
    /// Lowest and highest odds ratio over the radii.
    pub odds: Option<(f64, f64)>,
    /// In words.
    pub verdict: &'static str,
    /// The rows of land-use.csv that it is made of, by their places there.
    pub made_of: Vec<usize>,
}

/// A row for each land use of several radii, analyte and benchmark.
pub(super) fn rows(plan: &Plan, land_use: &[LandUseRow]) -> Vec<RadiiRow> {
    let mut rows = Vec::new();
    for (number, first) in plan.land_use.iter().enumerate() {
        let family: Vec<&LandUse> = plan.land_use.iter().filter(|one| one.family == first.family).collect();
        let leads = !plan.land_use.iter().take(number).any(|earlier| earlier.family == first.family);
        if leads && family.len() > 1 {
            rows.extend(of_family(first, &family, land_use));
        }
    }
    rows
}

fn of_family(first: &LandUse, family: &[&LandUse], rows: &[LandUseRow]) -> Vec<RadiiRow> {
    let top = |row: &LandUseRow, one: &LandUse| row.land_use == one.name && row.band_number == one.bands.len();
    let leading = rows.iter().filter(|row| top(row, first));
    let keys = leading.filter_map(|row| Some((row.analyte, row.benchmark.clone()?)));
    keys.map(|(analyte, benchmark)| {
        let same = |row: &LandUseRow| row.analyte == analyte && row.benchmark.as_ref() == Some(&benchmark);
        let of = |one: &&LandUse| {
            let found = rows.iter().enumerate().find(|(_, row)| same(row) && top(row, one))?;
            Some((one.measure.radius_m()?, found))
        };
        let tops: Vec<(f64, (usize, &LandUseRow))> = family.iter().filter_map(of).collect();
        let made_of =
            rows.iter().enumerate().filter(|(_, row)| same(row) && family.iter().any(|one| row.land_use == one.name));
        let made_of = made_of.map(|(at, _)| at).collect();
        one(first.family.clone(), analyte, benchmark, &tops, made_of)
    })
    .collect()
}

fn one(
    land_use: String,
    analyte: AnalyteId,
    benchmark: (String, String),
    tops: &[(f64, (usize, &LandUseRow))],
    made_of: Vec<usize>,
) -> RadiiRow {
    let with_odds: Vec<(f64, f64)> =
        tops.iter().filter_map(|(radius, (_, row))| Some((*radius, row.odds_ratio?))).collect();
    let is_found = |row: &LandUseRow| row.fisher_q.is_some_and(|q| q <= FOUND);
    let found: Vec<f64> = tops.iter().filter(|(_, (_, row))| is_found(row)).map(|(radius, _)| *radius).collect();
    let low = with_odds.iter().map(|(_, odds)| *odds).reduce(f64::min);
    let high = with_odds.iter().map(|(_, odds)| *odds).reduce(f64::max);
    let odds = low.zip(high);
    let radii: Vec<f64> = with_odds.iter().map(|(radius, _)| *radius).collect();
    let verdict = verdict(radii.len(), found.len(), odds);
    RadiiRow { land_use, analyte, benchmark, radii, found, odds, verdict, made_of }
}

fn verdict(radii: usize, found: usize, odds: Option<(f64, f64)>) -> &'static str {
    let Some((low, high)) = odds.filter(|_| radii > 1) else { return "not compared at two radii" };
    let one_way = low >= 1.0 || high <= 1.0;
    match found {
        0 => "no difference found at any radius",
        _ if !one_way => "hangs on the radius: the direction changes",
        n if n == radii => "the same at every radius",
        _ => "hangs on the radius: found at some, in the same direction at all",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_hangs_on_a_radius() {
        assert_eq!(verdict(3, 3, Some((1.5, 4.0))), "the same at every radius");
        assert_eq!(verdict(3, 1, Some((1.5, 4.0))), "hangs on the radius: found at some, in the same direction at all");
        assert_eq!(verdict(3, 1, Some((0.5, 4.0))), "hangs on the radius: the direction changes");
        assert_eq!(verdict(3, 0, Some((0.5, 4.0))), "no difference found at any radius");
        assert_eq!(verdict(1, 1, Some((2.0, 2.0))), "not compared at two radii");
    }
}
