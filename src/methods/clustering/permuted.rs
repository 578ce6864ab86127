//! p-values of clustering by dealing the values out again and again, where the normal ones are not to be trusted.
//!
//! Each area draws from its own stream of the seed, so that no area's answer depends on another's or on the number of threads.

use super::{NoClustering, Weights, centred, lags};
use crate::methods::random::Stream;

/// Two-sided p of Moran's I by permutation.
///
/// # Computes
/// Twice the smaller share of `rounds` random permutations (the data counted as one more) whose I is at least, or at most, the one
/// seen; not above 1.
/// # Takes
/// As [`super::moran`]; rounds and seed.
/// # Gives
/// p, at the least 2 / (rounds + 1).
/// # Errors
/// [`NoClustering`].
/// # Conventions
/// Equal figures count to both sides.
/// # Source
/// Cliff and Ord 1981; the added one after Davison and Hinkley 1997, section 4.3 (both from memory).
/// # Checked against
/// The randomised z, which `12-spatial-clustering.json` checks, in the tests of this module.
pub fn global_p(
    values: &[f64],
    neighbours: &[Vec<usize>],
    weights: Weights,
    rounds: u32,
    seed: u64,
) -> Result<f64, NoClustering> {
    let mut z = centred(values, neighbours)?;
    if neighbours.iter().all(Vec::is_empty) {
        return Err(NoClustering::NoNeighbours);
    }
    let figure = |z: &[f64]| z.iter().zip(lags(z, neighbours, weights)).map(|(z, lag)| z * lag).sum::<f64>();
    let seen = figure(&z);
    let near = 1e-12 * z.iter().map(|z| z * z).sum::<f64>();
    let mut stream = Stream::new(seed, 0);
    let mut sides = Sides::default();
    for _ in 0..rounds {
        let last = z.len();
        deal(&mut z, last, &mut stream);
        sides.count(figure(&z) - seen, near);
    }
    Ok(sides.p(rounds))
}

/// Two-sided p of each area's local Moran (and of its G*, which orders the deals alike) by conditional permutation.
///
/// # Computes
/// The area keeps its value and draws its neighbours' from all others; p as in [`global_p`].
/// # Takes
/// As [`super::local`]; rounds and seed.
/// # Gives
/// One p an area; `None` without neighbours, or where all other areas are neighbours.
/// # Errors
/// [`NoClustering`].
/// # Conventions
/// Stream i + 1 of the seed belongs to area i, stream 0 to [`global_p`].
/// # Source
/// Anselin 1995, Geographical Analysis 27, 93-115 (from memory).
/// # Checked against
/// A hot spot made for the purpose, in the tests of this module; no published example was found.
pub fn local_p(
    values: &[f64],
    neighbours: &[Vec<usize>],
    rounds: u32,
    seed: u64,
) -> Result<Vec<Option<f64>>, NoClustering> {
    let z = centred(values, neighbours)?;
    let near = 1e-12 * z.iter().fold(0.0_f64, |m, z| m.max(z.abs()));
    let one = |(i, list): (usize, &Vec<usize>)| {
        if list.is_empty() || list.len() + 1 >= z.len() {
            return None;
        }
        let seen: f64 = list.iter().map(|j| z[*j]).sum();
        let mut others: Vec<f64> = z.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, z)| *z).collect();
        let mut stream = Stream::new(seed, i as u64 + 1);
        let mut sides = Sides::default();
        for _ in 0..rounds {
            deal(&mut others, list.len(), &mut stream);
            sides.count(others.iter().take(list.len()).sum::<f64>() - seen, near);
        }
        Some(sides.p(rounds))
    };
    Ok(neighbours.iter().enumerate().map(one).collect())
}

#[derive(Default)]
struct Sides {
    above: u32,
    below: u32,
}

impl Sides {
    fn count(&mut self, beyond: f64, near: f64) {
        self.above += u32::from(beyond >= -near);
        self.below += u32::from(beyond <= near);
    }

    fn p(&self, rounds: u32) -> f64 {
        let fewer = f64::from(self.above.min(self.below));
        (2.0 * (fewer + 1.0) / (f64::from(rounds) + 1.0)).min(1.0)
    }
}

/// Puts a random choice of the values, in random order, into the first `count` places.
fn deal(values: &mut [f64], count: usize, stream: &mut Stream) {
    for i in 0..count.min(values.len()) {
        let left = u32::try_from(values.len() - i).unwrap_or(u32::MAX);
        values.swap(i, i + stream.below(left) as usize);
    }
}
