//! The sentence that says why: parts with numbers, each of which stands in a table too.
//!
//! `14 of 53 wells tested were above 10 ug/L (us-mcl)` is exceedance.csv; `about 26 in 100` is expected_per_100; the chance is
//! chance_of_concern; a land use's share is counted from wells.csv. A test reads the sentences back and compares.

use super::links::Link;
use super::words::{capitalised, chance, in_100, over, percent, wells};
use crate::dictionary::{BenchmarkKind, Dictionary};
use crate::ids::AnalyteId;
use crate::plan::Plan;
use crate::publish::number;
use crate::summarise::ExceedanceRow;

/// What there is to say besides the row's own numbers.
pub struct Besides<'a> {
    /// One of the yearly basics.
    pub basic: Option<&'static str>,
    /// Land uses around the area's wells.
    pub links: &'a [Link],
    /// How many more wells would settle the question, where that is the advice.
    pub more: Option<String>,
    /// Wells above the limit in the whole region, where it has a row.
    pub in_region: Option<u32>,
    /// Wells of the area with a value, whether or not a limit judges it.
    pub wells: u32,
}

/// One sentence that names the numbers.
pub fn sentence(
    plan: &Plan,
    dictionary: &Dictionary,
    analyte: AnalyteId,
    row: Option<&ExceedanceRow>,
    besides: &Besides<'_>,
) -> String {
    let mut parts = Vec::new();
    match row {
        Some(row) if row.wells > 0 => parts.extend(numbers(plan, dictionary, analyte, row)),
        // Without a limit in force there is nothing to count above; that the wells were tested must be said all the same.
        None if besides.wells > 0 => {
            let were = if besides.wells == 1 { "was" } else { "were" };
            parts.push(format!("{} of this area {were} tested for it, and no limit is in force", wells(besides.wells)));
        }
        _ => parts.push("no well of this area has a usable result".to_owned()),
    }
    parts.extend(row.and_then(|row| rough(row, besides.in_region?)));
    parts.extend(row.and_then(not_health));
    for link in besides.links {
        let share = percent(link.share);
        parts.push(format!("{share} of its wells lie in the high band of {}, which is linked to it", link.land_use));
    }
    parts.extend(besides.more.clone());
    parts.extend(besides.basic.map(str::to_owned));
    capitalised(&format!("{}.", parts.join("; ")))
}

/// Wells above a limit in the whole region below which a chance is only rough: over 200 generated surveys it was then up to 11 points off,
/// up to 8 with 10 to 24 such wells, and within 5 with more (`tests/simulation/known-truth-calibration.csv`). The count itself is not told:
/// a region's row may be hidden where an area's is shown.
const FEW: u32 = 10;
/// Chances below this were within 5 points of the truth all the same.
const SMALL: f64 = 0.2;

fn rough(row: &ExceedanceRow, in_region: u32) -> Option<String> {
    let told = row.exceeding + row.meeting > 0 && row.chance_of_concern.is_some_and(|chance| chance >= SMALL);
    let did = if row.kind == BenchmarkKind::Absent { "had" } else { "passed" };
    (told && in_region < FEW)
        .then(|| format!("fewer than {FEW} wells of the whole region {did} it, so take that chance as rough"))
}

fn not_health(row: &ExceedanceRow) -> Option<String> {
    if row.is_health() {
        return None;
    }
    let about = match row.effect.as_str() {
        "aesthetic" | "infrastructure" => "this limit is about taste, stains, scale or pipes, not health",
        _ => "this limit is meant for some people only, such as those on a low-salt diet, or is advisory",
    };
    Some(about.to_owned())
}

fn numbers(plan: &Plan, dictionary: &Dictionary, analyte: AnalyteId, row: &ExceedanceRow) -> Vec<String> {
    let known = row.exceeding + row.meeting;
    if known == 0 {
        return vec![format!("none of {} results tells on which side of the limit it is", row.wells)];
    }
    let limit = over(dictionary, analyte, row.kind);
    let (one, many) = match row.kind {
        BenchmarkKind::Absent => ("had it".to_owned(), "had it".to_owned()),
        _ => (format!("was {limit} ({})", row.set), format!("were {limit} ({})", row.set)),
    };
    let was = if row.exceeding == 1 { one } else { many };
    let mut parts = vec![format!("{} of {known} wells tested {was}", row.exceeding)];
    if row.undetermined > 0 {
        parts.push(format!("{} more could not be judged", row.undetermined));
    }
    if let (Some(rate), Some(sure)) = (row.smoothed, row.chance_of_concern) {
        let (to, they) = match row.kind {
            BenchmarkKind::Absent => ("to have it", "have it"),
            _ => ("to pass it", "pass it"),
        };
        parts.push(format!("{} of the area's wells can be expected {to}", in_100(rate)));
        let line = number::text(plan.recommend.concern_rate * 100.0);
        parts.push(format!("the chance that more than {line} in 100 {they} is {}", chance(sure)));
    }
    parts
}
