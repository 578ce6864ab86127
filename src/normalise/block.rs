//! One raw block becomes rows: every result of it, in the same order, read or set aside by name.

use super::date::DateText;
use super::flags::Flags;
use super::interval::{Facts, Sign, interval};
use super::kind::Status;
use super::rules::{PartRules, Rules};
use super::spelling::{Decision, Memo, Spelling};
use super::tally::{Place, Tally};
use super::value::{Reading, Said, read, unit_behind};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::intake::{RawBlock, RawCell, RawLine, SourceFile};
use crate::plan::{Method, SampleKind};
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
    /// Well as written; lines behind one another that name the same well share it.
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

impl Block {
    /// The text of a span.
    pub fn text(&self, span: Span) -> &str {
        let start = span.start as usize;
        self.texts.get(start..start + span.length as usize).unwrap_or_default()
    }

    /// Gives back room that was taken ahead, and the tally, which has done its work once the block is counted.
    pub fn shrink(&mut self) {
        self.rows.shrink_to_fit();
        self.texts.shrink_to_fit();
        self.tally = Tally::default();
    }

    fn keep(&mut self, text: &str) -> Span {
        if text.is_empty() {
            return Span::default();
        }
        let start = u32::try_from(self.texts.len()).unwrap_or(u32::MAX);
        self.texts.push_str(text);
        Span { start, length: u32::try_from(text.len()).unwrap_or(0) }
    }

    /// As `keep`, of a text that is often the one kept last.
    fn keep_again(&mut self, last: Span, text: &str) -> Span {
        if !text.is_empty() && self.text(last) == text { last } else { self.keep(text) }
    }

    fn keep_written(&mut self, cell: &RawCell<'_>) -> Span {
        let start = u32::try_from(self.texts.len()).unwrap_or(u32::MAX);
        self.texts.push_str(cell.value);
        let more = [
            (" | ", cell.qualifier),
            (" | ", cell.second_qualifier),
            (" | ", cell.status),
            (" | limit ", cell.limit),
            (" ", cell.limit_unit),
        ];
        for (mark, text) in more {
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
            last = LineFacts::new(line, &last, &mut memo, &mut out);
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
    fn new(line: &RawLine<'_>, last: &LineFacts, memo: &mut Memo<'_>, out: &mut Block) -> LineFacts {
        let date = memo.date(line.date);
        let received = memo.received(line.received);
        let place = place(line, out);
        match date {
            DateText::Ambiguous => out.tally.ambiguous_dates.note(line.date, place),
            DateText::Unreadable => out.tally.dates.note(line.date, place),
            DateText::Read(moment) if memo.is_late(moment.day) => out.tally.late.note(line.date, place),
            DateText::Nothing | DateText::Read(_) => {}
        }
        if matches!(received, DateText::Ambiguous | DateText::Unreadable) {
            out.tally.received.note(line.received, place);
        }
        let kind = memo.kind(line.sample_kind).unwrap_or_else(|| {
            out.tally.kinds.note(line.sample_kind, place);
            SampleKind::Routine
        });
        LineFacts {
            line: line.line,
            well: out.keep_again(last.well, line.well),
            sample: out.keep_again(last.sample, line.sample),
            kind,
            method: memo.method(line.method),
            date,
            received,
        }
    }
}

/// Where a line stands.
fn place(line: &RawLine<'_>, out: &Block) -> Place {
    let number = u32::try_from(line.line).unwrap_or(u32::MAX);
    Place { file: out.file.number, line: number, part: out.file.part }
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
    let (unit, reading) = read_with_unit(part, cell, memo);
    let cell = &RawCell { unit, ..*cell };
    let (spelling, decision) = memo.spelling(written(cell));
    let place = place(line, out);
    let flags = flags(cell, place, memo, out).and(Flags::all(reading.flag));
    let limit = limit(cell, &decision, memo, part, place, &mut out.tally);
    let said = interval_of(reading.said, limit, flags, &decision);
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
        estimated: flags.estimated,
        late: false,
        well: u32::MAX,
        reason: None,
    };
    let late = decision.held_too_long(facts.date, facts.received);
    row.late = late && !decision.microbial;
    row.reason = (line.well.is_empty().then_some(Reason::NoWell))
        .or_else(|| kind_reason(facts.kind, flags.rejected))
        .or(decision.name_fault)
        .or(said.err())
        .or_else(|| said.ok().and_then(|interval| decision.unit_fault(interval)))
        .or_else(|| date_reason(facts.date, rules.period))
        .or((first_draw && decision.first_draw.is_none()).then_some(Reason::FirstDraw))
        .or((facts.method == Method::Kit && !decision.kit_adequate).then_some(Reason::KitNotAdequate))
        .or((late && decision.microbial).then_some(Reason::HeldTooLong));
    note_oddities(&row, cell, &decision, place, &mut out.tally);
    row
}

/// The unit and the reading of a cell. A unit behind the number, as in `2.4 mg/L`, counts where the line has no other
/// or the same; looked for only where the text is no value by itself.
fn read_with_unit<'a>(part: &PartRules, cell: &RawCell<'a>, memo: &mut Memo<'_>) -> (&'a str, Reading) {
    let reading = read(cell.value, part.marks, &part.words);
    if reading.said == Said::Unreadable
        && let Some((value, unit)) = unit_behind(cell.value)
        && (cell.unit.is_empty() || cell.unit.eq_ignore_ascii_case(unit))
        && memo.is_unit(unit)
    {
        return (unit, read(value, part.marks, &part.words));
    }
    (cell.unit, reading)
}

