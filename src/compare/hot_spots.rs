//! hot-spots.csv: areas amid unusually high or low rates, by Getis and Ord's G* of the smoothed rates.
//!
//! Neighbours are areas whose borders come within a metre of each other, at a corner too. A reader would question areas that are
//! left out: where fewer wells than `smallest_group` tell the side of the limit, the smoothed rate is mostly the region's and would
//! only blur the picture. Figures are rounded here on purpose: finer ones would let a hidden neighbour's rate be worked out.

use super::borders::neighbours;
use crate::ids::{AnalyteId, AreaId};
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::clustering::{local, local_p};
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{ExceedanceRow, Findings, Scope};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Fewest areas with enough wells for a map to have hot spots (common practice, no source).
const FEWEST_AREAS: usize = 10;
/// Fewest exceeding wells: with less the map shows only who was sampled (common practice, no source).
const FEWEST_EXCEEDING: u32 = 5;
/// False discoveries that are put up with among the areas called.
const CALLED: f64 = 0.05;
/// Deals of the permutation test, shared out over the areas of a map.
const ALL_ROUNDS: usize = 2_000_000;
const ROUNDS: (usize, usize) = (999, 9_999);

/// One area's place among its neighbours.
#[derive(Clone, Debug, PartialEq)]
pub struct HotSpot {
    /// Area.
    pub area: AreaId,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set's id.
    pub set: String,
    /// Effect the limit guards against.
    pub effect: String,
    /// G* as a z, to one decimal: above 0 amid high rates.
    pub z: Option<f64>,
    /// Two-sided permutation p, to two significant digits.
    pub p: Option<f64>,
    /// Benjamini-Hochberg over the areas of the benchmark, to two significant digits.
    pub q: Option<f64>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

impl HotSpot {
    /// For maps: `high` or `low` where rates cluster at a false discovery rate of 5 %, `none` where they do not; `None` without a
    /// test.
    pub fn flag(&self) -> Option<&'static str> {
        let (z, q) = (self.z?, self.q?);
        Some(match q <= CALLED {
            true if z > 0.0 => "high",
            true if z < 0.0 => "low",
            _ => "none",
        })
    }
}

/// Rows of every health benchmark of the analytes that are wanted, each with all areas.
pub(super) fn rows(
    plan: &Plan,
    wells: &Wells,
    findings: &Findings,
    wanted: impl Fn(AnalyteId) -> bool,
) -> Vec<HotSpot> {
    // Each benchmark's rows begin with the region's.
    let maps = findings.exceedance.chunk_by(|_, next| next.scope != Scope::Region);
    let chosen = |map: &&[ExceedanceRow]| map.first().is_some_and(|row| row.is_health() && wanted(row.analyte));
    let maps: Vec<&[ExceedanceRow]> = maps.filter(chosen).collect();
    if maps.is_empty() {
        return Vec::new();
    }
    let near = neighbours(&wells.areas().polygons);
    let parts: Vec<Vec<HotSpot>> = maps.par_iter().map(|map| one_map(plan, &near, map)).collect();
    parts.into_iter().flatten().collect()
}

fn one_map(plan: &Plan, near: &[Vec<usize>], map: &[ExceedanceRow]) -> Vec<HotSpot> {
    let exceeding = map.first().map_or(0, |region| region.exceeding);
    let areas: Vec<(AreaId, &ExceedanceRow)> = map
        .iter()
        .filter_map(|row| match row.scope {
            Scope::Area(area) => Some((area, row)),
            Scope::Region => None,
        })
        .collect();
    let fewest = plan.smallest_group.max(1);
    let rates: BTreeMap<usize, f64> = areas
        .iter()
        .filter(|(_, row)| row.exceeding + row.meeting >= fewest)
        .filter_map(|(area, row)| Some((area.index(), row.smoothed?)))
        .collect();
    let seed = plan.summary.seed ^ map.first().map_or(0, |row| u64::from(row.analyte.0) << 32);
    let marks = if exceeding < FEWEST_EXCEEDING {
        Err(format!("not tested: fewer than {FEWEST_EXCEEDING} wells of the region exceed"))
    } else {
        marks(&rates, near, seed)
    };
    areas.into_iter().map(|(area, row)| spot(area, row, marks.as_ref(), fewest)).collect()
}

fn spot(area: AreaId, row: &ExceedanceRow, marks: Result<&BTreeMap<usize, Mark>, &String>, fewest: u32) -> HotSpot {
    let mark = marks.ok().and_then(|marks| marks.get(&area.index())).copied();
    let note = match (marks, mark) {
        (Err(why), _) => Some(why.clone()),
        (Ok(_), None) => Some(format!("not tested: fewer than {fewest} wells tell the side of the limit")),
        (Ok(_), Some(mark)) => mark.words().map(str::to_owned),
    };
    HotSpot {
        area,
        analyte: row.analyte,
        set: row.set.clone(),
        effect: row.effect.clone(),
        z: mark.and_then(|mark| mark.z).map(|z| (10.0 * z).round() / 10.0 + 0.0),
        p: mark.and_then(|mark| mark.p).map(two_digits),
        q: mark.and_then(|mark| mark.q).map(two_digits),
        notes: note.into_iter().collect(),
    }
}

/// Two significant digits.
fn two_digits(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

/// What the test says of an area; nothing without a neighbour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Mark {
    z: Option<f64>,
    p: Option<f64>,
    q: Option<f64>,
}

