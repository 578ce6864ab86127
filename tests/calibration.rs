//! Is the stated chance of concern honest, and what can the rule find? 200 invented surveys with known true rates.
//!
//! The truth: in each survey the overall rate lies between 0.5 and 30 %, rates of areas vary around it as a Beta distribution with
//! a concentration from 3 to 60, and areas have from 3 to 300 wells, all evenly on a logarithmic scale. The program is told none of it.
//! The two tables this makes are kept in `simulation/` and must come out the same; WRITE_SIMULATION=1 writes them anew.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::fmt::Write;
use std::path::Path;
use wellreeve::methods::integrated::{Posterior, Question};
use wellreeve::methods::random::Stream;

const SURVEYS: u64 = 200;
const CONCERN: f64 = 0.05;
const CONFIDENCE: f64 = 0.8;
const RATES: [f64; 5] = [0.02, 0.05, 0.1, 0.2, 1.0];
const WELLS: [u64; 4] = [10, 30, 100, u64::MAX];

struct Area {
    truth: f64,
    wells: u64,
    raw: f64,
    smoothed: f64,
    chance: f64,
}

fn log_uniform(stream: &mut Stream, low: f64, high: f64) -> f64 {
    low * libm::pow(high / low, stream.unit())
}

fn survey(number: u64) -> Vec<Area> {
    let mut stream = Stream::new(20_251_125, number);
    let count = 20 + stream.below(41);
    let mean = log_uniform(&mut stream, 0.005, 0.3);
    let spread = log_uniform(&mut stream, 3.0, 60.0);
    let drawn: Vec<(f64, u64, u64)> = (0..count)
        .map(|_| {
            let truth = stream.beta(mean * spread, (1.0 - mean) * spread);
            let wells = log_uniform(&mut stream, 3.0, 300.0) as u64;
            (truth, wells, (0..wells).filter(|_| stream.unit() < truth).count() as u64)
        })
        .collect();
    let (exceeding, wells): (Vec<u64>, Vec<u64>) = drawn.iter().map(|(_, n, x)| (*x, *n)).unzip();
    let posterior = Posterior::fit(&exceeding, &wells).unwrap();
    let rates = posterior.rates(&Question { level: 0.95, concern: CONCERN }).unwrap();
    let area = |((truth, wells, x), rate): ((f64, u64, u64), &wellreeve::methods::integrated::AreaRate)| Area {
        truth,
        wells,
        raw: x as f64 / wells as f64,
        smoothed: rate.mean,
        chance: rate.chance_above,
    };
    drawn.into_iter().zip(&rates).map(area).collect()
}

/// Correlation of two rankings, ties at their middle.
fn rank_correlation(a: &[f64], b: &[f64]) -> f64 {
    let ranks = |list: &[f64]| -> Vec<f64> {
        list.iter()
            .map(|x| {
                list.iter().filter(|y| *y < x).count() as f64 + 0.5 * list.iter().filter(|y| *y == x).count() as f64
            })
            .collect()
    };
    let (a, b) = (ranks(a), ranks(b));
    let mean = a.iter().sum::<f64>() / a.len() as f64;
    let product = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| (x - mean) * (y - mean)).sum::<f64>();
    product(&a, &b) / (product(&a, &a) * product(&b, &b)).sqrt()
}

/// Stated chance against truth, in fifths.
fn calibration(areas: &[&Area]) -> (String, f64) {
    let mut text = "chance_from,chance_to,areas,mean_stated,share_true\n".to_owned();
    let mut worst = 0.0f64;
    for fifth in 0..5u32 {
        let in_fifth = |a: &&&Area| ((a.chance * 5.0) as u32).min(4) == fifth;
        let own: Vec<&&Area> = areas.iter().filter(in_fifth).collect();
        let count = own.len() as f64;
        let stated = own.iter().map(|a| a.chance).sum::<f64>() / count;
        let is_true = own.iter().filter(|a| a.truth > CONCERN).count() as f64 / count;
        worst = worst.max((stated - is_true).abs());
        let (from, to) = (f64::from(fifth) / 5.0, f64::from(fifth + 1) / 5.0);
        writeln!(text, "{from},{to},{count},{stated:.3},{is_true:.3}").unwrap();
    }
    (text, worst)
}

