//! Kaplan-Meier for left-censored values: counts at each value into the share below each detect,
//! and the figures read off it.
//!
//! A reader would question what becomes of the share left below the lowest detect when the lowest
//! result is a non-detect: nothing is known of its place, so quantiles inside it are withheld, and
//! the mean is given twice, with that share at the lowest limit and at zero.

use super::censored::Censored;
use super::quantiles::{SHARE_EPS, averaged_inverse};

/// The estimate at one detected value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The value.
    pub x: f64,
    /// Results whose value or limit is at most `x`.
    pub at_risk: u64,
    /// Detects at `x`.
    pub detects: u64,
    /// Share estimated to lie below `x`.
    pub p_below: f64,
    /// Share estimated to lie at or below `x`.
    pub p_at_or_below: f64,
    /// Greenwood's standard error of `p_below`.
    pub p_below_se: f64,
}

/// The estimated distribution of a group with at least one detect.
#[derive(Clone, Debug, PartialEq)]
pub struct KaplanMeier {
    steps: Vec<Step>,
    n: usize,
    lowest_limit: Option<f64>,
    lowest_detect: f64,
    mass_below: f64,
}

/// The share above a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShareAbove {
    /// The estimate; `None` where the limit lies in the mass that has no place.
    pub rate: Option<f64>,
    /// Its standard error (Greenwood).
    pub se: Option<f64>,
    /// What is known of it in any case.
    pub bounds: [f64; 2],
}

impl KaplanMeier {
    /// # Computes
    /// From the highest detect down, the product of (at risk - detects) / at risk, where at risk at
    /// x are all results whose value or limit is at most x.
    /// # Takes
    /// Left-censored values; `<5` is at risk at a detected 5.
    /// # Gives
    /// `None` when nothing was detected. A non-detect above every detect changes nothing.
    /// # Conventions
    /// `p_below` covers detects at and above x, `p_at_or_below` those above x.
    /// # Source
    /// Kaplan and Meier 1958, turned from right to left (Helsel 2005, chapter 6; from memory).
    /// # Checked against
    /// `tests/reference/statistics/01-kaplan-meier.json`, `20-bangladesh-arsenic.json`.
    pub fn of(group: &Censored) -> Option<Self> {
        let lowest_detect = group.lowest_detect()?;
        let mut steps = Vec::new();
        let (mut at, mut share, mut greenwood) = (group.len() as u64, 1.0, 0.0);
        for tie in group.ties().iter().rev() {
            let detects = u64::from(tie.detects);
            if detects > 0 {
                let above = share;
                let left = at - detects;
                share *= left as f64 / at as f64;
                greenwood += if left > 0 { detects as f64 / (at as f64 * left as f64) } else { 0.0 };
                let p_below_se = share * f64::sqrt(greenwood);
                steps.push(Step {
                    x: tie.value,
                    at_risk: at,
                    detects,
                    p_below: share,
                    p_at_or_below: above,
                    p_below_se,
                });
            }
            at -= detects + u64::from(tie.nondetects);
        }
        steps.reverse();
        Some(KaplanMeier {
            steps,
            n: group.len(),
            lowest_limit: group.lowest_limit(),
            lowest_detect,
            mass_below: share,
        })
    }

    /// The estimate at each detected value, lowest first.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Share left below the lowest detect, which has no place.
    pub fn mass_below_lowest_detect(&self) -> f64 {
        self.mass_below
    }

    /// Lowest detected value: what is known of a quantile that is withheld is that it lies below.
    pub fn lowest_detect(&self) -> f64 {
        self.lowest_detect
    }

    /// Where the mean puts the share that has no place, if there is such a share.
    fn unplaced(&self) -> Option<(f64, f64)> {
        self.lowest_limit.filter(|_| self.mass_below > SHARE_EPS).map(|limit| (limit, self.mass_below))
    }

    fn masses(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.steps.iter().map(|s| (s.x, s.p_at_or_below - s.p_below))
    }

    /// Mean with the share that has no place at the lowest limit of all (Efron's completion): an
    /// upper reading.
    pub fn mean(&self) -> f64 {
        self.unplaced().map_or(0.0, |(limit, mass)| limit * mass) + self.mean_low()
    }

