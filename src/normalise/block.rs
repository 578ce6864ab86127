//! One raw block becomes rows: every result of it, in the same order, read or set aside by name.

use super::date::DateText;
use super::interval::{Facts, Sign, interval, is_estimated, is_rejected};
use super::rules::{PartRules, Rules};
use super::spelling::{Decision, Memo};
use super::value::{Reading, read};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::intake::{RawBlock, RawCell, RawLine, SourceFile};
use crate::plan::{Method, Qualifier, SampleKind};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A stretch of a block's text store.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    pub(super) start: u32,
    pub(super) length: u32,
}

/// One source result after normalising. Numbers are in the analyte's preferred unit and basis.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// Line, counted from 1.
    pub line: u32,
    /// Analyte column of a wide file.
    pub column: u16,
    /// Number of the (name, unit) spelling in the block.
    pub spelling: u16,
    /// Digest of the line.
    pub digest: u64,
    /// Well as written.
    pub well_text: Span,
    /// Sample number as written.
    pub sample: Span,
    /// Value as written, with qualifier and limit where those stand in columns of their own.
    pub written: Span,
    /// Analyte, once known.
    pub analyte: Option<AnalyteId>,
    /// What it says; `None` where it could not be read.
    pub interval: Option<Interval>,
    /// Day of sampling.
    pub day: Option<Day>,
    /// Kind of sample.
    pub kind: SampleKind,
    /// Method.
    pub method: Method,
    /// Whether the laboratory calls the value an estimate.
    pub estimated: bool,
    /// Received after its holding time, for an analyte where that is only a note.
    pub late: bool,
    /// Place in the well list; `u32::MAX` until located, or where the well is unknown.
    pub well: u32,
    /// Why it does not count, as far as the row itself shows.
    pub reason: Option<Reason>,
}

/// The rows of one block.
#[derive(Clone, Debug)]
pub struct Block {
    /// The file.
    pub file: Arc<SourceFile>,
    /// Rows, in line and column order.
    pub rows: Vec<Row>,
    /// (name, unit) as written, by spelling number.
    pub spellings: Vec<(String, String)>,
    /// What was met that a user would want to hear of.
    pub tally: Tally,
    pub(super) texts: String,
}

/// Odd spellings met in a block, with their counts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Unknown analyte names.
    pub names: BTreeMap<String, u64>,
    /// Unknown units, with the analyte's name: (unit, name).
    pub units: BTreeMap<(String, String), u64>,
    /// Unknown qualifiers.
    pub qualifiers: BTreeMap<String, u64>,
    /// Unknown sample kinds.
    pub kinds: BTreeMap<String, u64>,
    /// Dates that could be read in two ways.
    pub ambiguous_dates: BTreeMap<String, u64>,
    /// Values that could not be read.
    pub values: BTreeMap<String, u64>,
    /// Lines that the reader could not split.
    pub damaged: u64,
    /// Results whose unit was a mass ratio (ppm, ppb, ppt) taken as mass per litre.
    pub mass_ratios: u64,
}

impl Tally {
    /// Adds another block's counts.
    pub fn add(&mut self, other: &Tally) {
        fn join<K: Ord + Clone>(into: &mut BTreeMap<K, u64>, from: &BTreeMap<K, u64>) {
            for (key, count) in from {
                *into.entry(key.clone()).or_default() += count;
            }
        }
        join(&mut self.names, &other.names);
        join(&mut self.units, &other.units);
        join(&mut self.qualifiers, &other.qualifiers);
        join(&mut self.kinds, &other.kinds);
        join(&mut self.ambiguous_dates, &other.ambiguous_dates);
        join(&mut self.values, &other.values);
        self.damaged += other.damaged;
        self.mass_ratios += other.mass_ratios;
    }
}

impl Block {
    /// The text of a span.
    pub fn text(&self, span: Span) -> &str {
        let start = span.start as usize;
        self.texts.get(start..start + span.length as usize).unwrap_or_default()
    }

