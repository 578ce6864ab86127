//! The survey's ground: its areas and the coordinate system that distances are measured in.

use super::areas::{AreaKeys, Areas};
use super::bounds::Bounds;
use super::cells;
use super::checks;
use super::crs::{Crs, Grids, Transformer};
use super::features::Feature;
use super::hexes;
use super::layers::{MapFiles, OpenMap, crs_problem};
use super::shape::{Point, Rect};
use super::working::{distortion, working_crs};
use crate::files::Inputs;
use crate::ids::AreaId;
use crate::plan::{AreaSource, AreasPart, Plan};
use crate::problem::{Problem, Problems, Warning};
use std::path::PathBuf;

/// Distance distortion above this share is worth a warning.
pub const WORTH_A_WARNING: f64 = 0.005;

/// Areas, working coordinate system and how true it is.
#[derive(Debug)]
pub struct Region {
    /// The areas, in file order.
    pub areas: Areas,
    /// Everything is measured in this one, in metres.
    pub working: Crs,
    /// Grid files of the plan, if any.
    pub grids: Grids,
    /// Longitude and latitude of the region.
    pub bounds: Bounds,
    /// Greatest distance distortion over the region, a share.
    pub distortion: f64,
    /// What is doubtful about the areas.
    pub warnings: Vec<Warning>,
}

impl Region {
    /// Reads or makes the areas and settles the working system; `places` gives the wells' longitudes and latitudes, and is asked
    /// only where cells are to be made around them.
    ///
    /// # Errors
    /// A map file that cannot be read, ids that are missing or doubled, an unknown coordinate system, no well with a place.
    pub fn read(
        plan: &Plan,
        inputs: &Inputs,
        places: impl FnOnce(&Grids) -> Result<Vec<Point>, Problem>,
    ) -> Result<Region, Problems> {
        match &plan.areas.source {
            AreaSource::Files(files) => Region::of_files(plan, inputs, files),
            _ => Region::of_cells(plan, &places(&grids(plan))?),
        }
    }

    fn of_files(plan: &Plan, inputs: &Inputs, files: &[PathBuf]) -> Result<Region, Problems> {
        let maps = maps(&plan.areas, files).open(plan, inputs)?;
        let grids = grids(plan);
        let bounds = bounds(plan, inputs, files, &maps, &grids)?;
        let working = working(plan, &bounds, &format!("{}.files", plan.areas.key))?;
        let features = all_features(plan, inputs, &maps, &working, &grids)?;
        let areas = areas(&plan.areas, files, features)?;
        Region::on(plan, areas, working, grids, bounds)
    }

    /// Cells around the wells.
    fn of_cells(plan: &Plan, places: &[Point]) -> Result<Region, Problems> {
        let key = format!("{}.grid", plan.areas.key);
        let places = cells::region_of(places);
        let nowhere =
            || plan.problem(&key, "areas-empty", "no well has a place", "check the well lists' columns and crs");
        let bounds = Bounds::of(&places).ok_or_else(nowhere)?;
        let working = working(plan, &bounds, &key)?;
        let areas = made(plan, &plan.areas, &working, places)?;
        Region::on(plan, areas, working, grids(plan), bounds)
    }

    /// The same ground, divided otherwise: the areas of a further layer. `places` as for `read`.
    ///
    /// # Errors
    /// As `read`.
    pub fn divided(
        &self,
        plan: &Plan,
        inputs: &Inputs,
        part: &AreasPart,
        places: impl FnOnce(&Grids) -> Result<Vec<Point>, Problem>,
    ) -> Result<Region, Problems> {
        let areas = match &part.source {
            AreaSource::Files(files) => {
                let maps = maps(part, files).open(plan, inputs)?;
                areas(part, files, all_features(plan, inputs, &maps, &self.working, &self.grids)?)?
            }
            _ => made(plan, part, &self.working, cells::region_of(&places(&self.grids)?))?,
        };
        let warnings = checks::warnings(&areas);
        let (working, grids) = (self.working.clone(), self.grids.clone());
        Ok(Region { areas, working, grids, bounds: self.bounds, distortion: self.distortion, warnings })
    }

    fn on(plan: &Plan, areas: Areas, working: Crs, grids: Grids, bounds: Bounds) -> Result<Region, Problems> {
        let distortion = distortion(&working, &bounds).map_err(|e| crs_problem(plan, "survey.working_crs", &e))?;
        let warnings = checks::warnings(&areas);
        Ok(Region { areas, working, grids, bounds, distortion, warnings })
    }

    /// Longitude and latitude of a place in the working system.
    ///
    /// # Errors
    /// None in practice: the way there was made before.
    pub fn to_lonlat(&self) -> Result<Transformer, super::crs::CrsFault> {
        Transformer::new(&self.working, &Crs::wgs84()?, &Grids::Inside)
    }
}

fn grids(plan: &Plan) -> Grids {
    plan.survey.proj_grids.clone().map_or(Grids::Inside, Grids::Folder)
}

