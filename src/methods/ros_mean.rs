//! The mean of the regression on order statistics from counts alone: what resampling asks thousands
//! of times, without a sort.
//!
//! Plotting positions follow from counts. A reader would question the sums over long runs of
//! neighbouring positions: they are taken as integrals, in closed form and with the midpoint
//! correction, which differs from the sum by less than one part in 100,000 and costs two normal
//! quantiles instead of one for each result. The figure of the group itself is never made this way.

use super::resample::{Cells, Kind};
use super::special::{normal_cdf, normal_density, normal_quantile};

/// Runs shorter than this are summed one by one.
const SHORT: u32 = 4;
/// A run is an integral only where its step is small against the distance of its ends from 0 and 1.
const FINE: f64 = 0.2;

/// The mean of the completed sample as a figure of counted cells; `None` under two different
/// detects.
///
/// # Checked against
/// `Ros::mean` over random groups, below.
pub fn ros_mean_of<'a>(cells: &'a Cells) -> impl Fn(&[u32]) -> Option<f64> + 'a {
    let logs: Vec<f64> =
        cells.value.iter().map(|value| if *value > 0.0 { libm::log(*value) } else { f64::NAN }).collect();
    move |counts| mean(cells, &logs, counts)
}

fn mean(cells: &Cells, logs: &[f64], counts: &[u32]) -> Option<f64> {
    let highest = (0..counts.len()).rev().find(|i| counts[*i] > 0 && cells.kind[*i] == Kind::Detect)?;
    let used = &counts[..=highest];
    let mut sums = Sums { shift: logs[highest], ..Sums::default() };
    let mut runs = Vec::with_capacity(16);
    let mut left: u32 = used.iter().sum();
    let (mut detects, mut next, mut end) = (0, 0.0, highest + 1);
    for (i, count) in used.iter().enumerate().rev() {
        left -= count;
        if cells.kind[i] == Kind::Detect {
            detects += count;
        } else if *count > 0 {
            let exceedance = next + (1.0 - next) * f64::from(detects) / f64::from(detects + left + count);
            let stretch = Run { from: 1.0 - exceedance, step: (exceedance - next) / f64::from(detects + 1) };
            sums.add_detects(cells, logs, used, i + 1..end, stretch);
            runs.push((Run { from: 0.0, step: (1.0 - exceedance) / f64::from(count + 1) }, *count));
            (next, detects, end) = (exceedance, 0, i);
        }
    }
    let stretch = Run { from: 0.0, step: (1.0 - next) / f64::from(detects + 1) };
    if runs.is_empty() {
        sums.add_values(cells, used);
        return sums.different_detects().then(|| sums.values / sums.n);
    }
    sums.add_detects(cells, logs, used, 0..end, stretch);
    let (intercept, slope) = sums.line()?;
    let modelled: f64 = runs.iter().map(|(run, count)| run.exponentials(*count, intercept, slope)).sum();
    let completed = f64::from(runs.iter().map(|(_, count)| count).sum::<u32>());
    Some((sums.values + modelled) / (sums.n + completed))
}

/// Sums over the detects: z the normal quantile of the position, y the logarithm less a shift that
/// keeps digits.
#[derive(Default)]
struct Sums {
    shift: f64,
    n: f64,
    values: f64,
    z: f64,
    zz: f64,
    y: f64,
    zy: f64,
    lowest: f64,
    highest: f64,
}

impl Sums {
    fn add_detects(
        &mut self,
        cells: &Cells,
        logs: &[f64],
        counts: &[u32],
        range: std::ops::Range<usize>,
        stretch: Run,
    ) {
        let mut rank = 0;
        for i in range {
            let count = counts[i];
            if count == 0 || cells.kind[i] == Kind::Below {
                continue;
            }
            let (z, zz) = stretch.quantiles(rank, count);
            rank += count;
            let y = logs[i] - self.shift;
            self.note(cells.value[i], f64::from(count));
            self.z += z;
            self.zz += zz;
            self.y += y * f64::from(count);
            self.zy += y * z;
        }
    }

    fn add_values(&mut self, cells: &Cells, counts: &[u32]) {
        for ((value, kind), count) in cells.value.iter().zip(&cells.kind).zip(counts) {
            if *count > 0 && *kind == Kind::Detect {
                self.note(*value, f64::from(*count));
            }
        }
    }

