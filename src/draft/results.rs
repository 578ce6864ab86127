//! A results file becomes a `[[results]]`: its layout, its columns, how it writes numbers and dates, and what of its
//! words nobody knows.

use super::columns::{Column, Pick, Scales, is_number};
use super::dates::{self, Way};
use super::headings::EXACT;
use super::plan_text::{PlanText, list, quoted};
use super::sheet::{Extent, Sheet};
use super::unknown;
use super::wide::{self, Wide};
use crate::normalise::Marks;
use crate::plan::{MAPS, standard_names, standard_units};
use std::collections::BTreeMap;

/// The roles of a long file, in the order of the plan.
const LONG: &[&str] = &[
    "well",
    "analyte",
    "value",
    "unit",
    "qualifier",
    "second_qualifier",
    "limit",
    "limit_unit",
    "fraction",
    "basis",
    "status",
    "date",
    "received",
    "sample",
    "sample_kind",
    "method",
    "x",
    "y",
    "crs",
    "accuracy_m",
    "depth_m",
    "other",
];
/// Roles that both layouts share.
const COMMON: &[&str] =
    &["well", "date", "received", "sample", "sample_kind", "method", "x", "y", "crs", "accuracy_m", "depth_m", "other"];
const PLACES: [&str; 5] = ["x", "y", "crs", "accuracy_m", "depth_m"];

/// How the columns are laid out.
#[derive(Debug)]
pub(super) enum Kind {
    /// By the names of a standard.
    Standard(&'static str),
    /// One result a line.
    Long,
    /// One sample a line.
    Wide(Vec<Wide>, Vec<String>),
}

/// A guess at a results file.
#[derive(Debug)]
pub(super) struct Guess {
    pub kind: Kind,
    pub picks: BTreeMap<&'static str, Pick>,
}

/// The guess, if these are results at all.
pub(super) fn guess(scales: &Scales<'_>, sheet: &Sheet, columns: &[Column]) -> Option<Guess> {
    if let Some(standard) = standard(sheet, "results", &["well", "analyte", "value"]) {
        return Some(Guess { kind: Kind::Standard(standard), picks: BTreeMap::new() });
    }
    let (wide, left_out) = wide::find(scales, columns, &sheet.rows);
    let mut long = scales.assign(columns, LONG, &[]);
    value_by_cells(scales, columns, &mut long);
    let named = |pick: &Pick| {
        columns.get(pick.at).is_some_and(|c| c.kinds(|text| scales.is_analyte(text)) >= 0.2 || wide.is_empty())
    };
    if long.contains_key("value") && long.get("analyte").is_some_and(named) {
        well_by_cells(scales, columns, &mut long);
        return Some(Guess { kind: Kind::Long, picks: long });
    }
    let taken: Vec<usize> = wide.iter().flat_map(|w| [Some(w.at), w.qualifier, w.limit]).flatten().collect();
    let mut picks = scales.assign(columns, COMMON, &taken);
    if wide.is_empty() || (wide.len() < 2 && !picks.contains_key("date")) {
        return None;
    }
    well_by_cells(scales, columns, &mut picks);
    Some(Guess { kind: Kind::Wide(wide, left_out), picks })
}

/// The ready map whose elements stand in the header.
pub(super) fn standard(sheet: &Sheet, table: &str, roles: &[&str]) -> Option<&'static str> {
    let has = |column: Option<String>| column.is_some_and(|column| sheet.names.contains(&column));
    MAPS.iter().find(|(_, map)| roles.iter().all(|role| has(map.element(table, role)))).map(|(name, _)| *name)
}

/// Beside a clear analyte, a column of numbers is the value whatever it is called.
fn value_by_cells(scales: &Scales<'_>, columns: &[Column], picks: &mut BTreeMap<&'static str, Pick>) {
    let clear = picks
        .get("analyte")
        .and_then(|pick| columns.get(pick.at))
        .is_some_and(|c| c.kinds(|text| scales.is_analyte(text)) >= 0.5);
    if !clear || picks.contains_key("value") {
        return;
    }
    let free = |at: usize| picks.values().all(|pick| pick.at != at);
    let fits = |column: &Column| column.filled > 0 && scales.values(column) >= 0.9 && column.dates < 0.5;
    let marked = |column: &Column| column.share(|text| !text.chars().all(|c| c.is_ascii_digit()));
    let best = columns
        .iter()
        .enumerate()
        .filter(|(at, column)| free(*at) && fits(column))
        .max_by(|a, b| marked(a.1).total_cmp(&marked(b.1)).then(b.0.cmp(&a.0)));
    if let Some((at, _)) = best {
        picks.insert("value", Pick { at, doubt: "guessed from the cells, not from the heading".to_owned() });
    }
}