/// The plan's working system, or one made for the region; `source` is the key that the region comes from.
fn working(plan: &Plan, bounds: &Bounds, source: &str) -> Result<Crs, Problem> {
    match &plan.survey.working_crs {
        Some(text) => Crs::parse(text).and_then(Crs::for_work).map_err(|e| crs_problem(plan, "survey.working_crs", &e)),
        None => working_crs(bounds).map_err(|e| crs_problem(plan, source, &e)),
    }
}

/// Longitude and latitude of everything in the area files.
fn bounds(
    plan: &Plan,
    inputs: &Inputs,
    files: &[PathBuf],
    maps: &[OpenMap<'_>],
    grids: &Grids,
) -> Result<Bounds, Problems> {
    let wgs84 = Crs::wgs84().map_err(|e| crs_problem(plan, "areas.crs", &e))?;
    let features = all_features(plan, inputs, maps, &wgs84, grids)?;
    let rects = features.iter().filter_map(|feature| feature.geometry.rect());
    let corners: Vec<Point> = rects.flat_map(|r| [r.min, r.max, [r.min[0], r.max[1]], [r.max[0], r.min[1]]]).collect();
    let shown = files.first().cloned().unwrap_or_default();
    Bounds::of(&corners).ok_or_else(|| {
        Problem::file(&shown, "areas-empty", "no feature with a place", "areas need polygons")
            .under("areas.files")
            .into()
    })
}

fn all_features(
    plan: &Plan,
    inputs: &Inputs,
    maps: &[OpenMap<'_>],
    into: &Crs,
    grids: &Grids,
) -> Result<Vec<Feature>, Problems> {
    let mut features = Vec::new();
    for map in maps {
        features.extend(map.features(plan, inputs, into, grids, "areas")?);
    }
    Ok(features)
}

fn maps<'a>(part: &'a AreasPart, files: &'a [PathBuf]) -> MapFiles<'a> {
    MapFiles { files, crs: part.crs.as_deref(), layer: part.layer.as_deref(), key: &part.key }
}

/// Cells around places given as longitude and latitude.
fn made(plan: &Plan, part: &AreasPart, working: &Crs, mut places: Vec<Point>) -> Result<Areas, Problems> {
    let way = Crs::wgs84().and_then(|wgs84| Transformer::new(&wgs84, working, &Grids::Inside));
    let way = way.map_err(|e| crs_problem(plan, "survey.working_crs", &e))?;
    let key = format!("{}.grid", part.key);
    let faulty = |found: String| plan.problem(&key, "area-faulty", found, "choose another size_m or resolution");
    let features = match part.source {
        AreaSource::H3 { resolution } => hexes::made(resolution, &places, &way),
        AreaSource::Grid { kind, size_m } => {
            way.points(&mut places);
            cells::made(kind, size_m, &places)
        }
        AreaSource::Files(_) => Ok(Vec::new()),
    };
    let features = features.map_err(|e| faulty(e.to_string()))?;
    let keys = AreaKeys { id: cells::ID, name: None, wells_on_record: None, households: None, infants: None };
    Areas::new(features, keys)
        .map_err(|faults| Problems(faults.iter().map(|fault| faulty(fault.to_string())).collect()))
}

fn areas(part: &AreasPart, files: &[PathBuf], features: Vec<Feature>) -> Result<Areas, Problems> {
    let keys = AreaKeys {
        id: &part.id,
        name: part.name.as_deref(),
        wells_on_record: part.wells_on_record.as_deref(),
        households: part.households.as_deref(),
        infants: part.infants.as_deref(),
    };
    let shown = files.first().cloned().unwrap_or_default();
    Areas::new(features, keys).map_err(|faults| {
        let told = faults.into_iter().map(|fault| {
            Problem::file(&shown, "area-faulty", fault.to_string(), "mend the area layer, or name other keys")
                .under(&part.key)
        });
        Problems(told.collect())
    })
}

impl Areas {
    /// An area's id.
    pub fn id(&self, area: AreaId) -> &str {
        self.ids.get(area.index()).map_or("", String::as_str)
    }

    /// An area's name.
    pub fn name(&self, area: AreaId) -> &str {
        self.names.get(area.index()).map_or("", String::as_str)
    }

    /// Private wells on record in an area.
    pub fn wells_on_record(&self, area: AreaId) -> Option<u32> {
        self.wells_on_record.get(area.index()).copied().flatten()
    }

    /// Households on private wells in an area.
    pub fn households(&self, area: AreaId) -> Option<u32> {
        self.households.get(area.index()).copied().flatten()
    }

    /// Infants in households on private wells in an area.
    pub fn infants(&self, area: AreaId) -> Option<u32> {
        self.infants.get(area.index()).copied().flatten()
    }

    /// The box around an area.
    pub fn rect(&self, area: AreaId) -> Option<Rect> {
        self.polygons.get(area.index())?.iter().map(super::shape::Polygon::rect).reduce(Rect::with)
    }
}
