//! Well-known binary turned into shapes: what a GeoPackage keeps in its geometry column.
//!
//! Heights and measures are passed over, in the ISO spelling (types 1000, 2000 and 3000 higher) and in the older one with flags in
//! the high bits. Curves, surfaces and mixed collections are refused by name.
//!
//! Source: OGC 06-103r4 (Simple Feature Access, part 1), section 8; OGC 12-128r19 (GeoPackage), section 2.1.3. From memory.

use super::bytes::{Bytes, Order};
use crate::place::coordinates::{Reproject, line_of, polygon_of, taken};
use crate::place::features::GeometryFault;
use crate::place::shape::{Geometry, Point, Polygon, signed_area};

/// A geometry of a GeoPackage: a header with magic, flags and perhaps a box, then well-known binary.
pub(super) fn geopackage_geometry(blob: &[u8], into: &impl Reproject) -> Result<Geometry, GeometryFault> {
    let found = || broken("no GeoPackage geometry");
    let mut bytes = Bytes::new(blob);
    let magic = bytes.take(3).ok_or_else(found)?;
    let flags = bytes.byte().ok_or_else(found)?;
    bytes.take(4).ok_or_else(found)?;
    let doubles = match flags >> 1 & 7 {
        0 => 0,
        1 => 4,
        2 | 3 => 6,
        4 => 8,
        _ => return Err(found()),
    };
    bytes.take(doubles * 8).ok_or_else(found)?;
    if !magic.starts_with(b"GP") {
        return Err(found());
    }
    const EXTENDED: u8 = 0x20;
    if flags & EXTENDED != 0 {
        return Err(GeometryFault::Type { found: "an extension of GeoPackage".to_owned() });
    }
    one(&mut bytes, into, 0)
}

fn broken(what: &str) -> GeometryFault {
    GeometryFault::Coordinates { kind: "geometry", found: what.to_owned() }
}

fn ends() -> GeometryFault {
    broken("bytes that break off")
}

/// Collections in collections deeper than this are refused.
const DEEPEST: u32 = 8;

fn one(bytes: &mut Bytes<'_>, into: &impl Reproject, depth: u32) -> Result<Geometry, GeometryFault> {
    let order = if bytes.byte().ok_or_else(ends)? == 0 { Order::Big } else { Order::Little };
    let code = bytes.u32(order).ok_or_else(ends)?;
    let (kind, width) = kind_of(code);
    if code & HAS_SYSTEM != 0 {
        bytes.u32(order).ok_or_else(ends)?;
    }
    let points = |bytes: &mut Bytes<'_>| run(bytes, width, order);
    match kind {
        1 => {
            let point = bytes.points(1, width, order).ok_or_else(ends)?;
            let nowhere = point.iter().flatten().all(|x| x.is_nan());
            Ok(if nowhere { Geometry::Empty } else { Geometry::Points(taken(point, into)?) })
        }
        2 => {
            let line = points(bytes)?;
            Ok(if line.is_empty() {
                Geometry::Empty
            } else {
                Geometry::Lines(vec![line_of(&line, "LineString", into)?])
            })
        }
        3 => {
            Ok(polygon(bytes, width, order, into)?.map_or(Geometry::Empty, |polygon| Geometry::Polygons(vec![polygon])))
        }
        4..=7 if depth < DEEPEST => {
            let count = bytes.u32(order).ok_or_else(ends)?;
            (0..count).try_fold(Geometry::Empty, |all, _| all.joined(one(bytes, into, depth + 1)?))
        }
        other => Err(GeometryFault::Type { found: format!("type {other} of well-known binary") }),
    }
}

const HAS_Z: u32 = 0x8000_0000;
const HAS_M: u32 = 0x4000_0000;
const HAS_SYSTEM: u32 = 0x2000_0000;

/// The kind without its dimensions, and the number of doubles of a position.
fn kind_of(code: u32) -> (u32, usize) {
    let plain = code & !(HAS_Z | HAS_M | HAS_SYSTEM);
    let flags = usize::from(code & HAS_Z != 0) + usize::from(code & HAS_M != 0);
    let iso = match plain / 1000 {
        0 => 0,
        1 | 2 => 1,
        _ => 2,
    };
    (plain % 1000, 2 + flags.max(iso))
}

fn run(bytes: &mut Bytes<'_>, width: usize, order: Order) -> Result<Vec<Point>, GeometryFault> {
    let count = bytes.u32(order).ok_or_else(ends)? as usize;
    bytes.points(count, width, order).ok_or_else(ends)
}

/// Which way rings run is left open by the standard, so they are turned without a word.
fn polygon(
    bytes: &mut Bytes<'_>,
    width: usize,
    order: Order,
    into: &impl Reproject,
) -> Result<Option<Polygon>, GeometryFault> {
    let count = bytes.u32(order).ok_or_else(ends)?;
    let mut rings = Vec::new();
    for ring in 0..count {
        let mut corners = run(bytes, width, order)?;
        if (signed_area(&corners) < 0.0) == (ring == 0) {
            corners.reverse();
        }
        rings.push(corners);
    }
    if rings.is_empty() { Ok(None) } else { polygon_of(rings, into).map(Some) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::features::AsItIs;

    fn geometry(parts: &[&[u8]]) -> Result<Geometry, GeometryFault> {
        let head: &[u8] = &[b'G', b'P', 0, 1, 0, 0, 0, 0];
        geopackage_geometry(&[&[head], parts].concat().concat(), &AsItIs)
    }

    #[test]
    fn dimensions_and_byte_orders() {
        let (x, y, z) = (1.5_f64, -2.0_f64, 9.0_f64);
        let little: &[&[u8]] = &[&[1, 1, 0, 0, 0], &x.to_le_bytes(), &y.to_le_bytes()];
        let big: &[&[u8]] = &[&[0, 0, 0, 0x03, 0xe9], &x.to_be_bytes(), &y.to_be_bytes(), &z.to_be_bytes()];
        let flagged: &[&[u8]] =
            &[&[1, 1, 0, 0, 0xa0, 0xe6, 0x10, 0, 0], &x.to_le_bytes(), &y.to_le_bytes(), &z.to_le_bytes()];
        for parts in [little, big, flagged] {
            assert_eq!(geometry(parts), Ok(Geometry::Points(vec![[1.5, -2.0]])));
        }
        let nowhere: &[&[u8]] = &[&[1, 1, 0, 0, 0], &f64::NAN.to_le_bytes(), &f64::NAN.to_le_bytes()];
        assert_eq!(geometry(nowhere), Ok(Geometry::Empty));
    }

    #[test]
    fn what_cannot_be_read() {
        assert!(matches!(geometry(&[&[1, 10, 0, 0, 0]]), Err(GeometryFault::Type { .. })));
        assert_eq!(geometry(&[&[1, 1, 0, 0, 0, 7]]), Err(ends()));
        assert_eq!(geometry(&[&[1, 3, 0, 0, 0, 1, 0, 0, 0, 255, 255, 255, 255]]), Err(ends()));
        assert!(geopackage_geometry(b"", &AsItIs).is_err());
    }
}
