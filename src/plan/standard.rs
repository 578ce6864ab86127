//! Ready column maps: the element names of an open standard stand in for columns that a user would write out.
//!
//! The names are facts of the Water Quality Exchange (WQX) and live in data-dictionary/; two styles of heading are in
//! use, so there are two maps. A file of the standard rarely has every element, so all but the well, the analyte and
//! the value may be missing.

use super::checked::{CommonColumns, Layout, MoreColumns, Naming, Qualifier, SampleKind};
use std::collections::{BTreeMap, BTreeSet};

const COLUMNS: &str = include_str!("../../data-dictionary/wqx-columns.csv");
const WORDS: &str = include_str!("../../data-dictionary/wqx-words.csv");

/// The maps by the name the plan gives them.
pub(crate) const MAPS: &[(&str, Standard)] = &[("wqx", Standard("wqx")), ("wqx-3", Standard("wqx-3"))];

/// One ready column map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Standard(&'static str);

impl Standard {
    /// The name in a plan.
    pub(crate) fn name(self) -> &'static str {
        self.0
    }

    /// The element that plays a role in a table (`results` or `wells`).
    pub(crate) fn element(self, table: &str, role: &str) -> Option<String> {
        let mut rows = rows(COLUMNS);
        rows.find(|row| cell(row, 0) == self.0 && cell(row, 1) == table && cell(row, 2) == role)
            .map(|row| cell(&row, 3).to_owned())
    }

    /// The layout of a results file.
    pub(crate) fn layout(self) -> Layout {
        let element = |role: &str| self.element("results", role);
        Layout::Long {
            common: CommonColumns {
                well: element("well").unwrap_or_default(),
                date: element("date"),
                received: element("received"),
                sample: element("sample"),
                sample_kind: element("sample_kind"),
                method: element("method"),
                naming: Naming::Standard,
            },
            analyte: element("analyte").unwrap_or_default(),
            value: element("value").unwrap_or_default(),
            unit: element("unit"),
            qualifier: element("qualifier"),
            limit: element("limit"),
            more: Box::new(MoreColumns {
                second_qualifier: element("second_qualifier"),
                status: element("status"),
                fraction: element("fraction"),
                basis: element("basis"),
                limit_unit: element("limit_unit"),
            }),
        }
    }
}

/// Every element of every map, for telling a file of the standard.
pub(crate) fn elements() -> BTreeSet<String> {
    rows(COLUMNS).map(|row| cell(&row, 3).to_owned()).collect()
}

/// What the standard's detection conditions mean.
pub(crate) fn qualifiers() -> BTreeMap<String, Qualifier> {
    words("detection-condition", super::sections::QUALIFIERS)
}

/// What the standard's activity types mean.
pub(crate) fn sample_kinds() -> BTreeMap<String, SampleKind> {
    words("activity-type", super::sections::SAMPLE_KINDS)
}

/// The dictionary's names for characteristics that it does not know as the standard writes them.
pub(crate) fn names() -> BTreeMap<String, String> {
    spellings("characteristic")
}

/// The dictionary's units for those that it does not know as the standard writes them.
pub(crate) fn units() -> BTreeMap<String, String> {
    spellings("unit")
}

fn spellings(domain: &str) -> BTreeMap<String, String> {
    let of_domain = rows(WORDS).filter(|row| cell(row, 0) == domain);
    of_domain.map(|row| (cell(&row, 1).to_owned(), cell(&row, 2).to_owned())).collect()
}

fn words<T: Copy>(domain: &str, meanings: &[(&str, T)]) -> BTreeMap<String, T> {
    let meaning = |word: &str| meanings.iter().find(|(known, _)| *known == word).map(|(_, meaning)| *meaning);
    rows(WORDS)
        .filter(|row| cell(row, 0) == domain)
        .filter_map(|row| Some((cell(&row, 1).to_owned(), meaning(cell(&row, 2))?)))
        .collect()
}

/// The rows of an embedded table; the tests below hold that each can be read.
fn rows(text: &'static str) -> impl Iterator<Item = csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes()).into_records().filter_map(Result::ok)
}

fn cell(row: &csv::StringRecord, at: usize) -> &str {
    row.get(at).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_can_be_read_and_every_word_has_a_meaning() {
        for text in [COLUMNS, WORDS] {
            assert_eq!(rows(text).count(), csv::Reader::from_reader(text.as_bytes()).into_records().count());
        }
        let counted = |domain: &str| rows(WORDS).filter(|row| cell(row, 0) == domain).count();
        assert_eq!(qualifiers().len(), counted("detection-condition"));
        assert_eq!(sample_kinds().len(), counted("activity-type"));
        assert_eq!(counted("datum"), 3);
        let dictionary = crate::dictionary::Dictionary::built_in().unwrap();
        for name in names().values() {
            assert!(!matches!(dictionary.resolve(name), crate::dictionary::NameOutcome::Unknown { .. }), "{name}");
        }
        for unit in units().values() {
            assert!(dictionary.read_unit(unit).is_ok(), "{unit}");
        }
    }

    #[test]
    fn each_map_names_what_a_result_and_a_well_cannot_do_without() {
        for (name, map) in MAPS {
            assert_eq!(*name, map.name());
            for (table, roles) in
                [("results", &["well", "analyte", "value"][..]), ("wells", &["well", "x", "y", "crs"])]
            {
                for role in roles {
                    assert!(map.element(table, role).is_some(), "{name} {table} {role}");
                }
            }
        }
    }

    #[test]
    fn a_condition_that_says_found_is_never_a_non_detect() {
        for (word, meaning) in qualifiers() {
            let found = word.starts_with("Present") || word.starts_with("Detected") || word.starts_with("Too");
            assert!(!found || !matches!(meaning, Qualifier::NonDetect), "{word}");
        }
    }
}
