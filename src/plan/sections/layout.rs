//! The layout of a results file: which columns hold what.
//!
//! Keys of the other layout are problems, not silently dropped: they show that the wrong layout was named.

use super::columns::Roles;
use super::ready;
use super::results::KEYS;
use crate::plan::checked::{CommonColumns, Layout, MoreColumns, Naming, WideColumn};
use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::read::Section;
use crate::plan::standard::Standard;
use crate::plan::written::{Node, Value};
use std::collections::BTreeMap;

const ANALYTE_ONLY: &[&str] = &[
    "analyte",
    "value",
    "unit",
    "qualifier",
    "limit",
    "second_qualifier",
    "status",
    "fraction",
    "basis",
    "limit_unit",
];
pub(super) const COLUMNS: &[&str] = &[
    "well",
    "analyte",
    "value",
    "unit",
    "qualifier",
    "limit",
    "date",
    "received",
    "sample",
    "sample_kind",
    "method",
    "second_qualifier",
    "status",
    "fraction",
    "basis",
    "limit_unit",
];
const WIDE: &[&str] = &["analyte", "unit", "qualifier", "limit"];
const COLUMNS_EXAMPLE: &str = "columns = { well = \"...\", ... }, with the names in the file's header";
const WIDE_EXAMPLE: &str =
    "\"Arsenic\" = { analyte = \"arsenic\", unit = \"ug/L\" } under [results.analyte_columns], once for each analyte";

#[derive(Clone, Copy, PartialEq)]
enum Shape {
    Long,
    Wide,
}
const LAYOUTS: &[(&str, Shape)] = &[("long", Shape::Long), ("wide", Shape::Wide)];

/// Reads the layout of one `[[results]]` with its columns.
pub(super) fn read(section: &Section<'_>, ready: Option<Standard>) -> Layout {
    if let Some(map) = ready {
        return standard(section, map);
    }
    let said = section.needed_word("layout", LAYOUTS);
    let wide = section.has("analyte_columns");
    let mut roles = Roles::new(section.notes);
    let columns = section
        .needed("columns", COLUMNS_EXAMPLE)
        .filter(|node| ready::is_table(section.notes, node))
        .and_then(|node| Section::open(section.notes, node, "columns of [[results]]", COLUMNS));
    if let Some(columns) = &columns {
        roles.take_all(columns, COLUMNS);
    }
    match said.unwrap_or(if wide { Shape::Wide } else { Shape::Long }) {
        Shape::Long => {
            if said.is_some() {
                section.clash(
                    "analyte_columns",
                    "layout = \"long\"",
                    "write layout = \"wide\" where each analyte has its own column",
                );
            }
            long(columns.as_ref())
        }
        Shape::Wide => {
            if let Some(columns) = columns.as_ref().filter(|_| said.is_some()) {
                for key in ANALYTE_ONLY {
                    columns.clash(
                        key,
                        "layout = \"wide\"",
                        "name each analyte's columns under [results.analyte_columns], or write layout = \"long\"",
                    );
                }
            }
            Layout::Wide { common: common(columns.as_ref()), analytes: analytes(section, &mut roles) }
        }
    }
}

/// A ready map is of a long file; `layout` may say so.
fn standard(section: &Section<'_>, map: Standard) -> Layout {
    let with = format!("columns = {:?}", map.name());
    if section.word("layout", LAYOUTS) == Some(Shape::Wide) {
        section.clash("layout", &with, "write layout = \"long\" or leave it out: the standard has one result a line");
    }
    section.clash("analyte_columns", &with, "leave it out: the standard has one result a line");
    map.layout()
}

fn long(columns: Option<&Section<'_>>) -> Layout {
    let needed = |key: &str| columns.map(|columns| needed_column(columns, key)).unwrap_or_default();
    let text = |key: &str| columns.and_then(|columns| columns.text(key));
    Layout::Long {
        common: common(columns),
        analyte: needed("analyte"),
        value: needed("value"),
        unit: text("unit"),
        qualifier: text("qualifier"),
        limit: text("limit"),
        more: Box::new(MoreColumns {
            second_qualifier: text("second_qualifier"),
            status: text("status"),
            fraction: text("fraction"),
            basis: text("basis"),
            limit_unit: text("limit_unit"),
        }),
    }
}

fn common(columns: Option<&Section<'_>>) -> CommonColumns {
    let Some(columns) = columns else {
        return CommonColumns::default();
    };
    CommonColumns {
        well: needed_column(columns, "well"),
        date: columns.text("date"),
        received: columns.text("received"),
        sample: columns.text("sample"),
        sample_kind: columns.text("sample_kind"),
        method: columns.text("method"),
        naming: Naming::Plan,
    }
}

fn needed_column(columns: &Section<'_>, key: &str) -> String {
    columns.needed_text(key, &format!("{key} = \"...\", the name of that column in the file's header"))
}

fn analytes(section: &Section<'_>, roles: &mut Roles<'_>) -> Vec<WideColumn> {
    let Some(node) = section.needed("analyte_columns", WIDE_EXAMPLE) else {
        return Vec::new();
    };
    let Some(table) = Section::open_free(section.notes, node, &format!("write {WIDE_EXAMPLE}")) else {
        return Vec::new();
    };
    if table.entries().is_empty() {
        section.notes.tell_at(node, codes::EMPTY_LIST, "no analyte's column is named", format!("write {WIDE_EXAMPLE}"));
    }
    let mut seen = BTreeMap::new();
    let read = |(column, node): &(String, Node)| wide_column(section.notes, column, node, roles, &mut seen);
    table.entries().iter().filter_map(read).collect()
}

fn wide_column(
    notes: &Notes,
    column: &str,
    node: &Node,
    roles: &mut Roles<'_>,
    seen: &mut BTreeMap<String, String>,
) -> Option<WideColumn> {
    if misplaced(notes, column, node) {
        return None;
    }
    let keys = Section::open(notes, node, "a column of an analyte", WIDE)?;
    roles.take(column, node);
    roles.take_all(&keys, &["qualifier", "limit"]);
    let analyte = keys.needed_text("analyte", "analyte = \"...\", a name of the dictionary");
    once(notes, &analyte, node, seen);
    Some(WideColumn {
        column: column.to_string(),
        analyte,
        unit: keys.text("unit"),
        qualifier: keys.text("qualifier"),
        limit: keys.text("limit"),
    })
}

/// A key of `[[results]]` written below the heading `[results.analyte_columns]` belongs to that heading in TOML.
fn misplaced(notes: &Notes, column: &str, node: &Node) -> bool {
    let is_key = KEYS.contains(&column) && !matches!(node.value, Value::Table(_));
    if is_key {
        let wanted = format!(
            "write {column} above [results.analyte_columns]: what stands below it is taken as a column of an analyte"
        );
        notes.tell_at(node, codes::UNKNOWN_KEY, format!("{column} stands under the wrong heading"), wanted);
    }
    is_key
}

fn once(notes: &Notes, analyte: &str, node: &Node, seen: &mut BTreeMap<String, String>) {
    let folded = analyte.trim().to_lowercase();
    if folded.is_empty() {
        return;
    }
    if let Some(first) = seen.insert(folded, node.path.clone()) {
        let found = format!("analyte {} already has a column, {first}", quoted(analyte));
        notes.tell_at(node, codes::ANALYTE_TWICE, found, "keep one of the two, or put the other in a part of its own");
    }
}
