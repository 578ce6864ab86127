//! The whole plan: text to tree, tree to sections, and what only the sections together can show.
//!
//! A faulty value becomes a default and its problem is kept, so that the files can be looked at all the same and
//! everything is told at once. Text columns that a faulty plan does not name are empty.

use super::checked::Plan;
use super::codes;
use super::files;
use super::notes::Notes;
use super::paths;
use super::sections::{self, Parts};
use super::source;
use super::written::{self, Node, Slip};
use crate::plan::shown_path;
use crate::problem::{Problem, Problems};
use std::collections::BTreeMap;
use std::path::Path;

/// A plan and what is wrong with it.
#[derive(Debug)]
pub struct Loaded {
    /// The plan, where enough was understood to go on checking; fit to be run only without problems.
    pub plan: Option<Plan>,
    /// Everything wrong with the plan, in the order of its lines.
    pub problems: Problems,
}

/// Reads and checks a plan file; every problem is told, and none of them is an error of this function.
pub fn load(path: &Path) -> Loaded {
    match source::plan_text(path) {
        Err(problems) => Loaded { plan: None, problems },
        Ok(text) => match written::parse(&text) {
            Err(slips) => Loaded { plan: None, problems: not_toml(path, &text, slips) },
            Ok(tree) => understood(path, text, &tree),
        },
    }
}

fn understood(path: &Path, text: String, tree: &Node) -> Loaded {
    let notes = Notes::new(path, paths::base_of(path));
    let parts = sections::read(&notes, tree);
    files_once(&notes, &parts);
    let plan = plan(&notes, text, written::lines_of(tree), parts);
    Loaded { plan: Some(plan), problems: Problems(notes.into_told()) }
}

fn plan(notes: &Notes, text: String, lines: BTreeMap<String, u64>, parts: Parts) -> Plan {
    Plan {
        path: notes.plan.clone(),
        base: notes.base.clone(),
        text,
        survey: parts.survey,
        results: parts.results.into_iter().map(|(part, _)| part).collect(),
        wells: parts.wells,
        areas: parts.areas,
        further_areas: parts.further_areas,
        land_use: parts.land_use,
        benchmarks: parts.benchmarks,
        per_well: parts.per_well,
        summary: parts.summary,
        recommend: parts.recommend,
        letters: parts.letters,
        events: parts.events,
        most_set_aside: parts.most_set_aside,
        smallest_group: parts.smallest_group,
        map_classes: parts.map_classes,
        displaced_points: parts.displaced_points,
        lines,
    }
}

/// A results file in two parts would be counted twice.
fn files_once(notes: &Notes, parts: &Parts) {
    let mut owners = BTreeMap::new();
    for (place, (part, line)) in parts.results.iter().enumerate() {
        for file in &part.files {
            let Some(first) = owners.insert(files::real(file), place).filter(|first| *first != place) else {
                continue;
            };
            let found = format!("{:?} is already in results[{}].files", shown_path(&notes.base, file), first + 1);
            let key = format!("results[{}].files", place + 1);
            notes.tell(
                (&key, *line),
                codes::FILE_TWICE,
                found,
                "a results file belongs to one part; take it out of the other",
            );
        }
    }
}

/// As many slips as one would mend in a sitting; a file that is no plan has one on every line.
const SLIPS: usize = 20;

fn not_toml(path: &Path, text: &str, slips: Vec<Slip>) -> Problems {
    let more = slips.len().saturating_sub(SLIPS);
    let mut problems: Vec<Problem> =
        slips.into_iter().take(SLIPS).map(|slip| slip_problem(path, text, &slip)).collect();
    if more > 0 {
        let found = format!("{more} more lines are not readable as TOML");
        problems.push(Problem::file(path, codes::PLAN_SYNTAX, found, "make sure that this is a plan"));
    }
    problems.sort();
    Problems(problems)
}

fn slip_problem(path: &Path, text: &str, slip: &Slip) -> Problem {
    let found = format!("not readable as TOML: {}", slip.text);
    let line = text.lines().nth(slip.line.saturating_sub(1) as usize).unwrap_or_default();
    let problem = Problem::file(path, codes::PLAN_SYNTAX, found, syntax_hint(&slip.text, line));
    if slip.line == 0 { problem } else { problem.at(slip.line) }
}

fn syntax_hint(slip: &str, line: &str) -> String {
    let hint = if line.contains(['\u{201c}', '\u{201d}', '\u{201e}']) {
        "use straight quotes: \""
    } else if line.contains('\\') {
        "write / instead of \\ in paths"
    } else if slip.contains("duplicate key") {
        "a key stands once under its heading, and a heading once; only headings in double brackets, such as [[results]], may be repeated"
    } else if slip.contains("quoted") || slip.contains("boolean") {
        "texts stand in quotes, as in layout = \"long\"; numbers, dates (2025-12-31), true and false do not"
    } else {
        "the rest of the plan is read once this is mended"
    };
    hint.to_string()
}
