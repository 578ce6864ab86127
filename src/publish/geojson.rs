//! areas.geojson: one feature an area, rates as properties, longitude and latitude (RFC 7946).

use super::protect::Public;
use super::{Stage, number};
use crate::ids::AreaId;
use crate::place::shape::Polygon;
use crate::problem::Problem;
use crate::summarise::Scope;
use geojson::{Feature, FeatureCollection, Geometry, GeometryValue};
use serde_json::{Map, Value, json};

/// Decimal places of a degree: about 10 cm, as RFC 7946 advises no more than needed.
const PLACES: f64 = 1e6;

/// Writes it, protected.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, name: &str, public: &Public<'_>) -> Result<(), Problem> {
    let areas = public.areas;
    let lonlat = public.region.to_lonlat().map_err(|fault| {
        Problem::file(std::path::Path::new(name), "crs-unknown", fault.to_string(), "report this: it is a bug")
    })?;
    let features = (0..areas.len()).map(|at| {
        let area = AreaId(at as u32);
        let polygons = areas.polygons.get(at).map(Vec::as_slice).unwrap_or_default();
        let position = |p: &[f64; 2]| {
            let [x, y] = lonlat.point(*p).unwrap_or([f64::NAN; 2]);
            [(x * PLACES).round() / PLACES, (y * PLACES).round() / PLACES].into()
        };
        let rings =
            |polygon: &Polygon| polygon.rings().iter().map(|ring| ring.iter().map(position).collect()).collect();
        Feature {
            geometry: Some(Geometry::new(GeometryValue::MultiPolygon {
                coordinates: polygons.iter().map(rings).collect(),
            })),
            properties: Some(properties(public, area)),
            ..Feature::default()
        }
    });
    let collection = FeatureCollection { bbox: None, features: features.collect(), foreign_members: None };
    let rows = collection.features.len() as u64;
    stage.write(name, (collection.to_string() + "\n").as_bytes(), Some(rows))
}

/// `rate:ANALYTE:SET:EFFECT`, `wells:ANALYTE` and `hot_spot:ANALYTE:SET:EFFECT` (high, low or none), null where hidden or not
/// tested.
fn properties(public: &Public<'_>, area: AreaId) -> Map<String, Value> {
    let (names, protection) = (public.names(), public.protection);
    let mut map = Map::new();
    map.insert("area_id".to_owned(), json!(names.area_id(area)));
    map.insert("area_name".to_owned(), json!(names.area_name(area)));
    for row in public.told.findings().exceedance.iter().filter(|row| row.scope == Scope::Area(area)) {
        let shown = !protection.hides(row.scope, row.analyte);
        let analyte = names.analyte(row.analyte);
        let rate = row.rate.filter(|_| shown).map(number::rounded);
        map.insert(format!("wells:{analyte}"), if shown { json!(row.wells) } else { Value::Null });
        map.insert(format!("rate:{analyte}:{}:{}", row.set, row.effect), json!(rate));
    }
    for spot in public.told.comparison().hot_spots.iter().filter(|spot| spot.area == area) {
        let shown = !protection.hides(Scope::Area(area), spot.analyte);
        let key = format!("hot_spot:{}:{}:{}", names.analyte(spot.analyte), spot.set, spot.effect);
        map.insert(key, json!(spot.flag().filter(|_| shown)));
    }
    map
}
