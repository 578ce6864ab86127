//! The whole job on the demo county: accounting, privacy of the public folder, and the same bytes every time.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use survey::{files, number, run, table};

fn demo_plan() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plan.toml")
}

struct Demo {
    _home: tempfile::TempDir,
    out: PathBuf,
}

/// One run of the demo, shared by the tests.
static DEMO: LazyLock<Demo> = LazyLock::new(|| {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    run(&demo_plan(), &out);
    Demo { _home: home, out }
});

#[test]
fn the_accounting_adds_up_to_the_row() {
    let rows = table(&DEMO.out.join("internal/tables/accounting.csv"));
    let results: Vec<f64> = rows.iter().map(|row| number(row, "results")).collect();
    assert_eq!(rows.first().unwrap()["stage"], "read");
    assert_eq!(rows.last().unwrap()["stage"], "used");
    assert_eq!(results[0], results[1..].iter().sum::<f64>());
    let set_aside = table(&DEMO.out.join("internal/set-aside.csv"));
    assert_eq!(set_aside.len() as f64, results[0] - results[results.len() - 1]);
    let mut by_reason: BTreeMap<&str, f64> = BTreeMap::new();
    for row in &set_aside {
        *by_reason.entry(&row["reason"]).or_default() += 1.0;
    }
    for row in rows.iter().filter(|row| !row["reason"].is_empty()) {
        assert_eq!(by_reason.get(row["reason"].as_str()).copied().unwrap_or(0.0), number(row, "results"), "{row:?}");
    }
}

#[test]
fn the_story_of_the_demo_is_in_its_tables() {
    let rows = table(&DEMO.out.join("internal/tables/land-use.csv"));
    let odds = |land_use: &str, analyte: &str, set: &str| {
        let row = rows
            .iter()
            .find(|r| {
                r["land_use"] == land_use && r["analyte"] == analyte && r["benchmark_set"] == set && r["band"] == "high"
            })
            .unwrap();
        number(row, "odds_low")
    };
    assert!(odds("farming", "nitrate_as_n", "us-mcl") > 5.0);
    assert!(odds("fuel", "benzene", "us-mcl") > 3.0);
    assert!(odds("septic", "total_coliform", "us-mcl") > 3.0);
    let exceedance = table(&DEMO.out.join("internal/tables/exceedance.csv"));
    let rate = |area: &str, analyte: &str| {
        let row = exceedance.iter().find(|r| r["area_name"] == area && r["analyte"] == analyte).unwrap();
        number(row, "rate")
    };
    assert!(rate("Alderkeep", "arsenic") > 4.0 * rate("Lintcroft", "arsenic"));
}

#[test]
fn counts_of_every_row_agree_with_each_other() {
    for row in table(&DEMO.out.join("internal/tables/exceedance.csv")) {
        let [wells, exceeding, meeting, undetermined] =
            ["wells", "exceeding", "meeting", "undetermined"].map(|column| number(&row, column));
        assert_eq!(wells, exceeding + meeting + undetermined, "{row:?}");
        if exceeding + meeting > 0.0 {
            assert!((number(&row, "rate") - exceeding / (exceeding + meeting)).abs() < 1e-8);
            assert!(
                number(&row, "rate_low") <= number(&row, "rate") && number(&row, "rate") <= number(&row, "rate_high")
            );
        }
    }
}

/// The region is the sum of its areas, whatever the analyte.
#[test]
fn the_region_is_the_sum_of_its_areas() {
    let mut sums: BTreeMap<(String, String, String), (f64, f64)> = BTreeMap::new();
    for row in table(&DEMO.out.join("internal/tables/exceedance.csv")) {
        let key = (row["analyte"].clone(), row["benchmark_set"].clone(), row["effect"].clone());
        let sum = sums.entry(key).or_default();
        if row["area_id"] == "region" {
            sum.0 += number(&row, "wells");
        } else {
            sum.1 += number(&row, "wells");
        }
    }
    assert!(!sums.is_empty());
    assert!(sums.values().all(|(region, areas)| region == areas));
}

