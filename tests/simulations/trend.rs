//! How often the trend tests find a trend where there is none.

use super::draws::{Setting, Source, stream};
use rayon::prelude::*;
use wellreeve::methods::trend::{Series, regional};

/// Years of results in each well, wells, share censored.
#[derive(Clone, Copy, Debug)]
pub struct Wells {
    pub wells: usize,
    pub years: usize,
    pub censored: u32,
}

impl Wells {
    pub fn all() -> Vec<Wells> {
        let mut all = Vec::new();
        for wells in [1, 5, 20] {
            for years in [5, 10, 30] {
                all.extend([0, 30, 60, 90].map(|censored| Wells { wells, years, censored }));
            }
        }
        all
    }
}

/// Shares of the draws with a test, and of these with p at most 0.05 and 0.01.
pub fn found(place: usize, setting: Wells, draws: usize) -> [f64; 3] {
    let times: Vec<f64> = (0..setting.years).map(|year| year as f64).collect();
    let draws_of = Setting { source: Source::Lognormal, wells: setting.years, censored: setting.censored };
    let p: Vec<Option<f64>> = (0..draws)
        .into_par_iter()
        .map(|draw| {
            let mut stream = stream(4, place, draw);
            let wells: Vec<_> = (0..setting.wells).map(|_| draws_of.draw(&mut stream)).collect();
            let series: Vec<Series<'_>> =
                wells.iter().map(|(values, nondetect)| Series { times: &times, values, nondetect }).collect();
            regional(&series).ok().and_then(|found| found.test).map(|test| test.p)
        })
        .collect();
    let tested = p.iter().flatten().count().max(1) as f64;
    let below = |level: f64| p.iter().flatten().filter(|p| **p <= level).count() as f64 / tested;
    [tested / draws as f64, below(0.05), below(0.01)]
}