    /// Mean with the share that has no place at zero.
    pub fn mean_low(&self) -> f64 {
        self.masses().map(|(x, mass)| x * mass).sum()
    }

    /// Root of the mass-weighted squares about `mean`, divisor n.
    pub fn sd_population(&self) -> f64 {
        let mean = self.mean();
        let square = |(x, mass): (f64, f64)| mass * (x - mean) * (x - mean);
        let sum: f64 = self.unplaced().into_iter().chain(self.masses()).map(square).sum();
        sum.max(0.0).sqrt()
    }

    /// The same times n / (n - 1) under the root, the ordinary one on complete data; `None` for a
    /// single result.
    pub fn sd(&self) -> Option<f64> {
        let n = self.n as f64;
        (self.n > 1).then(|| self.sd_population() * (n / (n - 1.0)).sqrt())
    }

    /// Standard error of `mean`: root of the sum of A^2 d / (r (r - d)), with A the area under the
    /// share below u, up to x.
    pub fn mean_se(&self) -> f64 {
        let mut from = self.unplaced().map_or(self.lowest_detect, |(limit, _)| limit);
        let (mut area, mut sum) = (0.0, 0.0);
        for s in &self.steps {
            area += s.p_below * (s.x - from);
            from = s.x;
            let (r, d) = (s.at_risk as f64, s.detects as f64);
            sum += if r > d { area * area * d / (r * (r - d)) } else { 0.0 };
        }
        sum.sqrt()
    }

    /// # Computes
    /// The inverse of the share at or below x, the middle of the flat stretch where it equals `p`;
    /// complete data give the ordinary median.
    /// # Gives
    /// `None` for a `p` up to the mass that has no place (the quantile then lies below
    /// `lowest_detect`) or outside 0 to 1.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let low = self.quantile_lower(p)?;
        let past = self.steps.iter().find(|s| s.p_at_or_below > p + SHARE_EPS).or(self.steps.last());
        past.map(|s| 0.5 * (low + s.x))
    }

    /// The plain inverse: the lowest detect with at least the share `p` at or below it.
    pub fn quantile_lower(&self, p: f64) -> Option<f64> {
        if !(0.0..=1.0).contains(&p) || (self.mass_below > SHARE_EPS && p <= self.mass_below + SHARE_EPS) {
            return None;
        }
        self.steps.iter().find(|s| s.p_at_or_below >= p - SHARE_EPS).map(|s| s.x)
    }

    /// The share above `limit`; withheld, with its bounds, where the limit lies below both the
    /// lowest detect and the lowest limit and mass is unplaced there.
    pub fn above(&self, limit: f64) -> ShareAbove {
        let (below, se) = self.steps.iter().find(|s| s.x > limit).map_or((1.0, 0.0), |s| (s.p_below, s.p_below_se));
        match self.unplaced() {
            Some((lowest, mass)) if limit < self.lowest_detect && limit < lowest => {
                ShareAbove { rate: None, se: None, bounds: [1.0 - mass, 1.0] }
            }
            _ => ShareAbove { rate: Some(1.0 - below), se: Some(se), bounds: [1.0 - below; 2] },
        }
    }
}

/// The share above `limit` of any group: with nothing detected, or no result, all that is known is
/// that it is a share.
pub fn share_above(group: &Censored, limit: f64) -> ShareAbove {
    let nothing = ShareAbove { rate: None, se: None, bounds: [0.0, 1.0] };
    KaplanMeier::of(group).map_or(nothing, |km| km.above(limit))
}

/// The same figures with every non-detect at zero and at its limit: no assumption is made.
#[derive(Clone, Debug, PartialEq)]
pub struct SureBounds {
    low: Vec<(f64, u32)>,
    high: Vec<(f64, u32)>,
}

impl SureBounds {
    /// Both completions of a group; `None` without results.
    pub fn of(group: &Censored) -> Option<Self> {
        if group.is_empty() {
            return None;
        }
        let high = group.ties().iter().map(|tie| (tie.value, tie.detects + tie.nondetects)).collect();
        // A limit below zero, as of a background-corrected count, is as low as its result can be told to be.
        let zero_or_limit = group.limits().map(|(limit, count)| (limit.min(0.0), count));
        let mut low: Vec<(f64, u32)> = group.detects().chain(zero_or_limit).collect();
        low.sort_by(|a, b| a.0.total_cmp(&b.0));
        Some(SureBounds { low, high })
    }

