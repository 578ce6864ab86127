//! quality.csv: checks of the survey's own data, each with how many failed.

use super::Findings;
use super::rows::{QualityRow, Scope};
use crate::dictionary::Dictionary;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;

/// Every check, in a fixed order.
pub fn quality(plan: &Plan, dictionary: &Dictionary, wells: &Wells, survey: &Survey, findings: &Findings) -> Vec<QualityRow> {
    let located = wells.ids().filter(|well| wells.xy(*well).is_some()).count() as u64;
    let placed = wells.ids().filter(|well| wells.area(*well).is_some()).count() as u64;
    let listed = wells.len() as u64;
    let accounting = &survey.accounting;
    let mut rows = vec![
        row("results usable", "all results", accounting.read(), accounting.read() - accounting.used(), "not used: see the accounting"),
        row("location usable", "listed wells", listed, listed - located, "missing, impossible or contradictory coordinates"),
        row("inside an area", "wells with a location", located, located - placed, "no area holds them"),
    ];
    for (number, land_use) in plan.land_use.iter().enumerate() {
        let note = "location too coarse for this measure: left out of its comparison";
        rows.push(row("location fine enough", &land_use.name, located, wells.left_out(number), note));
    }
    rows.extend(limits_low_enough(dictionary, findings));
    rows
}

fn row(check: &'static str, subject: &str, tested: u64, failed: u64, note: &str) -> QualityRow {
    QualityRow { check, subject: subject.to_owned(), tested, failed, note: note.to_owned() }
}

/// Wells whose result allows both: their laboratory could not see as low as the limit.
fn limits_low_enough(dictionary: &Dictionary, findings: &Findings) -> Vec<QualityRow> {
    let region = findings.exceedance.iter().filter(|row| row.scope == Scope::Region && row.undetermined > 0);
    region
        .map(|r| {
            let subject = format!("{} against {} ({})", dictionary.analytes().id(r.analyte), r.set, r.effect);
            let note = "the result allows both: detection limit above the benchmark, or no number";
            row("result tells the side of the limit", &subject, r.wells.into(), r.undetermined.into(), note)
        })
        .collect()
}
