//! Each area in nine parts of equal area, named by the compass: where its sampled wells lie, and where none do.
//!
//! The area's own shape is cut, not its box: three strips from west to east that hold a third of it each, and each strip in three
//! from south to north. A reader would question how exact that is: the cuts are taken from several hundred points spread
//! evenly inside, so parts differ by a few in a hundred.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates")]

use crate::ids::AreaId;
use crate::place::shape::Point;
use crate::place::{Areas, PolygonSet};

/// Parts of an area.
pub const PARTS: usize = 9;

/// Names, by strip from the west and then from the south.
const NAMES: [&str; PARTS] =
    ["south-west", "west", "north-west", "south", "centre", "north", "south-east", "east", "north-east"];

/// Points wanted inside an area; fewer than a tenth of them, and the spacing is halved.
const POINTS: f64 = 900.0;
/// Most places of the sheared grid that are tried: an area of a hair's breadth would have more of them than can be walked over.
const MOST_TRIED: f64 = 4e6;
/// Fractional part of the golden ratio: shifts rows so that no two points share a coordinate.
const SHIFT: f64 = 0.618_033_988_749_894_9;

/// One area's nine parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Parts {
    /// Where a strip ends and the next begins.
    strips: [f64; 2],
    /// The same within each strip, from the south.
    rows: [[f64; 2]; 3],
    /// Points inside the area, with their part.
    pub points: Vec<(Point, usize)>,
}

/// A part's name.
pub fn name(part: usize) -> &'static str {
    NAMES.get(part).copied().unwrap_or("")
}

impl Parts {
    /// Cuts an area; `None` where it has no shape to speak of.
    pub fn of(areas: &Areas, area: AreaId) -> Option<Parts> {
        let polygons = areas.polygons.get(area.index())?;
        let inside = PolygonSet::new(polygons.iter().map(|polygon| (0, polygon)));
        let rect = areas.rect(area)?;
        let (width, height) = (rect.max[0] - rect.min[0], rect.max[1] - rect.min[1]);
        let mut step = (width * height / POINTS).sqrt();
        for _ in 0..5 {
            let tried = (width / step).ceil() * (height / step).ceil();
            if !(step > 0.0 && step.is_finite() && tried <= MOST_TRIED) {
                return None;
            }
            let points = spread(rect.min, [width, height], step, |point| inside.locate(point).is_some());
            if points.len() as f64 >= POINTS / 10.0 {
                return Some(Parts::cut(points));
            }
            step /= 2.0;
        }
        None
    }

    fn cut(mut points: Vec<Point>) -> Parts {
        points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        let third = points.len().div_ceil(3).max(1);
        let mut parts = Parts { strips: [f64::INFINITY; 2], rows: [[f64::INFINITY; 2]; 3], points: Vec::new() };
        let starts = |chunks: &[&[Point]], axis: usize| {
            [1, 2].map(|at| chunks.get(at).and_then(|chunk| chunk.first()).map_or(f64::INFINITY, |point| point[axis]))
        };
        let strips: Vec<&[Point]> = points.chunks(third).collect();
        parts.strips = starts(&strips, 0);
        for (strip, rows) in strips.iter().zip(&mut parts.rows) {
            let mut strip = strip.to_vec();
            strip.sort_by(|a, b| a[1].total_cmp(&b[1]));
            let chunks: Vec<&[Point]> = strip.chunks(strip.len().div_ceil(3).max(1)).collect();
            *rows = starts(&chunks, 1);
        }
        parts.points = points.iter().map(|point| (*point, parts.at(*point))).collect();
        parts
    }

    /// The part that a place of the area is in.
    pub fn at(&self, [x, y]: Point) -> usize {
        let strip = self.strips.iter().filter(|cut| x >= **cut).count();
        let row = self.rows.get(strip).map_or(0, |rows| rows.iter().filter(|cut| y >= **cut).count());
        strip * 3 + row
    }
}

/// Points of a sheared grid that are inside.
fn spread(from: Point, [width, height]: [f64; 2], step: f64, inside: impl Fn(Point) -> bool) -> Vec<Point> {
    let (columns, rows) = ((width / step).ceil() as u32, (height / step).ceil() as u32);
    let shifted = |number: u32| (f64::from(number) * SHIFT).fract();
    let at = |column: u32, row: u32| {
        [from[0] + (f64::from(column) + shifted(row)) * step, from[1] + (f64::from(row) + shifted(column)) * step]
    };
    (0..rows).flat_map(|row| (0..columns).map(move |column| at(column, row))).filter(|point| inside(*point)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_a_triangle_are_equal_and_point_the_right_way() {
        let inside = |[x, y]: Point| x + y <= 1.0 && x >= 0.0 && y >= 0.0;
        let parts = Parts::cut(spread([0.0, 0.0], [1.0, 1.0], 1.0 / 40.0, inside));
        let mut counts = [0usize; PARTS];
        let fine = spread([0.0, 0.0], [1.0, 1.0], 1.0 / 400.0, inside);
        fine.iter().for_each(|point| counts[parts.at(*point)] += 1);
        let ninth = fine.len() as f64 / 9.0;
        assert!(counts.iter().all(|count| (*count as f64 / ninth - 1.0).abs() < 0.1), "{counts:?} {ninth}");
        assert_eq!(name(parts.at([0.01, 0.01])), "south-west");
        assert_eq!(name(parts.at([0.01, 0.97])), "north-west");
        assert_eq!(name(parts.at([0.97, 0.01])), "south-east");
    }
}
