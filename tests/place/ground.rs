//! Ground that is hard to measure: across the 180th meridian, around a pole, in mixed systems; several layers; coarse locations.

use super::survey::{areas_of, placed};
use std::fs;
use wellreeve::place::Wells;

/// Areas given as rings of longitude and latitude, written beside a plan's files.
fn on_areas(list: &str, rings: &[&[[f64; 2]]], more: &str) -> Result<Wells, wellreeve::problem::Problems> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("made.geojson");
    fs::write(&path, layer(rings)).unwrap();
    placed(list, "", &format!("[[areas]]\nfiles = [{:?}]\nid = \"code\"\n{more}", path.display().to_string()))
}

fn layer(rings: &[&[[f64; 2]]]) -> String {
    let feature = |(at, ring): (usize, &&[[f64; 2]])| {
        let mut ring = ring.to_vec();
        ring.push(ring[0]);
        let shape = serde_json::json!({ "type": "Polygon", "coordinates": [ring] });
        serde_json::json!({ "type": "Feature", "properties": { "code": format!("A{at}") }, "geometry": shape })
    };
    let features: Vec<_> = rings.iter().enumerate().map(feature).collect();
    serde_json::json!({ "type": "FeatureCollection", "features": features }).to_string()
}

fn found(wells: &Wells) -> Vec<String> {
    areas_of(wells).into_iter().map(Option::unwrap_or_default).collect()
}

#[test]
fn across_the_180th_meridian() {
    let list = "well,x,y,crs\nW1,179.5,51.5,WGS84\nW2,-179.5,51.5,WGS84\nW3,180,51.2,WGS84\nW4,0,51.5,WGS84\n";
    let west: &[[f64; 2]] = &[[179.0, 51.0], [180.0, 51.0], [180.0, 52.0], [179.0, 52.0]];
    let east: &[[f64; 2]] = &[[-180.0, 51.0], [-179.0, 51.0], [-179.0, 52.0], [-180.0, 52.0]];
    let cut = on_areas(list, &[west, east], "").unwrap();
    assert_eq!(found(&cut), ["A0", "A1", "A0", ""]);
    // The same ground as one polygon that is not cut at the meridian, in either way of writing it.
    let jumps: &[[f64; 2]] = &[[179.0, 51.0], [-179.0, 51.0], [-179.0, 52.0], [179.0, 52.0]];
    let runs_on: &[[f64; 2]] = &[[179.0, 51.0], [181.0, 51.0], [181.0, 52.0], [179.0, 52.0]];
    for whole in [jumps, runs_on] {
        let wells = on_areas(list, &[whole], "").unwrap();
        assert_eq!(found(&wells), ["A0", "A0", "A0", ""]);
        let area = |wells: &Wells| wells.areas().polygons.iter().flatten().map(|p| p.area()).sum::<f64>();
        assert!((area(&wells) / area(&cut) - 1.0).abs() < 1e-6);
        assert!(wells.region().distortion < 1e-3);
    }
    // A narrow one: its edges are very nearly as long as the way round.
    let narrow: &[[f64; 2]] = &[[179.99, 51.0], [-179.99, 51.0], [-179.99, 52.0], [179.99, 52.0]];
    assert_eq!(found(&on_areas(list, &[narrow], "").unwrap()), ["", "", "A0", ""]);
}

#[test]
fn around_a_pole() {
    let list = "well,x,y,crs\nW1,45,89,WGS84\nW2,-135,89.9,WGS84\nW3,-45,86,WGS84\nW4,135,85.5,WGS84\n";
    let quarter = |from: f64| [[from, 85.0], [from + 90.0, 85.0], [from + 90.0, 90.0], [from, 90.0]];
    let quarters = [-180.0, -90.0, 0.0, 90.0].map(quarter);
    let rings: Vec<&[[f64; 2]]> = quarters.iter().map(|ring| &ring[..]).collect();
    let wells = on_areas(list, &rings, "").unwrap();
    assert_eq!(found(&wells), ["A2", "A0", "A1", "A3"]);
}

#[test]
fn a_region_too_wide_for_true_distances_is_told() {
    let list = "well,x,y,crs\nW1,-100,40,WGS84\n";
    let wide: &[[f64; 2]] = &[[-124.0, 25.0], [-68.0, 25.0], [-68.0, 49.0], [-124.0, 49.0]];
    let told = |wells: &Wells| wells.warnings.iter().any(|w| w.text.starts_with("distances are distorted by up to"));
    let wells = on_areas(list, &[wide], "").unwrap();
    assert!(wells.region().distortion > 0.005 && told(&wells));
    let county: &[[f64; 2]] = &[[-101.0, 39.0], [-99.0, 39.0], [-99.0, 41.0], [-101.0, 41.0]];
    assert!(!told(&on_areas(list, &[county], "").unwrap()));
}

