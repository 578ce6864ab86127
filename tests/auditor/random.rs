//! Small random surveys: few areas, many small groups, analytes tested here and there, one land use.

use crate::survey::Survey;
use std::fmt::Write;

/// A stream of numbers (Knuth's linear congruential generator), the same for every run.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

const ANALYTES: [(&str, u64); 6] =
    [("Arsenic", 20), ("Nitrate as N", 30), ("Nitrite as N", 2), ("Lead", 30), ("Manganese", 600), ("Hardness", 400)];

fn areas(count: u64) -> String {
    let strip = |at: u64| {
        let (west, east) = (-94.0 + 0.1 * at as f64, -94.0 + 0.1 * (at + 1) as f64);
        format!(
            r#"{{"type":"Feature","properties":{{"code":"A{at}","label":"Strip {at}","wells":{}}},"geometry":{{"type":"Polygon","coordinates":[[[{west},42.8],[{east},42.8],[{east},43.2],[{west},43.2],[{west},42.8]]]}}}}"#,
            100 + at
        )
    };
    let features: Vec<String> = (0..count).map(strip).collect();
    format!(r#"{{"type":"FeatureCollection","features":[{}]}}"#, features.join(","))
}

/// The files of survey number `seed`.
pub fn survey(seed: u64, smallest: u64) -> Survey {
    let mut dice = Dice(seed.wrapping_mul(977) + 13);
    let count = 2 + dice.below(6);
    let sizes: Vec<u64> = (0..count)
        .map(|_| match dice.below(4) {
            0 => dice.below(4),
            1 => 3 + dice.below(6),
            _ => 5 + dice.below(25),
        })
        .collect();
    let chances: Vec<u64> = ANALYTES.iter().map(|_| [100, 95, 60, 20, 6][dice.below(5) as usize]).collect();
    let (mut wells, mut rows) = ("well,lon,lat,err\n".to_owned(), "well,analyte,value,unit,date\n".to_owned());
    let mut number = 0;
    for (at, size) in sizes.iter().enumerate() {
        for _ in 0..*size {
            number += 1;
            let lon = -94.0 + 0.1 * at as f64 + 0.01 + 0.08 * dice.below(1000) as f64 / 1000.0;
            let lat = 42.81 + 0.38 * dice.below(1000) as f64 / 1000.0;
            let error = if dice.below(20) == 0 { 5000 } else { 10 };
            writeln!(wells, "W{number:04},{lon},{lat},{error}").unwrap();
            let repeats = if dice.below(5) == 0 { 5 } else { 1 };
            for ((analyte, top), chance) in ANALYTES.iter().zip(&chances) {
                let first = if repeats == 1 { dice.below(5) } else { 0 };
                for year in first..first + repeats {
                    if dice.below(100) >= *chance {
                        continue;
                    }
                    let value = dice.below(*top * 4) as f64 / 4.0;
                    let value = if dice.below(4) == 0 { "<1".to_owned() } else { format!("{}", value + 0.5) };
                    let unit = if analyte.ends_with(" as N") || *analyte == "Hardness" { "mg/L" } else { "ug/L" };
                    writeln!(rows, "W{number:04},{analyte},{value},{unit},{}-06-01", 2018 + year).unwrap();
                }
            }
        }
    }
    writeln!(rows, "W9999,Arsenic,3,ug/L,2020-06-01\nZ1,Arsenic,3,furlong,2020-06-01").unwrap();
    let sites = "site,x,y\n1,-93.95,43.0\n2,-93.75,42.9\n3,-93.62,43.1\n";
    let homes: String =
        (0..12).map(|at| format!("{},{},{}\n", -93.97 + 0.055 * f64::from(at), 43.0, 40 + 9 * at)).collect();
    let plan = PLAN.replace("SMALLEST", &smallest.to_string());
    // Every further limit costs the small-area model again: a few surveys have many, the others two.
    let plan = match seed % 10 {
        0 => plan,
        5 => plan.replace(", \"us-health-advisory\"", ""),
        _ => plan.replace(SETS, "sets = [\"county\"]\nfile = \"limits.csv\"\n"),
    };
    let plan =
        if seed.is_multiple_of(8) { plan.replace("[benchmarks]", &format!("{FURTHER}[benchmarks]")) } else { plan };
    let survey = Survey::new("", &[("wells.csv", &wells), ("lab.csv", &rows), ("sites.csv", sites)]);
    survey.write("areas.geojson", &areas(count));
    survey.write("homes.csv", &format!("x,y,people\n{homes}"));
    survey.write("limits.csv", LIMITS);
    survey.write(
        "prices.csv",
        "analyte or panel,price,includes\narsenic,25,\nnitrate as n,18,\nlead,22,\nmanganese,15,\n",
    );
    survey.write("plan.toml", &plan);
    survey
}

/// A plan without its land uses.
#[allow(dead_code, reason = "not every test that makes surveys wants this")]
pub fn without_land_use(plan: &str) -> String {
    let (head, tail) = (plan.split("[[land_use]]").next().unwrap(), plan.split("[benchmarks]").last().unwrap());
    format!("{}[benchmarks]{tail}", head.replace(FURTHER, ""))
}

/// The limits of the plan below.
const SETS: &str = "sets = [\"us-mcl\", \"us-health-advisory\"]\n";

/// Two limits of an invented county.
const LIMITS: &str = "benchmark_set,analyte,cas,limit,unit,basis,sense,effect,effective,source,checked,note\n\
    county,arsenic,,10,ug/L,,max,chronic-health,2015-01-01,invented,invented,\n\
    county,lead,,15,ug/L,,max,chronic-health,2015-01-01,invented,invented,\n";

/// A further layer of areas.
const FURTHER: &str = r#"[[areas]]
called = "squares"
grid = { kind = "square", size_m = 16000 }
"#;

const PLAN: &str = r#"
[survey]
title = "Random survey"
compare_periods = [{ from = 2018-01-01, to = 2019-12-31 }, { from = 2020-01-01, to = 2023-12-31 }]
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "well", analyte = "analyte", value = "value", unit = "unit", date = "date" }
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat", accuracy_m = "err" }
crs = "EPSG:4326"
[[areas]]
files = ["areas.geojson"]
id = "code"
name = "label"
wells_on_record = "wells"
[[land_use]]
name = "fuel"
measure = "nearest"
files = ["sites.csv"]
columns = { id = "site", x = "x", y = "y" }
crs = "EPSG:4326"
bands = [4000, 12000]
[[land_use]]
name = "people"
measure = "density"
files = ["homes.csv"]
columns = { x = "x", y = "y", count = "people" }
crs = "EPSG:4326"
radii_m = [2500, 4000]
bands = [1, 4]
[benchmarks]
sets = ["us-mcl", "us-health-advisory"]
[summary]
resamples = 0
[recommend]
prices = "prices.csv"
budget = 60
[publish]
smallest_group = SMALLEST
"#;
