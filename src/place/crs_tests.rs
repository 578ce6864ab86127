//! Names, ways between systems, failures that must not spread, and the working system.

use proptest::prelude::*;

use super::super::bounds::Bounds;
use super::*;

fn way(from: &str, to: &str) -> Transformer {
    Transformer::new(&Crs::parse(from).unwrap(), &Crs::parse(to).unwrap(), &Grids::Inside).unwrap()
}

#[test]
fn what_a_system_is() {
    let nad83 = Crs::parse("NAD83").unwrap();
    assert_eq!((nad83.name(), nad83.kind(), nad83.metres_per_unit()), ("NAD83", CrsKind::Geographic, None));
    assert!(nad83.area().unwrap().holds([-79.0, 38.0]) && !nad83.area().unwrap().holds([2.0, 48.0]));
    let utm = Crs::parse("UTM 15N").unwrap();
    assert_eq!(
        (utm.name(), utm.kind(), utm.metres_per_unit()),
        ("WGS 84 / UTM zone 15N", CrsKind::Projected, Some(1.0))
    );
    assert!(utm.assumed().is_some());
    let feet = Crs::parse("2232").unwrap();
    assert!((feet.metres_per_unit().unwrap() - 1200.0 / 3937.0).abs() < 1e-12);
    assert!(matches!(feet.for_work(), Err(CrsFault::NotMetres { .. })));
    assert!(matches!(nad83.for_work(), Err(CrsFault::NotMetres { .. })));
}

/// The codes written in `names` are those of the register.
#[test]
fn codes_and_names_agree() {
    for (text, name) in [
        ("NAD27", "NAD27"),
        ("NAD83(2011)", "NAD83(2011)"),
        ("NAD83(HARN)", "NAD83(HARN)"),
        ("NAD83(CSRS)", "NAD83(CSRS)"),
        ("NAD83(NSRS2007)", "NAD83(NSRS2007)"),
        ("WGS84", "WGS 84"),
        ("WGS72", "WGS 72"),
        ("ETRS89", "ETRS89"),
        ("ED50", "ED50"),
        ("OSGB36", "OSGB36"),
        ("GDA94", "GDA94"),
        ("GDA2020", "GDA2020"),
        ("SIRGAS2000", "SIRGAS 2000"),
        ("NAD27 UTM 15N", "NAD27 / UTM zone 15N"),
        ("NAD83 UTM 15N", "NAD83 / UTM zone 15N"),
        ("NAD83(2011) UTM 15N", "NAD83(2011) / UTM zone 15N"),
        ("WGS84 UTM 56S", "WGS 84 / UTM zone 56S"),
        ("WGS72 UTM 15N", "WGS 72 / UTM zone 15N"),
        ("ETRS89 UTM 32N", "ETRS89 / UTM zone 32N"),
        ("ED50 UTM 32N", "ED50 / UTM zone 32N"),
        ("British National Grid", "British National Grid"),
        ("NAD83 / Conus Albers", "NAD83 / Conus Albers"),
        ("OGC:CRS84", "WGS 84 (CRS84)"),
        ("urn:ogc:def:crs:EPSG::26915", "NAD83 / UTM zone 15N"),
        ("102008", "North_America_Albers_Equal_Area_Conic"),
    ] {
        match Crs::parse(text) {
            Ok(crs) => assert!(crs.name() == name || text == "British National Grid", "{text}: {}", crs.name()),
            Err(fault) => assert!(text == "British National Grid", "{text}: {fault}"),
        }
    }
}

#[test]
fn proj_strings_and_wkt() {
    let text = "+proj=laea +lat_0=45 +lon_0=-93 +datum=WGS84 +units=m";
    assert_eq!(Crs::parse(text).unwrap().kind(), CrsKind::Projected);
    let wkt = Proj::new("EPSG:26915").unwrap().as_wkt(None, None).unwrap();
    let crs = Crs::parse(&wkt).unwrap();
    assert_eq!(crs.name(), "NAD83 / UTM zone 15N");
    let p = Transformer::new(&crs, &Crs::wgs84().unwrap(), &Grids::Inside)
        .unwrap()
        .point([500_000.0, 4_800_000.0])
        .unwrap();
    assert!((p[0] + 93.0).abs() < 1e-6);
}

