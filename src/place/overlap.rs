//! Polygons whose interiors meet are merged, so that ground covered twice counts once; all others are handed on untouched.
//!
//! Neighbours that share a border, even one whose corners differ by rounding, are not overlapping: an intrusion shallower than
//! `DEPTH` counts as touching, which keeps the exact coordinates of a clean layer. Looked for are corners, middles of edges and an
//! inner point of one polygon deep inside the other, and edges that truly cross; two polygons that overlap without any of these
//! would need every corner of their common part on both borders. Merging is geo's overlay of a group moved to its own origin; it
//! rounds to about a billionth of the group's size.

#![allow(clippy::indexing_slicing, reason = "indices are of lists made here in the same loop")]

use geo::{Coord, InteriorPoint, LineString, unary_union};
use rayon::prelude::*;

use super::polygons::{PolygonSet, Side};
use super::shape::{Point, Polygon, Rect, to_segment2};

/// Metres. Intrusions below this are left: over the 3 km of a 500 m circle's rim they amount to 4e-9 of it.
const DEPTH: f64 = 1e-6;

/// The polygons with every group of overlapping ones replaced by its union, in the order of their first members.
pub(crate) fn merged(polygons: &[Polygon]) -> Vec<Polygon> {
    let pairs = overlapping(polygons);
    let mut groups = Groups::new(polygons.len());
    for (i, others) in pairs.iter().enumerate() {
        others.iter().for_each(|&other| groups.join(i, other));
    }
    let members = groups.members();
    let merged = members.into_par_iter().map(|group| match group[..] {
        [alone] => vec![polygons[alone].clone()],
        _ => union(&group.iter().map(|&i| &polygons[i]).collect::<Vec<_>>()),
    });
    merged.collect::<Vec<_>>().into_iter().flatten().collect()
}

/// For each polygon the later ones that overlap it.
pub(super) fn overlapping(polygons: &[Polygon]) -> Vec<Vec<usize>> {
    let set = PolygonSet::new(polygons.iter().map(|p| (0, p)));
    (0..polygons.len()).into_par_iter().map(|i| overlapped_by(polygons, &set, i)).collect()
}

/// Later polygons that overlap the one numbered `i`.
fn overlapped_by(polygons: &[Polygon], set: &PolygonSet, i: usize) -> Vec<usize> {
    let rect = polygons[i].rect();
    let others = set.parts_meeting(&rect).filter(|&j| j > i && deep(&rect, &polygons[j].rect()));
    others.filter(|&j| overlap(polygons, set, i, j)).collect()
}

/// Whether two boxes share more than a border.
fn deep(a: &Rect, b: &Rect) -> bool {
    (0..2).all(|k| a.min[k] + DEPTH < b.max[k] && b.min[k] + DEPTH < a.max[k])
}

fn overlap(polygons: &[Polygon], set: &PolygonSet, i: usize, j: usize) -> bool {
    let one_way = |from: usize, into: usize| intrudes(&polygons[from], set, into, &polygons[into].rect());
    one_way(i, j) || one_way(j, i) || crossing(&polygons[i], set, j, &polygons[j].rect())
}

/// A corner or a middle of an edge deep inside a part of the set; or the inner point, which matters where no corner is outside.
fn intrudes(polygon: &Polygon, set: &PolygonSet, into: usize, rect: &Rect) -> bool {
    let mut outside = false;
    for (a, b) in edges(polygon) {
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        for p in [a, middle] {
            let side = if rect.holds(p) { set.side(into, p) } else { Side::Outside };
            outside |= side == Side::Outside;
            if side == Side::Inside && is_deep(set, into, p) {
                return true;
            }
        }
    }
    !outside && inner_point(polygon).is_some_and(|p| set.side(into, p) == Side::Inside && is_deep(set, into, p))
}

fn is_deep(set: &PolygonSet, part: usize, p: Point) -> bool {
    set.edges_between(part, p[1] - DEPTH, p[1] + DEPTH).all(|(a, b)| to_segment2(a, b, p) > DEPTH * DEPTH)
}

/// An edge that crosses one of the part's, all four ends farther than `DEPTH` from the other line.
fn crossing(polygon: &Polygon, set: &PolygonSet, into: usize, rect: &Rect) -> bool {
    let reach = |a: Point, b: Point| box_of(a, b).meets(rect);
    let against = |a: Point, b: Point| {
        let own = box_of(a, b);
        let others = set.edges_between(into, own.min[1], own.max[1]);
        others.filter(|&(c, d)| box_of(c, d).meets(&own)).any(|(c, d)| cross_truly(a, b, c, d))
    };
    edges(polygon).any(|(a, b)| reach(a, b) && against(a, b))
}

fn box_of(a: Point, b: Point) -> Rect {
    Rect { min: [a[0].min(b[0]), a[1].min(b[1])], max: [a[0].max(b[0]), a[1].max(b[1])] }
}

fn cross_truly(a: Point, b: Point, c: Point, d: Point) -> bool {
    parts_them(a, b, c, d) && parts_them(c, d, a, b)
}

