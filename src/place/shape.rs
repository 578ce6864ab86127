//! The plain shapes that the place stage computes with: points, boxes and polygons in f64 metres of the working CRS.
//!
//! A reader would question our own polygon type beside geo's. Ours is checked when it is made (rings closed, at least three
//! different corners, outer ring counterclockwise, holes clockwise), so nothing later asks again; geo's may be anything.

#![allow(
    clippy::indexing_slicing,
    reason = "rings are made here with four points at least, and windows of two have two"
)]

use rstar::AABB;

/// Easting and northing, or longitude and latitude.
pub type Point = [f64; 2];

/// An upright box, border included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Its lower left corner.
    pub min: Point,
    /// Its upper right corner.
    pub max: Point,
}

impl Rect {
    /// The smallest box around the points; `None` for no points.
    pub fn around<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<Rect> {
        let mut points = points.into_iter();
        let first = *points.next()?;
        let start = Rect { min: first, max: first };
        Some(points.fold(start, |rect, p| rect.with(Rect { min: *p, max: *p })))
    }

    /// The smallest box around both.
    #[must_use]
    pub fn with(self, other: Rect) -> Rect {
        Rect {
            min: [self.min[0].min(other.min[0]), self.min[1].min(other.min[1])],
            max: [self.max[0].max(other.max[0]), self.max[1].max(other.max[1])],
        }
    }

    /// The box of a circle.
    pub fn of_circle(centre: Point, radius: f64) -> Rect {
        Rect { min: [centre[0] - radius, centre[1] - radius], max: [centre[0] + radius, centre[1] + radius] }
    }

    /// Whether the point lies inside or on the border.
    pub fn holds(&self, p: Point) -> bool {
        self.min[0] <= p[0] && p[0] <= self.max[0] && self.min[1] <= p[1] && p[1] <= self.max[1]
    }

    /// Whether all of the other box lies inside or on the border.
    pub fn holds_rect(&self, other: &Rect) -> bool {
        self.holds(other.min) && self.holds(other.max)
    }

    /// Whether the boxes share a point.
    pub fn meets(&self, other: &Rect) -> bool {
        (0..2).all(|i| self.min[i] <= other.max[i] && other.min[i] <= self.max[i])
    }

    /// Squared distance to the nearest point of the box, 0 inside.
    pub fn nearest2(&self, p: Point) -> f64 {
        let gap = |i: usize| (self.min[i] - p[i]).max(p[i] - self.max[i]).max(0.0);
        gap(0) * gap(0) + gap(1) * gap(1)
    }

    /// Squared distance to the farthest corner.
    pub fn farthest2(&self, p: Point) -> f64 {
        let reach = |i: usize| (p[i] - self.min[i]).abs().max((p[i] - self.max[i]).abs());
        reach(0) * reach(0) + reach(1) * reach(1)
    }

    pub(crate) fn aabb(&self) -> AABB<Point> {
        AABB::from_corners(self.min, self.max)
    }
}

/// A polygon with holes. The outer ring is counterclockwise and first, holes are clockwise; every ring is closed.
#[derive(Clone, Debug)]
pub struct Polygon {
    rings: Vec<Vec<Point>>,
    order: RingOrder,
}

/// How the rings of a polygon stood when it was made. What was wrong has been mended, without any harm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum RingOrder {
    /// Outer ring first and counterclockwise, holes clockwise.
    AsNeeded,
    /// A ring ran the other way round.
    Turned,
    /// The outer ring did not come first.
    OuterLater,
}

/// Where the rings run; how they once stood makes no difference.
impl PartialEq for Polygon {
    fn eq(&self, other: &Polygon) -> bool {
        self.rings == other.rings
    }
}

/// What a feature looks like. Mixed collections are not among them.
#[derive(Clone, Debug, PartialEq)]
pub enum Geometry {
    /// The file gives no geometry.
    Empty,
    /// One point or more.
    Points(Vec<Point>),
    /// Lines, each of two points or more.
    Lines(Vec<Vec<Point>>),
    /// Polygons, which may touch or overlap.
    Polygons(Vec<Polygon>),
}

