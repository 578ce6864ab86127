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

/// The advice by area alone, for a further layer of areas.
///
/// # Errors
/// A price list that cannot be read.
pub fn by_area(
    plan: &Plan,
    dictionary: &Dictionary,
    inputs: &Inputs,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Advice, Problems> {
    let prices = prices::read(plan, dictionary, inputs)?;
    let areas = advice::rows(plan, dictionary, &prices, wells, findings);
    let outreach = outreach::rows(plan, dictionary, wells, survey, findings);
    Ok(Advice { areas, outreach, ..Advice::default() })
}

/// The analytes of the yearly basics (common practice, no source).
const YEARLY_BASICS: [&str; 4] = ["total_coliform", "e_coli", "nitrate_as_n", "total_dissolved_solids"];

/// Ids of the yearly basics.
fn yearly_basics(dictionary: &Dictionary) -> Vec<AnalyteId> {
    YEARLY_BASICS.iter().filter_map(|id| dictionary.analytes().find(id)).collect()
}
