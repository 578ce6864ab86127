//! From numbers to what to do: advice by area, where to go first, whom to call, whose retest is due.
//!
//! Comes in: findings, comparison, survey and wells. Goes out: `Advice`. No new statistics are made here; a chance comes
//! from the smoothed posterior. The advice is general and defers to the local health authority everywhere.

mod advice;
mod follow_up;
mod outreach;
mod prices;
mod retest;
mod rows;

pub(crate) use outreach::sampled;
pub use rows::{AdviceRow, FollowUpRow, OutreachRow, RetestRow};

use crate::dictionary::Dictionary;
use crate::files::Inputs;
use crate::ids::AnalyteId;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::problem::Problems;
use crate::summarise::Findings;

/// What to do.
#[derive(Debug, Default)]
pub struct Advice {
    /// recommend.csv
    pub areas: Vec<AdviceRow>,
    /// outreach.csv
    pub outreach: Vec<OutreachRow>,
    /// follow-up.csv
    pub follow_up: Vec<FollowUpRow>,
    /// retest.csv
    pub retest: Vec<RetestRow>,
}

/// Makes all advice.
///
/// # Errors
/// A price list or an event's outline that cannot be read; a disk that fails.
pub fn recommend(
    plan: &Plan,
    dictionary: &Dictionary,
    inputs: &Inputs,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Advice, Problems> {
    let prices = prices::read(plan, dictionary, inputs)?;
    let events = retest::outlines(plan, inputs, wells)?;
    let ((areas, outreach), (follow_up, retest)) = rayon::join(
        || {
            let areas = advice::rows(plan, dictionary, &prices, wells, findings);
            (areas, outreach::rows(plan, dictionary, wells, survey, findings))
        },
        || {
            rayon::join(
                || follow_up::rows(dictionary, wells, survey, findings),
                || retest::rows(dictionary, wells, survey, findings, &events),
            )
        },
    );
    Ok(Advice { areas, outreach, follow_up: follow_up?, retest })
}

/// Reads what the advice will need, so that a fault shows before the results are read, and in `check`.
///
/// # Errors
/// Every problem of the price list and the events' outlines.
pub fn vet(plan: &Plan, dictionary: &Dictionary, inputs: &Inputs, wells: &Wells) -> Result<(), Problems> {
    let mut problems = Problems::default();
    problems.keep(prices::read(plan, dictionary, inputs).map(|_| ()));
    problems.keep(retest::outlines(plan, inputs, wells).map(|_| ()));
    problems.or(())
}

/// The analytes of the yearly basics (common practice, no source).
const YEARLY_BASICS: [&str; 4] = ["total_coliform", "e_coli", "nitrate_as_n", "total_dissolved_solids"];

/// Ids of the yearly basics.
fn yearly_basics(dictionary: &Dictionary) -> Vec<AnalyteId> {
    YEARLY_BASICS.iter().filter_map(|id| dictionary.analytes().find(id)).collect()
}
