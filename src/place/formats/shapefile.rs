//! A shapefile: shapes from the .shp file, attributes from the .dbf, coordinate system from the .prj, all of them side by side.
//!
//! The shapes are read here rather than by a crate so that a damaged file names its record and nothing can panic. A ring's
//! direction says what it is: clockwise an outer ring, counterclockwise a hole, which goes to the smallest outer ring around it.
//!
//! Source: ESRI Shapefile Technical Description, July 1998 (from memory).

use super::bytes::{Bytes, Order};
use super::dbf;
use crate::files::Inputs;
use crate::place::coordinates::{Reproject, line_of, polygon_of, taken};
use crate::place::features::{Feature, FeatureFault, GeometryFault};
use crate::place::polygons::PolygonSet;
use crate::place::shape::{Geometry, Point, Polygon, signed_area};
use crate::problem::Problem;
use serde_json::{Map, Value};
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// An opened shapefile.
#[derive(Debug)]
pub(super) struct Shapefile {
    shapes: Vec<u8>,
    rows: Vec<Map<String, Value>>,
}

/// Bytes of the file's header, and of each record's.
const HEADER: usize = 100;

impl Shapefile {
    /// Opens it with its neighbours; gives the text of the .prj file too.
    pub fn open(inputs: &Inputs, path: &Path, shapes: Vec<u8>) -> Result<(Shapefile, Option<String>), Problem> {
        let text = |ending: &str| -> Result<Option<String>, Problem> {
            let bytes = beside(path, ending).map(|part| inputs.read(&part)).transpose()?;
            let text = bytes.map(|bytes| String::from_utf8_lossy(&bytes).trim().trim_matches('\0').to_owned());
            Ok(text.filter(|text| !text.is_empty()))
        };
        let crs = text("prj")?;
        let encoding = text("cpg")?;
        let Some(table) = beside(path, "dbf") else {
            let found = "there is no .dbf file beside it, which holds the attributes";
            return Err(Problem::file(path, "map-unreadable", found, "put the .dbf file beside the .shp file"));
        };
        let rows = dbf::rows(&inputs.read(&table)?, encoding.as_deref());
        let rows = rows.map_err(|found| Problem::file(&table, "map-unreadable", found, "mend the file"))?;
        Ok((Shapefile { shapes, rows }, crs))
    }

    /// Every record, with its attributes.
    pub fn features(&self, into: &impl Reproject) -> Result<Vec<Feature>, FeatureFault> {
        let mut file = Bytes::new(&self.shapes);
        file.take(HEADER).ok_or_else(|| damaged("the header breaks off".to_owned()))?;
        let mut features = Vec::new();
        while file.left() > 0 {
            let number = features.len() + 1;
            let record = record(&mut file).ok_or_else(|| damaged(format!("record {number} breaks off")))?;
            let written = written(record).ok_or_else(|| damaged(format!("record {number} contradicts itself")))?;
            let geometry =
                geometry(written, into).map_err(|reason| FeatureFault::Geometry { feature: number, reason })?;
            let properties = self.rows.get(number - 1).cloned();
            let properties =
                properties.ok_or_else(|| damaged(format!("record {number} has no row in the .dbf file")))?;
            features.push(Feature { number, properties, geometry });
        }
        if features.len() < self.rows.len() {
            return Err(damaged(format!("{} records and {} rows in the .dbf file", features.len(), self.rows.len())));
        }
        Ok(features)
    }
}

fn damaged(found: String) -> FeatureFault {
    FeatureFault::Damaged { format: "shapefile", found }
}

/// The file of the same name with another ending, in small or capital letters.
fn beside(path: &Path, ending: &str) -> Option<PathBuf> {
    let endings = [ending.to_owned(), ending.to_uppercase()];
    let with = |ending: &String| path.with_extension(OsStr::new(ending));
    endings.iter().map(with).find(|part| part.is_file())
}

/// The content of the next record; its length counts 16-bit words.
fn record<'a>(file: &mut Bytes<'a>) -> Option<Bytes<'a>> {
    let _number = file.u32(Order::Big)?;
    let words = file.u32(Order::Big)?;
    file.take(usize::try_from(words).ok()?.checked_mul(2)?).map(Bytes::new)
}

