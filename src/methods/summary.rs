//! A group's summary: left-censored values into mean, spread and quantiles by the method that suits
//! them, with notes.
//!
//! A reader would question the empty figures: a figure that the results cannot give stays empty and
//! a note says why. Nothing is substituted for a non-detect.

use super::bootstrap::{self, Interval, NoInterval, Settings, kaplan_meier_mean_of, mean_of};
use super::censored::Censored;
use super::choose::{Lowest, SummaryMethod, choose};
use super::kaplan_meier::{KaplanMeier, SureBounds};
use super::quantiles::averaged_inverse;
use super::resample::{Cells, Near};
use super::ros::{NoLine, Origin, Ros};
use super::ros_mean::ros_mean_of;

/// The quantiles of the table.
pub const SHARES: [f64; 5] = [0.25, 0.5, 0.75, 0.9, 0.95];

/// What the plan says about summaries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Level, resamples, seed and this group's stream.
    pub bootstrap: Settings,
    /// Detects below which nothing is estimated.
    pub fewest_detects: usize,
}

/// What a reader of a summary has to know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Note {
    /// Too few detects for an estimate.
    TooFewDetects,
    /// More than 80 % are non-detects.
    TooManyNondetects,
    /// Between 50 and 80 % non-detects, but under five wells.
    TooFewWells,
    /// Between 50 and 80 % non-detects, but a value at or below zero has no logarithm.
    ZeroOrBelow,
    /// Between 50 and 80 % non-detects, but all detects are alike.
    OneDetectedValue,
    /// This share lies below the lowest detect and has no place; the mean puts it at the lowest
    /// limit.
    UnplacedShare(f64),
    /// Quantiles that are empty because they lie in that share: all are below this lowest detect.
    QuantilesBelow(f64),
    /// The quantiles up to this share are read off a line, wholly or in part.
    ModelledQuantiles(f64),
    /// So many non-detects lie above every detect and are not used.
    NondetectsAboveDetects(usize),
    /// So many results are known only to lie above a value and enter as that value: upper figures
    /// are lower bounds.
    LowerBounds(usize),
    /// So many resamples could not be summarised and were dropped.
    ResamplesDropped(usize),
    /// Why the mean has no interval.
    NoInterval(NoInterval),
}

/// Figures of a group, in the unit of its values; `None` where the results cannot give them.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// How the figures were made.
    pub method: SummaryMethod,
    /// Mean.
    pub mean: Option<f64>,
    /// Low end of its interval.
    pub mean_low: Option<f64>,
    /// High end of its interval.
    pub mean_high: Option<f64>,
    /// Upper limit of the mean at the level of the interval, one-sided.
    pub mean_upper: Option<f64>,
    /// Standard deviation.
    pub sd: Option<f64>,
    /// Quantiles at `SHARES`.
    pub quantiles: [Option<f64>; 5],
    /// Lowest and highest mean that the results allow, with each non-detect between zero and its
    /// limit.
    pub mean_bounds: Option<[f64; 2]>,
    /// What a reader has to know.
    pub notes: Vec<Note>,
}

/// # Computes
/// The figures of the `summary` table for one group, by the method that `choose` picks, and the
/// bias-corrected accelerated interval of the mean.
/// # Takes
/// Left-censored values; `above` says how many of the detects are really `>x`.
/// # Gives
/// All detected: ordinary mean, sd (n - 1), quantiles of type 2. Kaplan-Meier and regression on
/// order statistics: as those modules say. Shares only: no mean; a quantile only where the results
/// fix it whatever the non-detects are.
/// # Errors
/// None: what cannot be had is `None` with a note.
/// # Source
/// Those of the methods; the rule among them is in `choose`.
/// # Checked against
/// The methods' own cases in `tests/reference`.
pub fn summarise(group: &Censored, above: usize, plan: &Plan) -> Summary {
    let lowest =
        if group.ties().first().is_some_and(|tie| tie.value <= 0.0) { Lowest::ZeroOrBelow } else { Lowest::Positive };
    let method = choose(group.len(), group.nondetects(), plan.fewest_detects, lowest);
    let mut summary = match method {
        SummaryMethod::AllDetected => all_detected(group, plan),
        SummaryMethod::KaplanMeier => kaplan_meier(group, plan),
        SummaryMethod::OrderStatistics => order_statistics(group, plan),
        SummaryMethod::SharesOnly => shares_only(group, why_shares_only(group, plan, lowest)),
    };
    if above > 0 {
        summary.notes.push(Note::LowerBounds(above));
    }
    summary
}