    /// Lowest and highest possible mean of the results.
    pub fn mean(&self) -> [f64; 2] {
        let mean = |counts: &[(f64, u32)]| {
            let n: f64 = counts.iter().map(|(_, count)| f64::from(*count)).sum();
            counts.iter().map(|(value, count)| value * f64::from(*count)).sum::<f64>() / n
        };
        [mean(&self.low), mean(&self.high)]
    }

    /// Lowest and highest possible quantile; `None` for `p` outside 0 to 1.
    pub fn quantile(&self, p: f64) -> Option<[f64; 2]> {
        Some([averaged_inverse(&self.low, p)?, averaged_inverse(&self.high, p)?])
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::*;

    /// Arsenic in Oahu streams, printed in Helsel 2005, chapter 6 (mean 0.949, median 0.70; from
    /// memory).
    #[test]
    fn oahu_arsenic() {
        let text = "3.2 2.8 <2 <2 <2 <2 <2 <2 <2 <2 1.7 1.5 <1 <1 <1 <1 <0.9 0.9 0.7 0.7 0.6 0.5 0.5 0.5";
        let km = KaplanMeier::of(&words(text)).unwrap();
        assert!((km.mean() - 0.949).abs() < 5e-4);
        assert_eq!(km.quantile(0.5), Some(0.7));
        assert_eq!(km.mass_below_lowest_detect(), 0.0);
    }

    #[test]
    fn quantiles_in_the_unplaced_mass_are_withheld() {
        let km = KaplanMeier::of(&words("<1 <1 2 3")).unwrap();
        assert_eq!((km.quantile(0.5), km.quantile(0.75), km.lowest_detect()), (None, Some(2.5), 2.0));
        assert_eq!(km.above(0.5), ShareAbove { rate: None, se: None, bounds: [0.5, 1.0] });
        assert_eq!(km.above(1.0).rate, Some(0.5));
    }

    #[test]
    fn nothing_detected_is_none() {
        assert_eq!(
            (KaplanMeier::of(&words("<1 <2")), KaplanMeier::of(&words("")), SureBounds::of(&words(""))),
            (None, None, None)
        );
        assert_eq!(share_above(&words("<1"), 5.0).bounds, [0.0, 1.0]);
    }

    proptest! {
        #[test]
        fn complete_data_give_plain_figures(group in groups()) {
            if group.nondetects() > 0 || group.len() < 2 {
                return Ok(());
            }
            let km = KaplanMeier::of(&group).unwrap();
            let n = group.len() as f64;
            let mean = group.detects().map(|(v, c)| v * f64::from(c)).sum::<f64>() / n;
            let squares = group.detects().map(|(v, c)| (v - mean) * (v - mean) * f64::from(c)).sum::<f64>();
            prop_assert!((km.mean() - mean).abs() <= 1e-12 * mean);
            prop_assert!((km.sd().unwrap() - (squares / (n - 1.0)).sqrt()).abs() <= 1e-9 * mean);
            prop_assert_eq!(km.mean(), km.mean_low());
            let counts: Vec<_> = group.detects().collect();
            prop_assert_eq!(km.quantile(0.5), averaged_inverse(&counts, 0.5));
        }

        #[test]
        fn every_figure_is_a_number_between_its_bounds(group in groups(), p in 0.0..1.0f64) {
            let Some(km) = KaplanMeier::of(&group) else { return Ok(()) };
            let [low, high] = SureBounds::of(&group).unwrap().mean();
            let slack = 1e-12 * high;
            prop_assert!(low <= km.mean_low() + slack && km.mean_low() <= km.mean() && km.mean() <= high + slack);
            prop_assert!(km.sd_population().is_finite() && km.mean_se().is_finite() && km.sd().is_none_or(f64::is_finite));
            prop_assert!(km.steps().windows(2).all(|s| s[0].p_at_or_below <= s[1].p_below + 1e-12));
            let between = |q: f64| km.lowest_detect() <= q && Some(q) <= group.highest_detect();
            prop_assert!(km.quantile(p).is_none_or(between));
        }
    }
}
