//! Land use from GeoTIFF rasters of class codes: the share of the circle around each well that the wanted classes cover.
//!
//! Wells are taken into the raster's own coordinate system and the circle is drawn there, since a raster cannot be moved without
//! changing its cells; a raster in degrees is refused for that reason. Cells cut by the circle count with their exact part. The
//! share is of the whole circle; what has no data or lies outside every file is counted apart. A file is never held whole: wells
//! are asked in the order of its rows, and only the pieces under them are in memory.

#![allow(
    clippy::indexing_slicing,
    reason = "the order is a permutation of the places, and points have two coordinates"
)]

mod circle;
mod file;
mod georeference;
mod source;

use super::crs::{Crs, CrsFault, CrsKind, Grids, Transformer};
use super::formats::Format;
use super::shape::Point;
use crate::files::Inputs;
use crate::problem::Problem;
use file::{RasterFile, Reading};
use georeference::Named;
use rayon::prelude::*;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Why a raster gives no shares.
#[derive(Debug, thiserror::Error)]
pub enum RasterFault {
    /// No cells at all.
    #[error("it has no cells")]
    Empty,
    /// Several numbers a cell.
    #[error("it has {0} bands, and one of class codes is needed")]
    Bands(u16),
    /// Numbers with fractions.
    #[error("its cells are not whole numbers, and class codes are needed")]
    NotCodes,
    /// No tags that say where it lies.
    #[error("it does not say where it lies: no pixel scale and tie point, and no transformation")]
    NoPlace,
    /// Its cells, or its corner, cannot be on the Earth.
    #[error("its cells have no size, or it lies farther away than the Earth is wide")]
    OffEarth,
    /// Rows that do not run along an axis.
    #[error("it is turned against its coordinate system")]
    Turned,
    /// A piece with other than the cells it should have.
    #[error("piece {number} holds {found} cells in place of {cells}")]
    Piece {
        /// Strip or tile, from 0.
        number: u32,
        /// Cells it should hold.
        cells: usize,
        /// Cells it holds.
        found: usize,
    },
    /// Cells so small that a circle holds more of them than can be counted.
    #[error(
        "a circle meets {cells} of its cells, and {most} can be counted; its cells are too small or its place is wrong"
    )]
    TooFine {
        /// Cells of the pieces that a circle meets.
        cells: u128,
        /// Most that are counted.
        most: u128,
    },
    /// What the decoder found.
    #[error("not a whole TIFF: {0}")]
    Tiff(#[from] tiff::TiffError),
    /// The file could not be read.
    #[error("cannot be read: {0}")]
    Unreadable(#[from] std::io::Error),
    /// No way from the working system.
    #[error(transparent)]
    Crs(#[from] CrsFault),
}

/// What a circle holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RasterShare {
    /// Part of the whole circle that the classes cover.
    pub share: f64,
    /// Part of the whole circle without data.
    pub unknown: f64,
}

/// Files of one coordinate system that do not overlap, and the classes that count.
#[derive(Clone, Debug)]
pub struct RasterLayer {
    files: Vec<RasterFile>,
    crs: Crs,
    classes: Vec<i64>,
    working: Crs,
    grids: Grids,
    /// In units of the raster's system.
    radius: f64,
}

/// Whether a file is a TIFF.
///
/// # Errors
/// A file that cannot be read.
pub fn is_raster(inputs: &Inputs, path: &Path) -> Result<bool, Problem> {
    let mut start = Vec::new();
    let read = inputs.open(path)?.take(4).read_to_end(&mut start);
    read.map_err(|e| crate::files::unreadable(path, &e))?;
    Ok(Format::of(&start) == Some(Format::Tiff))
}

/// What the plan says of a raster layer.
#[derive(Clone, Copy, Debug)]
pub struct RasterPlan<'a> {
    /// The files.
    pub files: &'a [PathBuf],
    /// Coordinate system, where the files do not name it.
    pub crs: Option<&'a str>,
    /// Codes of the classes that count.
    pub classes: &'a [String],
    /// Metres.
    pub radius: f64,
    /// The plan's table, such as `land_use[1]`.
    pub key: &'a str,
}

