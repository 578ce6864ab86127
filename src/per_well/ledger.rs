//! Every source row of the run with its fate, in memory or, beyond a share of it, in a nameless file beside the output.
//!
//! Rows are only ever walked block by block, so where a block lies makes no difference to who walks it. Whether a row
//! stands for its well or is a repeat is known at the end only: one bit a row says so, and is looked at as a block is
//! handed out. Errors are those of the disk.

use super::spill::Spill;
use crate::fate::{Fate, Reason};
use crate::in_order::in_order;
use crate::normalise::{Block, Row};
use crate::problem::Problem;
use rayon::prelude::*;
use std::borrow::Cow;
use std::path::PathBuf;

/// What is to be kept of the rows once they are counted and reduced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Keep {
    /// Nothing: who asks wants the accounting.
    Nothing,
    /// All: this many rows in memory, the others in a file in the folder that nobody else can open.
    Rows {
        /// Rows in memory.
        in_memory: u64,
        /// Folder for the others.
        folder: PathBuf,
    },
}

/// All rows of the run, in file, line and column order.
#[derive(Debug)]
pub struct Ledger {
    keep: Keep,
    parts: Vec<Part>,
    /// Files of put away blocks: one, and those of ledgers appended.
    spills: Vec<Spill>,
    rows: u64,
    /// One bit a row: it stands for its well.
    standing: Vec<u64>,
}

/// The number of a block's first row, and the block.
pub type Numbered<'l> = (u64, Cow<'l, Block>);

/// A block and the number of its first row.
#[derive(Debug)]
struct Part {
    start: u64,
    block: Place,
}

#[derive(Debug)]
enum Place {
    Memory(Box<Block>),
    /// Which of the files, and where in it.
    File(usize, super::spill::Stretch),
}

impl Ledger {
    /// An empty ledger.
    pub fn new(keep: Keep) -> Ledger {
        Ledger { keep, parts: Vec::new(), spills: Vec::new(), rows: 0, standing: Vec::new() }
    }

    /// Adds a block.
    ///
    /// # Errors
    /// A folder that cannot be written, or a full disk.
    pub fn add(&mut self, mut block: Block) -> Result<(), Problem> {
        let start = self.rows;
        self.rows += block.rows.len() as u64;
        let Keep::Rows { in_memory, folder } = &self.keep else { return Ok(()) };
        let block = if self.rows <= *in_memory {
            block.shrink();
            Place::Memory(Box::new(block))
        } else {
            if self.spills.is_empty() {
                self.spills.push(Spill::new(folder)?);
            }
            match self.spills.first_mut() {
                Some(spill) => Place::File(0, spill.put(&block)?),
                None => Place::Memory(Box::new(block)),
            }
        };
        self.parts.push(Part { start, block });
        Ok(())
    }

    /// Adds the rows of another ledger behind its own.
    pub(super) fn append(&mut self, other: Ledger) {
        // `add` goes on with the first file, whichever ledger made it: a file knows its own end.
        let (before, behind) = (self.spills.len(), self.rows);
        self.spills.extend(other.spills);
        self.rows += other.rows;
        self.parts.extend(other.parts.into_iter().map(|Part { start, block }| {
            let block = match block {
                Place::File(file, stretch) => Place::File(file + before, stretch),
                memory => memory,
            };
            Part { start: start + behind, block }
        }));
    }

    /// How many rows were added.
    pub fn len(&self) -> u64 {
        self.rows
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.rows == 0
    }

    /// Says which rows stand for their wells: every other row without a reason is a repeat.
    pub(super) fn set_standing(&mut self, rows: impl Iterator<Item = u64>) {
        self.standing = vec![0; usize::try_from(self.rows.div_ceil(64)).unwrap_or(0)];
        for row in rows {
            if let Some(word) = self.standing.get_mut((row / 64) as usize) {
                *word |= 1 << (row % 64);
            }
        }
        for Part { start, block } in &mut self.parts {
            if let Place::Memory(block) = block {
                set_repeats(&self.standing, *start, block);
            }
        }
    }

    /// Works on every block, on all threads; gives what came of them in order. The work is told the number of the
    /// block's first row.
    ///
    /// # Errors
    /// A disk that fails.
    pub fn map<T: Send>(&self, work: impl Fn(u64, &Block) -> T + Sync) -> Result<Vec<T>, Problem> {
        self.parts.par_iter().map(|part| Ok(work(part.start, &*self.block(part)?))).collect()
    }

    /// Works with `map` on groups of whole blocks that hold at least `group` rows, a few groups at a time on all threads,
    /// and hands what came of them to `take` in order: never is more in memory than those few.
    ///
    /// # Errors
    /// A disk that fails, and what `take` says.
    pub fn in_order<T: Send>(
        &self,
        group: u64,
        map: impl Fn(&[Numbered<'_>]) -> T + Sync,
        take: impl FnMut(T) -> Result<(), Problem> + Send,
    ) -> Result<(), Problem> {
        let one = |parts: &&[Part]| {
            let blocks = parts.iter().map(|part| Ok((part.start, self.block(part)?)));
            blocks.collect::<Result<Vec<Numbered<'_>>, Problem>>().map(|blocks| map(&blocks))
        };
        in_order(&self.groups(group), one, take)
    }

    fn groups(&self, least: u64) -> Vec<&[Part]> {
        let mut groups = Vec::new();
        let mut from = 0;
        let start = |at: usize| self.parts.get(at).map_or(self.rows, |part| part.start);
        for at in 0..self.parts.len() {
            if start(at + 1) - start(from) >= least {
                groups.extend(self.parts.get(from..=at));
                from = at + 1;
            }
        }
        groups.extend(self.parts.get(from..).filter(|rest| !rest.is_empty()));
        groups
    }

    fn block<'l>(&'l self, part: &'l Part) -> Result<Cow<'l, Block>, Problem> {
        match &part.block {
            Place::Memory(block) => Ok(Cow::Borrowed(block)),
            Place::File(file, stretch) => {
                let spill = self.spills.get(*file).ok_or_else(|| super::spill::lost(stretch))?;
                let mut block = spill.get(stretch)?;
                set_repeats(&self.standing, part.start, &mut block);
                Ok(Cow::Owned(block))
            }
        }
    }
}

fn set_repeats(standing: &[u64], start: u64, block: &mut Block) {
    let stands = |number: u64| standing.get((number / 64) as usize).is_some_and(|word| word >> (number % 64) & 1 == 1);
    for (row, number) in block.rows.iter_mut().zip(start..) {
        if row.reason.is_none() && !stands(number) {
            row.reason = Some(Reason::Repeat);
        }
    }
}

/// The fate of a row.
pub fn fate(row: &Row) -> Fate {
    row.reason.map_or(Fate::Used, Fate::SetAside)
}
