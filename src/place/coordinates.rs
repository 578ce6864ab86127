//! Coordinates as written, in GeoJSON or plain, turned into shapes of the working coordinate system.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates, and windows of two have two")]

use serde::de::{Deserialize, Deserializer, SeqAccess, Visitor};

use super::crs::Transformer;
use super::features::GeometryFault;
use super::shape::{Geometry, Point, Polygon};

/// Something that takes points of a file's system into the working one.
pub trait Reproject {
    /// One point; `None` where it cannot be taken over.
    fn point(&self, p: Point) -> Option<Point>;

    /// Many, in place; those that cannot be taken over become NaN, and their number is given.
    fn points(&self, points: &mut [Point]) -> usize;

    /// Degrees after which x begins anew; `None` where it does not.
    fn round(&self) -> Option<f64> {
        None
    }
}

impl Reproject for Transformer {
    fn round(&self) -> Option<f64> {
        self.from_degrees().then_some(360.0)
    }

    fn point(&self, p: Point) -> Option<Point> {
        Transformer::point(self, p)
    }

    fn points(&self, points: &mut [Point]) -> usize {
        Transformer::points(self, points)
    }
}

/// Leaves every point where it is.
#[derive(Clone, Copy, Debug, Default)]
pub struct AsItIs;

impl Reproject for AsItIs {
    fn point(&self, p: Point) -> Option<Point> {
        Some(p)
    }

    fn points(&self, _: &mut [Point]) -> usize {
        0
    }
}

/// A geometry as written.
#[derive(Default, serde::Deserialize)]
pub(crate) struct Shape {
    #[serde(rename = "type", default)]
    pub kind: String,
    #[serde(default)]
    pub coordinates: Option<Nest>,
    #[serde(default)]
    pub geometries: Vec<Shape>,
}

/// Lists in lists, with positions at the bottom.
#[derive(Clone, Debug)]
pub(crate) enum Nest {
    Number(f64),
    Position(Point),
    List(Vec<Nest>),
}

impl<'de> Deserialize<'de> for Nest {
    fn deserialize<D: Deserializer<'de>>(json: D) -> Result<Nest, D::Error> {
        json.deserialize_any(NestVisitor)
    }
}

struct NestVisitor;

impl<'de> Visitor<'de> for NestVisitor {
    type Value = Nest;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a number or a list")
    }

    fn visit_f64<E>(self, x: f64) -> Result<Nest, E> {
        Ok(Nest::Number(x))
    }

    fn visit_i64<E>(self, x: i64) -> Result<Nest, E> {
        Ok(Nest::Number(x as f64))
    }

    fn visit_u64<E>(self, x: u64) -> Result<Nest, E> {
        Ok(Nest::Number(x as f64))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Nest, A::Error> {
        let Some(first) = list.next_element::<Nest>()? else {
            return Ok(Nest::List(Vec::new()));
        };
        let second = list.next_element::<Nest>()?;
        if let (Nest::Number(x), Some(Nest::Number(y))) = (&first, &second) {
            while list.next_element::<serde::de::IgnoredAny>()?.is_some() {}
            return Ok(Nest::Position([*x, *y]));
        }
        let mut nests = vec![first];
        nests.extend(second);
        while let Some(next) = list.next_element()? {
            nests.push(next);
        }
        Ok(Nest::List(nests))
    }
}

impl Nest {
    fn found(&self) -> String {
        match self {
            Nest::Number(x) => format!("the number {x}"),
            Nest::Position(p) => format!("the position {}, {}", p[0], p[1]),
            Nest::List(list) if list.is_empty() => "an empty list".to_owned(),
            Nest::List(list) => format!("a list of {}", list.len()),
        }
    }
}