/// Without a heading that says well, the first column of ids.
fn well_by_cells(scales: &Scales<'_>, columns: &[Column], picks: &mut BTreeMap<&'static str, Pick>) {
    if picks.contains_key("well") {
        return;
    }
    let free = |at: usize| picks.values().all(|pick| pick.at != at);
    let id = |column: &Column| {
        let numbers = column.kinds(|text| is_number(text) && text.contains(['.', ',']));
        column.texts.len() > 1
            && numbers < 0.5
            && column.kinds(|text| scales.is_analyte(text) || scales.is_unit(text)) < 0.5
            && column.dates < 0.5
    };
    if let Some((at, _)) = columns.iter().enumerate().find(|(at, column)| free(*at) && id(column)) {
        picks.insert(
            "well",
            Pick { at, doubt: "no heading says which column is the well; this is the first one of ids".to_owned() },
        );
    }
}

/// Writes the part.
pub(super) fn write(
    plan: &mut PlanText,
    number: usize,
    files: &[String],
    sheet: &Sheet,
    columns: &[Column],
    guess: &Guess,
    scales: &Scales<'_>,
) {
    plan.heading("[[results]]", &format!("results[{number}]"));
    plan.key("files", &list(files.iter().map(String::as_str)), "");
    if let Some(name) = &sheet.name {
        plan.key("sheet", &quoted(name), "of several sheets, the one with the most rows");
    }
    if sheet.extent == Extent::Start {
        plan.remark(&format!("only the first {} rows were looked at", sheet.rows.len()));
    }
    let doubled = |(at, name): &(usize, &String)| {
        let others = |names: &[String]| names.iter().filter(|other| other == name).count();
        !name.is_empty() && others(&sheet.names) > 1 && others(sheet.names.get(..*at).unwrap_or_default()) == 0
    };
    for (_, name) in sheet.names.iter().enumerate().filter(doubled) {
        let told = format!("the heading {name:?} stands more than once; \"{name} (2)\" is its second column");
        plan.unsure(&told);
    }
    match &guess.kind {
        Kind::Standard(name) => {
            plan.key("columns", &quoted(name), "");
            // Names and units of the standard are looked at as those of any long file.
            unknown::write(plan, scales, &without_standard_words(columns), sheet, &standard_picks(sheet, name));
        }
        Kind::Long => {
            plan.key("layout", &quoted("long"), "");
            how_text_is_read(plan, scales, columns, guess, &[]);
            unknown::non_detect_words(plan, scales, columns, &value_columns(guess));
            columns_of(plan, columns, guess);
            unknown::write(plan, scales, columns, sheet, &guess.picks);
        }
        Kind::Wide(wide, left_out) => {
            plan.key("layout", &quoted("wide"), "");
            how_text_is_read(plan, scales, columns, guess, wide);
            unknown::non_detect_words(plan, scales, columns, &value_columns(guess));
            for doubt in left_out.iter().chain(&unused(scales, columns, guess, wide)) {
                plan.unsure(&format!("{doubt}; it is left out"));
            }
            columns_of(plan, columns, guess);
            analyte_columns(plan, columns, wide);
            unknown::write(plan, scales, columns, sheet, &guess.picks);
        }
    }
    plan.line("");
}

/// The columns without the words that a ready map brings along.
fn without_standard_words(columns: &[Column]) -> Vec<Column> {
    let (names, units) = (standard_names(), standard_units());
    let mut columns = columns.to_vec();
    for column in &mut columns {
        column.texts.retain(|text, _| !names.contains_key(text) && !units.contains_key(text));
    }
    columns
}

fn standard_picks(sheet: &Sheet, name: &str) -> BTreeMap<&'static str, Pick> {
    let map = MAPS.iter().find(|(known, _)| *known == name).map(|(_, map)| *map);
    let at = |role: &'static str| {
        let column = map?.element("results", role)?;
        let at = sheet.names.iter().position(|known| *known == column)?;
        Some((role, Pick { at, doubt: String::new() }))
    };
    ["analyte", "value", "unit", "basis"].into_iter().filter_map(at).collect()
}

/// Columns of values that no name was found for: nothing of a file is passed over in silence.
fn unused(scales: &Scales<'_>, columns: &[Column], guess: &Guess, wide: &[Wide]) -> Vec<String> {
    let side = |w: &Wide| [Some(w.at), w.qualifier, w.limit];
    let played: Vec<usize> =
        wide.iter().flat_map(side).flatten().chain(guess.picks.values().map(|pick| pick.at)).collect();
    let holds_values = |column: &Column| {
        let known = scales.headings.fit("other", &column.name) >= EXACT || column.dates >= 0.5;
        column.filled > 0 && !known && column.share(|text| scales.is_value(text, Marks::default())) >= 0.6
    };
    let free = columns.iter().enumerate().filter(|(at, column)| !played.contains(at) && !column.name.is_empty());
    let free = free.filter(|(_, column)| holds_values(column));
    free.map(|(_, column)| format!("column {:?} holds values, and no analyte of that name is known", column.name))
        .collect()
}

