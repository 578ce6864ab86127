//! Headings that are analytes: the columns of a file with one sample a line.
//!
//! The unit is looked for in the heading, then in a row of units under it. A heading such as `As RL` belongs to the
//! analyte before it. An analyte whose basis nobody states ("Nitrate, mg/L") is kept under its bare name, so that its
//! results are counted as lacking their basis and not silently read as nitrogen.

use super::columns::{Column, Scales};
use super::headings::words;
use crate::dictionary::{Analyte, Dictionary, NameOutcome, NameReading};
use crate::normalise::Marks;
use std::collections::BTreeSet;

/// One analyte's column.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wide {
    /// Which column holds the value.
    pub at: usize,
    /// Analyte, as a name of the dictionary.
    pub analyte: String,
    /// Unit.
    pub unit: Option<String>,
    /// Column with the qualifier.
    pub qualifier: Option<usize>,
    /// Column with the limit.
    pub limit: Option<usize>,
    /// Why the guess is unsure; empty where it is not.
    pub doubt: String,
}

/// The analytes' columns, in the order of the file; a second column of one analyte is left out and told.
pub(super) fn find(scales: &Scales<'_>, columns: &[Column], rows: &[Vec<String>]) -> (Vec<Wide>, Vec<String>) {
    let units = rows.first().filter(|row| is_row_of_units(scales, row));
    let (mut found, mut left_out, mut seen) = (Vec::<Wide>::new(), Vec::new(), BTreeSet::new());
    let (mut qualifiers, mut limits) = (Vec::new(), Vec::new());
    for (at, column) in columns.iter().enumerate() {
        if let Some((role, name)) = side_column(scales, &column.name) {
            if role == "qualifier" { &mut qualifiers } else { &mut limits }.push((at, name));
        } else if let Some(role) = alike(scales, &column.name) {
            // Of several columns called "Flag" each goes with the analyte before it.
            let before = found.last_mut().filter(|wide| at - wide.at <= 2);
            match (before, role) {
                (Some(wide), "qualifier") => wide.qualifier = Some(at),
                (Some(wide), _) => wide.limit = Some(at),
                (None, _) => left_out.push(format!("column {:?} follows no analyte", column.name)),
            }
        } else if let Some(told) = no_values(scales, column) {
            left_out.push(told);
        } else if let Some(wide) = analyte_column(scales, at, column, units.and_then(|row| row.get(at))) {
            if seen.insert(wide.analyte.to_lowercase()) {
                found.push(wide);
            } else {
                left_out.push(format!("column {:?} is a second one of {}", column.name, wide.analyte));
            }
        }
    }
    for wide in &mut found {
        let own = |list: &[(usize, NameReading)]| {
            let reading = known(scales.dictionary, &wide.analyte)?;
            list.iter().find(|(_, name)| name.analyte == reading.analyte).map(|(at, _)| *at)
        };
        (wide.qualifier, wide.limit) = (own(&qualifiers).or(wide.qualifier), own(&limits).or(wide.limit));
    }
    (found, left_out)
}

/// Whether a heading is the name of an analyte, with or without its unit.
pub(super) fn names_analyte(scales: &Scales<'_>, heading: &str) -> bool {
    scales.is_analyte(heading) || (heading.contains(['(', '[', ',']) && parts(scales.dictionary, heading).is_some())
}

/// Whether a row under the header holds units: more units than anything else.
pub(super) fn is_row_of_units(scales: &Scales<'_>, row: &[String]) -> bool {
    let units = row.iter().filter(|cell| !cell.is_empty() && scales.is_unit(cell)).count();
    let filled = row.iter().filter(|cell| !cell.is_empty()).count();
    units >= 2 && units * 2 > filled
}

/// The share of cells that have to be values below a heading that names an analyte, and one that names its unit too.
const LEAST: f64 = 0.6;
const LEAST_WITH_UNIT: f64 = 0.2;

/// The share of cells, or of different cells, that are values; 1 where there are no cells.
fn readable(scales: &Scales<'_>, column: &Column) -> f64 {
    if column.filled == 0 {
        return 1.0;
    }
    let of_cells = |marks: Marks| column.share(|text| scales.is_value(text, marks));
    let cells = of_cells(Marks::default()).max(of_cells(Marks::new(Some(','), None)));
    cells.max(scales.values(column))
}

/// What is told of a column that names an analyte and its unit but holds hardly any values.
fn no_values(scales: &Scales<'_>, column: &Column) -> Option<String> {
    let (name, unit) = parts(scales.dictionary, &column.name)?;
    unit.filter(|_| readable(scales, column) < LEAST_WITH_UNIT)?;
    Some(format!("column {:?} is called after {name} but hardly any of its cells can be read as a value", column.name))
}

