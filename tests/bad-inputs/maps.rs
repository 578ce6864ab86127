//! Areas and land-use layers that cannot be used.

use super::base::{Case, Spoilt, walk};

fn areas(s: &Spoilt, name: &str, bytes: impl AsRef<[u8]>) {
    s.plan("files = [\"areas.geojson\"]", &format!("files = [\"{name}\"]"));
    s.write(name, bytes);
}

/// A map file of the place tests, changed, in the place of the areas.
fn fixture(s: &Spoilt, name: &str, change: fn(Vec<u8>) -> Vec<u8>) {
    s.copy(&format!("place/{name}"), "whole");
    let bytes = change(s.read("whole"));
    areas(s, name, bytes);
}

fn half(bytes: Vec<u8>) -> Vec<u8> {
    bytes[..bytes.len() / 2].to_vec()
}

fn cover(s: &Spoilt, name: &str, bytes: impl AsRef<[u8]>, classes: &str) {
    s.add(&format!(
        "[[land_use]]\nname = \"farming\"\nmeasure = \"share\"\nfiles = [\"{name}\"]\n{classes}\nradius_m = 500\nbands = [0.1, 0.4]"
    ));
    s.write(name, bytes);
}

/// A raster of the place tests, changed, as land cover.
fn raster(s: &Spoilt, name: &str, change: fn(Vec<u8>) -> Vec<u8>) {
    s.copy(&format!("place/{name}"), "whole");
    let bytes = change(s.read("whole"));
    cover(s, name, bytes, "classes = [1, 2]");
}

const CASES: &[Case] = &[
    ("GeoJSON cut off", |s| {
        let bytes = s.read("areas.geojson");
        s.write("areas.geojson", half(bytes));
    }),
    ("GeoJSON of no features", |s| s.write("areas.geojson", r#"{"type":"FeatureCollection","features":[]}"#)),
    ("GeoJSON nested a hundred thousand deep", |s| {
        s.write(
            "areas.geojson",
            format!("{{\"type\":\"Polygon\",\"coordinates\":{}{}}}", "[".repeat(100_000), "]".repeat(100_000)),
        );
    }),
    ("JSON that is no GeoJSON", |s| s.write("areas.geojson", r#"{"wells": 12}"#)),
    ("an empty file", |s| s.write("areas.geojson", "")),
    ("coordinates that are not finite", |s| s.edit("areas.geojson", "-94,43.2", "1e999,43.2")),
    ("NaN as a coordinate", |s| s.edit("areas.geojson", "-94,43.2", "NaN,43.2")),
    ("points for areas", |s| {
        s.write("areas.geojson", r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"code":"W","label":"West"},"geometry":{"type":"Point","coordinates":[-94,43]}}]}"#)
    }),
    ("an outline with too few corners", |s| {
        s.edit(
            "areas.geojson",
            "[[[-94,42.8],[-93.5,42.8],[-93.5,43.2],[-94,43.2],[-94,42.8]]]",
            "[[[-94,42.8],[-93.5,42.8]]]",
        )
    }),
    ("an id that two areas share", |s| s.edit("areas.geojson", "\"code\":\"E\"", "\"code\":\"W\"")),
    ("an area without its id", |s| s.edit("areas.geojson", "\"code\":\"E\",", "")),
    ("a name column that is not there", |s| s.plan("name = \"label\"", "name = \"lable\"")),
    ("an area that is called region", |s| s.edit("areas.geojson", "\"code\":\"E\"", "\"code\":\"region\"")),
    ("latitude 143 in an outline", |s| s.edit("areas.geojson", "[-94,43.2]", "[-94,143.2]")),
    ("an unknown system of areas", |s| s.plan("id = \"code\"", "id = \"code\"\ncrs = \"EPSG:999999\"")),
    ("a layer that is not there", |s| {
        fixture(s, "areas.gpkg", |bytes| bytes);
        s.plan("id = \"code\"", "id = \"code\"\nlayer = \"parishes\"");
    }),
    ("GeoPackage cut off", |s| fixture(s, "areas.gpkg", half)),
    ("GeoPackage with pages overwritten", |s| {
        fixture(s, "areas.gpkg", |mut b| {
            b[4096..40_000].fill(0xa5);
            b
        })
    }),
    ("a shapefile alone", |s| fixture(s, "areas.shp", |bytes| bytes)),
    ("a shapefile cut off", |s| {
        for end in ["dbf", "shx", "prj"] {
            s.copy(&format!("place/areas.{end}"), &format!("areas.{end}"));
        }
        fixture(s, "areas.shp", half);
    }),
    ("a grid of cells of one metre", |s| {
        s.plan(
            "files = [\"areas.geojson\"]\nid = \"code\"\nname = \"label\"",
            "grid = { kind = \"square\", size_m = 1 }",
        );
    }),
    ("a pipe (FIFO) for areas", |s| {
        s.remove("areas.geojson");
        assert!(std::process::Command::new("mkfifo").arg(s.path("areas.geojson")).status().unwrap().success());
    }),
    ("a GeoTIFF cut off", |s| raster(s, "plain.tif", half)),
    ("a GeoTIFF with its head changed", |s| {
        raster(s, "plain.tif", |mut b| {
            b[4..8].fill(0xff);
            b
        })
    }),
    ("a GeoTIFF that lies elsewhere", |s| raster(s, "fractions.tif", |bytes| bytes)),
    ("a GeoTIFF that says it is two thousand million cells wide", |s| {
        raster(s, "plain.tif", |mut b| {
            let width = b.windows(4).position(|tag| tag == [0, 1, 3, 0] || tag == [0, 1, 4, 0]).unwrap();
            b[width + 2..width + 4].copy_from_slice(&[4, 0]);
            b[width + 8..width + 12].copy_from_slice(&0x7fff_ffffu32.to_le_bytes());
            b
        })
    }),
    ("class names for a GeoTIFF", |s| {
        s.copy("place/plain.tif", "plain.tif");
        let b = s.read("plain.tif");
        cover(s, "plain.tif", b, "classes = [\"crop\"]");
    }),
    ("a picture that is no GeoTIFF", |s| cover(s, "cover.tif", b"\x89PNG\r\n\x1a\n", "classes = [1]")),
    ("classes that the layer does not have", |s| {
        let b = s.read("areas.geojson");
        cover(s, "cover.geojson", b, "class = \"code\"\nclasses = [\"orchard\"]");
    }),
    ("a class property that is not there", |s| {
        let b = s.read("areas.geojson");
        cover(s, "cover.geojson", b, "class = \"cover\"\nclasses = [\"W\"]");
    }),
    ("an event that is no map", |s| {
        s.add("[[events]]\nname = \"Flood\"\nkind = \"flood\"\ndate = 2020-04-18\nfiles = [\"flood.geojson\"]");
        s.write("flood.geojson", "The river rose in April.");
    }),
];

#[test]
fn maps() {
    walk("maps", CASES);
}