/// No public file holds a well id, a sample number or a coordinate of a well.
#[test]
fn public_files_name_no_household() {
    let wells = table(&DEMO.out.join("internal/wells.csv"));
    let ids: Vec<&str> = wells.iter().map(|row| row["well"].as_str()).filter(|id| id.len() >= 5).collect();
    let places: Vec<String> = wells
        .iter()
        .filter(|row| !row["longitude"].is_empty())
        .flat_map(|row| {
            [&row["longitude"], &row["latitude"]].map(|degrees| degrees.chars().take(9).collect::<String>())
        })
        .filter(|text| text.len() == 9)
        .collect();
    assert!(ids.len() > 500 && places.len() > 900);
    let ids: BTreeSet<&str> = ids.into_iter().collect();
    let mut public = files(&DEMO.out.join("public"));
    public
        .extend(files(&DEMO.out.join("research")).into_iter().map(|(name, bytes)| (format!("research/{name}"), bytes)));
    assert!(public.contains_key("research/exceedance.parquet"));
    for (name, bytes) in public {
        let text = String::from_utf8_lossy(&bytes);
        if name.ends_with(".png") {
            continue;
        }
        for word in text.split(|c: char| !(c.is_alphanumeric() || c == '-')) {
            assert!(!ids.contains(word), "{name} names the well {word}");
        }
        for place in &places {
            assert!(
                name.ends_with("areas.geojson") || !text.contains(place.as_str()),
                "{name} holds the coordinate {place}"
            );
        }
    }
}

#[test]
fn small_groups_are_hidden_and_cannot_be_subtracted() {
    let smallest = 5.0;
    let mut shown: BTreeMap<String, (Option<f64>, f64, usize)> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for row in table(&DEMO.out.join("public/tables/exceedance.csv")) {
        if !seen.insert((row["area_id"].clone(), row["analyte"].clone())) {
            continue; // the same wells against another limit
        }
        let entry = shown.entry(row["analyte"].clone()).or_insert((None, 0.0, 0));
        match (row["area_id"].as_str(), row["wells"].parse::<f64>()) {
            ("region", wells) => entry.0 = wells.ok(),
            (_, Ok(wells)) => {
                assert!(wells >= smallest, "{row:?}");
                entry.1 += wells;
            }
            (_, Err(_)) => entry.2 += 1,
        }
    }
    for (analyte, (region, sum, hidden)) in shown {
        if let (Some(region), true) = (region, hidden > 0) {
            assert!(hidden >= 2 && region - sum >= smallest, "{analyte}: {hidden} hidden areas share {}", region - sum);
        }
    }
}

/// Wells with the whole panel are some of each analyte's wells: no number of theirs may tell of a hidden one.
#[test]
fn wells_with_the_whole_panel_hide_what_their_analytes_hide() {
    let rows = table(&DEMO.out.join("public/tables/any-health.csv"));
    let whole = table(&DEMO.out.join("internal/tables/any-health.csv"));
    assert_eq!((rows.len(), rows[0]["area_id"].as_str()), (whole.len(), "region"));
    let (mut sum, mut hidden) = (0.0, 0);
    for row in &rows[1..] {
        match row["wells"].parse::<f64>() {
            Ok(wells) => {
                assert!(wells >= 5.0, "{row:?}");
                sum += wells;
            }
            Err(_) => hidden += 1,
        }
    }
    assert!(hidden == 0 || (hidden >= 2 && number(&rows[0], "wells") - sum >= 5.0));
    let names = wellreeve::dictionary::Dictionary::built_in().unwrap();
    for row in table(&DEMO.out.join("public/tables/summary.csv")).iter().filter(|row| row["wells"].is_empty()) {
        let id = names.analytes().find(&row["analyte"]).unwrap();
        let name = &names.analytes().get(id).unwrap().display_name;
        let panel = whole[0]["note"].strip_prefix("wells with a value of each of: ").unwrap();
        if panel.split("; ").any(|one| one == name) {
            let own = rows.iter().find(|own| own["area_id"] == row["area_id"]).unwrap();
            assert!(own["wells"].is_empty() && own["exceeding"].is_empty(), "{own:?}");
        }
    }
}

#[test]
fn the_columns_are_those_of_the_dictionary() {
    let dictionary = wellreeve::dictionary::Dictionary::built_in().unwrap();
    for folder in ["public/tables", "internal/tables"] {
        for (name, bytes) in files(&DEMO.out.join(folder)) {
            let Some(name) = name.strip_suffix(".csv") else { continue };
            let header = String::from_utf8(bytes).unwrap().lines().next().unwrap().to_owned();
            let documented: Vec<&str> = dictionary.columns().of(name).map(|column| column.name.as_str()).collect();
            assert_eq!(header.split(',').collect::<Vec<_>>(), documented, "{folder}/{name}.csv");
        }
    }
}