/// Takes a geometry over.
pub(crate) fn shape(written: Shape, into: &impl Reproject) -> Result<Geometry, GeometryFault> {
    if written.kind == "GeometryCollection" {
        return collection(written.geometries, into);
    }
    let Some(nest) = written.coordinates else {
        return Err(GeometryFault::Coordinates { kind: "geometry", found: "none".to_owned() });
    };
    match written.kind.as_str() {
        "Point" => Ok(if is_empty(&nest) {
            Geometry::Empty
        } else {
            Geometry::Points(taken(vec![position(nest, "Point")?], into)?)
        }),
        "MultiPoint" => Ok(Geometry::Points(taken(positions(nest, "MultiPoint")?, into)?)),
        "LineString" => Ok(Geometry::Lines(vec![line(nest, "LineString", into)?])),
        "MultiLineString" => {
            let lines = list(nest, "MultiLineString")?.into_iter();
            Ok(Geometry::Lines(lines.map(|nest| line(nest, "MultiLineString", into)).collect::<Result<_, _>>()?))
        }
        "Polygon" if is_empty(&nest) => Ok(Geometry::Empty),
        "Polygon" => Ok(Geometry::Polygons(vec![polygon(nest, "Polygon", into)?])),
        "MultiPolygon" => {
            let polygons = list(nest, "MultiPolygon")?.into_iter();
            Ok(Geometry::Polygons(polygons.map(|nest| polygon(nest, "MultiPolygon", into)).collect::<Result<_, _>>()?))
        }
        other => Err(GeometryFault::Type { found: other.to_owned() }),
    }
}

fn is_empty(nest: &Nest) -> bool {
    matches!(nest, Nest::List(list) if list.is_empty())
}

fn collection(members: Vec<Shape>, into: &impl Reproject) -> Result<Geometry, GeometryFault> {
    let mut all = Geometry::Empty;
    for member in members {
        all = all.joined(shape(member, into)?)?;
    }
    Ok(all)
}

impl Geometry {
    /// Both as one geometry.
    ///
    /// # Errors
    /// `Mixed` where they are of different kinds.
    pub(super) fn joined(self, other: Geometry) -> Result<Geometry, GeometryFault> {
        match (self, other) {
            (one, Geometry::Empty) | (Geometry::Empty, one) => Ok(one),
            (Geometry::Points(a), Geometry::Points(b)) => Ok(Geometry::Points(both(a, b))),
            (Geometry::Lines(a), Geometry::Lines(b)) => Ok(Geometry::Lines(both(a, b))),
            (Geometry::Polygons(a), Geometry::Polygons(b)) => Ok(Geometry::Polygons(both(a, b))),
            (a, b) => Err(GeometryFault::Mixed { first: a.kind(), second: b.kind() }),
        }
    }
}

fn both<T>(mut a: Vec<T>, b: Vec<T>) -> Vec<T> {
    a.extend(b);
    a
}

fn list(nest: Nest, kind: &'static str) -> Result<Vec<Nest>, GeometryFault> {
    match nest {
        Nest::List(list) => Ok(list),
        other => Err(GeometryFault::Coordinates { kind, found: other.found() }),
    }
}

fn position(nest: Nest, kind: &'static str) -> Result<Point, GeometryFault> {
    match nest {
        Nest::Position(p) => Ok(p),
        other => Err(GeometryFault::Coordinates { kind, found: other.found() }),
    }
}

fn positions(nest: Nest, kind: &'static str) -> Result<Vec<Point>, GeometryFault> {
    list(nest, kind)?.into_iter().map(|nest| position(nest, kind)).collect()
}

fn polygon(nest: Nest, kind: &'static str, into: &impl Reproject) -> Result<Polygon, GeometryFault> {
    let rings = list(nest, kind)?.into_iter().map(|ring| positions(ring, kind));
    polygon_of(rings.collect::<Result<_, _>>()?, into)
}

