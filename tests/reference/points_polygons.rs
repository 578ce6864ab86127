//! Wells in counties: whose they are, on shared corners too, and how far the nearest border and county are.

use serde_json::{Value, json};
use wellreeve::place::areas::{AreaKeys, Areas};
use wellreeve::place::crs::{Crs, Grids, Transformer};
use wellreeve::place::features::{AsItIs, Feature, Reproject, read_geojson};
use wellreeve::place::nearest::NearestIndex;
use wellreeve::place::polygons::PolygonSet;
use wellreeve::place::shape::{Geometry, Point, Polygon};

use crate::report::{Report, cases, number, read_list};

/// Runs the cases of file 15.
pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let layer = report.folder().join(case["data"]["polygons"].as_str().expect("a file name"));
        let bytes = std::fs::read(&layer).unwrap_or_else(|e| panic!("{}: {e}", layer.display()));
        let points: Vec<Point> = case["data"]["points"].as_array().expect("points").iter().map(point).collect();
        let features = read_geojson(&bytes, &AsItIs).expect("GeoJSON").features;
        let mut got = whose(&features, &points);
        if case["expected"].get("albers_5070").is_some() {
            distances(&features, &points, &mut got);
        }
        report.check(case, &got);
    }
}

fn whose(features: &[Feature], points: &[Point]) -> Value {
    let keys = AreaKeys { id: "fips", name: Some("name"), wells_on_record: None, households: None, infants: None };
    let areas = Areas::new(features.to_vec(), keys).expect("areas");
    let parts = areas.polygons.iter().enumerate();
    let set = PolygonSet::new(parts.flat_map(|(i, polygons)| polygons.iter().map(move |p| (i as u32, p))));
    let ids = |items: Vec<usize>| items.into_iter().map(|i| areas.ids[i].clone()).collect::<Vec<_>>();
    json!({
        "inside": points.iter().map(|p| areas.locate(*p).map(|i| areas.ids[i].clone())).collect::<Vec<_>>(),
        "touches": points.iter().map(|p| ids(set.locate_all(*p))).collect::<Vec<_>>(),
    })
}

/// Corners taken to Albers first, edges straight there, as the reference has it.
fn distances(features: &[Feature], points: &[Point], got: &mut Value) {
    let crs = |text: &str| Crs::parse(text).expect("a coordinate system");
    let way = Transformer::new(&crs("EPSG:4269"), &crs("EPSG:5070"), &Grids::Inside).expect("a way");
    let mut moved = points.to_vec();
    assert_eq!(way.points(&mut moved), 0);
    let counties: Vec<Geometry> =
        features.iter().map(|f| Geometry::Polygons(corners_moved(&f.geometry, &way))).collect();
    let rings = counties.iter().map(|county| county.polygons().iter().flat_map(|p| p.rings().to_vec()).collect());
    let borders: Vec<Geometry> = rings.map(Geometry::Lines).collect();
    let (county, border) = (NearestIndex::new(&counties), NearestIndex::new(&borders));
    let nearest: Vec<_> = moved.iter().filter_map(|p| county.nearest(*p)).collect();
    let fips = |i: usize| features[i].properties["fips"].clone();
    got["albers_5070"] = json!(moved);
    got["nearest_county"] = nearest.iter().map(|n| fips(n.item)).collect();
    got["metres_to_nearest_county_5070"] = nearest.iter().map(|n| number(n.metres)).collect();
    got["metres_to_nearest_border_5070"] =
        moved.iter().filter_map(|p| border.nearest(*p)).map(|n| number(n.metres)).collect();
}

fn corners_moved(geometry: &Geometry, way: &impl Reproject) -> Vec<Polygon> {
    let ring = |ring: &Vec<Point>| {
        let mut ring = ring.clone();
        way.points(&mut ring);
        ring
    };
    let polygon = |p: &Polygon| Polygon::new(p.rings().iter().map(ring).collect()).expect("a polygon");
    geometry.polygons().iter().map(polygon).collect()
}

fn point(value: &Value) -> Point {
    let numbers = read_list(value);
    [numbers[0], numbers[1]]
}
