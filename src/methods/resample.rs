//! Resampling with replacement: counts of a group's cells into counts of a resample, without
//! touching or sorting a value.
//!
//! A cell is all detects, or all non-detects, at one value. A reader would question the two ways of
//! drawing: one result after the other, or cell by cell as Poisson numbers, with results added or
//! taken away at random until there are as many as in the group. Both give the multinomial
//! distribution; the second is faster where there are many results a cell. Large groups of many
//! values are first put into few cells (`classes`).
//!
//! # Source
//! Efron 1979, the bootstrap (from memory); the second way is our own.
//! # Checked against
//! Means and variances of the multinomial distribution, below.

use std::ops::RangeInclusive;

use super::censored::Censored;
use super::random::Stream;
use poisson::Poisson;

mod classes;
mod poisson;

pub use classes::Near;

/// What a cell's results have in common besides their value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Known only to lie below the value.
    Below,
    /// Detected at the value.
    Detect,
}

/// The cells of a group: values ascending, non-detects before detects.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cells {
    /// Value or limit of each cell.
    pub value: Vec<f64>,
    /// Kind of each cell.
    pub kind: Vec<Kind>,
    /// Results in each cell, none of them zero.
    pub count: Vec<u32>,
}

impl Cells {
    /// The cells of a group.
    pub fn of(group: &Censored) -> Self {
        let mut cells = Cells::default();
        for tie in group.ties() {
            for (kind, count) in [(Kind::Below, tie.nondetects), (Kind::Detect, tie.detects)] {
                if count > 0 {
                    cells.value.push(tie.value);
                    cells.kind.push(kind);
                    cells.count.push(count);
                }
            }
        }
        cells
    }

    /// All results.
    pub fn total(&self) -> u32 {
        self.count.iter().sum()
    }
}

/// Results a cell from which drawing cell by cell is faster; measured.
const MANY_A_CELL: usize = 4;
/// Groups of these sizes are drawn by two random bytes a result, of which under a quarter is
/// rejected; larger ones need four, and smaller ones cost next to nothing with them.
const TWO_BYTES: RangeInclusive<u32> = 64..=1 << 14;
/// The Poisson numbers add up to less than the group by this many standard deviations on average,
/// since adding results is cheaper than taking them away.
const SHORT_BY: f64 = 3.0;

/// Draws resamples of the size of the group.
#[derive(Clone, Debug)]
pub struct Resampler {
    random: Random,
    n: u32,
    /// Cell of each result.
    cell_of: Vec<u32>,
    /// Numbers of results to come out of each cell; `None` where drawing goes result by result.
    numbers: Option<Poisson>,
}

impl Resampler {
    /// For cells with these counts, on the given stream.
    pub fn new(count: &[u32], stream: Stream) -> Self {
        let n: u32 = count.iter().sum();
        let cell_of = (0u32..).zip(count).flat_map(|(cell, results)| std::iter::repeat_n(cell, *results as usize));
        let many = n as usize >= MANY_A_CELL * count.len();
        let part = (1.0 - SHORT_BY / f64::from(n.max(1)).sqrt()).max(0.0);
        let numbers = many.then(|| Poisson::of(count.iter().map(|results| part * f64::from(*results))));
        Resampler { random: Random::of(stream), n, cell_of: cell_of.collect(), numbers }
    }

    /// Overwrites `into`, which has one place a cell, with the counts of the next resample.
    pub fn draw(&mut self, into: &mut [u32]) {
        let drawn = match &self.numbers {
            Some(numbers) => numbers.draw(&mut self.random, into),
            None => {
                into.fill(0);
                0
            }
        };
        for left in (self.n..drawn).rev() {
            self.take_one(left + 1, into);
        }
        let missing = self.n.saturating_sub(drawn);
        if TWO_BYTES.contains(&self.n) { self.add::<2>(missing, into) } else { self.add::<4>(missing, into) }
    }