/// Whether two points lie on different sides of the line through `from` and `to`, each farther than `DEPTH` from it.
fn parts_them(from: Point, to: Point, p: Point, q: Point) -> bool {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let turn = |p: Point| (p[1] - from[1]) * dx - (p[0] - from[0]) * dy;
    let (p, q) = (turn(p), turn(q));
    let least2 = DEPTH * DEPTH * (dx * dx + dy * dy);
    (p > 0.0) != (q > 0.0) && p * p > least2 && q * q > least2
}

fn edges(polygon: &Polygon) -> impl Iterator<Item = (Point, Point)> {
    polygon.rings().iter().flat_map(|ring| ring.windows(2).map(|w| (w[0], w[1])))
}

fn inner_point(polygon: &Polygon) -> Option<Point> {
    as_geo(polygon, [0.0; 2]).interior_point().map(|p| [p.x(), p.y()])
}

fn union(group: &[&Polygon]) -> Vec<Polygon> {
    let origin = group.first().map_or([0.0; 2], |polygon| polygon.rect().min);
    let shapes: Vec<geo::Polygon> = group.iter().map(|polygon| as_geo(polygon, origin)).collect();
    unary_union(&shapes).into_iter().filter_map(|shape| from_geo(&shape, origin)).collect()
}

pub(super) fn as_geo(polygon: &Polygon, origin: Point) -> geo::Polygon {
    let coord = |p: &Point| Coord { x: p[0] - origin[0], y: p[1] - origin[1] };
    let mut rings = polygon.rings().iter().map(|ring| LineString::new(ring.iter().map(coord).collect()));
    let outer = rings.next().unwrap_or(LineString::new(Vec::new()));
    geo::Polygon::new(outer, rings.collect())
}

/// `None` for a sliver that has fewer than three corners.
pub(super) fn from_geo(shape: &geo::Polygon, origin: Point) -> Option<Polygon> {
    let ring = |line: &LineString| line.coords().map(|c| [c.x + origin[0], c.y + origin[1]]).collect();
    let rings = std::iter::once(shape.exterior()).chain(shape.interiors());
    Polygon::new(rings.map(ring).collect()).ok()
}

/// Joined numbers; a group is known by its lowest member.
struct Groups {
    leaders: Vec<usize>,
}

impl Groups {
    fn new(count: usize) -> Groups {
        Groups { leaders: (0..count).collect() }
    }

    fn leader(&mut self, mut i: usize) -> usize {
        while self.leaders[i] != i {
            self.leaders[i] = self.leaders[self.leaders[i]];
            i = self.leaders[i];
        }
        i
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.leader(a), self.leader(b));
        self.leaders[a.max(b)] = a.min(b);
    }

    fn members(mut self) -> Vec<Vec<usize>> {
        let mut members = vec![Vec::new(); self.leaders.len()];
        for i in 0..self.leaders.len() {
            let leader = self.leader(i);
            members[leader].push(i);
        }
        members.retain(|group| !group.is_empty());
        members
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Polygon {
        Polygon::new(vec![vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]]).unwrap()
    }

    fn area(polygons: &[Polygon]) -> f64 {
        merged(polygons).iter().map(Polygon::area).sum()
    }

    #[test]
    fn neighbours_stay_as_they_are() {
        let tiles = [
            square(0.0, 0.0, 10.0),
            square(10.0, 0.0, 10.0),
            square(0.0, 10.0 - 1e-9, 10.0),
            square(10.0, 4.0, 5.0 + 0.0),
        ];
        let touching = &tiles[..3];
        assert_eq!(merged(touching), touching);
        assert_eq!(merged(&tiles).len(), 3);
    }

    #[test]
    fn every_way_to_overlap() {
        let base = square(0.0, 0.0, 10.0);
        assert!((area(&[base.clone(), base.clone()]) - 100.0).abs() < 1e-6);
        assert!((area(&[base.clone(), square(2.0, 2.0, 3.0)]) - 100.0).abs() < 1e-6);
        assert!((area(&[base.clone(), square(5.0, 5.0, 10.0)]) - 175.0).abs() < 1e-6);
        let bar = Polygon::new(vec![vec![[-5.0, 4.0], [15.0, 4.0], [15.0, 6.0], [-5.0, 6.0]]]).unwrap();
        assert!((area(&[base.clone(), bar]) - 120.0).abs() < 1e-6);
        let half = Polygon::new(vec![vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]]).unwrap();
        assert!((area(&[half, base]) - 100.0).abs() < 1e-6);
    }

    #[test]
    fn a_filled_hole_is_no_overlap() {
        let hole = vec![[4.0, 4.0], [6.0, 4.0], [6.0, 6.0], [4.0, 6.0]];
        let ring = Polygon::new(vec![vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]], hole.clone()]).unwrap();
        let town = Polygon::new(vec![hole]).unwrap();
        let both = [ring, town];
        assert_eq!(merged(&both), both);
    }

    #[test]
    fn a_chain_becomes_one() {
        let chain: Vec<Polygon> = (0..5).map(|i| square(f64::from(i) * 8.0, 0.0, 10.0)).collect();
        assert!((area(&chain) - 420.0).abs() < 1e-6);
        assert_eq!(merged(&chain).len(), 1);
    }
}
