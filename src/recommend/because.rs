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

/// How many more wells would tell more.
#[derive(Clone, Copy, Debug)]
pub struct More {
    /// To settle whether the area is of concern; `None` where 1,000 would not do.
    pub to_settle: Option<u32>,
    /// To halve the interval of the rate.
    pub to_halve: Option<u32>,
}

/// What there is to say besides the row's own numbers.
pub struct Besides<'a> {
    /// One of the yearly basics.
    pub basic: Option<&'static str>,
    /// Land uses around the area's wells.
    pub links: &'a [Link],
    /// How many more wells would settle the question, where that is the advice.
    pub more: Option<More>,
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
        // What the other areas say of one without a result.
        Some(row) if row.smoothed.is_some() => {
            parts.push("no well of this area has a usable result".to_owned());
            parts.extend(expected(plan, row, &limit_words(dictionary, analyte, row)));
        }
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
        parts.push(format!("{} of the area's wells have {}, which is linked to it", percent(link.share), link.lies));
    }
    parts.extend(row.zip(besides.more).map(|(row, more)| more_wells(plan, row, more)));
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
    let told = row.smoothed.and(row.chance_of_concern).is_some_and(|chance| chance >= SMALL);
    let were = match over_it(row.kind) {
        "" => "had it".to_owned(),
        over => format!("were {over}"),
    };
    (told && in_region < FEW)
        .then(|| format!("fewer than {FEW} wells of the whole region {were}, so take that chance as rough"))
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
    if row.exceeding + row.meeting == 0 {
        let said = if row.wells == 1 {
            "was tested, and its result does not tell"
        } else {
            "were tested, and no result tells"
        };
        let mut parts = vec![format!("{} {said} on which side of the limit it is", wells(row.wells))];
        parts.extend(expected(plan, row, &limit_words(dictionary, analyte, row)));
        return parts;
    }
    let known = row.exceeding + row.meeting;
    let mut parts = vec![counted(row.kind, row.exceeding, known, &limit_words(dictionary, analyte, row))];
    if row.undetermined > 0 {
        parts.push(format!("{} more could not be judged", row.undetermined));
    }
    parts.extend(expected(plan, row, over_it(row.kind)));
    parts
}

/// Fewest wells of an area of which one can speak without the other areas.
const ALONE: u32 = 10;

/// What can be expected of the area's wells, and the chance of concern; `over` is what being above the limit is called.
fn expected(plan: &Plan, row: &ExceedanceRow, over: &str) -> Vec<String> {
    let Some((rate, sure)) = row.smoothed.zip(row.chance_of_concern) else { return Vec::new() };
    let to = match row.kind {
        BenchmarkKind::Absent => "to have it".to_owned(),
        _ => format!("to be {over}"),
    };
    let leaning = if row.exceeding + row.meeting < ALONE { "judged together with the other areas, " } else { "" };
    let they = they(row.kind);
    vec![
        format!("{leaning}{} of the area's wells can be expected {to}", in_100(rate)),
        format!("the chance that more than {} in 100 {they} is {}", line(plan), chance(sure)),
    ]
}

fn more_wells(plan: &Plan, row: &ExceedanceRow, more: More) -> String {
    let settle = match more.to_settle {
        Some(1) => "the result of one more well would probably settle".to_owned(),
        Some(more) => format!("results of about {more} more wells would probably settle"),
        None => "even 1,000 more wells would not settle for certain".to_owned(),
    };
    let halve = more.to_halve.map(|wells| format!(", and about {wells} more would halve the range of the estimate"));
    format!("{settle} whether more than {} in 100 {}{}", line(plan), they(row.kind), halve.unwrap_or_default())
}

/// The rate of concern in 100.
fn line(plan: &Plan) -> String {
    number::text(plan.recommend.concern_rate * 100.0)
}

fn they(kind: BenchmarkKind) -> String {
    if kind == BenchmarkKind::Absent { "have it".to_owned() } else { format!("are {}", over_it(kind)) }
}

/// `above 10 ug/L (us-mcl)`.
fn limit_words(dictionary: &Dictionary, analyte: AnalyteId, row: &ExceedanceRow) -> String {
    format!("{} ({})", over(dictionary, analyte, row.kind), row.set)
}

/// `14 of 53 wells tested were above 10 ug/L (us-mcl)`, `none of 12 wells tested had it`, `the one well tested was above ...`.
fn counted(kind: BenchmarkKind, exceeding: u32, known: u32, limit: &str) -> String {
    let was = match (kind, exceeding, known) {
        (BenchmarkKind::Absent, 0, 1) => "did not have it".to_owned(),
        (BenchmarkKind::Absent, _, _) => "had it".to_owned(),
        (_, 0, 1) => format!("was not {limit}"),
        (_, 0 | 1, _) => format!("was {limit}"),
        _ => format!("were {limit}"),
    };
    match (exceeding, known) {
        (_, 1) => format!("the one well tested {was}"),
        (0, _) => format!("none of {known} wells tested {was}"),
        (2, 2) => format!("both wells tested {was}"),
        (above, _) if above == known => format!("all {known} wells tested {was}"),
        (above, _) => format!("{above} of {known} wells tested {was}"),
    }
}

/// Beyond a limit just named, after "to be" or "are"; empty of what must not be found at all.
fn over_it(kind: BenchmarkKind) -> &'static str {
    match kind {
        BenchmarkKind::Absent => "",
        BenchmarkKind::Max { .. } => "above it",
        BenchmarkKind::Range { low, .. } if low.is_infinite() => "above it",
        BenchmarkKind::Range { high, .. } if high.is_infinite() => "below it",
        BenchmarkKind::Range { .. } => "outside it",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn none_one_both_and_all_are_said_as_one_says_them() {
        let max = |exceeding, known| counted(BenchmarkKind::Max { limit: 10.0 }, exceeding, known, "above 10 ug/L (x)");
        assert_eq!(max(0, 1), "the one well tested was not above 10 ug/L (x)");
        assert_eq!(max(1, 1), "the one well tested was above 10 ug/L (x)");
        assert_eq!(max(0, 12), "none of 12 wells tested was above 10 ug/L (x)");
        assert_eq!(max(1, 12), "1 of 12 wells tested was above 10 ug/L (x)");
        assert_eq!(max(3, 12), "3 of 12 wells tested were above 10 ug/L (x)");
        assert_eq!(max(2, 2), "both wells tested were above 10 ug/L (x)");
        assert_eq!(max(12, 12), "all 12 wells tested were above 10 ug/L (x)");
        let germs = |exceeding, known| counted(BenchmarkKind::Absent, exceeding, known, "");
        assert_eq!([germs(0, 1), germs(1, 1)], ["the one well tested did not have it", "the one well tested had it"]);
        assert_eq!([germs(0, 5), germs(2, 5)], ["none of 5 wells tested had it", "2 of 5 wells tested had it"]);
    }
}