fn all_detected(group: &Censored, plan: &Plan) -> Summary {
    let cells = Cells::of(group);
    let mean = mean_of(&cells)(&cells.count);
    let counts: Vec<(f64, u32)> = group.detects().collect();
    let squares = |mean: f64| counts.iter().map(|(x, c)| f64::from(*c) * (x - mean) * (x - mean)).sum::<f64>();
    let n = group.len() as f64;
    let sd = mean.filter(|_| group.len() > 1).map(|mean| (squares(mean) / (n - 1.0)).sqrt());
    let mut summary = Summary {
        method: SummaryMethod::AllDetected,
        mean,
        sd,
        quantiles: SHARES.map(|p| averaged_inverse(&counts, p)),
        ..empty(group)
    };
    let cells = cells.joined(Near::Values);
    summary.put_interval(bootstrap::bca(&cells, mean_of(&cells), &plan.bootstrap));
    summary
}

fn kaplan_meier(group: &Censored, plan: &Plan) -> Summary {
    let Some(km) = KaplanMeier::of(group) else {
        return shares_only(group, Note::TooFewDetects);
    };
    let mut summary = Summary {
        method: SummaryMethod::KaplanMeier,
        mean: Some(km.mean()),
        sd: km.sd(),
        quantiles: SHARES.map(|p| km.quantile(p)),
        ..empty(group)
    };
    if km.mass_below_lowest_detect() > super::quantiles::SHARE_EPS {
        summary.notes.push(Note::UnplacedShare(km.mass_below_lowest_detect()));
    }
    if summary.quantiles.contains(&None) {
        summary.notes.push(Note::QuantilesBelow(km.lowest_detect()));
    }
    let cells = Cells::of(group).joined(Near::Values);
    summary.put_interval(bootstrap::bca(&cells, kaplan_meier_mean_of(&cells), &plan.bootstrap));
    summary
}

fn order_statistics(group: &Censored, plan: &Plan) -> Summary {
    let ros = match Ros::of(group) {
        Ok(ros) => ros,
        Err(NoLine::OneDetectedValue) => return shares_only(group, Note::OneDetectedValue),
        Err(NoLine::ZeroOrBelow) => return shares_only(group, Note::ZeroOrBelow),
    };
    let read = SHARES.map(|p| ros.quantile(p));
    let mut summary = Summary {
        method: SummaryMethod::OrderStatistics,
        mean: Some(ros.mean()),
        sd: Some(ros.sd()),
        quantiles: read.map(|q| q.map(|q| q.value)),
        ..empty(group)
    };
    let modelled = SHARES.iter().zip(read).filter(|(_, q)| q.is_some_and(|q| q.origin == Origin::Modelled));
    summary.notes.extend(modelled.max_by(|a, b| a.0.total_cmp(b.0)).map(|(p, _)| Note::ModelledQuantiles(*p)));
    if ros.left_out > 0 {
        summary.notes.push(Note::NondetectsAboveDetects(ros.left_out));
    }
    let cells = Cells::of(group).joined(Near::Logarithms);
    summary.put_interval(bootstrap::bca(&cells, ros_mean_of(&cells), &plan.bootstrap));
    summary
}

fn why_shares_only(group: &Censored, plan: &Plan, lowest: Lowest) -> Note {
    match () {
        () if group.detected() < plan.fewest_detects.max(1) => Note::TooFewDetects,
        () if 5 * group.nondetects() > 4 * group.len() => Note::TooManyNondetects,
        () if lowest == Lowest::ZeroOrBelow => Note::ZeroOrBelow,
        () => Note::TooFewWells,
    }
}

/// Quantiles stand where both completions give the same value: the non-detects have no say there.
fn shares_only(group: &Censored, why: Note) -> Summary {
    let sure = SureBounds::of(group);
    let fixed = |p: f64| {
        sure.as_ref().and_then(|s| s.quantile(p)).filter(|[low, high]| low == high && *low > 0.0).map(|[low, _]| low)
    };
    Summary { quantiles: SHARES.map(fixed), notes: vec![why], ..empty(group) }
}

