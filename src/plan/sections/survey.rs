//! `[survey]`: the title, the days that count and the working coordinate system.
//!
//! The text of a coordinate system is only carried: whether it exists is for the place stage to say.

use crate::ids::Day;
use crate::plan::checked::Survey;
use crate::plan::codes;
use crate::plan::read::Section;
use crate::plan::sections::located;

pub(super) const KEYS: &[&str] = &["title", "period", "working_crs", "repair_locations", "proj_grids"];
pub(super) const EXAMPLE: &str = "write [survey] and under it title = \"...\"";
pub(super) const PERIOD: &[&str] = &["from", "to"];

/// Reads `[survey]`; defaults where it is missing.
pub(super) fn read(section: Option<Section<'_>>) -> Survey {
    let Some(section) = section else {
        return empty();
    };
    Survey {
        title: section.needed_text("title", "title = \"...\", the heading of the report"),
        period: period(&section),
        working_crs: section.text("working_crs"),
        repair_locations: section.truth("repair_locations").unwrap_or(false),
        proj_grids: located::folder(&section, "proj_grids"),
    }
}

fn empty() -> Survey {
    Survey { title: String::new(), period: None, working_crs: None, repair_locations: false, proj_grids: None }
}

fn period(section: &Section<'_>) -> Option<(Day, Day)> {
    let node = section.node("period")?;
    let period = Section::open(section.notes, node, "period", PERIOD)?;
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
