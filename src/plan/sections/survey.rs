//! `[survey]`: the title, the days that count and the working coordinate system.
//!
//! The text of a coordinate system is only carried: whether it exists is for the place stage to say.

use crate::ids::Day;
use crate::plan::checked::Survey;
use crate::plan::codes;
use crate::plan::read::Section;
use crate::plan::sections::located;
use crate::plan::written::{Node, Value};

pub(super) const KEYS: &[&str] =
    &["title", "period", "compare_periods", "working_crs", "repair_locations", "proj_grids"];
pub(super) const EXAMPLE: &str = "write [survey] and under it title = \"...\"";
pub(super) const PERIOD: &[&str] = &["from", "to"];

/// Reads `[survey]`; defaults where it is missing.
pub(super) fn read(section: Option<Section<'_>>) -> Survey {
    let Some(section) = section else {
        return empty();
    };
    Survey {
        title: section.needed_name("title", "title = \"...\", the heading of the report"),
        period: section.node("period").and_then(|node| period(&section, node, "period")),
        compare_periods: compare_periods(&section),
        working_crs: section.text("working_crs"),
        repair_locations: section.truth("repair_locations").unwrap_or(false),
        proj_grids: located::folder(&section, "proj_grids"),
    }
}

fn empty() -> Survey {
    Survey {
        title: String::new(),
        period: None,
        compare_periods: None,
        working_crs: None,
        repair_locations: false,
        proj_grids: None,
    }
}

const TWO_PERIODS: &str =
    "compare_periods = [{ from = 2015-01-01, to = 2019-12-31 }, { from = 2020-01-01, to = 2024-12-31 }]";

/// Two periods, the earlier first.
fn compare_periods(section: &Section<'_>) -> Option<[(Day, Day); 2]> {
    let node = section.node("compare_periods")?;
    let Value::List(items) = &node.value else {
        section.notes.wrong_type(node, "a list of two periods", format!("write {TWO_PERIODS}"));
        return None;
    };
    let [first, second] = items.as_slice() else {
        let found = format!("found {} periods, not two", items.len());
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, format!("write {TWO_PERIODS}"));
        return None;
    };
    let name = "a period of compare_periods";
    let (first, second) = (period(section, first, name), period(section, second, name));
    let (first, second) = (first?, second?);
    if first.1 >= second.0 {
        let found = format!("the second period starts on {}, the first ends on {}", second.0, first.1);
        let wanted = "write the earlier period first; the later one starts after it ends";
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, wanted);
        return None;
    }
    Some([first, second])
}

fn period(section: &Section<'_>, node: &Node, name: &str) -> Option<(Day, Day)> {
    let period = Section::open(section.notes, node, name, PERIOD)?;
    for key in PERIOD.iter().filter(|key| !period.has(key)) {
        period.missing(key, "period = { from = 2015-01-01, to = 2025-12-31 }");
    }
    let (from, to) = (period.day("from"), period.day("to"));
    let (from, to) = (from?, to?);
    if from > to {
        let found = format!("from {from} is after to {to}");
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, "write the first day as from and the last as to");
        return None;
    }
    Some((from, to))
}
