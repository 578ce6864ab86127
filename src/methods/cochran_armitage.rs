//! Exceeding wells by ordered bands into a test of trend: does the share rise or fall with the score of the band.
//!
//! A reader would question the exact p. It is conditional on the margins, takes as extreme what lies at least as far from the mean
//! on either side, and is made only where the work is small; the normal p is the one to publish, as its conventions are settled.

use super::special::two_sided_normal_p;

/// The trend over the bands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Above 0 where the share rises with the score.
    pub z: f64,
    /// z squared, one degree of freedom.
    pub chi_squared: f64,
    /// Two-sided normal p.
    pub p: f64,
}

/// Why there is no test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTrend {
    /// The three lists differ in length.
    #[error("bands, wells and scores are not equally many")]
    Lengths,
    /// More wells exceed in a band than it has, or a score is no finite number.
    #[error("a band holds fewer wells than exceed in it, or has no score")]
    NotCounts,
    /// Fewer than two different scores among bands with wells.
    #[error("fewer than two bands hold wells")]
    OneBand,
    /// No well exceeds, or every well does.
    #[error("no well exceeds, or all do")]
    NoVariation,
}

/// Most steps of the exact enumeration; beyond it there is no exact p. A tenth of a second at most.
const EXACT_STEPS: f64 = 2e8;

/// Scores 0, 1, 2 and so on for `bands` bands.
pub fn equal_scores(bands: usize) -> Vec<f64> {
    (0..bands).map(|i| i as f64).collect()
}

/// Cochran-Armitage test of trend.
///
/// # Computes
/// z = sum s (x - n p) / root of p (1 - p) (sum n s^2 - (sum n s)^2 / N), p = X / N over all bands.
/// # Takes
/// Exceeding wells, wells and score of each band, in any order; a band may be empty.
/// # Gives
/// z, its square and the two-sided p.
/// # Errors
/// [`NoTrend`] where there is nothing to test.
/// # Conventions
/// No continuity correction; N in the variance (Mantel's form has N - 1 and is smaller by (N - 1) / N).
/// # Source
/// Armitage 1955, Biometrics 11, 375-386 (from memory).
/// # Checked against
/// `08-trend-in-bands.json`.
pub fn trend(exceeding: &[u64], wells: &[u64], scores: &[f64]) -> Result<Trend, NoTrend> {
    let sums = Sums::of(exceeding, wells, scores)?;
    let share = sums.exceeding / sums.wells;
    // Scores are taken about their mean, which leaves both formulas as they are and loses no digits to large scores.
    let mean = sums.wells_by_score / sums.wells;
    let (mut above, mut spread) = (0.0, 0.0);
    for ((x, n), s) in exceeding.iter().zip(wells).zip(scores) {
        above += (s - mean) * (*x as f64 - *n as f64 * share);
        spread += *n as f64 * (s - mean) * (s - mean);
    }
    let z = above / (share * (1.0 - share) * spread).sqrt();
    if !z.is_finite() {
        return Err(NoTrend::OneBand);
    }
    Ok(Trend { z, chi_squared: z * z, p: two_sided_normal_p(z) })
}

struct Sums {
    exceeding: f64,
    wells: f64,
    wells_by_score: f64,
}

impl Sums {
    fn of(exceeding: &[u64], wells: &[u64], scores: &[f64]) -> Result<Self, NoTrend> {
        if exceeding.len() != wells.len() || wells.len() != scores.len() {
            return Err(NoTrend::Lengths);
        }
        if exceeding.iter().zip(wells).any(|(x, n)| x > n) || scores.iter().any(|s| !s.is_finite()) {
            return Err(NoTrend::NotCounts);
        }
        let mut held = wells.iter().zip(scores).filter(|(n, _)| **n > 0).map(|(_, s)| *s);
        let first = held.next();
        if held.all(|s| Some(s) == first) {
            return Err(NoTrend::OneBand);
        }
        let sum = |list: &[u64]| list.iter().map(|n| *n as f64).sum::<f64>();
        let wells_by_score = wells.iter().zip(scores).map(|(n, s)| *n as f64 * s).sum();
        let sums = Sums { exceeding: sum(exceeding), wells: sum(wells), wells_by_score };
        if sums.exceeding == 0.0 || sums.exceeding == sums.wells {
            return Err(NoTrend::NoVariation);
        }
        Ok(sums)
    }
}

