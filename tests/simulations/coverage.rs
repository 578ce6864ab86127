//! How often the published intervals of one group hold the truth.

use super::draws::{Setting, Source, group, stream};
use super::table::{Outcome, Tally, tally};
use rayon::prelude::*;
use std::ops::Range;
use wellreeve::methods::bootstrap::{Settings, bca, kaplan_meier_mean_of};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::exceedance::{Benchmark, Counts, Reading, judge};
use wellreeve::methods::mle::{Distribution, Mle};
use wellreeve::methods::quantile_interval::{End, quantile_interval};
use wellreeve::methods::rate_censored::rate_censored;
use wellreeve::methods::resample::Cells;
use wellreeve::methods::ros_mean::ros_mean_of;
use wellreeve::methods::summary::{Plan, summarise};

const LEVEL: f64 = 0.95;

/// Which intervals to make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Those that stand in the tables.
    Published,
    /// Those of methods that were not chosen as well.
    All,
}

/// Tallies of every interval of one setting.
pub fn of_setting(place: usize, setting: Setting, draws: Range<usize>, resamples: usize, which: Which) -> Vec<Tally> {
    let found: Vec<Vec<(&'static str, Outcome)>> =
        draws.into_par_iter().map(|draw| one(place, setting, draw, resamples, which)).collect();
    tally(found)
}

fn one(place: usize, setting: Setting, draw: usize, resamples: usize, which: Which) -> Vec<(&'static str, Outcome)> {
    let drawn = setting.draw(&mut stream(1, place, draw));
    let group = group(&drawn);
    let bootstrap = Settings { level: LEVEL, resamples, seed: 7, stream: draw as u64 };
    let plan = Plan { bootstrap, fewest_detects: 3 };
    let (mean, source) = (setting.source.mean(), setting.source);
    let summary = summarise(&group, 0, &plan);
    let mut found = vec![
        ("mean", Outcome::of(summary.mean_low.zip(summary.mean_high), mean)),
        ("upper limit of mean", Outcome::of(summary.mean_upper.map(|upper| (f64::NEG_INFINITY, upper)), mean)),
        ("median", quantile(&group, 0.5, source)),
        ("p90", quantile(&group, 0.9, source)),
    ];
    found.extend(rates(&drawn, &group, source.quantile(0.9)));
    if which == Which::All {
        let cells = Cells::of(&group);
        let ends = |got: Result<wellreeve::methods::bootstrap::Interval, _>| got.ok().map(|i| (i.low, i.high));
        let (km, ros) = (kaplan_meier_mean_of(&cells), ros_mean_of(&cells));
        found.push(("mean by Kaplan-Meier, always", Outcome::of(ends(bca(&cells, km, &bootstrap)), mean)));
        found.push(("mean by order statistics, always", Outcome::of(ends(bca(&cells, ros, &bootstrap)), mean)));
        found.push(("mean by lognormal likelihood, always", Outcome::of(lognormal(&drawn), mean)));
    }
    found
}

/// An open end holds whatever lies beyond it; both open is no interval.
fn quantile(group: &Censored, p: f64, source: Source) -> Outcome {
    let ends = match quantile_interval(group, p, LEVEL) {
        [End::Open, End::Open] => None,
        [End::At(low), End::At(high)] => Some((low, high)),
        [End::At(low), End::Open] => Some((low, f64::INFINITY)),
        [End::Open, End::At(high)] => Some((f64::NEG_INFINITY, high)),
    };
    Outcome::of(ends, source.quantile(p))
}

/// Both rates against a limit that a tenth of all wells exceed.
fn rates((value, nondetect): &(Vec<f64>, Vec<bool>), group: &Censored, limit: f64) -> [(&'static str, Outcome); 2] {
    let reading = |(x, below): (&f64, &bool)| if *below { Reading::Below(*x) } else { Reading::Exact(*x) };
    let verdicts = value.iter().zip(nondetect).map(reading).map(|r| judge(r, Benchmark::Maximum(limit)));
    let plain = Counts::of(verdicts).rates(LEVEL);
    let censored = rate_censored(group, limit, LEVEL).map(|rate| (rate.interval[0], rate.interval[1]));
    [
        ("rate of determined wells, truth 0.1", Outcome::of(plain.low.zip(plain.high), 0.1)),
        ("rate_censored, truth 0.1", Outcome::of(censored, 0.1)),
    ]
}

fn lognormal((value, nondetect): &(Vec<f64>, Vec<bool>)) -> Option<(f64, f64)> {
    let low: Vec<f64> = value.iter().zip(nondetect).map(|(x, below)| if *below { 0.0 } else { *x }).collect();
    let mean = Mle::of(Distribution::Lognormal, &low, value).ok()?.mean(LEVEL);
    Some((mean.low, mean.high))
}