    fn keep(&mut self, text: &str) -> Span {
        let start = u32::try_from(self.texts.len()).unwrap_or(u32::MAX);
        self.texts.push_str(text);
        Span { start, length: u32::try_from(text.len()).unwrap_or(0) }
    }

    fn keep_written(&mut self, cell: &RawCell<'_>) -> Span {
        let start = u32::try_from(self.texts.len()).unwrap_or(u32::MAX);
        self.texts.push_str(cell.value);
        for (mark, text) in [(" | ", cell.qualifier), (" | limit ", cell.limit)] {
            if !text.is_empty() {
                self.texts.push_str(mark);
                self.texts.push_str(text);
            }
        }
        let length = self.texts.len() - start as usize;
        Span { start, length: u32::try_from(length).unwrap_or(0) }
    }
}

/// Normalises a block.
pub fn block(rules: &Rules, raw: &RawBlock) -> Block {
    let mut out = Block {
        file: raw.file.clone(),
        rows: Vec::with_capacity(raw.text.len() / 64),
        spellings: Vec::new(),
        tally: Tally::default(),
        texts: String::with_capacity(raw.text.len() / 3),
    };
    let Some(part) = rules.part(raw.file.part) else { return out };
    let mut memo = Memo::new(rules, part);
    let mut last = LineFacts::default();
    let walked = raw.each_result(|line, cell| {
        if last.line != line.line {
            last = LineFacts::new(line, &mut memo, &mut out);
        }
        let row = row(rules, part, line, cell, &last, &mut memo, &mut out);
        out.rows.push(row);
    });
    out.tally.damaged += u64::from(walked.is_err());
    out.spellings = memo.into_spellings();
    out
}

/// What a line's results have in common, decided once a line.
#[derive(Clone, Copy, Debug)]
struct LineFacts {
    line: u64,
    well: Span,
    sample: Span,
    kind: SampleKind,
    method: Method,
    date: DateText,
    received: DateText,
}

impl Default for LineFacts {
    fn default() -> Self {
        LineFacts {
            line: 0,
            well: Span::default(),
            sample: Span::default(),
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            date: DateText::Nothing,
            received: DateText::Nothing,
        }
    }
}

impl LineFacts {
    fn new(line: &RawLine<'_>, memo: &mut Memo<'_>, out: &mut Block) -> LineFacts {
        let date = memo.date(line.date);
        if date == DateText::Ambiguous {
            *out.tally.ambiguous_dates.entry(line.date.to_owned()).or_default() += 1;
        }
        let kind = memo.kind(line.sample_kind).unwrap_or_else(|| {
            *out.tally.kinds.entry(line.sample_kind.to_owned()).or_default() += 1;
            SampleKind::Routine
        });
        LineFacts {
            line: line.line,
            well: out.keep(line.well),
            sample: out.keep(line.sample),
            kind,
            method: memo.method(line.method),
            date,
            received: memo.date(line.received),
        }
    }
}

fn row(
    rules: &Rules,
    part: &PartRules,
    line: &RawLine<'_>,
    cell: &RawCell<'_>,
    facts: &LineFacts,
    memo: &mut Memo<'_>,
    out: &mut Block,
) -> Row {
    let (spelling, decision) = memo.spelling(cell.analyte, cell.unit);
    let qualifiers = memo.qualifiers(cell.qualifier, &mut out.tally);
    let reading = read(cell.value, part.marks, &part.words);
    let said = interval_of(reading, cell, &qualifiers, &decision, part);
    let day = match facts.date {
        DateText::Read(moment) => Some(moment.day),
        _ => None,
    };
    let first_draw = facts.kind == SampleKind::FirstDraw;
    let mut row = Row {
        line: u32::try_from(line.line).unwrap_or(u32::MAX),
        column: cell.column,
        spelling,
        digest: line.digest,
        well_text: facts.well,
        sample: facts.sample,
        written: out.keep_written(cell),
        analyte: if first_draw { decision.first_draw.or(decision.analyte) } else { decision.analyte },
        interval: said.ok().and_then(|interval| decision.convert(interval)),
        day,
        kind: facts.kind,
        method: facts.method,
        estimated: is_estimated(reading, &qualifiers),
        late: false,
        well: u32::MAX,
        reason: None,
    };
    let late = decision.held_too_long(facts.date, facts.received);
    row.late = late && !decision.microbial;
    row.reason = (line.well.is_empty().then_some(Reason::NoWell))
        .or_else(|| kind_reason(facts.kind, is_rejected(reading, &qualifiers)))
        .or(decision.name_fault)
        .or(said.err())
        .or_else(|| said.ok().and_then(|interval| decision.unit_fault(interval)))
        .or_else(|| date_reason(facts.date, rules.period))
        .or((first_draw && decision.first_draw.is_none()).then_some(Reason::FirstDraw))
        .or((facts.method == Method::Kit && !decision.kit_adequate).then_some(Reason::KitNotAdequate))
        .or((late && decision.microbial).then_some(Reason::HeldTooLong));
    note_oddities(&row, cell, &decision, &mut out.tally);
    row
}

