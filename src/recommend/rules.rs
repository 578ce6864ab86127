//! The rules of when a well is due again: a small table that a county can replace (`recommend.retest_rules`).
//!
//! Columns: `rule` (its name in retest.csv), `trigger`, `tests` (analytes between semicolons, `all-others` or `any`), `due_days`,
//! `overdue_days` (may be empty), `source`. The built-in rules are common practice, without a source, and say so.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::ids::AnalyteId;
use crate::plan::EventKind;
use crate::problem::{Problem, Problems, nearest};
use std::collections::BTreeSet;
use std::path::Path;

/// The built-in table.
const BUILT_IN: &str = include_str!("../../data-dictionary/retest-rules.csv");
/// Headings that must be there.
const NEEDED: [&str; 4] = ["rule", "trigger", "tests", "due_days"];
/// Code of every fault of the table.
const CODE: &str = "retest-rule-unusable";

/// What makes a well due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trigger {
    /// The last test is so many days old.
    OlderThan,
    /// The well lies inside an event's outline and was not tested since.
    After(EventKind),
    /// A sample taken after a repair is the last one.
    AfterRepair,
    /// A sample taken because the household noticed a change.
    AfterChange,
    /// Found for the first time, and not tested since.
    FirstDetect,
    /// Above a health limit for the first time, and not tested since.
    FirstExceedance,
}

const TRIGGERS: [(&str, Trigger); 8] = [
    ("older-than", Trigger::OlderThan),
    ("after-flood", Trigger::After(EventKind::Flood)),
    ("after-earthquake", Trigger::After(EventKind::Earthquake)),
    ("after-drought", Trigger::After(EventKind::Drought)),
    ("after-repair", Trigger::AfterRepair),
    ("after-change", Trigger::AfterChange),
    ("first-detect", Trigger::FirstDetect),
    ("first-exceedance", Trigger::FirstExceedance),
];

/// Which tests a rule speaks of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tests {
    /// These.
    Of(BTreeSet<AnalyteId>),
    /// Everything that no other `older-than` rule names.
    AllOthers,
    /// Everything.
    Any,
}

/// One rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rule {
    /// Its name.
    pub name: String,
    /// What makes a well due.
    pub trigger: Trigger,
    /// Which tests.
    pub tests: Tests,
    /// The same for people: dictionary ids between semicolons, or `standard panel`.
    pub asks: String,
    /// Days after which it is due.
    pub due_days: i32,
    /// Days after which it is overdue.
    pub overdue_days: Option<i32>,
}

impl Rule {
    /// Whether it asks for a second sample of something found once.
    pub fn confirms(&self) -> bool {
        matches!(self.trigger, Trigger::FirstDetect | Trigger::FirstExceedance)
    }
}

/// The rules, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rules(pub Vec<Rule>);

impl Rules {
    /// The built-in rules.
    ///
    /// # Errors
    /// None that tests do not see.
    pub fn built_in(dictionary: &Dictionary) -> Result<Rules, Problems> {
        Rules::parse(dictionary, Path::new("data-dictionary/retest-rules.csv"), BUILT_IN)
    }

