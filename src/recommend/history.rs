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
    pub(super) tracks: Tracks,
    pub(super) places: Places,
}

/// By well and then analyte, what is to be said of every track; and of the few that have it what most have not, which would take
/// twice the room of all else.
#[derive(Clone, Debug, Default)]
pub(super) struct Tracks {
    all: Vec<Kept>,
    rare: Vec<Rare>,
}

#[derive(Clone, Copy, Debug)]
struct Kept {
    newest: Day,
    found: Span,
    /// Place in `rare` plus one, or 0.
    rare: u32,
}

#[derive(Clone, Copy, Debug)]
struct Rare {
    above: Span,
    after_repair: Span,
    noticed: Span,
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
        let blank = Kept { newest: Day(0), found: Span::NONE, rare: 0 };
        let mut all = vec![blank; starts.last().map_or(0, |all| *all as usize)];
        let mut analytes = vec![AnalyteId(0); all.len()];
        let mut next = starts.clone();
        for value in &survey.values {
            let Some(at) = next.get_mut(value.well.index()) else { continue };
            if let (Some(kept), Some(analyte)) = (all.get_mut(*at as usize), analytes.get_mut(*at as usize)) {
                kept.newest = value.newest;
                *analyte = value.analyte;
            }
            *at += 1;
        }
        History { tracks: Tracks { all, rare: Vec::new() }, places: Places { starts, analytes } }
    }

    /// A well's tracks, by analyte.
    pub fn of_well(&self, well: WellId) -> Vec<Track> {
        let (from, to) = self.places.of_well(well.0).unwrap_or_default();
        let analytes = self.places.analytes.get(from..to).unwrap_or_default();
        analytes.iter().zip(from..).filter_map(|(analyte, at)| self.tracks.track(*analyte, at)).collect()
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

impl Tracks {
    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    fn track(&self, analyte: AnalyteId, at: usize) -> Option<Track> {
        let kept = self.all.get(at)?;
        let Rare { above, after_repair, noticed } = self.rare_of(kept.rare).copied().unwrap_or(Rare::NONE);
        Some(Track { analyte, newest: kept.newest, found: kept.found, above, after_repair, noticed })
    }

    fn rare_of(&self, place: u32) -> Option<&Rare> {
        self.rare.get(place.checked_sub(1)? as usize)
    }

    /// Adds what a result says to its track.
    pub(super) fn note(&mut self, noted: Noted) {
        let Some(kept) = self.all.get_mut(noted.track) else { return };
        if noted.found {
            kept.found = kept.found.with(noted.day);
        }
        if !(noted.above || noted.repaired || noted.noticed) {
            return;
        }
        if kept.rare == 0 {
            self.rare.push(Rare::NONE);
            kept.rare = u32::try_from(self.rare.len()).unwrap_or(0);
        }
        let Some(rare) = (kept.rare as usize).checked_sub(1).and_then(|at| self.rare.get_mut(at)) else { return };
        for (is, span) in [
            (noted.above, &mut rare.above),
            (noted.repaired, &mut rare.after_repair),
            (noted.noticed, &mut rare.noticed),
        ] {
            if is {
                *span = span.with(noted.day);
            }
        }
    }
}

impl Rare {
    const NONE: Rare = Rare { above: Span::NONE, after_repair: Span::NONE, noticed: Span::NONE };
}