/// Parquet files hold the columns that the dictionary explains; of `wells` the land uses stand in one place for all; the demo
/// has one layer of areas.
#[test]
fn the_columns_of_parquet_are_those_of_the_dictionary() {
    use polars::prelude::{ParquetReader, SerReader};
    let dictionary = wellreeve::dictionary::Dictionary::built_in().unwrap();
    let columns = |name: &str| {
        let file = std::fs::File::open(DEMO.out.join(name)).unwrap();
        let frame = ParquetReader::new(file).finish().unwrap();
        frame.get_column_names().iter().map(|name| name.to_string()).collect::<Vec<_>>()
    };
    let documented = |table: &str| -> Vec<String> {
        let all = dictionary.columns().of(table).map(|column| column.name.clone());
        let land_uses = ["farming", "fuel", "septic"].map(str::to_owned);
        let each = |name: String| match name.as_str() {
            "(land use)" => land_uses.to_vec(),
            "(land use)_spread" => land_uses.iter().map(|name| format!("{name}_spread")).collect(),
            "(land use)_uncorrected" => vec!["septic_uncorrected".to_owned()],
            "(layer of areas)" => Vec::new(),
            _ => vec![name],
        };
        all.flat_map(each).collect()
    };
    for table in ["results", "well-values"] {
        assert_eq!(columns(&format!("internal/{table}.parquet")), documented(table));
    }
    assert_eq!(columns("internal/research/wells.parquet"), documented("wells"));
    for edition in ["research", "internal/research"] {
        for (name, _) in files(&DEMO.out.join(edition)) {
            let Some(table) = name.strip_suffix(".parquet") else { continue };
            assert_eq!(columns(&format!("{edition}/{name}")), documented(table), "{edition}/{name}");
            assert!(edition != "research" || !documented(table).contains(&"well".to_owned()), "{name} names wells");
        }
    }
}

#[test]
fn the_manifest_lists_every_file_with_its_digest() {
    use sha2::{Digest, Sha256};
    let manifest: serde_json::Value =
        serde_json::from_slice(&std::fs::read(DEMO.out.join("manifest.json")).unwrap()).unwrap();
    let mut written = files(&DEMO.out);
    written.remove("manifest.json");
    let outputs = manifest["outputs"].as_object().unwrap();
    assert_eq!(outputs.keys().collect::<Vec<_>>(), written.keys().collect::<Vec<_>>());
    for (name, bytes) in &written {
        let digest: String = Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(outputs[name]["sha256"], digest.as_str(), "{name}");
    }
    let base = demo_plan().parent().unwrap().to_path_buf();
    for (name, fact) in manifest["inputs"].as_object().unwrap() {
        let digest: String =
            Sha256::digest(std::fs::read(base.join(name)).unwrap()).iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(fact["sha256"], digest.as_str(), "{name}");
    }
}

/// The same bytes for one thread and for three, but for the manifest's one clock reading.
#[test]
fn threads_do_not_show_in_the_bytes() {
    let home = tempfile::tempdir().unwrap();
    let out = |threads: usize| {
        let out = home.path().join(format!("out-{threads}"));
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| run(&demo_plan(), &out));
        files(&out)
    };
    let without_clock = |bytes: &[u8]| -> String {
        String::from_utf8_lossy(bytes).lines().filter(|line| !line.contains("started_at")).collect()
    };
    let (one, three) = (out(1), out(3));
    assert_eq!(one.keys().collect::<Vec<_>>(), three.keys().collect::<Vec<_>>());
    for (name, bytes) in &one {
        if name == "manifest.json" {
            assert_eq!(without_clock(bytes), without_clock(&three[name]));
        } else {
            assert!(*bytes == three[name], "{name} differs");
        }
    }
}

/// Coverage has no notes to say what is hidden, and hides the areas that outreach hides.
#[test]
fn what_is_hidden_is_counted() {
    let rows = table(&DEMO.out.join("public/hidden.csv"));
    let hidden = |name: &str| number(rows.iter().find(|row| row["table"] == name).unwrap(), "rows_hidden");
    assert!(hidden("outreach") > 0.0);
    assert_eq!(hidden("outreach"), hidden("coverage"));
    for row in table(&DEMO.out.join("public/tables/coverage.csv")).iter().filter(|row| row["wells_sampled"].is_empty())
    {
        assert_eq!(row["share_sampled"], "");
    }
}

/// What `tables.csv` says names a row names no two.
#[test]
fn keys_name_one_row_each() {
    let known = table(Path::new("data-dictionary/tables.csv"));
    for about in known {
        let file = format!("{}.csv", about["table"]);
        let places = ["internal/tables", "internal"].map(|folder| DEMO.out.join(folder).join(&file));
        let Some(path) = places.iter().find(|path| path.is_file()) else { continue };
        let mut seen = std::collections::BTreeSet::new();
        for row in table(path) {
            let key: Vec<String> = about["key"].split(';').map(|column| row[column].clone()).collect();
            assert!(seen.insert(key.clone()), "{file}: {key:?} stands there twice");
        }
    }
}
