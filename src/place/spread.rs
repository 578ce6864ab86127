//! Density from polygons with counts (people of a district, say): each count is taken as spread evenly over its polygon, and the
//! circle gets the part that its area shares with it.
//!
//! Counts of polygons that lie over one another are added, since they count different things. Shared areas are in closed form
//! (`circle::shared_area`).

use rstar::{AABB, RTree, RTreeObject};

use super::circle::shared_area;
use super::density::{Density, M2_PER_KM2};
use super::shape::{Point, Polygon, Rect};

/// Polygons with what lies on each square metre of them.
#[derive(Debug)]
pub struct SpreadIndex {
    tree: RTree<Spread>,
}

#[derive(Debug)]
struct Spread {
    rect: Rect,
    polygon: Polygon,
    per_m2: f64,
}

impl RTreeObject for Spread {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        self.rect.aabb()
    }
}

impl SpreadIndex {
    /// Prepares features, each with its parts and its count; those without area are passed over.
    pub fn new(features: impl IntoIterator<Item = (Vec<Polygon>, f64)>) -> SpreadIndex {
        let spread = |(polygons, count): (Vec<Polygon>, f64)| {
            let area: f64 = polygons.iter().map(Polygon::area).sum();
            let per_m2 = if area > 0.0 { count / area } else { 0.0 };
            polygons.into_iter().map(move |polygon| Spread { rect: polygon.rect(), polygon, per_m2 })
        };
        SpreadIndex { tree: RTree::bulk_load(features.into_iter().flat_map(spread).collect()) }
    }

    /// Density in the circle; `None` for a radius that is not above 0 or a place that is not finite.
    pub fn density(&self, centre: Point, radius: f64) -> Option<Density> {
        let known = radius > 0.0 && radius.is_finite() && centre.iter().all(|x| x.is_finite());
        let part = |spread: &Spread| {
            let whole = spread.rect.farthest2(centre) <= radius * radius;
            let area = if whole { spread.polygon.area() } else { shared_area(&spread.polygon, centre, radius) };
            area * spread.per_m2
        };
        known.then(|| {
            let rect = Rect::of_circle(centre, radius).aabb();
            let count = self.tree.locate_in_envelope_intersecting(&rect).map(part).sum::<f64>();
            Density { count, per_km2: count / (std::f64::consts::PI * radius * radius) * M2_PER_KM2 }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, side: f64) -> Vec<Polygon> {
        vec![Polygon::new(vec![vec![[x, 0.0], [x + side, 0.0], [x + side, side], [x, side]]]).unwrap()]
    }

    #[test]
    fn a_count_is_spread_over_its_polygon() {
        // Two squares of 10 km: 2 and 6 to the square kilometre; a circle on their border gets half of each.
        let index = SpreadIndex::new([(square(0.0, 1e4), 200.0), (square(1e4, 1e4), 600.0)]);
        let found = index.density([1e4, 5e3], 500.0).unwrap();
        assert!((found.per_km2 - 4.0).abs() < 1e-9 && (found.count - 4.0 * std::f64::consts::PI * 0.25).abs() < 1e-9);
        // A circle that holds everything gets all of it.
        assert!((index.density([1e4, 5e3], 1e5).unwrap().count - 800.0).abs() < 1e-9);
        assert_eq!(index.density([1e6, 0.0], 500.0).map(|d| d.count), Some(0.0));
        assert_eq!(index.density([f64::NAN, 0.0], 500.0), None);
    }

    #[test]
    fn parts_share_their_count() {
        let both: Vec<Polygon> = square(0.0, 10.0).into_iter().chain(square(1000.0, 10.0)).collect();
        let index = SpreadIndex::new([(both, 7.0)]);
        assert!((index.density([5.0, 5.0], 100.0).unwrap().count - 3.5).abs() < 1e-12);
    }
}
