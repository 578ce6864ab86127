//! coverage.csv: how well the sampled wells cover each area.
//!
//! A sampled well has some used result. Its nearest neighbour is the nearest other sampled well anywhere, so that a well across the
//! border counts and areas look no emptier at their edges than they are. The index of Clark and Evans is the mean distance over the
//! mean that points strewn at random would have, half the root of area over wells: about 1 at random, below it in clusters, above
//! it evenly spread (2.15 at most). The largest gap is the radius of the largest circle around a place of the area without a sampled well in it,
//! found by halving squares until no square can hold a place that is better by more than `PRECISION`. Distances are rounded to two
//! digits on purpose: a finer gap could help to find a well.
//!
//! Source: P. J. Clark and F. C. Evans, Distance to nearest neighbor as a measure of spatial relationships in populations, Ecology
//! 35 (1954) 445-453. From memory.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates")]

use crate::ids::AreaId;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::place::near_points::NearPoints;
use crate::place::nearest::NearestIndex;
use crate::place::shape::{Geometry, Point, Polygon, Rect};
use rayon::prelude::*;

/// Part of the largest gap by which the one found may fall short.
const PRECISION: f64 = 0.01;
/// Squares looked at for one area: a guard, some hundred are usual.
const MOST_SQUARES: usize = 200_000;
/// Fewest wells for an index: with less the expected distance means little (common practice, no source).
const FEWEST: u32 = 5;

/// One row of coverage.csv.
#[derive(Clone, Debug, PartialEq)]
pub struct CoverageRow {
    /// Area.
    pub area: AreaId,
    /// Private wells on record.
    pub wells_on_record: Option<u32>,
    /// Wells with any used result.
    pub wells_sampled: u32,
    /// Square kilometres.
    pub square_km: f64,
    /// Mean distance from a sampled well to the nearest other, metres.
    pub nearest_mean: Option<f64>,
    /// Standard deviation of that distance, metres.
    pub nearest_sd: Option<f64>,
    /// Clark and Evans's index.
    pub clark_evans: Option<f64>,
    /// Radius of the largest circle without a sampled well, metres.
    pub largest_gap: Option<f64>,
}

/// A row an area, in file order, from the sampled wells of the areas that `taken` takes: what is told of an area must not tell how far it
/// is to a well of one that is hidden.
pub fn rows(wells: &Wells, survey: &Survey, taken: impl Fn(AreaId) -> bool) -> Vec<CoverageRow> {
    let mut sampled = vec![false; wells.len()];
    for value in &survey.values {
        sampled.get_mut(value.well.index()).into_iter().for_each(|sampled| *sampled = true);
    }
    let sampled = wells.ids().zip(sampled).filter(|(_, sampled)| *sampled).map(|(well, _)| well);
    let mut by_area: Vec<Vec<Point>> = vec![Vec::new(); wells.areas().len()];
    let mut all = Vec::new();
    for well in sampled.filter(|well| wells.area(*well).is_none_or(&taken)) {
        let Some(xy) = wells.xy(well) else { continue };
        all.push(xy);
        if let Some(list) = wells.area(well).and_then(|area| by_area.get_mut(area.index())) {
            list.push(xy);
        }
    }
    let points = NearPoints::new(all);
    by_area.par_iter().enumerate().map(|(at, own)| row(wells, AreaId(at as u32), own, &points)).collect()
}

fn row(wells: &Wells, area: AreaId, own: &[Point], sampled: &NearPoints) -> CoverageRow {
    let polygons = wells.areas().polygons.get(area.index()).map(Vec::as_slice).unwrap_or_default();
    let square_metres: f64 = polygons.iter().map(Polygon::area).sum();
    let distances: Vec<f64> = own.iter().filter_map(|place| to_other(sampled, *place)).collect();
    let n = distances.len() as f64;
    let mean = distances.iter().sum::<f64>() / n;
    let sd = (distances.iter().map(|d| (d - mean) * (d - mean)).sum::<f64>() / (n - 1.0)).sqrt();
    let enough = own.len() >= FEWEST as usize && distances.len() == own.len();
    let at_random = 0.5 * (square_metres / n).sqrt();
    CoverageRow {
        area,
        wells_on_record: wells.areas().wells_on_record(area),
        wells_sampled: own.len() as u32,
        square_km: square_metres / 1e6,
        nearest_mean: enough.then(|| two_digits(mean)),
        nearest_sd: enough.then(|| two_digits(sd)),
        clark_evans: (enough && at_random > 0.0).then(|| two_digits(mean / at_random)),
        largest_gap: largest_gap(polygons, sampled).map(two_digits),
    }
}

