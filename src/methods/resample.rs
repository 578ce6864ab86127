//! Resampling with replacement: counts of a group's cells into counts of a resample, without
//! touching or sorting a value.
//!
//! A cell is all detects, or all non-detects, at one value. A reader would question the two ways of
//! drawing: one result after the other, or cell by cell as binomial shares of what is left. Both
//! give exactly the multinomial distribution; the second is faster where there are many results a
//! cell.

use super::censored::Censored;
use super::random::Stream;

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
const MANY_A_CELL: usize = 16;

/// Draws resamples of the size of the group.
#[derive(Clone, Debug)]
pub struct Resampler {
    stream: Stream,
    n: u32,
    /// Cell of each result; empty where drawing goes cell by cell.
    cell_of: Vec<u32>,
    count: Vec<u32>,
}

impl Resampler {
    /// For cells with these counts, on the given stream.
    pub fn new(count: &[u32], stream: Stream) -> Self {
        let n = count.iter().sum();
        let mut cell_of = Vec::new();
        if (n as usize) < MANY_A_CELL * count.len() {
            for (cell, results) in (0u32..).zip(count) {
                cell_of.extend(std::iter::repeat_n(cell, *results as usize));
            }
        }
        Resampler { stream, n, cell_of, count: count.to_vec() }
    }

    /// Overwrites `into`, which has one place a cell, with the counts of the next resample.
    pub fn draw(&mut self, into: &mut [u32]) {
        into.fill(0);
        if self.cell_of.is_empty() { self.draw_cells(into) } else { self.draw_results(into) }
    }

    fn draw_results(&mut self, into: &mut [u32]) {
        for _ in 0..self.n {
            let result = self.stream.below(self.n) as usize;
            if let Some(place) = self.cell_of.get(result).and_then(|cell| into.get_mut(*cell as usize)) {
                *place += 1;
            }
        }
    }

    fn draw_cells(&mut self, into: &mut [u32]) {
        let (mut left, mut rest) = (self.n, self.n);
        for (place, count) in into.iter_mut().zip(&self.count) {
            if left == 0 {
                break;
            }
            *place = self.stream.binomial(left, f64::from(*count) / f64::from(rest));
            left -= *place;
            rest -= count;
        }
    }
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
    fn both_ways_of_drawing_have_the_same_mean_and_spread() {
        for count in [vec![1, 2, 3], vec![100, 200, 300]] {
            let n: u32 = count.iter().sum();
            let mut resampler = Resampler::new(&count, Stream::new(1, 2));
            let (mut sums, mut squares, mut into) = ([0.0; 3], [0.0; 3], vec![0; 3]);
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
