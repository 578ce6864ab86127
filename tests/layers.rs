//! Further layers of areas beside the main one: their tables, what is hidden of them, and the layer of wells for other programs.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use survey::{files, number, run, table};

struct Runs {
    _home: tempfile::TempDir,
    plain: PathBuf,
    layered: PathBuf,
}

const FURTHER: &str = "[[areas]]\ncalled = \"cells\"\ngrid = { kind = \"h3\", resolution = 5 }\n\
    [[areas]]\ncalled = \"squares\"\ngrid = { kind = \"square\", size_m = 9000 }\n";

/// The demo with the one layer and with two further ones.
static RUNS: LazyLock<Runs> = LazyLock::new(|| {
    let home = tempfile::tempdir().unwrap();
    let demo = home.path().join("demo");
    copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo"), &demo);
    let text = std::fs::read_to_string(demo.join("plan.toml")).unwrap().replace("resamples = 2000", "resamples = 100");
    std::fs::write(demo.join("plain.toml"), &text).unwrap();
    let layered =
        text.replace("[areas]\n", "[[areas]]\n").replacen("[[land_use]]", &format!("{FURTHER}[[land_use]]"), 1);
    std::fs::write(demo.join("layered.toml"), layered).unwrap();
    let (plain, layered) = (home.path().join("plain"), home.path().join("layered"));
    run(&demo.join("plain.toml"), &plain);
    run(&demo.join("layered.toml"), &layered);
    Runs { _home: home, plain, layered }
});

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let to = to.join(entry.file_name());
        match entry.path() {
            path if path.ends_with("out") => {}
            path if path.is_dir() => copy(&path, &to),
            path => drop(std::fs::copy(path, to).unwrap()),
        }
    }
}

#[test]
fn the_main_layer_stays_as_it_was() {
    let further = |name: &str| name.contains("cells") || name.contains("squares");
    let with = files(&RUNS.layered.join("public"));
    let without = files(&RUNS.plain.join("public"));
    let kept: BTreeMap<_, _> = with.iter().filter(|(name, _)| !further(name)).collect();
    assert_eq!(kept.keys().copied().collect::<Vec<_>>(), without.keys().collect::<Vec<_>>());
    for (name, bytes) in kept.into_iter().filter(|(name, _)| !name.ends_with(".html")) {
        assert!(without[name] == *bytes, "{name} differs");
    }
    assert!(with.contains_key("areas-cells.geojson") && with.contains_key("tables/squares/summary.csv"));
}

#[test]
fn further_layers_have_the_columns_of_the_dictionary_and_small_groups_are_hidden() {
    let dictionary = wellreeve::dictionary::Dictionary::built_in().unwrap();
    for layer in ["cells", "squares"] {
        for name in ["exceedance", "summary", "recommend", "outreach", "coverage", "trend"] {
            let path = |side: &str| RUNS.layered.join(side).join("tables").join(layer).join(format!("{name}.csv"));
            let header = std::fs::read_to_string(path("public")).unwrap().lines().next().unwrap().to_owned();
            let documented: Vec<&str> = dictionary.columns().of(name).map(|column| column.name.as_str()).collect();
            assert_eq!(header.split(',').collect::<Vec<_>>(), documented);
        }
        let rows = |side: &str| table(&RUNS.layered.join(side).join("tables").join(layer).join("summary.csv"));
        let (whole, shown) = (rows("internal"), rows("public"));
        let mut left: BTreeMap<&str, (f64, bool)> = BTreeMap::new();
        for (whole, shown) in whole.iter().zip(&shown) {
            let (wells, hidden) = (number(whole, "wells"), shown["wells"].is_empty());
            assert!(hidden || wells >= 5.0);
            let entry = left.entry(&whole["analyte"]).or_insert((0.0, false));
            match whole["area_id"].as_str() {
                "region" => *entry = (entry.0 + if hidden { f64::NAN } else { wells }, entry.1),
                _ if hidden => entry.1 = true,
                _ => entry.0 -= wells,
            }
        }
        // What is left of the region's wells when all shown areas are taken off is none, or enough.
        assert!(left.values().all(|(left, _)| left.is_nan() || *left == 0.0 || *left >= 5.0), "{layer}: {left:?}");
        assert!(left.values().any(|(left, _)| *left > 0.0) && shown.iter().any(|row| !row["wells"].is_empty()));
    }
}

/// Source: OGC GeoPackage Encoding Standard 1.3, requirements 2, 10, 13, 21 and 27. From memory.
#[test]
fn the_wells_are_a_geopackage() {
    let base = rusqlite::Connection::open(RUNS.layered.join("internal/wells.gpkg")).unwrap();
    let one = |sql: &str| base.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(one("PRAGMA application_id"), 0x4750_4B47);
    assert_eq!(one("SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326)"), 3);
    assert_eq!(one("SELECT count(*) FROM gpkg_contents WHERE table_name = 'wells' AND data_type = 'features'"), 1);
    assert_eq!(one("SELECT srs_id FROM gpkg_geometry_columns WHERE geometry_type_name = 'POINT'"), 4326);
    let wells = table(&RUNS.layered.join("internal/wells.csv"));
    assert_eq!(one("SELECT count(*) FROM wells"), wells.len() as i64);
    let placed = wells.iter().filter(|row| !row["longitude"].is_empty()).count();
    assert_eq!(one("SELECT count(*) FROM wells WHERE substr(hex(geom), 1, 16) = '47500001E6100000'"), placed as i64);
    let first = wells.iter().find(|row| !row["cells"].is_empty()).unwrap();
    let sql = "SELECT cells FROM wells WHERE well = ?1";
    assert_eq!(base.query_row(sql, [&first["well"]], |row| row.get::<_, String>(0)).unwrap(), first["cells"]);
}
