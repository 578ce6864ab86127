//! What is doubtful about an area layer, found and named by the numbers of its features: overlaps, slivers, rings that cross
//! themselves, rings in the wrong order.
//!
//! None of it stops the run, since every place still has one answer: the first area in file order that holds it, inside being
//! where an odd number of borders lies around. Only the order of rings is mended, when a polygon is made. Intrusions and gaps
//! thinner than `NOISE` are no finding: borders drawn with different corners part by as much when they are taken into the working
//! coordinate system.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates, and windows of two have two")]

use geo::unary_union;
use rayon::prelude::*;
use std::collections::BTreeMap;

use super::areas::Areas;
use super::overlap::{as_geo, from_geo, overlapping};
use super::polygons::{Orientation, orientation};
use super::shape::{Point, Polygon, Rect, RingOrder, to_segment2};
use crate::problem::Warning;

/// Mean width in metres below which a strip is taken for rounding.
const NOISE: f64 = 0.15;
/// Two areas that share more than this part of the smaller one overlap; below, their border is drawn twice.
const SHARE: f64 = 0.001;
/// A gap is a sliver where its area is less than this part of a circle's with the same border: a strip about 30 times as long as
/// wide.
const THIN: f64 = 0.1;
/// Metres between a gap's corner and the border of an area beside it.
const BESIDE: f64 = 0.01;

/// What may be doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Doubt {
    /// A ring crosses itself or another of its polygon.
    CrossesItself,
    /// The outer ring did not come first; mended.
    OuterLater,
    /// A ring ran the other way round; mended.
    Turned,
    /// Two areas share more than a thousandth of the smaller one.
    Overlap,
    /// Two areas share a strip along their border.
    SharedSliver,
    /// A narrow gap between areas.
    Gap,
}

impl Doubt {
    /// What to say of it.
    pub fn text(self) -> &'static str {
        match self {
            Doubt::CrossesItself => {
                "rings cross themselves; a place is inside where an odd number of borders lies around it"
            }
            Doubt::OuterLater => "a hole comes before the outer ring; read as meant",
            Doubt::Turned => "rings run against RFC 7946 (outer counterclockwise, holes clockwise); read as meant",
            Doubt::Overlap => "areas overlap; a well in both counts for the first in file order",
            Doubt::SharedSliver => {
                "areas overlap along their border; a well in both counts for the first in file order"
            }
            Doubt::Gap => "narrow gaps lie between areas; a well in one is in no area",
        }
    }
}

/// One thing found.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What is doubtful.
    pub doubt: Doubt,
    /// The areas it concerns, by their place in the layer.
    pub areas: Vec<usize>,
    /// Square metres shared or missing; 0 for rings.
    pub square_metres: f64,
}

/// Everything doubtful, by kind and then by area.
pub fn findings(areas: &Areas) -> Vec<Finding> {
    let mut findings = rings(areas);
    findings.extend(overlaps(areas));
    findings.extend(gaps(areas));
    findings.sort_by(|a, b| (a.doubt, &a.areas).cmp(&(b.doubt, &b.areas)));
    findings
}

/// The findings as warnings: one a kind, with a count and three examples.
pub fn warnings(areas: &Areas) -> Vec<Warning> {
    let mut grouped: BTreeMap<Doubt, Warning> = BTreeMap::new();
    for finding in findings(areas) {
        let warning = grouped.entry(finding.doubt).or_insert_with(|| Warning {
            subject: "areas".to_owned(),
            text: finding.doubt.text().to_owned(),
            count: 0,
            examples: Vec::new(),
        });
        warning.count += 1;
        if warning.examples.len() < 3 {
            warning.examples.push(told(areas, &finding));
        }
    }
    grouped.into_values().collect()
}

fn told(areas: &Areas, finding: &Finding) -> String {
    let one = |&area: &usize| {
        let number = areas.features.get(area).copied().unwrap_or(area + 1);
        format!("feature {number} ({})", areas.ids.get(area).map_or("", String::as_str))
    };
    let named = finding.areas.iter().map(one).collect::<Vec<_>>().join(" and ");
    match finding.square_metres {
        0.0 => named,
        size if size < 10_000.0 => format!("{named}: {size:.0} m2"),
        size => format!("{named}: {:.3} km2", size / 1e6),
    }
}

