//! Map files of three formats, as they are opened and as their features come out; polygons are measured and prepared too.

use super::file;
use std::path::Path;
use wellreeve::files::Inputs;
use wellreeve::place::features::Feature;
use wellreeve::place::formats::MapFile;
use wellreeve::place::shape::{Geometry, Polygon};
use wellreeve::place::{PolygonSet, circle};

fn features(path: &Path) {
    let inputs = Inputs::default();
    let _ = MapFile::layers(&inputs, path);
    let Ok(map) = MapFile::open(&inputs, path, None, "areas") else { return };
    let _ = map.crs();
    if let Ok(features) = map.features_as_written() {
        features.iter().enumerate().for_each(|(at, feature)| whole(at, feature));
        prepared(&features);
    }
}

fn whole(at: usize, feature: &Feature) {
    assert_eq!(feature.number, at + 1);
    if let Geometry::Polygons(polygons) = &feature.geometry {
        for polygon in polygons {
            assert!(polygon.rings().iter().all(|ring| ring.len() >= 4 && ring.first() == ring.last()));
        }
    }
}

/// Points in polygons and shares of circles, for polygons of a size that a map may have.
fn prepared(features: &[Feature]) {
    let polygons: Vec<&Polygon> = features
        .iter()
        .filter_map(|feature| if let Geometry::Polygons(list) = &feature.geometry { Some(list) } else { None })
        .flatten()
        .filter(|polygon| polygon.rings().iter().flatten().flatten().all(|x| x.abs() < 1e8))
        .collect();
    let set = PolygonSet::new((0..).zip(polygons.iter().copied()));
    for polygon in polygons {
        let corner = polygon.rings().first().and_then(|ring| ring.first()).copied().unwrap_or_default();
        assert!(set.locate(corner).is_some(), "a corner is in its polygon");
        let share = circle::shared_area(polygon, corner, 500.0);
        assert!(share.is_finite());
    }
}

/// GeoJSON.
pub fn geojson(data: &[u8]) {
    features(&file("map.geojson", data));
}

/// The parts of a shapefile, .shp, .dbf, .cpg and .prj, each behind its length in two bytes.
pub fn shapefile(data: &[u8]) {
    let mut rest = data;
    let mut parts = Vec::new();
    for _ in 0..4 {
        let length = rest.get(..2).map_or(0, |two| usize::from(u16::from_be_bytes([two[0], two[1]])));
        rest = rest.get(2..).unwrap_or_default();
        let (part, behind) = rest.split_at(length.min(rest.len()));
        parts.push(part);
        rest = behind;
    }
    for (ending, bytes) in ["shp", "dbf", "cpg", "prj"].iter().zip(parts) {
        file(&format!("map.{ending}"), bytes);
    }
    features(&super::folder().join("map.shp"));
}

/// A GeoPackage, byte by byte.
pub fn geopackage(data: &[u8]) {
    features(&file("map.gpkg", data));
}

/// A GeoPackage that is sound but for one geometry, which is the bytes.
pub fn wkb(data: &[u8]) {
    const SOUND: &[u8] = include_bytes!("../sound.gpkg");
    const MARK: [u8; 16] = *b"GEOMETRY GOES HE";
    let Some(at) = SOUND.windows(MARK.len()).position(|window| window == MARK) else { return };
    const ROOM: usize = 2048;
    let mut bytes = SOUND.to_vec();
    if let Some(place) = bytes.get_mut(at..at + ROOM) {
        let used = data.len().min(ROOM);
        place.fill(0);
        place[..used].copy_from_slice(&data[..used]);
    }
    features(&file("map.gpkg", &bytes));
}
