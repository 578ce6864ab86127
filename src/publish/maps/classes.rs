//! Classes of a choropleth: from rates to at most five ranges, each holding at least one area.
//!
//! Limits are taken from a ladder of round shares nearest to the quantiles of the rates, so that a legend reads
//! `5% to 10%` and not `4.83% to 11.07%`. A rate at a limit belongs to the class above it.

use super::fault::MapFault;
use crate::publish::report::percent;

/// Round shares that may be class limits.
const LADDER: [f64; 19] =
    [0.002, 0.005, 0.01, 0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95];
/// Most classes a reader tells apart on a map; common practice, no source.
const MOST: usize = 5;

/// Rates that lie closer together than this are one class: light and dark would tell of a difference that is none.
/// Common practice, no source.
const CLOSE: f64 = 0.01;

/// The inner limits of the classes, rising; one fewer than there are classes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Classes {
    limits: Vec<f64>,
    /// Lowest and highest rate, for the words of a single class.
    ends: Option<(f64, f64)>,
}

impl Classes {
    /// Limits chosen by the rates.
    pub(super) fn of(rates: &[f64]) -> Classes {
        let mut sorted = rates.to_vec();
        sorted.sort_by(f64::total_cmp);
        let ends = sorted.first().copied().zip(sorted.last().copied());
        if ends.is_some_and(|(low, high)| high - low < CLOSE) {
            return Classes { limits: Vec::new(), ends };
        }
        let wanted = MOST.min(1 + sorted.len() / 2);
        let mut limits: Vec<f64> =
            (1..wanted).filter_map(|step| nearest(quantile(&sorted, step as f64 / wanted as f64)?)).collect();
        limits.dedup();
        Classes { limits: filled(&limits, &sorted), ends }
    }

    /// Limits given by the caller.
    pub(super) fn fixed(limits: &[f64]) -> Result<Classes, MapFault> {
        let rising = limits.windows(2).all(|pair| matches!(pair, [a, b] if a < b));
        let inside = limits.iter().all(|limit| *limit > 0.0 && *limit < 1.0);
        if rising && inside && limits.len() < MOST {
            Ok(Classes { limits: limits.to_vec(), ends: None })
        } else {
            Err(MapFault::BadBreaks(limits.to_vec()))
        }
    }

    /// How many classes.
    pub(super) fn count(&self) -> usize {
        self.limits.len() + 1
    }

    /// The class of a rate.
    pub(super) fn class(&self, rate: f64) -> usize {
        self.limits.iter().filter(|limit| rate >= **limit).count()
    }

    /// The class's range in words.
    pub(super) fn range(&self, class: usize) -> String {
        let low = class.checked_sub(1).and_then(|below| self.limits.get(below));
        match (low, self.limits.get(class)) {
            (None, None) => self.ends.map_or_else(|| "any share".to_owned(), span),
            (None, Some(high)) => format!("under {}", percent(*high)),
            (Some(low), Some(high)) => format!("{} to under {}", percent(*low), percent(*high)),
            (Some(low), None) => format!("{} or more", percent(*low)),
        }
    }
}

/// From the lowest to the highest rate, once where both read alike.
fn span((low, high): (f64, f64)) -> String {
    let (low, high) = (percent(low), percent(high));
    if low == high { low } else { format!("{low} to {high}") }
}

/// The step of the ladder nearest to a rate by ratio; none for a rate of zero.
fn nearest(rate: f64) -> Option<f64> {
    let far = |step: f64| (step.max(rate) / step.min(rate), step);
    (rate > 0.0).then(|| LADDER.map(far).into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, step)| step))?
}

/// Quantile of sorted numbers, between neighbours by proportion.
fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let place = share * sorted.len().checked_sub(1)? as f64;
    let low = sorted.get(place.floor() as usize)?;
    let high = sorted.get(place.ceil() as usize)?;
    Some(low + (high - low) * place.fract())
}

/// The limits that leave no class empty.
fn filled(limits: &[f64], sorted: &[f64]) -> Vec<f64> {
    let mut kept = Vec::new();
    let mut below = 0;
    for limit in limits {
        let count = sorted.iter().filter(|rate| *rate < limit).count();
        if count > below && count < sorted.len() {
            kept.push(*limit);
            below = count;
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_class_holds_an_area_and_there_are_at_most_five() {
        let rates: Vec<f64> = (0..40).map(|i| 0.003 * f64::from(i * i) / 10.0).collect();
        let classes = Classes::of(&rates);
        assert!((2..=5).contains(&classes.count()));
        for class in 0..classes.count() {
            assert!(rates.iter().any(|rate| classes.class(*rate) == class), "{class} is empty in {classes:?}");
        }
    }

    #[test]
    fn equal_rates_and_no_rates_make_one_class() {
        assert_eq!(Classes::of(&[]).count(), 1);
        assert_eq!(Classes::of(&[0.0; 9]).count(), 1);
        assert_eq!(Classes::of(&[0.1; 9]).count(), 1);
    }

    #[test]
    fn a_rate_at_a_limit_belongs_above_it() {
        let classes = Classes::fixed(&[0.05, 0.1]).unwrap();
        assert_eq!([0.0499, 0.05, 0.0999, 0.1].map(|rate| classes.class(rate)), [0, 1, 1, 2]);
        assert_eq!(classes.range(0), "under 5%");
        assert_eq!(classes.range(1), "5% to under 10%");
        assert_eq!(classes.range(2), "10% or more");
    }

    #[test]
    fn limits_out_of_order_or_range_are_refused() {
        for bad in [vec![0.2, 0.1], vec![0.0], vec![1.0], vec![f64::NAN], vec![0.1, 0.2, 0.3, 0.4, 0.5]] {
            assert!(Classes::fixed(&bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn limits_stand_on_the_ladder() {
        let classes = Classes::of(&[0.01, 0.02, 0.11, 0.13, 0.17, 0.24, 0.33, 0.48, 0.61]);
        assert!(classes.limits.iter().all(|limit| LADDER.contains(limit)));
    }
}