fn rings(areas: &Areas) -> Vec<Finding> {
    let of_area = |(area, polygons): (usize, &Vec<Polygon>)| {
        let one = |doubt| Finding { doubt, areas: vec![area], square_metres: 0.0 };
        let order = polygons.iter().map(Polygon::order).max();
        let mended = match order {
            Some(RingOrder::OuterLater) => Some(one(Doubt::OuterLater)),
            Some(RingOrder::Turned) => Some(one(Doubt::Turned)),
            Some(RingOrder::AsNeeded) | None => None,
        };
        let crossing = polygons.iter().any(crosses_itself).then(|| one(Doubt::CrossesItself));
        mended.into_iter().chain(crossing).collect::<Vec<_>>()
    };
    let found: Vec<Vec<Finding>> = areas.polygons.par_iter().enumerate().map(of_area).collect();
    found.into_iter().flatten().collect()
}

/// Whether the border of a polygon crosses itself, between corners or in one.
fn crosses_itself(polygon: &Polygon) -> bool {
    crosses_between_corners(polygon) || crosses_in_a_corner(polygon)
}

/// Whether two edges of a polygon cross in their insides. Edges are met from west to east, so that each is compared only with those
/// that reach as far.
fn crosses_between_corners(polygon: &Polygon) -> bool {
    let mut edges: Vec<(Rect, Point, Point)> = Vec::with_capacity(polygon.edges());
    for ring in polygon.rings() {
        edges.extend(ring.windows(2).filter_map(|w| Some((Rect::around(w)?, w[0], w[1]))));
    }
    edges.sort_by(|a, b| a.0.min[0].total_cmp(&b.0.min[0]));
    edges.iter().enumerate().any(|(i, (own, a, b))| {
        let later = edges.iter().skip(i + 1).take_while(|(other, ..)| other.min[0] <= own.max[0]);
        later.filter(|(other, ..)| own.meets(other)).any(|(_, c, d)| cross(*a, *b, *c, *d))
    })
}

/// A corner of a border, with those before and behind it.
type Corner = [Point; 3];

/// Whether the border comes twice through one corner, and the second time from one side of the first to the other. Where it only
/// touches itself, every place still lies inside or outside as it seems to.
fn crosses_in_a_corner(polygon: &Polygon) -> bool {
    let mut corners: Vec<Corner> = polygon.rings().iter().flat_map(|ring| corners(ring)).collect();
    corners.sort_by(|a, b| a[1][0].total_cmp(&b[1][0]).then(a[1][1].total_cmp(&b[1][1])));
    let alike = corners.chunk_by(|a, b| a[1] == b[1]);
    alike
        .into_iter()
        .any(|same| same.iter().enumerate().any(|(i, one)| same[..i].iter().any(|other| parts_ways(other, one))))
}

/// The corners of a closed ring, of which the last is the first again.
fn corners(ring: &[Point]) -> impl Iterator<Item = Corner> {
    let before = ring.len().checked_sub(2).and_then(|last| ring.get(last)).copied();
    let first = before.zip(ring.get(1)).map(|(before, behind)| [before, ring[0], *behind]);
    first.into_iter().chain(ring.windows(3).map(|w| [w[0], w[1], w[2]]))
}

/// Whether another way through a corner begins on one side of this one and ends on the other; not where they share an edge.
fn parts_ways([before, at, behind]: &Corner, [from, _, to]: &Corner) -> bool {
    let turn = orientation(*before, *at, *behind);
    let left = |point: Point| {
        let (of_first, of_second) = (orientation(*before, *at, point), orientation(*at, *behind, point));
        if of_first == Orientation::Collinear || of_second == Orientation::Collinear {
            return None;
        }
        let lefts = [of_first, of_second].map(|side| side == Orientation::CounterClockwise);
        Some(if turn == Orientation::Clockwise { lefts[0] || lefts[1] } else { lefts[0] && lefts[1] })
    };
    left(*from).zip(left(*to)).is_some_and(|(one, other)| one != other)
}

fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    apart(orientation(a, b, c), orientation(a, b, d)) && apart(orientation(c, d, a), orientation(c, d, b))
}

