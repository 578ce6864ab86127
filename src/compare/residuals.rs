//! Are neighbours still alike after the model has had its say? Moran's I of its residuals.
//!
//! Neighbours are each well's eight nearest, both ways. A reader would question what a clear I means: something the model does not
//! know (rock, depth of the aquifer, a local source) runs through the region, so its p-values are too small. Above 5,000
//! wells every second, third, ... well takes part. Of equally distant wells the first in the list goes first.

#![allow(clippy::indexing_slicing, reason = "areas are numbered as the list of sets is long")]

use crate::methods::clustering::{Moran, NoClustering, Weights, moran};
use rstar::RTree;
use rstar::primitives::GeomWithData;
use std::collections::BTreeSet;

/// What the row is called among the model's terms.
pub(super) const TERM: &str = "residual_moran";
/// Nearest wells that count as neighbours.
const NEAREST: usize = 8;
/// Most wells that take part.
const MOST: usize = 5_000;
/// Fewest wells for the test (common practice, no source).
const FEWEST: usize = 30;

/// Moran's I of Pearson residuals, with how many wells took part.
///
/// # Computes
/// (outcome - fitted) / root of fitted (1 - fitted) of every well; Moran's I of these over the nearest neighbours, p from the
/// moments under randomisation.
/// # Takes
/// Places (metres), outcomes and fitted chances, equally many.
/// # Gives
/// I, its moments and p, and the wells that took part.
/// # Errors
/// Words: too few wells, or residuals all alike.
/// # Conventions
/// Binary weights. The few fitted terms are not allowed for in the moments: with 30 wells or more they shift I by less than its error.
/// # Source
/// Cliff and Ord 1981, Spatial Processes, chapter 8 (from memory).
/// # Checked against
/// [`moran`] by `12-spatial-clustering.json`; the neighbours in the tests of this file.
pub(super) fn clustering(places: &[[f64; 2]], outcome: &[bool], fitted: &[f64]) -> Result<(Moran, usize), String> {
    let step = places.len().div_ceil(MOST).max(1);
    let kept: Vec<[f64; 2]> = places.iter().copied().step_by(step).collect();
    if kept.len() < FEWEST {
        return Err(format!("not tested: fewer than {FEWEST} wells"));
    }
    let residuals: Vec<f64> =
        outcome.iter().zip(fitted).step_by(step).map(|(exceeds, p)| residual(*exceeds, *p)).collect();
    let told = |why: NoClustering| format!("not tested: {why}");
    moran(&residuals, &nearest(&kept), Weights::Binary).map(|found| (found, kept.len())).map_err(told)
}

fn residual(exceeds: bool, fitted: f64) -> f64 {
    let p = fitted.clamp(1e-9, 1.0 - 1e-9);
    (f64::from(u8::from(exceeds)) - p) / (p * (1.0 - p)).sqrt()
}

/// The nearest places of each, made symmetric.
fn nearest(places: &[[f64; 2]]) -> Vec<Vec<usize>> {
    let tree = RTree::bulk_load(places.iter().zip(0..).map(|(p, at)| GeomWithData::new(*p, at)).collect());
    let mut near: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); places.len()];
    for (at, place) in places.iter().enumerate() {
        // Of equally distant places the first in the list goes first, whatever the order of the search.
        let mut found: Vec<(f64, usize)> = Vec::new();
        for (other, squared) in tree.nearest_neighbor_iter_with_distance_2(place) {
            let far = found.get(NEAREST - 1).is_some_and(|last| squared > last.0);
            if far || found.len() >= 4 * NEAREST {
                break;
            }
            if other.data != at {
                found.push((squared, other.data));
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (_, other) in found.into_iter().take(NEAREST) {
            near[at].insert(other);
            near[other].insert(at);
        }
    }
    near.into_iter().map(|set| set.into_iter().collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lattice() -> Vec<[f64; 2]> {
        (0..144).map(|at| [f64::from(at % 12) * 100.0, f64::from(at / 12) * 100.0]).collect()
    }

    #[test]
    fn an_inner_well_of_a_lattice_has_the_eight_around_it() {
        let near = nearest(&lattice());
        assert!([64, 65, 66, 76, 78, 88, 89, 90].iter().all(|at| near[77].contains(at)), "{:?}", near[77]);
        assert!(
            near.iter().enumerate().all(|(at, list)| list.len() >= 8 && list.iter().all(|o| near[*o].contains(&at)))
        );
    }

    #[test]
    fn a_patch_is_found_and_a_chessboard_is_not_alike() {
        let places = lattice();
        let patch: Vec<bool> = places.iter().map(|p| p[0] < 500.0 && p[1] < 500.0).collect();
        let even = vec![0.2; places.len()];
        let (found, wells) = clustering(&places, &patch, &even).unwrap();
        assert!(found.i > 0.5 && found.p.unwrap() < 1e-6 && wells == 144);
        let board: Vec<bool> = (0..144).map(|at| (at % 12 + at / 12) % 2 == 0).collect();
        assert!(clustering(&places, &board, &even).unwrap().0.i < 0.1);
    }

    #[test]
    fn few_wells_and_equal_residuals_are_said() {
        assert!(clustering(&lattice()[..20], &[true; 20], &[0.5; 20]).unwrap_err().contains("fewer than 30"));
        assert!(clustering(&lattice(), &[true; 144], &[0.5; 144]).unwrap_err().contains("equal"));
        let one_place = vec![[1.0, 1.0]; 40];
        let mixed: Vec<bool> = (0..40).map(|at| at % 3 == 0).collect();
        assert!(clustering(&one_place, &mixed, &[0.5; 40]).is_ok());
    }
}
