//! Where a raster's cells lie, from the tags of GeoTIFF.
//!
//! Rows and columns have to run along the axes of the coordinate system; a turned raster is refused. A raster whose values stand
//! for points is taken for cells with the points in their middles.
//!
//! Source: OGC 19-008r4 (GeoTIFF 1.1), sections 7.4 and B. From memory.

use super::RasterFault;
use super::source::Source;
use tiff::decoder::Decoder;
use tiff::tags::Tag;

/// Columns and rows to eastings and northings: `x = x0 + dx * column`, counted from the first cell's outer edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Georeference {
    pub x0: f64,
    pub y0: f64,
    pub dx: f64,
    pub dy: f64,
}

/// What the keys say of the coordinate system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Named {
    /// A code of the EPSG register.
    Epsg(u16),
    /// Degrees.
    Degrees,
    /// Nothing that can be looked up.
    Nothing,
}

const MODEL_TYPE: u16 = 1024;
const RASTER_TYPE: u16 = 1025;
const GEOGRAPHIC: u16 = 2048;
const PROJECTED: u16 = 3072;

/// The numbers of the keys that hold one directly.
fn keys(decoder: &mut Decoder<Source>) -> Result<Vec<(u16, u16)>, RasterFault> {
    let directory = decoder.find_tag_unsigned_vec::<u16>(Tag::GeoKeyDirectoryTag)?.unwrap_or_default();
    let (entries, _) = directory.as_chunks::<4>();
    let direct = |entry: &[u16; 4]| matches!(entry, [_, 0, ..]).then_some((entry[0], entry[3]));
    Ok(entries.iter().skip(1).filter_map(direct).collect())
}

fn value(keys: &[(u16, u16)], wanted: u16) -> Option<u16> {
    keys.iter().find(|(key, _)| *key == wanted).map(|(_, value)| *value)
}

/// The coordinate system, as far as the keys name it.
pub(super) fn named(decoder: &mut Decoder<Source>) -> Result<Named, RasterFault> {
    const USER_DEFINED: u16 = 32767;
    const DEGREES: u16 = 2;
    let keys = keys(decoder)?;
    let projected = value(&keys, PROJECTED).filter(|code| (1..USER_DEFINED).contains(code));
    Ok(match (projected, value(&keys, MODEL_TYPE)) {
        (Some(code), _) => Named::Epsg(code),
        (None, Some(DEGREES)) => Named::Degrees,
        (None, None) if value(&keys, GEOGRAPHIC).is_some() => Named::Degrees,
        (None, _) => Named::Nothing,
    })
}

/// Where the cells lie.
pub(super) fn georeference(decoder: &mut Decoder<Source>) -> Result<Georeference, RasterFault> {
    const POINT: u16 = 2;
    let mut found = placed(decoder)?;
    if value(&keys(decoder)?, RASTER_TYPE) == Some(POINT) {
        found.x0 -= 0.5 * found.dx;
        found.y0 -= 0.5 * found.dy;
    }
    if found.on_earth() { Ok(found) } else { Err(RasterFault::OffEarth) }
}

impl Georeference {
    /// Cells from a thousandth of a millimetre to more than the Earth, in whatever unit of length: squares of figures beyond that overflow.
    fn on_earth(&self) -> bool {
        const SMALLEST: f64 = 1e-6;
        const WIDEST: f64 = 1e9;
        let cell = |side: f64| (SMALLEST..=WIDEST).contains(&side.abs());
        cell(self.dx) && cell(self.dy) && self.x0.abs() <= WIDEST && self.y0.abs() <= WIDEST
    }
}

fn placed(decoder: &mut Decoder<Source>) -> Result<Georeference, RasterFault> {
    let mut numbers = |tag| decoder.get_tag_f64_vec(tag).unwrap_or_default();
    if let [dx, across, _, x0, up, dy, _, y0, ..] = numbers(Tag::ModelTransformationTag)[..] {
        if across != 0.0 || up != 0.0 {
            return Err(RasterFault::Turned);
        }
        return Ok(Georeference { x0, y0, dx, dy });
    }
    let (scale, tie) = (numbers(Tag::ModelPixelScaleTag), numbers(Tag::ModelTiepointTag));
    match (&scale[..], &tie[..]) {
        ([dx, dy, ..], [column, row, _, x, y, ..]) => {
            Ok(Georeference { x0: x - column * dx, y0: y + row * dy, dx: *dx, dy: -dy })
        }
        _ => Err(RasterFault::NoPlace),
    }
}