/// One place in five systems. Source of the figures: PROJ 9 by way of pyproj, from NAD83 -93.25, 44.98 (grids switched off).
#[test]
fn rows_of_mixed_systems_lie_at_one_place() {
    let list = include_str!("mixed.csv");
    let county: &[[f64; 2]] = &[[-94.0, 44.0], [-92.0, 44.0], [-92.0, 46.0], [-94.0, 46.0]];
    let wells = on_areas(list, &[county], "").unwrap();
    let places: Vec<[f64; 2]> = wells.ids().map(|well| wells.xy(well).unwrap()).collect();
    for place in &places {
        let apart = libm::hypot(place[0] - places[0][0], place[1] - places[0][1]);
        assert!(apart < 0.01, "{places:?}");
    }
}

#[test]
fn several_layers_and_each_well_in_one_cell_of_each() {
    let mut list = "well,x,y,crs\n".to_owned();
    for i in 0..300 {
        let (x, y) = (f64::from(i % 20) * 0.011 - 93.9, f64::from(i / 20) * 0.013 + 44.1);
        list += &format!("W{i},{x},{y},WGS84\n");
    }
    let county: &[[f64; 2]] = &[[-94.0, 44.0], [-93.5, 44.0], [-93.5, 44.5], [-94.0, 44.5]];
    let more = "[[areas]]\ncalled = \"h3\"\ngrid = { kind = \"h3\", resolution = 6 }\n\
        [[areas]]\ncalled = \"squares\"\ngrid = { kind = \"square\", size_m = 3000 }";
    let wells = on_areas(&list, &[county], more).unwrap();
    assert_eq!(wells.further().iter().map(|layer| layer.called.as_str()).collect::<Vec<_>>(), ["h3", "squares"]);
    for layer in wells.further() {
        let areas = layer.wells.areas();
        for well in wells.ids() {
            let xy = wells.xy(well).unwrap();
            let holds = |parts: &&Vec<wellreeve::place::shape::Polygon>| {
                wellreeve::place::PolygonSet::new(parts.iter().map(|part| (0, part))).locate(xy).is_some()
            };
            assert_eq!(areas.polygons.iter().filter(holds).count(), 1);
            assert!(layer.wells.area(well).is_some());
        }
    }
}

#[test]
fn a_coarse_location_is_averaged_and_used_as_the_plan_says() {
    // Land of the class west of x = 0 alone; one well on its border known to 10 m, one to 400 m.
    let folder = tempfile::tempdir().unwrap();
    let half: &[[f64; 2]] = &[[-94.0, 44.0], [-93.0, 44.0], [-93.0, 45.0], [-94.0, 45.0]];
    fs::write(folder.path().join("half.geojson"), layer(&[half])).unwrap();
    let list = "well,x,y,crs,err\nW1,-93,44.5,WGS84,10\nW2,-93,44.5,WGS84,400\n";
    let whole: &[[f64; 2]] = &[[-94.0, 44.0], [-92.0, 44.0], [-92.0, 45.0], [-94.0, 45.0]];
    let of = |coarse: &str| {
        let more = format!(
            "[[land_use]]\nname = \"field\"\nmeasure = \"share\"\nfiles = [{:?}]\nradii_m = [100, 1000]\nbands = [0.5]\n{coarse}",
            folder.path().join("half.geojson").display().to_string()
        );
        on_areas_with_error(list, &[whole], &more)
    };
    let (left, taken) = (of(""), of("coarse_wells = \"average\""));
    let second = left.ids().nth(1).unwrap();
    assert_eq!((left.measure(second, 0), left.left_out(0), left.coarse(0), left.coarse(1)), (None, 1, 1, 0));
    let (mean, spread) = left.average(second, 0).unwrap();
    assert!((mean - 0.5).abs() < 0.02 && spread > 0.3, "{mean} {spread}");
    assert_eq!((taken.measure(second, 0), taken.left_out(0)), (Some(mean), 0));
    assert!((left.measure(second, 1).unwrap() - 0.5).abs() < 1e-3);
}

fn on_areas_with_error(list: &str, rings: &[&[[f64; 2]]], more: &str) -> Wells {
    let folder = tempfile::tempdir().unwrap();
    let (map, wells) = (folder.path().join("made.geojson"), folder.path().join("coarse.csv"));
    fs::write(&map, layer(rings)).unwrap();
    fs::write(&wells, list).unwrap();
    let rest = format!(
        "[[wells]]\nfiles = [{:?}]\ncolumns = {{ well = \"well\", x = \"x\", y = \"y\", crs = \"crs\", accuracy_m = \"err\" }}\n\
         [areas]\nfiles = [{:?}]\nid = \"code\"\n{more}",
        wells.display().to_string(),
        map.display().to_string()
    );
    placed("well,x,y,crs\n", "", &rest).unwrap()
}
