//! Map files of a plan, read into the working coordinate system.

use super::crs::{Crs, CrsFault, Grids, Transformer};
use super::features::{AsItIs, Feature, read_geojson};
use super::polygons::PolygonSet;
use super::region::Region;
use crate::files::Inputs;
use crate::plan::Plan;
use crate::problem::{Problem, Problems};
use std::path::{Path, PathBuf};

/// The coordinate system of a map file: the plan's, the one that the file names, or EPSG:4326.
///
/// # Errors
/// An unknown system, or a file that cannot be read.
pub fn layer_crs(plan: &Plan, inputs: &Inputs, path: &Path, named: Option<&str>, key: &str) -> Result<Crs, Problems> {
    let text = match named {
        Some(text) => text.to_owned(),
        None => read_geojson(&geojson_bytes(inputs, path, key)?, &AsItIs)
            .map_err(|fault| {
                Problem::file(path, "map-unreadable", fault.to_string(), "mend the file").under(format!("{key}.files"))
            })?
            .declared_crs
            .unwrap_or_else(|| "EPSG:4326".to_owned()),
    };
    Crs::parse(&text).map_err(|fault| crs_problem(plan, &format!("{key}.crs"), &fault).into())
}

/// The features of a map file in another system.
///
/// # Errors
/// A file that cannot be read, or coordinates that cannot be taken over.
pub fn read_layer(
    plan: &Plan,
    inputs: &Inputs,
    path: &Path,
    from: &Crs,
    into: &Crs,
    grids: &Grids,
    key: &str,
) -> Result<Vec<Feature>, Problems> {
    let way = Transformer::new(from, into, grids).map_err(|fault| crs_problem(plan, &format!("{key}.crs"), &fault))?;
    let bytes = geojson_bytes(inputs, path, key)?;
    let layer = read_geojson(&bytes, &way).map_err(|fault| {
        Problem::file(
            path,
            "map-unreadable",
            fault.to_string(),
            "mend the feature, or name the file's coordinate system under crs",
        )
        .under(format!("{key}.files"))
    })?;
    inputs.count_rows(path, layer.features.len() as u64);
    Ok(layer.features)
}

fn geojson_bytes(inputs: &Inputs, path: &Path, key: &str) -> Result<Vec<u8>, Problem> {
    let bytes = inputs.read(path)?;
    let start = bytes.iter().find(|byte| !byte.is_ascii_whitespace() && !matches!(byte, 0xef | 0xbb | 0xbf));
    if start == Some(&b'{') {
        return Ok(bytes);
    }
    Err(Problem::file(path, "map-format", "it is not GeoJSON", "this version reads map layers as GeoJSON")
        .under(format!("{key}.files")))
}

/// All polygons of some map files as one set.
///
/// # Errors
/// As `read_layer`.
pub fn polygon_layer(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    files: &[PathBuf],
    crs: Option<&str>,
    key: &str,
) -> Result<PolygonSet, Problems> {
    let features = layer(plan, inputs, region, files, crs, key)?;
    let polygons: Vec<_> = features.iter().flat_map(|feature| feature.geometry.polygons()).collect();
    Ok(PolygonSet::new((0u32..).zip(polygons)))
}

/// The features of all files of a layer, in the working system.
pub(super) fn layer(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    files: &[PathBuf],
    crs: Option<&str>,
    key: &str,
) -> Result<Vec<Feature>, Problems> {
    let mut problems = Problems::default();
    let mut features = Vec::new();
    for path in files {
        let read = layer_crs(plan, inputs, path, crs, key)
            .and_then(|from| read_layer(plan, inputs, path, &from, &region.working, &region.grids, key));
        features.extend(problems.keep(read).unwrap_or_default());
    }
    problems.or(features)
}

/// The problem of a coordinate system.
pub fn crs_problem(plan: &Plan, key: &str, fault: &CrsFault) -> Problem {
    plan.problem(
        key,
        "crs-unknown",
        fault.to_string(),
        "such as \"EPSG:4326\" (longitude and latitude) or \"EPSG:26915\" (UTM zone 15 north)",
    )
}
