//! Random numbers that are the same everywhere: a seed and a stream number into draws.
//!
//! Each group of a survey has a stream of its own, so that no group's answer depends on another's,
//! on their order, or on threads. A reader would question the generator: ChaCha with 8 rounds,
//! whose streams are independent by construction.
//!
//! # Source
//! Bernstein 2008, ChaCha (from memory); normal numbers by inversion, gamma numbers after Marsaglia and Tsang 2000 (from memory).
//! # Checked against
//! Moments of draws, below.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::special::normal_quantile;

/// A stream of random numbers.
#[derive(Clone, Debug)]
pub struct Stream(ChaCha8Rng);

impl Stream {
    /// The stream with this number under this seed. The seed's eight bytes are the head of the key,
    /// the rest is zero, so that the draws do not hang on a library's way of stretching a seed.
    pub fn new(seed: u64, number: u64) -> Self {
        let mut key = [0; 32];
        for (place, byte) in key.iter_mut().zip(seed.to_le_bytes()) {
            *place = byte;
        }
        let mut rng = ChaCha8Rng::from_seed(key);
        rng.set_stream(number);
        Stream(rng)
    }

    /// A whole number below `n`, each as likely as the other to one part in 2^32 / n.
    #[inline]
    pub fn below(&mut self, n: u32) -> u32 {
        ((u64::from(self.0.next_u32()) * u64::from(n)) >> 32) as u32
    }

    /// Overwrites `bytes`: cheaper by the block than number by number.
    pub fn fill(&mut self, bytes: &mut [u8]) {
        self.0.fill_bytes(bytes);
    }

    /// A number between 0 and 1, never at either end.
    #[inline]
    pub fn unit(&mut self) -> f64 {
        ((self.0.next_u64() >> 12) as f64 + 0.5) * (1.0 / (1u64 << 52) as f64)
    }

    /// A standard normal number, by inversion.
    pub fn normal(&mut self) -> f64 {
        normal_quantile(self.unit())
    }

    /// A Gamma(shape, 1) number, as its logarithm, so that a tiny shape does not fall to zero:
    /// Marsaglia and Tsang 2000 (from memory).
    pub fn ln_gamma_variate(&mut self, shape: f64) -> f64 {
        if shape < 1.0 {
            return self.ln_gamma_variate(shape + 1.0) + libm::log(self.unit()) / shape;
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let t = 1.0 + c * x;
            if t <= 0.0 {
                continue;
            }
            let (v, u) = (t * t * t, self.unit());
            let x2 = x * x;
            if u < 1.0 - 0.0331 * x2 * x2 || libm::log(u) < 0.5 * x2 + d * (1.0 - v + libm::log(v)) {
                return libm::log(d * v);
            }
        }
    }

    /// The logit of a Beta(a, b) number: it does not fall to 0 or rise to 1 where `a` or `b` is tiny.
    pub fn beta_logit(&mut self, a: f64, b: f64) -> f64 {
        self.ln_gamma_variate(a) - self.ln_gamma_variate(b)
    }

    /// A Beta(a, b) number.
    pub fn beta(&mut self, a: f64, b: f64) -> f64 {
        let (x, y) = (self.ln_gamma_variate(a), self.ln_gamma_variate(b));
        1.0 / (1.0 + libm::exp(y - x))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::methods::special::beta_cdf;

    #[test]
    fn streams_are_apart_and_repeat() {
        let draws = |number| {
            let mut stream = Stream::new(1, number);
            [stream.below(1000), stream.below(1000), stream.below(1000)]
        };
        assert_eq!(draws(7), draws(7));
        assert_ne!(draws(7), draws(8));
        assert_ne!(Stream::new(1, 0).unit(), Stream::new(2, 0).unit());
    }

    #[test]
    fn beta_draws_follow_their_distribution() {
        let mut stream = Stream::new(3, 0);
        for (a, b) in [(0.05, 3.0), (2.0, 5.0), (300.0, 20_000.0)] {
            let mut shares: Vec<f64> = (0..20_000).map(|_| beta_cdf(a, b, stream.beta(a, b))).collect();
            shares.sort_by(f64::total_cmp);
            let gap =
                shares.iter().enumerate().map(|(i, s)| (s - (i as f64 + 0.5) / 20_000.0).abs()).fold(0.0, f64::max);
            assert!(gap < 0.015, "{a} {b}: {gap}");
        }
    }
}
