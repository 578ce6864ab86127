//! Every source row of the run with its fate, and the accounting that adds up to the row.

use crate::fate::{Fate, Reason};
use crate::normalise::{Block, Row};
use std::collections::BTreeMap;

/// All rows of the run, in file, line and column order.
#[derive(Debug, Default)]
pub struct Ledger {
    blocks: Vec<Block>,
    /// Number of each block's first row.
    starts: Vec<u64>,
    rows: u64,
}

impl Ledger {
    /// Adds a block; gives the number of its first row.
    pub fn add(&mut self, block: Block) -> u64 {
        let start = self.rows;
        self.rows += block.rows.len() as u64;
        self.starts.push(start);
        self.blocks.push(block);
        start
    }

    /// How many rows.
    pub fn len(&self) -> u64 {
        self.rows
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.rows == 0
    }

    /// The blocks, in order.
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The block of a row and the row.
    pub fn row(&self, number: u64) -> Option<(&Block, &Row)> {
        let at = self.starts.partition_point(|start| *start <= number).checked_sub(1)?;
        let block = self.blocks.get(at)?;
        let offset = number.checked_sub(*self.starts.get(at)?)?;
        Some((block, block.rows.get(usize::try_from(offset).ok()?)?))
    }

    /// Every row that would stand but is not among the sorted winners becomes a repeat.
    pub(super) fn set_repeats(&mut self, winners: &[u64]) {
        let mut next = winners.iter().copied().peekable();
        let rows = self.blocks.iter_mut().flat_map(|block| block.rows.iter_mut());
        for (number, row) in (0u64..).zip(rows) {
            if next.peek() == Some(&number) {
                next.next();
            } else if row.reason.is_none() {
                row.reason = Some(Reason::Repeat);
            }
        }
    }
}

/// The fate of a row.
pub fn fate(row: &Row) -> Fate {
    row.reason.map_or(Fate::Used, Fate::SetAside)
}

/// Results and wells of one stage and reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StageCount {
    /// `read`, a stage's name, or `used`.
    pub stage: &'static str,
    /// Reason; empty for `read` and `used`.
    pub reason: &'static str,
    /// Results.
    pub results: u64,
    /// Different wells among them; a result without a well id has none.
    pub wells: u64,
}

/// Where every row went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Accounting {
    /// `read` first, then every reason in order, then `used`.
    pub rows: Vec<StageCount>,
}

/// Bit of the used rows in a well's mask; a reason's bit is its place in the order.
const USED: u32 = 1 << 24;

impl Accounting {
    /// Counts a finished ledger.
    pub fn of(ledger: &Ledger, wells: usize) -> Accounting {
        let mut results = [0u64; Reason::ALL.len()];
        let mut used = 0u64;
        let mut listed = vec![0u32; wells];
        let mut unlisted: BTreeMap<&str, u32> = BTreeMap::new();
        for block in ledger.blocks() {
            for row in &block.rows {
                let bit = match row.reason {
                    Some(reason) => {
                        if let Some(count) = results.get_mut(reason as usize) {
                            *count += 1;
                        }
                        1u32 << reason as u32
                    }
                    None => {
                        used += 1;
                        USED
                    }
                };
                match listed.get_mut(row.well as usize) {
                    Some(mask) => *mask |= bit,
                    None if row.reason != Some(Reason::NoWell) => {
                        *unlisted.entry(block.text(row.well_text)).or_default() |= bit;
                    }
                    None => {}
                }
            }
        }
        let masks: Vec<u32> = listed.into_iter().chain(unlisted.into_values()).collect();
        Accounting::from_counts(ledger.len(), &results, used, &masks)
    }

    fn from_counts(read: u64, results: &[u64], used: u64, masks: &[u32]) -> Accounting {
        let wells = |bits: u32| masks.iter().filter(|mask| **mask & bits != 0).count() as u64;
        let mut rows = vec![StageCount { stage: "read", reason: "", results: read, wells: wells(u32::MAX) }];
        rows.extend(Reason::ALL.iter().zip(results).map(|(reason, results)| StageCount {
            stage: reason.stage(),
            reason: reason.name(),
            results: *results,
            wells: wells(1 << *reason as u32),
        }));
        rows.push(StageCount { stage: "used", reason: "", results: used, wells: wells(USED) });
        Accounting { rows }
    }

    /// Results read.
    pub fn read(&self) -> u64 {
        self.rows.first().map_or(0, |row| row.results)
    }

    /// Results used.
    pub fn used(&self) -> u64 {
        self.rows.last().map_or(0, |row| row.results)
    }

    /// Results set aside for a reason.
    pub fn set_aside(&self, reason: Reason) -> u64 {
        self.rows.iter().find(|row| row.reason == reason.name()).map_or(0, |row| row.results)
    }

    /// Share set aside among results that are not repeats: what `quality.most_set_aside` speaks of.
    pub fn share_set_aside(&self) -> f64 {
        let again = self.set_aside(Reason::Repeat) + self.set_aside(Reason::RepeatedLine);
        let first = self.read().saturating_sub(again);
        if first == 0 { 0.0 } else { first.saturating_sub(self.used()) as f64 / first as f64 }
    }
}
