//! Features of map files, whatever the format: numbered, with their properties, in the working coordinate system.
//!
//! Numbers of features count from 1 in file order, since that is what a message has to name. Straight lines are straight in the
//! file's own system: a long edge is given points between, halfway and halfway again, until it follows its true course in the
//! working system to a tenth of a metre, the same ones from either end, so that a shared border stays shared.

use crate::plain::number;
use serde_json::{Map, Value};

use super::shape::{Geometry, RingFault};

pub use super::coordinates::{AsItIs, Reproject};
pub use super::formats::geojson::read_geojson;

/// One feature.
#[derive(Clone, Debug, PartialEq)]
pub struct Feature {
    /// From 1, in file order.
    pub number: usize,
    /// As written.
    pub properties: Map<String, Value>,
    /// In the working system.
    pub geometry: Geometry,
}

/// A GeoJSON file's features, and the coordinate system that an old-style `crs` member names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layer {
    /// In file order.
    pub features: Vec<Feature>,
    /// As written; the reader makes no use of it.
    pub declared_crs: Option<String>,
}

/// Why a file gives no features.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FeatureFault {
    /// JSON that breaks off or is no JSON.
    #[error("{}not GeoJSON at line {line}, column {column}: {reason}", at_feature(*feature))]
    Syntax {
        /// The feature being read, from 1; 0 before any.
        feature: usize,
        /// Line of the file, from 1.
        line: usize,
        /// Column of that line, from 1.
        column: usize,
        /// As the JSON reader says it.
        reason: String,
    },
    /// JSON, but of something else.
    #[error("not GeoJSON: {found}; a FeatureCollection, a Feature or a geometry is accepted")]
    NotGeoJson {
        /// What the file holds.
        found: String,
    },
    /// A feature whose geometry cannot be used.
    #[error("feature {feature}: {reason}")]
    Geometry {
        /// The feature, from 1.
        feature: usize,
        /// What is wrong with it.
        reason: GeometryFault,
    },
    /// A file that breaks off or contradicts itself.
    #[error("not a whole {format}: {found}")]
    Damaged {
        /// The format it seems to be of.
        format: &'static str,
        /// What was found, and where.
        found: String,
    },
}

/// Before any feature there is none to name.
fn at_feature(feature: usize) -> String {
    if feature > 0 { format!("feature {feature}: ") } else { String::new() }
}

/// What is wrong with a geometry.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GeometryFault {
    /// A type that is none of the seven of RFC 7946.
    #[error(
        "geometry type {found:?}; Point, MultiPoint, LineString, MultiLineString, Polygon and MultiPolygon are accepted"
    )]
    Type {
        /// As written.
        found: String,
    },
    /// Coordinates nested otherwise than the type needs.
    #[error("coordinates of a {kind} expected, found {found}")]
    Coordinates {
        /// The geometry type.
        kind: &'static str,
        /// What stands in their place.
        found: String,
    },
    /// A collection whose members are not alike.
    #[error("a collection of {first} and {second}; one kind is accepted")]
    Mixed {
        /// Kind of an earlier member.
        first: &'static str,
        /// Kind of the one that differs.
        second: &'static str,
    },
    /// A ring that bounds no polygon.
    #[error(transparent)]
    Ring(#[from] RingFault),
    /// A position that PROJ cannot take over.
    #[error("position {}, {} cannot be taken into the working coordinate system; longitude or easting comes first", number(*x), number(*y))]
    Position {
        /// Easting or longitude as written.
        x: f64,
        /// Northing or latitude as written.
        y: f64,
    },
}

/// A property as text: strings as they are, whole numbers without a point, nothing for null, lists and objects.
pub fn text_of(properties: &Map<String, Value>, key: &str) -> Option<String> {
    match properties.get(key)? {
        Value::String(text) => Some(text.trim().to_owned()).filter(|text| !text.is_empty()),
        Value::Number(number) => Some(number_text(number)),
        Value::Bool(value) => Some(value.to_string()),
        Value::Null | Value::Array(_) | Value::Object(_) => None,
    }
}

fn number_text(number: &serde_json::Number) -> String {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    match number.as_f64() {
        Some(x) if number.is_f64() && x.fract() == 0.0 && x.abs() < EXACT => format!("{x:.0}"),
        _ => number.to_string(),
    }
}

#[cfg(test)]
#[path = "features_tests.rs"]
mod tests;