impl RasterLayer {
    /// Opens the files and checks that they fit together. Each is read through once, for its digest.
    ///
    /// # Errors
    /// Files that are no rasters of classes, lie in degrees or in different systems, or overlap; classes that are no numbers.
    pub fn open(inputs: &Inputs, plan: &RasterPlan<'_>, working: &Crs, grids: &Grids) -> Result<RasterLayer, Problem> {
        let mut files: Vec<RasterFile> = Vec::new();
        let mut crs: Option<Crs> = None;
        for path in plan.files {
            let told = |found: String, wanted: &str| {
                Problem::file(path, "raster-unfit", found, wanted).under(format!("{}.files", plan.key))
            };
            inputs.open(path).and_then(|mut file| {
                std::io::copy(&mut file, &mut std::io::sink()).map_err(|e| crate::files::unreadable(path, &e))
            })?;
            let file = RasterFile::open(inputs, path)
                .map_err(|fault| told(fault.to_string(), "save it as a GeoTIFF with one band of whole numbers"))?;
            let own = system(plan.crs, &file.named).map_err(|(found, wanted)| told(found, wanted))?;
            if crs.as_ref().is_some_and(|first| first.definition() != own.definition()) {
                return Err(told(
                    "its coordinate system is not that of the first file".to_owned(),
                    "bring all into one",
                ));
            }
            let overlapping = files.iter().find(|other| overlap(other, &file));
            if let Some(other) = overlapping {
                return Err(told(
                    format!("it overlaps {}", other.path.display()),
                    "cut them so that each cell is in one",
                ));
            }
            crs = Some(own);
            files.push(file);
        }
        let shown = plan.files.first().map_or(Path::new(""), PathBuf::as_path);
        let crs = crs.ok_or_else(|| Problem::file(shown, "raster-unfit", "no file", "name one"))?;
        let classes = classes(shown, plan)?;
        let radius = plan.radius / crs.metres_per_unit().unwrap_or(1.0);
        Ok(RasterLayer { files, crs, classes, working: working.clone(), grids: grids.clone(), radius })
    }

    /// The coordinate system in which circles are drawn.
    pub fn crs(&self) -> &Crs {
        &self.crs
    }

    /// The share for each place, given in the working system, in the order of the places.
    ///
    /// # Errors
    /// The first file that turns out to be damaged, and what is wrong with it.
    pub fn shares(&self, places: &[Point]) -> Result<Vec<RasterShare>, Problem> {
        let told = |fault: RasterFault, path: &Path| {
            Problem::file(path, "raster-unfit", fault.to_string(), "mend the file or save it again")
        };
        let Some(first) = self.files.first() else { return Ok(Vec::new()) };
        let own = self.own(places).map_err(|fault| told(fault, &first.path))?;
        let mut order: Vec<(i64, f64, u32)> = (0_u32..).zip(&own).map(|(i, p)| self.turn(first, *p, i)).collect();
        order.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
        let part = order.len().div_ceil(4 * rayon::current_num_threads()).max(1);
        let parts: Result<Vec<Vec<RasterShare>>, (RasterFault, &Path)> = order
            .par_chunks(part)
            .map(|part| self.part(&part.iter().map(|(.., i)| own[*i as usize]).collect::<Vec<_>>()))
            .collect();
        let found = parts.map_err(|(fault, path)| told(fault, path))?;
        let mut shares = vec![RasterShare { share: 0.0, unknown: 1.0 }; places.len()];
        for ((.., i), share) in order.iter().zip(found.into_iter().flatten()) {
            shares[*i as usize] = share;
        }
        Ok(shares)
    }