    /// Reads a table of rules.
    ///
    /// # Errors
    /// Every fault, with its line and column.
    pub fn parse(dictionary: &Dictionary, file: &Path, text: &str) -> Result<Rules, Problems> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
        let headings: Vec<String> = reader
            .headers()
            .map_err(|fault| fault_at(file, 1, "", fault.to_string(), "write a table of text with commas"))?
            .iter()
            .map(str::to_owned)
            .collect();
        let mut problems = Problems::default();
        for need in NEEDED.iter().filter(|need| !headings.iter().any(|heading| heading == *need)) {
            let wanted =
                format!("columns: rule, trigger, tests, due_days, overdue_days, source; found {}", headings.join(", "));
            problems.push(fault_at(file, 1, need, "there is no such column".to_owned(), wanted));
        }
        problems.or(())?;
        let (mut rules, mut problems) = (Rules::default(), Problems::default());
        for record in reader.records() {
            let record = record.map_err(|fault| fault_at(file, 0, "", fault.to_string(), "mend the quotes"))?;
            let line = record.position().map_or(0, csv::Position::line);
            let cells = Cells { file, line, headings: &headings, record: &record };
            rules.0.extend(problems.keep(rule(dictionary, &cells, &rules)));
        }
        if rules.0.is_empty() && problems.0.is_empty() {
            problems.push(fault_at(
                file,
                1,
                "",
                "there is no rule".to_owned(),
                "write a rule a line, or leave the key out",
            ));
        }
        problems.or(rules)
    }

    /// Analytes that some `older-than` rule names.
    pub fn named(&self) -> BTreeSet<AnalyteId> {
        let ages = self.0.iter().filter(|rule| rule.trigger == Trigger::OlderThan);
        let lists = ages.filter_map(|rule| match &rule.tests {
            Tests::Of(list) => Some(list),
            Tests::AllOthers | Tests::Any => None,
        });
        lists.flatten().copied().collect()
    }
}

struct Cells<'a> {
    file: &'a Path,
    line: u64,
    headings: &'a [String],
    record: &'a csv::StringRecord,
}

impl<'a> Cells<'a> {
    fn at(&self, heading: &str) -> &'a str {
        self.headings.iter().position(|h| h == heading).and_then(|at| self.record.get(at)).unwrap_or("")
    }

    fn fault(&self, column: &str, found: String, wanted: impl Into<String>) -> Problem {
        fault_at(self.file, self.line, column, found, wanted)
    }

    fn days(&self, column: &str) -> Result<i32, Problem> {
        let text = self.at(column);
        let days = text.parse::<i32>().ok().filter(|days| (0..=36_525).contains(days));
        days.ok_or_else(|| {
            self.fault(column, format!("\"{text}\" is no number of days"), "a whole number from 0 to 36525")
        })
    }
}

fn fault_at(file: &Path, line: u64, column: &str, found: String, wanted: impl Into<String>) -> Problem {
    Problem::file(file, CODE, found, wanted).at(line).under(column)
}

fn rule(dictionary: &Dictionary, cells: &Cells<'_>, before: &Rules) -> Result<Rule, Problems> {
    let mut problems = Problems::default();
    let name = cells.at("rule");
    if name.is_empty() || before.0.iter().any(|rule| rule.name == name) {
        let found = if name.is_empty() { "empty".to_owned() } else { format!("\"{name}\" stands twice") };
        problems.push(cells.fault("rule", found, "give each rule a name of its own"));
    }
    let trigger = problems.keep(trigger(cells).map_err(Problems::from));
    let tests = problems.keep(tests(dictionary, cells));
    let due_days = problems.keep(cells.days("due_days").map_err(Problems::from));
    let overdue = (!cells.at("overdue_days").is_empty()).then(|| cells.days("overdue_days").map_err(Problems::from));
    let overdue_days = overdue.and_then(|days| problems.keep(days));
    if let (Some(due), Some(overdue)) = (due_days, overdue_days)
        && overdue < due
    {
        problems.push(cells.fault(
            "overdue_days",
            format!("{overdue} is before due_days, {due}"),
            "a later day, or nothing",
        ));
    }
    match (trigger, tests, due_days) {
        (Some(trigger), Some(tests), Some(due_days)) => {
            let asks = asks(dictionary, &tests);
            problems.or(Rule { name: name.to_owned(), trigger, tests, asks, due_days, overdue_days })
        }
        _ => Err(problems),
    }
}

fn asks(dictionary: &Dictionary, tests: &Tests) -> String {
    match tests {
        Tests::Of(list) => list.iter().map(|analyte| dictionary.analytes().id(*analyte)).collect::<Vec<_>>().join(";"),
        Tests::AllOthers | Tests::Any => "standard panel".to_owned(),
    }
}

