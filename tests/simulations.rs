//! Made-up wells with a known truth: do the intervals hold it as often as they say, do the tests find nothing where there is nothing,
//! and how far off would half the limit be?
//!
//! The long runs (`cargo test --release --test simulations -- --ignored`, about two minutes on 2 cores) write the tables of
//! `tests/simulations/*.csv`, which are kept. The short ones, always run, hold the kept tables against the bounds
//! stated here, and draw anew: what they find has to agree with the kept line within what chance allows.
#![allow(unreachable_pub, reason = "parts are modules of one test binary")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use coverage::Which;
use draws::Setting;

#[path = "simulations/coverage.rs"]
mod coverage;
#[path = "simulations/draws.rs"]
mod draws;
#[path = "simulations/errors.rs"]
mod errors;
#[path = "simulations/rates.rs"]
mod rates;
#[path = "simulations/table.rs"]
mod table;
#[path = "simulations/trend.rs"]
mod trend;

const COVERAGE: &str = "interval,distribution,wells,censored_percent,draws,given,covered,too_low,too_high";
const ERRORS: &str = "figure,way,distribution,wells,censored_percent,given,bias,rmse,half_limit_bias,half_limit_rmse,half_limit_all_bias,half_limit_all_rmse";

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulations").join(name)
}

fn write(name: &str, text: &str) {
    std::fs::write(path(name), text).unwrap();
}

#[test]
#[ignore = "writes the tables; about two minutes"]
fn write_coverage() {
    let mut text = format!("{COVERAGE}\n");
    for (place, setting) in Setting::all().into_iter().enumerate() {
        for tally in coverage::of_setting(place, setting, 0..2000, 999, Which::All) {
            let (source, wells, censored) = (setting.source.word(), setting.wells, setting.censored);
            writeln!(text, "\"{}\",{source},{wells},{censored},{}", tally.interval, tally.cells()).unwrap();
        }
    }
    write("coverage.csv", &text);
}

#[test]
#[ignore = "writes the tables"]
fn write_errors() {
    let mut text = format!("{ERRORS}\n");
    for (place, setting) in Setting::all().into_iter().enumerate() {
        for line in errors::of_setting(place, setting, 1000) {
            let (source, wells, censored) = (setting.source.word(), setting.wells, setting.censored);
            let (figure, way) = (line.figure, line.way);
            let half = [line.half_bias, line.half_rmse, line.half_all_bias, line.half_all_rmse];
            let figures = [line.given, line.bias, line.rmse]
                .into_iter()
                .chain(half)
                .map(|x| format!("{x:.4}"))
                .collect::<Vec<_>>();
            writeln!(text, "{figure},{way},{source},{wells},{censored},{}", figures.join(",")).unwrap();
        }
    }
    write("errors.csv", &text);
}

#[test]
#[ignore = "writes the tables"]
fn write_rates() {
    let mut text = "interval,wells,rate,draws,given,covered,too_low,too_high\n".to_owned();
    for n in [5, 10, 30, 100] {
        for p in [0.02, 0.05, 0.1, 0.3, 0.5] {
            writeln!(text, "Wilson (exact),{n},{p},,1,{:.4},,", rates::wilson_coverage(n, p)).unwrap();
        }
    }
    for (place, wells) in [5, 10, 30, 100].into_iter().enumerate() {
        for tally in rates::equal_area_rate(place, wells, 5000) {
            writeln!(text, "{},{wells},0.11,{}", tally.interval, tally.cells()).unwrap();
        }
    }
    write("rates.csv", &text);
    let mut text = "areas,wells_an_area,mean_rate,concentration,areas_drawn,covered,too_low,too_high,chance_of_concern,truly_above\n".to_owned();
    for (place, setting) in rates::Areas::all().into_iter().enumerate() {
        let (tally, [chance, above]) = rates::smoothed(place, setting, 300);
        let k = setting.k.map_or("no spread".to_owned(), |k| k.to_string());
        let share = |count: usize| format!("{:.4}", count as f64 / tally.draws as f64);
        let (covered, low, high) = (share(tally.covered), share(tally.low), share(tally.high));
        let (areas, wells, mean, drawn) = (setting.areas, setting.wells, setting.mean, tally.draws);
        writeln!(text, "{areas},{wells},{mean},{k},{drawn},{covered},{low},{high},{chance:.4},{above:.4}").unwrap();
    }
    write("small-areas.csv", &text);
}

#[test]
#[ignore = "writes the tables"]
fn write_trend() {
    let mut text = "wells,results_a_well,censored_percent,draws,tested,p_up_to_0.05,p_up_to_0.01\n".to_owned();
    for (place, setting) in trend::Wells::all().into_iter().enumerate() {
        let [tested, five, one] = trend::found(place, setting, 5000);
        let trend::Wells { wells, years, censored } = setting;
        writeln!(text, "{wells},{years},{censored},5000,{tested:.4},{five:.4},{one:.4}").unwrap();
    }
    write("trend.csv", &text);
}

/// The lines of a kept table, by column.
fn kept(name: &str) -> Vec<BTreeMap<String, String>> {
    let text = std::fs::read(path(name)).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_slice());
    reader.deserialize().map(|row| row.unwrap()).collect()
}

