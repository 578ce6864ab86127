//! Coordinate systems: turns what a file or a plan calls its coordinates into a checked `Crs`, and coordinates of one into another.
//!
//! This file alone speaks to PROJ. x is easting or longitude and y is northing or latitude, whatever the register says of axis
//! order. Nothing is fetched: the program carries its own register, and grids of datum shifts are read only from a folder that the
//! plan names. PROJ by itself would also look into folders of the machine, and write to stderr what it does not understand;
//! `QUIET_ENVIRONMENT` keeps it from both.

#![allow(clippy::indexing_slicing, reason = "a JSON value gives null for a key or place that it lacks")]

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::{Mutex, PoisonError};

use proj::{Proj, ProjBuilder, ProjCreateError};
use serde_json::Value;

use super::bounds::Bounds;
use super::names;
use super::shape::Point;

pub use super::working::{distortion, working_crs};

/// What a process must have in its environment for PROJ to use nothing of the machine: no folder of the user, and in place of the
/// machine's data folders one that cannot exist. It has to be there before the process starts (a process cannot safely change its
/// own); all other variables whose names begin with `PROJ_` have to be absent.
pub const QUIET_ENVIRONMENT: [(&str, &str); 3] =
    [("PROJ_SKIP_READ_USER_WRITABLE_DIRECTORY", "1"), ("PROJ_DATA", NOWHERE), ("PROJ_DEBUG", "0")];

const NOWHERE: &str = if cfg!(windows) { "NUL" } else { "/dev/null" };

/// Where grids of datum shifts may come from.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grids {
    /// Only what is inside the program.
    #[default]
    Inside,
    /// A folder as well, for grids in the formats NTv2, NTv1 and CTable2 (not TIFF).
    Folder(PathBuf),
}

/// Degrees or lengths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CrsKind {
    /// Longitude and latitude, in degrees.
    Geographic,
    /// Easting and northing, in a unit of length.
    Projected,
}

/// A coordinate system that PROJ knows.
#[derive(Clone, Debug, PartialEq)]
pub struct Crs {
    definition: String,
    name: String,
    kind: CrsKind,
    metres_per_unit: Option<f64>,
    area: Option<Bounds>,
    assumed: Option<&'static str>,
}

/// Why a coordinate system or a way between two cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CrsFault {
    /// Text that names no system.
    #[error("{found:?} is no coordinate system known here{}; accepted are EPSG codes, names such as NAD83 or NAD83 UTM 15N, PROJ strings and WKT", hint(nearest.as_deref()))]
    Unknown {
        /// As written.
        found: String,
        /// The known spelling most like it.
        nearest: Option<String>,
    },
    /// Heights alone, a transformation, a datum.
    #[error("{found:?} is a {kind}, and a geographic or projected coordinate system is needed")]
    NotHorizontal {
        /// As written.
        found: String,
        /// What PROJ takes it for.
        kind: String,
    },
    /// Degrees, feet or another unit where metres are needed.
    #[error("{found:?} is not measured in metres, and the working coordinate system has to be")]
    NotMetres {
        /// Name of the system.
        found: String,
    },
    /// A definition that would have PROJ open a file.
    #[error(
        "the coordinate system {found:?} names a file; grids belong in the folder of survey.proj_grids, under their own names"
    )]
    NamesFile {
        /// As written.
        found: String,
    },
    /// PROJ knows no operation between two systems.
    #[error("no way from {from:?} to {to:?}: {reason}")]
    NoWay {
        /// Name of the system to come from.
        from: String,
        /// Name of the system to get to.
        to: String,
        /// As PROJ says it.
        reason: String,
    },
    /// A region that has no place on the globe.
    #[error("an extent that is not made of finite longitudes and latitudes")]
    NoExtent,
}

fn hint(nearest: Option<&str>) -> String {
    nearest.map_or(String::new(), |name| format!(" (did you mean {name}?)"))
}

impl Crs {
    /// Reads "EPSG:4269", "4269", names as found in datum columns, PROJ strings, WKT, PROJJSON and OGC names.
    ///
    /// A name that only PROJ's register may know takes a good part of a second, and a code some milliseconds, so each spelling is
    /// read once in a run.
    ///
    /// # Errors
    /// Text that names nothing, or something that is no horizontal coordinate system.
    pub fn parse(text: &str) -> Result<Crs, CrsFault> {
        static READ: Mutex<BTreeMap<String, Result<Crs, CrsFault>>> = Mutex::new(BTreeMap::new());
        let text = text.trim();
        if let Some(known) = READ.lock().unwrap_or_else(PoisonError::into_inner).get(text) {
            return known.clone();
        }
        let read = Crs::read(text);
        READ.lock().unwrap_or_else(PoisonError::into_inner).insert(text.to_owned(), read.clone());
        read
    }