impl Geometry {
    /// A word for messages.
    pub fn kind(&self) -> &'static str {
        match self {
            Geometry::Empty => "no geometry",
            Geometry::Points(_) => "points",
            Geometry::Lines(_) => "lines",
            Geometry::Polygons(_) => "polygons",
        }
    }

    /// The polygons; none for other kinds.
    pub fn polygons(&self) -> &[Polygon] {
        match self {
            Geometry::Polygons(polygons) => polygons,
            _ => &[],
        }
    }

    /// The box around it.
    pub fn rect(&self) -> Option<Rect> {
        match self {
            Geometry::Empty => None,
            Geometry::Points(points) => Rect::around(points),
            Geometry::Lines(lines) => Rect::around(lines.iter().flatten()),
            Geometry::Polygons(polygons) => polygons.iter().map(Polygon::rect).reduce(Rect::with),
        }
    }
}

/// Why rings make no polygon.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RingFault {
    /// Nothing at all.
    #[error("a polygon without rings")]
    NoRing,
    /// A ring that bounds nothing.
    #[error("ring {ring} has {corners} different corners, and 3 are needed")]
    FewCorners {
        /// The ring, from 1; 1 is the outer ring.
        ring: usize,
        /// Its different corners.
        corners: usize,
    },
    /// A coordinate that is not a number or infinite.
    #[error("ring {ring} has a coordinate that is not a finite number")]
    NotFinite {
        /// The ring, from 1; 1 is the outer ring.
        ring: usize,
    },
}

impl Polygon {
    /// Makes a polygon of an outer ring and holes, in any direction, closed or not.
    ///
    /// # Errors
    /// A ring with fewer than three different corners in a row, or with a coordinate that is not finite.
    pub fn new(rings: Vec<Vec<Point>>) -> Result<Polygon, RingFault> {
        if rings.is_empty() {
            return Err(RingFault::NoRing);
        }
        let ready = rings.into_iter().enumerate().map(|(i, ring)| ready_ring(i, ring));
        let mut rings = ready.collect::<Result<Vec<_>, _>>()?;
        let mut order = RingOrder::AsNeeded;
        if let Some(largest) = larger_than_first(&rings) {
            rings.swap(0, largest);
            order = RingOrder::OuterLater;
        }
        for (i, ring) in rings.iter_mut().enumerate() {
            if (signed_area(ring) < 0.0) == (i == 0) {
                ring.reverse();
                order = order.max(RingOrder::Turned);
            }
        }
        Ok(Polygon { rings, order })
    }

    /// How its rings stood when it was made.
    pub fn order(&self) -> RingOrder {
        self.order
    }

    /// The rings, outer first; the last point of each repeats its first.
    pub fn rings(&self) -> &[Vec<Point>] {
        &self.rings
    }

    /// Number of edges.
    pub fn edges(&self) -> usize {
        self.rings.iter().map(|ring| ring.len() - 1).sum()
    }

    /// The box around it.
    pub fn rect(&self) -> Rect {
        let none = Rect { min: [0.0; 2], max: [0.0; 2] };
        self.rings.first().and_then(Rect::around).unwrap_or(none)
    }

    /// Its area, holes taken out.
    pub fn area(&self) -> f64 {
        self.rings.iter().map(|ring| signed_area(ring)).sum()
    }

    /// Length of its border, holes included.
    pub fn border(&self) -> f64 {
        let length = |w: &[Point]| libm::hypot(w[1][0] - w[0][0], w[1][1] - w[0][1]);
        self.rings.iter().flat_map(|ring| ring.windows(2)).map(length).sum()
    }
}

fn ready_ring(index: usize, mut ring: Vec<Point>) -> Result<Vec<Point>, RingFault> {
    if ring.iter().flatten().any(|x| !x.is_finite()) {
        return Err(RingFault::NotFinite { ring: index + 1 });
    }
    ring.dedup();
    while ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    if ring.len() < 3 {
        return Err(RingFault::FewCorners { ring: index + 1, corners: ring.len() });
    }
    ring.push(ring[0]);
    Ok(ring)
}

