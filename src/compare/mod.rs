//! Values against the land around the wells: bands of each measure, and all measures together.
//!
//! Comes in: the reduced survey, the placed wells and the limits in force. Goes out: `Comparison`. A test that the data
//! cannot support is empty, with its reason in the row's notes. Association is not cause, and the report says so.

mod bands;
mod borders;
mod case;
mod coarse;
mod hot_spots;
mod land_use;
mod model;
mod neighbours_alike;
mod periods;
mod radii;
mod residuals;
mod rows;

pub use bands::{Band, Banding, bandings};
pub use coarse::CoarseRow;
pub use hot_spots::HotSpot;
pub use periods::PeriodRow;
pub use radii::RadiiRow;
pub use rows::{LandUseRow, ModelRow};

use crate::ids::AnalyteId;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::problem::Problem;
use crate::summarise::Findings;

/// What land use has to do with the values.
#[derive(Debug, Default)]
pub struct Comparison {
    /// land-use.csv
    pub land_use: Vec<LandUseRow>,
    /// land-use-model.csv
    pub model: Vec<ModelRow>,
    /// hot-spots.csv
    pub hot_spots: Vec<HotSpot>,
    /// period.csv; empty unless the plan names two periods
    pub periods: Vec<PeriodRow>,
    /// radii.csv
    pub radii: Vec<RadiiRow>,
    /// coarse-locations.csv (internal)
    pub coarse: Vec<CoarseRow>,
}

/// Makes anew what one row of a comparison owes to others, once rows were emptied: adjusted p-values, several radii together, and the test of
/// neighbours for the analytes that `touched` names, from `findings`.
pub fn made_anew(
    comparison: &mut Comparison,
    plan: &Plan,
    wells: &Wells,
    findings: &Findings,
    touched: impl Fn(AnalyteId) -> bool + Sync,
) {
    comparison.land_use.chunk_by_mut(|a, b| a.land_use == b.land_use).for_each(land_use::adjust);
    model::adjust(&mut comparison.model);
    periods::adjust(&mut comparison.periods);
    comparison.radii = radii::rows(plan, &comparison.land_use);
    comparison.hot_spots.retain(|spot| !touched(spot.analyte));
    comparison.hot_spots.extend(hot_spots::rows(plan, wells, findings, touched));
    comparison.hot_spots.sort_by_key(|spot| spot.analyte); // stable: limits and areas stay in their order
}

/// Compares every analyte by every land use, and the plan's two periods.
///
/// # Errors
/// A disk that fails.
pub fn compare(
    plan: &Plan,
    dictionary: &crate::dictionary::Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Comparison, Problem> {
    let ground = land_use::Ground { plan, dictionary, findings, wells };
    // The model takes longest, and its last fits leave threads idle: the others fill them.
    let others = || (by_land_use(ground, survey), hot_spots::rows(plan, wells, findings, |_| true));
    let (model, ((land_use, coarse), hot_spots)) = rayon::join(|| model::rows(plan, wells, survey, findings), others);
    Ok(Comparison {
        radii: radii::rows(plan, &land_use),
        coarse,
        land_use,
        model,
        hot_spots,
        periods: periods::rows(plan, wells, survey, findings)?,
    })
}

/// land-use.csv and coarse-locations.csv.
fn by_land_use(ground: land_use::Ground<'_>, survey: &Survey) -> (Vec<LandUseRow>, Vec<CoarseRow>) {
    let land_uses = ground.plan.land_use.len();
    let mut bandings = bandings(ground.plan, ground.wells);
    bandings.extend(coarse::other_bandings(ground.plan, ground.wells));
    let mut rows = land_use::rows(ground, &bandings, survey);
    let other = rows.split_off(land_uses.min(rows.len()));
    let coarse = coarse::rows(ground.plan, ground.wells, &rows, other);
    (rows.concat(), coarse)
}
