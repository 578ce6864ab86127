//! `[[results]]`: files of laboratory results, their layout and their own words.
//!
//! The file's own words are carried under their spelling in the file; the built-in ones are added where rows are read.

use super::{layout, located, ready, text};
use crate::dictionary::SampleFraction;
use crate::plan::checked::{DateOrder, Method, Qualifier, ResultsPart, SampleKind};
use crate::plan::notes::Notes;
use crate::plan::read::{Section, in_quotes, text_of, word_of};
use crate::plan::standard;
use crate::plan::written::Node;
use std::collections::BTreeMap;

pub(super) const KEYS: &[&str] = &[
    "files",
    "layout",
    "columns",
    "analyte_columns",
    "encoding",
    "delimiter",
    "header_line",
    "decimal",
    "thousands",
    "date_format",
    "date_order",
    "sheet",
    "non_detect_words",
    "sample_kinds",
    "methods",
    "qualifiers",
    "fractions",
    "names",
    "units",
];
pub(super) const EXAMPLE: &str =
    "write [[results]] and under it files, layout and columns, once for each kind of laboratory file";

pub(in crate::plan) const SAMPLE_KINDS: &[(&str, SampleKind)] = &[
    ("routine", SampleKind::Routine),
    ("duplicate", SampleKind::Duplicate),
    ("blank", SampleKind::Blank),
    ("spike", SampleKind::Spike),
    ("first-draw", SampleKind::FirstDraw),
    ("treated", SampleKind::Treated),
    ("after-repair", SampleKind::AfterRepair),
    ("noticed-change", SampleKind::NoticedChange),
    ("rejected", SampleKind::Rejected),
];
const METHODS: &[(&str, Method)] = &[("kit", Method::Kit), ("laboratory", Method::Laboratory)];
pub(in crate::plan) const QUALIFIERS: &[(&str, Qualifier)] = &[
    ("non-detect", Qualifier::NonDetect),
    ("estimated", Qualifier::Estimated),
    ("above", Qualifier::Above),
    ("rejected", Qualifier::Rejected),
    ("trace", Qualifier::Trace),
    ("note", Qualifier::Note),
];
const DATE_ORDERS: &[(&str, DateOrder)] =
    &[("day-first", DateOrder::DayFirst), ("month-first", DateOrder::MonthFirst), ("year-first", DateOrder::YearFirst)];

/// Reads one `[[results]]`, with the line of its files.
pub(super) fn read(notes: &Notes, node: &Node) -> Option<(ResultsPart, u64)> {
    let section = Section::open(notes, node, "[[results]]", KEYS)?;
    let ready = ready::named(&section);
    let part = ResultsPart {
        files: located::needed_files(&section, located::TABLES),
        layout: layout::read(&section, ready),
        text: text::read(&section),
        date_format: super::dates::format(&section),
        date_order: section.word("date_order", DATE_ORDERS),
        non_detect_words: section.texts("non_detect_words", "non_detect_words = [\"ND\"]").unwrap_or_default(),
        sample_kinds: own_first(
            meanings(&section, "sample_kinds", SAMPLE_KINDS),
            ready.map(|_| standard::sample_kinds()),
        ),
        methods: meanings(&section, "methods", METHODS),
        fractions: meanings(&section, "fractions", SampleFraction::WORDS),
        qualifiers: own_first(meanings(&section, "qualifiers", QUALIFIERS), ready.map(|_| standard::qualifiers())),
        names: own_first(
            spellings(&section, "names", "names = { \"NO3 (lab code 17)\" = \"nitrate_as_n\" }"),
            ready.map(|_| standard::names()),
        ),
        units: own_first(
            spellings(&section, "units", "units = { \"mg/l N\" = \"mg/L as N\" }"),
            ready.map(|_| standard::units()),
        ),
    };
    if section.has("date_format") {
        section.clash("date_order", "date_format", "date_format alone gives the order; leave one of the two out");
    }
    Some((part, section.node("files").map_or(section.line, |files| files.line)))
}

/// The user's words and what they mean.
fn meanings<T: Copy>(section: &Section<'_>, key: &str, words: &[(&str, T)]) -> BTreeMap<String, T> {
    let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
    let example = format!(
        "write {key} = {{ \"...\" = {:?} }}; accepted: {}",
        known.first().unwrap_or(&""),
        in_quotes(&known, ", ")
    );
    let read = |(word, node): &(String, Node)| Some((word.clone(), word_of(section.notes, node, words)?));
    free(section, key, &example).iter().filter_map(read).collect()
}

/// The user's own words, and beneath them those of a ready column map.
fn own_first<T>(mut own: BTreeMap<String, T>, standard: Option<BTreeMap<String, T>>) -> BTreeMap<String, T> {
    for (word, meaning) in standard.unwrap_or_default() {
        own.entry(word).or_insert(meaning);
    }
    own
}

/// The user's spellings and those of the dictionary.
fn spellings(section: &Section<'_>, key: &str, example: &str) -> BTreeMap<String, String> {
    let read = |(word, node): &(String, Node)| Some((word.clone(), text_of(section.notes, node)?));
    free(section, key, &format!("write {example}")).iter().filter_map(read).collect()
}

fn free<'a>(section: &Section<'a>, key: &str, example: &str) -> &'a [(String, Node)] {
    let table = section.node(key).and_then(|node| Section::open_free(section.notes, node, example));
    table.map_or(&[], |table| table.entries())
}
