//! The nearest feature: turns points, lines and polygons into something that says which is nearest to a well and how far it is.
//!
//! Distances are straight lines in the working CRS. Inside a polygon, or on it, the distance is 0. Of several at the same distance
//! the first in file order is named.

#![allow(clippy::indexing_slicing, reason = "windows of two have two")]

use rstar::{AABB, PointDistance, RTree, RTreeObject};

use super::polygons::PolygonSet;
use super::shape::{Geometry, Point, Rect, to_segment2};

/// A feature and its distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Which of the features given, from 0.
    pub item: usize,
    /// Distance, 0 inside a polygon.
    pub metres: f64,
}

/// Features prepared for the question.
#[derive(Clone, Debug)]
pub struct NearestIndex {
    pieces: RTree<Piece>,
    insides: PolygonSet,
}

/// A stretch of a feature; a point is a stretch of no length.
#[derive(Clone, Copy, Debug)]
struct Piece {
    ends: [Point; 2],
    item: u32,
}

impl RTreeObject for Piece {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        AABB::from_corners(self.ends[0], self.ends[1])
    }
}

impl PointDistance for Piece {
    fn distance_2(&self, p: &Point) -> f64 {
        to_segment2(self.ends[0], self.ends[1], *p)
    }
}

fn tree_of(mut pieces: Vec<Piece>) -> RTree<Piece> {
    pieces.retain(|piece| piece.ends.iter().flatten().all(|x| x.is_finite()));
    RTree::bulk_load(pieces)
}

impl NearestIndex {
    /// Prepares features; the answer names them by their place in this order. Empty geometries and points that are not finite are
    /// never the nearest.
    pub fn new<'a>(features: impl IntoIterator<Item = &'a Geometry>) -> NearestIndex {
        let mut pieces = Vec::new();
        let mut insides = Vec::new();
        for (item, geometry) in (0_u32..).zip(features) {
            let mut line = |run: &[Point]| pieces.extend(run.windows(2).map(|w| Piece { ends: [w[0], w[1]], item }));
            match geometry {
                Geometry::Empty => {}
                Geometry::Points(points) => pieces.extend(points.iter().map(|&p| Piece { ends: [p, p], item })),
                Geometry::Lines(lines) => lines.iter().for_each(|run| line(run)),
                Geometry::Polygons(polygons) => {
                    polygons.iter().flat_map(|p| p.rings()).for_each(|ring| line(ring));
                    insides.extend(polygons.iter().map(|p| (item, p)));
                }
            }
        }
        NearestIndex { pieces: tree_of(pieces), insides: PolygonSet::new(insides) }
    }

    /// Prepares points alone, with the same numbering.
    pub fn of_points(points: &[Point]) -> NearestIndex {
        let pieces = (0_u32..).zip(points).map(|(item, &p)| Piece { ends: [p, p], item });
        NearestIndex { pieces: tree_of(pieces.collect()), insides: PolygonSet::new([]) }
    }

    /// The nearest feature; `None` where there is no feature or the place is not finite.
    pub fn nearest(&self, p: Point) -> Option<Nearest> {
        if !p.iter().all(|x| x.is_finite()) {
            return None;
        }
        let holding = self.insides.locate(p).map(|item| Nearest { item, metres: 0.0 });
        let mut pieces = self.pieces.nearest_neighbor_iter_with_distance_2(&p);
        let (first, distance2) = pieces.next()?;
        if holding.is_some() && distance2 > 0.0 {
            return holding;
        }
        let equal = pieces.take_while(|(_, d)| *d == distance2).map(|(piece, _)| piece.item);
        let item = equal.fold(first.item, u32::min) as usize;
        let outline = Nearest { item, metres: distance2.sqrt() };
        Some(holding.filter(|inside| inside.item < outline.item).unwrap_or(outline))
    }

    /// The box around all features.
    pub fn rect(&self) -> Option<Rect> {
        let around = self.pieces.root().envelope();
        (self.pieces.size() > 0).then(|| Rect { min: around.lower(), max: around.upper() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::shape::Polygon;
    use proptest::prelude::*;

    #[test]
    fn points_lines_and_polygons() {
        let square = Polygon::new(vec![vec![[10.0, 0.0], [20.0, 0.0], [20.0, 10.0], [10.0, 10.0]]]).unwrap();
        let features = [
            Geometry::Points(vec![[0.0, 0.0], [0.0, 50.0]]),
            Geometry::Empty,
            Geometry::Lines(vec![vec![[-10.0, -5.0], [-10.0, 5.0]]]),
            Geometry::Polygons(vec![square]),
        ];
        let index = NearestIndex::new(&features);
        assert_eq!(index.nearest([3.0, 4.0]), Some(Nearest { item: 0, metres: 5.0 }));
        assert_eq!(index.nearest([-8.0, 1.0]), Some(Nearest { item: 2, metres: 2.0 }));
        assert_eq!(index.nearest([15.0, 5.0]), Some(Nearest { item: 3, metres: 0.0 }));
        assert_eq!(index.nearest([15.0, 0.0]), Some(Nearest { item: 3, metres: 0.0 }));
        assert_eq!(index.nearest([23.0, 14.0]), Some(Nearest { item: 3, metres: 5.0 }));
        assert_eq!(index.nearest([5.0, 0.0]), Some(Nearest { item: 0, metres: 5.0 }));
        assert_eq!(index.nearest([f64::NAN, 0.0]), None);
        assert_eq!(NearestIndex::of_points(&[]).nearest([0.0, 0.0]), None);
        let gap = NearestIndex::of_points(&[[f64::NAN, 0.0], [3.0, 4.0]]);
        assert_eq!(gap.nearest([0.0, 0.0]), Some(Nearest { item: 1, metres: 5.0 }));
        assert_eq!(index.rect(), Some(Rect { min: [-10.0, -5.0], max: [20.0, 50.0] }));
    }

    proptest! {
        #[test]
        fn as_by_looking_at_all(points in prop::collection::vec((-9_i32..9, -9_i32..9), 1..80), x in -9_i32..9, y in -9_i32..9) {
            let points: Vec<Point> = points.iter().map(|&(x, y)| [f64::from(x), f64::from(y)]).collect();
            let p = [f64::from(x), f64::from(y)];
            let d2 = |q: &Point| (q[0] - p[0]) * (q[0] - p[0]) + (q[1] - p[1]) * (q[1] - p[1]);
            let least = points.iter().map(d2).fold(f64::INFINITY, f64::min);
            let item = points.iter().position(|q| d2(q) == least).unwrap();
            prop_assert_eq!(NearestIndex::of_points(&points).nearest(p), Some(Nearest { item, metres: least.sqrt() }));
        }
    }
}
