//! Keeps, as blocks stream by, the candidate that stands for each well and analyte.

use super::accounting::{Accounting, Counts};
use super::ledger::{Keep, Ledger};
use super::order::{Candidate, better, middle};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval, WellId};
use crate::normalise::{Block, Row, Tally};
use crate::plan::{Choose, Method, SampleKind};
use crate::problem::{Problem, Warning};
use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};

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
pub struct Reducer {
    choose: Choose,
    ledger: Ledger,
    counts: Counts,
    seen: FxHashSet<u64>,
    /// In shards by well, so that no single table is ever copied whole as it grows, and each is freed as it is drained.
    slots: Vec<FxHashMap<Key, Slot>>,
    /// Every candidate, only for `median`.
    all: FxHashMap<Key, Vec<Candidate>>,
    tally: Tally,
}

/// Well and analyte.
type Key = (u32, u16);

/// Shards of the slots.
const SHARDS: u32 = 64;

/// What is kept of a well and analyte.
struct Slot {
    best: Candidate,
    newest: Day,
    results: u32,
}

/// An empty reducer; feed it with `Reducer::take` and end with `Reducer::finish`.
pub fn reduce(choose: Choose, keep: Keep) -> Reducer {
    Reducer {
        choose,
        ledger: Ledger::new(keep),
        counts: Counts::default(),
        seen: FxHashSet::default(),
        slots: (0..SHARDS).map(|_| FxHashMap::default()).collect(),
        all: FxHashMap::default(),
        tally: Tally::default(),
    }
}

impl Reducer {
    /// Takes the next block, in file order.
    ///
    /// # Errors
    /// A disk without room for rows that do not fit into memory.
    pub fn take(&mut self, mut block: Block) -> Result<(), Problem> {
        self.set_repeated_lines(&mut block);
        self.tally.add(&block.tally);
        let first = self.ledger.len();
        for (row, number) in block.rows.iter_mut().zip(first..) {
            match candidate(row, number) {
                Some((key, candidate)) => self.offer(key, candidate),
                // What lacks a part cannot stand; it must still be accounted for.
                None if row.reason.is_none() => row.reason = Some(Reason::UnreadableValue),
                None => {}
            }
        }
        self.counts.add(&block);
        self.ledger.add(block)
    }

    /// A line whose very text came before gives no result, unless it names no well at all.
    fn set_repeated_lines(&mut self, block: &mut Block) {
        let mut line = None;
        let mut repeated = false;
        for row in &mut block.rows {
            if line != Some(row.line) {
                line = Some(row.line);
                repeated = !self.seen.insert(row.digest);
            }
            if repeated && row.reason != Some(Reason::NoWell) {
                row.reason = Some(Reason::RepeatedLine);
            }
        }
    }

    fn offer(&mut self, key: Key, candidate: Candidate) {
        let choose = self.choose;
        if choose == Choose::Median {
            self.all.entry(key).or_default().push(candidate);
        }
        let Some(shard) = self.slots.get_mut((key.0 % SHARDS) as usize) else { return };
        let slot = shard.entry(key).or_insert_with(|| Slot { best: candidate, newest: candidate.day, results: 0 });
        slot.best = better(choose, slot.best, candidate);
        slot.newest = slot.newest.max(candidate.day);
        slot.results += 1;
    }

    /// Gives every row its fate.
    pub fn finish(self) -> Survey {
        let Reducer { choose, mut ledger, mut counts, seen, slots, mut all, tally } = self;
        drop(seen);
        let mut values: Vec<WellValue> = Vec::with_capacity(slots.iter().map(FxHashMap::len).sum());
        for shard in slots {
            values.extend(shard.into_iter().map(|(key, slot)| {
                let best = match choose {
                    Choose::Median => all.remove(&key).and_then(|mut all| middle(&mut all)).unwrap_or(slot.best),
                    Choose::Latest | Choose::Highest => slot.best,
                };
                standing(key, &slot, &best)
            }));
        }
        values.par_sort_unstable_by_key(|value| (value.analyte, value.well));
        values.iter().for_each(|value| counts.standing(value.well.0, value.results));
        ledger.set_standing(values.iter().map(|value| value.row));
        Survey { ledger, values, accounting: counts.finish(), tally, warnings: Vec::new() }
    }
}

fn candidate(row: &Row, number: u64) -> Option<(Key, Candidate)> {
    if row.reason.is_some() {
        return None;
    }
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let candidate =
        Candidate { row: number, day, interval, kind: row.kind, method: row.method, estimated: row.estimated };
    Some(((row.well, analyte.0), candidate))
}

fn standing((well, analyte): Key, slot: &Slot, best: &Candidate) -> WellValue {
    WellValue {
        analyte: AnalyteId(analyte),
        well: WellId(well),
        interval: best.interval,
        day: best.day,
        kind: best.kind,
        method: best.method,
        estimated: best.estimated,
        newest: slot.newest,
        results: slot.results,
        row: best.row,
    }
}
