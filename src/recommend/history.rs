//! What every well was tested for and when, from all results that count, not only from those that stand for a well.
//!
//! One walk over the ledger for everything that hangs on the order of a well's samples: retests and confirmations. The results that
//! count are those behind the survey's values, so there is a track for each value and all room is taken once; a tree a well took
//! ten times as much.

use super::follow_up::Limits;
use crate::dictionary::Benchmark;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, WellId};
use crate::methods::exceedance::Verdict;
use crate::normalise::Row;
use crate::per_well::{Numbered, Survey};
use crate::plan::SampleKind;
use crate::problem::Problem;
use crate::summarise::judge;

/// First and last of some days; of none, the first stands behind the last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    first: Day,
    last: Day,
}

impl Span {
    const NONE: Span = Span { first: Day(i32::MAX), last: Day(i32::MIN) };

    fn on(day: Option<Day>) -> Span {
        day.map_or(Span::NONE, |day| Span { first: day, last: day })
    }

    fn with(self, other: Span) -> Span {
        Span { first: self.first.min(other.first), last: self.last.max(other.last) }
    }

    /// First and last day.
    pub fn days(self) -> Option<(Day, Day)> {
        (self.first <= self.last).then_some((self.first, self.last))
    }
}

/// The days of one well's results of one analyte.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track {
    /// Analyte.
    pub analyte: AnalyteId,
    /// Newest result.
    pub newest: Day,
    /// Days on which it was found.
    pub found: Span,
    /// Days on which it was above a health limit.
    pub above: Span,
    /// Samples taken after a repair.
    pub after_repair: Span,
    /// Samples taken because of a noticed change.
    pub noticed: Span,
}

/// Tracks of all wells.
#[derive(Clone, Debug, Default)]
pub struct History {
    /// By well and then analyte.
    tracks: Vec<Track>,
    /// Where each well's tracks start; one more than there are wells.
    starts: Vec<usize>,
}

impl History {
    /// Walks the ledger once.
    ///
    /// # Errors
    /// A disk that fails.
    pub fn of(wells: usize, survey: &Survey, limits: &Limits<'_>) -> Result<History, Problem> {
        let mut history = History::empty(wells, survey);
        let starts = std::mem::take(&mut history.starts);
        let tracks = &mut history.tracks;
        let keys: Vec<AnalyteId> = tracks.iter().map(|track| track.analyte).collect();
        let place = |row: &Row| {
            let (from, to) = bounds(&starts, WellId(row.well))?;
            let at = keys.get(from..to)?.iter().position(|analyte| Some(*analyte) == row.analyte)?;
            Some(from + at)
        };
        let of_rows = |rows: &[Row]| -> Vec<(usize, Spans)> {
            rows.iter()
                .filter_map(|row| Some((row, of_row(row, limits)?)))
                .filter_map(|(r, s)| Some((place(r)?, s)))
                .collect()
        };
        survey.ledger.in_order(
            1,
            |blocks: &[Numbered<'_>]| blocks.iter().map(|(_, block)| of_rows(&block.rows)).collect::<Vec<_>>(),
            |parts| {
                for (at, spans) in parts.into_iter().flatten() {
                    tracks.get_mut(at).into_iter().for_each(|track| track.add(spans));
                }
                Ok(())
            },
        )?;
        history.starts = starts;
        Ok(history)
    }

    /// A track for every value, sorted by well; values come by analyte, so a well's tracks do too.
    fn empty(wells: usize, survey: &Survey) -> History {
        let mut starts = vec![0usize; wells + 1];
        for value in &survey.values {
            starts.get_mut(value.well.index() + 1).into_iter().for_each(|count| *count += 1);
        }
        let mut before = 0;
        for start in &mut starts {
            before += *start;
            *start = before;
        }
        let none = Span::NONE;
        let blank = Track {
            analyte: AnalyteId(0),
            newest: Day(0),
            found: none,
            above: none,
            after_repair: none,
            noticed: none,
        };
        let mut tracks = vec![blank; starts.last().copied().unwrap_or(0)];
        let mut next = starts.clone();
        for value in &survey.values {
            let Some(at) = next.get_mut(value.well.index()) else { continue };
            if let Some(track) = tracks.get_mut(*at) {
                *track = Track { analyte: value.analyte, newest: value.newest, ..blank };
            }
            *at += 1;
        }
        History { tracks, starts }
    }

    /// A well's tracks, by analyte.
    pub fn of_well(&self, well: WellId) -> &[Track] {
        bounds(&self.starts, well).and_then(|(from, to)| self.tracks.get(from..to)).unwrap_or_default()
    }
}

fn bounds(starts: &[usize], well: WellId) -> Option<(usize, usize)> {
    starts.get(well.index()).copied().zip(starts.get(well.index() + 1).copied())
}

/// What a result adds to its track; its day is known there already.
#[derive(Clone, Copy)]
struct Spans {
    found: Span,
    above: Span,
    after_repair: Span,
    noticed: Span,
}

/// `None` where the result does not count, or adds nothing.
fn of_row(row: &Row, limits: &Limits<'_>) -> Option<Spans> {
    let counts = matches!(row.reason, None | Some(Reason::Repeat));
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let over = |limit: &&Benchmark| judge(interval, limit.kind) == Verdict::Exceeding;
    let over = limits.get(&analyte).is_some_and(|limits| limits.iter().any(over));
    let (found, repaired) = (interval.detected(), row.kind == SampleKind::AfterRepair);
    let noticed = row.kind == SampleKind::NoticedChange;
    let on = |is: bool| Span::on(is.then_some(day));
    (counts && (found || over || repaired || noticed)).then(|| Spans {
        found: on(found),
        above: on(over),
        after_repair: on(repaired),
        noticed: on(noticed),
    })
}

impl Track {
    fn add(&mut self, other: Spans) {
        self.found = self.found.with(other.found);
        self.above = self.above.with(other.above);
        self.after_repair = self.after_repair.with(other.after_repair);
        self.noticed = self.noticed.with(other.noticed);
    }
}
