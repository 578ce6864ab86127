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

/// A shapefile of the place tests with some of its parts, and something else in the place of another.
fn shapefile(s: &Spoilt, parts: &[&str], spoil: fn(&Spoilt)) {
    for end in parts {
        s.copy(&format!("place/areas.{end}"), &format!("areas.{end}"));
    }
    spoil(s);
    fixture(s, "areas.shp", |bytes| bytes);
}

fn pipe(s: &Spoilt, name: &str) {
    assert!(std::process::Command::new("mkfifo").arg(s.path(name)).status().unwrap().success());
}

/// Where the tags of a TIFF with its high end first begin, and how many there are.
fn tags(bytes: &[u8]) -> (usize, usize) {
    let list = u32::from_be_bytes(bytes[4..8].try_into().unwrap()) as usize;
    (list, usize::from(u16::from_be_bytes([bytes[list], bytes[list + 1]])))
}

/// Tags whose values lie elsewhere in the file point there.
fn pointing(mut bytes: Vec<u8>, there: u32) -> Vec<u8> {
    let (list, count) = tags(&bytes);
    for tag in (0..count).map(|n| list + 2 + 12 * n) {
        let values = u32::from_be_bytes(bytes[tag + 4..tag + 8].try_into().unwrap());
        if values > 4 {
            bytes[tag + 8..tag + 12].copy_from_slice(&there.to_be_bytes());
        }
    }
    bytes
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
    ("an area whose id has a million letters", |s| {
        s.edit("areas.geojson", "\"W\"", &format!("\"{}\"", "W".repeat(1_000_000)))
    }),
    ("an area whose id would clear the screen, twice", |s| {
        for id in ["\"W\"", "\"E\""] {
            s.edit("areas.geojson", id, "\"\\u001b[2J\"");
        }
    }),
    ("an outline as wide as 1e300 in a system of metres", |s| {
        s.plan("title =", "working_crs = \"EPSG:26915\"\ntitle =");
        s.plan("id = \"code\"", "id = \"code\"\ncrs = \"EPSG:26915\"");
        let ring = "[[500000,4500000],[1e300,4500000],[1e300,1e300],[500000,4500000]]";
        areas(
            s,
            "wide.geojson",
            format!(
                "{{\"type\":\"Feature\",\"properties\":{{\"code\":\"W\",\"label\":\"West\"}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[{ring}]}}}}"
            ),
        );
    }),
    ("an area that is called region", |s| s.edit("areas.geojson", "\"code\":\"E\"", "\"code\":\"region\"")),
    ("latitude 143 in an outline", |s| s.edit("areas.geojson", "[-94,43.2]", "[-94,143.2]")),
    ("an unknown system of areas", |s| s.plan("id = \"code\"", "id = \"code\"\ncrs = \"EPSG:999999\"")),
    ("a layer that is not there", |s| {
        fixture(s, "areas.gpkg", |bytes| bytes);
        s.plan("id = \"code\"", "id = \"code\"\nlayer = \"parishes\"");
    }),
    ("GeoPackage cut off", |s| fixture(s, "areas.gpkg", half)),
    ("GeoPackage to which changes wait beside it", |s| {
        fixture(s, "areas.gpkg", |bytes| bytes);
        s.write("areas.gpkg-wal", "changes");
    }),
    ("GeoPackage beside which nothing waits any more", |s| {
        fixture(s, "areas.gpkg", |bytes| bytes);
        s.write("areas.gpkg-wal", "");
        s.plan("id = \"code\"", "id = \"code\"\nlayer = \"areas\"");
    }),
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
    ("a shapefile whose table is a pipe (FIFO)", |s| shapefile(s, &["shx", "prj"], |s| pipe(s, "areas.dbf"))),
    ("a shapefile whose system is a pipe", |s| shapefile(s, &["dbf", "shx"], |s| pipe(s, "areas.prj"))),
    ("a shapefile whose encoding is a pipe", |s| shapefile(s, &["dbf", "shx", "prj"], |s| pipe(s, "areas.cpg"))),
    ("a shapefile whose index is a pipe, which nobody reads", |s| {
        shapefile(s, &["dbf", "prj"], |s| pipe(s, "areas.shx"));
    }),
    ("a shapefile whose table is a link to a table elsewhere, which is followed", |s| {
        shapefile(s, &["shx", "prj"], |s| {
            s.copy("place/areas.dbf", "elsewhere/table.dbf");
            std::os::unix::fs::symlink("elsewhere/table.dbf", s.path("areas.dbf")).unwrap();
        });
    }),
    ("a shapefile whose table is a link to another kind of file, of which nothing is told", |s| {
        shapefile(s, &["shx", "prj"], |s| {
            s.write("elsewhere/passwords", "root:secret\n");
            std::os::unix::fs::symlink("elsewhere/passwords", s.path("areas.dbf")).unwrap();
        });
    }),
    ("a shapefile whose table is a link to itself", |s| {
        shapefile(s, &["shx", "prj"], |s| std::os::unix::fs::symlink("areas.dbf", s.path("areas.dbf")).unwrap());
    }),
    ("a shapefile whose table is a folder", |s| {
        shapefile(s, &["shx", "prj"], |s| std::fs::create_dir(s.path("areas.dbf")).unwrap());
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
    ("a GeoTIFF whose tags point behind the end of the file", |s| raster(s, "plain.tif", |b| pointing(b, 0xffff_ff00))),
    ("a GeoTIFF whose tags point at the head", |s| raster(s, "plain.tif", |b| pointing(b, 0))),
    ("a GeoTIFF whose list of tags is followed by itself", |s| {
        raster(s, "plain.tif", |mut b| {
            let (list, tags) = tags(&b);
            let next = list + 2 + 12 * tags;
            b[next..next + 4].copy_from_slice(&(list as u32).to_be_bytes());
            b
        });
    }),
    ("a GeoTIFF of sixty thousand tags", |s| {
        raster(s, "plain.tif", |mut b| {
            let (list, _) = tags(&b);
            b[list..list + 2].copy_from_slice(&60_000_u16.to_be_bytes());
            b
        });
    }),
    ("a GeoTIFF whose tag says it holds two thousand million numbers", |s| {
        raster(s, "plain.tif", |mut b| {
            let (list, tags) = tags(&b);
            for tag in (0..tags).map(|n| list + 2 + 12 * n) {
                let count = u32::from_be_bytes(b[tag + 4..tag + 8].try_into().unwrap());
                if count > 4 {
                    b[tag + 4..tag + 8].copy_from_slice(&0x7fff_ffff_u32.to_be_bytes());
                }
            }
            b
        });
    }),
    ("an area of a hair's breadth", |s| {
        s.edit(
            "areas.geojson",
            "[[[-94,42.8],[-93.5,42.8],[-93.5,43.2],[-94,43.2],[-94,42.8]]]",
            "[[[-94,43],[-93.5,43],[-93.5,43.000000000000014],[-94,43.000000000000014],[-94,43]]]",
        );
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
