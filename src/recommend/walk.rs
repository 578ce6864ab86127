//! The walk over all results that advice on single wells rests on: when each was tested for what, and what was above a health limit.
//!
//! One walk for both, since most of it is taking the rows back from where they were put away.

use super::follow_up::Limits;
use super::history::{History, Noted, Places};
use super::over::{Elsewhere, Exceeding, Over, candidate};
use crate::dictionary::BenchmarkKind;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Interval};
use crate::methods::exceedance::Verdict;
use crate::normalise::Block;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::SampleKind;
use crate::problem::Problem;
use crate::summarise::judge;

/// What the rows of one block add.
#[derive(Default)]
struct Found {
    noted: Vec<Noted>,
    over: Vec<Exceeding>,
    elsewhere: Vec<Elsewhere>,
}

/// The days of every well's tests, and every result above a limit.
///
/// # Errors
/// A disk that fails.
pub(super) fn walk(wells: &Wells, survey: &Survey, limits: &Limits<'_>) -> Result<(History, Over), Problem> {
    let kinds = Kinds::new(limits);
    let mut history = History::new(wells.len(), survey);
    let mut over = Over::new(history.tracks.len());
    let History { tracks, places } = &mut history;
    let places = &*places;
    survey.ledger.in_order(
        1,
        |blocks| blocks.iter().map(|(start, block)| found(wells, &kinds, places, *start, block)).collect::<Vec<_>>(),
        |parts| {
            for Found { noted, over: exceeding, elsewhere } in parts {
                noted.iter().for_each(|one| tracks.note(*one));
                exceeding.into_iter().for_each(|one| over.add(one));
                elsewhere.into_iter().for_each(|one| over.add_elsewhere(one));
            }
            Ok(())
        },
    )?;
    Ok((history, over))
}

fn found(wells: &Wells, kinds: &Kinds, places: &Places, start: u64, block: &Block) -> Found {
    let mut all = Found::default();
    for (row, number) in block.rows.iter().zip(start..) {
        let Some((analyte, result)) = candidate(row, number) else { continue };
        let above = kinds.passed(analyte, result.interval);
        let counts = matches!(row.reason, None | Some(Reason::Repeat));
        if !counts {
            let name = wells.id_at(row.well).is_none().then(|| block.text(row.well_text).to_owned());
            all.elsewhere.push(Elsewhere { well: row.well, name, analyte, result, above });
            continue;
        }
        let (found, repaired) = (result.interval.detected(), row.kind == SampleKind::AfterRepair);
        let noticed = row.kind == SampleKind::NoticedChange;
        if !(found || above || repaired || noticed) {
            continue;
        }
        let Some(track) = places.find(row.well, analyte) else { continue };
        all.noted.push(Noted { track, day: result.day, found, above, repaired, noticed });
        if above {
            all.over.push(Exceeding { track, well: row.well, analyte, result });
        }
    }
    all
}

/// What the health limits in force on each analyte are, by its number: looked up for every result.
struct Kinds(Vec<Vec<BenchmarkKind>>);

impl Kinds {
    fn new(limits: &Limits<'_>) -> Kinds {
        let most = limits.keys().map(|analyte| analyte.index() + 1).max().unwrap_or(0);
        let mut kinds = vec![Vec::new(); most];
        for (analyte, limits) in limits {
            kinds
                .get_mut(analyte.index())
                .into_iter()
                .for_each(|own| own.extend(limits.iter().map(|limit| limit.kind)));
        }
        Kinds(kinds)
    }

    /// Whether a result is above any of them.
    fn passed(&self, analyte: AnalyteId, interval: Interval) -> bool {
        let own = self.0.get(analyte.index()).into_iter().flatten();
        own.into_iter().any(|kind| judge(interval, *kind) == Verdict::Exceeding)
    }
}
