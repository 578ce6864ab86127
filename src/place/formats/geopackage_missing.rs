//! Stands in for `geopackage` in a build without SQLite.

use crate::place::coordinates::Reproject;
use crate::place::features::{Feature, FeatureFault};
use crate::problem::Problem;
use std::path::Path;

#[derive(Debug)]
pub(super) struct Table {}

impl Table {
    pub fn open(path: &Path, _: Vec<u8>, _: Option<&str>, key: &str) -> Result<(Table, Option<String>), Problem> {
        let found = "it is a GeoPackage, which this build does not read";
        Err(Problem::file(path, "map-format", found, "save it as GeoJSON").under(format!("{key}.files")))
    }

    pub fn features(&self, _: &impl Reproject) -> Result<Vec<Feature>, FeatureFault> {
        Ok(Vec::new())
    }
}
