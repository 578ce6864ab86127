//! Quantiles of complete data: counted values and a share into a value, by two of the usual nine
//! definitions.
//!
//! A reader would question why there are two: Kaplan-Meier inverts a step function, which on
//! complete data is type 2; the regression on order statistics completes a sample, whose quantiles
//! are read off between its values (type 7).

/// Two cumulative shares closer than this are the same, so that a share such as 0.1 meets the step
/// it should meet.
pub(crate) const SHARE_EPS: f64 = 1e-9;

/// # Computes
/// The inverse of the share at or below a value, averaged over the flat stretch where that share is
/// exactly `p`.
/// # Takes
/// Different values, lowest first, with their counts; `p` from 0 to 1.
/// # Gives
/// A value, or the middle of two neighbours; `None` without values or with `p` outside 0 to 1.
/// # Source
/// Hyndman and Fan 1996, definition 2 (from memory).
/// # Checked against
/// `tests/reference/statistics/01-kaplan-meier.json` (complete data and sure bounds).
pub fn averaged_inverse(counts: &[(f64, u32)], p: f64) -> Option<f64> {
    let n = total(counts)?;
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    let h = n as f64 * p;
    let whole = h.round();
    if (h - whole).abs() < SHARE_EPS * n as f64 {
        let rank = whole as usize;
        let (low, high) = (at_rank(counts, rank.max(1) - 1)?, at_rank(counts, rank.min(n - 1))?);
        return Some(0.5 * (low + high));
    }
    at_rank(counts, h.ceil() as usize - 1)
}

/// # Computes
/// The value at position `p (n - 1)` counted from 0 in the ordered sample, read linearly between
/// neighbours.
/// # Takes
/// Values in any order; `p` from 0 to 1.
/// # Gives
/// `None` without values or with `p` outside 0 to 1.
/// # Source
/// Hyndman and Fan 1996, definition 7 (from memory).
/// # Checked against
/// `tests/reference/statistics/02-ros.json`, `20-bangladesh-arsenic.json`.
pub fn linear(sorted: &[f64], p: f64) -> Option<f64> {
    let (below, share) = position(sorted.len(), p)?;
    let low = *sorted.get(below)?;
    let high = sorted.get(below + 1).copied().unwrap_or(low);
    Some(low + share * (high - low))
}

/// Position from 0 of the value at or below the quantile, and how far towards the next one it lies.
pub(crate) fn position(n: usize, p: f64) -> Option<(usize, f64)> {
    if n == 0 || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let h = (n - 1) as f64 * p;
    Some((h.floor() as usize, h - h.floor()))
}

fn total(counts: &[(f64, u32)]) -> Option<usize> {
    let n = counts.iter().map(|(_, count)| *count as usize).sum();
    (n > 0).then_some(n)
}

/// The value at a rank from 0.
pub(crate) fn at_rank(counts: &[(f64, u32)], rank: usize) -> Option<f64> {
    let mut seen = 0;
    counts.iter().find_map(|(value, count)| {
        seen += *count as usize;
        (seen > rank).then_some(*value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ordinary_median() {
        assert_eq!(averaged_inverse(&[(1.0, 1), (2.0, 1), (4.0, 2)], 0.5), Some(3.0));
        assert_eq!(averaged_inverse(&[(1.0, 2), (2.0, 1)], 0.5), Some(1.0));
        assert_eq!(linear(&[1.0, 2.0, 4.0, 4.0], 0.5), Some(3.0));
    }

    #[test]
    fn ends_and_nothing() {
        assert_eq!(averaged_inverse(&[(1.0, 1), (2.0, 1)], 0.0), Some(1.0));
        assert_eq!(averaged_inverse(&[(1.0, 1), (2.0, 1)], 1.0), Some(2.0));
        assert_eq!((averaged_inverse(&[], 0.5), linear(&[], 0.5), linear(&[1.0], 2.0)), (None, None, None));
        assert_eq!(linear(&[1.0, 3.0], 1.0), Some(3.0));
    }
}
