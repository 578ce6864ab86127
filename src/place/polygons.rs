//! Prepared polygons: turns polygons, each belonging to a numbered item, into something that says which item a point is in.
//!
//! Boxes in an R-tree find the candidate polygons; inside one, horizontal bands hold the edges that cross them, so a polygon of a
//! million corners costs as little as a small one. Sides are decided by an exact predicate on the coordinates as they are: a point
//! of a partition is in exactly one area however near a border it lies, and a point on a border belongs to every polygon that
//! touches it, of which `locate` gives the first in order.

#![allow(
    clippy::indexing_slicing,
    reason = "edges and bands are counted and filled here; an edge number is at most one before the last corner"
)]

use geo::Coord;
use geo::kernels::{Kernel, RobustKernel};

pub(super) use geo::kernels::Orientation;
use rstar::{AABB, RTree, RTreeObject};

use super::shape::{Point, Polygon, Rect};

/// Where a point lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Strictly inside.
    Inside,
    /// On an edge or a corner of any ring.
    Border,
    /// Neither; inside a hole too.
    Outside,
}

/// Polygons prepared for questions about points. A part is one polygon; an item may own many.
#[derive(Clone, Debug)]
pub struct PolygonSet {
    corners: Vec<Point>,
    parts: Vec<Part>,
    band_starts: Vec<u32>,
    band_edges: Vec<u32>,
    tree: RTree<Boxed>,
}

#[derive(Clone, Debug)]
struct Part {
    item: u32,
    rect: Rect,
    first_band: usize,
    bands: usize,
    bands_per_metre: f64,
}

#[derive(Clone, Copy, Debug)]
struct Boxed {
    rect: Rect,
    part: u32,
}

impl RTreeObject for Boxed {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        self.rect.aabb()
    }
}

/// Edges that a band holds on average, and how often an edge may be listed, in bands, on average.
const EDGES_PER_BAND: usize = 4;
const LISTINGS_PER_EDGE: f64 = 3.0;

