//! One door for map files of every format, told apart by what is in them and not by their names.
//!
//! A file is opened once; its own coordinate system can be asked for, and its features read as often as needed. Files that belong
//! to a shapefile (attributes, coordinate system, encoding) are found beside it. What is packed (gzip, Zstandard) is unpacked.

pub(super) mod bytes;
mod dbf;
pub mod geojson;
mod geopackage;
mod guard;
mod shapefile;
mod wkb;

use super::features::{AsItIs, Feature, FeatureFault, Reproject};
use crate::files::Inputs;
use crate::problem::Problem;
use std::path::Path;

/// An opened map file.
#[derive(Debug)]
pub struct MapFile {
    content: Content,
    crs: Option<String>,
}

#[derive(Debug)]
enum Content {
    GeoJson(Vec<u8>),
    Shapefile(shapefile::Shapefile),
    GeoPackage(geopackage::Table),
}

/// What a file's first bytes say it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// An object in braces.
    GeoJson,
    /// File code 9994 of the ESRI Shapefile Technical Description (1998).
    Shapefile,
    /// A SQLite 3 database.
    GeoPackage,
    /// Byte order mark and 42 (or 43, for BigTIFF).
    Tiff,
}

impl Format {
    /// The format of a file that begins with these bytes.
    pub fn of(start: &[u8]) -> Option<Format> {
        match start {
            [0, 0, 0x27, 0x0a, ..] => Some(Format::Shapefile),
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(Format::Tiff),
            _ if start.starts_with(b"SQLite format 3\0") => Some(Format::GeoPackage),
            _ => {
                let text = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start);
                (text.trim_ascii_start().first() == Some(&b'{')).then_some(Format::GeoJson)
            }
        }
    }
}

const ACCEPTED: &str = "a GeoJSON file, the .shp file of a shapefile or a GeoPackage is accepted";

impl MapFile {
    /// Opens a file; `layer` names one of a file that has several, `key` the plan's table that names the file.
    ///
    /// # Errors
    /// A file that cannot be read, is of none of the formats, or has not exactly one layer to take.
    pub fn open(inputs: &Inputs, path: &Path, layer: Option<&str>, key: &str) -> Result<MapFile, Problem> {
        let bytes = inputs.read(path)?;
        let told = |fault: FeatureFault| {
            Problem::file(path, "map-unreadable", fault.to_string(), "mend the file").under(format!("{key}.files"))
        };
        match Format::of(&bytes) {
            Some(Format::GeoJson) => {
                let declared = geojson::declared_crs(&bytes).map_err(told)?;
                let crs = Some(declared.unwrap_or_else(|| "EPSG:4326".to_owned()));
                Ok(MapFile { content: Content::GeoJson(bytes), crs })
            }
            Some(Format::Shapefile) => {
                let (file, crs) = shapefile::Shapefile::open(inputs, path, bytes)?;
                Ok(MapFile { content: Content::Shapefile(file), crs })
            }
            Some(Format::GeoPackage) => {
                let (table, crs) = geopackage::Table::open(path, bytes, layer, key)?;
                Ok(MapFile { content: Content::GeoPackage(table), crs })
            }
            Some(Format::Tiff) => Err(unfit(
                path,
                key,
                "it is a TIFF raster",
                "a raster serves for land use with measure = \"share\" only",
            )),
            None if key.starts_with("land_use") => {
                Err(unfit(path, key, wrong_part(path), &format!("{ACCEPTED}; for a share also a GeoTIFF")))
            }
            None => Err(unfit(path, key, wrong_part(path), ACCEPTED)),
        }
    }

    /// The names of the layers of a file that may have several; none of another file.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn layers(inputs: &Inputs, path: &Path) -> Result<Vec<String>, Problem> {
        let bytes = inputs.read(path)?;
        let several = Format::of(&bytes) == Some(Format::GeoPackage);
        Ok(if several { geopackage::Table::layers(bytes) } else { Vec::new() })
    }

    /// The coordinate system that the file itself names; EPSG:4326 for GeoJSON.
    pub fn crs(&self) -> Option<&str> {
        self.crs.as_deref()
    }

    /// Its features, taken into another system.
    ///
    /// # Errors
    /// The first fault, with the number of its feature.
    pub fn features(&self, into: &impl Reproject) -> Result<Vec<Feature>, FeatureFault> {
        match &self.content {
            Content::GeoJson(bytes) => Ok(geojson::read_geojson(bytes, into)?.features),
            Content::Shapefile(file) => file.features(into),
            Content::GeoPackage(table) => table.features(into),
        }
    }

    /// Its features as they are.
    ///
    /// # Errors
    /// As `features`.
    pub fn features_as_written(&self) -> Result<Vec<Feature>, FeatureFault> {
        self.features(&AsItIs)
    }
}

fn unfit(path: &Path, key: &str, found: &str, wanted: &str) -> Problem {
    Problem::file(path, "map-format", found, wanted).under(format!("{key}.files"))
}

/// A part of a shapefile that was named in place of its shapes.
fn wrong_part(path: &Path) -> &'static str {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("dbf" | "shx" | "prj" | "cpg") => "it is a part of a shapefile; name the .shp file",
        Some("zip") => "it is a ZIP archive; unpack it first",
        _ => "it is no map file",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_by_their_first_bytes() {
        assert_eq!(Format::of(b"\xef\xbb\xbf \n{\"type\""), Some(Format::GeoJson));
        assert_eq!(Format::of(b"\0\0\x27\x0a\0\0"), Some(Format::Shapefile));
        assert_eq!(Format::of(b"SQLite format 3\0\x10"), Some(Format::GeoPackage));
        assert_eq!(Format::of(b"MM\0*\0"), Some(Format::Tiff));
        assert_eq!(Format::of(b"II*\0"), Some(Format::Tiff));
        assert_eq!((Format::of(b""), Format::of(b"id,x,y")), (None, None));
    }
}
