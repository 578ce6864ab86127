//! What every well was tested for and when, from all results that count, not only from those that stand for a well.
//!
//! One walk over the ledger for everything that hangs on the order of a well's samples: retests and confirmations.

use super::follow_up::Limits;
use crate::dictionary::Benchmark;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day};
use crate::methods::exceedance::Verdict;
use crate::normalise::{Block, Row};
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::SampleKind;
use crate::problem::Problem;
use crate::summarise::judge;
use std::collections::BTreeMap;

/// The days of one well's results of one analyte.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track {
    /// Newest result.
    pub newest: Day,
    /// First and last day on which it was found.
    pub found: Option<(Day, Day)>,
    /// First and last day on which it was above a health limit.
    pub above: Option<(Day, Day)>,
    /// Newest sample taken after a repair.
    pub after_repair: Option<Day>,
}

/// Tracks of a well, by analyte.
pub type OfWell = BTreeMap<AnalyteId, Track>;

/// By well, in the order of the list.
///
/// # Errors
/// A disk that fails.
pub fn of_wells(wells: &Wells, survey: &Survey, limits: &Limits<'_>) -> Result<Vec<OfWell>, Problem> {
    let mut all = vec![OfWell::new(); wells.len()];
    let of_block = |block: &Block| block.rows.iter().filter_map(|row| of_row(row, limits)).collect::<Vec<_>>();
    survey.ledger.in_order(
        1,
        |blocks| blocks.iter().flat_map(|(_, block)| of_block(block)).collect::<Vec<_>>(),
        |found| {
            for (well, analyte, track) in found {
                if let Some(tests) = all.get_mut(well as usize) {
                    tests.entry(analyte).and_modify(|known| known.add(track)).or_insert(track);
                }
            }
            Ok(())
        },
    )?;
    Ok(all)
}

fn of_row(row: &Row, limits: &Limits<'_>) -> Option<(u32, AnalyteId, Track)> {
    let counts = matches!(row.reason, None | Some(Reason::Repeat));
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let above = |limit: &&Benchmark| judge(interval, limit.kind) == Verdict::Exceeding;
    let above = limits.get(&analyte).is_some_and(|limits| limits.iter().any(above));
    let track = Track {
        newest: day,
        found: interval.detected().then_some((day, day)),
        above: above.then_some((day, day)),
        after_repair: (row.kind == SampleKind::AfterRepair).then_some(day),
    };
    counts.then_some((row.well, analyte, track))
}

impl Track {
    fn add(&mut self, other: Track) {
        self.newest = self.newest.max(other.newest);
        self.found = wider(self.found, other.found);
        self.above = wider(self.above, other.above);
        self.after_repair = self.after_repair.max(other.after_repair);
    }
}

fn wider(a: Option<(Day, Day)>, b: Option<(Day, Day)>) -> Option<(Day, Day)> {
    match (a, b) {
        (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
        (a, b) => a.or(b),
    }
}