impl PolygonSet {
    /// Prepares polygons, each with the number of its item; any order, numbers may repeat.
    pub fn new<'a>(polygons: impl IntoIterator<Item = (u32, &'a Polygon)>) -> PolygonSet {
        let mut set = PolygonSet {
            corners: Vec::new(),
            parts: Vec::new(),
            band_starts: vec![0],
            band_edges: Vec::new(),
            tree: RTree::new(),
        };
        for (item, polygon) in polygons {
            set.add(item, polygon);
        }
        let boxes = set.parts.iter().enumerate();
        set.tree = RTree::bulk_load(boxes.map(|(i, part)| Boxed { rect: part.rect, part: i as u32 }).collect());
        set
    }

    /// The item that holds the point, border included; the lowest number where several do.
    pub fn locate(&self, p: Point) -> Option<usize> {
        let mut best: Option<u32> = None;
        for boxed in self.tree.locate_in_envelope_intersecting(&AABB::from_point(p)) {
            let Some(part) = self.parts.get(boxed.part as usize) else {
                continue;
            };
            if best.is_none_or(|b| part.item < b) && self.side_of(part, p) != Side::Outside {
                best = Some(part.item);
            }
        }
        best.map(|item| item as usize)
    }

    /// Every item that holds the point, border included, in ascending order.
    pub fn locate_all(&self, p: Point) -> Vec<usize> {
        let boxes = self.tree.locate_in_envelope_intersecting(&AABB::from_point(p));
        let parts = boxes.filter_map(|boxed| self.parts.get(boxed.part as usize));
        let holding = parts.filter(|part| self.side_of(part, p) != Side::Outside);
        let mut items: Vec<usize> = holding.map(|part| part.item as usize).collect();
        items.sort_unstable();
        items.dedup();
        items
    }

    /// Where a point lies with respect to one part (parts are numbered in the order given); a part that is not there is outside.
    pub fn side(&self, part: usize, p: Point) -> Side {
        self.parts.get(part).map_or(Side::Outside, |part| self.side_of(part, p))
    }

    /// Number of parts.
    pub fn len(&self) -> usize {
        self.parts.len()
    }

    /// Whether there is no part.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// The box around all of them.
    pub fn rect(&self) -> Option<Rect> {
        self.parts.iter().map(|part| part.rect).reduce(Rect::with)
    }

    /// Parts whose box meets the given one.
    pub(crate) fn parts_meeting(&self, rect: &Rect) -> impl Iterator<Item = usize> {
        self.tree.locate_in_envelope_intersecting(&rect.aabb()).map(|boxed| boxed.part as usize)
    }

    /// Edges of a part that may meet the horizontal strip, each perhaps more than once.
    pub(crate) fn edges_between(&self, part: usize, low: f64, high: f64) -> impl Iterator<Item = (Point, Point)> {
        let found = self.parts.get(part).filter(|part| low <= part.rect.max[1] && high >= part.rect.min[1]);
        let edges = found.map_or(&[][..], |part| {
            let from = part.first_band + part.band(low.max(part.rect.min[1]));
            let to = part.first_band + part.band(high.min(part.rect.max[1]));
            &self.band_edges[self.band_starts[from] as usize..self.band_starts[to + 1] as usize]
        });
        edges.iter().map(|&e| self.edge(e))
    }

    fn add(&mut self, item: u32, polygon: &Polygon) {
        let rect = polygon.rect();
        let mut edges = Vec::with_capacity(polygon.edges());
        for ring in polygon.rings() {
            let first = self.corners.len() as u32;
            edges.extend(first..first + ring.len() as u32 - 1);
            self.corners.extend_from_slice(ring);
        }
        let part = self.lay_bands(item, rect, &edges);
        self.parts.push(part);
    }

    fn lay_bands(&mut self, item: u32, rect: Rect, edges: &[u32]) -> Part {
        let height = rect.max[1] - rect.min[1];
        let climbed: f64 = edges.iter().map(|&e| self.edge(e)).map(|(a, b)| (a[1] - b[1]).abs()).sum();
        let affordable = LISTINGS_PER_EDGE * edges.len() as f64 * height / climbed.max(height);
        let bands = (edges.len() / EDGES_PER_BAND).min(affordable as usize).max(1);
        let bands_per_metre = if height > 0.0 { bands as f64 / height } else { 0.0 };
        let part = Part { item, rect, first_band: self.band_starts.len() - 1, bands, bands_per_metre };
        self.fill_bands(&part, edges);
        part
    }

    /// Counting sort of edges into bands.
    fn fill_bands(&mut self, part: &Part, edges: &[u32]) {
        let span = |e: u32| {
            let (a, b) = self.edge(e);
            part.band(a[1].min(b[1]))..=part.band(a[1].max(b[1]))
        };
        let mut starts = vec![0_u32; part.bands + 1];
        for &e in edges {
            span(e).for_each(|band| starts[band + 1] += 1);
        }
        for band in 0..part.bands {
            starts[band + 1] += starts[band];
        }
        let mut listed = vec![0_u32; starts[part.bands] as usize];
        let mut next = starts.clone();
        for &e in edges {
            for band in span(e) {
                listed[next[band] as usize] = e;
                next[band] += 1;
            }
        }
        let base = self.band_edges.len() as u32;
        self.band_starts.extend(starts[1..].iter().map(|start| base + start));
        self.band_edges.extend(listed);
    }

    fn edge(&self, e: u32) -> (Point, Point) {
        (self.corners[e as usize], self.corners[e as usize + 1])
    }

    /// Crossings of the ray to the east; an edge counts from its lower end up to below its upper end.
    fn side_of(&self, part: &Part, p: Point) -> Side {
        if !part.rect.holds(p) {
            return Side::Outside;
        }
        let band = part.first_band + part.band(p[1]);
        let edges = &self.band_edges[self.band_starts[band] as usize..self.band_starts[band + 1] as usize];
        let mut inside = false;
        for &e in edges {
            let (a, b) = self.edge(e);
            match meeting(a, b, p) {
                Meeting::On => return Side::Border,
                Meeting::Crosses => inside = !inside,
                Meeting::Passes => {}
            }
        }
        if inside { Side::Inside } else { Side::Outside }
    }
}

impl Part {
    /// Monotone in y, so that the band of a point is among those of every edge that passes at its height.
    fn band(&self, y: f64) -> usize {
        (((y - self.rect.min[1]) * self.bands_per_metre) as usize).min(self.bands - 1)
    }
}

/// What the ray from a point to the east does with an edge.
enum Meeting {
    On,
    Crosses,
    Passes,
}

fn meeting(a: Point, b: Point, p: Point) -> Meeting {
    let (low, high) = if a[1] <= b[1] { (a, b) } else { (b, a) };
    if p[1] < low[1] || p[1] > high[1] || p[0] > a[0].max(b[0]) {
        return Meeting::Passes;
    }
    let counted = low[1] <= p[1] && p[1] < high[1];
    if p[0] < a[0].min(b[0]) {
        return if counted { Meeting::Crosses } else { Meeting::Passes };
    }
    match orientation(low, high, p) {
        Orientation::Collinear => Meeting::On,
        Orientation::CounterClockwise if counted => Meeting::Crosses,
        _ => Meeting::Passes,
    }
}