fn two_digits(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

/// Distance to the nearest other place; 0 where another well lies at the same one.
fn to_other(sampled: &NearPoints, place: Point) -> Option<f64> {
    sampled.second(place).map(|other| apart(other, place))
}

fn apart(a: Point, b: Point) -> f64 {
    libm::hypot(a[0] - b[0], a[1] - b[1])
}

/// A square by its centre, with the most that a place in it can be away from every well.
struct Square {
    centre: Point,
    half: f64,
    most: f64,
}

/// The greatest distance of a place of the polygons to its nearest well, short of the true one by at most `PRECISION` of it.
fn largest_gap(polygons: &[Polygon], sampled: &NearPoints) -> Option<f64> {
    let rect = polygons.iter().map(Polygon::rect).reduce(Rect::with)?;
    let area = NearestIndex::new([&Geometry::Polygons(polygons.to_vec())]);
    let half = 0.5 * (rect.max[0] - rect.min[0]).max(rect.max[1] - rect.min[1]);
    let centre = [0, 1].map(|i| 0.5 * (rect.min[i] + rect.max[i]));
    let mut best = 0.0_f64;
    // Corners of the border are tried first: the farthest place often is one.
    for corner in polygons.iter().flat_map(Polygon::rings).flatten() {
        best = best.max(to_well(sampled, *corner)?);
    }
    let mut level = vec![Square { centre, half, most: f64::INFINITY }];
    let mut looked_at = 0;
    while !level.is_empty() && looked_at < MOST_SQUARES {
        let mut next = Vec::new();
        for square in &level {
            if square.most <= best * (1.0 + PRECISION) {
                continue;
            }
            looked_at += 1;
            let reach = square.half * std::f64::consts::SQRT_2;
            let (gap, outside) = (to_well(sampled, square.centre)?, area.nearest(square.centre)?.metres);
            if outside <= 0.0 {
                best = best.max(gap);
            }
            if outside <= reach && gap + reach > best * (1.0 + PRECISION) {
                let half = 0.5 * square.half;
                next.extend([[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]].map(|[dx, dy]| Square {
                    centre: [square.centre[0] + dx * half, square.centre[1] + dy * half],
                    half,
                    most: gap + reach,
                }));
            }
        }
        level = next;
    }
    Some(best)
}

fn to_well(sampled: &NearPoints, place: Point) -> Option<f64> {
    sampled.nearest(place).map(|well| apart(well, place))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(side: f64) -> Vec<Polygon> {
        vec![Polygon::new(vec![vec![[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]]]).unwrap()]
    }

    fn gap(polygons: &[Polygon], wells: &[Point]) -> f64 {
        largest_gap(polygons, &NearPoints::new(wells.to_vec())).unwrap()
    }

    #[test]
    fn the_largest_gap_of_figures_with_known_answers() {
        let side = square(1000.0);
        // One well in a corner: the opposite corner. One amid: any corner.
        assert!((gap(&side, &[[0.0, 0.0]]) - 1414.2).abs() < 15.0);
        assert!((gap(&side, &[[500.0, 500.0]]) - 707.1).abs() < 7.2);
        // Wells in all corners: the middle.
        let corners = [[0.0, 0.0], [1000.0, 0.0], [0.0, 1000.0], [1000.0, 1000.0]];
        assert!((gap(&side, &corners) - 707.1).abs() < 7.2);
        assert_eq!(largest_gap(&side, &NearPoints::default()), None);
    }

    #[test]
    fn a_gap_lies_in_the_area() {
        // A ring around a hole: the middle of the hole is no place of the area.
        let hole = vec![[100.0, 100.0], [100.0, 900.0], [900.0, 900.0], [900.0, 100.0]];
        let outer = vec![[0.0, 0.0], [1000.0, 0.0], [1000.0, 1000.0], [0.0, 1000.0]];
        let ring = vec![Polygon::new(vec![outer, hole]).unwrap()];
        let around: Vec<Point> = (0..20)
            .flat_map(|i| {
                let x = 50.0 * f64::from(i) + 25.0;
                [[x, 50.0], [x, 950.0], [50.0, x], [950.0, x]]
            })
            .collect();
        assert!(gap(&ring, &around) < 80.0);
    }

    #[test]
    fn neighbours_at_one_place_are_at_no_distance() {
        let wells = NearPoints::new(vec![[0.0, 0.0], [0.0, 0.0], [3.0, 4.0]]);
        assert_eq!((to_other(&wells, [0.0, 0.0]), to_other(&wells, [3.0, 4.0])), (Some(0.0), Some(5.0)));
    }
}
