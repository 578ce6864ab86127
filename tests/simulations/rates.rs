//! How often the intervals of rates hold the truth: plain, smoothed over areas, and by equal-area cells.

use super::draws::stream;
use super::table::{Outcome, Tally, tally};
use rayon::prelude::*;
use wellreeve::methods::equal_area;
use wellreeve::methods::integrated::{Posterior, Question};
use wellreeve::methods::proportions::wilson;
use wellreeve::methods::random::Stream;

/// Coverage of Wilson's interval, exactly: all outcomes of the binomial.
pub fn wilson_coverage(n: u64, p: f64) -> f64 {
    let mut chance = libm::pow(1.0 - p, n as f64);
    let mut covered = 0.0;
    for x in 0..=n {
        let [low, high] = wilson(x, n, 0.95).unwrap();
        covered += if low <= p && p <= high { chance } else { 0.0 };
        chance *= (n - x) as f64 / (x + 1) as f64 * p / (1.0 - p);
    }
    covered
}

/// Areas whose true rates vary as Beta(mean k, (1 - mean) k); without `k` all are alike.
#[derive(Clone, Copy, Debug)]
pub struct Areas {
    pub areas: usize,
    pub wells: u64,
    pub mean: f64,
    pub k: Option<f64>,
}

impl Areas {
    pub fn all() -> Vec<Areas> {
        let mut all = Vec::new();
        for areas in [8, 40] {
            for wells in [5, 10, 30, 100] {
                for mean in [0.02, 0.1] {
                    all.extend([None, Some(20.0)].map(|k| Areas { areas, wells, mean, k }));
                }
            }
        }
        all
    }
}

/// Outcomes with the name of their interval.
type Named = Vec<(&'static str, Outcome)>;

/// Smoothed intervals of all areas of all draws; and the mean chance of concern with the share of areas truly above 0.05.
pub fn smoothed(place: usize, setting: Areas, draws: usize) -> (Tally, [f64; 2]) {
    let found: Vec<(Named, [f64; 2])> = (0..draws)
        .into_par_iter()
        .map(|draw| {
            let mut stream = stream(2, place, draw);
            let truth = |stream: &mut Stream| match setting.k {
                Some(k) => stream.beta(setting.mean * k, (1.0 - setting.mean) * k),
                None => setting.mean,
            };
            let rates: Vec<f64> = (0..setting.areas).map(|_| truth(&mut stream)).collect();
            let exceeding: Vec<u64> = rates.iter().map(|p| binomial(&mut stream, setting.wells, *p)).collect();
            let posterior = Posterior::fit(&exceeding, &vec![setting.wells; setting.areas]).unwrap();
            let figures = posterior.rates(&Question { level: 0.95, concern: 0.05 }).unwrap();
            let outcomes =
                figures.iter().zip(&rates).map(|(f, p)| ("smoothed rate", Outcome::of(Some((f.low, f.high)), *p)));
            let chance: f64 = figures.iter().map(|f| f.chance_above).sum();
            let above = rates.iter().filter(|p| **p > 0.05).count() as f64;
            (outcomes.collect(), [chance, above])
        })
        .collect();
    let total = (draws * setting.areas) as f64;
    let mean = |at: usize| found.iter().map(|(_, pair)| pair[at]).sum::<f64>() / total;
    let calibration = [mean(0), mean(1)];
    let all = tally(found.into_iter().map(|(outcomes, _)| outcomes).collect());
    (all.into_iter().next().unwrap(), calibration)
}

fn binomial(stream: &mut Stream, n: u64, p: f64) -> u64 {
    (0..n).filter(|_| stream.unit() < p).count() as u64
}

/// Twenty cells; half the wells crowd into one, where three in ten exceed; elsewhere one in ten does.
pub fn equal_area_rate(place: usize, wells: usize, draws: usize) -> Vec<Tally> {
    const CELLS: u32 = 20;
    let truth = (0.3 + 0.1 * f64::from(CELLS - 1)) / f64::from(CELLS);
    let one = |draw: usize| {
        let mut stream = stream(3, place, draw);
        let mut cells = Vec::new();
        let mut exceeds = Vec::new();
        for well in 0..wells {
            let cell = if well % 2 == 0 { 0 } else { stream.below(CELLS) };
            cells.push(Some(cell));
            exceeds.push(Some(stream.unit() < if cell == 0 { 0.3 } else { 0.1 }));
        }
        let rate = equal_area::rate(&cells, &exceeds, 0.95).unwrap();
        let plain = wilson(exceeds.iter().filter(|e| **e == Some(true)).count() as u64, wells as u64, 0.95).unwrap();
        vec![
            ("rate by equal-area cells", Outcome::of(rate.interval.map(|[low, high]| (low, high)), truth)),
            ("plain rate of the same wells", Outcome::of(Some((plain[0], plain[1])), truth)),
        ]
    };
    tally((0..draws).into_par_iter().map(one).collect())
}
