//! Rows are joined to the wells they name.

use super::wells::Wells;
use crate::fate::Reason;
use crate::ids::WellId;
use crate::normalise::Block;

/// Gives every row of a block its well, and its reason where only the place speaks against it.
pub fn locate(wells: &Wells, mut block: Block) -> Block {
    let found: Vec<u32> = {
        let mut last = ("", u32::MAX);
        let find = |row: &crate::normalise::Row| {
            let text = block.text(row.well_text);
            if last.0 != text || text.is_empty() {
                last = (text, wells.find(text).unwrap_or(u32::MAX));
            }
            last.1
        };
        block.rows.iter().map(find).collect()
    };
    for (row, well) in block.rows.iter_mut().zip(found) {
        row.well = well;
        row.reason = row.reason.or_else(|| place_reason(wells, well));
    }
    block
}

fn place_reason(wells: &Wells, well: u32) -> Option<Reason> {
    let Some(site) = wells.site(WellId(well)) else { return Some(Reason::UnknownWell) };
    match (site.xy, wells.area(WellId(well))) {
        (None, _) => Some(Reason::NoLocation),
        (Some(_), None) => Some(Reason::OutsideAreas),
        (Some(_), Some(_)) => None,
    }
}