    fn read(text: &str) -> Result<Crs, CrsFault> {
        if let Some(found) = names::file_named(text) {
            return Err(CrsFault::NamesFile { found });
        }
        let reading = names::read(text);
        let assumed = reading.as_ref().and_then(|reading| reading.assumed);
        let definition = reading.map_or_else(|| as_crs(text), |reading| reading.definition);
        let esri = definition.strip_prefix("EPSG:").map(|code| format!("ESRI:{code}"));
        let found = describe(&definition).map(|proj| (proj, definition.clone()));
        let found = found.or_else(|| esri.and_then(|esri| Some((describe(&esri)?, esri))));
        let (proj, definition) = found.ok_or_else(|| unknown(text))?;
        Crs::of(text, &proj, definition, assumed)
    }

    fn of(text: &str, proj: &Proj, definition: String, assumed: Option<&'static str>) -> Result<Crs, CrsFault> {
        let json = proj.to_projjson(None, None, None).ok();
        let json: Value = json.and_then(|json| serde_json::from_str(&json).ok()).ok_or_else(|| unknown(text))?;
        let name = json["name"].as_str().unwrap_or(text).to_owned();
        if is_bare_name(&definition) && letters(&name) != letters(&definition) {
            return Err(unknown(text));
        }
        let horizontal = horizontal(&json);
        let kind = match horizontal["type"].as_str().unwrap_or("nothing") {
            "GeographicCRS" => CrsKind::Geographic,
            "ProjectedCRS" => CrsKind::Projected,
            other => {
                return Err(CrsFault::NotHorizontal { found: text.to_owned(), kind: other.to_owned() });
            }
        };
        let metres_per_unit = if kind == CrsKind::Projected { unit(horizontal) } else { None };
        let area = proj.area_of_use().ok().and_then(|(area, _)| area);
        let area = area.map(|a| Bounds { west: a.west, south: a.south, east: a.east, north: a.north });
        Ok(Crs { definition, name, kind, metres_per_unit, area, assumed })
    }

    /// Longitude and latitude on WGS 84.
    ///
    /// # Errors
    /// None but a broken register.
    pub fn wgs84() -> Result<Crs, CrsFault> {
        Crs::parse("EPSG:4326")
    }

    /// The zones west and east of a UTM zone in the same datum; none for any other system.
    ///
    /// The codes of a datum's zones follow each other in the EPSG register, so that a neighbour is one code away; its
    /// name is looked at, because the row of codes ends somewhere.
    pub fn zones_beside(&self) -> Vec<Crs> {
        let code = self.definition.strip_prefix("EPSG:").and_then(|code| code.parse::<u32>().ok());
        let Some((code, (family, _))) = code.zip(self.name.rsplit_once("UTM zone ")) else { return Vec::new() };
        let beside = [code.saturating_sub(1), code + 1];
        let zones = beside.into_iter().filter_map(|code| Crs::parse(&format!("EPSG:{code}")).ok());
        zones.filter(|zone| zone.name.rsplit_once("UTM zone ").is_some_and(|(other, _)| other == family)).collect()
    }

    /// What PROJ is given.
    pub fn definition(&self) -> &str {
        &self.definition
    }

    /// The register's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Degrees or lengths.
    pub fn kind(&self) -> CrsKind {
        self.kind
    }

    /// Metres to a unit of x and y; `None` for degrees.
    pub fn metres_per_unit(&self) -> Option<f64> {
        self.metres_per_unit
    }

    /// Where it is meant to be used, where that is known.
    pub fn area(&self) -> Option<&Bounds> {
        self.area.as_ref()
    }

    /// What had to be assumed about an incomplete name, worth a warning.
    pub fn assumed(&self) -> Option<&'static str> {
        self.assumed
    }

    /// Checks that distances can be measured in it.
    ///
    /// # Errors
    /// Degrees, feet and other units than metres.
    pub fn for_work(self) -> Result<Crs, CrsFault> {
        if self.metres_per_unit == Some(1.0) { Ok(self) } else { Err(CrsFault::NotMetres { found: self.name }) }
    }
}

/// A PROJ string means a coordinate system only when it says so.
fn as_crs(text: &str) -> String {
    let bare = text.contains("+proj=") && !text.contains("type=crs");
    if bare { format!("{text} +type=crs") } else { text.to_owned() }
}

/// PROJ finds names that merely resemble the one asked for; those have to be the name itself.
fn is_bare_name(definition: &str) -> bool {
    !definition.contains(['+', '[', '{', '=', ':'])
}

fn letters(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_ascii_lowercase()
}

fn describe(definition: &str) -> Option<Proj> {
    if definition.is_empty() { None } else { Proj::new(definition).ok() }
}

fn unknown(text: &str) -> CrsFault {
    let wanted = letters(text);
    let near = names::OFFERED.iter().map(|name| (strsim::jaro_winkler(&wanted, &letters(name)), *name));
    let best = near.filter(|(likeness, _)| *likeness > 0.8).max_by(|a, b| a.0.total_cmp(&b.0));
    CrsFault::Unknown { found: text.to_owned(), nearest: best.map(|(_, name)| name.to_owned()) }
}

