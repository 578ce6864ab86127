//! outreach.csv: where to go first, by the expected number of wells on record that are over a health limit.
//!
//! An analyte's chance is the smoothed rate of its worst health limit. Close relatives (bacteria; a metal and its
//! first-draw stratum) count once, by the worst of them; the others are combined as if independent, which overstates the
//! number a little where contaminants go together. The interval is carried through by the delta method on the
//! log-odds scale.

use super::advice::percent;
use super::rows::OutreachRow;
use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, AreaId};
use crate::methods::special::two_sided_z;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{ExceedanceRow, Findings, Scope};
use std::collections::BTreeMap;

/// Areas, the first to go to first. Areas without wells on record stand last.
pub fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Vec<OutreachRow> {
    let sampled = sampled(wells, survey);
    let mut rows: Vec<OutreachRow> = (0..wells.areas().len() as u32)
        .map(AreaId)
        .map(|area| {
            let worst = worst_by_family(dictionary, findings, area);
            row(plan, dictionary, wells, area, sampled.get(area.index()).copied().unwrap_or(0), &worst)
        })
        .collect();
    rows.sort_by(|a, b| {
        let weight = |row: &OutreachRow| row.expected_wells_over.unwrap_or(-1.0);
        weight(b).total_cmp(&weight(a)).then(a.area.cmp(&b.area))
    });
    for (row, rank) in rows.iter_mut().zip(1..) {
        row.rank = rank;
    }
    rows
}

/// Wells of each area with any used result.
pub(crate) fn sampled(wells: &Wells, survey: &Survey) -> Vec<u32> {
    let mut seen = vec![false; wells.len()];
    let mut counts = vec![0u32; wells.areas().len()];
    for value in &survey.values {
        let Some(mark) = seen.get_mut(value.well.index()) else { continue };
        if !std::mem::replace(mark, true)
            && let Some(count) = wells.area(value.well).and_then(|area| counts.get_mut(area.index()))
        {
            *count += 1;
        }
    }
    counts
}

/// Each family's row with the highest smoothed rate among health limits.
fn worst_by_family<'f>(
    dictionary: &Dictionary,
    findings: &'f Findings,
    area: AreaId,
) -> BTreeMap<AnalyteId, &'f ExceedanceRow> {
    let mut worst: BTreeMap<AnalyteId, &ExceedanceRow> = BTreeMap::new();
    let own = findings.exceedance.iter().filter(|row| row.scope == Scope::Area(area) && row.is_health());
    for row in own.filter(|row| row.smoothed.is_some()) {
        let entry = worst.entry(family(dictionary, row.analyte)).or_insert(row);
        if row.smoothed > entry.smoothed {
            *entry = row;
        }
    }
    worst
}

/// The analyte that stands for a family of close relatives.
fn family(dictionary: &Dictionary, analyte: AnalyteId) -> AnalyteId {
    let Some(entry) = dictionary.analytes().get(analyte) else { return analyte };
    let bacteria = entry.is_microbial().then(|| dictionary.analytes().find("total_coliform")).flatten();
    let sum = (entry.id == "nitrate_plus_nitrite_as_n").then(|| dictionary.analytes().find("nitrate_as_n")).flatten();
    bacteria.or(sum).unwrap_or_else(|| dictionary.analytes().whole(analyte))
}

fn row(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    area: AreaId,
    sampled: u32,
    worst: &BTreeMap<AnalyteId, &ExceedanceRow>,
) -> OutreachRow {
    let on_record = wells.areas().wells_on_record(area);
    let rate = any_of(worst, plan.summary.interval);
    let leading = worst.values().max_by(|a, b| a.smoothed.unwrap_or(0.0).total_cmp(&b.smoothed.unwrap_or(0.0)));
    let scaled = |share: f64| on_record.map(|count| share * f64::from(count));
    OutreachRow {
        rank: 0,
        area,
        wells_on_record: on_record,
        wells_sampled: sampled,
        share_sampled: on_record.filter(|n| *n > 0).map(|n| f64::from(sampled) / f64::from(n)),
        expected_wells_over: rate.and_then(|(mean, _, _)| scaled(mean)),
        expected_interval: rate.and_then(|(_, low, high)| scaled(low).zip(scaled(high))),
        leading: leading.map(|row| row.analyte),
        because: because(dictionary, on_record, sampled, rate, leading.copied()),
    }
}

/// Chance that a well is over any health limit: mean, low, high.
fn any_of(worst: &BTreeMap<AnalyteId, &ExceedanceRow>, level: f64) -> Option<(f64, f64, f64)> {
    let z = two_sided_z(level)?;
    let parts: Vec<(f64, f64)> = worst
        .values()
        .filter_map(|row| {
            let (low, high) = row.smoothed_interval?;
            let spread = (high - low) / (2.0 * z);
            Some((row.smoothed?, spread * spread))
        })
        .collect();
    if parts.is_empty() {
        return None;
    }
    let none: f64 = parts.iter().fold(1.0, |product, (mean, _)| product * (1.0 - mean));
    let variance = parts.iter().fold(0.0, |sum, (mean, variance)| {
        let others = none / (1.0 - mean).max(f64::EPSILON);
        sum + others * others * variance
    });
    let (low, high) = on_log_odds(1.0 - none, variance.sqrt(), z);
    Some((1.0 - none, low, high))
}

fn on_log_odds(share: f64, error: f64, z: f64) -> (f64, f64) {
    if share <= 0.0 || share >= 1.0 {
        return (share, share);
    }
    let centre = libm::log(share / (1.0 - share));
    let reach = z * error / (share * (1.0 - share));
    let back = |x: f64| 1.0 / (1.0 + libm::exp(-x));
    (back(centre - reach), back(centre + reach))
}

fn because(
    dictionary: &Dictionary,
    on_record: Option<u32>,
    sampled: u32,
    rate: Option<(f64, f64, f64)>,
    leading: Option<&ExceedanceRow>,
) -> String {
    let Some((mean, low, high)) = rate else { return "No area rate could be estimated.".to_owned() };
    let record = on_record.map_or("An unknown number of".to_owned(), |n| n.to_string());
    let lead = leading
        .and_then(|row| Some((dictionary.analytes().get(row.analyte)?, row.smoothed?)))
        .map(|(entry, rate)| format!("; {} leads with {}", entry.display_name, percent(rate)))
        .unwrap_or_default();
    format!(
        "{record} private wells on record, {sampled} sampled; {} ({} to {}) expected over a health limit{lead}.",
        percent(mean),
        percent(low),
        percent(high)
    )
}