/// Exact two-sided p of the trend.
///
/// # Computes
/// Given the wells of each band and the total that exceed, every split of that total over the bands has a known chance; p is the
/// chance of a sum of scores at least as far from its mean as the one seen.
/// # Takes
/// As [`trend`]; scores must be whole multiples of 1/2, 1/4, 1/5 or 1/10.
/// # Gives
/// p in (0, 1]; `None` where there is no test, where scores are not such multiples, or where the enumeration would be long (about
/// 340 exceeding wells over five equal scores are the limit).
/// # Errors
/// None.
/// # Conventions
/// Distances are compared in whole numbers, so equal ones are equal.
/// # Source
/// Mehta and Patel 1998 describe it (from memory); enumeration by convolution.
/// # Checked against
/// `08-trend-in-bands.json` (`exact_p`).
pub fn exact_p(exceeding: &[u64], wells: &[u64], scores: &[f64]) -> Option<f64> {
    let sums = Sums::of(exceeding, wells, scores).ok()?;
    let steps = whole_scores(scores)?;
    let m = exceeding.iter().copied().try_fold(0u64, u64::checked_add)?;
    let largest = steps.iter().copied().max()?;
    let states = m as f64 * (m as f64 * largest as f64 + 1.0);
    if states * m as f64 * wells.len() as f64 / 4.0 > EXACT_STEPS || sums.wells > 1e12 {
        return None;
    }
    let m = usize::try_from(m).ok()?;
    let table = convolve(m, wells, &steps, sums.exceeding / sums.wells);
    let weighted = |list: &[u64]| list.iter().zip(&steps).map(|(n, s)| i128::from(*n) * i128::from(*s)).sum::<i128>();
    let all = wells.iter().map(|n| i128::from(*n)).sum::<i128>();
    let mean = m as i128 * weighted(wells);
    let far = |t: i128| (t * all - mean).abs();
    let seen = far(weighted(exceeding));
    let (mut total, mut tail) = (0.0, 0.0);
    for (t, w) in table.iter().enumerate() {
        total += w;
        tail += if far(t as i128) >= seen { *w } else { 0.0 };
    }
    (total > 0.0).then(|| (tail / total).clamp(f64::MIN_POSITIVE, 1.0))
}

