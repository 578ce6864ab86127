//! How far off each way of summarising is, and how far half the limit would be on the same draws.

use super::draws::{Setting, group, stream};
use rayon::prelude::*;
use std::collections::BTreeMap;
use wellreeve::methods::bootstrap::Settings;
use wellreeve::methods::gamma::Gamma;
use wellreeve::methods::kaplan_meier::KaplanMeier;
use wellreeve::methods::mle::{Distribution, Mle};
use wellreeve::methods::quantiles::averaged_inverse;
use wellreeve::methods::ros::Ros;
use wellreeve::methods::summary::{Plan, summarise};

/// Mean, standard deviation, median, ninth decile.
pub const FIGURES: [&str; 4] = ["mean", "sd", "median", "p90"];
/// Ways of getting them; `published` is what the tables show.
pub const WAYS: [&str; 5] =
    ["published", "kaplan-meier", "order-statistics", "lognormal likelihood", "gamma likelihood"];

type Figures = [Option<f64>; 4];

/// Errors of one figure by one way in one setting, relative to the truth.
#[derive(Clone, Debug)]
pub struct Line {
    pub figure: &'static str,
    pub way: &'static str,
    /// Share of the draws in which the way gives the figure.
    pub given: f64,
    pub bias: f64,
    pub rmse: f64,
    /// Of half the limit, on the draws in which the way gives the figure.
    pub half_bias: f64,
    pub half_rmse: f64,
    /// Of half the limit, on all draws: it always has a figure.
    pub half_all_bias: f64,
    pub half_all_rmse: f64,
}

/// Lines of a setting, in the order of `FIGURES` and `WAYS`; a way that never gives a figure has no line.
pub fn of_setting(place: usize, setting: Setting, draws: usize) -> Vec<Line> {
    let found: Vec<([Figures; 5], Figures)> =
        (0..draws).into_par_iter().map(|draw| one(place, setting, draw)).collect();
    let source = setting.source;
    let truth = [source.mean(), source.sd(), source.quantile(0.5), source.quantile(0.9)];
    let mut lines = Vec::new();
    for (at, figure) in FIGURES.into_iter().enumerate() {
        for (by, way) in WAYS.into_iter().enumerate() {
            let error = |got: f64| got / truth[at] - 1.0;
            let both = |(ways, half): &([Figures; 5], Figures)| Some((error(ways[by][at]?), error(half[at]?)));
            let errors: Vec<(f64, f64)> = found.iter().filter_map(both).collect();
            if errors.is_empty() {
                continue;
            }
            let n = errors.len() as f64;
            let mean = |of: &dyn Fn(&(f64, f64)) -> f64| errors.iter().map(of).sum::<f64>() / n;
            let all: Vec<f64> = found.iter().filter_map(|(_, half)| Some(error(half[at]?))).collect();
            let whole = all.len() as f64;
            lines.push(Line {
                figure,
                way,
                given: n / draws as f64,
                bias: mean(&|e| e.0),
                rmse: mean(&|e| e.0 * e.0).sqrt(),
                half_bias: mean(&|e| e.1),
                half_rmse: mean(&|e| e.1 * e.1).sqrt(),
                half_all_bias: all.iter().sum::<f64>() / whole,
                half_all_rmse: (all.iter().map(|e| e * e).sum::<f64>() / whole).sqrt(),
            });
        }
    }
    lines
}

fn one(place: usize, setting: Setting, draw: usize) -> ([Figures; 5], Figures) {
    let drawn = setting.draw(&mut stream(1, place, draw));
    let group = group(&drawn);
    let plan = Plan { bootstrap: Settings { level: 0.95, resamples: 1, seed: 7, stream: 0 }, fewest_detects: 3 };
    let published = summarise(&group, 0, &plan);
    let km = KaplanMeier::of(&group);
    let ros = Ros::of(&group).ok();
    let read = |p: f64| ros.as_ref().and_then(|ros| ros.quantile(p)).map(|q| q.value);
    let low: Vec<f64> = drawn.0.iter().zip(&drawn.1).map(|(x, below)| if *below { 0.0 } else { *x }).collect();
    let mle = Mle::of(Distribution::Lognormal, &low, &drawn.0).ok();
    let gamma = Gamma::of(&group).ok();
    let ways = [
        [published.mean, published.sd, published.quantiles[1], published.quantiles[3]],
        [
            km.as_ref().map(KaplanMeier::mean),
            km.as_ref().and_then(KaplanMeier::sd),
            km.as_ref().and_then(|km| km.quantile(0.5)),
            km.as_ref().and_then(|km| km.quantile(0.9)),
        ],
        [ros.as_ref().map(Ros::mean), ros.as_ref().map(Ros::sd), read(0.5), read(0.9)],
        [
            mle.as_ref().map(|m| m.mean(0.95).value),
            mle.as_ref().map(Mle::sd),
            mle.as_ref().map(|m| m.quantile(0.5)),
            mle.as_ref().map(|m| m.quantile(0.9)),
        ],
        [gamma.as_ref().map(Gamma::mean), gamma.as_ref().map(Gamma::sd), None, None],
    ];
    (ways.map(|figures| figures.map(|figure| figure.filter(|x| x.is_finite()))), half_the_limit(&drawn))
}

/// What the program never does: each non-detect at half its limit.
fn half_the_limit((value, nondetect): &(Vec<f64>, Vec<bool>)) -> Figures {
    let filled: Vec<f64> = value.iter().zip(nondetect).map(|(x, below)| if *below { 0.5 * x } else { *x }).collect();
    let n = filled.len() as f64;
    let mean = filled.iter().sum::<f64>() / n;
    let squares: f64 = filled.iter().map(|x| (x - mean) * (x - mean)).sum();
    let mut counts: BTreeMap<u64, (f64, u32)> = BTreeMap::new();
    for x in filled {
        counts.entry(x.to_bits()).or_insert((x, 0)).1 += 1;
    }
    // Positive numbers sort as their bits do.
    let counts: Vec<(f64, u32)> = counts.into_values().collect();
    [
        Some(mean),
        (n > 1.0).then(|| (squares / (n - 1.0)).sqrt()),
        averaged_inverse(&counts, 0.5),
        averaged_inverse(&counts, 0.9),
    ]
}
