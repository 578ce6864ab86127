//! Lines that are not read as they seem to be meant: counted, with the first three of each file.
//!
//! Some have more cells than the header. Others hold line ends behind which further records seem to begin.
//!
//! Blocks are walked on many threads, in any order; the count and the three smallest line numbers are the same
//! whatever the order.

use crate::problem::Warning;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

/// How many lines are shown.
const SHOWN: usize = 3;

/// What is told of lines with more cells than the header.
pub(super) const LONG: &str = "lines have more cells than the header; what stands beyond it was not read";
/// What is told of records in which others seem to stand.
pub(super) const BURIED: &str = "what looks like further lines was read as part of one: a quote opens there and closes lines further down, or a carriage \
     return alone ends lines";

/// Lines met of a kind.
#[derive(Clone, Debug, Default)]
pub(super) struct Lines {
    count: u64,
    first: BTreeSet<u64>,
}

/// The same for a whole file, filled from many threads.
#[derive(Debug, Default)]
pub(super) struct Ragged(Mutex<Lines>);

impl Lines {
    /// Counts a line.
    pub(super) fn note(&mut self, line: u64) {
        self.count += 1;
        self.first.insert(line);
        if self.first.len() > SHOWN {
            self.first.pop_last();
        }
    }
}

impl Ragged {
    /// Adds a block's lines.
    pub(super) fn add(&self, lines: &Lines) {
        if lines.count == 0 {
            return;
        }
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.count += lines.count;
        all.first.extend(&lines.first);
        while all.first.len() > SHOWN {
            all.first.pop_last();
        }
    }

    /// What to tell of a file, if there is anything.
    pub(super) fn warning(&self, path: &Path, told: &str) -> Option<Warning> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        (all.count > 0).then(|| Warning {
            subject: path.to_string_lossy().into_owned(),
            text: told.to_owned(),
            count: all.count,
            examples: all.first.iter().map(|line| format!("line {line}")).collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_three_are_kept_in_any_order() {
        let ragged = Ragged::default();
        for block in [[90u64, 80], [20, 30], [50, 10]] {
            let mut lines = Lines::default();
            block.iter().for_each(|line| lines.note(*line));
            ragged.add(&lines);
        }
        let warning = ragged.warning(Path::new("x.csv"), LONG).unwrap();
        assert_eq!((warning.count, warning.examples.join(" ")), (6, "line 10 line 20 line 30".to_owned()));
    }
}
