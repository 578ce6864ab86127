//! coarse-locations.csv (internal): what wells of a coarse location do to the comparison by land use: each band's rate without them
//! and with them, taken by the average over their discs. Internal, since the two differ by few wells.

use super::bands::{Banding, Coarse, banding};
use super::rows::LandUseRow;
use crate::place::Wells;
use crate::plan::{CoarseWells, Plan};

/// One band without the coarse wells and with them.
#[derive(Clone, Debug)]
pub struct CoarseRow {
    /// Without them.
    pub without: LandUseRow,
    /// With them.
    pub with: LandUseRow,
}

/// Land uses that have coarse wells, by number.
fn touched(plan: &Plan, wells: &Wells) -> impl Iterator<Item = usize> {
    (0..plan.land_use.len()).filter(|number| wells.coarse(*number) > 0)
}

/// The bands of every land use that has coarse wells, these taken the other way than the plan takes them.
pub(super) fn other_bandings(plan: &Plan, wells: &Wells) -> Vec<Banding> {
    let other = |number: usize| {
        let land_use = plan.land_use.get(number)?;
        let coarse = match land_use.coarse_wells {
            CoarseWells::LeaveOut => Coarse::With,
            CoarseWells::Average => Coarse::Without,
        };
        Some(banding(number, land_use, wells, coarse))
    };
    touched(plan, wells).filter_map(other).collect()
}

/// Rows of every land use that has coarse wells, from its rows as planned and those of `other_bandings`.
pub(super) fn rows(
    plan: &Plan,
    wells: &Wells,
    planned: &[Vec<LandUseRow>],
    other: Vec<Vec<LandUseRow>>,
) -> Vec<CoarseRow> {
    let mut rows = Vec::new();
    for (number, other) in touched(plan, wells).zip(other) {
        let with = plan.land_use.get(number).is_some_and(|one| one.coarse_wells == CoarseWells::Average);
        let planned = planned.get(number).into_iter().flatten().cloned();
        rows.extend(planned.zip(other).map(|(planned, other)| match with {
            true => CoarseRow { without: other, with: planned },
            false => CoarseRow { without: planned, with: other },
        }));
    }
    rows
}