    /// Places in the raster's system; NaN where they cannot be taken there.
    fn own(&self, places: &[Point]) -> Result<Vec<Point>, RasterFault> {
        const BATCH: usize = 8192;
        let batch = |batch: &[Point]| -> Result<Vec<Point>, RasterFault> {
            let mut moved = batch.to_vec();
            Transformer::new(&self.working, &self.crs, &self.grids)?.points(&mut moved);
            Ok(moved)
        };
        let batches: Result<Vec<Vec<Point>>, RasterFault> = places.par_chunks(BATCH).map(batch).collect();
        Ok(batches?.into_iter().flatten().collect())
    }

    /// When a place's turn comes: by row of pieces, then by easting.
    fn turn(&self, first: &RasterFile, p: Point, i: u32) -> (i64, f64, u32) {
        let row = (p[1] - first.place.y0) / first.place.dy / f64::from(first.piece.1);
        (row.floor() as i64, p[0], i)
    }

    fn part(&self, places: &[Point]) -> Result<Vec<RasterShare>, (RasterFault, &Path)> {
        let mut open: Vec<Option<Reading<'_>>> = self.files.iter().map(|_| None).collect();
        let mut shares = Vec::with_capacity(places.len());
        for &place in places {
            let mut sums = circle::Sums::default();
            let around = super::shape::Rect::of_circle(place, self.radius);
            let met = self.files.iter().zip(&mut open).filter(|(file, _)| file.rect().meets(&around));
            for (file, slot) in met {
                let told = |fault| (fault, file.path.as_path());
                let reading = match slot {
                    Some(reading) => reading,
                    None => slot.insert(Reading::new(file, &self.classes).map_err(told)?),
                };
                let found = circle::sums(reading, place, self.radius).map_err(told)?;
                sums.counts += found.counts;
                sums.known += found.known;
            }
            let whole = std::f64::consts::PI * self.radius * self.radius;
            let share = (sums.counts / whole).clamp(0.0, 1.0);
            shares.push(RasterShare { share, unknown: (1.0 - sums.known / whole).clamp(0.0, 1.0) });
        }
        Ok(shares)
    }
}

/// The plan's coordinate system or the file's, if circles can be drawn in it.
fn system(plan: Option<&str>, named: &Named) -> Result<Crs, (String, &'static str)> {
    const REPROJECT: &str = "reproject it into a coordinate system in metres, nearest cell, and name that file";
    let text = match (plan, named) {
        (Some(text), _) => text.to_owned(),
        (None, Named::Epsg(code)) => format!("EPSG:{code}"),
        (None, Named::Degrees) => return Err(("its cells are measured in degrees".to_owned(), REPROJECT)),
        (None, Named::Nothing) => {
            let found = "it does not name its coordinate system by an EPSG code".to_owned();
            return Err((found, "name it in the plan, such as crs = \"EPSG:26915\""));
        }
    };
    let crs =
        Crs::parse(&text).map_err(|fault| (fault.to_string(), "name it in the plan, such as crs = \"EPSG:26915\""))?;
    if crs.kind() == CrsKind::Geographic {
        return Err((format!("its coordinate system, {}, is measured in degrees", crs.name()), REPROJECT));
    }
    Ok(crs)
}

/// More than half a cell in either direction.
fn overlap(a: &RasterFile, b: &RasterFile) -> bool {
    let (first, second) = (a.rect(), b.rect());
    let slack = [0.5 * a.place.dx.abs(), 0.5 * a.place.dy.abs()];
    (0..2).all(|k| first.min[k] + slack[k] < second.max[k] && second.min[k] + slack[k] < first.max[k])
}

fn classes(shown: &Path, plan: &RasterPlan<'_>) -> Result<Vec<i64>, Problem> {
    let read = |text: &String| {
        text.trim().parse::<i64>().map_err(|_| {
            let found = format!("the class {text:?} is no whole number");
            Problem::file(shown, "raster-unfit", found, "name the codes of the raster")
                .under(format!("{}.classes", plan.key))
        })
    };
    let mut classes = plan.classes.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    classes.sort_unstable();
    classes.dedup();
    Ok(classes)
}
