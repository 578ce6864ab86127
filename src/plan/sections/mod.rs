//! The tables of the plan, each a file: a tree of values becomes a part of the checked plan.
//!
//! Comes in: the tree and the place for problems. Goes out: `Parts`, whole even where the plan is faulty. Can go
//! wrong: everything a user can write. `KNOWN` lists every table's keys once, for the checks and for the hints.

mod areas;
mod columns;
mod dates;
mod events;
mod land_use;
mod layout;
mod located;
mod measures;
mod options;
mod ready;
mod results;
mod survey;
mod text;
mod wells;

pub(super) use results::{QUALIFIERS, SAMPLE_KINDS};

use super::checked::{
    AreasPart, BenchmarkChoice, DisplacedPoints, Event, LandUse, Letters, PerWell, Recommend, ResultsPart,
    SummaryOptions, Survey, WellsPart,
};
use super::codes;
use super::notes::Notes;
use super::read::Section;
use super::written::{Node, Value};
pub use options::SMALLEST_GROUP;

/// The plan's tables and their keys, in the order of the documentation.
pub(super) const KNOWN: &[(&str, &[&str])] = &[
    ("[survey]", survey::KEYS),
    ("[[results]]", results::KEYS),
    ("[[wells]]", wells::KEYS),
    ("[areas]", areas::KEYS),
    ("[[land_use]]", land_use::KEYS),
    ("[benchmarks]", options::BENCHMARKS),
    ("[per_well]", options::PER_WELL),
    ("[summary]", options::SUMMARY),
    ("[recommend]", options::RECOMMEND),
    ("[letters]", options::LETTERS),
    ("[[events]]", events::KEYS),
    ("[quality]", options::QUALITY),
    ("[publish]", options::PUBLISH),
];

/// Tables within tables, and their keys.
pub(super) const INNER: &[(&str, &[&str])] = &[
    ("period of [survey]", survey::PERIOD),
    ("a period of compare_periods of [survey]", survey::PERIOD),
    ("columns of [[results]]", layout::COLUMNS),
    ("columns of [[wells]]", wells::COLUMNS),
    ("grid of [areas]", areas::GRID),
    ("columns of [[land_use]]", measures::COLUMNS),
];

/// The names of the plan's tables.
const TABLES: &[&str] = &[
    "survey",
    "results",
    "wells",
    "areas",
    "land_use",
    "benchmarks",
    "per_well",
    "summary",
    "recommend",
    "letters",
    "events",
    "quality",
    "publish",
];

/// Everything the plan says.
pub(super) struct Parts {
    pub survey: Survey,
    /// Each with the line of its files.
    pub results: Vec<(ResultsPart, u64)>,
    pub wells: Vec<WellsPart>,
    pub areas: AreasPart,
    pub further_areas: Vec<AreasPart>,
    pub land_use: Vec<LandUse>,
    pub benchmarks: BenchmarkChoice,
    pub per_well: PerWell,
    pub summary: SummaryOptions,
    pub recommend: Recommend,
    pub letters: Option<Letters>,
    pub events: Vec<Event>,
    pub most_set_aside: f64,
    pub smallest_group: u32,
    pub map_classes: Option<Vec<f64>>,
    pub displaced_points: Option<DisplacedPoints>,
}

/// Reads all tables.
pub(super) fn read(notes: &Notes, root: &Node) -> Parts {
    let plan = Section::open(notes, root, "a plan", TABLES);
    let top = Top { notes, plan: plan.as_ref() };
    if let (None, Some(plan)) = (top.node("areas"), top.plan) {
        plan.missing_since("areas", "there is no [areas]", areas::EXAMPLE);
    }
    let (areas, further_areas) = areas::read_all(notes, top.node("areas"));
    let land_use = land_use::read_all(notes, &top.many("land_use", "[[land_use]]"));
    areas::called_apart(notes, top.node("areas"), (&areas, &further_areas), &land_use);
    let publish = top.table("publish", options::PUBLISH);
    Parts {
        survey: survey::read(top.needed("survey", survey::EXAMPLE)),
        results: top.needed_many("results", "[[results]]", results::EXAMPLE, results::read),
        wells: top.needed_many("wells", "[[wells]]", wells::EXAMPLE, wells::read),
        areas,
        further_areas,
        land_use,
        benchmarks: options::benchmarks(top.table("benchmarks", options::BENCHMARKS).as_ref()),
        per_well: options::per_well(top.table("per_well", options::PER_WELL).as_ref()),
        summary: options::summary(top.table("summary", options::SUMMARY).as_ref()),
        recommend: options::recommend(top.table("recommend", options::RECOMMEND).as_ref()),
        letters: options::letters(top.table("letters", options::LETTERS).as_ref()),
        events: top.many("events", "[[events]]").into_iter().filter_map(|node| events::read(notes, node)).collect(),
        most_set_aside: options::most_set_aside(top.table("quality", options::QUALITY).as_ref()),
        smallest_group: options::smallest_group(publish.as_ref()),
        map_classes: options::map_classes(publish.as_ref()),
        displaced_points: options::displaced_points(publish.as_ref()),
    }
}

/// The plan's top level.
struct Top<'a> {
    notes: &'a Notes,
    plan: Option<&'a Section<'a>>,
}

impl<'a> Top<'a> {
    fn node(&self, key: &str) -> Option<&'a Node> {
        self.plan?.node(key)
    }

    /// A table that may be left out.
    fn table(&self, key: &str, known: &[&str]) -> Option<Section<'a>> {
        Section::open(self.notes, self.node(key)?, &format!("[{key}]"), known)
    }

    /// A table that has to be there.
    fn needed(&self, key: &str, example: &str) -> Option<Section<'a>> {
        if let (None, Some(plan)) = (self.node(key), self.plan) {
            plan.missing_since(key, &format!("there is no [{key}]"), example);
        }
        let (_, known) = KNOWN.iter().find(|(name, _)| *name == format!("[{key}]"))?;
        self.table(key, known)
    }

    /// Tables that may be repeated; a single one in the wrong brackets is told and taken.
    fn many(&self, key: &str, name: &str) -> Vec<&'a Node> {
        let Some(node) = self.node(key) else {
            return Vec::new();
        };
        let wanted = format!("head each with {name}");
        match &node.value {
            Value::List(items) => items.iter().collect(),
            Value::Table(_) => {
                self.notes.tell_at(node, codes::WRONG_TYPE, format!("found [{key}], not {name}"), wanted);
                vec![node]
            }
            _ => {
                self.notes.wrong_type(node, "a list of tables", wanted);
                Vec::new()
            }
        }
    }

    fn needed_many<T>(
        &self,
        key: &str,
        name: &str,
        example: &str,
        read: fn(&'a Notes, &'a Node) -> Option<T>,
    ) -> Vec<T> {
        let nodes = self.many(key, name);
        let told = self.node(key).is_some_and(|node| !matches!(node.value, Value::List(_)));
        if let (true, false, Some(plan)) = (nodes.is_empty(), told, self.plan) {
            plan.missing_since(key, &format!("there is no {name}"), example);
        }
        nodes.into_iter().filter_map(|node| read(self.notes, node)).collect()
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_table_has_its_keys() {
        let named: Vec<&str> = super::KNOWN.iter().map(|(name, _)| name.trim_matches(['[', ']'])).collect();
        assert_eq!(named, super::TABLES);
    }
}
