//! Lines that have more cells than the header: counted, with the first three of each file.
//!
//! Blocks are walked on many threads, in any order; the count and the three smallest line numbers are the same
//! whatever the order.

use crate::problem::Warning;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

/// How many lines are shown.
const SHOWN: usize = 3;

/// Lines met that were too long.
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
    pub(super) fn warning(&self, path: &Path) -> Option<Warning> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        (all.count > 0).then(|| Warning {
            subject: path.to_string_lossy().into_owned(),
            text: "lines have more cells than the header; what stands beyond it was not read".to_owned(),
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
        let warning = ragged.warning(Path::new("x.csv")).unwrap();
        assert_eq!((warning.count, warning.examples.join(" ")), (6, "line 10 line 20 line 30".to_owned()));
    }
}