fn apart(one: Orientation, other: Orientation) -> bool {
    one != other && one != Orientation::Collinear && other != Orientation::Collinear
}

/// Every polygon of the layer, with its area.
fn parts(areas: &Areas) -> (Vec<usize>, Vec<Polygon>) {
    areas.polygons.iter().enumerate().flat_map(|(i, all)| all.iter().map(move |p| (i, p.clone()))).unzip()
}

fn overlaps(areas: &Areas) -> Vec<Finding> {
    let (owners, polygons) = parts(areas);
    let pairs: Vec<(usize, usize)> = overlapping(&polygons)
        .into_iter()
        .enumerate()
        .flat_map(|(i, others)| others.into_iter().map(move |j| (i, j)))
        .filter(|&(i, j)| owners[i] != owners[j])
        .collect();
    let sizes: Vec<f64> = pairs.par_iter().map(|&(i, j)| shared(&polygons[i], &polygons[j])).collect();
    let mut by_pair: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for ((i, j), size) in pairs.into_iter().zip(sizes).filter(|(_, size)| *size > 0.0) {
        let pair = (owners[i].min(owners[j]), owners[i].max(owners[j]));
        *by_pair.entry(pair).or_default() += size;
    }
    let size_of = |area: usize| areas.polygons[area].iter().map(Polygon::area).sum::<f64>();
    let finding = |((a, b), size): ((usize, usize), f64)| {
        let doubt = if size > SHARE * size_of(a).min(size_of(b)) { Doubt::Overlap } else { Doubt::SharedSliver };
        Finding { doubt, areas: vec![a, b], square_metres: size }
    };
    by_pair.into_iter().map(finding).collect()
}

/// Square metres that two polygons share in pieces wider than rounding.
fn shared(a: &Polygon, b: &Polygon) -> f64 {
    use geo::BooleanOps;
    let origin = a.rect().min;
    let both = as_geo(a, origin).intersection(&as_geo(b, origin));
    both.iter().filter_map(|shape| from_geo(shape, origin)).filter(is_wide).map(|piece| piece.area()).sum()
}

fn is_wide(piece: &Polygon) -> bool {
    2.0 * piece.area() > NOISE * piece.border()
}

fn is_thin(piece: &Polygon) -> bool {
    let border = piece.border();
    4.0 * std::f64::consts::PI * piece.area() < THIN * border * border
}

/// Holes of the whole layer that are thin, or small beside the smallest area.
fn gaps(areas: &Areas) -> Vec<Finding> {
    let origin = areas.extent().min;
    let shapes: Vec<geo::Polygon> = areas.polygons.iter().flatten().map(|polygon| as_geo(polygon, origin)).collect();
    let whole = unary_union(&shapes);
    let rings = whole.iter().flat_map(|shape| shape.interiors());
    let holes = rings.filter_map(|ring| from_geo(&geo::Polygon::new(ring.clone(), Vec::new()), origin));
    let sizes = areas.polygons.iter().map(|all| all.iter().map(Polygon::area).sum::<f64>());
    let small = SHARE * sizes.fold(f64::INFINITY, f64::min);
    let slivers = holes.filter(|hole| is_wide(hole) && (is_thin(hole) || hole.area() < small));
    let finding =
        |hole: Polygon| Finding { doubt: Doubt::Gap, areas: beside(areas, &hole), square_metres: hole.area() };
    slivers.map(finding).collect()
}

/// The areas whose borders the gap touches.
fn beside(areas: &Areas, gap: &Polygon) -> Vec<usize> {
    let rect = gap.rect();
    let corners = gap.rings().first().map_or(&[][..], Vec::as_slice);
    let touches = |polygon: &Polygon| {
        let edges = polygon.rings().iter().flat_map(|ring| ring.windows(2));
        let near = edges.filter(|w| Rect::around(*w).is_some_and(|edge| edge.meets(&wider(&rect))));
        near.into_iter().any(|w| corners.iter().any(|&c| to_segment2(w[0], w[1], c) <= BESIDE * BESIDE))
    };
    let meets = |polygon: &&Polygon| polygon.rect().meets(&wider(&rect));
    let found = areas.polygons.iter().enumerate();
    found.filter(|(_, all)| all.iter().filter(meets).any(touches)).map(|(i, _)| i).collect()
}

