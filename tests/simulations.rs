//! Made-up wells with a known truth: do the intervals hold it as often as they say, do the tests find nothing where there is nothing,
//! and how far off would half the limit be?
//!
//! The long runs (`cargo test --release --test simulations -- --ignored`, about two minutes on 2 cores) write the tables of
//! `tests/simulations/*.csv`, which are kept. The short ones, always run, draw anew with other settings' tables beside them: each has
//! to agree with its line there within what chance allows, and with the bounds that are stated here.
#![allow(unreachable_pub, reason = "parts are modules of one test binary")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

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
const ERRORS: &str = "figure,way,distribution,wells,censored_percent,given,bias,rmse,half_limit_bias,half_limit_rmse";

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
        for tally in coverage::of_setting(place, setting, 2000, 999, Which::All) {
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
        for line in errors::of_setting(place, setting, 4000) {
            let (source, wells, censored) = (setting.source.word(), setting.wells, setting.censored);
            let (figure, way) = (line.figure, line.way);
            let figures = [line.given, line.bias, line.rmse, line.half_bias, line.half_rmse].map(|x| format!("{x:.4}"));
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
