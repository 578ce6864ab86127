//! Whatever the group: nothing stops, nothing is NaN or infinite, intervals stand in order.
//!
//! Random groups (n from 0 up, all censored, all equal, one limit, tied, zero and negative, huge and tiny) through every summary,
//! rate and test that takes them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use proptest::prelude::*;
use wellreeve::methods::bootstrap::Settings;
use wellreeve::methods::censored::Censored;
use wellreeve::methods::equal_area;
use wellreeve::methods::exceedance::{Benchmark, Counts, Reading, judge};
use wellreeve::methods::gamma::Gamma;
use wellreeve::methods::goodness::largest_gap;
use wellreeve::methods::groups::{Weight, rank_test};
use wellreeve::methods::integrated::{Posterior, Question};
use wellreeve::methods::kaplan_meier::{KaplanMeier, SureBounds};
use wellreeve::methods::mle::{Distribution, Mle};
use wellreeve::methods::quantile_interval::{End, quantile_interval};
use wellreeve::methods::random::Stream;
use wellreeve::methods::rate_censored::rate_censored;
use wellreeve::methods::ros::Ros;
use wellreeve::methods::summary::{Plan, summarise};
use wellreeve::methods::trend::{Series, kendall};

type Group = (Vec<f64>, Vec<bool>);

/// Groups of the awkward kinds, and of any kind.
fn group() -> impl Strategy<Value = Group> {
    let value = prop_oneof![
        (1i32..8).prop_map(f64::from),
        (-3i32..3).prop_map(f64::from),
        0.001..1000.0f64,
        Just(1e-300),
        Just(1e300),
        Just(1e-12),
    ];
    let mixed = prop::collection::vec((value.clone(), any::<bool>()), 0..30);
    let all_censored = prop::collection::vec((value.clone(), Just(true)), 0..12);
    let all_equal = (value.clone(), 0usize..12).prop_map(|(x, n)| vec![(x, false); n]);
    let one_limit = (value.clone(), prop::collection::vec((value, any::<bool>()), 0..20))
        .prop_map(|(limit, list)| list.into_iter().map(|(x, below)| (if below { limit } else { x }, below)).collect());
    prop_oneof![mixed, all_censored, all_equal, one_limit].prop_map(|list| list.into_iter().unzip())
}