impl Mark {
    fn words(self) -> Option<&'static str> {
        match (self.z, self.q) {
            (None, _) => Some("not tested: no neighbouring area has enough wells"),
            (Some(z), Some(q)) if q <= CALLED && z > 0.0 => Some("high rates cluster here"),
            (Some(z), Some(q)) if q <= CALLED && z < 0.0 => Some("low rates cluster here"),
            _ => None,
        }
    }
}

/// Marks of the areas that have a rate, by their place in the area layer.
fn marks(rates: &BTreeMap<usize, f64>, near: &[Vec<usize>], seed: u64) -> Result<BTreeMap<usize, Mark>, String> {
    if rates.len() < FEWEST_AREAS {
        return Err(format!("not tested: fewer than {FEWEST_AREAS} areas have enough wells"));
    }
    let place: BTreeMap<usize, usize> = rates.keys().copied().zip(0..).collect();
    let among = |area: &usize| {
        near.get(*area).map_or(&[][..], Vec::as_slice).iter().filter_map(|other| place.get(other).copied())
    };
    let lists: Vec<Vec<usize>> = rates.keys().map(|area| among(area).collect()).collect();
    let values: Vec<f64> = rates.values().copied().collect();
    let rounds = (ALL_ROUNDS / values.len()).clamp(ROUNDS.0, ROUNDS.1);
    let told = |why| format!("not tested: {why}");
    let figures = local(&values, &lists).map_err(told)?;
    let p = local_p(&values, &lists, u32::try_from(rounds).unwrap_or(u32::MAX), seed).map_err(told)?;
    let q = benjamini_hochberg(&p);
    let mark = |((area, figure), (p, q))| {
        let z = figure_of(figure, p);
        (area, Mark { z, p, q })
    };
    Ok(rates.keys().copied().zip(&figures).zip(p.into_iter().zip(q)).map(mark).collect())
}

/// G* of an area alone says nothing of clustering.
fn figure_of(figure: &crate::methods::clustering::Local, p: Option<f64>) -> Option<f64> {
    figure.g_star.filter(|_| p.is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of side by side areas, each with the up to eight around it.
    fn grid(side: usize) -> Vec<Vec<usize>> {
        let around = |at: usize| {
            let (row, column) = (at / side, at % side);
            (0..side * side)
                .filter(|other| {
                    *other != at && (other / side).abs_diff(row) <= 1 && (other % side).abs_diff(column) <= 1
                })
                .collect()
        };
        (0..side * side).map(around).collect()
    }

    #[test]
    fn a_corner_of_high_rates_is_found_and_the_rest_is_quiet() {
        let hot = |at: usize| at / 10 < 3 && at % 10 < 3;
        let rates = (0..100).map(|at| (at, if hot(at) { 0.5 } else { 0.05 + 0.001 * (at % 7) as f64 })).collect();
        let marks = marks(&rates, &grid(10), 1).unwrap();
        assert_eq!(marks[&11].words(), Some("high rates cluster here"));
        assert!(marks[&0].q.unwrap() <= 0.05 && marks[&77].q.unwrap() > 0.05);
        assert_eq!(marks[&77].words(), None);
        let flag = |at: usize| {
            let mark = marks[&at];
            let (set, effect) = (String::new(), String::new());
            HotSpot {
                area: AreaId(0),
                analyte: AnalyteId(0),
                set,
                effect,
                z: mark.z,
                p: mark.p,
                q: mark.q,
                notes: vec![],
            }
            .flag()
        };
        assert_eq!([flag(0), flag(77)], [Some("high"), Some("none")]);
    }

    #[test]
    fn an_area_without_a_rate_leaves_its_neighbours() {
        let mut rates: BTreeMap<usize, f64> = (0..25).map(|at| (at, 0.1 + 0.01 * (at % 5) as f64)).collect();
        [1, 5, 6].iter().for_each(|at| {
            rates.remove(at);
        });
        let marks = marks(&rates, &grid(5), 1).unwrap();
        assert_eq!(
            (marks.len(), marks[&0].z, marks[&0].words()),
            (22, None, Some("not tested: no neighbouring area has enough wells"))
        );
        assert!(marks[&12].z.is_some() && marks[&12].p.is_some());
    }

    #[test]
    fn small_and_even_maps_are_not_tested() {
        let even = |count: usize| (0..count).map(|at| (at, 0.1)).collect::<BTreeMap<_, _>>();
        assert!(marks(&even(9), &grid(3), 1).unwrap_err().contains("fewer than 10 areas"));
        assert!(marks(&even(25), &grid(5), 1).unwrap_err().starts_with("not tested: "));
    }

    /// As Ord and Getis 1995 define it (from memory): n = 16 with one area at 1 and none elsewhere.
    #[test]
    fn z_is_that_of_the_definition() {
        let rates = (0..16).map(|at| (at, f64::from(u8::from(at == 0)))).collect();
        let found = marks(&rates, &grid(4), 1).unwrap()[&0].z.unwrap();
        let (mean, deviation) = (1.0 / 16.0_f64, (1.0 / 16.0 - 1.0 / 256.0_f64).sqrt());
        let expected = (1.0 - 4.0 * mean) / (deviation * ((16.0 * 4.0 - 16.0) / 15.0_f64).sqrt());
        assert!((found - expected).abs() < 1e-12);
    }

    #[test]
    fn two_digits_are_kept() {
        assert_eq!([0.012_34, 0.000_2, 1.0, 0.996].map(two_digits), [0.012, 0.000_2, 1.0, 1.0]);
    }
}
