//! What is above a health limit, well by well, and each such well's newest result, above a limit or not.

use super::follow_up::{Called, Entry};
use super::history::History;
use crate::fate::Reason;
use crate::ids::AnalyteId;
use crate::normalise::{Block, Row};
use crate::per_well::{Candidate, Survey, WellValue, better};
use crate::plan::Choose;
use crate::problem::Problem;
use std::collections::BTreeMap;

/// A well and an analyte.
type Key = (Called, AnalyteId);

/// No entry.
const NONE: u32 = u32::MAX;

/// What is above a limit, as one walk over all rows finds it: an entry a well and analyte.
#[derive(Debug)]
pub(super) struct Over {
    /// Place of the entry of each track of the history.
    of_track: Vec<u32>,
    /// Of wells with a track.
    entries: Vec<Entry>,
    /// Of wells without a track, those that no area holds or no list names: the newest result, and the newest above a limit.
    elsewhere: BTreeMap<Key, (Candidate, Option<Candidate>)>,
    unlisted: BTreeMap<String, u32>,
}

/// A result above a limit of a well with a track.
#[derive(Debug)]
pub(super) struct Exceeding {
    pub(super) track: usize,
    /// Place in the well list.
    pub(super) well: u32,
    pub(super) analyte: AnalyteId,
    pub(super) result: Candidate,
}

/// A result of a well without a track.
#[derive(Debug)]
pub(super) struct Elsewhere {
    /// Place in the well list.
    pub(super) well: u32,
    /// Its id as written, where no list names it.
    pub(super) name: Option<String>,
    pub(super) analyte: AnalyteId,
    pub(super) result: Candidate,
    /// Whether it is above a limit.
    pub(super) above: bool,
}

impl Over {
    /// None yet.
    pub(super) fn new(tracks: usize) -> Over {
        Over {
            of_track: vec![NONE; tracks],
            entries: Vec::new(),
            elsewhere: BTreeMap::new(),
            unlisted: BTreeMap::new(),
        }
    }

    /// Adds a result; the newest one above a limit stands.
    pub(super) fn add(&mut self, new: Exceeding) {
        let Exceeding { track, well, analyte, result } = new;
        let Some(place) = self.of_track.get_mut(track) else { return };
        match self.entries.get_mut(*place as usize) {
            Some(known) => known.over = better(Choose::Latest, known.over, result),
            None => {
                *place = u32::try_from(self.entries.len()).unwrap_or(NONE);
                self.entries.push(Entry { well: Called::Listed(well), analyte, newest: result, over: result });
            }
        }
    }

    /// Adds a result of a well without a track.
    pub(super) fn add_elsewhere(&mut self, new: Elsewhere) {
        let Elsewhere { well, name, analyte, result, above } = new;
        let next = u32::try_from(self.unlisted.len()).unwrap_or(u32::MAX);
        let called =
            name.map_or(Called::Listed(well), |name| Called::Unlisted(*self.unlisted.entry(name).or_insert(next)));
        let (newest, over) = self.elsewhere.entry((called, analyte)).or_insert((result, None));
        *newest = better(Choose::Latest, *newest, result);
        if above {
            *over = Some(over.map_or(result, |over| better(Choose::Latest, over, result)));
        }
    }

    /// Brings each entry's newest result up to date, above a limit or not. It is the value that stands, where the plan chooses the
    /// latest; otherwise one more walk finds it, since only now is known whose newest result matters.
    ///
    /// # Errors
    /// A disk that fails.
    pub(super) fn with_newest(mut self, choose: Choose, survey: &Survey, history: &History) -> Result<Over, Problem> {
        if choose != Choose::Latest {
            return self.walked(survey, history);
        }
        let mut entries: Vec<&mut Entry> = self.entries.iter_mut().collect();
        entries.sort_unstable_by_key(|entry| (entry.analyte, entry.well));
        // Both by analyte and then well.
        let mut values = survey.values.iter().peekable();
        for entry in entries {
            let key = |value: &WellValue| (value.analyte, Called::Listed(value.well.0));
            let own = (entry.analyte, entry.well);
            while values.next_if(|value| key(value) < own).is_some() {}
            let value = values.peek().filter(|value| key(value) == own);
            value.into_iter().for_each(|value| entry.newest = value.candidate());
        }
        Ok(self)
    }

    fn walked(mut self, survey: &Survey, history: &History) -> Result<Over, Problem> {
        let Over { of_track, entries, .. } = &mut self;
        let place = |row: &Row, analyte: AnalyteId| {
            let track = history.places.find(row.well, analyte)?;
            of_track.get(track).copied().filter(|place| *place != NONE)
        };
        let of_block = |start: u64, block: &Block| -> Vec<(u32, Candidate)> {
            let known = block.rows.iter().zip(start..).filter_map(|(row, n)| Some((row, candidate(row, n)?)));
            known.filter_map(|(row, (analyte, new))| Some((place(row, analyte)?, new))).collect()
        };
        survey.ledger.in_order(
            1,
            |blocks| blocks.iter().map(|(start, block)| of_block(*start, block)).collect::<Vec<_>>(),
            |parts| {
                for (place, new) in parts.into_iter().flatten() {
                    let newer = |entry: &mut Entry| entry.newest = better(Choose::Latest, entry.newest, new);
                    entries.get_mut(place as usize).into_iter().for_each(newer);
                }
                Ok(())
            },
        )?;
        Ok(self)
    }

    /// All entries by well, and the ids as written of wells that no list names.
    pub(super) fn by_well(self) -> (Vec<Entry>, Vec<String>) {
        let Over { mut entries, elsewhere, unlisted, .. } = self;
        // In place: in a nation's survey they take a good part of the memory.
        entries.sort_unstable_by_key(|entry| (entry.well, entry.analyte));
        entries.extend(
            elsewhere
                .into_iter()
                .filter_map(|((well, analyte), (newest, over))| Some(Entry { well, analyte, newest, over: over? })),
        );
        entries.shrink_to_fit();
        let mut unlisted: Vec<(String, u32)> = unlisted.into_iter().collect();
        unlisted.sort_unstable_by_key(|(_, at)| *at);
        (entries, unlisted.into_iter().map(|(name, _)| name).collect())
    }
}

/// What may call for action: rows set aside only for their place take part.
pub(super) fn candidate(row: &Row, number: u64) -> Option<(AnalyteId, Candidate)> {
    let counts = matches!(
        row.reason,
        None | Some(Reason::Repeat | Reason::UnknownWell | Reason::NoLocation | Reason::OutsideAreas)
    );
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    counts.then_some((analyte, Candidate { row: number, day, interval, kind, method, estimated }))
}