/// The largest ring where it is not the first: a hole is never larger than what it is in.
fn larger_than_first(rings: &[Vec<Point>]) -> Option<usize> {
    let first = signed_area(rings.first()?).abs();
    let areas = rings.iter().map(|ring| signed_area(ring).abs()).enumerate().skip(1);
    areas.filter(|(_, area)| *area > first).max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i)
}

/// Area of a closed ring, positive counterclockwise, measured from its first corner so that large coordinates cost no digits.
pub(crate) fn signed_area(ring: &[Point]) -> f64 {
    let Some(&o) = ring.first() else { return 0.0 };
    let twice = |w: &[Point]| (w[0][0] - o[0]) * (w[1][1] - o[1]) - (w[0][1] - o[1]) * (w[1][0] - o[0]);
    0.5 * ring.windows(2).map(twice).sum::<f64>()
}

/// Squared distance of a point to the segment from `a` to `b`.
pub(crate) fn to_segment2(a: Point, b: Point, p: Point) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let (px, py) = (p[0] - a[0], p[1] - a[1]);
    let length2 = dx * dx + dy * dy;
    let t = if length2 > 0.0 { ((px * dx + py * dy) / length2).clamp(0.0, 1.0) } else { 0.0 };
    let (ex, ey) = (px - t * dx, py - t * dy);
    ex * ex + ey * ey
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rings_are_closed_and_turned() {
        let clockwise = vec![[0.0, 0.0], [0.0, 2.0], [2.0, 2.0], [2.0, 0.0]];
        let hole = vec![[0.5, 0.5], [1.0, 0.5], [1.0, 1.0], [0.5, 1.0], [0.5, 0.5]];
        let polygon = Polygon::new(vec![clockwise, hole]).unwrap();
        assert_eq!(polygon.area(), 3.75);
        assert_eq!(polygon.edges(), 8);
        assert_eq!(polygon.rect(), Rect { min: [0.0, 0.0], max: [2.0, 2.0] });
        assert!(polygon.rings().iter().all(|ring| ring.first() == ring.last()));
    }

    #[test]
    fn ring_order_is_mended_and_remembered() {
        let outer = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let hole = vec![[1.0, 1.0], [1.0, 2.0], [2.0, 2.0], [2.0, 1.0]];
        let good = Polygon::new(vec![outer.clone(), hole.clone()]).unwrap();
        assert_eq!((good.order(), good.area(), good.border()), (RingOrder::AsNeeded, 15.0, 20.0));
        let later = Polygon::new(vec![hole, outer.clone()]).unwrap();
        assert_eq!((later.order(), &later), (RingOrder::OuterLater, &good));
        let turned = Polygon::new(vec![outer.into_iter().rev().collect()]).unwrap();
        assert_eq!((turned.order(), turned.area()), (RingOrder::Turned, 16.0));
    }

    #[test]
    fn bad_rings_are_named() {
        let flat = vec![[0.0, 0.0], [1.0, 0.0], [1.0, 0.0], [0.0, 0.0]];
        assert_eq!(Polygon::new(vec![flat]), Err(RingFault::FewCorners { ring: 1, corners: 2 }));
        let wild = vec![[0.0, 0.0], [1.0, f64::NAN], [1.0, 1.0]];
        assert_eq!(Polygon::new(vec![wild]), Err(RingFault::NotFinite { ring: 1 }));
        assert_eq!(Polygon::new(vec![]), Err(RingFault::NoRing));
    }

    #[test]
    fn distances_to_a_segment() {
        assert_eq!(to_segment2([0.0, 0.0], [4.0, 0.0], [2.0, 3.0]), 9.0);
        assert_eq!(to_segment2([0.0, 0.0], [4.0, 0.0], [7.0, 4.0]), 25.0);
        assert_eq!(to_segment2([1.0, 1.0], [1.0, 1.0], [1.0, 3.0]), 4.0);
    }
}
