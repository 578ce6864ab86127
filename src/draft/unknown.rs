//! What of a file's words nobody knows: names, units, qualifiers, sample kinds, words for a non-detect. Each becomes a
//! line to take into use; none is guessed into the plan unless its own words say what it is.

use super::columns::{Column, Pick, Scales};
use super::plan_text::{PlanText, list, quoted};
use super::sheet::Sheet;
use super::wide::is_row_of_units;
use crate::dictionary::{NameOutcome, UnitFault};
use crate::normalise::{Marks, sample_kind};
use std::collections::BTreeMap;

/// More than this of one kind are not listed.
const LISTED: usize = 40;

/// Writes the tables of a part's own words.
pub(super) fn write(
    plan: &mut PlanText,
    scales: &Scales<'_>,
    columns: &[Column],
    sheet: &Sheet,
    picks: &BTreeMap<&'static str, Pick>,
) {
    let column = |role: &str| picks.get(role).and_then(|pick| columns.get(pick.at));
    if sheet.rows.first().is_some_and(|row| is_row_of_units(scales, row)) {
        plan.remark("the row of units under the header is read as a line of results and set aside");
    }
    if let Some(kinds) = column("sample_kind") {
        sample_kinds(plan, kinds);
    }
    if column("method").is_none() && says_kit(sheet) {
        plan.line("[results.methods]");
        plan.key("\"\"", &quoted("kit"), "the file's name or title speaks of a kit, so every result is taken as one");
    }
    if let Some(flags) = column("qualifier").filter(|flags| is_verdict(flags)) {
        plan.line("[results.qualifiers]");
        for (word, means) in VERDICTS.iter().filter(|(word, _)| flags.texts.contains_key(*word)) {
            plan.key(&quoted(word), &quoted(means), "the heading asks whether it was detected");
        }
    } else if let Some(flags) = column("qualifier") {
        let unknown = ranked(flags, |text| !scales.is_flag(text));
        offers(plan, "qualifiers", &unknown, |_| {
            ("note".to_owned(), "non-detect, estimated, above, rejected or note".to_owned())
        });
    }
    if let Some(names) = column("analyte") {
        unknown_names(plan, scales, names);
    }
    units(plan, scales, columns, sheet, picks);
}

/// What a column called "detected" says.
const VERDICTS: [(&str, &str); 8] = [
    ("N", "non-detect"),
    ("No", "non-detect"),
    ("NO", "non-detect"),
    ("no", "non-detect"),
    ("Y", "note"),
    ("Yes", "note"),
    ("YES", "note"),
    ("yes", "note"),
];

/// Whether a column answers yes or no to whether something was detected.
fn is_verdict(column: &Column) -> bool {
    let named = super::headings::words(&column.name).iter().any(|word| ["detect", "detected"].contains(&word.as_str()));
    named && column.filled > 0 && column.keys().all(|text| VERDICTS.iter().any(|(word, _)| *word == text))
}

/// Words in the values' place that say nothing yet.
pub(super) fn non_detect_words(plan: &mut PlanText, scales: &Scales<'_>, columns: &[Column], values: &[usize]) {
    let mut words: BTreeMap<&str, u64> = BTreeMap::new();
    for column in values.iter().filter_map(|at| columns.get(*at)) {
        let odd = column.texts.iter().filter(|(text, _)| {
            !text.chars().any(|c| c.is_ascii_digit())
                && !scales.is_value(text, Marks::default())
                && !scales.is_unit(text)
        });
        for (text, count) in odd {
            *words.entry(text).or_default() += count;
        }
    }
    if !words.is_empty() {
        plan.offer(
            "non_detect_words",
            &list(words.keys().copied().take(LISTED)),
            "not known in a value's place; keep those that mean not detected",
        );
    }
}

