//! Map files of a plan, read into the working coordinate system.

use super::crs::{Crs, CrsFault, Grids, Transformer};
use super::features::Feature;
use super::formats::MapFile;
use super::polygons::PolygonSet;
use super::region::Region;
use crate::files::Inputs;
use crate::plan::Plan;
use crate::problem::{Problem, Problems};
use std::path::{Path, PathBuf};

/// The map files of one of the plan's tables.
#[derive(Clone, Copy, Debug)]
pub struct MapFiles<'a> {
    /// In the plan's order.
    pub files: &'a [PathBuf],
    /// Coordinate system as the plan names it; otherwise the file's own.
    pub crs: Option<&'a str>,
    /// Layer of a file that has several.
    pub layer: Option<&'a str>,
    /// The table, such as `land_use[1]`.
    pub key: &'a str,
}

/// An opened map file and its coordinate system.
#[derive(Debug)]
pub struct OpenMap<'a> {
    path: &'a Path,
    file: MapFile,
    crs: Crs,
}

impl<'a> MapFiles<'a> {
    /// Opens every file.
    ///
    /// # Errors
    /// Files that cannot be read, and coordinate systems that are unknown or named nowhere.
    pub fn open(&self, plan: &Plan, inputs: &Inputs) -> Result<Vec<OpenMap<'a>>, Problems> {
        let mut problems = Problems::default();
        let one = |path: &'a PathBuf| {
            let file = MapFile::open(inputs, path, self.layer, self.key)?;
            let Some(text) = self.crs.or(file.crs()) else {
                let found = "it does not say which coordinate system it is in";
                return Err(Problem::file(
                    path,
                    "crs-unknown",
                    found,
                    "name it in the plan, such as crs = \"EPSG:26915\"",
                )
                .under(format!("{}.crs", self.key)));
            };
            let crs = Crs::parse(text).map_err(|fault| crs_problem(plan, &format!("{}.crs", self.key), &fault))?;
            Ok(OpenMap { path, file, crs })
        };
        let opened = self.files.iter().filter_map(|path| problems.keep(one(path).map_err(Problems::from))).collect();
        problems.or(opened)
    }
}

impl OpenMap<'_> {
    /// The features in another system.
    ///
    /// # Errors
    /// A fault in the file, or coordinates that cannot be taken over.
    pub fn features(
        &self,
        plan: &Plan,
        inputs: &Inputs,
        into: &Crs,
        grids: &Grids,
        key: &str,
    ) -> Result<Vec<Feature>, Problems> {
        let way = Transformer::new(&self.crs, into, grids)
            .map_err(|fault| crs_problem(plan, &format!("{key}.crs"), &fault))?;
        let features = self.file.features(&way).map_err(|fault| {
            Problem::file(
                self.path,
                "map-unreadable",
                fault.to_string(),
                "mend the feature, or name the file's coordinate system under crs",
            )
            .under(format!("{key}.files"))
        })?;
        inputs.count_rows(self.path, features.len() as u64);
        Ok(features)
    }
}

/// All polygons of some map files as one set.
///
/// # Errors
/// As `layer`.
pub fn polygons_of(plan: &Plan, inputs: &Inputs, region: &Region, maps: &MapFiles<'_>) -> Result<PolygonSet, Problems> {
    let features = layer(plan, inputs, region, maps)?;
    let polygons: Vec<_> = features.iter().flat_map(|feature| feature.geometry.polygons()).collect();
    Ok(PolygonSet::new((0u32..).zip(polygons)))
}

/// The features of all files, in the working system.
///
/// # Errors
/// Every file that cannot be opened, or else every one that cannot be read.
pub(super) fn layer(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    maps: &MapFiles<'_>,
) -> Result<Vec<Feature>, Problems> {
    let mut problems = Problems::default();
    let mut features = Vec::new();
    for map in maps.open(plan, inputs)? {
        let read = map.features(plan, inputs, &region.working, &region.grids, maps.key);
        features.extend(problems.keep(read).unwrap_or_default());
    }
    problems.or(features)
}

/// The problem of a coordinate system.
pub fn crs_problem(plan: &Plan, key: &str, fault: &CrsFault) -> Problem {
    if *fault == CrsFault::NoExtent {
        let wanted =
            "mend the layer, or name its coordinate system under crs; GeoJSON that names none is longitude, latitude";
        return plan.problem(key, "area-faulty", "coordinates that are no longitudes and latitudes", wanted);
    }
    let wanted = if key == "survey.working_crs" {
        "such as \"EPSG:26915\" (UTM zone 15 north); or leave it out, and one is made for the region"
    } else {
        "such as \"EPSG:4326\" (longitude and latitude) or \"EPSG:26915\" (UTM zone 15 north)"
    };
    plan.problem(key, "crs-unknown", fault.to_string(), wanted)
}
