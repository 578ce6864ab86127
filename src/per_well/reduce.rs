//! Keeps, as blocks stream by, the candidate that stands for each well and analyte.

use super::ledger::{Accounting, Ledger};
use super::order::{Candidate, better, middle};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval, WellId};
use crate::normalise::{Block, Row, Tally};
use crate::place::Wells;
use crate::plan::{Choose, Method, SampleKind};
use crate::problem::Warning;
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
    seen: FxHashSet<u64>,
    slots: FxHashMap<(u32, u16), Slot>,
    tally: Tally,
}

/// What is kept of a well and analyte.
struct Slot {
    best: Candidate,
    /// Only for `median`.
    all: Vec<Candidate>,
    newest: Day,
    results: u32,
}

/// An empty reducer; feed it with `Reducer::take` and end with `Reducer::finish`.
pub fn reduce(choose: Choose) -> Reducer {
    Reducer {
        choose,
        ledger: Ledger::default(),
        seen: FxHashSet::default(),
        slots: FxHashMap::default(),
        tally: Tally::default(),
    }
}

impl Reducer {
    /// Takes the next block, in file order.
    pub fn take(&mut self, mut block: Block) {
        self.set_repeated_lines(&mut block);
        self.tally.add(&block.tally);
        let first = self.ledger.len();
        for (row, number) in block.rows.iter().zip(first..) {
            if let Some((key, candidate)) = candidate(row, number) {
                self.offer(key, candidate);
            }
        }
        self.ledger.add(block);
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

    fn offer(&mut self, key: (u32, u16), candidate: Candidate) {
        let choose = self.choose;
        let slot = self.slots.entry(key).or_insert_with(|| Slot {
            best: candidate,
            all: Vec::new(),
            newest: candidate.day,
            results: 0,
        });
        slot.best = better(choose, slot.best, candidate);
        slot.newest = slot.newest.max(candidate.day);
        slot.results += 1;
        if choose == Choose::Median {
            slot.all.push(candidate);
        }
    }

    /// Gives every row its fate.
    pub fn finish(self, wells: &Wells) -> Survey {
        let Reducer { choose, mut ledger, slots, tally, .. } = self;
        let mut values: Vec<WellValue> =
            slots.into_iter().map(|((well, analyte), slot)| standing(choose, well, analyte, slot)).collect();
        values.sort_unstable_by_key(|value| (value.analyte, value.well));
        let mut winners: Vec<u64> = values.iter().map(|value| value.row).collect();
        winners.sort_unstable();
        ledger.set_repeats(&winners);
        let accounting = Accounting::of(&ledger, wells.len());
        Survey { ledger, values, accounting, tally, warnings: Vec::new() }
    }
}

fn candidate(row: &Row, number: u64) -> Option<((u32, u16), Candidate)> {
    if row.reason.is_some() {
        return None;
    }
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    let candidate =
        Candidate { row: number, day, interval, kind: row.kind, method: row.method, estimated: row.estimated };
    Some(((row.well, analyte.0), candidate))
}

fn standing(choose: Choose, well: u32, analyte: u16, mut slot: Slot) -> WellValue {
    let best = match choose {
        Choose::Median => middle(&mut slot.all).unwrap_or(slot.best),
        Choose::Latest | Choose::Highest => slot.best,
    };
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
