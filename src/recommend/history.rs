//! What every well was tested for and when, from all results that count, not only from those that stand for a well.
//!
//! Everything that hangs on the order of a well's samples: retests and confirmations. The results that count are those behind the
//! survey's values, so there is a track for each value and all room is taken once; a tree a well took ten times as much.

use crate::ids::{AnalyteId, Day, WellId};
use crate::per_well::Survey;

/// First and last of some days; of none, the first stands behind the last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    first: Day,
    last: Day,
}

impl Span {
    const NONE: Span = Span { first: Day(i32::MAX), last: Day(i32::MIN) };

    fn with(self, day: Day) -> Span {
        Span { first: self.first.min(day), last: self.last.max(day) }
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
    pub(super) tracks: Vec<Track>,
    pub(super) places: Places,
}

/// Where each well's tracks are.
#[derive(Clone, Debug, Default)]
pub struct Places {
    /// Where each well's tracks start; one more than there are wells.
    starts: Vec<u32>,
    /// The tracks' analytes alone, since they are looked through for every result.
    analytes: Vec<AnalyteId>,
}

impl History {
    /// A track for every value, sorted by well; values come by analyte, so a well's tracks do too.
    pub(super) fn new(wells: usize, survey: &Survey) -> History {
        let mut starts = vec![0u32; wells + 1];
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
        let mut tracks = vec![blank; starts.last().map_or(0, |all| *all as usize)];
        let mut next = starts.clone();
        for value in &survey.values {
            let Some(at) = next.get_mut(value.well.index()) else { continue };
            if let Some(track) = tracks.get_mut(*at as usize) {
                *track = Track { analyte: value.analyte, newest: value.newest, ..blank };
            }
            *at += 1;
        }
        let analytes = tracks.iter().map(|track| track.analyte).collect();
        History { tracks, places: Places { starts, analytes } }
    }

    /// A well's tracks, by analyte.
    pub fn of_well(&self, well: WellId) -> &[Track] {
        self.places.of_well(well.0).and_then(|(from, to)| self.tracks.get(from..to)).unwrap_or_default()
    }
}

impl Places {
    /// The place of the track of a well, by its number in the list, and an analyte.
    pub(super) fn find(&self, well: u32, analyte: AnalyteId) -> Option<usize> {
        let (from, to) = self.of_well(well)?;
        let at = self.analytes.get(from..to)?.iter().position(|own| *own == analyte)?;
        Some(from + at)
    }

    fn of_well(&self, well: u32) -> Option<(usize, usize)> {
        let at = well as usize;
        Some((*self.starts.get(at)? as usize, *self.starts.get(at + 1)? as usize))
    }
}

/// What a result adds to its track; the newest day is known there already.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noted {
    pub(super) track: usize,
    pub(super) day: Day,
    pub(super) found: bool,
    pub(super) above: bool,
    pub(super) repaired: bool,
    pub(super) noticed: bool,
}

impl Track {
    /// Adds what a result says.
    pub(super) fn note(&mut self, noted: Noted) {
        for (is, span) in [
            (noted.found, &mut self.found),
            (noted.above, &mut self.above),
            (noted.repaired, &mut self.after_repair),
            (noted.noticed, &mut self.noticed),
        ] {
            if is {
                *span = span.with(noted.day);
            }
        }
    }
}
