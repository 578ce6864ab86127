//! Results of listed wells that lie in no area, for their letters: the newest of each test.
//!
//! Their rows are set aside for their place, so no table counts them; the household is owed its results all the same. The newest
//! result stands, whatever `per_well.choose` says, since no rate rests on it.

use crate::fate::Reason;
use crate::ids::{AnalyteId, WellId};
use crate::normalise::Row;
use crate::per_well::{Candidate, Survey, WellValue, better};
use crate::place::Wells;
use crate::plan::Choose;
use crate::problem::Problem;
use std::collections::BTreeMap;

/// By well and analyte.
///
/// # Errors
/// A disk that fails.
pub fn values(wells: &Wells, survey: &Survey) -> Result<Vec<WellValue>, Problem> {
    let mut found: BTreeMap<(WellId, AnalyteId), (Candidate, u32)> = BTreeMap::new();
    survey.ledger.in_order(
        1,
        |blocks| {
            let rows = blocks.iter().flat_map(|(start, block)| block.rows.iter().zip(*start..));
            rows.filter_map(|(row, number)| of_row(wells, row, number)).collect::<Vec<_>>()
        },
        |rows| {
            for (key, new) in rows {
                let known = found.entry(key).or_insert((new, 0));
                *known = (better(Choose::Latest, known.0, new), known.1 + 1);
            }
            Ok(())
        },
    )?;
    Ok(found.into_iter().map(|((well, analyte), (one, results))| value(well, analyte, one, results)).collect())
}

fn of_row(wells: &Wells, row: &Row, number: u64) -> Option<((WellId, AnalyteId), Candidate)> {
    let unplaced = matches!(row.reason, Some(Reason::NoLocation | Reason::OutsideAreas));
    let (analyte, interval, day) = (row.analyte?, row.interval?, row.day?);
    wells.id_at(row.well).filter(|_| unplaced)?;
    let (kind, method, estimated) = (row.kind, row.method, row.estimated);
    Some(((WellId(row.well), analyte), Candidate { row: number, day, interval, kind, method, estimated }))
}

fn value(well: WellId, analyte: AnalyteId, one: Candidate, results: u32) -> WellValue {
    let Candidate { row, day, interval, kind, method, estimated } = one;
    WellValue { analyte, well, interval, day, kind, method, estimated, newest: day, results, row }
}
