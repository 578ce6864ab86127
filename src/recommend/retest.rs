//! retest.csv (internal): wells due for a test, why, and since when.
//!
//! The rules are a table (see `rules`); this file says what each trigger means for one well. Ages are taken on the day the limits
//! refer to. A well never sampled is not due again: it is outreach's.

use super::history::{History, Track};
use super::rows::RetestRow;
use super::rules::{Rule, Rules, Tests, Trigger};
use crate::dictionary::Dictionary;
use crate::files::Inputs;
use crate::ids::{AnalyteId, Day, WellId};
use crate::place::{MapFiles, PolygonSet, Wells};
use crate::plan::{EventKind, Plan};
use crate::problem::Problems;
use std::collections::BTreeSet;

/// An event's outline in the working CRS.
#[derive(Debug)]
pub struct Outline {
    name: String,
    kind: EventKind,
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
            outlines.push(Outline { name: event.name.clone(), kind: event.kind, day: event.date, area });
        }
    }
    problems.or(outlines)
}

/// What every well is held against, and its days; a well's rows are made when they are asked for, since all of them with
/// their sentences would fill more memory than the survey.
#[derive(Debug, Default)]
pub struct Retests {
    /// Rules.
    pub(super) rules: Rules,
    /// What rules name one by one.
    pub(super) named: BTreeSet<AnalyteId>,
    /// Events.
    pub(super) events: Vec<Outline>,
    /// The day that ages refer to; `None` where no value stands, and nothing is due.
    pub(super) as_of: Option<Day>,
    /// Days of all wells.
    pub(super) history: History,
}

impl Retests {
    /// A well's rows, by rule.
    pub fn of_well(&self, dictionary: &Dictionary, wells: &Wells, id: WellId) -> Vec<RetestRow> {
        let tests = self.history.of_well(id);
        let newest = tests.iter().map(|track| track.newest).max();
        let Some((newest, as_of)) = newest.zip(self.as_of) else { return Vec::new() };
        let one = Well { calendar: self, dictionary, as_of, id: wells.id(id), xy: wells.xy(id), tests, newest };
        let mut rows: Vec<RetestRow> = Vec::new();
        for rule in &self.rules.0 {
            let new = one.rows(rule);
            // One confirmation of a test is enough, whichever rule asks for it first.
            let asked = |row: &RetestRow| rule.confirms() && rows.iter().any(|r| r.tests == row.tests);
            let new: Vec<RetestRow> = new.into_iter().filter(|row| !asked(row)).collect();
            rows.extend(new);
        }
        rows
    }

    /// All rows, by well and then rule.
    pub fn rows<'a>(&'a self, dictionary: &'a Dictionary, wells: &'a Wells) -> impl Iterator<Item = RetestRow> + 'a {
        wells.ids().flat_map(|well| self.of_well(dictionary, wells, well))
    }
}

struct Well<'a> {
    calendar: &'a Retests,
    dictionary: &'a Dictionary,
    as_of: Day,
    id: &'a str,
    xy: Option<[f64; 2]>,
    tests: &'a [Track],
    newest: Day,
}