/// The plane part of a compound or bound system.
fn horizontal(json: &Value) -> &Value {
    match json["type"].as_str() {
        Some("CompoundCRS") => horizontal(&json["components"][0]),
        Some("BoundCRS") => horizontal(&json["source_crs"]),
        _ => json,
    }
}

fn unit(json: &Value) -> Option<f64> {
    let unit = &json["coordinate_system"]["axis"][0]["unit"];
    if unit.as_str() == Some("metre") { Some(1.0) } else { unit["conversion_factor"].as_f64() }
}

/// Takes coordinates of one system into another. One per thread: it can be neither sent nor shared.
#[derive(Clone)]
pub struct Transformer {
    proj: Rc<Proj>,
    from_degrees: bool,
}

thread_local! {
    /// The ways made on a thread, by the two definitions: making one takes tens of milliseconds.
    static MADE: RefCell<BTreeMap<(String, String, Grids), Transformer>> = const { RefCell::new(BTreeMap::new()) };
}

/// What PROJ does between two systems at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Operation {
    /// As PROJ describes it.
    pub name: String,
    /// Metres; `None` where PROJ does not know.
    pub accuracy: Option<f64>,
}

/// Points handed to PROJ together; a point that fails makes its neighbours go one by one.
const BATCH: usize = 1024;

/// PROJ keeps its list of folders in one place for all threads while it is being read.
static MAKING: Mutex<()> = Mutex::new(());

impl Transformer {
    /// Finds the way. Where several operations exist PROJ picks the best one for each point.
    ///
    /// # Errors
    /// `NoWay` where PROJ knows none or the grid folder cannot be named to it.
    pub fn new(from: &Crs, to: &Crs, grids: &Grids) -> Result<Transformer, CrsFault> {
        let key = (from.definition.clone(), to.definition.clone(), grids.clone());
        if let Some(made) = MADE.with_borrow(|made| made.get(&key).cloned()) {
            return Ok(made);
        }
        let made = Transformer::make(from, to, grids)?;
        MADE.with_borrow_mut(|all| all.insert(key, made.clone()));
        Ok(made)
    }

    fn make(from: &Crs, to: &Crs, grids: &Grids) -> Result<Transformer, CrsFault> {
        let _one_at_a_time = MAKING.lock().unwrap_or_else(PoisonError::into_inner);
        let no_way = |reason: String| CrsFault::NoWay { from: from.name.clone(), to: to.name.clone(), reason };
        let mut builder = ProjBuilder::new();
        if let Grids::Folder(folder) = grids {
            builder.set_search_paths(folder).map_err(|e| no_way(e.to_string()))?;
        }
        let made = builder.proj_known_crs(&from.definition, &to.definition, None);
        made.map(|proj| Transformer { proj: Rc::new(proj), from_degrees: from.kind == CrsKind::Geographic })
            .map_err(|e: ProjCreateError| no_way(e.to_string()))
    }

    /// Whether it comes from longitude and latitude.
    pub fn from_degrees(&self) -> bool {
        self.from_degrees
    }

    /// One point; `None` where it is not finite, farther than the Earth is wide, or cannot be taken over.
    pub fn point(&self, p: Point) -> Option<Point> {
        if !on_earth(&p) {
            return None;
        }
        let (x, y) = self.proj.convert((p[0], p[1])).ok()?;
        Some([x, y]).filter(on_earth)
    }

    /// Many points in place. Those that are not finite, farther than the Earth is wide, or cannot be taken over become NaN; gives their number.
    pub fn points(&self, points: &mut [Point]) -> usize {
        points.chunks_mut(BATCH).map(|batch| self.batch(batch)).sum()
    }

    /// What is done at a place, given in the system transformed from.
    pub fn operation(&self, at: Point) -> Option<Operation> {
        self.point(at)?;
        let info = self.proj.proj_info();
        let accuracy = Some(info.accuracy).filter(|accuracy| *accuracy >= 0.0);
        Some(Operation { name: info.description.unwrap_or_default(), accuracy })
    }

    fn batch(&self, batch: &mut [Point]) -> usize {
        let mut pairs: Vec<(f64, f64)> = batch.iter().map(|p| (p[0], p[1])).collect();
        let all_on_earth = batch.iter().all(on_earth);
        if all_on_earth && self.proj.convert_array(&mut pairs).is_ok() {
            batch.iter_mut().zip(pairs).for_each(|(p, (x, y))| *p = [x, y]);
        } else {
            batch.iter_mut().for_each(|p| *p = self.point(*p).unwrap_or([f64::NAN; 2]));
        }
        batch.iter_mut().filter(|p| !on_earth(p)).map(|p| *p = [f64::NAN; 2]).count()
    }
}

/// Whether both numbers are finite and of a size that a place on the Earth can have, in any unit and with any false easting: squares of
/// greater ones would run over later.
fn on_earth(p: &Point) -> bool {
    const FARTHEST: f64 = 1e9;
    p.iter().all(|x| x.abs() <= FARTHEST)
}

#[cfg(test)]
#[path = "crs_tests.rs"]
mod tests;
