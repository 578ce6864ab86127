//! The tables of options: benchmarks, per_well, summary, recommend, letters, quality, publish. Each may be left out.
//!
//! Defaults stand here and nowhere else.

use super::located;
use crate::plan::checked::{
    BenchmarkChoice, Choose, DisplacedPoints, Letters, PerWell, Recommend, SummaryOptions, Sums,
};
use crate::plan::codes;
use crate::plan::notes::quoted;
use crate::plan::numbers::{INNER_SHARE, POSITIVE, RADIUS, SHARE, number_of};
use crate::plan::read::{Items, Section, text_of};
use crate::plan::written::{Node, Value};

pub(super) const BENCHMARKS: &[&str] = &["sets", "file", "as_of", "sums"];
pub(super) const PER_WELL: &[&str] = &["choose", "non_detect_limits"];
pub(super) const SUMMARY: &[&str] = &["interval", "fewest_detects", "resamples", "seed", "equal_area_cells"];
pub(super) const RECOMMEND: &[&str] =
    &["concern_rate", "confidence", "linked_share", "prices", "budget", "retest_rules", "links"];
pub(super) const LETTERS: &[&str] = &["contact", "template"];
pub(super) const QUALITY: &[&str] = &["most_set_aside"];
/// More limits than this make classes that are not told apart on a map.
const MOST_CLASS_LIMITS: usize = 4;

pub(super) const PUBLISH: &[&str] = &["smallest_group", "map_classes", "displaced_points"];

const SETS: &[&str] = &["us-mcl", "us-action-level", "us-health-advisory"];
const CHOICES: &[(&str, Choose)] =
    &[("latest", Choose::Latest), ("highest", Choose::Highest), ("median", Choose::Median)];
const INTERVAL: f64 = 0.95;
/// A line through detects needs two of them.
const LEAST_DETECTS: u32 = 2;
const FEWEST_DETECTS: u32 = 3;
const RESAMPLES: u32 = 2000;
/// Below this the ends of an interval are mere chance.
const LEAST_RESAMPLES: u64 = 100;
const MOST_RESAMPLES: u64 = 1_000_000;
const SEED: u64 = 1;
const CONCERN_RATE: f64 = 0.05;
const CONFIDENCE: f64 = 0.8;
/// Common practice, no source: one well in ten lies near enough for the land use to be the area's matter.
const LINKED_SHARE: f64 = 0.1;
const MOST_SET_ASIDE: f64 = 0.5;
/// Wells of the smallest group that public files tell of, unless the plan says otherwise (common practice, no source).
pub const SMALLEST_GROUP: u32 = 5;

/// Reads `[benchmarks]`.
pub(super) fn benchmarks(section: Option<&Section<'_>>) -> BenchmarkChoice {
    let sets = section.and_then(|section| section.texts("sets", "sets = [\"us-mcl\"]"));
    if let (Some(section), Some(sets)) = (section, &sets) {
        sets_once(section, sets);
    }
    BenchmarkChoice {
        sets: sets.unwrap_or_else(|| SETS.iter().map(ToString::to_string).collect()),
        file: section.and_then(|section| located::file(section, "file")),
        as_of: section.and_then(|section| section.day("as_of")),
        sums: match section.and_then(|section| section.truth("sums")) {
            Some(false) => Sums::LeftOut,
            Some(true) | None => Sums::Judged,
        },
    }
}

fn sets_once(section: &Section<'_>, sets: &[String]) {
    for (place, set) in sets.iter().enumerate() {
        if let (Some(node), true) = (section.node("sets"), sets.iter().take(place).any(|first| first == set)) {
            section.notes.tell_at(
                node,
                codes::NAME_TWICE,
                format!("{} stands twice", quoted(set)),
                "name each set once",
            );
        }
    }
}

/// Reads `[per_well]`.
pub(super) fn per_well(section: Option<&Section<'_>>) -> PerWell {
    PerWell {
        choose: section.and_then(|section| section.word("choose", CHOICES)).unwrap_or(Choose::Latest),
        non_detect_limits: section.map(limits).unwrap_or_default(),
    }
}

const LIMITS_EXAMPLE: &str = "write non_detect_limits = { arsenic = \"1 ug/L\" }";

fn limits(section: &Section<'_>) -> Vec<(String, f64, String)> {
    let table =
        section.node("non_detect_limits").and_then(|node| Section::open_free(section.notes, node, LIMITS_EXAMPLE));
    let entries = table.map_or(&[][..], |table| table.entries());
    entries.iter().filter_map(|(analyte, node)| limit(section, analyte, node)).collect()
}

fn limit(section: &Section<'_>, analyte: &str, node: &Node) -> Option<(String, f64, String)> {
    let text = text_of(section.notes, node)?;
    let parts = number_and_unit(&text);
    if parts.is_none() {
        let found = format!("{} is not a number and a unit", quoted(&text));
        section.notes.tell_at(node, codes::BAD_LIMIT, found, LIMITS_EXAMPLE);
    }
    parts.map(|(number, unit)| (analyte.to_string(), number, unit))
}

/// `1 ug/L` as a number above 0 and a unit.
fn number_and_unit(text: &str) -> Option<(f64, String)> {
    let (number, unit) = text.trim().split_once(char::is_whitespace)?;
    let number: f64 = number.parse().ok().filter(|number: &f64| *number > 0.0 && number.is_finite())?;
    Some((number, unit.trim().to_string()))
}

