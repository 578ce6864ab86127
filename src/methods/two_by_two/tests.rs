//! Two by two tables: printed limits, large tables, and what must hold for any table.

use proptest::prelude::*;

use super::*;

fn table(a: u64, b: u64, c: u64, d: u64) -> TwoByTwo {
    TwoByTwo { exposed_exceeding: a, exposed_meeting: b, reference_exceeding: c, reference_meeting: d }
}

fn near(estimate: Option<Estimate>, printed: [f64; 2], within: [f64; 2]) {
    let [low, high] = estimate.unwrap().interval.unwrap();
    assert!((low - printed[0]).abs() < within[0] && (high - printed[1]).abs() < within[1], "{low} {high}");
}

/// Fagerland, Lydersen and Laake 2015, 7 of 34 against 1 of 34, as the tests of statsmodels quote its limits.
#[test]
fn seven_of_34_against_one() {
    let t = table(7, 27, 1, 33);
    near(risk_difference(t, 0.95), [0.019, 0.34], [0.005; 2]);
    near(risk_ratio(t, 0.95), [0.91, 54.0], [0.005, 0.5]);
    near(sample_odds_ratio(t, 0.95), [0.99, 74.0], [0.005, 0.5]);
    near(conditional_odds_ratio(t, 0.95), [0.97, 397.0], [0.005, 0.5]);
}

#[test]
fn the_published_ratio_says_which_it_is() {
    assert_eq!(odds_ratio(table(0, 0, 3, 4), 0.95), None);
    assert_eq!(odds_ratio(table(1, 2, 0, 0), 0.95), None);
    let (half, kind) = odds_ratio(table(4, 21, 0, 40), 0.95).unwrap();
    assert_eq!((half.value, kind), (4.5 * 40.5 / (21.5 * 0.5), OddsKind::HalfAdded));
    let (plain, kind) = odds_ratio(table(4, 21, 1, 40), 0.95).unwrap();
    assert_eq!((plain.value, kind), (4.0 * 40.0 / 21.0, OddsKind::Sample));
}

#[test]
fn no_interval_without_a_level() {
    for level in [0.0, 1.0, -3.0, f64::NAN, f64::INFINITY] {
        let t = table(7, 27, 1, 33);
        let all = [
            conditional_odds_ratio(t, level),
            risk_ratio(t, level),
            risk_difference(t, level),
            sample_odds_ratio(t, level),
        ];
        assert!(all.iter().all(|e| e.unwrap().interval.is_none()));
    }
}

#[test]
fn a_million_wells() {
    let t = table(20_000, 230_000, 30_000, 720_000);
    let (sample, exact) = (sample_odds_ratio(t, 0.95).unwrap(), conditional_odds_ratio(t, 0.95).unwrap());
    assert!((sample.value / exact.value - 1.0).abs() < 1e-4);
    let ([a, b], [c, d]) = (sample.interval.unwrap(), exact.interval.unwrap());
    assert!((a / c - 1.0).abs() < 1e-3 && (b / d - 1.0).abs() < 1e-3);
}

fn ordered(e: Estimate) -> bool {
    let at_most = |a: f64, b: f64| a <= b || a - b <= 1e-9 * a.abs();
    e.interval.is_none_or(|[low, high]| at_most(low, e.value) && at_most(e.value, high))
}

proptest! {
    #[test]
    fn figures_lie_in_their_intervals(a in 0u64..60, b in 0u64..60, c in 0u64..60, d in 0u64..60, level in 0.5..0.999f64) {
        let t = table(a, b, c, d);
        for e in [conditional_odds_ratio(t, level), risk_ratio(t, level), risk_difference(t, level), sample_odds_ratio(t, level)] {
            prop_assert!(e.is_none_or(|e| !e.value.is_nan() && ordered(e)), "{e:?}");
        }
        prop_assert!(ordered(half_added_odds_ratio(t, level)));
        if let Some(e) = conditional_odds_ratio(t, level) {
            prop_assert!(e.interval.is_some());
        }
    }

    #[test]
    fn turned_rows_turn_the_ratio(a in 1u64..500, b in 1u64..500, c in 1u64..500, d in 1u64..500) {
        let (one, other) = (conditional_odds_ratio(table(a, b, c, d), 0.95).unwrap(), conditional_odds_ratio(table(c, d, a, b), 0.95).unwrap());
        prop_assert!((one.value * other.value - 1.0).abs() < 1e-9);
        prop_assert!((one.interval.unwrap()[0] * other.interval.unwrap()[1] - 1.0).abs() < 1e-9);
    }
}
