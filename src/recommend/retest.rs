//! retest.csv (internal): wells due for a test, why, and since when.
//!
//! Three rules (common practice, no source): the yearly basics a year after the last of them; the laboratory panel five
//! years after the last result of anything else; and an event's wells that were not sampled since. Ages are taken on
//! the day the limits refer to.

use super::rows::RetestRow;
use super::yearly_basics;
use crate::dictionary::Dictionary;
use crate::files::Inputs;
use crate::ids::{AnalyteId, Day, WellId};
use crate::per_well::Survey;
use crate::place::{MapFiles, PolygonSet, Wells};
use crate::plan::{EventKind, Plan};
use crate::problem::Problems;
use crate::summarise::Findings;
use std::collections::BTreeSet;

/// Days after which the yearly basics are due.
const YEAR: i32 = 365;
/// Days after which the panel is due.
const PANEL: i32 = 1826;

/// An event's outline in the working CRS.
pub struct Outline {
    name: String,
    kind: &'static str,
    day: Day,
    area: PolygonSet,
}

/// Reads the events' outlines.
///
/// # Errors
/// A map file that cannot be read.
pub fn outlines(plan: &Plan, inputs: &Inputs, wells: &Wells) -> Result<Vec<Outline>, Problems> {
    let mut problems = Problems::default();
    let mut outlines = Vec::new();
    for (number, event) in plan.events.iter().enumerate() {
        let key = format!("events[{}]", number + 1);
        let layer = crate::place::polygons_of(
            plan,
            inputs,
            wells.region(),
            &MapFiles { files: &event.files, crs: event.crs.as_deref(), layer: event.layer.as_deref(), key: &key },
        );
        if let Some(area) = problems.keep(layer) {
            outlines.push(Outline { name: event.name.clone(), kind: kind_word(event.kind), day: event.date, area });
        }
    }
    problems.or(outlines)
}

fn kind_word(kind: EventKind) -> &'static str {
    match kind {
        EventKind::Flood => "flood",
        EventKind::Earthquake => "earthquake",
        EventKind::Drought => "drought",
    }
}

/// What a well was last tested for, and when.
#[derive(Clone, Copy, Default)]
struct LastTests {
    basics: Option<Day>,
    panel: Option<Day>,
}

impl LastTests {
    fn any(self) -> Option<Day> {
        self.basics.max(self.panel)
    }
}

/// Rows by well and then rule.
pub fn rows(
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
    events: &[Outline],
) -> Vec<RetestRow> {
    let Some(as_of) = findings.as_of else { return Vec::new() };
    let basics: BTreeSet<AnalyteId> = yearly_basics(dictionary).into_iter().collect();
    let mut last = vec![LastTests::default(); wells.len()];
    for value in &survey.values {
        if let Some(tests) = last.get_mut(value.well.index()) {
            let slot = if basics.contains(&value.analyte) { &mut tests.basics } else { &mut tests.panel };
            *slot = (*slot).max(Some(value.newest));
        }
    }
    wells.ids().zip(last).flat_map(|(well, tests)| of_well(wells, well, tests, as_of, events)).collect()
}

fn of_well(wells: &Wells, well: WellId, tests: LastTests, as_of: Day, events: &[Outline]) -> Vec<RetestRow> {
    // A well never sampled is not due again: it is outreach's.
    let Some(newest) = tests.any() else { return Vec::new() };
    let mut rows = Vec::new();
    let id = wells.id(well).to_owned();
    rows.extend(overdue(&id, "yearly basics", tests.basics, YEAR, newest, as_of));
    rows.extend(overdue(&id, "laboratory panel", tests.panel, PANEL, newest, as_of));
    for event in events {
        let inside = wells.xy(well).is_some_and(|xy| event.area.locate(xy).is_some());
        if inside && newest < event.day && event.day <= as_of {
            rows.push(RetestRow {
                well: id.clone(),
                due: format!("after {}", event.kind),
                because: format!("It lies inside {} ({}) and was last sampled on {newest}.", event.name, event.day),
                since: event.day,
                last_sampled: Some(newest),
            });
        }
    }
    rows
}

/// Due since `days` after the last such test; since the newest test of any kind where there was none.
fn overdue(id: &str, due: &str, last: Option<Day>, days: i32, newest: Day, as_of: Day) -> Option<RetestRow> {
    let since = last.map_or(newest, |day| Day(day.0 + days));
    let because = match last {
        Some(day) => format!("The last {due} test was on {day}."),
        None => format!("There is no {due} result."),
    };
    (since <= as_of).then(|| RetestRow { well: id.to_owned(), due: due.to_owned(), because, since, last_sampled: last })
}
