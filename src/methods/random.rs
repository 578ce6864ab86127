//! Random numbers that are the same everywhere: a seed and a stream number into draws.
//!
//! Each group of a survey has a stream of its own, so that no group's answer depends on another's,
//! on their order, or on threads. A reader would question the generator: ChaCha with 8 rounds,
//! whose streams are independent by construction.

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

    /// How often something of chance `p` happens in `n` tries; `p` outside 0 to 1 counts as the
    /// nearer end.
    pub fn binomial(&mut self, n: u32, p: f64) -> u32 {
        match () {
            () if n == 0 || p <= 0.0 => 0,
            () if p >= 1.0 => n,
            () if p > 0.5 => n - self.rare_binomial(n, 1.0 - p),
            () => self.rare_binomial(n, p),
        }
    }

    fn rare_binomial(&mut self, n: u32, p: f64) -> u32 {
        if f64::from(n) * p < 10.0 { self.binomial_by_inversion(n, p) } else { self.binomial_by_rejection(n, p) }
    }

    /// Adds up chances from zero until they pass a random share.
    fn binomial_by_inversion(&mut self, n: u32, p: f64) -> u32 {
        let odds = p / (1.0 - p);
        let first = libm::exp(f64::from(n) * libm::log1p(-p));
        loop {
            let (mut left, mut chance) = (self.unit(), first);
            for k in 0..=n.min(200) {
                if left < chance {
                    return k;
                }
                left -= chance;
                chance *= odds * f64::from(n - k) / f64::from(k + 1);
            }
        }
    }

    /// Transformed rejection with squeeze: Hörmann 1993, algorithm BTRS (constants from memory;
    /// checked against the exact chances below).
    fn binomial_by_rejection(&mut self, n: u32, p: f64) -> u32 {
        let (tries, odds) = (f64::from(n), p / (1.0 - p));
        let spread = (tries * p * (1.0 - p)).sqrt();
        let b = 1.15 + 2.53 * spread;
        let a = -0.0873 + 0.0248 * b + 0.01 * p;
        let c = tries * p + 0.5;
        let squeeze = 0.92 - 4.2 / b;
        let alpha = (2.83 + 5.1 / b) * spread;
        let mode = ((tries + 1.0) * p).floor();
        loop {
            let (u, v) = (self.unit() - 0.5, self.unit());
            let edge = 0.5 - u.abs();
            let k = ((2.0 * a / edge + b) * u + c).floor();
            if edge >= 0.07 && v <= squeeze {
                return k as u32;
            }
            if k < 0.0 || k > tries {
                continue;
            }
            let height = libm::log(v * alpha / (a / (edge * edge) + b));
            let top = (mode + 0.5) * libm::log((mode + 1.0) / (odds * (tries - mode + 1.0)))
                + (tries + 1.0) * libm::log((tries - mode + 1.0) / (tries - k + 1.0))
                + (k + 0.5) * libm::log(odds * (tries - k + 1.0) / (k + 1.0))
                + stirling_rest(mode)
                + stirling_rest(tries - mode)
                - stirling_rest(k)
                - stirling_rest(tries - k);
            if height <= top {
                return k as u32;
            }
        }
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

    /// A Beta(a, b) number.
    pub fn beta(&mut self, a: f64, b: f64) -> f64 {
        let (x, y) = (self.ln_gamma_variate(a), self.ln_gamma_variate(b));
        1.0 / (1.0 + libm::exp(y - x))
    }
}

/// ln k! beyond (k + 1/2) ln(k + 1) - (k + 1) + ln sqrt(2 pi).
fn stirling_rest(k: f64) -> f64 {
    const SMALL: [f64; 10] = [
        0.081_061_466_795_327_3,
        0.041_340_695_955_409_3,
        0.027_677_925_684_998_34,
        0.020_790_672_103_765_09,
        0.016_644_691_189_821_19,
        0.013_876_128_823_070_75,
        0.011_896_709_945_891_77,
        0.010_411_265_261_972_1,
        0.009_255_462_182_712_733,
        0.008_330_563_433_362_87,
    ];
    match SMALL.get(k as usize) {
        Some(rest) => *rest,
        None => {
            let y = 1.0 / ((k + 1.0) * (k + 1.0));
            (1.0 / 12.0 - (1.0 / 360.0 - y / 1260.0) * y) / (k + 1.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::methods::special::{beta_cdf, ln_beta};

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
    fn rests_of_small_factorials() {
        for k in 0..14 {
            let k = f64::from(k);
            let ln_factorial = libm::lgamma(k + 1.0);
            let plain = (k + 0.5) * libm::log(k + 1.0) - (k + 1.0) + 0.918_938_533_204_672_8;
            assert!((stirling_rest(k) - (ln_factorial - plain)).abs() < 1e-9, "{k}");
        }
    }

    /// Chi-squared over the cells expected at least five times, against mean plus six standard
    /// deviations of it.
    #[test]
    fn binomial_draws_follow_the_exact_chances() {
        for (n, p) in [(8, 0.3), (400, 0.01), (400, 0.2), (1000, 0.5), (50_000, 0.003), (300, 0.9)] {
            let rounds = 200_000;
            let mut seen = vec![0u32; n as usize + 1];
            let mut stream = Stream::new(5, u64::from(n));
            for _ in 0..rounds {
                seen[stream.binomial(n, p) as usize] += 1;
            }
            let (mut sum, mut cells) = (0.0, 0.0);
            for (k, count) in seen.iter().enumerate() {
                let (k, all) = (k as f64, f64::from(n));
                let ln_choose = -libm::log(all + 1.0) - ln_beta(k + 1.0, all - k + 1.0);
                let expected =
                    f64::from(rounds) * libm::exp(ln_choose + k * libm::log(p) + (all - k) * libm::log1p(-p));
                if expected >= 5.0 {
                    sum += (f64::from(*count) - expected) * (f64::from(*count) - expected) / expected;
                    cells += 1.0;
                }
            }
            assert!(sum < cells + 6.0 * f64::sqrt(2.0 * cells), "{n} {p}: {sum} over {cells}");
        }
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