/// What decides about a cell. An empty unit is that of the limit, where that has one.
fn written<'a>(cell: &RawCell<'a>) -> Spelling<'a> {
    let unit = if cell.unit.is_empty() { cell.limit_unit } else { cell.unit };
    Spelling { name: cell.analyte, unit, fraction: cell.fraction, basis: cell.basis }
}

/// What the marks outside the value say. Unknown ones are notes, and counted.
fn flags(cell: &RawCell<'_>, place: Place, memo: &mut Memo<'_>, out: &mut Block) -> Flags {
    let first = memo.flags(cell.qualifier, place, &mut out.tally);
    let all = first.and(memo.flags(cell.second_qualifier, place, &mut out.tally));
    let status = memo.status(cell.status);
    out.tally.preliminary += u64::from(status == Status::Preliminary);
    Flags { rejected: all.rejected || status == Status::Rejected, ..all }
}

fn interval_of(said: Said, limit: Option<f64>, flags: Flags, decision: &Decision) -> Result<Interval, Reason> {
    let facts = Facts { flags, limit, plan_limit: decision.plan_limit, sign: decision.sign };
    let said = interval(said, &facts)?;
    Ok(if decision.presence { verdict(said, decision.sign) } else { said })
}

/// The limit column's number, in the line's unit; it may be written as `<0.5`.
fn limit(
    cell: &RawCell<'_>,
    decision: &Decision,
    memo: &mut Memo<'_>,
    part: &PartRules,
    place: Place,
    tally: &mut Tally,
) -> Option<f64> {
    if cell.limit.is_empty() {
        return None;
    }
    let number = match read(cell.limit, part.marks, &part.words).said {
        Said::Number(x) | Said::Less(x) | Said::NotDetected(Some(x)) => x,
        Said::Nothing | Said::NotDetected(None) => return None,
        Said::Greater(_) | Said::Present | Said::Absent | Said::Unreadable => {
            tally.limits.note(cell.limit, place);
            return None;
        }
    };
    if cell.limit_unit.is_empty() || cell.unit.is_empty() || cell.limit_unit == cell.unit {
        return Some(number);
    }
    let (_, of_limit) = memo.spelling(Spelling { unit: cell.limit_unit, ..written(cell) });
    decision.taken_from(number, &of_limit)
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
        SampleKind::Routine
        | SampleKind::Duplicate
        | SampleKind::FirstDraw
        | SampleKind::AfterRepair
        | SampleKind::NoticedChange => None,
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
fn note_oddities(row: &Row, cell: &RawCell<'_>, decision: &Decision, place: Place, tally: &mut Tally) {
    match row.reason {
        Some(Reason::UnknownAnalyte) if decision.fraction_fault => {
            tally.fractions.note(cell.fraction, cell.analyte, place);
        }
        Some(Reason::UnknownAnalyte) => tally.names.note(cell.analyte, place),
        Some(Reason::BasisMissing) => tally.bases.note(cell.analyte, place),
        Some(Reason::UnknownUnit) => tally.units.note(cell.unit, cell.analyte, place),
        Some(Reason::UnitDoesNotFit) => tally.unfit_units.note(cell.unit, cell.analyte, place),
        Some(Reason::UnreadableValue) => tally.values.note(cell.value, place),
        Some(Reason::QualifiersDisagree) => {
            let text = format!("{} {} {}", cell.value, cell.qualifier, cell.second_qualifier);
            tally.disagreeing.note(text.trim_end(), place);
        }
        None => {
            tally.mass_ratios += u64::from(decision.mass_ratio);
            tally.no_volume += u64::from(decision.no_volume);
        }
        Some(_) => {}
    }
}
