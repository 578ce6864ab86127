//! From numbers to what to do: advice by area, tests for a budget, where to go and sample first, whom to call, whose retest is due.
//!
//! Comes in: findings, survey, wells and the plan's tables. Goes out: `Advice`. Chances come from the smoothed posteriors of
//! `summarise`. The advice is general and defers to the local health authority everywhere.

mod advice;
mod because;
mod draws;
mod due;
mod evidence;
mod family;
mod follow_up;
mod history;
mod links;
mod more_wells;
mod outreach;
mod over;
mod panel;
mod parts;
mod prices;
mod retest;
mod rows;
mod rules;
mod sample_next;
mod trend_words;
mod walk;
pub(crate) mod words;

pub use advice::Advised;
pub use draws::Draws;
pub use due::Due;
pub use follow_up::FollowUps;
pub(crate) use follow_up::{limit_text, result_text};
pub(crate) use outreach::{sampled, set_ranks, with_result};
pub use panel::Panels;
pub use prices::Prices;
pub use retest::Retests;
pub use rows::{AdviceRow, FollowUpRow, InBudget, OutreachRow, PanelRow, RetestRow, SampleNextRow, Urgency};
pub use rules::Rules;

use crate::dictionary::Dictionary;
use crate::files::Inputs;
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::problem::Problems;
use crate::summarise::Findings;
use parts::Parts;
use rayon::prelude::*;

/// What to do.
#[derive(Debug, Default)]
pub struct Advice {
    /// recommend.csv
    pub areas: Vec<AdviceRow>,
    /// What panel.csv is chosen from.
    pub panels: Panels,
    /// outreach.csv
    pub outreach: Vec<OutreachRow>,
    /// The draws behind its intervals and ranks.
    pub draws: Draws,
    /// follow-up.csv
    pub follow_up: FollowUps,
    /// retest.csv
    pub retest: Retests,
    /// sample-next.csv
    pub sample_next: Vec<SampleNextRow>,
    /// Each row of trend.csv in plain words.
    pub trend_words: Vec<String>,
}

/// The county's own tables that advice is made from.
#[derive(Debug, Default)]
pub struct Tables {
    /// Price list.
    pub prices: Prices,
    /// When a test is due again.
    pub rules: Rules,
}

/// Reads the price list and the rules of retests; the kinds of the plan's land uses must be words of the table of links.
///
/// # Errors
/// Every fault of them, with its line.
pub fn tables(plan: &Plan, dictionary: &Dictionary, inputs: &Inputs) -> Result<Tables, Problems> {
    let mut problems = Problems::default();
    problems.keep(links::known_kinds(plan, dictionary));
    let prices = problems.keep(prices::read(plan, dictionary, inputs));
    let rules = problems.keep(match &plan.recommend.retest_rules {
        None => Rules::built_in(dictionary),
        Some(path) => inputs.read(path).map_err(Problems::from).and_then(|bytes| {
            let rules = Rules::parse(dictionary, path, &String::from_utf8_lossy(&bytes))?;
            inputs.count_rows(path, rules.0.len() as u64);
            Ok(rules)
        }),
    });
    problems.or(Tables { prices: prices.unwrap_or_default(), rules: rules.unwrap_or_default() })
}

/// Makes all advice.
///
/// # Errors
/// A table or an event's outline that cannot be read; a disk that fails.
pub fn recommend(
    plan: &Plan,
    dictionary: &Dictionary,
    inputs: &Inputs,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Advice, Problems> {
    let Tables { prices, rules } = tables(plan, dictionary, inputs)?;
    let events = retest::outlines(plan, inputs, wells)?;
    let limits = follow_up::health_limits(&findings.benchmarks);
    let parts = parts(wells);
    let by_area = || {
        let evidence = evidence::all(wells, survey, &parts);
        let in_region = advice::in_region(findings);
        let ground = advice::Ground { plan, dictionary, prices: &prices, findings, evidence: &evidence, in_region };
        let advice = || {
            rayon::join(|| advice::rows(&ground, wells), || outreach::rows(plan, dictionary, wells, survey, findings))
        };
        rayon::join(advice, || sample_next::rows(wells, survey, &parts))
    };
    let by_well = || {
        let (history, over) = walk::walk(wells, survey, &limits)?;
        let over = over.with_newest(plan.per_well.choose, survey, &history)?;
        let follow_up = FollowUps::of(dictionary, wells, findings.as_of, &limits, over);
        Ok::<_, Problems>((follow_up, history))
    };
    let (((areas, (outreach, draws)), sample_next), by_well) = rayon::join(by_area, by_well);
    let (follow_up, history) = by_well?;
    let retest = Retests::new(rules, events, findings.as_of, history);
    let trend_words = findings.trends.iter().map(|row| trend_words::trend_words(dictionary, row)).collect();
    let panels = Panels::of(dictionary, prices, plan.recommend.budget, findings);
    Ok(Advice { areas, panels, outreach, draws, follow_up, retest, sample_next, trend_words })
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

/// The advice by area alone: for a further layer of areas, or once more from findings of which some are hidden.
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
    let Tables { prices, .. } = tables(plan, dictionary, inputs)?;
    let evidence = evidence::all(wells, survey, &parts(wells));
    let in_region = advice::in_region(findings);
    let ground = advice::Ground { plan, dictionary, prices: &prices, findings, evidence: &evidence, in_region };
    let areas = advice::rows(&ground, wells);
    let (outreach, draws) = outreach::rows(plan, dictionary, wells, survey, findings);
    let trend_words = findings.trends.iter().map(|row| trend_words::trend_words(dictionary, row)).collect();
    let panels = Panels::of(dictionary, prices, plan.recommend.budget, findings);
    Ok(Advice { areas, outreach, draws, trend_words, panels, ..Advice::default() })
}

/// Nine parts of each area.
fn parts(wells: &Wells) -> Vec<Option<Parts>> {
    let areas = u32::try_from(wells.areas().len()).unwrap_or(u32::MAX);
    (0..areas).into_par_iter().map(|area| Parts::of(wells.areas(), AreaId(area))).collect()
}

/// The analytes of the yearly basics (common practice, no source).
const YEARLY_BASICS: [&str; 4] = ["total_coliform", "e_coli", "nitrate_as_n", "total_dissolved_solids"];

/// Ids of the yearly basics.
pub(crate) fn yearly_basics(dictionary: &Dictionary) -> Vec<AnalyteId> {
    YEARLY_BASICS.iter().filter_map(|id| dictionary.analytes().find(id)).collect()
}
