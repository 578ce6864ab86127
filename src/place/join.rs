//! Rows are joined to the wells they name.

use super::wells::Wells;
use crate::fate::Reason;
use crate::ids::WellId;
use crate::normalise::{Block, Place, Row};

/// Gives every row of a block its well, and its reason where only the place speaks against it.
pub fn locate(wells: &Wells, mut block: Block) -> Block {
    let mut last = None;
    let find = |row: &Row| match last {
        Some((span, found)) if span == row.well_text => found,
        _ => {
            let well = wells.find(block.text(row.well_text)).unwrap_or(u32::MAX);
            let found = (well, place_reason(wells, well));
            last = Some((row.well_text, found));
            found
        }
    };
    let found: Vec<(u32, Option<Reason>)> = block.rows.iter().map(find).collect();
    for (row, (well, reason)) in block.rows.iter_mut().zip(found) {
        row.well = well;
        row.reason = row.reason.or(reason);
    }
    note_unknown(&mut block);
    block
}

/// Counts the ids of results that nothing but an unknown well speaks against.
fn note_unknown(block: &mut Block) {
    let unknown = block.rows.iter().filter(|row| row.reason == Some(Reason::UnknownWell));
    let (file, part) = (block.file.number, block.file.part);
    let met: Vec<_> = unknown.map(|row| (row.well_text, Place { file, line: row.line, part })).collect();
    for (text, place) in met {
        let id = block.text(text).to_owned();
        block.tally.wells.note(&id, place);
    }
}

fn place_reason(wells: &Wells, well: u32) -> Option<Reason> {
    let Some(site) = wells.site(WellId(well)) else { return Some(Reason::UnknownWell) };
    match (site.xy, wells.area(WellId(well))) {
        (None, _) => Some(Reason::NoLocation),
        (Some(_), None) => Some(Reason::OutsideAreas),
        (Some(_), Some(_)) => None,
    }
}