impl Well<'_> {
    fn rows(&self, rule: &Rule) -> Vec<RetestRow> {
        match rule.trigger {
            Trigger::OlderThan => self.older(rule).into_iter().collect(),
            Trigger::After(kind) => {
                let events = self.calendar.events.iter().filter(|event| event.kind == kind);
                events.filter_map(|event| self.event(rule, event)).collect()
            }
            Trigger::AfterRepair => {
                let row =
                    self.caused(rule, |track| track.after_repair.days(), "after a repair or a change of the well");
                row.into_iter().collect()
            }
            // What the sample of that day itself tested for is answered.
            Trigger::AfterChange => {
                let row = self.caused(rule, |track| track.noticed.days(), "because the household noticed a change");
                row.filter(|row| row.last_sampled.is_none_or(|last| last < row.since)).into_iter().collect()
            }
            Trigger::FirstDetect => self.first(rule, |track| track.found.days(), "found"),
            Trigger::FirstExceedance => self.first(rule, |track| track.above.days(), "above a health limit"),
        }
    }

    fn is_of(&self, rule: &Rule, analyte: AnalyteId) -> bool {
        match &rule.tests {
            Tests::Of(list) => list.contains(&analyte),
            Tests::AllOthers => !self.calendar.named.contains(&analyte),
            Tests::Any => true,
        }
    }

    fn tracks<'s>(&'s self, rule: &'s Rule) -> impl Iterator<Item = &'s Track> {
        self.tests.iter().filter(|track| self.is_of(rule, track.analyte))
    }

    fn last(&self, rule: &Rule) -> Option<Day> {
        self.tracks(rule).map(|track| track.newest).max()
    }

    /// A row where `days` after `from` have passed.
    fn row(&self, rule: &Rule, from: Day, last: Option<Day>, tests: String, because: String) -> Option<RetestRow> {
        let since = Day(from.0.saturating_add(rule.due_days));
        let late = rule.overdue_days.is_some_and(|days| from.0.saturating_add(days) <= self.as_of.0);
        (since <= self.as_of).then(|| RetestRow {
            well: self.id.to_owned(),
            due: rule.name.clone(),
            status: if late { "overdue" } else { "due" },
            tests,
            because,
            since,
            last_sampled: last,
        })
    }

    /// Since the last such test; since the newest test of any kind, and at once, where there was none.
    fn older(&self, rule: &Rule) -> Option<RetestRow> {
        let name = &rule.name;
        match self.last(rule) {
            Some(day) => {
                self.row(rule, day, Some(day), self.names(rule), format!("Last tested for the {name} on {day}."))
            }
            None => {
                let rule = &Rule { due_days: 0, overdue_days: None, ..rule.clone() };
                self.row(
                    rule,
                    self.newest,
                    None,
                    self.names(rule),
                    format!("Never tested for the {name} in this survey."),
                )
            }
        }
    }

    fn event(&self, rule: &Rule, event: &Outline) -> Option<RetestRow> {
        let inside = self.xy.is_some_and(|xy| event.area.locate(xy).is_some());
        let last = self.last(rule);
        let since = last.map_or_else(
            || "never tested for what such an event may bring".to_owned(),
            |day| format!("last tested for what such an event may bring on {day}"),
        );
        let because = format!("It lies inside the outline of {} ({}), and was {since}.", event.name, event.day);
        let due = inside && last.is_none_or(|day| day < event.day) && event.day <= self.as_of;
        if due { self.row(rule, event.day, last, self.names(rule), because) } else { None }
    }

    /// A sample that was taken for a cause, and none of the rule's tests since.
    fn caused(&self, rule: &Rule, days: impl Fn(&Track) -> Option<(Day, Day)>, cause: &str) -> Option<RetestRow> {
        let day = self.tests.iter().filter_map(days).map(|(_, last)| last).max()?;
        let last = self.last(rule);
        let because = format!("The sample of {day} was taken {cause}, and there is none for these tests since.");
        let due = last.is_none_or(|last| last <= day);
        if due { self.row(rule, day, last, self.names(rule), because) } else { None }
    }

    /// Confirmation: found on one day only, and that is the newest.
    fn first(&self, rule: &Rule, days: impl Fn(&Track) -> Option<(Day, Day)>, was: &str) -> Vec<RetestRow> {
        let once = self.tracks(rule).filter_map(|track| {
            let (first, last) = days(track)?;
            (first == last && last == track.newest).then_some((track.analyte, last))
        });
        let row = |(analyte, day): (AnalyteId, Day)| {
            let dictionary = self.dictionary;
            let microbial = dictionary.analytes().get(analyte).is_some_and(|entry| entry.is_microbial());
            let was = if microbial { "found" } else { was };
            let because = format!("First {was} on {day}, and not tested again since.");
            self.row(rule, day, Some(day), dictionary.analytes().id(analyte).to_owned(), because)
        };
        once.filter_map(row).collect()
    }

    /// What to test for, by dictionary ids.
    fn names(&self, rule: &Rule) -> String {
        let analytes = self.dictionary.analytes();
        match &rule.tests {
            Tests::Of(list) => list.iter().map(|analyte| analytes.id(*analyte)).collect::<Vec<_>>().join(";"),
            Tests::AllOthers | Tests::Any => "standard panel".to_owned(),
        }
    }
}