fn trigger(cells: &Cells<'_>) -> Result<Trigger, Problem> {
    let word = cells.at("trigger");
    let words = TRIGGERS.iter().map(|(word, _)| *word);
    let found = TRIGGERS.iter().find(|(known, _)| *known == word).map(|(_, trigger)| *trigger);
    found.ok_or_else(|| {
        let near = nearest(word, words.clone()).map(|near| format!("did you mean \"{near}\"? ")).unwrap_or_default();
        let wanted = format!("{near}accepted: {}", words.collect::<Vec<_>>().join(", "));
        cells.fault("trigger", format!("unknown word \"{word}\""), wanted)
    })
}

fn tests(dictionary: &Dictionary, cells: &Cells<'_>) -> Result<Tests, Problems> {
    match cells.at("tests") {
        "any" => return Ok(Tests::Any),
        "all-others" => return Ok(Tests::AllOthers),
        _ => {}
    }
    let mut problems = Problems::default();
    let mut list = BTreeSet::new();
    for name in cells.at("tests").split(';').map(str::trim).filter(|name| !name.is_empty()) {
        match dictionary.resolve(name) {
            NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => {
                list.insert(reading.analyte);
            }
            NameOutcome::Unknown { .. } => {
                let wanted =
                    "name analytes between semicolons, as `wellreeve terms analytes` lists them; or all-others; or any";
                problems.push(cells.fault("tests", format!("\"{name}\" is no analyte"), wanted));
            }
        }
    }
    if list.is_empty() && problems.0.is_empty() {
        let wanted = "name analytes between semicolons, or write all-others or any";
        problems.push(cells.fault("tests", "empty".to_owned(), wanted));
    }
    problems.or(Tests::Of(list))
}

#[cfg(test)]
mod tests_of_rules {
    use super::*;

    fn parse(text: &str) -> Result<Rules, String> {
        let dictionary = Dictionary::built_in().unwrap();
        Rules::parse(&dictionary, Path::new("rules.csv"), text).map_err(|problems| problems.to_string())
    }

    #[test]
    fn the_built_in_rules_are_sound_and_own_up_to_having_no_source() {
        let rules = Rules::built_in(&Dictionary::built_in().unwrap()).unwrap();
        assert!(rules.0.len() >= 7 && rules.named().len() == 4);
        assert!(BUILT_IN.lines().skip(1).all(|line| line.contains("common practice, no source")));
    }

    #[test]
    fn faults_are_told_with_line_and_column() {
        let told = parse(
            "rule,trigger,tests,due_days,overdue_days\na,older-then,arsenic;unobtanium,ten,\na,older-than,any,5,3\n",
        )
        .unwrap_err();
        for part in [
            "rules.csv, line 2, trigger: unknown word \"older-then\"",
            "did you mean \"older-than\"?",
            "rules.csv, line 2, tests: \"unobtanium\" is no analyte",
            "rules.csv, line 2, due_days: \"ten\" is no number of days",
            "rules.csv, line 3, overdue_days: 3 is before due_days, 5",
            "[retest-rule-unusable]",
        ] {
            assert!(told.contains(part), "{part} in\n{told}");
        }
        assert!(
            parse("rule,tests,due_days\na,any,1\n").unwrap_err().contains("line 1, trigger: there is no such column")
        );
        assert!(parse("rule,trigger,tests,due_days\n").unwrap_err().contains("there is no rule"));
        assert!(
            parse("rule,trigger,tests,due_days\nx,after-repair,,1\n").unwrap_err().contains("line 2, tests: empty")
        );
        let twice = parse("rule,trigger,tests,due_days\nx,after-repair,any,1\nx,older-than,any,1\n").unwrap_err();
        assert!(twice.contains("line 3, rule: \"x\" stands twice"), "{twice}");
    }
}