fn number(row: &BTreeMap<String, String>, column: &str) -> Option<f64> {
    row[column].parse().ok()
}

/// Lowest coverage that is promised of a nominal 95 %; `None` where the program's own note says that the interval falls short (fewer
/// than 30 detects), where a figure comes only of a lucky few draws, or of what is not published.
fn promised(interval: &str, wells: f64, censored: f64, given: f64) -> Option<f64> {
    let detects = wells * (1.0 - censored / 100.0);
    match interval {
        _ if given < 0.9 => None,
        "mean" | "upper limit of mean" if detects > 30.0 || (detects == 30.0 && censored == 0.0) => Some(0.88),
        "median" | "p90" => Some(0.94),
        "rate_censored, truth 0.1" => Some(0.91),
        "rate of determined wells, truth 0.1" if censored < 90.0 => Some(0.91),
        _ => None,
    }
}

#[test]
fn kept_coverage_is_as_promised() {
    let mut held = 0;
    for row in kept("coverage.csv") {
        let [wells, censored, given] =
            ["wells", "censored_percent", "given"].map(|column| number(&row, column).unwrap());
        if let Some(bound) = promised(&row["interval"], wells, censored, given) {
            assert!(number(&row, "covered").unwrap() >= bound, "{row:?}");
            held += 1;
        }
    }
    assert!(held > 100, "{held}");
    for row in kept("rates.csv").iter().filter(|row| row["interval"] != "plain rate of the same wells") {
        assert!(number(row, "covered").unwrap() >= 0.87, "{row:?}");
    }
    for row in kept("small-areas.csv") {
        assert!(number(&row, "covered").unwrap() >= 0.92, "{row:?}");
    }
    for row in kept("trend.csv") {
        assert!(
            number(&row, "p_up_to_0.05").unwrap() <= 0.06 && number(&row, "p_up_to_0.01").unwrap() <= 0.015,
            "{row:?}"
        );
    }
}

/// Draws that the kept tables have not seen.
#[test]
fn fresh_draws_agree_with_the_kept_coverage() {
    let kept = kept("coverage.csv");
    for (place, setting) in Setting::all().into_iter().enumerate() {
        for tally in coverage::of_setting(place, setting, 100_000..100_150, 299, Which::Published) {
            let line = kept.iter().find(|row| {
                row["interval"] == tally.interval
                    && row["distribution"] == setting.source.word()
                    && row["wells"] == setting.wells.to_string()
                    && row["censored_percent"] == setting.censored.to_string()
            });
            let known = number(line.unwrap(), "covered");
            let (Some(found), Some(known)) = (tally.coverage(), known) else { continue };
            // Four and a half standard errors of the fresh draws and of the kept ones, and what 299 resamples blur.
            let given = number(line.unwrap(), "given").unwrap() * 2000.0;
            let p = known.clamp(0.01, 0.99);
            let slack = 4.5 * (p * (1.0 - p) * (1.0 / tally.given as f64 + 1.0 / given)).sqrt() + 0.03;
            assert!((found - known).abs() <= slack, "{} {setting:?}: {found} here, {known} kept", tally.interval);
        }
    }
}

#[test]
fn fresh_draws_agree_on_rates_and_trend() {
    for (place, wells) in [5, 10, 30, 100].into_iter().enumerate() {
        let found = rates::equal_area_rate(place + 10, wells, 400).remove(0).coverage().unwrap();
        assert!(found >= 0.82, "{wells}: {found}");
    }
    for (place, setting) in rates::Areas::all().into_iter().enumerate().filter(|(_, s)| s.areas == 8 && s.wells <= 30) {
        let (tally, _) = rates::smoothed(place + 100, setting, 12);
        assert!(tally.coverage().unwrap() >= 0.80, "{setting:?}: {tally:?}");
    }
    for (place, setting) in trend::Wells::all().into_iter().enumerate().filter(|(_, s)| s.wells * s.years <= 100) {
        let [_, five, one] = trend::found(place + 100, setting, 400);
        assert!(five <= 0.10 && one <= 0.04, "{setting:?}: {five} {one}");
    }
}

/// 300 areas and 150 analytes: the areas' rates with their chances, to be done in seconds (`--ignored --nocapture` tells how many).
#[test]
#[ignore = "tells a time"]
fn three_hundred_areas_and_150_analytes() {
    use wellreeve::methods::integrated::{Posterior, Question};
    let start = std::time::Instant::now();
    for analyte in 0..150u64 {
        let wells: Vec<u64> = (0..300).map(|area| 5 + (area * 37 + analyte * 11) % 120).collect();
        let exceeding: Vec<u64> =
            wells.iter().zip(0u64..).map(|(n, area)| n * ((area * 7919 + analyte * 104_729) % 23) / 230).collect();
        let posterior = Posterior::fit(&exceeding, &wells).unwrap();
        let rates = posterior.rates(&Question { level: 0.95, concern: 0.05 }).unwrap();
        assert_eq!(rates.len(), 300);
    }
    println!("{:.2} s on one thread", start.elapsed().as_secs_f64());
}
