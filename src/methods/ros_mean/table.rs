//! Shares into normal quantiles, and values into shares, read off tables of cubics.
//!
//! Made once a run. A reader would question the digits: nine, against sixteen of the functions
//! themselves at five times the cost, and only resamples are made of them.

use std::sync::LazyLock;

use crate::methods::special::{normal_cdf, normal_density, normal_quantile};

/// c0 + t (c1 + t (c2 + t c3)) for t from 0 to 1.
type Cubic = [f64; 4];

/// Pieces of each octave of the share, as a power of two.
const PIECES: u32 = 6;
/// Octaves from one half down.
const OCTAVES: usize = 30;
/// The leading bits of the lowest share in the table.
const FIRST: usize = (1022 - OCTAVES) << PIECES;
const FRACTION: u32 = 52 - PIECES;

/// Cubics of the normal quantile over the shares up to one half.
pub(super) struct Quantiles(Vec<Cubic>);

static QUANTILES: LazyLock<Quantiles> = LazyLock::new(Quantiles::made);

impl Quantiles {
    /// The table, made at the first call.
    pub(super) fn get() -> &'static Self {
        &QUANTILES
    }

    fn made() -> Self {
        let edge = |i: usize| f64::from_bits(((FIRST + i) as u64) << FRACTION);
        let piece = |i: usize| {
            let (from, to) = (edge(i), edge(i + 1));
            let node = |p: f64| (normal_quantile(p), (to - from) / normal_density(normal_quantile(p)));
            through(node(from), node(to))
        };
        // One more piece holds one half itself.
        Quantiles((0..=OCTAVES << PIECES).map(piece).collect())
    }

    /// The normal quantile of a share above 0 and below 1.
    #[inline]
    pub(super) fn at(&self, p: f64) -> f64 {
        match self.piece(p) {
            Some((cubic, part, _)) => at(cubic, part).abs().copysign(p - 0.5),
            None => normal_quantile(p),
        }
    }

    /// The same with its slope.
    #[inline]
    pub(super) fn with_slope(&self, p: f64) -> (f64, f64) {
        match self.piece(p) {
            Some((cubic, part, per)) => {
                let [_, c1, c2, c3] = cubic;
                let slope = ((c1 + part * (2.0 * c2)) + part * part * (3.0 * c3)) * per;
                (at(cubic, part).abs().copysign(p - 0.5), slope)
            }
            None => {
                let z = normal_quantile(p);
                (z, 1.0 / normal_density(z))
            }
        }
    }

    /// The piece with a share, or with one minus it, how far into it, and one over its width.
    #[inline]
    fn piece(&self, p: f64) -> Option<(&Cubic, f64, f64)> {
        let bits = p.min(1.0 - p).to_bits();
        let cubic = self.0.get(((bits >> FRACTION) as usize).wrapping_sub(FIRST))?;
        // The bits behind the piece's number, as a part of one.
        let part = f64::from_bits((bits << PIECES) & (u64::MAX >> 12) | 1.0f64.to_bits()) - 1.0;
        // A power of two is turned over by its exponent.
        let per = f64::from_bits(((2046 + u64::from(PIECES)) << 52) - (bits & !(u64::MAX >> 12)));
        Some((cubic, part, per))
    }
}

/// The table of shares goes this far from 0 to either side.
const FARTHEST: f64 = 8.0;
const PIECES_OF_ONE: f64 = 32.0;

static SHARES: LazyLock<Vec<Cubic>> = LazyLock::new(|| {
    let node = |i: usize| {
        let z = i as f64 / PIECES_OF_ONE - FARTHEST;
        (normal_cdf(z), normal_density(z) / PIECES_OF_ONE)
    };
    (0..(2.0 * FARTHEST * PIECES_OF_ONE) as usize).map(|i| through(node(i), node(i + 1))).collect()
});

/// The share below a value.
pub(super) fn share(z: f64) -> f64 {
    let place = (z + FARTHEST) * PIECES_OF_ONE;
    match SHARES.get(place as usize) {
        Some(cubic) if place >= 0.0 => at(cubic, place - place.floor()),
        _ => normal_cdf(z),
    }
}

fn at(c: &Cubic, t: f64) -> f64 {
    (c[0] + t * c[1]) + t * t * (c[2] + t * c[3])
}

/// The cubic with the values and slopes of both ends.
fn through((f0, d0): (f64, f64), (f1, d1): (f64, f64)) -> Cubic {
    [f0, d0, 3.0 * (f1 - f0) - 2.0 * d0 - d1, 2.0 * (f0 - f1) + d0 + d1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_the_functions() {
        for i in 1..100_000 {
            let p = f64::from(i) / 100_000.0;
            for p in [p, p * p * p, p * p * p * p * p * p] {
                let exact = normal_quantile(p);
                let got = Quantiles::get().at(p);
                assert!((got - exact).abs() < 2e-9, "{p}: {got} {exact}");
            }
            let z = 20.0 * p - 10.0;
            assert!((share(z) - normal_cdf(z)).abs() < 4e-9, "{z}");
        }
        assert_eq!(Quantiles::get().at(0.5), 0.0);
    }
}
