//! Close relatives that count once: bacteria; a metal and its first-draw stratum; nitrate with and without nitrite.

use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, AreaId};
use crate::summarise::{ExceedanceRow, Findings, Scope};
use std::collections::BTreeMap;

/// Nitrate with nitrite, in two ways to add them.
const SUMS_OF_NITRATE: [&str; 2] = ["nitrate_plus_nitrite_as_n", "nitrate_nitrite_ratio_sum"];

/// The analyte that stands for a family of close relatives.
pub fn family(dictionary: &Dictionary, analyte: AnalyteId) -> AnalyteId {
    let Some(entry) = dictionary.analytes().get(analyte) else { return analyte };
    let bacteria = entry.is_microbial().then(|| dictionary.analytes().find("total_coliform")).flatten();
    let is_sum = SUMS_OF_NITRATE.contains(&entry.id.as_str());
    let sum = is_sum.then(|| dictionary.analytes().find("nitrate_as_n")).flatten();
    bacteria.or(sum).unwrap_or_else(|| dictionary.analytes().whole(analyte))
}

/// For each area and family the row with the highest smoothed rate among health limits.
pub fn worst<'f>(
    dictionary: &Dictionary,
    findings: &'f Findings,
) -> BTreeMap<AreaId, BTreeMap<AnalyteId, &'f ExceedanceRow>> {
    let mut worst: BTreeMap<AreaId, BTreeMap<AnalyteId, &ExceedanceRow>> = BTreeMap::new();
    for row in findings.exceedance.iter().filter(|row| row.is_health() && row.smoothed.is_some()) {
        let Scope::Area(area) = row.scope else { continue };
        let entry = worst.entry(area).or_default().entry(family(dictionary, row.analyte)).or_insert(row);
        if row.smoothed > entry.smoothed {
            *entry = row;
        }
    }
    worst
}
