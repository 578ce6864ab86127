//! The survey's ground: its areas and the coordinate system that distances are measured in.

use super::areas::{AreaKeys, Areas};
use super::bounds::Bounds;
use super::crs::{Crs, Grids, Transformer};
use super::layers::{crs_problem, layer_crs, read_layer};
use super::shape::{Point, Rect};
use super::working::{distortion, working_crs};
use crate::files::Inputs;
use crate::ids::AreaId;
use crate::plan::{AreaSource, Plan};
use crate::problem::{Problem, Problems};
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
}

impl Region {
    /// Reads the areas and settles the working system.
    ///
    /// # Errors
    /// A map file that cannot be read, ids that are missing or doubled, an unknown coordinate system.
    pub fn read(plan: &Plan, inputs: &Inputs) -> Result<Region, Problems> {
        let files = match &plan.areas.source {
            AreaSource::Files(files) => files,
            AreaSource::Grid { .. } => {
                let found = "a grid of made areas is not offered by this version";
                return Err(plan
                    .problem("areas.grid", "areas-unsupported", found, "name a GeoJSON file under areas.files")
                    .into());
            }
        };
        let grids = plan.survey.proj_grids.clone().map_or(Grids::Inside, Grids::Folder);
        let bounds = bounds(plan, inputs, files, &grids)?;
        let working = match &plan.survey.working_crs {
            Some(text) => {
                Crs::parse(text).and_then(Crs::for_work).map_err(|e| crs_problem(plan, "survey.working_crs", &e))?
            }
            None => working_crs(&bounds).map_err(|e| crs_problem(plan, "areas.files", &e))?,
        };
        let distortion = distortion(&working, &bounds).map_err(|e| crs_problem(plan, "survey.working_crs", &e))?;
        let areas = areas(plan, inputs, files, &working, &grids)?;
        Ok(Region { areas, working, grids, bounds, distortion })
    }

    /// Longitude and latitude of a place in the working system.
    ///
    /// # Errors
    /// None in practice: the way there was made before.
    pub fn to_lonlat(&self) -> Result<Transformer, super::crs::CrsFault> {
        Transformer::new(&self.working, &Crs::wgs84()?, &Grids::Inside)
    }
}

/// Longitude and latitude of everything in the area files.
fn bounds(plan: &Plan, inputs: &Inputs, files: &[PathBuf], grids: &Grids) -> Result<Bounds, Problems> {
    let wgs84 = Crs::wgs84().map_err(|e| crs_problem(plan, "areas.crs", &e))?;
    let mut corners: Vec<Point> = Vec::new();
    for path in files {
        let crs = layer_crs(plan, inputs, path, plan.areas.crs.as_deref(), "areas")?;
        let features = read_layer(plan, inputs, path, &crs, &wgs84, grids, "areas")?;
        for rect in features.iter().filter_map(|feature| feature.geometry.rect()) {
            corners.extend([rect.min, rect.max, [rect.min[0], rect.max[1]], [rect.max[0], rect.min[1]]]);
        }
    }
    let shown = files.first().cloned().unwrap_or_default();
    Bounds::of(&corners).ok_or_else(|| {
        Problem::file(&shown, "areas-empty", "no feature with a place", "areas need polygons")
            .under("areas.files")
            .into()
    })
}

fn areas(plan: &Plan, inputs: &Inputs, files: &[PathBuf], working: &Crs, grids: &Grids) -> Result<Areas, Problems> {
    let mut features = Vec::new();
    for path in files {
        let crs = layer_crs(plan, inputs, path, plan.areas.crs.as_deref(), "areas")?;
        features.extend(read_layer(plan, inputs, path, &crs, working, grids, "areas")?);
    }
    let keys = AreaKeys {
        id: &plan.areas.id,
        name: plan.areas.name.as_deref(),
        wells_on_record: plan.areas.wells_on_record.as_deref(),
    };
    let shown = files.first().cloned().unwrap_or_default();
    Areas::new(features, keys).map_err(|faults| {
        let told = faults.into_iter().map(|fault| {
            Problem::file(&shown, "area-faulty", fault.to_string(), "mend the area layer, or name other keys")
                .under("areas")
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

    /// The box around an area.
    pub fn rect(&self, area: AreaId) -> Option<Rect> {
        self.polygons.get(area.index())?.iter().map(super::shape::Polygon::rect).reduce(Rect::with)
    }
}
