//! public/points.geojson: a point beside each sampled well, only where the plan asks (`publish.displaced_points`).
//!
//! Each point lies at random in a ring around its well and never outside the well's area; areas whose number of sampled wells is
//! hidden have none. A point says its area and nothing else, and the points stand in an order of their own. A reader would
//! question the secret: with a seed that can be guessed, whoever suspects a house could compute its point and look whether it is
//! there. This is weaker protection than areas: where few houses stand in the ring, a point narrows them down.

use super::{Protection, Results};
use crate::digest::two_numbers;
use crate::ids::WellId;
use crate::methods::random::Stream;
use crate::place::shape::Point;
use crate::plan::DisplacedPoints;
use crate::problem::Problem;
use crate::publish::Stage;
use geojson::{Feature, FeatureCollection, Geometry, GeometryValue};
use serde_json::{Map, json};

const NAME: &str = "public/points.geojson";
/// Throws for a place inside the area; a well for which none falls there has no point.
const THROWS: u32 = 200;
/// Decimal places of a degree: about 10 m; a point is never exact.
const PLACES: f64 = 1e4;

/// Writes it, where the plan asks.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>, protection: &Protection) -> Result<(), Problem> {
    let Some(wanted) = &results.job.plan.displaced_points else { return Ok(()) };
    let wells = results.wells;
    let lonlat = wells.region().to_lonlat().map_err(|fault| {
        Problem::file(std::path::Path::new(NAME), "crs-unknown", fault.to_string(), "report this: it is a bug")
    })?;
    let mut points: Vec<(&str, [f64; 2])> = Vec::new();
    for (well, seen) in wells.ids().zip(crate::recommend::with_result(wells, results.survey)) {
        let Some(area) = wells.area(well).filter(|area| seen && !protection.hides_area(*area)) else { continue };
        let Some(at) = displaced(results, wanted, well).and_then(|at| lonlat.point(at)) else { continue };
        points.push((wells.areas().id(area), at.map(|x| (x * PLACES).round() / PLACES)));
    }
    // By area and place, so that the order says nothing of the wells' list.
    points.sort_by(|a, b| a.0.cmp(b.0).then(a.1[0].total_cmp(&b.1[0])).then(a.1[1].total_cmp(&b.1[1])));
    let features = points.into_iter().map(|(area, at)| Feature {
        geometry: Some(Geometry::new(GeometryValue::Point { coordinates: at.into() })),
        properties: Some(Map::from_iter([("area_id".to_owned(), json!(area))])),
        ..Feature::default()
    });
    let collection = FeatureCollection { bbox: None, features: features.collect(), foreign_members: None };
    let rows = collection.features.len() as u64;
    stage.write(NAME, (collection.to_string() + "\n").as_bytes(), Some(rows))
}

/// A place in the ring around a well and in its area; the same in every run with the same secret.
fn displaced(results: &Results<'_>, wanted: &DisplacedPoints, well: WellId) -> Option<Point> {
    let wells = results.wells;
    let ([x, y], area) = (wells.xy(well)?, wells.area(well)?);
    let (seed, number) = two_numbers(&format!("{}\u{1f}{}", wanted.secret, wells.id(well)))?;
    let mut stream = Stream::new(seed, number);
    let [near, far] = wanted.ring_m;
    (0..THROWS).find_map(|_| {
        let out = (near * near + stream.unit() * (far * far - near * near)).sqrt();
        let turn = std::f64::consts::TAU * stream.unit();
        let at = [x + out * libm::cos(turn), y + out * libm::sin(turn)];
        (wells.areas().locate(at) == Some(area.index())).then_some(at)
    })
}
