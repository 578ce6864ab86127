//! Land uses around an area's wells that the dictionary links to an analyte.
//!
//! A land use counts where the share of the area's wells in its high band reaches `recommend.linked_share`. It is known by its name in the
//! plan (farming, fuel, septic, industry, plumbing, natural) or, under another name, by its `kind`. Analytes linked to a land use that is
//! present, with a health limit in force, are advised on even where no well of the survey was tested for them.

use crate::dictionary::{Benchmark, Dictionary, Effect};
use crate::ids::AnalyteId;
use crate::place::Wells;
use crate::plan::Plan;
use std::collections::BTreeSet;

/// A land use present in an area.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Its name in the plan.
    pub land_use: String,
    /// The word by which the dictionary links it.
    pub kind: String,
    /// Share of the area's wells in its high band.
    pub share: f64,
}

/// For each area, the land uses whose high band holds enough of its wells.
pub fn present(plan: &Plan, wells: &Wells) -> Vec<Vec<Link>> {
    let mut counts = vec![vec![(0u32, 0u32); plan.land_use.len()]; wells.areas().len()];
    for (number, banding) in crate::compare::bandings(plan, wells).iter().enumerate() {
        let top = banding.bands.len().saturating_sub(1);
        for (well, band) in wells.ids().zip(&banding.of_well) {
            let area = wells.area(well).and_then(|area| counts.get_mut(area.index()));
            if let (Some((high, all)), Some(band)) = (area.and_then(|a| a.get_mut(number)), band) {
                *all += 1;
                *high += u32::from(usize::from(*band) == top);
            }
        }
    }
    let share = |(high, all): (u32, u32)| if all == 0 { 0.0 } else { f64::from(high) / f64::from(all) };
    let named = |area: Vec<(u32, u32)>| {
        let links = area.into_iter().zip(&plan.land_use);
        let links = links.map(|(count, land_use)| Link {
            land_use: land_use.family.clone(),
            kind: land_use.linked_as().to_owned(),
            share: share(count),
        });
        links.filter(|link| link.share >= plan.recommend.linked_share).collect()
    };
    counts.into_iter().map(named).collect()
}

/// Those of the land uses present that the dictionary links to the analyte.
pub fn of(dictionary: &Dictionary, analyte: AnalyteId, present: Option<&Vec<Link>>) -> Vec<Link> {
    let linked = dictionary.analytes().get(analyte).map(|entry| entry.landuse_links.as_slice()).unwrap_or_default();
    let is_linked = |link: &&Link| linked.contains(&link.kind);
    present.into_iter().flatten().filter(is_linked).cloned().collect()
}

/// Analytes with a health limit in force that the dictionary links to any of the land uses present.
pub fn wanted(dictionary: &Dictionary, benchmarks: &[Benchmark], present: &[Link]) -> BTreeSet<AnalyteId> {
    let health = |limit: &&Benchmark| {
        limit.ranks && limit.lent_by.is_none() && matches!(limit.effect, Effect::AcuteHealth | Effect::ChronicHealth)
    };
    let linked = |analyte: &AnalyteId| {
        let entry = dictionary.analytes().get(*analyte);
        entry.is_some_and(|entry| present.iter().any(|link| entry.landuse_links.contains(&link.kind)))
    };
    benchmarks.iter().filter(health).map(|limit| limit.analyte).filter(linked).collect()
}
