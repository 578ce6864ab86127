//! Shapes of every kind, what a message names, and long edges.

use super::*;
use crate::place::crs::{Crs, Grids, Transformer};
use crate::place::shape::Point;

fn read(text: &str) -> Result<Layer, FeatureFault> {
    read_geojson(text.as_bytes(), &AsItIs)
}

fn fault(text: &str) -> String {
    read(text).unwrap_err().to_string()
}

fn feature(geometry: &str) -> String {
    format!(
        r#"{{"type":"FeatureCollection","features":[{{"type":"Feature","properties":null,"geometry":{geometry}}}]}}"#
    )
}

fn geometry(text: &str) -> Geometry {
    read(&feature(text)).unwrap().features[0].geometry.clone()
}

#[test]
fn every_kind() {
    assert_eq!(geometry("null"), Geometry::Empty);
    assert_eq!(geometry(r#"{"type":"Point","coordinates":[1,2.5,300]}"#), Geometry::Points(vec![[1.0, 2.5]]));
    assert_eq!(
        geometry(r#"{"coordinates":[[1,2],[3,-4]],"type":"MultiPoint"}"#),
        Geometry::Points(vec![[1.0, 2.0], [3.0, -4.0]])
    );
    assert_eq!(
        geometry(r#"{"type":"LineString","coordinates":[[1,2],[3,4]]}"#),
        Geometry::Lines(vec![vec![[1.0, 2.0], [3.0, 4.0]]])
    );
    let square = geometry(
        r#"{"type":"Polygon","coordinates":[[[0,0],[0,2],[2,2],[2,0],[0,0]],[[0.5,0.5],[1,0.5],[1,1],[0.5,1]]]}"#,
    );
    assert_eq!(square.polygons()[0].area(), 3.75);
    let two = geometry(r#"{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[0,1]]],[[[5,5],[6,5],[5,6]]]]}"#);
    assert_eq!(two.polygons().len(), 2);
    let both = r#"{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"type":"Point","coordinates":[3,4]}]}"#;
    assert_eq!(geometry(both), Geometry::Points(vec![[1.0, 2.0], [3.0, 4.0]]));
}

#[test]
fn bare_features_and_geometries() {
    let one =
        read(r#"{"type":"Feature","properties":{"a":1},"geometry":{"type":"Point","coordinates":[1,2]}}"#).unwrap();
    assert_eq!((one.features.len(), one.features[0].number), (1, 1));
    let bare = read("\u{feff}{\"type\":\"Point\",\"coordinates\":[1,2]}").unwrap();
    assert_eq!(bare.features[0].geometry, Geometry::Points(vec![[1.0, 2.0]]));
    let old = read(
        r#"{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::26915"}},"features":[]}"#,
    );
    assert_eq!(old.unwrap().declared_crs.as_deref(), Some("urn:ogc:def:crs:EPSG::26915"));
}

#[test]
fn properties_as_text() {
    let layer = read(r#"{"type":"Feature","geometry":null,"properties":{"a":" x ","b":51003,"c":12.0,"d":1.5,"e":null,"f":"","g":true}}"#).unwrap();
    let text = |key| text_of(&layer.features[0].properties, key);
    assert_eq!(text("a").as_deref(), Some("x"));
    assert_eq!(text("b").as_deref(), Some("51003"));
    assert_eq!(text("c").as_deref(), Some("12"));
    assert_eq!(text("d").as_deref(), Some("1.5"));
    assert_eq!((text("e"), text("f"), text("h")), (None, None, None));
    assert_eq!(text("g").as_deref(), Some("true"));
}

#[test]
fn faults_name_the_feature() {
    assert_eq!(
        fault(&feature(r#"{"type":"Circle","coordinates":[1,2]}"#)),
        "feature 1: geometry type \"Circle\"; Point, MultiPoint, LineString, MultiLineString, Polygon and MultiPolygon are accepted"
    );
    assert_eq!(
        fault(&feature(r#"{"type":"Polygon","coordinates":[[1,2],[3,4]]}"#)),
        "feature 1: coordinates of a Polygon expected, found the position 1, 2"
    );
    assert!(
        fault(&feature(r#"{"type":"Polygon","coordinates":[[[1,2],[3,4],[1,2]]]}"#))
            .starts_with("feature 1: ring 1 has 2")
    );
    assert!(fault(&feature(r#"{"type":"Point"}"#)).contains("found none"));
    let mixed = r#"{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"type":"LineString","coordinates":[[3,4],[5,6]]}]}"#;
    assert!(fault(&feature(mixed)).contains("a collection of points and lines"));
    let cut = feature("null").replace("}]}", "},{\"type\":");
    assert!(matches!(read(&cut), Err(FeatureFault::Syntax { feature: 2, line: 1, .. })), "{:?}", read(&cut));
    assert!(fault("{}").starts_with("not GeoJSON: an object without a type"));
    assert!(fault(r#"{"type":"Topology","arcs":[]}"#).contains("Topology"));
    assert!(matches!(read("[1,2]"), Err(FeatureFault::Syntax { .. })));
    assert!(matches!(read(""), Err(FeatureFault::Syntax { .. })));
    assert!(matches!(
        read(&feature(r#"{"type":"Point","coordinates":["a",2]}"#)),
        Err(FeatureFault::Syntax { feature: 1, .. })
    ));
}

fn to_working() -> Transformer {
    let working = Crs::parse("+proj=laea +lat_0=48 +lon_0=-100 +datum=WGS84 +units=m").unwrap();
    Transformer::new(&Crs::wgs84().unwrap(), &working, &Grids::Inside).unwrap()
}

#[test]
fn a_position_out_of_this_world() {
    let text = feature(r#"{"type":"Point","coordinates":[45,-930]}"#);
    let fault = read_geojson(text.as_bytes(), &to_working()).unwrap_err();
    assert!(fault.to_string().starts_with("feature 1: position 45, -930 cannot be taken"), "{fault}");
}

/// A border along the 49th parallel, given by its two ends, is the parallel and not the chord 3 km north of it.
#[test]
fn long_edges_keep_their_course() {
    let way = to_working();
    let line = |text: &str| match &read_geojson(feature(text).as_bytes(), &way).unwrap().features[0].geometry {
        Geometry::Lines(lines) => lines[0].clone(),
        other => panic!("{other:?}"),
    };
    let there = line(r#"{"type":"LineString","coordinates":[[-103,49],[-97,49]]}"#);
    let mut back = line(r#"{"type":"LineString","coordinates":[[-97,49],[-103,49]]}"#);
    back.reverse();
    assert_eq!(there, back);
    assert!(there.len() > 50 && there.len() < 1000, "{}", there.len());
    let true_place: Point = way.point([-99.123, 49.0]).unwrap();
    let off = there
        .windows(2)
        .map(|w| crate::place::shape::to_segment2(w[0], w[1], true_place))
        .fold(f64::INFINITY, f64::min);
    assert!(off.sqrt() < 0.11, "{}", off.sqrt());
    assert_eq!(line(r#"{"type":"LineString","coordinates":[[-103,49],[-102.99,49]]}"#).len(), 2);
}
