//! The share above a limit from all results, the undetermined ones too: left-censored values into an estimate and its interval.
//!
//! A reader would question what `<10` can say against a limit of 5: by itself nothing, but results with lower limits tell how values
//! below 10 spread, and Kaplan-Meier shares it out likewise. That holds only where a well's reporting limit has nothing to do with
//! its water. The interval is Wilson's with the number of wells that would tell as much without non-detects.

use super::censored::Censored;
use super::kaplan_meier::share_above;
use super::proportions::wilson_of_share;
use super::special::two_sided_z;

/// The estimate and its interval; all are shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CensoredRate {
    /// Kaplan-Meier share above the limit.
    pub rate: f64,
    /// Wells that, all determined, would tell as much.
    pub effective_wells: f64,
    /// Low and high end.
    pub interval: [f64; 2],
}

/// # Computes
/// 1 - P(X <= limit) by Kaplan-Meier for left-censored values; Wilson's interval with n = rate (1 - rate) / se^2, se Greenwood's.
/// # Takes
/// Values in the limit's unit, and the two-sided level.
/// # Gives
/// `None` where nothing was detected, where the limit lies in the share that has no place, and for a level not between 0 and 1.
/// # Conventions
/// The effective number is kept between the determined wells and all of them; at a rate of 0 or 1 it is that of the determined ones.
/// # Source
/// Kaplan and Meier 1958; effective sample size: Cutler and Ederer 1958, Dorey and Korn 1987 (from memory).
/// # Checked against
/// The estimate: `tests/reference/statistics/05-exceedance.json`. The interval: coverage in `tests/simulations`.
pub fn rate_censored(group: &Censored, limit: f64, level: f64) -> Option<CensoredRate> {
    two_sided_z(level)?;
    let share = share_above(group, limit);
    let (rate, se) = (share.rate?, share.se?);
    let (determined, all) = (determined(group, limit) as f64, group.len() as f64);
    let told = if se > 0.0 { rate * (1.0 - rate) / (se * se) } else { determined };
    let effective_wells = told.clamp(determined.max(1.0), all.max(1.0));
    Some(CensoredRate { rate, effective_wells, interval: wilson_of_share(rate, effective_wells, level) })
}

/// Detects, and non-detects at or below the limit.
fn determined(group: &Censored, limit: f64) -> u64 {
    let meets = |limit_of_well: f64| limit_of_well <= limit;
    group
        .ties()
        .iter()
        .map(|tie| u64::from(tie.detects) + if meets(tie.value) { u64::from(tie.nondetects) } else { 0 })
        .sum()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::super::proportions::wilson;
    use super::*;

    /// Without undetermined results it is the plain rate with Wilson's interval: 3 of 10 above 5.
    #[test]
    fn determined_wells_alone_give_the_plain_rate() {
        let got = rate_censored(&words("<1 <2 <5 1 2 3 4 6 7 8"), 5.0, 0.95).unwrap();
        let [low, high] = wilson(3, 10, 0.95).unwrap();
        assert!((got.rate - 0.3).abs() < 1e-12 && (got.effective_wells - 10.0).abs() < 1e-9);
        assert!((got.interval[0] - low).abs() < 1e-9 && (got.interval[1] - high).abs() < 1e-9);
    }

    /// By hand: of 1 2 3 7 <10 against 5, detect 7 has 4 at risk besides nothing above; `<10` counts to nobody: P(X < 7) = 3/4.
    #[test]
    fn an_undetermined_well_is_shared_out() {
        let got = rate_censored(&words("1 2 3 7 <10"), 5.0, 0.95).unwrap();
        assert!((got.rate - 0.25).abs() < 1e-12 && (4.0..=5.0).contains(&got.effective_wells), "{got:?}");
    }

    #[test]
    fn what_has_no_place_is_not_given() {
        assert_eq!(rate_censored(&words("<10 <10 20"), 5.0, 0.95), None);
        assert_eq!(rate_censored(&words("<10 <10"), 5.0, 0.95), None);
        assert_eq!(rate_censored(&words(""), 5.0, 0.95), None);
        assert_eq!(rate_censored(&words("1 2"), 5.0, 1.0), None);
    }

    proptest! {
        #[test]
        fn shares_in_order(group in groups(), limit in 0.0..20.0f64) {
            if let Some(got) = rate_censored(&group, limit, 0.9) {
                let [low, high] = got.interval;
                prop_assert!(0.0 <= low && low <= got.rate + 1e-12 && got.rate <= high + 1e-12 && high <= 1.0);
                prop_assert!(got.effective_wells >= 1.0 && got.effective_wells <= group.len() as f64 + 1e-9);
            }
        }
    }
}