/// Reads `[summary]`.
pub(super) fn summary(section: Option<&Section<'_>>) -> SummaryOptions {
    let small = |key: &str, least: u32| section.and_then(|section| section.small(key, least));
    SummaryOptions {
        interval: section.and_then(|section| section.number("interval", &INNER_SHARE)).unwrap_or(INTERVAL),
        fewest_detects: small("fewest_detects", LEAST_DETECTS).unwrap_or(FEWEST_DETECTS),
        resamples: section.and_then(resamples).unwrap_or(RESAMPLES),
        seed: section.and_then(|section| section.whole("seed", 0, u64::MAX)).unwrap_or(SEED),
        equal_area_cells: small("equal_area_cells", 0).unwrap_or(0),
    }
}

/// None at all, or enough for an interval.
fn resamples(section: &Section<'_>) -> Option<u32> {
    let count = section.whole("resamples", 0, MOST_RESAMPLES)?;
    let node = section.node("resamples")?;
    if count > 0 && count < LEAST_RESAMPLES {
        let wanted = format!("0 for no resampled intervals, or from {LEAST_RESAMPLES} to {MOST_RESAMPLES}");
        section.notes.tell_at(node, codes::OUT_OF_RANGE, format!("found the number {count}"), wanted);
        return None;
    }
    u32::try_from(count).ok()
}

/// Reads `[recommend]`.
pub(super) fn recommend(section: Option<&Section<'_>>) -> Recommend {
    let share = |key: &str| section.and_then(|section| section.number(key, &INNER_SHARE));
    Recommend {
        concern_rate: share("concern_rate").unwrap_or(CONCERN_RATE),
        confidence: share("confidence").unwrap_or(CONFIDENCE),
        linked_share: share("linked_share").unwrap_or(LINKED_SHARE),
        prices: section.and_then(|section| located::file(section, "prices")),
        budget: section.and_then(|section| section.number("budget", &POSITIVE)),
        retest_rules: section.and_then(|section| located::file(section, "retest_rules")),
        links: section.and_then(|section| located::file(section, "links")),
    }
}

/// Reads `[letters]`; no letters without it.
pub(super) fn letters(section: Option<&Section<'_>>) -> Option<Letters> {
    let section = section?;
    Some(Letters {
        contact: section.needed_text("contact", "contact = \"...\", whom to ask, as it should stand in the letters"),
        template: located::file(section, "template"),
    })
}

/// Reads `[quality]`.
pub(super) fn most_set_aside(section: Option<&Section<'_>>) -> f64 {
    section.and_then(|section| section.number("most_set_aside", &SHARE)).unwrap_or(MOST_SET_ASIDE)
}

/// Reads `[publish]`.
pub(super) fn smallest_group(section: Option<&Section<'_>>) -> u32 {
    section.and_then(|section| section.small("smallest_group", 1)).unwrap_or(SMALLEST_GROUP)
}

/// Limits of the maps' classes; `None` lets the rates choose them.
pub(super) fn map_classes(section: Option<&Section<'_>>) -> Option<Vec<f64>> {
    const EXAMPLE: &str = "map_classes = [0.05, 0.1, 0.2], one to four shares from low to high";
    let section = section?;
    let node = section.node("map_classes")?;
    let fits = |value: &Value| matches!(value, Value::Whole(_) | Value::Number(_));
    let items = section.list("map_classes", &Items { name: "a list of numbers", fits, example: EXAMPLE })?;
    let limits: Vec<f64> = items.iter().filter_map(|item| number_of(section.notes, item, &INNER_SHARE)).collect();
    let rising = limits.windows(2).all(|pair| matches!(pair, [low, high] if low < high));
    if !(1..=MOST_CLASS_LIMITS).contains(&items.len()) || !rising {
        let found = format!("found {} limits, {}", items.len(), if rising { "rising" } else { "not rising" });
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, format!("write {EXAMPLE}"));
        return None;
    }
    Some(limits)
}

/// Points beside the wells, for the public; none without it.
pub(super) fn displaced_points(section: Option<&Section<'_>>) -> Option<DisplacedPoints> {
    const EXAMPLE: &str = "displaced_points = { ring_m = [250, 1000], secret = \"...\" }";
    const SHORTEST: usize = 12;
    let section = section?;
    let node = section.node("displaced_points")?;
    let own = Section::open(section.notes, node, "displaced_points", &["ring_m", "secret"])?;
    let secret = own.needed_text("secret", "secret = \"...\", twelve letters or more that nobody can guess");
    if secret.chars().count() < SHORTEST {
        let found = format!("a secret of {} letters", secret.chars().count());
        own.notes.tell_at(node, codes::OUT_OF_RANGE, found, "write twelve letters or more that nobody can guess");
    }
    own.needed("ring_m", EXAMPLE)?;
    let fits = |value: &Value| matches!(value, Value::Whole(_) | Value::Number(_));
    let items = own.list("ring_m", &Items { name: "two numbers of metres", fits, example: EXAMPLE })?;
    let metres: Vec<f64> = items.iter().filter_map(|item| number_of(own.notes, item, &RADIUS)).collect();
    match metres.as_slice() {
        [near, far] if near < far => Some(DisplacedPoints { ring_m: [*near, *far], secret }),
        some if some.len() < items.len() => None, // those are told already
        _ => {
            let wanted = format!("write the nearer and then the farther edge of the ring, as in {EXAMPLE}");
            own.notes.tell_at(
                node,
                codes::OUT_OF_RANGE,
                format!("found {} numbers, not two that rise", items.len()),
                wanted,
            );
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_a_number_above_zero_and_a_unit() {
        assert_eq!(number_and_unit("1 ug/L"), Some((1.0, "ug/L".to_string())));
        assert_eq!(number_and_unit(" 0.5  mg/L as N "), Some((0.5, "mg/L as N".to_string())));
        for text in ["", "1", "ug/L", "1ug/L", "0 ug/L", "-1 ug/L", "inf ug/L", "0,5 ug/L", "NaN mg/L"] {
            assert_eq!(number_and_unit(text), None, "{text}");
        }
    }
}
