//! recommend.csv: for each area and analyte, what an extension agent can advise, and why.
//!
//! The rule, in order: the yearly basics are advised everywhere; an analyte of which the area is of concern is to be
//! tested now; one of which the evidence can say neither yes nor no is to be sampled more first; one that the
//! dictionary links to a land use around the area's wells is to be tested once and then every 3 to 5 years; for the rest
//! there is no local reason beyond the standard panel. An analyte whose area is likely above a limit that is not about health
//! is treated like a linked one. What is standard is common practice, no source.

use super::prices::Prices;
use super::rows::AdviceRow;
use super::yearly_basics;
use crate::dictionary::{BenchmarkKind, Dictionary, KitRating};
use crate::ids::{AnalyteId, AreaId};
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{ExceedanceRow, Findings, Scope};
use std::collections::{BTreeMap, BTreeSet};

/// Share of an area's wells in the high band of a land use from which its linked analytes are advised.
const LINKED_SHARE: f64 = 0.1;
/// Wells below which evidence is thin, and from which it is good (common practice, no source).
const THIN: u32 = 10;
/// See `THIN`.
const GOOD: u32 = 30;

/// Rows by area and then analyte.
pub fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    prices: &Prices,
    wells: &Wells,
    findings: &Findings,
) -> Vec<AdviceRow> {
    let basics: BTreeSet<AnalyteId> = yearly_basics(dictionary).into_iter().collect();
    let judged = strictest(findings);
    let mut analytes: BTreeSet<AnalyteId> = judged.keys().map(|(_, analyte)| *analyte).collect();
    analytes.extend(&basics);
    let exposure = exposure(plan, wells);
    (0..wells.areas().len() as u32)
        .map(AreaId)
        .flat_map(|area| analytes.iter().map(move |analyte| (area, *analyte)))
        .map(|(area, analyte)| {
            let links = links(dictionary, analyte, exposure.get(area.index()));
            let row = judged.get(&(area, analyte)).copied();
            one(plan, dictionary, prices, &basics, area, analyte, row, &links)
        })
        .collect()
}

/// For each area and analyte the limit that gives most cause for concern: a health limit where there is one, the one
/// with the highest chance among those.
fn strictest(findings: &Findings) -> BTreeMap<(AreaId, AnalyteId), &ExceedanceRow> {
    let mut best: BTreeMap<(AreaId, AnalyteId), &ExceedanceRow> = BTreeMap::new();
    for row in &findings.exceedance {
        let Scope::Area(area) = row.scope else { continue };
        let weight = |r: &ExceedanceRow| (r.is_health(), r.chance_of_concern.unwrap_or(-1.0));
        let entry = best.entry((area, row.analyte)).or_insert(row);
        if weight(row) > weight(entry) {
            *entry = row;
        }
    }
    best
}

/// For each area, the land uses whose high band holds at least `LINKED_SHARE` of its wells, with that share.
fn exposure(plan: &Plan, wells: &Wells) -> Vec<Vec<(String, f64)>> {
    let mut counts = vec![vec![(0u32, 0u32); plan.land_use.len()]; wells.areas().len()];
    for (number, banding) in crate::compare::bandings(plan, wells).iter().enumerate() {
        let top = banding.bands.len().saturating_sub(1);
        for (well, band) in wells.ids().zip(&banding.of_well) {
            let area = wells.area(well).and_then(|area| counts.get_mut(area.index()));
            if let (Some(area), Some(band)) = (area.and_then(|a| a.get_mut(number)), band) {
                area.1 += 1;
                area.0 += u32::from(usize::from(*band) == top);
            }
        }
    }
    let share = |(high, all): (u32, u32)| if all == 0 { 0.0 } else { f64::from(high) / f64::from(all) };
    let named = |area: Vec<(u32, u32)>| {
        let shares =
            area.into_iter().zip(&plan.land_use).map(|(count, land_use)| (land_use.family.clone(), share(count)));
        shares.filter(|(_, share)| *share >= LINKED_SHARE).collect()
    };
    counts.into_iter().map(named).collect()
}

/// The land uses present that the dictionary links to the analyte.
fn links(dictionary: &Dictionary, analyte: AnalyteId, present: Option<&Vec<(String, f64)>>) -> Vec<(String, f64)> {
    let linked = dictionary.analytes().get(analyte).map(|entry| entry.landuse_links.as_slice()).unwrap_or_default();
    let is_linked = |name: &str| linked.iter().any(|link| link == name);
    present.into_iter().flatten().filter(|(name, _)| is_linked(name)).cloned().collect()
}