/// How often an area is called of concern, by its true rate and number of wells.
fn calls(areas: &[&Area]) -> String {
    let mut text = "true_rate_below,wells_below,areas,called,share_called\n".to_owned();
    let (mut low_rate, mut low_wells);
    low_rate = 0.0;
    for rate in RATES {
        low_wells = 0;
        for wells in WELLS {
            let inside = |a: &&&Area| a.truth >= low_rate && a.truth < rate && a.wells >= low_wells && a.wells < wells;
            let own: Vec<&&Area> = areas.iter().filter(inside).collect();
            let called = own.iter().filter(|a| a.chance >= CONFIDENCE).count();
            let share = called as f64 / own.len().max(1) as f64;
            let below = if wells == u64::MAX { "any".to_owned() } else { wells.to_string() };
            writeln!(text, "{rate},{below},{},{called},{share:.3}", own.len()).unwrap();
            low_wells = wells;
        }
        low_rate = rate;
    }
    text
}

fn kept(name: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulation").join(name);
    if std::env::var_os("WRITE_SIMULATION").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text, "{name} came out differently");
}

#[test]
fn the_chance_of_concern_is_honest_and_smoothing_ranks_better() {
    let surveys: Vec<Vec<Area>> = (0..SURVEYS).map(survey).collect();
    let areas: Vec<&Area> = surveys.iter().flatten().collect();
    let (calibration, worst) = calibration(&areas);
    kept("concern-calibration.csv", &calibration);
    assert!(worst < 0.05, "{worst}\n{calibration}");
    kept("concern-calls.csv", &calls(&areas));
    let correlation = |pick: fn(&Area) -> f64| -> f64 {
        let one = |survey: &Vec<Area>| {
            let [guess, truth] = [pick, |a: &Area| a.truth].map(|of| survey.iter().map(of).collect::<Vec<f64>>());
            rank_correlation(&guess, &truth)
        };
        // A survey in which nothing was found ranks nothing.
        let some: Vec<f64> = surveys.iter().map(one).filter(|r| r.is_finite()).collect();
        some.iter().sum::<f64>() / some.len() as f64
    };
    let (smoothed, raw) = (correlation(|a| a.smoothed), correlation(|a| a.raw));
    kept(
        "ranking.csv",
        &format!("ranked_by,mean_rank_correlation_with_truth\nsmoothed rate,{smoothed:.3}\nraw rate,{raw:.3}\n"),
    );
    assert!(smoothed > raw, "{smoothed} {raw}");
}

/// The tables of `known_truth.py`: surveys written as files and taken through the whole program. What the README says of them.
#[test]
fn the_kept_tables_of_whole_surveys_hold_what_is_said_of_them() {
    let read = |name: &str| -> Vec<Vec<String>> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulation").join(name);
        let text = std::fs::read_to_string(path).unwrap();
        text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
    };
    let number = |cell: &str| cell.parse::<f64>().unwrap();
    let calibration = read("known-truth-calibration.csv");
    let worst = |group: &str| {
        let own = calibration.iter().filter(|row| row[0] == group);
        own.map(|row| (number(&row[4]) - number(&row[5])).abs()).fold(0.0, f64::max)
    };
    let said = [
        ("25 or more wells above in the region", 0.017),
        ("10 to 24 wells above in the region", 0.047),
        ("0 to 9 wells above in the region", 0.066),
        ("8 to 12 areas", 0.068),
        ("all", 0.035),
    ];
    for (group, bound) in said {
        assert!(worst(group) > 0.0 && worst(group) <= bound, "{group}: {}", worst(group));
    }
    let ranking = read("known-truth-ranking.csv");
    // Ties by lot: a list that is to be worked off has none.
    for pair in ranking.chunks(2) {
        assert!(number(&pair[0][3]) > number(&pair[1][3]), "{pair:?}");
    }
}
