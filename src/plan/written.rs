//! The plan as written: TOML text becomes a tree in which every value knows its key path and its line.
//!
//! Tables keep the order of the plan and are counted from 1 in key paths (`results[1]` is the first), as people
//! count. A plan that is not sound TOML gives its slips and no tree: a half-read tree would make the later steps
//! call keys missing that are there.

use crate::ids::Day;
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

/// One value of the plan.
#[derive(Debug)]
pub(super) struct Node {
    /// Key path as shown to users, such as `results[1].columns.well`; empty for the whole plan.
    pub path: String,
    /// Line in the plan, counted from 1; 0 for the whole plan.
    pub line: u64,
    /// What stands there.
    pub value: Value,
}

/// What kinds of value TOML has.
#[derive(Debug)]
pub(super) enum Value {
    Text(String),
    /// Wider than any key needs, so that a number too large is told as such.
    Whole(i128),
    Number(f64),
    Truth(bool),
    /// A date or time as written; the day only where it is a date and nothing more.
    Moment(String, Option<Day>),
    List(Vec<Node>),
    /// Keys in the order of the plan.
    Table(Vec<(String, Node)>),
}

/// A place where the text is not TOML.
#[derive(Debug, PartialEq)]
pub(super) struct Slip {
    pub line: u64,
    pub text: String,
}

/// Reads TOML text; the first slip of each line where it is not TOML.
pub(super) fn parse(text: &str) -> Result<Node, Vec<Slip>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = Lines::of(text);
    let (table, errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        let value = table_value(table.get_ref(), "", &lines);
        return Ok(Node { path: String::new(), line: 0, value });
    }
    let mut slips = BTreeMap::new();
    for error in errors {
        let line = error.span().map_or(0, |span| lines.at(span.start));
        slips.entry(line).or_insert_with(|| error.message().to_string());
    }
    Err(slips.into_iter().map(|(line, text)| Slip { line, text }).collect())
}

/// The line of every key path in the tree.
pub(super) fn lines_of(root: &Node) -> BTreeMap<String, u64> {
    let mut lines = BTreeMap::new();
    let mut left = vec![root];
    while let Some(node) = left.pop() {
        if !node.path.is_empty() {
            lines.insert(node.path.clone(), node.line);
        }
        match &node.value {
            Value::List(items) => left.extend(items),
            Value::Table(entries) => left.extend(entries.iter().map(|(_, node)| node)),
            _ => {}
        }
    }
    lines
}

/// The path of a key in the table at `path`; a key that is not a bare one stands in quotes.
pub(super) fn join(path: &str, key: &str) -> String {
    let bare = !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-');
    let key = if bare { key.to_string() } else { format!("{key:?}") };
    if path.is_empty() { key } else { format!("{path}.{key}") }
}

fn table_value(table: &DeTable<'_>, path: &str, lines: &Lines) -> Value {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    let node = |(key, value): (&Spanned<DeString<'_>>, &Spanned<DeValue<'_>>)| {
        let name: &str = key.get_ref();
        (name.to_string(), node(value, join(path, name), lines.at(key.span().start), lines))
    };
    Value::Table(entries.into_iter().map(node).collect())
}

fn node(value: &Spanned<DeValue<'_>>, path: String, line: u64, lines: &Lines) -> Node {
    let read = match value.get_ref() {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(whole) => whole_value(whole.as_str(), whole.radix()),
        DeValue::Float(number) => Value::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(truth) => Value::Truth(*truth),
        DeValue::Datetime(moment) => Value::Moment(moment.to_string(), day(moment)),
        DeValue::Array(items) => Value::List(list(items.iter(), &path, lines)),
        DeValue::Table(table) => table_value(table, &path, lines),
    };
    Node { path, line, value: read }
}

fn list<'a>(items: impl Iterator<Item = &'a Spanned<DeValue<'a>>>, path: &str, lines: &Lines) -> Vec<Node> {
    let item = |(place, value): (usize, &Spanned<DeValue<'_>>)| {
        node(value, format!("{path}[{}]", place + 1), lines.at(value.span().start), lines)
    };
    items.enumerate().map(item).collect()
}

fn whole_value(digits: &str, radix: u32) -> Value {
    match i128::from_str_radix(digits, radix) {
        Ok(whole) => Value::Whole(whole),
        Err(_) => Value::Number(digits.parse().unwrap_or(f64::NAN)),
    }
}

fn day(moment: &toml::value::Datetime) -> Option<Day> {
    if moment.time.is_some() || moment.offset.is_some() {
        return None;
    }
    let date = moment.date?;
    let date = chrono::NaiveDate::from_ymd_opt(i32::from(date.year), date.month.into(), date.day.into())?;
    Some(Day::of(date))
}

/// Where each line begins.
struct Lines(Vec<usize>);

impl Lines {
    fn of(text: &str) -> Lines {
        let breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        Lines(std::iter::once(0).chain(breaks.map(|(place, _)| place + 1)).collect())
    }

    fn at(&self, byte: usize) -> u64 {
        self.0.partition_point(|start| *start <= byte) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_paths_count_from_one_and_follow_the_plan() {
        let text = "\u{feff}[survey]\r\ntitle = \"a\"\r\n\r\n[[results]]\r\nx = [1,\r\n 2]\r\n[results.analyte_columns]\r\n\"E. coli\" = {b = 1}\r\n[[results]]\r\n";
        let lines = lines_of(&parse(text).unwrap());
        let shown: Vec<String> = lines.iter().map(|(path, line)| format!("{line} {path}")).collect();
        assert_eq!(
            shown,
            [
                "4 results",
                "4 results[1]",
                "7 results[1].analyte_columns",
                "8 results[1].analyte_columns.\"E. coli\"",
                "8 results[1].analyte_columns.\"E. coli\".b",
                "5 results[1].x",
                "5 results[1].x[1]",
                "6 results[1].x[2]",
                "9 results[2]",
                "1 survey",
                "2 survey.title",
            ]
        );
    }

    #[test]
    fn keys_keep_the_order_of_the_plan() {
        let root = parse("b = 1\na = 2\nc.z = 1\nc.a = 1\n").unwrap();
        let Value::Table(entries) = root.value else { panic!("a table") };
        assert_eq!(entries.iter().map(|(key, _)| key.as_str()).collect::<Vec<_>>(), ["b", "a", "c"]);
    }

    #[test]
    fn every_line_that_is_not_toml_is_told_once() {
        let slips = parse("a = b\nc = 1\nc = 2\nd = [1, 2\n").unwrap_err();
        let lines: Vec<u64> = slips.iter().map(|slip| slip.line).collect();
        assert_eq!(lines, [1, 3, 4]);
    }

    #[test]
    fn dates_with_a_time_have_no_day() {
        let root = parse("a = 2015-01-02\nb = 2015-01-02T03:04:05Z\n").unwrap();
        let Value::Table(entries) = root.value else { panic!("a table") };
        let days: Vec<Option<Day>> =
            entries.iter().map(|(_, node)| if let Value::Moment(_, day) = &node.value { *day } else { None }).collect();
        assert_eq!(days, [Some(Day(16437)), None]);
    }
}