#[test]
fn what_is_not_known() {
    let Err(CrsFault::Unknown { found, nearest }) = Crs::parse("NAD38") else { panic!("NAD38 was read") };
    assert_eq!((found.as_str(), nearest.as_deref()), ("NAD38", Some("NAD83")));
    for text in ["", "?", "unknown", "Assumed", "99999", "EPSG:1", "+proj=nothing", "GEOGCS[", "\0", "state plane"] {
        assert!(matches!(Crs::parse(text), Err(CrsFault::Unknown { .. })), "{text:?}: {:?}", Crs::parse(text));
    }
    assert!(matches!(Crs::parse("EPSG:5703"), Err(CrsFault::NotHorizontal { .. })), "a height system");
    assert!(
        matches!(Crs::parse("EPSG:1241"), Err(CrsFault::NotHorizontal { .. } | CrsFault::Unknown { .. })),
        "a transformation"
    );
}

#[test]
fn a_bad_point_spoils_no_other() {
    let way = way("EPSG:4326", "EPSG:32615");
    let mut points: Vec<Point> = (0..3000).map(|i| [-93.0 + f64::from(i) * 1e-3, 45.0]).collect();
    points[1500] = [-93.0, 500.0];
    points[1501] = [f64::NAN, 45.0];
    let single = way.point(points[1502]).unwrap();
    assert_eq!(way.points(&mut points), 2);
    assert!(points[1500][0].is_nan() && points[1501][1].is_nan());
    assert_eq!(points[1502], single);
    assert!((points[0][0] - 500_000.0).abs() < 1e-6);
}

#[test]
fn the_working_system() {
    let county = Bounds { west: -80.0, south: 37.5, east: -78.0, north: 39.0 };
    let crs = working_crs(&county).unwrap();
    assert!(distortion(&crs, &county).unwrap() < 1e-4);
    let continent = Bounds { west: -125.0, south: 25.0, east: -67.0, north: 49.0 };
    let wide = distortion(&working_crs(&continent).unwrap(), &continent).unwrap();
    assert!(wide > 0.02 && wide < 0.06, "{wide}");
    let mercator = distortion(&Crs::parse("EPSG:3857").unwrap(), &county).unwrap();
    assert!(mercator > 0.25, "{mercator}");
    let nowhere = Bounds { west: f64::NAN, south: 0.0, east: 1.0, north: 1.0 };
    assert!(matches!(working_crs(&nowhere), Err(CrsFault::NoExtent)));
}

/// The scale on the central meridian of UTM is 0.9996 (EPSG Guidance Note 7-2).
#[test]
fn utm_scale() {
    let axis = Bounds { west: -93.0, south: 44.0, east: -93.0, north: 46.0 };
    let error = distortion(&Crs::parse("EPSG:32615").unwrap(), &axis).unwrap();
    assert!((error - 4e-4).abs() < 1e-8, "{error}");
}

#[test]
fn the_operation_is_told() {
    let told = way("NAD27", "WGS84").operation([-98.5, 38.6]).unwrap();
    assert_eq!(told.accuracy, Some(7.0));
    let missing = Grids::Folder("no/such/folder".into());
    let shifted = Transformer::new(&Crs::parse("NAD27").unwrap(), &Crs::parse("WGS84").unwrap(), &missing).unwrap();
    assert_eq!(shifted.point([-98.5, 38.6]), way("NAD27", "WGS84").point([-98.5, 38.6]));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn there_and_back(lon in -96.0..-90.0_f64, lat in 40.0..50.0_f64) {
        let there = way("EPSG:4269", "EPSG:26915").point([lon, lat]).unwrap();
        let back = way("EPSG:26915", "EPSG:4269").point(there).unwrap();
        prop_assert!((back[0] - lon).abs() < 1e-9 && (back[1] - lat).abs() < 1e-9);
    }

    #[test]
    fn any_text_is_answered(text in "\\PC{0,20}") {
        let _ = Crs::parse(&text);
    }

    #[test]
    fn text_like_a_definition_is_answered(text in "[+:=\\[{ ]?(EPSG|proj|PROJCS|GEOGCS|utm|NAD|urn|init|epsg|type|crs|[0-9+=:\\[\\],\" ]){0,6}") {
        let _ = Crs::parse(&text);
    }
}

/// A file may say any number: squares of such places would run over where distances are compared.
#[test]
fn places_that_no_globe_has_are_not_taken_over() {
    let noop = way("EPSG:26915", "EPSG:26915");
    assert!(noop.point([500_000.0, 4_500_000.0]).is_some());
    for far in [2e9, 1e155, 1e300, f64::INFINITY, f64::NAN] {
        assert_eq!(noop.point([far, 4_500_000.0]), None, "{far}");
        let mut both = [[500_000.0, 4_500_000.0], [0.0, -far]];
        assert_eq!(noop.points(&mut both), 1, "{far}");
        assert!(both[0][0].is_finite() && both[1][1].is_nan());
    }
}
