//! The exact p of Kendall's S for a handful of results: every pairing is tried.

use super::{Series, check};

/// Results up to which every pairing is tried: 40320 of them.
const MOST: usize = 8;

/// Exact two-sided p of S.
///
/// # Computes
/// The share of all pairings of times and results whose S is at least as far from 0 as the one seen.
/// # Takes
/// A [`Series`] of up to eight results.
/// # Gives
/// p in (0, 1]; `None` for longer series and for what is no number.
/// # Errors
/// None.
/// # Conventions
/// As [`super::kendall`]; equally far counts.
/// # Source
/// Kendall 1938, Biometrika 30 (from memory).
/// # Checked against
/// `13-trend-in-time.json` (`exact_p`).
pub fn exact_p(series: Series<'_>) -> Option<f64> {
    check(series).ok()?;
    let n = series.times.len();
    if n > MOST {
        return None;
    }
    let detected = vec![false; n];
    let times = signs(series.times, &detected);
    let values = signs(series.values, series.nondetect);
    let mut pairing: Vec<usize> = (0..n).collect();
    let seen = s(&times, &values, &pairing).abs();
    let (mut tried, mut far) = (0_u32, 0_u32);
    all_pairings(&mut pairing, 0, &mut |pairing| {
        tried += 1;
        far += u32::from(s(&times, &values, pairing).abs() >= seen);
    });
    Some(f64::from(far) / f64::from(tried))
}

fn all_pairings(pairing: &mut Vec<usize>, settled: usize, visit: &mut impl FnMut(&[usize])) {
    if settled + 1 >= pairing.len() {
        return visit(pairing);
    }
    for i in settled..pairing.len() {
        pairing.swap(settled, i);
        all_pairings(pairing, settled + 1, visit);
        pairing.swap(settled, i);
    }
}

fn s(times: &[Vec<i32>], values: &[Vec<i32>], pairing: &[usize]) -> i32 {
    let mut s = 0;
    for (i, p) in pairing.iter().enumerate() {
        for (j, q) in pairing.iter().enumerate().take(i) {
            s += times[j][i] * values[*q][*p];
        }
    }
    s
}

/// For each two results 1 where the second is certainly above the first, -1 where it is below, 0 where that is not certain.
fn signs(values: &[f64], nondetect: &[bool]) -> Vec<Vec<i32>> {
    let all: Vec<(f64, bool)> = values.iter().copied().zip(nondetect.iter().copied()).collect();
    let sign = |(a, a_limit): (f64, bool), (b, b_limit): (f64, bool)| match (a_limit, b_limit) {
        (false, false) => i32::from(b > a) - i32::from(b < a),
        (true, false) => i32::from(b >= a),
        (false, true) => -i32::from(a >= b),
        (true, true) => 0,
    };
    all.iter().map(|a| all.iter().map(|b| sign(*a, *b)).collect()).collect()
}
