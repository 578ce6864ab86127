//! What else the posterior can tell: an area's variance, and joint draws of the rates of several areas.

use super::Posterior;
use crate::methods::random::Stream;

impl Posterior {
    /// # Computes
    /// Mean and variance of an area's rate over the mixture of Beta(mu k + x, (1 - mu) k + n - x).
    /// # Gives
    /// `None` for a position that no area has.
    pub fn moments(&self, area: usize) -> Option<(f64, f64)> {
        let (x, n) = (*self.exceeding.get(area)? as f64, *self.wells.get(area)? as f64);
        let (mut mean, mut square) = (0.0, 0.0);
        let components = self.components.a.iter().zip(&self.components.b).zip(&self.components.weight);
        for ((a, b), weight) in components {
            let whole = a + b + n;
            let m = (a + x) / whole;
            mean += weight * m;
            square += weight * m * (m + (1.0 - m) / (whole + 1.0));
        }
        Some((mean, (square - mean * mean).max(0.0)))
    }

    /// # Computes
    /// One joint draw of the rates of some areas: the same overall mean and spread for all of them.
    /// # Takes
    /// A stream and the positions of the areas.
    /// # Gives
    /// A rate for each position, in order; 0 for a position that no area has.
    pub fn draw(&self, stream: &mut Stream, areas: &[usize]) -> Vec<f64> {
        let (a, b) = self.components.draw(stream.unit());
        let counts = areas.iter().map(|area| self.exceeding.get(*area).zip(self.wells.get(*area)));
        counts.map(|count| count.map_or(0.0, |(x, n)| stream.beta(a + *x as f64, b + (n - x) as f64))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::methods::integrated::Question;

    #[test]
    fn draws_and_moments_agree_with_the_published_figures() {
        let posterior = Posterior::fit(&[3, 0, 12, 5], &[20, 11, 30, 60]).unwrap();
        let rates = posterior.rates(&Question { level: 0.95, concern: 0.05 }).unwrap();
        let mut stream = Stream::new(5, 0);
        let draws: Vec<Vec<f64>> = (0..4000).map(|_| posterior.draw(&mut stream, &[0, 1, 2, 3])).collect();
        for (area, rate) in rates.iter().enumerate() {
            let (mean, variance) = posterior.moments(area).unwrap();
            assert!((mean - rate.mean).abs() < 1e-6);
            let drawn: Vec<f64> = draws.iter().map(|draw| draw[area]).collect();
            let average = drawn.iter().sum::<f64>() / 4000.0;
            let spread = drawn.iter().map(|r| (r - average) * (r - average)).sum::<f64>() / 3999.0;
            assert!((average - mean).abs() < 5.0 * (variance / 4000.0).sqrt(), "{average} {mean}");
            assert!((spread / variance - 1.0).abs() < 0.15, "{spread} {variance}");
            let above = drawn.iter().filter(|r| **r > 0.05).count() as f64 / 4000.0;
            assert!((above - rate.chance_above).abs() < 0.04, "{above} {}", rate.chance_above);
        }
    }
}