/// A polygon of rings as written, closed or not, outer ring first.
pub(super) fn polygon_of(rings: Vec<Vec<Point>>, into: &impl Reproject) -> Result<Polygon, GeometryFault> {
    let rings = rings.into_iter().map(|mut corners| {
        if let (Some(first), true) = (corners.first().copied(), corners.first() != corners.last()) {
            corners.push(first);
        }
        course(&corners, into)
    });
    Ok(Polygon::new(rings.collect::<Result<_, _>>()?)?)
}

fn line(nest: Nest, kind: &'static str, into: &impl Reproject) -> Result<Vec<Point>, GeometryFault> {
    line_of(&positions(nest, kind)?, kind, into)
}

/// A line of corners as written.
pub(super) fn line_of(
    corners: &[Point],
    kind: &'static str,
    into: &impl Reproject,
) -> Result<Vec<Point>, GeometryFault> {
    if corners.len() < 2 {
        return Err(GeometryFault::Coordinates { kind, found: format!("a line of {} positions", corners.len()) });
    }
    course(corners, into)
}

/// Points as written.
pub(super) fn taken(corners: Vec<Point>, into: &impl Reproject) -> Result<Vec<Point>, GeometryFault> {
    let mut moved = corners.clone();
    if into.points(&mut moved) > 0 {
        let lost = corners.iter().zip(&moved).find(|(_, moved)| !moved.iter().all(|x| x.is_finite()));
        let [x, y] = lost.map_or([f64::NAN; 2], |(corner, _)| *corner);
        return Err(GeometryFault::Position { x, y });
    }
    Ok(moved)
}

/// Metres. A straight line of longitude and latitude shorter than this strays less than `STRAY` from a straight line of the
/// working system, up to 70 degrees of latitude: a parallel's arc of length L rises L² tan(latitude) / 8R above its chord.
const LONG: f64 = 1200.0;
const STRAY: f64 = 0.1;
/// Halvings of one edge: 4096 pieces.
const DEEPEST: u32 = 12;

/// The corners taken over, with points between where an edge would stray.
fn course(corners: &[Point], into: &impl Reproject) -> Result<Vec<Point>, GeometryFault> {
    let corners = &unbroken(corners, into.round());
    let moved = taken(corners.clone(), into)?;
    let mut line = Vec::with_capacity(moved.len());
    line.extend(moved.first());
    for (from, to) in corners.windows(2).zip(moved.windows(2)) {
        between([from[0], from[1]], [to[0], to[1]], into, DEEPEST, &mut line);
        line.push(to[1]);
    }
    Ok(line)
}

/// An edge of more than half the globe is one across the 180th meridian: its end is counted on, past 180 degrees. Only an edge all
/// the way round, as along the frame of a map of the world, is meant as written.
fn unbroken(corners: &[Point], round: Option<f64>) -> Vec<Point> {
    const WHOLE: f64 = 0.999_999; // so that an area some metres wide may lie across it
    let mut line = corners.to_vec();
    let Some(round) = round else { return line };
    let mut shift = 0.0;
    for (at, pair) in corners.windows(2).enumerate() {
        let step = pair[1][0] - pair[0][0];
        if step.abs() > 0.5 * round && step.abs() < WHOLE * round {
            shift -= round * step.signum();
        }
        if let Some(corner) = line.get_mut(at + 1) {
            corner[0] += shift;
        }
    }
    line
}

fn between(from: [Point; 2], to: [Point; 2], into: &impl Reproject, depth: u32, line: &mut Vec<Point>) {
    let middle = |[a, b]: [Point; 2]| [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    let apart2 = |a: Point, b: Point| (a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1]);
    if depth == 0 || apart2(to[0], to[1]) <= LONG * LONG {
        return;
    }
    let Some(half) = into.point(middle(from)) else {
        return;
    };
    if apart2(half, middle(to)) <= STRAY * STRAY {
        return;
    }
    between([from[0], middle(from)], [to[0], half], into, depth - 1, line);
    line.push(half);
    between([middle(from), from[1]], [half, to[1]], into, depth - 1, line);
}
