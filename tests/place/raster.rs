//! Shares of circles on rasters of classes, against shapely (see `make_rasters.py`), in every layout that is stored.

use std::path::{Path, PathBuf};
use wellreeve::files::Inputs;
use wellreeve::place::crs::{Crs, Grids};
use wellreeve::place::raster::{RasterLayer, RasterPlan, RasterShare, is_raster};
use wellreeve::problem::Problem;

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/place").join(name)
}

fn open(names: &[&str], classes: &[&str], radius: f64) -> Result<RasterLayer, Problem> {
    let files: Vec<PathBuf> = names.iter().map(|name| file(name)).collect();
    let classes: Vec<String> = classes.iter().map(|class| (*class).to_owned()).collect();
    let plan = RasterPlan { files: &files, crs: None, classes: &classes, radius, key: "land_use[1]" };
    RasterLayer::open(&Inputs::default(), &plan, &Crs::parse("EPSG:26915").unwrap(), &Grids::Inside)
}

fn share(names: &[&str], classes: &[&str], at: [f64; 2], radius: f64) -> RasterShare {
    open(names, classes, radius).unwrap().shares(&[at]).unwrap()[0]
}

/// Centre, radius, share of classes 21 and 22, part without data.
fn cases() -> Vec<([f64; 2], f64, f64, f64)> {
    let text = std::fs::read_to_string(file("shares.csv")).unwrap();
    let rows = text.lines().skip(1).map(|l| l.split(',').map(|x| x.parse().unwrap()).collect::<Vec<f64>>());
    rows.map(|r| ([r[0], r[1]], r[2], r[3], r[4])).collect()
}

#[test]
fn every_layout_gives_the_shares_that_another_library_measures() {
    let layouts: [&[&str]; 5] =
        [&["striped.tif"], &["tiled.tif"], &["plain.tif"], &["point.tif"], &["west.tif", "east.tif"]];
    assert_eq!(cases().len(), 8);
    for names in layouts {
        for (at, radius, expected, unknown) in cases() {
            let found = share(names, &["22", "21"], at, radius);
            assert!((found.share - expected).abs() < 1e-8, "{names:?} {at:?}: {found:?} for {expected}");
            assert!((found.unknown - unknown).abs() < 1e-8, "{names:?} {at:?}: {found:?} for {unknown}");
        }
    }
}

#[test]
fn classes_and_what_is_unknown_make_the_whole() {
    for (at, radius, ..) in cases() {
        let all = share(&["tiled.tif"], &["11", "21", "22", "82"], at, radius);
        assert!((all.share + all.unknown - 1.0).abs() < 1e-9, "{all:?}");
    }
    let nowhere = share(&["tiled.tif"], &["11"], [400_000.0, 4_000_000.0], 100.0);
    assert_eq!((nowhere.share, nowhere.unknown), (0.0, 1.0));
    let lost = share(&["tiled.tif"], &["11"], [f64::NAN, 0.0], 100.0);
    assert_eq!((lost.share, lost.unknown), (0.0, 1.0));
}

#[test]
fn many_places_are_answered_in_their_own_order() {
    let places: Vec<[f64; 2]> = (0..500)
        .map(|i| [500_000.0 + f64::from(i * 7919 % 2100), 4_928_500.0 + f64::from(i * 104_729 % 1500)])
        .collect();
    let layer = open(&["striped.tif"], &["21"], 120.0).unwrap();
    let together = layer.shares(&places).unwrap();
    for (place, found) in places.iter().zip(&together) {
        assert_eq!(layer.shares(&[*place]).unwrap()[0], *found);
    }
}

#[test]
fn rasters_that_cannot_serve_say_why() {
    let told = |names: &[&str], classes: &[&str]| open(names, classes, 100.0).unwrap_err().to_string();
    assert!(told(&["degrees.tif"], &["21"]).contains("reproject"));
    assert!(told(&["tiled.tif", "striped.tif"], &["21"]).contains("overlaps"));
    assert!(told(&["tiled.tif"], &["maize"]).contains("\"maize\" is no whole number"));
    assert!(told(&["areas.shp"], &["21"]).contains("not a whole TIFF"));
    let fractions =
        open(&["fractions.tif"], &["21"], 100.0).and_then(|layer| layer.shares(&[[501_000.0, 4_929_300.0]]));
    assert!(fractions.unwrap_err().to_string().contains("not whole numbers"));
    assert!(is_raster(&Inputs::default(), &file("point.tif")).unwrap());
    assert!(!is_raster(&Inputs::default(), &file("areas.shp")).unwrap());
}

#[test]
fn damaged_rasters_are_refused_and_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["striped.tif", "tiled.tif", "point.tif"] {
        let whole = std::fs::read(file(name)).unwrap();
        let path = folder.path().join(name);
        let sound = open(&[name], &["21"], 5000.0).unwrap().shares(&[[501_000.0, 4_929_300.0]]).unwrap();
        for cut in (0..whole.len()).step_by(1 + whole.len() / 61) {
            std::fs::write(&path, &whole[..cut]).unwrap();
            let found = open(&[path.to_str().unwrap()], &["21"], 5000.0);
            let read = found.and_then(|layer| layer.shares(&[[501_000.0, 4_929_300.0]]));
            assert!(read.is_err() || read == Ok(sound.clone()), "{name} cut at {cut}");
        }
    }
}