/// `Flag (2)`: the role of one of several alike columns.
fn alike(scales: &Scales<'_>, heading: &str) -> Option<&'static str> {
    let (name, number) = heading.strip_suffix(')')?.rsplit_once(" (")?;
    number.parse::<u32>().ok()?;
    let clear = |role: &&str| scales.headings.fit(role, name) >= super::headings::EXACT;
    ["qualifier", "limit"].into_iter().find(clear)
}

fn analyte_column(scales: &Scales<'_>, at: usize, column: &Column, below: Option<&String>) -> Option<Wide> {
    let dictionary = scales.dictionary;
    let (name, unit) = parts(dictionary, &column.name)?;
    // A heading that is an analyte only by chance has cells that are no values.
    if readable(scales, column) < if unit.is_some() { LEAST_WITH_UNIT } else { LEAST } {
        return None;
    }
    let (reading, needs_basis) = match dictionary.resolve(&name) {
        NameOutcome::Known(reading) => (reading, false),
        NameOutcome::NeedsBasis(reading) => (reading, true),
        NameOutcome::Unknown { .. } => return None,
    };
    let unit = unit.or_else(|| below.filter(|text| scales.is_unit(text)).cloned());
    let mut wide = Wide {
        at,
        analyte: own_name(dictionary, &name, reading),
        unit,
        qualifier: None,
        limit: None,
        doubt: String::new(),
    };
    wide.doubt = doubt(dictionary, &wide, reading, needs_basis, column);
    Some(wide)
}

/// The dictionary's id where it says the same as the heading, otherwise the heading's own name.
fn own_name(dictionary: &Dictionary, name: &str, reading: NameReading) -> String {
    let id = dictionary.analytes().id(reading.analyte);
    match known(dictionary, id) {
        Some(plain) if plain.analyte == reading.analyte && plain.basis == reading.basis => id.to_owned(),
        _ => name.to_owned(),
    }
}

fn doubt(dictionary: &Dictionary, wide: &Wide, reading: NameReading, needs_basis: bool, column: &Column) -> String {
    let usual = dictionary.unit_text(reading.analyte);
    let Some(unit) = &wide.unit else {
        // Bacteria plainly present or absent need no unit; counts do.
        let written = column.keys().any(|text| text.contains(|c: char| c.is_ascii_digit()));
        let counts = dictionary.analytes().get(reading.analyte).is_some_and(Analyte::is_microbial) && written;
        let needless = dictionary.unit_optional(reading.analyte) && !counts;
        return if needless {
            String::new()
        } else {
            format!("no unit is given; add unit = \"...\", perhaps {usual:?}")
        };
    };
    match dictionary.read_unit(unit).map(|unit| dictionary.convert(&reading, &unit)) {
        Ok(Ok(_)) => String::new(),
        _ if needs_basis => format!("as what? its results are set aside until unit says it, such as {usual:?}"),
        _ => format!("{unit:?} does not fit; such as {usual:?} would"),
    }
}

/// `As RL`, `Flag Fe`: the role and the analyte.
fn side_column(scales: &Scales<'_>, heading: &str) -> Option<(&'static str, NameReading)> {
    let words = words(heading);
    for cut in 1..words.len() {
        let (front, back) = words.split_at(cut);
        for (name, word) in [(front, back), (back, front)] {
            let role = ["qualifier", "limit"]
                .into_iter()
                .find(|role| scales.headings.fit(role, &word.join(" ")) >= super::headings::EXACT);
            let reading = role.and_then(|_| known(scales.dictionary, &name.join(" ")));
            if let (Some(role), Some(reading)) = (role, reading) {
                return Some((role, reading));
            }
        }
    }
    None
}

fn known(dictionary: &Dictionary, name: &str) -> Option<NameReading> {
    match dictionary.resolve(name) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => Some(reading),
        NameOutcome::Unknown { .. } => None,
    }
}

/// A heading's name and unit: `Arsenic (ug/L)`, `Iron, mg/L`, `Lead ug/L`, `Mn_ug_L`.
fn parts(dictionary: &Dictionary, heading: &str) -> Option<(String, Option<String>)> {
    if known(dictionary, heading).is_some() {
        return Some((heading.to_owned(), None));
    }
    let marks = heading.char_indices().filter(|(_, c)| "([,_ ".contains(*c)).map(|(at, _)| at);
    let cuts = marks.filter_map(|at| heading.split_at_checked(at)).collect::<Vec<_>>();
    cuts.into_iter().rev().find_map(|(name, rest)| {
        let name = name.trim_matches(|c: char| "([,_ ".contains(c));
        known(dictionary, name)?;
        Some((name.to_owned(), Some(unit(dictionary, rest)?)))
    })
}

/// A unit text as written, or with the slash that a column name could not hold.
fn unit(dictionary: &Dictionary, rest: &str) -> Option<String> {
    let plain = rest.trim_matches(|c: char| "([,_ ])".contains(c));
    let spaced = plain.replace('_', " ");
    let slashed = spaced.replacen(' ', "/", 1);
    let joined =
        plain.strip_suffix('L').or(plain.strip_suffix('l')).map(|mass| format!("{mass}/L")).unwrap_or_default();
    [plain.to_owned(), spaced, slashed, joined]
        .into_iter()
        .find(|text| !text.is_empty() && dictionary.read_unit(text).is_ok())
}