fn interval_of(
    reading: Reading,
    cell: &RawCell<'_>,
    qualifiers: &[Qualifier],
    decision: &Decision,
    part: &PartRules,
) -> Result<Interval, Reason> {
    let limit = if cell.limit.is_empty() { None } else { limit_number(cell.limit, part) };
    let facts = Facts { qualifiers, limit, plan_limit: decision.plan_limit, sign: decision.sign };
    let said = interval(reading, &facts)?;
    Ok(if decision.presence { verdict(said, decision.sign) } else { said })
}

/// The limit column's number; it may be written as `<0.5`.
fn limit_number(text: &str, part: &PartRules) -> Option<f64> {
    use super::value::Said;
    match read(text, part.marks, &part.words).said {
        Said::Number(x) | Said::Less(x) | Said::NotDetected(Some(x)) => Some(x),
        _ => None,
    }
}

/// A number in a present/absent unit is only a verdict.
fn verdict(said: Interval, sign: Sign) -> Interval {
    match said {
        _ if sign != Sign::Count => said,
        Interval::Detect(_) | Interval::Above(_) | Interval::Present => Interval::Present,
        Interval::Below(_) | Interval::Absent => Interval::Absent,
    }
}

fn kind_reason(kind: SampleKind, rejected: bool) -> Option<Reason> {
    match kind {
        SampleKind::Blank => Some(Reason::Blank),
        SampleKind::Spike => Some(Reason::Spike),
        SampleKind::Rejected => Some(Reason::RejectedByLaboratory),
        _ if rejected => Some(Reason::RejectedByLaboratory),
        SampleKind::Treated => Some(Reason::TreatedWater),
        SampleKind::Routine | SampleKind::Duplicate | SampleKind::FirstDraw | SampleKind::AfterRepair => None,
    }
}

fn date_reason(date: DateText, period: Option<(Day, Day)>) -> Option<Reason> {
    match (date, period) {
        (DateText::Nothing, _) => Some(Reason::NoDate),
        (DateText::Unreadable | DateText::Ambiguous, _) => Some(Reason::UnreadableDate),
        (DateText::Read(moment), Some((from, to))) if moment.day < from || moment.day > to => {
            Some(Reason::OutsidePeriod)
        }
        (DateText::Read(_), _) => None,
    }
}

/// Counts the spellings that a user can mend in the plan.
fn note_oddities(row: &Row, cell: &RawCell<'_>, decision: &Decision, tally: &mut Tally) {
    match row.reason {
        Some(Reason::UnknownAnalyte | Reason::BasisMissing) => {
            *tally.names.entry(cell.analyte.to_owned()).or_default() += 1;
        }
        Some(Reason::UnknownUnit | Reason::UnitDoesNotFit) => {
            *tally.units.entry((cell.unit.to_owned(), cell.analyte.to_owned())).or_default() += 1;
        }
        Some(Reason::UnreadableValue) => *tally.values.entry(cell.value.to_owned()).or_default() += 1,
        None if decision.mass_ratio => tally.mass_ratios += 1,
        _ => {}
    }
}
