//! A block as bytes and back, for surveys that are larger than memory.
//!
//! Own fixed layout, little-endian, read only by the run that wrote it. Digests and tallies are left out: both have done
//! their work when a block is put away. A reader would question why no serialising library stands here: this is the one
//! thing done with every row of a hundred million, and it is fifty lines.

use super::block::{Block, Row, Span};
use super::tally::Tally;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::intake::SourceFile;
use crate::plan::{Method, SampleKind};
use std::sync::Arc;

/// Stands for "none" where a number of the type cannot occur.
const NONE_16: u16 = u16::MAX;
const NONE_DAY: i32 = i32::MIN;
const NONE_8: u8 = u8::MAX;
/// Bytes of a row.
const ROW: usize = 55;

/// Appends a block's bytes.
pub fn pack(block: &Block, out: &mut Vec<u8>) {
    out.reserve(block.rows.len() * ROW + block.texts.len() + 64);
    put_count(out, block.rows.len());
    put_count(out, block.spellings.len());
    put_count(out, block.texts.len());
    block.rows.iter().for_each(|row| pack_row(row, out));
    for text in block.spellings.iter().flat_map(|(name, unit)| [name, unit]) {
        put_count(out, text.len());
        out.extend_from_slice(text.as_bytes());
    }
    out.extend_from_slice(block.texts.as_bytes());
}

/// Reads a block back; `None` if the bytes are not what `pack` wrote.
pub fn unpack(file: Arc<SourceFile>, bytes: &[u8]) -> Option<Block> {
    let mut from = Bytes(bytes);
    let (rows, spellings, texts) = (from.count()?, from.count()?, from.count()?);
    let rows = unpack_rows(from.take(rows.checked_mul(ROW)?)?)?;
    let spellings = (0..spellings).map(|_| Some((from.text()?, from.text()?))).collect::<Option<Vec<_>>>()?;
    let texts = std::str::from_utf8(from.take(texts)?).ok()?.to_owned();
    from.0.is_empty().then_some(Block { file, rows, spellings, tally: Tally::default(), texts })
}

fn put_count(out: &mut Vec<u8>, count: usize) {
    out.extend_from_slice(&(count as u64).to_le_bytes());
}

fn pack_row(row: &Row, out: &mut Vec<u8>) {
    out.extend_from_slice(&row.line.to_le_bytes());
    out.extend_from_slice(&row.column.to_le_bytes());
    out.extend_from_slice(&row.spelling.to_le_bytes());
    for span in [row.well_text, row.sample, row.written] {
        out.extend_from_slice(&span.start.to_le_bytes());
        out.extend_from_slice(&span.length.to_le_bytes());
    }
    out.extend_from_slice(&row.analyte.map_or(NONE_16, |analyte| analyte.0).to_le_bytes());
    let (tag, number) = tagged(row.interval);
    out.push(tag);
    out.extend_from_slice(&number.to_le_bytes());
    out.extend_from_slice(&row.day.map_or(NONE_DAY, |day| day.0).to_le_bytes());
    out.push(row.kind as u8);
    out.push(row.method as u8);
    out.push(u8::from(row.estimated) | u8::from(row.late) << 1);
    out.extend_from_slice(&row.well.to_le_bytes());
    out.push(row.reason.map_or(NONE_8, |reason| reason as u8));
}

/// Room for all is made at once: rows that come one after another would move in memory again and again.
fn unpack_rows(bytes: &[u8]) -> Option<Vec<Row>> {
    let (packed, _) = bytes.as_chunks::<ROW>();
    let mut rows = Vec::with_capacity(packed.len());
    for row in packed {
        rows.push(unpack_row(row)?);
    }
    Some(rows)
}

fn unpack_row(packed: &[u8; ROW]) -> Option<Row> {
    let from = &mut Bytes(packed);
    let (line, column, spelling) = (from.u32()?, from.u16()?, from.u16()?);
    let (well_text, sample, written) = (from.span()?, from.span()?, from.span()?);
    let analyte = Some(from.u16()?).filter(|n| *n != NONE_16).map(AnalyteId);
    let interval = untagged(from.u8()?, f64::from_le_bytes(from.array()?))?;
    let day = Some(i32::from_le_bytes(from.array()?)).filter(|n| *n != NONE_DAY).map(Day);
    let kind = *SampleKind::ALL.get(usize::from(from.u8()?))?;
    let method = *Method::ALL.get(usize::from(from.u8()?))?;
    let flags = from.u8()?;
    let well = from.u32()?;
    let reason = match from.u8()? {
        NONE_8 => None,
        number => Some(*Reason::ALL.get(usize::from(number))?),
    };
    let (estimated, late) = (flags & 1 != 0, flags & 2 != 0);
    let digest = 0;
    Some(Row {
        line,
        column,
        spelling,
        digest,
        well_text,
        sample,
        written,
        analyte,
        interval,
        day,
        kind,
        method,
        estimated,
        late,
        well,
        reason,
    })
}

fn tagged(interval: Option<Interval>) -> (u8, f64) {
    match interval {
        None => (0, 0.0),
        Some(Interval::Detect(x)) => (1, x),
        Some(Interval::Below(x)) => (2, x),
        Some(Interval::Above(x)) => (3, x),
        Some(Interval::Present) => (4, 0.0),
        Some(Interval::Absent) => (5, 0.0),
    }
}

fn untagged(tag: u8, x: f64) -> Option<Option<Interval>> {
    Some(match tag {
        0 => None,
        1 => Some(Interval::Detect(x)),
        2 => Some(Interval::Below(x)),
        3 => Some(Interval::Above(x)),
        4 => Some(Interval::Present),
        5 => Some(Interval::Absent),
        _ => return None,
    })
}

/// Bytes still to be read.
struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(count)?;
        self.0 = rest;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*taken)
    }

    fn u8(&mut self) -> Option<u8> {
        self.array::<1>().map(|[byte]| byte)
    }

    fn u16(&mut self) -> Option<u16> {
        self.array().map(u16::from_le_bytes)
    }

    fn u32(&mut self) -> Option<u32> {
        self.array().map(u32::from_le_bytes)
    }

    fn count(&mut self) -> Option<usize> {
        usize::try_from(u64::from_le_bytes(self.array()?)).ok()
    }

    fn text(&mut self) -> Option<String> {
        let count = self.count()?;
        std::str::from_utf8(self.take(count)?).ok().map(str::to_owned)
    }

    fn span(&mut self) -> Option<Span> {
        Some(Span { start: self.u32()?, length: self.u32()? })
    }
}
