//! Made-up wells with a known truth: a distribution, a number of wells and a share censored into values and non-detects.
//!
//! A reader would question the limits: two laboratories share the wells at random, one reporting down to the quantile a tenth below
//! the share censored, the other down to that a tenth above (a twentieth at 90 %), so that limits interleave with detects.

use wellreeve::methods::censored::Censored;
use wellreeve::methods::random::Stream;
use wellreeve::methods::special::normal_quantile;

/// Where values come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// exp of a standard normal: mean 1.65, coefficient of variation 1.31.
    Lognormal,
    /// Half the square of a standard normal, which is Gamma(1/2, 1): its left tail is far longer than a lognormal's on the log scale.
    Gamma,
}

impl Source {
    pub const ALL: [Source; 2] = [Source::Lognormal, Source::Gamma];

    pub fn word(self) -> &'static str {
        match self {
            Source::Lognormal => "lognormal",
            Source::Gamma => "gamma",
        }
    }

    pub fn mean(self) -> f64 {
        match self {
            Source::Lognormal => libm::exp(0.5),
            Source::Gamma => 0.5,
        }
    }

    pub fn sd(self) -> f64 {
        match self {
            Source::Lognormal => self.mean() * libm::expm1(1.0).sqrt(),
            Source::Gamma => 0.5f64.sqrt(),
        }
    }

    pub fn quantile(self, p: f64) -> f64 {
        match self {
            Source::Lognormal => libm::exp(normal_quantile(p)),
            Source::Gamma => 0.5 * normal_quantile(0.5 + 0.5 * p).powi(2),
        }
    }

    fn draw(self, stream: &mut Stream) -> f64 {
        let z = stream.normal();
        match self {
            Source::Lognormal => libm::exp(z),
            Source::Gamma => 0.5 * z * z,
        }
    }
}

/// One line of the tables.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    pub source: Source,
    pub wells: usize,
    /// Expected share of non-detects, in percent.
    pub censored: u32,
}

impl Setting {
    /// Every setting of the tables.
    pub fn all() -> Vec<Setting> {
        let mut all = Vec::new();
        for source in Source::ALL {
            for wells in [5, 10, 30, 100] {
                all.extend([0, 30, 60, 90].map(|censored| Setting { source, wells, censored }));
            }
        }
        all
    }

    fn limits(self) -> [f64; 2] {
        let share = f64::from(self.censored) / 100.0;
        let apart = if self.censored == 90 { 0.05 } else { 0.1 };
        if self.censored == 0 { [0.0; 2] } else { [share - apart, share + apart].map(|p| self.source.quantile(p)) }
    }

    /// Values and marks.
    pub fn draw(self, stream: &mut Stream) -> (Vec<f64>, Vec<bool>) {
        let limits = self.limits();
        let well = |stream: &mut Stream| {
            let (value, limit) = (self.source.draw(stream), limits[stream.below(2) as usize]);
            if value < limit { (limit, true) } else { (value, false) }
        };
        (0..self.wells).map(|_| well(stream)).unzip()
    }
}

/// The group of a draw.
pub fn group((value, nondetect): &(Vec<f64>, Vec<bool>)) -> Censored {
    Censored::new(value, nondetect).unwrap()
}

/// A stream of its own for each part, setting and draw.
pub fn stream(part: u64, setting: usize, draw: usize) -> Stream {
    Stream::new(20_260_101, (part << 48) | ((setting as u64) << 32) | draw as u64)
}
