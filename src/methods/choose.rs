//! Which method summarises a group: its counts into one of four methods, decided here and nowhere
//! else.
//!
//! A reader would question the borders: up to one half censored Kaplan-Meier, up to four fifths
//! regression on order statistics, beyond that nothing modelled. They are compared as whole
//! numbers, so that exactly half is half.

/// A method, in the words of the `method` column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SummaryMethod {
    /// Ordinary figures, no non-detects.
    AllDetected,
    /// Kaplan-Meier for left-censored values.
    KaplanMeier,
    /// Robust regression on order statistics of the logarithms.
    OrderStatistics,
    /// Detected share, highest value, and what can be bounded.
    SharesOnly,
}

impl SummaryMethod {
    /// The word that stands in the `method` column.
    pub fn word(self) -> &'static str {
        match self {
            SummaryMethod::AllDetected => "all-detected",
            SummaryMethod::KaplanMeier => "kaplan-meier",
            SummaryMethod::OrderStatistics => "order-statistics",
            SummaryMethod::SharesOnly => "shares-only",
        }
    }
}

/// Whether a logarithm can be taken of every value and limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lowest {
    /// All are above zero.
    Positive,
    /// At least one is zero or below.
    ZeroOrBelow,
}

/// Wells that the regression on order statistics needs.
const FEWEST_WELLS_OF_A_LINE: usize = 5;

/// # Computes
/// The method for a group of `n` results of which `censored` are non-detects.
/// # Takes
/// `fewest_detects` of the plan; whether a value or limit is at or below zero.
/// # Gives
/// All detected: the ordinary figures, however few. Otherwise, with fewer detects than asked or
/// more than 80 % censored: shares only. Up to 50 %: Kaplan-Meier. Between: regression on order
/// statistics, or shares only where a line cannot be drawn (under five wells, or a value without a
/// logarithm).
///
/// Likelihood fits are not chosen: on draws that are not lognormal the lognormal one missed the mean in up to nine of ten groups
/// (`tests/simulations/coverage.csv`, 100 wells, gamma). They are a cross-check: where percentiles are modelled, `lognormal_gap` and
/// `gamma_gap` tell which of the two fits better, and a note stands where the fitted mean leaves the interval.
/// # Source
/// The design of this program; the borders follow Helsel 2005 (from memory).
/// # Checked against
/// Errors and coverage on both sides of the borders: `tests/simulations/errors.csv`, `coverage.csv`.
pub fn choose(n: usize, censored: usize, fewest_detects: usize, lowest: Lowest) -> SummaryMethod {
    let detects = n.saturating_sub(censored);
    match () {
        () if n == 0 => SummaryMethod::SharesOnly,
        () if censored == 0 => SummaryMethod::AllDetected,
        () if detects < fewest_detects.max(1) || 5 * censored > 4 * n => SummaryMethod::SharesOnly,
        () if 2 * censored <= n => SummaryMethod::KaplanMeier,
        () if n >= FEWEST_WELLS_OF_A_LINE && lowest == Lowest::Positive => SummaryMethod::OrderStatistics,
        () => SummaryMethod::SharesOnly,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn borders_belong_to_the_lower_side() {
        use SummaryMethod::{AllDetected, KaplanMeier, OrderStatistics, SharesOnly};
        let of = |n, censored| choose(n, censored, 3, Lowest::Positive);
        assert_eq!(
            (of(0, 0), of(1, 0), of(10, 5), of(20, 11)),
            (SharesOnly, AllDetected, KaplanMeier, OrderStatistics)
        );
        assert_eq!((of(20, 16), of(20, 17), of(1000, 801)), (OrderStatistics, SharesOnly, SharesOnly));
    }

    #[test]
    fn too_few_detects_or_wells_leave_shares() {
        use SummaryMethod::{KaplanMeier, OrderStatistics, SharesOnly};
        assert_eq!((choose(4, 2, 3, Lowest::Positive), choose(6, 3, 3, Lowest::Positive)), (SharesOnly, KaplanMeier));
        assert_eq!(
            (choose(4, 3, 1, Lowest::Positive), choose(5, 3, 1, Lowest::Positive)),
            (SharesOnly, OrderStatistics)
        );
        assert_eq!(choose(10, 6, 3, Lowest::ZeroOrBelow), SharesOnly);
        assert_eq!(choose(3, 3, 0, Lowest::Positive), SharesOnly);
    }
}
