//! Keeps, as blocks stream by, the candidate that stands for each well and analyte.

use super::accounting::{Accounting, Counts};
use super::ledger::{Keep, Ledger};
use super::lines::Lines;
use super::order::{Candidate, better, middle};
use super::pairs::Pairs;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval, WellId};
use crate::normalise::{Block, Row, Tally};
use crate::plan::{Choose, Method, SampleKind};
use crate::problem::{Problem, Warning};
use rayon::prelude::*;
use rustc_hash::FxHashMap;

/// The value that stands for a well and analyte.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WellValue {
    /// Analyte.
    pub analyte: AnalyteId,
    /// Well.
    pub well: WellId,
    /// The value.
    pub interval: Interval,
    /// Day of its sample.
    pub day: Day,
    /// Kind of its sample.
    pub kind: SampleKind,
    /// Method.
    pub method: Method,
    /// Whether the value is an estimate.
    pub estimated: bool,
    /// Newest day on which the well was tested for it.
    pub newest: Day,
    /// Results that could have stood.
    pub results: u32,
    /// Row number in the ledger.
    pub row: u64,
}

/// All rows with their fates, and the values that stand.
#[derive(Debug)]
pub struct Survey {
    /// Every row.
    pub ledger: Ledger,
    /// Values, by analyte and then well.
    pub values: Vec<WellValue>,
    /// Where every row went.
    pub accounting: Accounting,
    /// Odd spellings met.
    pub tally: Tally,
    /// Things worth telling about the files.
    pub warnings: Vec<Warning>,
}

impl Survey {
    /// The newest day of a value that stands; `None` if none does.
    pub fn last_day(&self) -> Option<Day> {
        self.values.iter().map(|value| value.newest).max()
    }

    /// The values of each analyte that has some.
    pub fn by_analyte(&self) -> impl Iterator<Item = (AnalyteId, &[WellValue])> {
        self.values.chunk_by(|a, b| a.analyte == b.analyte).filter_map(|group| Some((group.first()?.analyte, group)))
    }
}

/// Takes located blocks in order.
///
/// Reducers of different blocks can be merged (`Reducer::merge`), which is associative: a survey may be reduced in parts,
/// apart, and put together before it is finished.
pub struct Reducer {
    choose: Choose,
    ledger: Ledger,
    counts: Counts,
    seen: Lines,
    pairs: Pairs,
    /// Every candidate, only for `median`.
    all: FxHashMap<Key, Vec<Candidate>>,
    tally: Tally,
}

/// Rows whose places in the tables are fetched together: enough to keep memory busy, few enough to stay in the nearest cache.
const FETCHED: usize = 64;

/// Well and analyte.
type Key = (WellId, AnalyteId);

/// An empty reducer; feed it with `Reducer::take` and end with `Reducer::finish`.
pub fn reduce(choose: Choose, keep: Keep) -> Reducer {
    Reducer {
        choose,
        ledger: Ledger::new(keep),
        counts: Counts::default(),
        seen: Lines::new(),
        pairs: Pairs::new(),
        all: FxHashMap::default(),
        tally: Tally::default(),
    }
}

/// Lines that two parts of a survey have in common: in one run all but the first would have been set aside, so the parts
/// cannot be merged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0} lines stand in both parts; cut the survey by well, so that the very same line is never in two parts")]
pub struct InBoth(pub u64);

impl Reducer {
    /// Takes the next block, in file order.
    ///
    /// # Errors
    /// A disk without room for rows that do not fit into memory.
    pub fn take(&mut self, mut block: Block) -> Result<(), Problem> {
        self.set_repeated_lines(&mut block);
        self.tally.add(&block.tally);
        let mut number = self.ledger.len();
        for rows in block.rows.chunks_mut(FETCHED) {
            self.pairs.fetch(rows.iter().filter_map(key));
            for row in rows {
                match value(row, number) {
                    Some(value) => self.offer(value),
                    // What lacks a part cannot stand; it must still be accounted for.
                    None if row.reason.is_none() => row.reason = Some(Reason::UnreadableValue),
                    None => {}
                }
                number += 1;
            }
        }
        self.counts.add(&block);
        self.ledger.add(block)
    }