fn sample_kinds(plan: &mut PlanText, column: &Column) {
    let unknown = ranked(column, |text| sample_kind(text, &BTreeMap::new()).is_none());
    if unknown.is_empty() {
        return;
    }
    let guessed = unknown.iter().any(|(text, _)| kind_in(text).is_some());
    plan.line(if guessed { "[results.sample_kinds]" } else { "# [results.sample_kinds]" });
    for (text, count) in unknown.iter().take(LISTED) {
        match kind_in(text) {
            Some(kind) => plan.key(&quoted(text), &quoted(kind), &format!("guessed from its words ({})", rows(*count))),
            None => plan.offer(&quoted(text), "\"routine\"", &format!("{}, not known; taken as routine", rows(*count))),
        }
    }
    let silent: Vec<(&str, u64)> = unknown.iter().copied().filter(|(text, _)| kind_in(text).is_none()).collect();
    if !silent.is_empty() {
        plan.remark("routine, duplicate, blank, spike, first-draw, treated, after-repair, noticed-change or rejected");
        not_known(plan, "sample_kinds (taken as routine)", &silent);
    }
}

/// The kind that a text's own words speak of.
fn kind_in(text: &str) -> Option<&'static str> {
    const STEMS: [(&str, &str); 16] = [
        ("blank", "blank"),
        ("spike", "spike"),
        ("dup", "duplicate"),
        ("replic", "duplicate"),
        ("first", "first-draw"),
        ("1st", "first-draw"),
        ("stagna", "first-draw"),
        ("treat", "treated"),
        ("soften", "treated"),
        ("filter", "treated"),
        ("repair", "after-repair"),
        ("disinfect", "after-repair"),
        ("change", "noticed-change"),
        ("reject", "rejected"),
        ("void", "rejected"),
        ("cancel", "rejected"),
    ];
    let lower = text.to_lowercase();
    // "Untreated" and "unfiltered" are ordinary water.
    let turned =
        ["untreat", "unfilter", "unsoften", "before treat", "pre-treat"].iter().any(|word| lower.contains(word));
    STEMS.iter().find(|(stem, _)| lower.contains(stem) && !turned).map(|(_, kind)| *kind)
}

fn says_kit(sheet: &Sheet) -> bool {
    let names =
        sheet.paths.iter().filter_map(|path| path.file_stem()).map(|stem| stem.to_string_lossy().to_lowercase());
    let text = names.collect::<Vec<_>>().join(" ") + " " + &sheet.titles.to_lowercase();
    text.split(|c: char| !c.is_alphanumeric()).any(|word| ["kit", "kits", "strip", "strips"].contains(&word))
}

fn unknown_names(plan: &mut PlanText, scales: &Scales<'_>, names: &Column) {
    let unknown = ranked(names, |text| !scales.is_analyte(text));
    offers(plan, "names", &unknown, |text| match scales.dictionary.resolve(text) {
        NameOutcome::Unknown { nearest } if !nearest.is_empty() => {
            (nearest.first().cloned().unwrap_or_default(), format!("nearest: {}", nearest.join(", ")))
        }
        _ => ("...".to_owned(), "`wellreeve terms analytes` lists what is known".to_owned()),
    });
}

/// Units nobody knows, a unit in the value's heading, and names whose basis is not said.
fn units(
    plan: &mut PlanText,
    scales: &Scales<'_>,
    columns: &[Column],
    sheet: &Sheet,
    picks: &BTreeMap<&'static str, Pick>,
) {
    let column = |role: &str| picks.get(role).and_then(|pick| columns.get(pick.at));
    if let Some(units) = column("unit") {
        let unknown = ranked(units, |text| !scales.is_unit(text));
        offers(plan, "units", &unknown, |_| {
            ("...".to_owned(), "`wellreeve terms units` lists what is known".to_owned())
        });
        for (name, unit, count, fault) in faults(scales, sheet, picks) {
            plan.unsure(&format!("{name:?} in {unit:?} (rows: {count}) {fault}"));
        }
    } else if let Some(value) = column("value") {
        let inside = value
            .name
            .find(['(', '[', ','])
            .and_then(|at| value.name.get(at..))
            .map(|rest| rest.trim_matches(|c: char| "([,]) ".contains(c)));
        match inside.filter(|text| scales.is_unit(text)) {
            None if value.share(|text| scales.has_unit(text)) > 0.3 => {
                plan.remark("the units stand behind the numbers and are read there");
            }
            Some(unit) => {
                plan.line("[results.units]");
                plan.key("\"\"", &quoted(unit), "the unit in the value's heading, taken for every line");
            }
            None => {
                plan.unsure("no column of units; write [results.units] with \"\" = \"mg/L\" if all lines have one unit")
            }
        }
    }
}

