//! Density: turns points, each with a count, into features per square kilometre of the circle around a well.
//!
//! A point on the rim of the circle counts. The divisor is the whole circle, also at the edge of the layer. Counts are added in
//! the order of the tree, which depends on the points alone, so the same layer gives the same digits.

use rstar::{AABB, PointDistance, RTree, RTreeObject};

use super::shape::{Point, Rect};

/// Points with their counts, prepared.
#[derive(Clone, Debug)]
pub struct DensityIndex {
    tree: RTree<Counted>,
}

#[derive(Clone, Copy, Debug)]
struct Counted {
    at: Point,
    count: f64,
}

impl RTreeObject for Counted {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        AABB::from_point(self.at)
    }
}

impl PointDistance for Counted {
    fn distance_2(&self, p: &Point) -> f64 {
        let (dx, dy) = (self.at[0] - p[0], self.at[1] - p[1]);
        dx * dx + dy * dy
    }
}

/// What lies in a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    /// Sum of the counts in the circle.
    pub count: f64,
    /// That sum per square kilometre of the circle.
    pub per_km2: f64,
}

pub(super) const M2_PER_KM2: f64 = 1e6;

impl DensityIndex {
    /// Prepares points with their counts (1 for plain features); points that are not finite are in no circle.
    pub fn new(points: impl IntoIterator<Item = (Point, f64)>) -> DensityIndex {
        let finite = points.into_iter().filter(|(at, _)| at.iter().all(|x| x.is_finite()));
        let counted = finite.map(|(at, count)| Counted { at, count });
        DensityIndex { tree: RTree::bulk_load(counted.collect()) }
    }

    /// Density in the circle, rim included; `None` for a radius that is not above 0 or a place that is not finite.
    pub fn density(&self, centre: Point, radius: f64) -> Option<Density> {
        let known = radius > 0.0 && radius.is_finite() && centre.iter().all(|x| x.is_finite());
        known.then(|| {
            let within = self.tree.locate_within_distance(centre, radius * radius);
            let count = within.map(|counted| counted.count).sum::<f64>();
            Density { count, per_km2: count / (std::f64::consts::PI * radius * radius) * M2_PER_KM2 }
        })
    }

    /// The box around all points.
    pub fn rect(&self) -> Option<Rect> {
        let around = self.tree.root().envelope();
        (self.tree.size() > 0).then(|| Rect { min: around.lower(), max: around.upper() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_rim_counts() {
        let index = DensityIndex::new([([300.0, 400.0], 2.0), ([0.0, 0.0], 1.0), ([300.0, 400.1], 8.0)]);
        let found = index.density([0.0, 0.0], 500.0).unwrap();
        assert_eq!(found.count, 3.0);
        assert!((found.per_km2 - 3.0 / (std::f64::consts::PI * 0.25)).abs() < 1e-12);
        assert_eq!(index.density([0.0, 0.0], 0.0), None);
        let gap = DensityIndex::new([([f64::NAN, 0.0], 1.0), ([1.0, 0.0], 4.0)]);
        assert_eq!(gap.density([0.0, 0.0], 1.0).map(|d| d.count), Some(4.0));
        assert_eq!(DensityIndex::new([]).density([0.0, 0.0], 1.0).map(|d| d.count), Some(0.0));
    }

    proptest! {
        #[test]
        fn as_by_looking_at_all(points in prop::collection::vec((-9_i32..9, -9_i32..9, 1_i32..5), 0..80), radius in 1_i32..9) {
            let points: Vec<(Point, f64)> = points.iter().map(|&(x, y, n)| ([f64::from(x), f64::from(y)], f64::from(n))).collect();
            let radius = f64::from(radius);
            let inside = points.iter().filter(|(p, _)| p[0] * p[0] + p[1] * p[1] <= radius * radius);
            let count: f64 = inside.map(|(_, n)| n).sum();
            prop_assert_eq!(DensityIndex::new(points.clone()).density([0.0, 0.0], radius).map(|d| d.count), Some(count));
        }
    }
}