#[expect(clippy::too_many_arguments, reason = "one row is made of all that is known about it")]
fn one(
    plan: &Plan,
    dictionary: &Dictionary,
    prices: &Prices,
    basics: &BTreeSet<AnalyteId>,
    area: AreaId,
    analyte: AnalyteId,
    row: Option<&ExceedanceRow>,
    links: &[(String, f64)],
) -> AdviceRow {
    let wells = row.map_or(0, |r| r.wells);
    let chance = row.and_then(|r| r.chance_of_concern);
    let evidence = evidence(wells);
    let (advice, how_often) = decide(plan, basics.contains(&analyte), row, evidence, links);
    AdviceRow {
        area,
        analyte,
        advice,
        where_tested: where_tested(dictionary, analyte),
        how_often,
        chance_of_concern: chance,
        expected_per_100: row.and_then(|r| r.smoothed).map(|rate| rate * 100.0),
        wells,
        evidence,
        because: because(plan, dictionary, basics.contains(&analyte), analyte, row, links),
        price: prices.analytes.get(&analyte).copied(),
    }
}

fn evidence(wells: u32) -> &'static str {
    match wells {
        0 => "none",
        1..THIN => "thin",
        THIN..GOOD => "fair",
        _ => "good",
    }
}

fn decide(
    plan: &Plan,
    basic: bool,
    row: Option<&ExceedanceRow>,
    evidence: &str,
    links: &[(String, f64)],
) -> (&'static str, &'static str) {
    let chance = row.and_then(|r| r.chance_of_concern).unwrap_or(0.0);
    let health = row.is_some_and(ExceedanceRow::is_health);
    let concern = health && chance >= plan.recommend.confidence;
    let nuisance = !health && chance >= plan.recommend.confidence;
    let unclear = health && chance > 1.0 - plan.recommend.confidence && matches!(evidence, "none" | "thin");
    match () {
        () if concern && basic => ("test now", "then every year"),
        () if concern => ("test now", "then every 3 to 5 years"),
        () if basic => ("test yearly", "every year"),
        () if unclear => ("sample more first", "until the area's rate is clearer"),
        () if !links.is_empty() || nuisance => ("test once, then every 3 to 5 years", "every 3 to 5 years"),
        () => ("no local reason beyond the standard panel", "with the panel, every 3 to 5 years"),
    }
}

fn where_tested(dictionary: &Dictionary, analyte: AnalyteId) -> &'static str {
    match dictionary.analytes().get(analyte).map(|entry| entry.kit) {
        Some(KitRating::Yes) => "kit adequate; certified laboratory to confirm",
        Some(KitRating::Screening) => "certified laboratory; a kit only screens",
        Some(KitRating::No) | None => "certified laboratory",
    }
}

/// One sentence that names the numbers.
fn because(
    plan: &Plan,
    dictionary: &Dictionary,
    basic: bool,
    analyte: AnalyteId,
    row: Option<&ExceedanceRow>,
    links: &[(String, f64)],
) -> String {
    let mut parts = Vec::new();
    if basic {
        parts.push("part of the yearly basics (common practice)".to_owned());
    }
    match row {
        Some(row) if row.wells > 0 => parts.push(numbers(plan, dictionary, analyte, row)),
        _ => parts.push("no well of this area has a usable result".to_owned()),
    }
    if row.is_some_and(|row| !row.is_health()) {
        parts.push("the limit is about taste, stains or pipes, or not for everybody".to_owned());
    }
    for (name, share) in links {
        parts.push(format!("{} of its wells lie in the high band of {name}", percent(*share)));
    }
    capitalised(&format!("{}.", parts.join("; ")))
}

fn numbers(plan: &Plan, dictionary: &Dictionary, analyte: AnalyteId, row: &ExceedanceRow) -> String {
    let known = row.exceeding + row.meeting;
    if known == 0 {
        return format!("none of {} results tells on which side of the limit it is", row.wells);
    }
    let was = if row.exceeding == 1 { "was" } else { "were" };
    let over = match row.kind {
        BenchmarkKind::Absent => "had it present".to_owned(),
        BenchmarkKind::Range { low, high } => format!("{was} outside {low} to {high} ({})", row.set),
        BenchmarkKind::Max { limit } => {
            format!(
                "{was} above {} {} ({})",
                crate::publish::number::text(limit),
                dictionary.unit_text(analyte),
                row.set
            )
        }
    };
    let chance = row
        .chance_of_concern
        .map(|chance| {
            format!(
                "; chance that the true rate is above {}: {}",
                percent(plan.recommend.concern_rate),
                chance_words(chance)
            )
        })
        .unwrap_or_default();
    format!("{} of {known} wells {over}{chance}", row.exceeding)
}

/// A share in words: whole percents.
pub(super) fn percent(share: f64) -> String {
    match share * 100.0 {
        p if p <= 0.0 => "0 %".to_owned(),
        p if p < 1.0 => "under 1 %".to_owned(),
        p if p > 99.0 && p < 100.0 => "over 99 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

/// A chance in words: as a share, but never a certainty.
fn chance_words(chance: f64) -> String {
    percent(chance.clamp(0.001, 0.999))
}

fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}