/// A shape as written.
enum Written {
    Nothing,
    Points(Vec<Point>),
    Lines(Vec<Vec<Point>>),
    Rings(Vec<Vec<Point>>),
    Other(u32),
}

/// Types 10 and 20 higher carry heights and measures after the plain coordinates, which are passed over.
fn written(mut record: Bytes<'_>) -> Option<Written> {
    const BOX: usize = 32;
    let kind = record.u32(Order::Little)?;
    Some(match kind {
        0 => Written::Nothing,
        1 | 11 | 21 => Written::Points(record.points(1, 2, Order::Little)?),
        8 | 18 | 28 => {
            record.take(BOX)?;
            let count = record.u32(Order::Little)? as usize;
            Written::Points(record.points(count, 2, Order::Little)?)
        }
        3 | 13 | 23 => Written::Lines(parts(record)?),
        5 | 15 | 25 => Written::Rings(parts(record)?),
        other => Written::Other(other),
    })
}

fn parts(mut record: Bytes<'_>) -> Option<Vec<Vec<Point>>> {
    const BOX: usize = 32;
    record.take(BOX)?;
    let (count, corners) = (record.u32(Order::Little)? as usize, record.u32(Order::Little)? as usize);
    let mut starts = Bytes::new(record.take(count.checked_mul(4)?)?);
    let mut starts: Vec<usize> =
        (0..count).map(|_| starts.u32(Order::Little).map(|start| start as usize)).collect::<Option<_>>()?;
    starts.push(corners);
    let points = record.points(corners, 2, Order::Little)?;
    let ends = starts.iter().skip(1);
    starts.iter().zip(ends).map(|(start, end)| points.get(*start..*end).map(<[Point]>::to_vec)).collect()
}

fn geometry(written: Written, into: &impl Reproject) -> Result<Geometry, GeometryFault> {
    match written {
        Written::Nothing => Ok(Geometry::Empty),
        Written::Points(points) if points.is_empty() => Ok(Geometry::Empty),
        Written::Points(points) => Ok(Geometry::Points(taken(points, into)?)),
        Written::Lines(lines) => {
            Ok(Geometry::Lines(lines.iter().map(|line| line_of(line, "line", into)).collect::<Result<_, _>>()?))
        }
        Written::Rings(rings) if rings.is_empty() => Ok(Geometry::Empty),
        Written::Rings(rings) => {
            let grouped = grouped(rings)?.into_iter().map(|rings| polygon_of(rings, into));
            Ok(Geometry::Polygons(grouped.collect::<Result<_, _>>()?))
        }
        Written::Other(kind) => Err(GeometryFault::Type { found: format!("shape type {kind}") }),
    }
}

/// Outer rings, each followed by its holes, all turned as ours run. A hole in no outer ring is taken for an outer ring.
fn grouped(rings: Vec<Vec<Point>>) -> Result<Vec<Vec<Vec<Point>>>, GeometryFault> {
    let turned = rings.into_iter().map(|mut ring| {
        ring.reverse();
        ring
    });
    let (mut outers, holes): (Vec<_>, Vec<_>) = turned.partition(|ring| signed_area(ring) >= 0.0);
    if outers.len() == 1 {
        outers.extend(holes);
        return Ok(vec![outers]);
    }
    let shapes = outers.iter().map(|ring| Polygon::new(vec![ring.clone()])).collect::<Result<Vec<_>, _>>()?;
    let set = PolygonSet::new((0_u32..).zip(&shapes));
    let area = |outer: usize| shapes.get(outer).map_or(0.0, Polygon::area);
    let mut groups: Vec<Vec<Vec<Point>>> = outers.into_iter().map(|ring| vec![ring]).collect();
    for mut hole in holes {
        let around = hole.first().map_or(Vec::new(), |&corner| set.locate_all(corner));
        let smallest = around.into_iter().min_by(|&a, &b| area(a).total_cmp(&area(b)));
        match smallest.and_then(|outer| groups.get_mut(outer)) {
            Some(group) => group.push(hole),
            None => {
                hole.reverse();
                groups.push(vec![hole]);
            }
        }
    }
    Ok(groups)
}
