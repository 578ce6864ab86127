//! Trend: a printed example, long series, and what must hold for any series.

use proptest::prelude::*;

use super::*;

fn series<'a>(times: &'a [f64], values: &'a [f64], nondetect: &'a [bool]) -> Series<'a> {
    Series { times, values, nondetect }
}

/// Sen 1968, J. American Statistical Association 63, the example of seven points: slope 4 from t 1, 2, 3, 4, 10, 12, 18 and
/// y 9, 15, 19, 20, 45, 55, 78 (from memory).
#[test]
fn seven_points_of_sen() {
    let (t, y) = ([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0], [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0]);
    let got = kendall(series(&t, &y, &[false; 7])).unwrap();
    assert_eq!((got.s, got.tau_b), (21.0, Some(1.0)));
    assert!((got.slope.unwrap().middle - 4.0).abs() < 1e-12);
    assert!((got.variance - 7.0 * 6.0 * 19.0 / 18.0).abs() < 1e-9);
}

#[test]
fn what_cannot_be_told_is_none() {
    assert_eq!(kendall(series(&[1.0], &[], &[])), Err(NoTrend::Lengths));
    assert_eq!(kendall(series(&[1.0], &[f64::INFINITY], &[false])), Err(NoTrend::NotANumber));
    for n in 0..2 {
        let got = kendall(series(&[1.0, 2.0][..n], &[3.0, 4.0][..n], &[false; 2][..n])).unwrap();
        assert_eq!((got.tau_a, got.tau_b, got.test, got.slope), (None, None, None, None));
    }
    let limits = kendall(series(&[1.0, 2.0, 3.0], &[1.0, 1.0, 2.0], &[true; 3])).unwrap();
    assert_eq!((limits.tau_b, limits.test, limits.slope), (None, None, None));
    assert_eq!(regional(&[]).unwrap().tau, None);
    assert_eq!(exact_p(series(&[0.0; 9], &[0.0; 9], &[false; 9])), None);
}

/// Enough results that the slope is found by halving; the line is 2 a year with a wave on it.
#[test]
fn many_results() {
    let n = 3000;
    let t: Vec<f64> = (0..n).map(|i| 2000.0 + f64::from(i) / 100.0).collect();
    let v: Vec<f64> = (0..n).map(|i| 2.0 * f64::from(i) / 100.0 + f64::from((i * 7919) % 101)).collect();
    let got = kendall(series(&t, &v, &vec![false; 3000])).unwrap();
    let slope = got.slope.unwrap();
    assert!((slope.middle - 2.0).abs() < 0.2 && slope.from <= slope.to);
    let laid_out = slope::slope(&[series(&t[..1900], &v[..1900], &[false; 1900])]).unwrap();
    assert!((laid_out.middle - 2.0).abs() < 0.3);
}

fn results() -> impl Strategy<Value = (Vec<f64>, Vec<f64>, Vec<bool>)> {
    prop::collection::vec((0u8..9, 0u8..9, any::<bool>()), 0..30).prop_map(|list| {
        let times = list.iter().map(|r| f64::from(r.0)).collect();
        (times, list.iter().map(|r| f64::from(r.1)).collect(), list.iter().map(|r| r.2).collect())
    })
}

/// S pair by pair.
fn slow_s(t: &[f64], v: &[f64], c: &[bool]) -> f64 {
    let mut s = 0.0;
    for i in 0..t.len() {
        for j in 0..t.len() {
            if t[j] > t[i] {
                s += match (c[i], c[j]) {
                    (false, false) => f64::from(i8::from(v[j] > v[i]) - i8::from(v[j] < v[i])),
                    (true, false) => f64::from(u8::from(v[j] >= v[i])),
                    (false, true) => -f64::from(u8::from(v[i] >= v[j])),
                    (true, true) => 0.0,
                };
            }
        }
    }
    s
}

proptest! {
    #[test]
    fn counts_are_those_of_all_pairs((t, v, c) in results()) {
        let got = kendall(series(&t, &v, &c)).unwrap();
        prop_assert_eq!(got.s, slow_s(&t, &v, &c));
        let turned: Vec<f64> = t.iter().map(|t| -t).collect();
        prop_assert_eq!(kendall(series(&turned, &v, &c)).unwrap().s, -got.s);
        prop_assert!(got.tau_b.is_none_or(|tau| tau.abs() <= 1.0 + 1e-12));
    }

    #[test]
    fn no_trend_is_left_about_the_slope((t, v, c) in results()) {
        if let Some(slope) = kendall(series(&t, &v, &c)).unwrap().slope {
            let left = |b: f64| {
                let v: Vec<f64> = t.iter().zip(&v).map(|(t, v)| v - b * t).collect();
                slow_s(&t, &v, &c)
            };
            prop_assert!(left(slope.from - 1e-6) > 0.0 && left(slope.to + 1e-6) < 0.0);
        }
    }

    #[test]
    fn halving_finds_what_the_steps_show((t, v, c) in results()) {
        let all = [series(&t, &v, &c)];
        let (a, b) = (slope::by_steps(&all), slope::by_halving(&all));
        prop_assert_eq!(a.is_some(), b.is_some());
        if let (Some(a), Some(b)) = (a, b) {
            prop_assert!((a.from - b.from).abs() < 1e-9 && (a.to - b.to).abs() < 1e-9, "{a:?} {b:?}");
        }
    }

    #[test]
    fn one_series_is_its_region((t, v, c) in results()) {
        let one = kendall(series(&t, &v, &c)).unwrap();
        let region = regional(&[series(&t, &v, &c)]).unwrap();
        prop_assert_eq!((one.s, one.variance, one.test, one.slope), (region.s, region.variance, region.test, region.slope));
    }
}
