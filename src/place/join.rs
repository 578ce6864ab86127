//! Rows are joined to the wells they name.

use super::wells::Wells;
use crate::fate::Reason;
use crate::ids::WellId;
use crate::normalise::{Block, Place, Span};

/// Names of wells that are looked for together.
const FETCHED: usize = 64;

/// Gives every row of a block its well, and its reason where only the place speaks against it.
pub fn locate(wells: &Wells, mut block: Block) -> Block {
    let mut named: Vec<Span> = block.rows.iter().map(|row| row.well_text).collect();
    named.dedup();
    let found: Vec<u32> = named.chunks(FETCHED).flat_map(|some| find(wells, &block, some)).collect();
    let mut known = named.iter().zip(found.into_iter().map(|well| (well, place_reason(wells, well))));
    let mut last = known.next();
    for row in &mut block.rows {
        while last.is_some_and(|(name, _)| *name != row.well_text) {
            last = known.next();
        }
        let Some((_, (well, reason))) = last else { break };
        row.well = well;
        row.reason = row.reason.or(reason);
    }
    note_unknown(&mut block);
    block
}

/// The wells of names, in their order.
fn find<'b>(wells: &'b Wells, block: &'b Block, some: &'b [Span]) -> impl Iterator<Item = u32> + 'b {
    let names = some.iter().map(|span| block.text(*span));
    wells.fetch(names.clone());
    names.map(|name| wells.find(name).unwrap_or(u32::MAX))
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
