//! coarse-locations.csv (internal): what wells of a coarse location do to the comparison by land use: each band's rate without them
//! and with them, taken by the average over their discs. Internal, since the two differ by few wells.

use super::bands::{Banding, Coarse, banding};
use super::land_use;
use super::rows::LandUseRow;
use crate::dictionary::Dictionary;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::Findings;

/// One band without the coarse wells and with them.
#[derive(Clone, Debug)]
pub struct CoarseRow {
    /// Without them.
    pub without: LandUseRow,
    /// With them.
    pub with: LandUseRow,
}

/// Rows of every land use that has coarse wells.
pub(super) fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Vec<CoarseRow> {
    let touched: Vec<usize> = (0..plan.land_use.len()).filter(|number| wells.coarse(*number) > 0).collect();
    let as_if = |coarse: Coarse| -> Vec<LandUseRow> {
        let bandings: Vec<Banding> = touched
            .iter()
            .filter_map(|number| Some(banding(*number, plan.land_use.get(*number)?, wells, coarse)))
            .collect();
        let ground = land_use::Ground { plan, dictionary, findings, wells };
        land_use::rows(ground, &bandings, survey)
    };
    if touched.is_empty() {
        return Vec::new();
    }
    let (without, with) = rayon::join(|| as_if(Coarse::Without), || as_if(Coarse::With));
    without.into_iter().zip(with).map(|(without, with)| CoarseRow { without, with }).collect()
}