type Fault<'s> = (&'s str, &'s str, u64, &'static str);

/// Known names in known units that do not go together.
fn faults<'s>(scales: &Scales<'_>, sheet: &'s Sheet, picks: &BTreeMap<&'static str, Pick>) -> Vec<Fault<'s>> {
    let (Some(name), Some(unit)) = (picks.get("analyte"), picks.get("unit")) else { return Vec::new() };
    // A basis in a column of its own goes with the unit.
    let based =
        |row: &Vec<String>| picks.get("basis").and_then(|basis| row.get(basis.at)).is_some_and(|text| !text.is_empty());
    let mut pairs: BTreeMap<(&str, &str), u64> = BTreeMap::new();
    for row in sheet.rows.iter().filter(|row| !based(row)) {
        if let (Some(name), Some(unit)) = (row.get(name.at), row.get(unit.at)) {
            *pairs.entry((name, unit)).or_default() += 1;
        }
    }
    let fault = |name: &str, unit: &str| {
        let (NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading)) = scales.dictionary.resolve(name) else {
            return None;
        };
        match scales.dictionary.convert(&reading, &scales.dictionary.read_unit(unit).ok()?).err()? {
            UnitFault::BasisMissing => {
                Some("does not say as what (as N, as NO3); the rows are set aside until names or units say it")
            }
            UnitFault::DoesNotFit => Some("does not fit; the rows are set aside"),
            UnitFault::Unknown => None,
        }
    };
    pairs
        .into_iter()
        .filter_map(|((name, unit), count)| Some((name, unit, count, fault(name, unit)?)))
        .take(LISTED)
        .collect()
}

/// `1 row`, `7 rows`.
fn rows(count: u64) -> String {
    if count == 1 { "1 row".to_owned() } else { format!("{count} rows") }
}

/// A table of lines for the user to take into use.
fn offers(plan: &mut PlanText, table: &str, unknown: &[(&str, u64)], offer: impl Fn(&str) -> (String, String)) {
    if unknown.is_empty() {
        return;
    }
    plan.remark(&format!("[results.{table}]"));
    for (text, count) in unknown.iter().take(LISTED) {
        let (value, why) = offer(text);
        plan.offer(&quoted(text), &quoted(&value), &format!("{}, not known; {why}", rows(*count)));
    }
    not_known(plan, table, unknown);
}

fn not_known(plan: &mut PlanText, table: &str, unknown: &[(&str, u64)]) {
    let listed: Vec<String> = unknown.iter().take(3).map(|(text, _)| format!("{text:?}")).collect();
    let more = if unknown.len() > 3 { format!(" and {} more", unknown.len() - 3) } else { String::new() };
    plan.unsure(&format!("{table} not known: {}{more}", listed.join(", ")));
}

/// A column's texts that pass a test, the most frequent first.
fn ranked(column: &Column, test: impl Fn(&str) -> bool) -> Vec<(&str, u64)> {
    let mut texts: Vec<(&str, u64)> =
        column.texts.iter().filter(|(text, _)| test(text)).map(|(text, count)| (text.as_str(), *count)).collect();
    texts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    texts
}
