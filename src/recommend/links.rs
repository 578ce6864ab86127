//! Land uses around an area's wells that are linked to an analyte (`Dictionary::links`).
//!
//! A land use counts where the share of the area's wells in its high band reaches `recommend.linked_share`. It is known by its name in the
//! plan or, under another name, by its `kind`. What is linked to a land use that is present is advised on even where no well of the survey was
//! tested for it, as the table and the limits in force say, unless a yearly basic stands for it. Of a land use of several radii the first speaks.

use super::family::family;
use super::yearly_basics;
use crate::dictionary::{Advise, Benchmark, Dictionary, Effect, is_same_land_use};
use crate::ids::AnalyteId;
use crate::place::Wells;
use crate::plan::{LandUse, Measure, Plan};
use crate::problem::{Problems, nearest};
use crate::publish::number::text;
use std::collections::BTreeSet;

/// A land use present in an area.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// The word by which the table of links knows it, or would.
    pub kind: String,
    /// What its high band is, after "of its wells have": `farming on 40 % or more of the land within 500 m`.
    pub lies: String,
    /// Share of the area's wells in its high band.
    pub share: f64,
}

/// Every `kind` must be a word of the table.
///
/// # Errors
/// Each that is none, at its line of the plan.
pub fn known_kinds(plan: &Plan, dictionary: &Dictionary) -> Result<(), Problems> {
    let known = dictionary.links().land_uses();
    let mut problems = Problems::default();
    for land_use in &plan.land_use {
        let Some(word) = &land_use.of_kind else { continue };
        if known.iter().any(|known| is_same_land_use(word, known)) {
            continue;
        }
        let near = nearest(word, known.iter().copied()).map(|near| format!("did you mean \"{near}\"? "));
        let all: Vec<String> = known.iter().map(|word| format!("\"{word}\"")).collect();
        let wanted =
            format!("{}accepted, as the table of links has them: {}", near.unwrap_or_default(), all.join(", "));
        let key = format!("{}.kind", land_use.key);
        problems.push(plan.problem(&key, "unknown-word", format!("unknown word \"{word}\""), wanted));
    }
    problems.or(())
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
        let first = |at: usize, own: &LandUse| plan.land_use.iter().take(at).all(|before| before.family != own.family);
        let speaking = area.into_iter().zip(&plan.land_use).enumerate().filter(|(at, (_, own))| first(*at, own));
        let links = speaking.map(|(_, (count, own))| Link {
            kind: own.linked_as().to_owned(),
            lies: high_band(own),
            share: share(count),
        });
        links.filter(|link| link.share >= plan.recommend.linked_share).collect()
    };
    counts.into_iter().map(named).collect()
}

/// What it takes to lie in the high band.
fn high_band(land_use: &LandUse) -> String {
    let name = &land_use.family;
    let (lowest, highest) = (land_use.bands.first(), land_use.bands.last());
    let edge = |edge: Option<&f64>, scale: f64| edge.map_or_else(String::new, |edge| text(edge * scale));
    match &land_use.measure {
        Measure::Share { radius_m, .. } => {
            format!("{name} on {} % or more of the land within {} m", edge(highest, 100.0), text(*radius_m))
        }
        Measure::Nearest { .. } => format!("{name} nearer than {} m", edge(lowest, 1.0)),
        Measure::Density { radius_m, .. } => {
            format!("{name} at {} or more a km² within {} m", edge(highest, 1.0), text(*radius_m))
        }
    }
}

/// Those of the land uses present that are linked to the analyte.
pub fn of(dictionary: &Dictionary, analyte: AnalyteId, present: Option<&Vec<Link>>) -> Vec<Link> {
    let linked = dictionary.links().of(dictionary.analytes(), analyte);
    let is_linked = |link: &&Link| linked.iter().any(|word| is_same_land_use(&link.kind, word));
    present.into_iter().flatten().filter(is_linked).cloned().collect()
}

/// Analytes that any of the land uses present calls for, whether or not a well was tested for them.
pub fn wanted(dictionary: &Dictionary, benchmarks: &[Benchmark], present: &[Link]) -> BTreeSet<AnalyteId> {
    let health: BTreeSet<AnalyteId> = benchmarks
        .iter()
        .filter(|limit| limit.ranks && limit.lent_by.is_none())
        .filter(|limit| matches!(limit.effect, Effect::AcuteHealth | Effect::ChronicHealth))
        .map(|limit| limit.analyte)
        .collect();
    let links = dictionary.links().all().iter();
    let here = links.filter(|link| present.iter().any(|own| is_same_land_use(&own.kind, &link.land_use)));
    let all = here.filter(|link| match link.advise {
        Advise::Always => true,
        Advise::WithLimit => health.contains(&link.analyte),
        Advise::WhereTested => false,
    });
    // Nobody is to be sent for nitrate each year and, as another test, for nitrate plus nitrite.
    let basics = yearly_basics(dictionary);
    let stands_for_itself = |analyte: &AnalyteId| {
        let head = family(dictionary, *analyte);
        head == *analyte || !basics.contains(&head)
    };
    all.map(|link| link.analyte).filter(stands_for_itself).collect()
}
