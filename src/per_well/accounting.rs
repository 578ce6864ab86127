//! Where every row went: counted as the rows stream by, so that it costs nothing per row afterwards.
//!
//! A row that could stand for its well has no reason yet when it passes; how many of those stand and how many are repeats
//! is known only at the end, from the wells' values.

use crate::fate::Reason;
use crate::normalise::Block;
use std::collections::BTreeMap;

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

/// Counts that grow as blocks stream by.
#[derive(Debug, Default)]
pub(super) struct Counts {
    read: u64,
    results: [u64; Reason::ALL.len()],
    used: u64,
    listed: Vec<u32>,
    unlisted: BTreeMap<String, u32>,
}

impl Counts {
    /// Counts a block whose rows have every reason but `repeat`.
    pub(super) fn add(&mut self, block: &Block) {
        self.read += block.rows.len() as u64;
        for row in &block.rows {
            let Some(reason) = row.reason else { continue };
            if let Some(count) = self.results.get_mut(reason as usize) {
                *count += 1;
            }
            let bit = 1u32 << reason as u32;
            if row.well != u32::MAX {
                self.mark(row.well, bit);
            } else if reason != Reason::NoWell {
                self.mark_unlisted(block.text(row.well_text), bit);
            }
        }
    }

    /// Adds the counts of other blocks: sums, and the union of each well's reasons.
    pub(super) fn merge(&mut self, other: Counts) {
        self.read += other.read;
        self.used += other.used;
        self.results.iter_mut().zip(other.results).for_each(|(own, other)| *own += other);
        for (well, mask) in (0..).zip(other.listed).filter(|(_, mask)| *mask != 0) {
            self.mark(well, mask);
        }
        other.unlisted.iter().for_each(|(well, mask)| self.mark_unlisted(well, *mask));
    }

    fn mark(&mut self, well: u32, bit: u32) {
        let at = well as usize;
        if self.listed.len() <= at {
            self.listed.resize(at + 1, 0);
        }
        if let Some(mask) = self.listed.get_mut(at) {
            *mask |= bit;
        }
    }

    fn mark_unlisted(&mut self, well: &str, bit: u32) {
        match self.unlisted.get_mut(well) {
            Some(mask) => *mask |= bit,
            None => {
                self.unlisted.insert(well.to_owned(), bit);
            }
        }
    }

    /// A well and analyte of which this many results could stand: one does.
    pub(super) fn standing(&mut self, well: u32, results: u32) {
        self.used += 1;
        self.mark(well, USED);
        if results > 1 {
            if let Some(count) = self.results.get_mut(Reason::Repeat as usize) {
                *count += u64::from(results) - 1;
            }
            self.mark(well, 1 << Reason::Repeat as u32);
        }
    }

    /// The finished table.
    pub(super) fn finish(self) -> Accounting {
        let masks: Vec<u32> = self.listed.into_iter().chain(self.unlisted.into_values()).collect();
        let wells = |bits: u32| masks.iter().filter(|mask| **mask & bits != 0).count() as u64;
        let mut rows = vec![StageCount { stage: "read", reason: "", results: self.read, wells: wells(u32::MAX) }];
        rows.extend(Reason::ALL.iter().zip(self.results).map(|(reason, results)| StageCount {
            stage: reason.stage(),
            reason: reason.name(),
            results,
            wells: wells(1 << *reason as u32),
        }));
        rows.push(StageCount { stage: "used", reason: "", results: self.used, wells: wells(USED) });
        Accounting { rows }
    }
}

impl Accounting {
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

    /// Results that are no repeats.
    pub fn first_results(&self) -> u64 {
        self.read().saturating_sub(self.set_aside(Reason::Repeat) + self.set_aside(Reason::RepeatedLine))
    }

    /// Share set aside among results that are no repeats: what `quality.most_set_aside` speaks of.
    pub fn share_set_aside(&self) -> f64 {
        let first = self.first_results();
        if first == 0 { 0.0 } else { first.saturating_sub(self.used()) as f64 / first as f64 }
    }
}
