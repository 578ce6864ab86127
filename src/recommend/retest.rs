//! retest.csv (internal): wells due for a test, why, and since when.
//!
//! The rules are a table (see `rules`); this file says what each trigger means for one well. Ages are taken on the day the limits
//! refer to. A well never sampled is not due again: it is outreach's.

use super::due::Due;
use super::history::{History, Span, Track};
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
    rules: Rules,
    /// What rules name one by one.
    named: BTreeSet<AnalyteId>,
    events: Vec<Outline>,
    /// The day that ages refer to; `None` where no value stands, and nothing is due.
    as_of: Option<Day>,
    history: History,
}

impl Retests {
    /// Rules, events and days of all wells; `as_of` is the day that ages refer to.
    pub(super) fn new(rules: Rules, events: Vec<Outline>, as_of: Option<Day>, history: History) -> Retests {
        Retests { named: rules.named(), rules, events, as_of, history }
    }

    /// A well's rows, by rule.
    pub fn of_well<'a>(&'a self, dictionary: &'a Dictionary, wells: &'a Wells, id: WellId) -> Vec<RetestRow<'a>> {
        let tests = self.history.of_well(id);
        let newest = tests.iter().map(|track| track.newest).max();
        let Some((newest, as_of)) = newest.zip(self.as_of) else { return Vec::new() };
        let (name, xy) = (wells.id(id), wells.xy(id));
        let one = Well { calendar: self, dictionary, as_of, id: name, xy, tests: &tests, newest };
        let mut rows: Vec<RetestRow<'a>> = Vec::new();
        for rule in &self.rules.0 {
            let before = rows.len();
            one.add(rule, &mut rows);
            if rule.confirms() {
                drop_asked(&mut rows, before);
            }
        }
        rows
    }
}

/// One confirmation of a test is enough, whichever rule asks for it first: drops rows behind the first `before` that ask again.
fn drop_asked(rows: &mut Vec<RetestRow<'_>>, before: usize) {
    let mut new = rows.split_off(before);
    new.retain(|row| !rows.iter().any(|known| known.tests == row.tests));
    rows.append(&mut new);
}

struct Well<'a, 't> {
    calendar: &'a Retests,
    dictionary: &'a Dictionary,
    as_of: Day,
    id: &'a str,
    xy: Option<[f64; 2]>,
    tests: &'t [Track],
    newest: Day,
}

impl<'a> Well<'a, '_> {
    fn add(&self, rule: &'a Rule, rows: &mut Vec<RetestRow<'a>>) {
        match rule.trigger {
            Trigger::OlderThan => rows.extend(self.older(rule)),
            Trigger::After(kind) => {
                let events = self.calendar.events.iter().filter(|event| event.kind == kind);
                rows.extend(events.filter_map(|event| self.event(rule, event)));
            }
            Trigger::AfterRepair => {
                rows.extend(self.caused(rule, |track| track.after_repair, "after a repair or a change of the well"));
            }
            // What the sample of that day itself tested for is answered.
            Trigger::AfterChange => {
                let row = self.caused(rule, |track| track.noticed, "because the household noticed a change");
                rows.extend(row.filter(|row| row.last_sampled.is_none_or(|last| last < row.since)));
            }
            Trigger::FirstDetect => rows.extend(self.first(rule, |track| track.found.days(), "found")),
            Trigger::FirstExceedance => {
                rows.extend(self.first(rule, |track| track.above.days(), "above a health limit"));
            }
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

    /// A row where the rule's days after `from` have passed.
    fn row(&self, rule: &'a Rule, from: Day, last: Option<Day>, because: Due<'a>) -> Option<RetestRow<'a>> {
        self.row_after((rule.due_days, rule.overdue_days), rule, from, last, because)
    }

    /// A row where `days` after `from` have passed, and overdue where the second number of them has.
    fn row_after(
        &self,
        days: (i32, Option<i32>),
        rule: &'a Rule,
        from: Day,
        last: Option<Day>,
        because: Due<'a>,
    ) -> Option<RetestRow<'a>> {
        let since = Day(from.0.saturating_add(days.0));
        let late = days.1.is_some_and(|days| from.0.saturating_add(days) <= self.as_of.0);
        (since <= self.as_of).then_some(RetestRow {
            well: self.id,
            due: &rule.name,
            status: if late { "overdue" } else { "due" },
            tests: &rule.asks,
            because,
            since,
            last_sampled: last,
        })
    }

    /// Since the last such test; since the newest test of any kind, and at once, where there was none.
    fn older(&self, rule: &'a Rule) -> Option<RetestRow<'a>> {
        let name = rule.name.as_str();
        match self.last(rule) {
            Some(day) => self.row(rule, day, Some(day), Due::Last { rule: name, day }),
            None => self.row_after((0, None), rule, self.newest, None, Due::Never { rule: name }),
        }
    }

    fn event(&self, rule: &'a Rule, event: &'a Outline) -> Option<RetestRow<'a>> {
        let inside = self.xy.is_some_and(|xy| event.area.locate(xy).is_some());
        let last = self.last(rule);
        let because = Due::Event { name: &event.name, day: event.day, last };
        let due = inside && last.is_none_or(|day| day < event.day) && event.day <= self.as_of;
        if due { self.row(rule, event.day, last, because) } else { None }
    }

    /// A sample that was taken for a cause, and none of the rule's tests since.
    fn caused(&self, rule: &'a Rule, span: impl Fn(&Track) -> Span, cause: &'static str) -> Option<RetestRow<'a>> {
        let day = self.tests.iter().filter_map(|track| span(track).days()).map(|(_, last)| last).max()?;
        let last = self.last(rule);
        let due = last.is_none_or(|last| last <= day);
        if due { self.row(rule, day, last, Due::Caused { day, cause }) } else { None }
    }

    /// Confirmation: found on one day only, and that is the newest.
    fn first(
        &self,
        rule: &'a Rule,
        days: impl Fn(&Track) -> Option<(Day, Day)>,
        was: &'static str,
    ) -> impl Iterator<Item = RetestRow<'a>> {
        let once = self.tracks(rule).filter_map(move |track| {
            let (first, last) = days(track)?;
            (first == last && last == track.newest).then_some((track.analyte, last))
        });
        once.filter_map(move |(analyte, day)| {
            let microbial = self.dictionary.analytes().get(analyte).is_some_and(|entry| entry.is_microbial());
            let was = if microbial { "found" } else { was };
            let row = self.row(rule, day, Some(day), Due::Once { was, day })?;
            Some(RetestRow { tests: self.dictionary.analytes().id(analyte), ..row })
        })
    }
}
