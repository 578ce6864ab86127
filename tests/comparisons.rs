//! The comparison tests against figures made apart from the program by `tests/comparisons/make_cases.py` (numpy and scipy, from the
//! definitions), and against published counts.

use serde::Deserialize;
use wellreeve::methods::effective;
use wellreeve::methods::fisher;
use wellreeve::methods::groups::{peto_scores, trend_test};
use wellreeve::methods::integrated::{Posterior, Question};
use wellreeve::methods::paired::mcnemar;
use wellreeve::methods::two_by_two::{TwoByTwo, risk_difference};

fn cases<T: for<'a> Deserialize<'a>>(text: &str) -> Vec<T> {
    serde_json::from_str(text).unwrap_or_default()
}

#[derive(Deserialize)]
struct Ranks {
    values: Vec<f64>,
    nondetect: Vec<bool>,
    group: Vec<usize>,
    scores: Vec<f64>,
    z: f64,
    p: f64,
}

#[test]
fn peto_scores_and_the_trend_of_bands_agree() {
    let all: Vec<Ranks> = cases(include_str!("comparisons/ranks.json"));
    assert_eq!(all.len(), 3);
    for case in all {
        let found = peto_scores(&case.values, &case.nondetect).unwrap();
        assert!(found.iter().zip(&case.scores).all(|(a, b)| (a - b).abs() < 1e-12));
        let trend = trend_test(&case.values, &case.nondetect, &case.group, &[0.0, 1.0, 2.0]).unwrap();
        assert!((trend.z - case.z).abs() < 1e-9 && (trend.p - case.p).abs() < 1e-9, "{trend:?} {}", case.z);
    }
}

#[derive(Deserialize)]
struct Neighbours {
    places: Vec<[f64; 2]>,
    outcome: Vec<f64>,
    exposure: Vec<f64>,
    r: f64,
    variance: f64,
    effective: f64,
    p: f64,
}

/// Sums by halved squares against a walk over every pair.
#[test]
fn effective_wells_agree_with_all_pairs() {
    let all: Vec<Neighbours> = cases(include_str!("comparisons/neighbours.json"));
    assert_eq!(all.len(), 4);
    for case in all {
        let found = effective::test(&case.places, &case.outcome, &case.exposure).unwrap();
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs().max(1e-9);
        assert!(near(found.correlation, case.r) && near(found.variance, case.variance), "{found:?}");
        assert!(
            near(found.effective, case.effective) && near(found.p, case.p),
            "{found:?} {} {}",
            case.effective,
            case.p
        );
    }
}

#[derive(Deserialize)]
struct Paired {
    up: u64,
    down: u64,
    p: f64,
}

#[test]
fn mcnemar_agrees_with_a_binomial_test() {
    let all: Vec<Paired> = cases(include_str!("comparisons/paired.json"));
    assert_eq!(all.len(), 7);
    for case in all {
        let found = mcnemar(case.up, case.down).unwrap();
        assert!((found - case.p).abs() < 1e-9 * case.p.max(1e-3), "{} {}: {found} for {}", case.up, case.down, case.p);
    }
}

/// Newcombe 1998, Statistics in Medicine 17, Table II, example (a): 56/70 and 48/80, method 10: 0.0524 to 0.3339 (from memory).
#[test]
fn newcombes_first_example() {
    let table = TwoByTwo { exposed_exceeding: 56, exposed_meeting: 14, reference_exceeding: 48, reference_meeting: 32 };
    let found = risk_difference(table, 0.95).unwrap();
    let [low, high] = found.interval.unwrap();
    assert!((found.value - 0.2).abs() < 1e-12 && (low - 0.0524).abs() < 5e-5 && (high - 0.3339).abs() < 5e-5);
}

/// Fisher's tea table, 3 of 4 and 1 of 4: p = 34/70, mid-p = 34/70 - 8/70.
#[test]
fn the_tea_table() {
    let table = TwoByTwo { exposed_exceeding: 3, exposed_meeting: 1, reference_exceeding: 1, reference_meeting: 3 };
    let found = fisher::test(table);
    assert!((found.p - 34.0 / 70.0).abs() < 1e-12 && (found.mid_p - 26.0 / 70.0).abs() < 1e-12);
}

#[derive(Deserialize)]
struct SmallAreas {
    exceeding: Vec<u64>,
    wells: Vec<u64>,
    rates: Vec<SmallArea>,
}

#[derive(Deserialize)]
struct SmallArea {
    mean: f64,
    low: f64,
    high: f64,
    chance_above: f64,
}

/// One area, few wells, none exceeding, areas all or none, areas alike: a grid in ln(k) against a quadrature over the angle whose tangent is
/// the spread.
#[test]
fn rates_of_small_areas_agree() {
    let all: Vec<SmallAreas> = cases(include_str!("comparisons/small-areas.json"));
    assert_eq!(all.len(), 6);
    for case in all {
        let posterior = Posterior::fit(&case.exceeding, &case.wells).unwrap();
        let found = posterior.rates(&Question { level: 0.95, concern: 0.05 }).unwrap();
        assert_eq!(found.len(), case.rates.len());
        for (a, b) in found.iter().zip(&case.rates) {
            let pairs = [(a.mean, b.mean), (a.low, b.low), (a.high, b.high), (a.chance_above, b.chance_above)];
            // Of the grid and of the quadrature together; the cases of file 22 stand to 2e-5 too.
            assert!(
                pairs.iter().all(|(a, b)| (a - b).abs() < 5e-5),
                "{:?} {:?}: {pairs:?}",
                case.exceeding,
                case.wells
            );
        }
    }
}
