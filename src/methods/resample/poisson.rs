//! Means into Poisson numbers drawn from tables: one random word a number.
//!
//! A reader would question the tables: Walker's aliases, each column split between its own number
//! and one other, which give each number its chance to one part in 2^32. A resampling draws each
//! cell thousands of times, and cells of the same mean share a table.

use super::{Random, number};
use std::collections::BTreeMap;

/// A column of a table: its own number where the rest of the word is below `own`, `other` otherwise;
/// both counted from the table's lowest number.
#[derive(Clone, Copy, Debug)]
struct Column {
    own: u32,
    other: u32,
}

/// Where a table lies among all columns, 2^`bits` of them, and its lowest number.
#[derive(Clone, Copy, Debug)]
struct Table {
    start: u32,
    bits: u32,
    lowest: u32,
}

/// One Poisson distribution a cell.
#[derive(Clone, Debug)]
pub(super) struct Poisson {
    columns: Vec<Column>,
    table_of: Vec<Table>,
}

impl Poisson {
    pub(super) fn of(means: impl Iterator<Item = f64>) -> Self {
        let mut columns = Vec::new();
        let mut known: BTreeMap<u64, Table> = BTreeMap::new();
        let table_of = means.map(|mean| *known.entry(mean.to_bits()).or_insert_with(|| table(mean, &mut columns)));
        let table_of = table_of.collect();
        Poisson { columns, table_of }
    }

    /// Overwrites `into`, which has one place a cell, and gives the sum.
    pub(super) fn draw(&self, random: &mut Random, into: &mut [u32]) -> u32 {
        let (mut sum, mut done) = (0, 0);
        while done < into.len() {
            let words = random.next::<4>(into.len() - done);
            let cells = into[done..].iter_mut().zip(&self.table_of[done..]);
            for ((place, table), word) in cells.zip(words) {
                *place = self.at(*table, number(word));
                sum += *place;
            }
            done += words.len();
        }
        sum
    }

    fn at(&self, table: Table, word: u64) -> u32 {
        let shifted = word << table.bits;
        let (place, rest) = ((shifted >> 32) as u32, shifted as u32);
        let column = self.columns[(table.start + place) as usize];
        table.lowest + if rest < column.own { place } else { column.other }
    }
}

/// Eight standard deviations, and some more where the distribution is skew: what lies beyond has a
/// chance under 1e-13.
fn table(mean: f64, columns: &mut Vec<Column>) -> Table {
    let reach = 8.0 * mean.sqrt();
    let lowest = (mean - reach).floor().max(0.0);
    let size = ((mean + reach).ceil() + 12.0 - lowest) as usize;
    let size = size.next_power_of_two();
    let table = Table { start: columns.len() as u32, bits: size.ilog2(), lowest: lowest as u32 };
    columns.extend(aliases(&chances(mean, lowest, size)));
    table
}

/// Chances of the numbers from `lowest` on, from the most likely one outwards.
fn chances(mean: f64, lowest: f64, size: usize) -> Vec<f64> {
    let top = (mean - lowest) as usize;
    let mut chances = vec![1.0; size];
    for i in top + 1..size {
        chances[i] = chances[i - 1] * mean / (lowest + i as f64);
    }
    for i in (0..top).rev() {
        chances[i] = chances[i + 1] * (lowest + i as f64 + 1.0) / mean;
    }
    let sum: f64 = chances.iter().sum();
    chances.iter_mut().for_each(|chance| *chance /= sum);
    chances
}

/// Vose 1991 (from memory): what a column lacks is filled up by one that has too much.
fn aliases(chances: &[f64]) -> Vec<Column> {
    let size = chances.len() as f64;
    let whole = 4_294_967_296.0;
    let mut filled: Vec<f64> = chances.iter().map(|chance| chance * size).collect();
    let mut columns: Vec<Column> = (0..chances.len() as u32).map(|i| Column { own: u32::MAX, other: i }).collect();
    let (mut short, mut long): (Vec<usize>, Vec<usize>) = (0..chances.len()).partition(|i| filled[*i] < 1.0);
    while let (Some(i), Some(j)) = (short.pop(), long.pop()) {
        columns[i] = Column { own: (filled[i] * whole) as u32, other: j as u32 };
        filled[j] -= 1.0 - filled[i];
        if filled[j] < 1.0 { short.push(j) } else { long.push(j) }
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_hold_the_exact_chances() {
        for mean in [0.2, 1.0, 7.5, 140.0, 30_000.0] {
            let mut columns = Vec::new();
            let table = table(mean, &mut columns);
            let mut got = vec![0.0; columns.len()];
            for (i, column) in columns.iter().enumerate() {
                let own = f64::from(column.own) / 4_294_967_296.0 / columns.len() as f64;
                got[i] += own;
                got[column.other as usize] += 1.0 / columns.len() as f64 - own;
            }
            for (i, chance) in got.iter().enumerate() {
                let k = f64::from(table.lowest) + i as f64;
                let exact = libm::exp(k * libm::log(mean) - mean - libm::lgamma(k + 1.0));
                assert!((chance - exact).abs() < 1e-8 * exact + 1e-9, "{mean} {k}: {chance} {exact}");
            }
        }
    }
}