    /// A line whose very text came before gives no result, unless it names no well at all.
    fn set_repeated_lines(&mut self, block: &mut Block) {
        let mut line = None;
        let mut repeated = false;
        for rows in block.rows.chunks_mut(FETCHED) {
            self.seen.fetch(rows.iter().map(|row| row.digest));
            for row in rows {
                if line != Some(row.line) {
                    line = Some(row.line);
                    repeated = !self.seen.insert(row.digest);
                }
                if repeated && row.reason != Some(Reason::NoWell) {
                    row.reason = Some(Reason::RepeatedLine);
                }
            }
        }
    }

    fn offer(&mut self, new: WellValue) {
        if self.choose == Choose::Median {
            self.all.entry(new.key()).or_default().push(new.candidate());
        }
        self.join(new);
    }

    fn join(&mut self, new: WellValue) {
        let choose = self.choose;
        self.pairs.offer(new, |known, new| known.join(choose, new));
    }

    /// Adds what another reducer took, as if its blocks had come after this one's. Both must rest on the same plan's
    /// wells, dictionary and choice.
    ///
    /// # Errors
    /// Lines that stand in both.
    pub fn merge(&mut self, other: Reducer) -> Result<(), InBoth> {
        let Reducer { choose: _, ledger, counts, seen, pairs, all, tally } = other;
        match self.seen.merge(seen) {
            0 => {}
            lines => return Err(InBoth(lines)),
        }
        let behind = self.ledger.len();
        for value in pairs.into_shards().flatten() {
            self.join(WellValue { row: value.row + behind, ..value });
        }
        // The order of a well's candidates does not matter: `middle` sorts them, last by row.
        for shard in all.into_iter().map(|(key, all)| (key, all.into_iter().map(|one| one.further(behind)))) {
            self.all.entry(shard.0).or_default().extend(shard.1);
        }
        self.counts.merge(counts);
        self.tally.add(&tally);
        self.ledger.append(ledger);
        Ok(())
    }

    /// Gives every row its fate.
    pub fn finish(self) -> Survey {
        let Reducer { choose, mut ledger, mut counts, seen, pairs, mut all, tally } = self;
        drop(seen);
        let mut values: Vec<WellValue> = Vec::with_capacity(pairs.len());
        for mut shard in pairs.into_shards() {
            if choose == Choose::Median {
                shard.iter_mut().for_each(|value| value.take_middle(all.remove(&value.key())));
            }
            values.append(&mut shard);
        }
        values.par_sort_unstable_by_key(|value| (value.analyte, value.well));
        values.iter().for_each(|value| counts.standing(value.well.0, value.results));
        ledger.set_standing(values.iter().map(|value| value.row));
        Survey { ledger, values, accounting: counts.finish(), tally, warnings: Vec::new() }
    }
}

/// Well and analyte of a row that can stand.
fn key(row: &Row) -> Option<Key> {
    row.reason.is_none().then_some((WellId(row.well), row.analyte?))
}

/// The row as the first value of its well and analyte; `None` if it cannot stand.
fn value(row: &Row, number: u64) -> Option<WellValue> {
    if row.reason.is_some() {
        return None;
    }
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    let well = WellId(row.well);
    Some(WellValue { analyte, well, interval, day, kind, method, estimated, newest: day, results: 1, row: number })
}

impl WellValue {
    fn key(&self) -> Key {
        (self.well, self.analyte)
    }

    /// The row that stands, as the ladder of `order` sees it.
    pub fn candidate(&self) -> Candidate {
        let WellValue { row, day, interval, kind, method, estimated, .. } = *self;
        Candidate { row, day, interval, kind, method, estimated }
    }

    fn stand(&mut self, best: Candidate) {
        let Candidate { row, day, interval, kind, method, estimated } = best;
        *self = WellValue { row, day, interval, kind, method, estimated, ..*self };
    }

    /// Both together. Associative and commutative, as `better` is.
    fn join(&mut self, choose: Choose, other: &WellValue) {
        self.stand(better(choose, self.candidate(), other.candidate()));
        self.newest = self.newest.max(other.newest);
        self.results += other.results;
    }

    fn take_middle(&mut self, all: Option<Vec<Candidate>>) {
        if let Some(best) = all.and_then(|mut all| middle(&mut all)) {
            self.stand(best);
        }
    }
}
