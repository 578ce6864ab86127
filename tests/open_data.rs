//! Open data through the real pipeline: arsenic in 3,020 household wells of Araihazar, Bangladesh.
//!
//! Gelman and Hill 2007 (public course file), as carried by the R package carData; expected figures in
//! tests/reference/statistics/20-bangladesh-arsenic.json, with their sources. The wells have no coordinates there, so they
//! are laid on a made grid inside two made areas; the region's row is what is compared.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use serde_json::Value;
use std::path::{Path, PathBuf};
use survey::{Survey, number};

/// Twelve significant digits are written.
const WRITTEN: f64 = 5e-12;

const RESULTS: &str = r#"
[[results]]
files = ["arsenic.csv"]
layout = "long"
columns = { well = "well", analyte = "what", value = "value", unit = "unit", date = "date" }
"#;

fn reference() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/statistics")
}

fn case(id: &str) -> Value {
    let file: Value =
        serde_json::from_slice(&std::fs::read(reference().join("20-bangladesh-arsenic.json")).unwrap()).unwrap();
    let cases = file["cases"].as_array().unwrap().clone();
    cases.into_iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("no case {id}"))
}

/// The survey, each value as `write` puts it.
fn survey(write: impl Fn(usize, f64) -> String) -> Survey {
    let (mut wells, mut results) = ("well,lon,lat\n".to_owned(), "well,what,value,unit,date\n".to_owned());
    for (row, record) in survey::table(&reference().join("data/bangladesh-wells.csv")).into_iter().enumerate() {
        let (lon, lat) = (-93.95 + 0.9 * (row % 60) as f64 / 60.0, 42.85 + 0.3 * (row / 60) as f64 / 60.0);
        let well = &record["well"];
        wells.push_str(&format!("{well},{lon},{lat}\n"));
        results.push_str(&format!("{well},Arsenic,{},ug/L,2001-01-01\n", write(row, number(&record, "arsenic_ug_L"))));
    }
    let survey = Survey::new(RESULTS, &[("wells.csv", &wells), ("arsenic.csv", &results)]);
    survey.write("limits.csv", LIMITS);
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    survey.write(
        "plan.toml",
        &format!(
            "{plan}\n[benchmarks]\nsets = [\"ten\", \"fifty\", \"hundred\", \"three-hundred\"]\nfile = \"limits.csv\"\n"
        ),
    );
    survey
}

const LIMITS: &str = "benchmark_set,analyte,cas,limit,unit,basis,sense,effect,effective,source,checked,note
ten,arsenic,,10,ug/L,,max,chronic-health,1990,test,memory,
fifty,arsenic,,50,ug/L,,max,chronic-health,1990,test,memory,
hundred,arsenic,,100,ug/L,,max,chronic-health,1990,test,memory,
three-hundred,arsenic,,300,ug/L,,max,chronic-health,1990,test,memory,
";

fn near(got: f64, expected: &Value) {
    let expected = expected.as_f64().unwrap();
    assert!((got - expected).abs() <= WRITTEN * expected.abs(), "{got} against {expected}");
}

#[test]
fn complete_data_give_the_published_counts_and_spread() {
    let survey = survey(|_, value| value.to_string());
    let outcome = survey.run();
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (3020, 3020));
    let expected = &case("complete")["expected"];
    let rows = survey.table("public/tables/exceedance.csv");
    for (set, limit) in [("ten", "10"), ("fifty", "50"), ("hundred", "100"), ("three-hundred", "300")] {
        let row = rows.iter().find(|r| r["area_id"] == "region" && r["benchmark_set"] == set).unwrap();
        assert_eq!(number(row, "exceeding"), expected["above"][limit].as_f64().unwrap(), "{set}");
        if set == "hundred" {
            near(number(row, "rate"), &expected["rate_above_100"]);
            near(number(row, "rate_low"), &expected["wilson_above_100"][0]);
            near(number(row, "rate_high"), &expected["wilson_above_100"][1]);
        }
    }
    let summary = survey.table("public/tables/summary.csv");
    let region = summary.iter().find(|r| r["area_id"] == "region").unwrap();
    assert_eq!(region["method"], "all-detected");
    near(number(region, "mean"), &expected["mean"]);
    near(number(region, "sd"), &expected["sd"]);
    for (column, share) in [("p25", "0.25"), ("median", "0.5"), ("p75", "0.75"), ("p90", "0.9")] {
        near(number(region, column), &expected["quantiles_type7"][share]);
    }
    near(number(region, "highest"), &expected["highest"]);
    near(number(region, "lowest_detect"), &expected["lowest"]);
}

#[test]
fn censored_data_give_the_kaplan_meier_figures() {
    let survey = survey(|row, value| {
        let limit = [60.0, 100.0, 200.0][row % 3];
        if value < limit { format!("<{limit}") } else { value.to_string() }
    });
    survey.run();
    let expected = &case("censored-kaplan-meier")["expected"];
    let summary = survey.table("public/tables/summary.csv");
    let region = summary.iter().find(|r| r["area_id"] == "region").unwrap();
    assert_eq!(region["method"], "kaplan-meier");
    assert_eq!(number(region, "detected"), expected["detected"].as_f64().unwrap());
    near(number(region, "mean"), &expected["mean"]);
    near(number(region, "sd"), &expected["sd"]);
    for (column, share) in [("p25", "0.25"), ("median", "0.5"), ("p75", "0.75"), ("p90", "0.9"), ("p95", "0.95")] {
        near(number(region, column), &expected["quantiles"][share]);
    }
}