fn empty(group: &Censored) -> Summary {
    Summary {
        method: SummaryMethod::SharesOnly,
        mean: None,
        mean_low: None,
        mean_high: None,
        mean_upper: None,
        sd: None,
        quantiles: [None; 5],
        mean_bounds: SureBounds::of(group).map(|sure| sure.mean()),
        notes: Vec::new(),
    }
}

impl Summary {
    fn put_interval(&mut self, interval: Result<Interval, NoInterval>) {
        match interval {
            Ok(interval) => {
                (self.mean_low, self.mean_high) = (Some(interval.low), Some(interval.high));
                self.mean_upper = Some(interval.upper);
                if interval.dropped > 0 {
                    self.notes.push(Note::ResamplesDropped(interval.dropped));
                }
            }
            Err(why) => self.notes.push(Note::NoInterval(why)),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::*;

    const PLAN: Plan =
        Plan { bootstrap: Settings { level: 0.95, resamples: 200, seed: 1, stream: 3 }, fewest_detects: 3 };

    /// Oahu arsenic (Helsel 2005, chapter 6, mean by order statistics 0.972; from memory): 13 of 24
    /// censored.
    #[test]
    fn oahu_arsenic_goes_to_order_statistics() {
        let text = "3.2 2.8 <2 <2 <2 <2 <2 <2 <2 <2 1.7 1.5 <1 <1 <1 <1 <0.9 0.9 0.7 0.7 0.6 0.5 0.5 0.5";
        let got = summarise(&words(text), 0, &PLAN);
        assert_eq!(got.method, SummaryMethod::OrderStatistics);
        assert!((got.mean.unwrap() - 0.972).abs() < 6e-4);
        assert!(got.mean_low < got.mean && got.mean < got.mean_high);
        assert!(got.notes.iter().any(|n| matches!(n, Note::ModelledQuantiles(_))), "{:?}", got.notes);
    }

    #[test]
    fn quantiles_in_the_unplaced_share_are_empty_and_noted() {
        let got = summarise(&words("<1 <1 <1 <1 2 3 4 5 6 7"), 1, &PLAN);
        assert_eq!((got.method, got.quantiles[0], got.quantiles[1]), (SummaryMethod::KaplanMeier, None, Some(2.5)));
        assert!(got.notes.contains(&Note::QuantilesBelow(2.0)) && got.notes.contains(&Note::LowerBounds(1)));
    }

    #[test]
    fn what_can_be_bounded_stands_under_shares_only() {
        let got = summarise(&words(&format!("{} 5 6 7", "<1 ".repeat(27))), 0, &PLAN);
        assert_eq!(
            (got.method, got.mean, got.quantiles),
            (SummaryMethod::SharesOnly, None, [None, None, None, None, Some(6.0)])
        );
        assert_eq!(got.notes, [Note::TooManyNondetects]);
        assert_eq!(got.mean_bounds, Some([0.6, 1.5]));
    }

    #[test]
    fn nothing_one_and_all_alike() {
        assert_eq!(summarise(&words(""), 0, &PLAN).mean_bounds, None);
        let one = summarise(&words("4"), 0, &PLAN);
        assert_eq!((one.mean, one.sd, one.mean_low), (Some(4.0), None, None));
        let alike = summarise(&words("<1 <1 <1 <1 4 4 4"), 0, &PLAN);
        assert_eq!((alike.method, alike.notes), (SummaryMethod::SharesOnly, vec![Note::OneDetectedValue]));
    }

    proptest! {
        #[test]
        fn figures_are_numbers_in_order(group in groups()) {
            let got = summarise(&group, 0, &PLAN);
            let given: Vec<f64> = got.quantiles.iter().flatten().copied().collect();
            prop_assert!(given.windows(2).all(|q| q[0] <= q[1]));
            let all = [got.mean, got.mean_low, got.mean_high, got.sd];
            prop_assert!(all.iter().flatten().chain(&given).all(|x| x.is_finite()));
            prop_assert!(got.mean_low <= got.mean_high);
            if got.mean.is_none() {
                prop_assert!(!got.notes.is_empty() && got.method == SummaryMethod::SharesOnly);
            }
        }
    }
}