    /// Adds results, each of the group as likely as the other, from `BYTES` random bytes a result:
    /// the high half of a product, with the low halves that would favour some results rejected
    /// (Lemire 2019, from memory).
    fn add<const BYTES: usize>(&mut self, mut missing: u32, into: &mut [u32]) {
        let bits = 8 * BYTES as u32;
        let (n, mask) = (u64::from(self.n), (1u64 << bits) - 1);
        let uneven = if n > 0 { (1u64 << bits) % n } else { 0 };
        while missing > 0 {
            let mut added = 0;
            for word in self.random.next::<BYTES>(missing as usize) {
                let product = number(word) * n;
                if product & mask < uneven {
                    continue;
                }
                let cell = self.cell_of.get((product >> bits) as usize);
                if let Some(place) = cell.and_then(|cell| into.get_mut(*cell as usize)) {
                    *place += 1;
                    added += 1;
                }
            }
            missing -= added;
        }
    }

    /// Takes away one of `all` results, each as likely as the other.
    fn take_one(&mut self, all: u32, into: &mut [u32]) {
        let mut before = self.random.stream.below(all);
        for place in into {
            if before < *place {
                *place -= 1;
                return;
            }
            before -= *place;
        }
    }
}

/// Random bytes by the block.
#[derive(Clone, Debug)]
struct Random {
    stream: Stream,
    block: Vec<u8>,
    used: usize,
}

/// A whole number of words of each size.
const BLOCK: usize = 1024;

impl Random {
    fn of(stream: Stream) -> Self {
        Random { stream, block: vec![0; BLOCK], used: BLOCK }
    }

    /// At least one and up to `most` random words.
    fn next<const BYTES: usize>(&mut self, most: usize) -> &[[u8; BYTES]] {
        self.used = self.used.next_multiple_of(BYTES);
        if self.used >= self.block.len() {
            self.stream.fill(&mut self.block);
            self.used = 0;
        }
        let (words, _) = self.block[self.used..].as_chunks::<BYTES>();
        let words = &words[..most.min(words.len())];
        self.used += words.len() * BYTES;
        words
    }
}

fn number<const BYTES: usize>(word: &[u8; BYTES]) -> u64 {
    word.iter().rev().fold(0, |number, byte| number << 8 | u64::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::super::censored::tests::words;
    use super::*;

    #[test]
    fn cells_in_order() {
        let cells = Cells::of(&words("5 <5 1 <0.5 5"));
        assert_eq!((cells.value, cells.count), (vec![0.5, 1.0, 5.0, 5.0], vec![1, 1, 1, 2]));
        assert_eq!(cells.kind, [Kind::Below, Kind::Detect, Kind::Below, Kind::Detect]);
    }

    #[test]
    fn all_ways_of_drawing_have_the_same_mean_and_spread() {
        for count in [vec![1, 2, 3], vec![100, 200, 300], vec![10, 9000, 20_000], [vec![2; 3], vec![1; 90]].concat()] {
            let n: u32 = count.iter().sum();
            let mut resampler = Resampler::new(&count, Stream::new(1, 2));
            let (mut sums, mut squares, mut into) = ([0.0; 3], [0.0; 3], vec![0; count.len()]);
            for _ in 0..40_000 {
                resampler.draw(&mut into);
                assert_eq!(into.iter().sum::<u32>(), n);
                for i in 0..3 {
                    sums[i] += f64::from(into[i]);
                    squares[i] += f64::from(into[i]) * f64::from(into[i]);
                }
            }
            for i in 0..3 {
                let (n, p) = (f64::from(n), f64::from(count[i]) / f64::from(n));
                let mean = sums[i] / 40_000.0;
                let variance = squares[i] / 40_000.0 - mean * mean;
                assert!((mean / (n * p) - 1.0).abs() < 0.02, "{mean}");
                assert!((variance / (n * p * (1.0 - p)) - 1.0).abs() < 0.05, "{variance}");
            }
        }
    }
}
