//! GeoJSON (RFC 7946) read from bytes into features of ours, in the working coordinate system.
//!
//! One feature is held at a time, so a layer costs what its shapes need and no more. Rings may run either way and need not be
//! closed; heights are dropped; features without geometry are kept, as empty.

use std::cell::Cell;

use serde::Deserializer as _;
use serde::de::{self, DeserializeSeed, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use crate::place::coordinates::{Nest, Reproject, Shape, shape};
use crate::place::features::{Feature, FeatureFault, Layer};
use crate::place::shape::Geometry;

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

/// The coordinate system that an old-style `crs` member names; features are passed over.
///
/// # Errors
/// Bytes that are no JSON.
pub(super) fn declared_crs(bytes: &[u8]) -> Result<Option<String>, FeatureFault> {
    #[derive(serde::Deserialize)]
    struct Head {
        #[serde(default)]
        crs: Option<Value>,
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let head: Head = serde_json::from_slice(bytes).map_err(|e| syntax(0, &e))?;
    Ok(head.crs.as_ref().and_then(crs_name))
}

fn syntax(feature: usize, e: &serde_json::Error) -> FeatureFault {
    let reason = e.to_string();
    let reason = reason.split(" at line ").next().unwrap_or_default().to_owned();
    FeatureFault::Syntax { feature, line: e.line(), column: e.column(), reason }
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
    crs.pointer("/properties/name").and_then(Value::as_str).map(str::to_owned)
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
