//! GeoJSON (RFC 7946) read from bytes into features of ours, in the working coordinate system.
//!
//! One feature is held at a time, so a layer costs what its shapes need and no more. Numbers of features count from 1 in file
//! order, since that is what a message has to name. Rings may run either way and need not be closed; heights are dropped; features
//! without geometry are kept, as empty. Straight lines are straight in the file's own system: a long edge is given points between,
//! halfway and halfway again, until it follows its true course in the working system to a tenth of a metre, the same ones from
//! either end, so that a shared border stays shared.

use std::cell::Cell;

use serde::Deserializer as _;
use serde::de::{self, DeserializeSeed, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use super::coordinates::{Nest, Shape, shape};
use super::shape::{Geometry, RingFault};

pub use super::coordinates::{AsItIs, Reproject};

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

/// A file's features, and the coordinate system that an old-style `crs` member names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layer {
    /// In file order.
    pub features: Vec<Feature>,
    /// As written; the reader makes no use of it.
    pub declared_crs: Option<String>,
}

/// Why a file gives no features.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[expect(missing_docs, reason = "the messages say it")]
pub enum FeatureFault {
    /// JSON that breaks off or is no JSON.
    #[error("feature {feature}: not GeoJSON at line {line}, column {column}: {reason}")]
    Syntax { feature: usize, line: usize, column: usize, reason: String },
    #[error("not GeoJSON: {found}; a FeatureCollection, a Feature or a geometry is accepted")]
    NotGeoJson { found: String },
    #[error("feature {feature}: {reason}")]
    Geometry { feature: usize, reason: GeometryFault },
}

/// What is wrong with a geometry.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[expect(missing_docs, reason = "the messages say it")]
pub enum GeometryFault {
    #[error(
        "geometry type {found:?}; Point, MultiPoint, LineString, MultiLineString, Polygon and MultiPolygon are accepted"
    )]
    Type { found: String },
    #[error("coordinates of a {kind} expected, found {found}")]
    Coordinates { kind: &'static str, found: String },
    #[error("a collection of {first} and {second}; one kind is accepted")]
    Mixed { first: &'static str, second: &'static str },
    #[error(transparent)]
    Ring(#[from] RingFault),
    #[error("position {x}, {y} cannot be taken into the working coordinate system; longitude or easting comes first")]
    Position { x: f64, y: f64 },
}

/// Reads a file's features and takes them into the working system.
///
/// # Errors
/// Every fault names the feature by its number; the first one ends the reading.
pub fn read_geojson(bytes: &[u8], into: &impl Reproject) -> Result<Layer, FeatureFault> {
    let reader = Reader { into, layer: Layer::default(), fault: None, number: Cell::new(0) };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let mut reader = reader;
    let read = json.deserialize_any(Whole(&mut reader)).and_then(|()| json.end());
    match (reader.fault, read) {
        (Some(fault), _) => Err(fault),
        (None, Err(e)) => Err(syntax(reader.number.get() + 1, &e)),
        (None, Ok(())) => Ok(reader.layer),
    }
}

fn syntax(feature: usize, e: &serde_json::Error) -> FeatureFault {
    let reason = e.to_string();
    let reason = reason.split(" at line ").next().unwrap_or_default().to_owned();
    FeatureFault::Syntax { feature, line: e.line(), column: e.column(), reason }
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

struct Reader<'a, R> {
    into: &'a R,
    layer: Layer,
    fault: Option<FeatureFault>,
    number: Cell<usize>,
}

impl<R: Reproject> Reader<'_, R> {
    /// Takes a feature over; an error that serde sees only ends the reading, the fault says why.
    fn take<E: de::Error>(&mut self, raw: Raw) -> Result<(), E> {
        let number = self.number.get() + 1;
        self.number.set(number);
        let geometry = raw.geometry.map_or(Ok(Geometry::Empty), |geometry| shape(geometry, self.into));
        match geometry {
            Ok(geometry) => {
                self.layer.features.push(Feature { number, properties: raw.properties, geometry });
                Ok(())
            }
            Err(reason) => {
                self.fault = Some(FeatureFault::Geometry { feature: number, reason });
                Err(E::custom("geometry"))
            }
        }
    }
}

/// The whole file: a collection, a feature or a geometry, told apart by its `type`, which may come last.
struct Whole<'r, 'a, R>(&'r mut Reader<'a, R>);

impl<'de, R: Reproject> Visitor<'de> for Whole<'_, '_, R> {
    type Value = ();

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a GeoJSON object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let mut kind = None;
        let mut raw = Raw::default();
        let mut bare = Shape::default();
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "type" => kind = Some(map.next_value::<Value>()?),
                "features" => map.next_value_seed(Features(self.0))?,
                "crs" => self.0.layer.declared_crs = crs_name(&map.next_value::<Value>()?),
                "geometry" => raw.geometry = map.next_value()?,
                "properties" => raw.properties = map.next_value::<Option<_>>()?.unwrap_or_default(),
                "coordinates" => bare.coordinates = Some(map.next_value::<Nest>()?),
                "geometries" => bare.geometries = map.next_value()?,
                _ => drop(map.next_value::<IgnoredAny>()?),
            }
        }
        match kind.as_ref().and_then(Value::as_str) {
            Some("FeatureCollection") => Ok(()),
            Some("Feature") => self.0.take(raw),
            Some(kind) if bare.coordinates.is_some() || !bare.geometries.is_empty() => {
                bare.kind = kind.to_owned();
                self.0.take(Raw { geometry: Some(bare), ..Raw::default() })
            }
            _ => {
                let found =
                    kind.map_or("an object without a type".to_owned(), |kind| format!("an object of type {kind}"));
                self.0.fault = Some(FeatureFault::NotGeoJson { found });
                Err(de::Error::custom("type"))
            }
        }
    }
}

fn crs_name(crs: &Value) -> Option<String> {
    crs["properties"]["name"].as_str().map(str::to_owned)
}

/// The list of features, each taken over as soon as it is read.
struct Features<'r, 'a, R>(&'r mut Reader<'a, R>);

impl<'de, R: Reproject> DeserializeSeed<'de> for Features<'_, '_, R> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, json: D) -> Result<(), D::Error> {
        json.deserialize_seq(self)
    }
}

impl<'de, R: Reproject> Visitor<'de> for Features<'_, '_, R> {
    type Value = ();

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a list of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        while let Some(raw) = list.next_element::<Raw>()? {
            self.0.take(raw)?;
        }
        Ok(())
    }
}

#[derive(Default, serde::Deserialize)]
struct Raw {
    #[serde(default)]
    geometry: Option<Shape>,
    #[serde(default, deserialize_with = "or_empty")]
    properties: Map<String, Value>,
}

fn or_empty<'de, D: serde::Deserializer<'de>>(json: D) -> Result<Map<String, Value>, D::Error> {
    <Option<Map<String, Value>> as serde::Deserialize>::deserialize(json).map(Option::unwrap_or_default)
}

#[cfg(test)]
#[path = "features_tests.rs"]
mod tests;