fn wider(rect: &Rect) -> Rect {
    Rect { min: rect.min.map(|x| x - BESIDE), max: rect.max.map(|x| x + BESIDE) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::areas::AreaKeys;
    use crate::place::features::{AsItIs, read_geojson};

    fn areas(rings: &[&str]) -> Areas {
        let one = |(i, rings): (usize, &&str)| {
            format!(
                r#"{{"type":"Feature","properties":{{"id":"A{i}"}},"geometry":{{"type":"Polygon","coordinates":[{rings}]}}}}"#
            )
        };
        let features = rings.iter().enumerate().map(one).collect::<Vec<_>>().join(",");
        let text = format!(r#"{{"type":"FeatureCollection","features":[{features}]}}"#);
        let keys = AreaKeys { id: "id", name: None, wells_on_record: None, households: None, infants: None };
        Areas::new(read_geojson(text.as_bytes(), &AsItIs).unwrap().features, keys).unwrap()
    }

    fn found(rings: &[&str]) -> Vec<(Doubt, Vec<usize>, f64)> {
        let found = findings(&areas(rings)).into_iter();
        found.map(|f| (f.doubt, f.areas, f.square_metres.round())).collect()
    }

    const LEFT: &str = "[[0,0],[1000,0],[1000,1000],[0,1000],[0,0]]";

    #[test]
    fn a_clean_layer() {
        let right = "[[1000,0],[2000,0],[2000,1000],[1000,1000],[1000,500.05],[1000,0]]";
        let near = "[[0,1000.1],[1000,1000.1],[1000,2000],[0,2000],[0,1000.1]]";
        assert_eq!(found(&[LEFT, right, near]), []);
    }

    #[test]
    fn overlaps_and_slivers() {
        let over = "[[900,0],[2000,0],[2000,1000],[900,1000],[900,0]]";
        assert_eq!(found(&[LEFT, over]), [(Doubt::Overlap, vec![0, 1], 100_000.0)]);
        let strip = "[[999.5,0],[2000,0],[2000,1000],[999.5,1000],[999.5,0]]";
        assert_eq!(found(&[LEFT, strip]), [(Doubt::SharedSliver, vec![0, 1], 500.0)]);
        let gap = "[[1000,0],[2000,0],[2000,1000],[1000,1000],[1000,900],[1002,500],[1000,100],[1000,0]]";
        assert_eq!(found(&[LEFT, gap]), [(Doubt::Gap, vec![0, 1], 800.0)]);
        let told = warnings(&areas(&[LEFT, over]));
        assert_eq!(told[0].examples, ["feature 1 (A0) and feature 2 (A1): 0.100 km2"]);
        let lake = "[[0,0],[1000,0],[1000,1000],[0,1000],[0,0]],[[300,300],[300,600],[600,600],[600,300],[300,300]]";
        assert_eq!(found(&[lake]), []);
    }

    #[test]
    fn rings_that_cross_or_stand_in_the_wrong_order() {
        assert_eq!(found(&["[[0,0],[1000,1000],[1000,0],[0,900],[0,0]]"])[0].0, Doubt::CrossesItself);
        let crosses = |ring: &str| found(&[ring]).iter().any(|finding| finding.0 == Doubt::CrossesItself);
        assert!(crosses("[[0,0],[500,500],[1000,1000],[1000,0],[500,500],[0,1000],[0,0]]"), "in a corner");
        assert!(crosses("[[500,500],[1000,1000],[1000,0],[500,500],[0,1000],[0,0],[500,500]]"), "in its first corner");
        assert!(!crosses("[[0,0],[500,500],[1000,0],[1000,1000],[500,500],[0,1000],[0,0]]"), "it only touches itself");
        let later = format!("[[300,300],[300,600],[600,600],[600,300],[300,300]],{LEFT}");
        assert_eq!(found(&[&later]), [(Doubt::OuterLater, vec![0], 0.0)]);
        assert_eq!(found(&["[[0,0],[0,1000],[1000,1000],[1000,0],[0,0]]"]), [(Doubt::Turned, vec![0], 0.0)]);
    }
}