fn finite(list: &[Option<f64>], what: &str) -> Result<(), TestCaseError> {
    prop_assert!(list.iter().flatten().all(|x| x.is_finite()), "{}: {:?}", what, list);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn summaries(drawn in group(), above in 0usize..3, p in 0.01..0.99f64, limit in 0.0..20.0f64) {
        // A negative limit of a non-detect is refused, as it must be; everything else is a group.
        let Ok(group) = Censored::new(&drawn.0, &drawn.1) else { return Ok(()) };
        let bootstrap = Settings { level: 0.95, resamples: 40, seed: 1, stream: 2 };
        let got = summarise(&group, above, &Plan { bootstrap, fewest_detects: 3 });
        // Squares of figures near the end of the range of numbers are infinite.
        if drawn.0.iter().all(|x| *x < 1e150) {
            finite(&[got.mean, got.mean_low, got.mean_high, got.mean_upper, got.sd], "summary")?;
            prop_assert!(got.mean_low <= got.mean_high && got.mean_low <= got.mean_upper);
        }
        finite(&got.quantiles, "quantiles")?;
        prop_assert!(got.mean.is_some() || group.is_empty() || !got.notes.is_empty());
        for end in quantile_interval(&group, p, 0.95) {
            prop_assert!(!matches!(end, End::At(x) if !x.is_finite()));
        }
        if let Some(rate) = rate_censored(&group, limit, 0.95) {
            let [low, high] = rate.interval;
            prop_assert!(0.0 <= low && low <= high && high <= 1.0 && (0.0..=1.0).contains(&rate.rate));
        }
        if let Some(bounds) = SureBounds::of(&group) {
            prop_assert!(bounds.mean()[0] <= bounds.mean()[1]);
        }
        prop_assert_eq!(KaplanMeier::of(&group).is_none(), group.detected() == 0);
    }

    #[test]
    fn fits(drawn in group()) {
        let Ok(group) = Censored::new(&drawn.0, &drawn.1) else { return Ok(()) };
        if let Ok(ros) = Ros::of(&group) {
            prop_assert!(!ros.mean().is_nan() && !ros.sd().is_nan());
        }
        if let Ok(gamma) = Gamma::of(&group) {
            prop_assert!(!gamma.mean().is_nan() && largest_gap(&group, |x| gamma.share_below(x)).is_none_or(|g| !g.is_nan()));
        }
        let low: Vec<f64> = drawn.0.iter().zip(&drawn.1).map(|(x, below)| if *below { 0.0 } else { *x }).collect();
        // Infinite upper ends: the highest value is only known to lie above.
        let mut high = drawn.0.clone();
        for open in [false, true] {
            if let (true, Some(last)) = (open, high.last_mut()) {
                *last = f64::INFINITY;
            }
            for distribution in [Distribution::Lognormal, Distribution::Normal] {
                if let Ok(fit) = Mle::of(distribution, &low, &high) {
                    let all = [fit.mu, fit.sigma, fit.mu_se, fit.sigma_se, fit.above(2.0, 0.95).value, fit.quantile(0.5)];
                    prop_assert!(all.iter().all(|x| !x.is_nan()), "{:?}", fit);
                }
            }
        }
    }

    #[test]
    fn tests_of_groups_and_trends(drawn in group(), bands in 1usize..4) {
        let (values, nondetect) = &drawn;
        let band: Vec<usize> = (0..values.len()).map(|i| i % bands).collect();
        let test = rank_test(values, nondetect, &band, Weight::PetoPeto);
        let told = format!("{test:?}");
        prop_assert!(!told.contains("NaN"));
        let times: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
        if let Ok(trend) = kendall(Series { times: &times, values, nondetect }) {
            finite(&[Some(trend.s), trend.tau_a, trend.tau_b, trend.test.map(|t| t.p)], "trend")?;
        }
    }

    #[test]
    fn rates(drawn in group(), limit in 0.0..10.0f64, cells in prop::collection::vec(prop::option::of(0u32..4), 0..30)) {
        let reading = |(x, below): (&f64, &bool)| if *below { Reading::Below(*x) } else { Reading::Above(*x) };
        let readings: Vec<Reading> = drawn.0.iter().zip(&drawn.1).map(reading).collect();
        for benchmark in [Benchmark::Maximum(limit), Benchmark::Absent, Benchmark::Range { low: 0.5 * limit, high: limit }] {
            let rates = Counts::of(readings.iter().map(|r| judge(*r, benchmark))).rates(0.95);
            finite(&[rates.rate, rates.low, rates.high, rates.floor, rates.ceiling], "rates")?;
        }
        let exceeds: Vec<Option<bool>> = drawn.1.iter().map(|b| Some(*b)).collect();
        if let Some(rate) = equal_area::rate(&cells, &exceeds, 0.95) {
            prop_assert!(rate.rate.is_finite() && rate.effective_wells >= 1.0 - 1e-9 && rate.interval.is_some());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn small_areas(list in prop::collection::vec((0u64..200, 0.0..=1.0f64), 1..12)) {
        let wells: Vec<u64> = list.iter().map(|(n, _)| *n).collect();
        let exceeding: Vec<u64> = list.iter().map(|(n, part)| (*n as f64 * part.powi(3)).floor() as u64).collect();
        let Ok(posterior) = Posterior::fit(&exceeding, &wells) else { return Ok(()) };
        for rate in posterior.rates(&Question { level: 0.95, concern: 0.05 }).unwrap() {
            prop_assert!(0.0 <= rate.low && rate.low <= rate.mean && rate.mean <= rate.high && rate.high <= 1.0);
        }
        let chances = posterior.chance_worst_fifth(Stream::new(1, 1), 50);
        prop_assert!((chances.iter().sum::<f64>() - wells.len().div_ceil(5) as f64).abs() < 1e-9);
    }
}
