//! The same areas in three formats, and their sizes as another library measures them (see `make_layers.py`).

use std::path::{Path, PathBuf};
use wellreeve::files::Inputs;
use wellreeve::place::crs::{Crs, Grids, Transformer};
use wellreeve::place::features::{Feature, text_of};
use wellreeve::place::formats::MapFile;
use wellreeve::place::shape::{Polygon, RingOrder};

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/place").join(name)
}

fn read(name: &str, layer: Option<&str>) -> Vec<Feature> {
    let map = MapFile::open(&Inputs::default(), &file(name), layer, "areas").unwrap();
    let from = Crs::parse(map.crs().unwrap()).unwrap();
    let way = Transformer::new(&from, &Crs::parse("EPSG:26915").unwrap(), &Grids::Inside).unwrap();
    map.features(&way).unwrap()
}

fn texts(features: &[Feature]) -> Vec<[Option<String>; 3]> {
    features.iter().map(|f| ["code", "label", "wells"].map(|key| text_of(&f.properties, key))).collect()
}

fn problem(name: &str, layer: Option<&str>) -> String {
    MapFile::open(&Inputs::default(), &file(name), layer, "areas").unwrap_err().to_string()
}

/// Parts in one order, since a shapefile has none of its own.
fn sorted(features: &[Feature]) -> Vec<Vec<Polygon>> {
    let by_corner = |feature: &Feature| {
        let mut parts = feature.geometry.polygons().to_vec();
        parts.sort_by(|a, b| a.rect().min.partial_cmp(&b.rect().min).unwrap());
        parts
    };
    features.iter().map(by_corner).collect()
}

#[test]
fn three_formats_give_the_same_areas() {
    let geojson = read("areas.geojson", None);
    assert_eq!(texts(&geojson)[1], [Some("A2"), Some("Bj\u{f6}rkdal"), Some("45")].map(|t| t.map(str::to_owned)));
    for (name, layer) in [("areas.shp", None), ("areas.gpkg", Some("areas")), ("latin1.shp", None)] {
        let other = read(name, layer);
        assert_eq!(texts(&other), texts(&geojson), "{name}");
        assert_eq!(sorted(&other), sorted(&geojson), "{name}");
        let numbers: Vec<usize> = other.iter().map(|feature| feature.number).collect();
        assert_eq!(numbers, [1, 2, 3], "{name}");
        let orders = other.iter().flat_map(|feature| feature.geometry.polygons()).map(Polygon::order);
        assert_eq!(orders.max(), Some(RingOrder::AsNeeded), "{name}");
    }
}

/// Against shapely and pyproj; borders follow their course to a tenth of a metre.
#[test]
fn areas_are_as_large_as_another_library_says() {
    let expected = std::fs::read_to_string(file("areas.csv")).unwrap();
    let expected: Vec<f64> = expected.lines().skip(1).map(|l| l.split(',').nth(1).unwrap().parse().unwrap()).collect();
    let found = read("areas.gpkg", Some("areas"));
    assert_eq!(found.len(), expected.len());
    for (feature, expected) in found.iter().zip(expected) {
        let area: f64 = feature.geometry.polygons().iter().map(Polygon::area).sum();
        let border: f64 = feature.geometry.polygons().iter().map(Polygon::border).sum();
        assert!((area - expected).abs() < 0.1 * border, "feature {}: {area} for {expected}", feature.number);
    }
}

#[test]
fn a_layer_has_to_be_named_where_there_are_several() {
    assert_eq!(read("areas.gpkg", Some("first")).len(), 1);
    let none = problem("areas.gpkg", None);
    assert!(none.contains("2 layers: \"areas\", \"first\"") && none.contains("areas.layer"), "{none}");
    let wrong = problem("areas.gpkg", Some("area"));
    assert!(wrong.contains("did you mean \"areas\""), "{wrong}");
}

#[test]
fn files_of_no_format_say_what_they_are() {
    assert!(problem("areas.dbf", None).contains("name the .shp file"));
    assert!(problem("areas.csv", None).contains("no map file"));
}

#[test]
fn damaged_files_are_refused_and_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["areas.shp", "areas.gpkg", "areas.geojson"] {
        let whole = std::fs::read(file(name)).unwrap();
        for ending in ["dbf", "prj", "cpg"] {
            std::fs::copy(file(&format!("areas.{ending}")), folder.path().join(format!("areas.{ending}"))).unwrap();
        }
        let path = folder.path().join(name);
        for cut in (0..whole.len()).step_by(1 + whole.len() / 97) {
            std::fs::write(&path, &whole[..cut]).unwrap();
            let read = MapFile::open(&Inputs::default(), &path, Some("areas"), "areas");
            let whole = read.is_ok_and(|map| map.features_as_written().is_ok_and(|f| f.len() == 3));
            assert!(!whole || name.ends_with("gpkg"), "{name} cut at {cut}");
        }
    }
}