/// Exact: the sign of the turn from `a` over `b` to `c`.
pub(crate) fn orientation(a: Point, b: Point, c: Point) -> Orientation {
    let coord = |p: Point| Coord { x: p[0], y: p[1] };
    RobustKernel::orient2d(coord(a), coord(b), coord(c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn polygon(rings: &[&[Point]]) -> Polygon {
        Polygon::new(rings.iter().map(|ring| ring.to_vec()).collect()).unwrap()
    }

    #[test]
    fn hole_border_and_order() {
        let ring = polygon(&[
            &[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]],
            &[[4.0, 4.0], [6.0, 4.0], [6.0, 6.0], [4.0, 6.0]],
        ]);
        let town = polygon(&[&[[4.0, 4.0], [6.0, 4.0], [6.0, 6.0], [4.0, 6.0]]]);
        let set = PolygonSet::new([(0, &ring), (1, &town)]);
        assert_eq!(set.locate([1.0, 1.0]), Some(0));
        assert_eq!(set.locate([5.0, 5.0]), Some(1));
        assert_eq!(set.locate([4.0, 5.0]), Some(0));
        assert_eq!(set.locate_all([4.0, 4.0]), [0, 1]);
        assert_eq!(set.locate([10.0, 10.0]), Some(0));
        assert_eq!(set.locate([10.0, 10.1]), None);
        assert_eq!(set.side(0, [5.0, 5.0]), Side::Outside);
        assert_eq!(set.side(1, [5.0, 4.0]), Side::Border);
        assert_eq!(set.side(7, [5.0, 4.0]), Side::Outside);
        let swapped = PolygonSet::new([(1, &ring), (0, &town)]);
        assert_eq!(swapped.locate([4.0, 5.0]), Some(0));
    }

    #[test]
    fn parts_of_one_item_and_no_part_at_all() {
        let left = polygon(&[&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]]);
        let right = polygon(&[&[[5.0, 0.0], [6.0, 0.0], [5.0, 1.0]]]);
        let set = PolygonSet::new([(3, &right), (3, &left)]);
        assert_eq!(set.locate([0.2, 0.2]), Some(3));
        assert_eq!(set.locate([5.2, 0.2]), Some(3));
        assert_eq!(PolygonSet::new([]).locate([0.0, 0.0]), None);
    }

    /// A fan of triangles around a point off the grid: every point of the square is in one, never in two unless on a border.
    fn fan(apex: Point) -> Vec<Polygon> {
        let corners = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        (0..4).map(|i| polygon(&[&[corners[i], corners[(i + 1) % 4], apex]])).collect()
    }

    proptest! {
        #[test]
        fn a_partition_leaves_no_gap(ax in 0.01..0.99_f64, ay in 0.01..0.99_f64, x in 0.0..1.0_f64, y in 0.0..1.0_f64, t in 0.0..1.0_f64) {
            let parts = fan([ax, ay]);
            let set = PolygonSet::new(parts.iter().enumerate().map(|(i, p)| (i as u32, p)));
            prop_assert!(set.locate([x, y]).is_some());
            // As near to an inner border as numbers go, and on either side of it.
            let near = [ax * t, ay * t];
            prop_assert!(set.locate(near).is_some());
            for p in [[x, y], near] {
                let inside = (0..4).filter(|&i| set.side(i, p) == Side::Inside).count();
                let border = (0..4).filter(|&i| set.side(i, p) == Side::Border).count();
                prop_assert!((inside == 1 && border == 0) || (inside == 0 && border >= 2) || (inside == 0 && border == 1 && on_frame(p)));
            }
        }

        #[test]
        fn bands_change_nothing(seed in 0_u32..1000, x in -1.2..1.2_f64, y in -1.2..1.2_f64) {
            let ring: Vec<Point> = (0..200).map(|i| wobbly(i, seed)).collect();
            let set = PolygonSet::new([(0, &Polygon::new(vec![ring.clone()]).unwrap())]);
            let crossings = (0..200).filter(|&i| crosses(ring[i], ring[(i + 1) % 200], [x, y])).count();
            prop_assert_eq!(set.locate([x, y]).is_some(), crossings % 2 == 1);
        }
    }

    fn on_frame(p: Point) -> bool {
        p.iter().any(|&v| v == 0.0 || v == 1.0)
    }

    fn wobbly(i: u32, seed: u32) -> Point {
        let angle = f64::from(i) * std::f64::consts::TAU / 200.0;
        let radius = 0.6 + 0.4 * f64::from((i * 7919 + seed * 104_729) % 1000) / 1000.0;
        [radius * libm::cos(angle), radius * libm::sin(angle)]
    }

    fn crosses(a: Point, b: Point, p: Point) -> bool {
        (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    }
}