/// Scores as whole steps above the lowest, without a common factor.
fn whole_scores(scores: &[f64]) -> Option<Vec<u64>> {
    let lowest = scores.iter().copied().fold(f64::INFINITY, f64::min);
    [1.0, 2.0, 4.0, 5.0, 10.0].iter().find_map(|unit| {
        let step = |s: &f64| {
            let x = (s - lowest) * unit;
            ((x - x.round()).abs() < 1e-9 && x < 1e6).then(|| x.round() as u64)
        };
        let steps = scores.iter().map(step).collect::<Option<Vec<u64>>>()?;
        let common = steps.iter().copied().fold(0, gcd).max(1);
        Some(steps.into_iter().map(|s| s / common).collect())
    })
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Chance (up to a common factor) of each sum of scores when `m` wells exceed in all.
///
/// Bands are binomial with the common share: conditioning on the total takes the share out again, and it keeps every weight within
/// the range of a double.
fn convolve(m: usize, wells: &[u64], steps: &[u64], share: f64) -> Vec<f64> {
    let largest = steps.iter().copied().max().unwrap_or(0) as usize;
    let width = m * largest + 1;
    let mut table = vec![0.0; (m + 1) * width];
    table[0] = 1.0;
    for (n, step) in wells.iter().zip(steps) {
        let chances = binomial(*n, share, m);
        let mut next = vec![0.0; table.len()];
        for k in 0..=m {
            let row = &table[k * width..k * width + k * largest + 1];
            for (j, chance) in chances.iter().take(m - k + 1).enumerate() {
                let start = (k + j) * width + j * *step as usize;
                for (slot, w) in next[start..start + row.len()].iter_mut().zip(row) {
                    *slot += chance * w;
                }
            }
        }
        table = next;
    }
    table.split_off(m * width)
}

/// Chances of 0, 1, ... up to `most` successes of `n`, up to a common factor: the likeliest number has weight 1.
fn binomial(n: u64, share: f64, most: usize) -> Vec<f64> {
    let most = most.min(usize::try_from(n).unwrap_or(usize::MAX));
    let odds = share / (1.0 - share);
    let ratio = |j: usize| (n as f64 - j as f64) / (j as f64 + 1.0) * odds;
    let peak = ((n as f64 + 1.0) * share).floor().min(most as f64) as usize;
    let mut chances = vec![1.0; most + 1];
    for j in peak..most {
        chances[j + 1] = chances[j] * ratio(j);
    }
    for j in (0..peak).rev() {
        chances[j] = chances[j + 1] / ratio(j);
    }
    chances
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::methods::fisher;
    use crate::methods::two_by_two::TwoByTwo;

    /// Malformations by alcohol use, Agresti, Categorical Data Analysis: chi-square 6.57, p 0.0104 (from memory).
    #[test]
    fn alcohol_and_malformation() {
        let (x, n, s) = ([48, 38, 5, 1, 1], [17114, 14502, 793, 127, 38], [0.0, 0.5, 1.5, 4.0, 7.0]);
        let got = trend(&x, &n, &s).unwrap();
        assert!((got.chi_squared - 6.57).abs() < 0.005 && (got.p - 0.0104).abs() < 5e-5);
        // The exact p with the last score 8 is printed as 0.0159 by a public example on this table.
        let exact = exact_p(&x, &n, &[0.0, 0.5, 1.5, 4.0, 8.0]).unwrap();
        assert!((exact - 0.0159).abs() < 5e-5);
    }

    #[test]
    fn nothing_to_test_is_said() {
        assert_eq!(trend(&[], &[], &[]), Err(NoTrend::OneBand));
        assert_eq!(trend(&[1], &[2], &[0.0, 1.0]), Err(NoTrend::Lengths));
        assert_eq!(trend(&[3, 1], &[2, 4], &[0.0, 1.0]), Err(NoTrend::NotCounts));
        assert_eq!(trend(&[1, 1], &[2, 4], &[0.0, f64::NAN]), Err(NoTrend::NotCounts));
        assert_eq!(trend(&[1, 0], &[2, 0], &[0.0, 1.0]), Err(NoTrend::OneBand));
        assert_eq!(trend(&[0, 0], &[2, 4], &[0.0, 1.0]), Err(NoTrend::NoVariation));
        assert_eq!(trend(&[2, 4], &[2, 4], &[0.0, 1.0]), Err(NoTrend::NoVariation));
        assert_eq!(exact_p(&[2, 4], &[2, 4], &[0.0, 1.0]), None);
        assert_eq!(exact_p(&[200_000, 1], &[400_000, 400_000], &[0.0, 1.0]), None);
    }

    fn bands() -> impl Strategy<Value = (Vec<u64>, Vec<u64>)> {
        prop::collection::vec((0u64..9, 0u64..9), 2..5)
            .prop_map(|list| (list.iter().map(|(x, _)| *x).collect(), list.iter().map(|(x, more)| x + more).collect()))
    }

    proptest! {
        #[test]
        fn turning_the_scores_turns_the_sign((x, n) in bands(), shift in -50.0..50.0f64, unit in 0.1..9.0f64) {
            let s = equal_scores(x.len());
            let turned: Vec<f64> = s.iter().map(|s| shift - unit * s).collect();
            if let (Ok(a), Ok(b)) = (trend(&x, &n, &s), trend(&x, &n, &turned)) {
                prop_assert!((a.z + b.z).abs() < 1e-9 && a.p > 0.0 && a.p <= 1.0);
            }
        }

        /// With two bands that hold equally many wells the distance from the mean orders tables as their chance does.
        #[test]
        fn two_equal_bands_are_fisher((n, x) in (1u64..30).prop_flat_map(|n| (Just(n), (0..=n, 0..=n)))) {
            let t = TwoByTwo { exposed_exceeding: x.0, exposed_meeting: n - x.0, reference_exceeding: x.1, reference_meeting: n - x.1 };
            if let Some(p) = exact_p(&[x.0, x.1], &[n, n], &[0.0, 1.0]) {
                prop_assert!((p - fisher::test(t).p).abs() < 1e-12);
            }
        }

        #[test]
        fn any_input_has_an_answer(x in prop::collection::vec(any::<u64>(), 0..4), n in prop::collection::vec(any::<u64>(), 0..4), s in prop::collection::vec(any::<f64>(), 0..4)) {
            if let Ok(t) = trend(&x, &n, &s) {
                prop_assert!(t.z.is_finite() && t.p >= 0.0);
            }
            let _ = exact_p(&x, &n, &s);
        }
    }
}