    fn note(&mut self, value: f64, count: f64) {
        self.lowest = if self.n == 0.0 { value } else { self.lowest.min(value) };
        self.highest = self.highest.max(value);
        self.n += count;
        self.values += value * count;
    }

    fn different_detects(&self) -> bool {
        self.n > 1.0 && self.lowest < self.highest
    }

    fn line(&self) -> Option<(f64, f64)> {
        if !self.different_detects() {
            return None;
        }
        let slope = (self.zy - self.z * self.y / self.n) / (self.zz - self.z * self.z / self.n);
        Some((self.shift + (self.y - slope * self.z) / self.n, slope))
    }
}

/// Equally spaced positions `from + step * i`.
#[derive(Clone, Copy)]
struct Run {
    from: f64,
    step: f64,
}

impl Run {
    fn at(self, i: f64) -> f64 {
        self.from + self.step * i
    }

    /// Sums of z and of its square over positions `before + 1` to `before + count`.
    fn quantiles(self, before: u32, count: u32) -> (f64, f64) {
        let (a, b) = (f64::from(before), f64::from(before + count));
        if count < SHORT || !self.smooth(a, b) {
            return (before + 1..=before + count)
                .map(|i| normal_quantile(self.at(f64::from(i))))
                .fold((0.0, 0.0), |(s, q), z| (s + z, q + z * z));
        }
        let ends = [self.at(a + 0.5), self.at(b + 0.5)];
        let [(z0, d0), (z1, d1)] = ends.map(|p| (normal_quantile(p), normal_density(normal_quantile(p))));
        let correction = self.step / 24.0;
        let z = (d0 - d1) / self.step - correction * (1.0 / d1 - 1.0 / d0);
        let zz = ((ends[1] - z1 * d1) - (ends[0] - z0 * d0)) / self.step - 2.0 * correction * (z1 / d1 - z0 / d0);
        (z, zz)
    }

    /// Sum of exp(intercept + slope z) over the first `count` positions.
    fn exponentials(self, count: u32, intercept: f64, slope: f64) -> f64 {
        let at = |p: f64| libm::exp(intercept + slope * normal_quantile(p));
        let exact = |to: u32| (1..=to).map(|i| at(self.at(f64::from(i)))).sum::<f64>();
        // The first positions are coarse against their distance from 0.
        let head = 8;
        if count < head + SHORT || !self.smooth(f64::from(head), f64::from(count)) {
            return exact(count);
        }
        let ends = [self.at(f64::from(head) + 0.5), self.at(f64::from(count) + 0.5)].map(normal_quantile);
        let [low, high] = ends.map(|z| (normal_cdf(z - slope), libm::exp(intercept + slope * z) / normal_density(z)));
        let whole = libm::exp(intercept + 0.5 * slope * slope) * (high.0 - low.0) / self.step;
        exact(head) + whole - self.step / 24.0 * slope * (high.1 - low.1)
    }

    fn smooth(self, a: f64, b: f64) -> bool {
        self.step < FINE * self.at(a + 0.5) && self.step < FINE * (1.0 - self.at(b + 0.5))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::super::random::Stream;
    use super::super::ros::Ros;
    use super::*;

    fn agree(group: &super::super::censored::Censored, tolerance: f64) -> Result<(), TestCaseError> {
        let cells = Cells::of(group);
        let (fast, slow) = (ros_mean_of(&cells)(&cells.count), Ros::of(group).ok().map(|ros| ros.mean()));
        prop_assert_eq!(fast.is_some(), slow.is_some());
        if let (Some(fast), Some(slow)) = (fast, slow) {
            prop_assert!((fast / slow - 1.0).abs() < tolerance, "{} {}", fast, slow);
        }
        Ok(())
    }

    #[test]
    fn long_runs_agree_with_their_sums() {
        let mut stream = Stream::new(4, 0);
        let mut words_of = |n: u32| {
            let word = |x: f64, limit: f64| if x < limit { format!("<{limit}") } else { format!("{x:.1}") };
            (0..n)
                .map(|i| word(libm::exp(1.0 + stream.normal()), [1.0, 3.0, 6.0][i as usize % 3]))
                .collect::<Vec<_>>()
                .join(" ")
        };
        for n in [40, 400, 4000] {
            agree(&words(&words_of(n)), 1e-6).unwrap();
        }
    }

    proptest! {
        #[test]
        fn the_same_as_the_completed_sample(group in groups()) {
            agree(&group, 1e-5)?;
        }
    }
}