/// The columns that hold values.
fn value_columns(guess: &Guess) -> Vec<usize> {
    match &guess.kind {
        Kind::Wide(wide, _) => wide.iter().map(|w| w.at).collect(),
        _ => guess.picks.get("value").map(|pick| pick.at).into_iter().collect(),
    }
}

fn how_text_is_read(plan: &mut PlanText, scales: &Scales<'_>, columns: &[Column], guess: &Guess, wide: &[Wide]) {
    let mut numbers = value_columns(guess);
    numbers.extend(guess.picks.get("limit").map(|pick| pick.at));
    numbers.extend(wide.iter().filter_map(|w| w.limit));
    let numbers: Vec<&Column> = numbers.iter().filter_map(|at| columns.get(*at)).collect();
    match decimal(scales, &numbers) {
        (',', doubt) => plan.key("decimal", &quoted(","), doubt),
        (_, doubt) if !doubt.is_empty() => plan.unsure(doubt),
        _ => {}
    }
    let days = ["date", "received"]
        .into_iter()
        .filter_map(|role| guess.picks.get(role))
        .filter_map(|pick| columns.get(pick.at));
    let texts: Vec<&str> = days.flat_map(Column::keys).collect();
    if let Some(found) = dates::find(texts.iter().copied()) {
        let doubt =
            if found.either_way { "every date seen could be read with day and month the other way round" } else { "" };
        match found.way {
            Way::Iso => {}
            Way::Order(order) => plan.key("date_order", &quoted(order), doubt),
            Way::Format(format) => plan.key("date_format", &quoted(format), doubt),
        }
    }
}

/// The decimal mark, and why it is unsure.
fn decimal(scales: &Scales<'_>, columns: &[&Column]) -> (char, &'static str) {
    let count = |test: &dyn Fn(&str) -> bool| -> u64 {
        columns.iter().flat_map(|column| &column.texts).filter(|(text, _)| test(text)).map(|(_, count)| count).sum()
    };
    let (comma, stop) = (count(&|text| surely(text, ',')), count(&|text| surely(text, '.')));
    let unread = |marks: Marks| count(&|text| !scales.is_value(text, marks));
    let better = unread(Marks::new(Some(','), None)) < unread(Marks::default());
    let open = count(&|text| text.contains(',')) > 0;
    match (comma > stop, better) {
        (true, _) if stop == 0 => (',', ""),
        (true, true) => (',', "some numbers have a full stop instead"),
        _ if open && comma == 0 && stop == 0 => {
            ('.', "a comma in a number is read as one between thousands; write decimal = \",\" if it is not")
        }
        _ => ('.', ""),
    }
}

/// Whether a number's mark can only be its decimal mark: not three digits behind it, or a lone zero before it.
fn surely(text: &str, mark: char) -> bool {
    let other = if mark == ',' { '.' } else { ',' };
    let Some((before, behind)) = text.split_once(mark).filter(|_| !text.contains(other)) else { return false };
    let digits = behind.bytes().take_while(u8::is_ascii_digit).count();
    let whole: String = before.chars().filter(char::is_ascii_digit).collect();
    digits > 0 && !behind.contains(mark) && (digits != 3 || whole == "0")
}

fn columns_of(plan: &mut PlanText, columns: &[Column], guess: &Guess) {
    plan.line("[results.columns]");
    for role in LONG.iter().filter(|role| !PLACES.contains(role)) {
        if let Some((pick, column)) = guess.picks.get(role).and_then(|pick| Some((pick, columns.get(pick.at)?))) {
            plan.key(role, &quoted(&column.name), &pick.doubt);
        }
    }
    if !guess.picks.contains_key("well") {
        plan.offer("well", "\"...\"", "needed: no column looks like the well's id");
        plan.unsure("no column looks like the well's id; the plan cannot run without it");
    }
    if !guess.picks.contains_key("date") {
        plan.unsure("no column looks like the day of sampling; results without one are set aside");
    }
}

fn analyte_columns(plan: &mut PlanText, columns: &[Column], wide: &[Wide]) {
    plan.line("[results.analyte_columns]");
    let name = |at: usize| columns.get(at).map_or("\"\"".to_owned(), |column| quoted(&column.name));
    for w in wide {
        let mut keys = vec![format!("analyte = {}", quoted(&w.analyte))];
        keys.extend(w.unit.as_ref().map(|unit| format!("unit = {}", quoted(unit))));
        keys.extend(w.qualifier.map(|at| format!("qualifier = {}", name(at))));
        keys.extend(w.limit.map(|at| format!("limit = {}", name(at))));
        plan.key(&name(w.at), &format!("{{ {} }}", keys.join(", ")), &w.doubt);
    }
}
