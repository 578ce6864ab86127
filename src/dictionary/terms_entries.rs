//! Turns the dictionary's facts into entries for reading: one short line and one full text each.

use super::analytes::Analyte;
use super::benchmarks::{Benchmark, BenchmarkKind};
use super::built_in::Dictionary;
use super::terms::{Shown, Topic};
use super::units::{Unit, UnitEntry};
use crate::ids::AnalyteId;

/// Said wherever a limit is shown.
const YARDSTICK: &str = "Limits are made for public supplies and are yardsticks here. What a household should do is for the \
local health authority or a licensed well or treatment professional to say, from a certified laboratory's result.";

/// All entries of a topic, in the order of its file.
pub(super) fn of(dictionary: &Dictionary, topic: Topic) -> Vec<Shown> {
    match topic {
        Topic::Analytes => dictionary.analytes().iter().map(|(id, entry)| analyte(dictionary, id, entry)).collect(),
        Topic::Units => {
            let units = (0u16..).map(Unit).zip(&dictionary.units().entries);
            units.map(|(unit, entry)| described(dictionary, unit, entry)).collect()
        }
        Topic::Benchmarks => benchmarks(dictionary),
        Topic::Columns => columns(dictionary),
        Topic::Reasons => reasons(dictionary),
    }
}

fn analyte(dictionary: &Dictionary, id: AnalyteId, entry: &Analyte) -> Shown {
    let ways = || dictionary.analytes().ways().filter(move |(main, _)| *main == id).map(|(_, way)| way);
    let way_names = ways().flat_map(|way| std::iter::once(&way.id).chain(&way.synonyms));
    let names: Vec<String> = entry.synonyms.iter().chain(way_names).cloned().collect();
    let unit = dictionary.unit_text(id);
    let mut lines = vec![format!("{}: {}", entry.id, entry.display_name)];
    line(&mut lines, "CAS number", entry.cas.as_deref().unwrap_or(""));
    line(&mut lines, "group", &entry.group);
    line(&mut lines, "unit", &unit);
    line(&mut lines, "also called", &names.join("; "));
    line(&mut lines, "linked to", &dictionary.links().of(dictionary.analytes(), id).join(", "));
    line(&mut lines, "holding time", &holding(entry));
    line(&mut lines, "keeping", &entry.preservation);
    line(&mut lines, "field kit", &format!("{} (common practice, no source)", entry.kit.as_str()));
    line(&mut lines, "note", &entry.note);
    lines.extend(limits(dictionary, id, &unit));
    line(&mut lines, "caution", &entry.caution);
    Shown {
        keys: [&entry.id, &entry.display_name].into_iter().cloned().chain(names).collect(),
        table: None,
        short: format!("{:<28} {:<16} {}", entry.id, unit, entry.display_name),
        full: lines.join("\n"),
    }
}

fn line(lines: &mut Vec<String>, label: &str, text: &str) {
    if !text.is_empty() {
        lines.push(format!("  {label}: {text}"));
    }
}

fn holding(entry: &Analyte) -> String {
    let Some(hours) = entry.holding_hours else {
        return String::new();
    };
    let text = if hours >= 72.0 { format!("{} days", hours / 24.0) } else { format!("{hours} hours") };
    let checked = if entry.checked == "published-text" { "read in the rule" } else { "from memory" };
    format!("{text} ({checked})")
}

fn limits(dictionary: &Dictionary, id: AnalyteId, unit: &str) -> Vec<String> {
    let all = dictionary.benchmarks().all().iter();
    let mut lines: Vec<String> =
        all.filter(|b| b.analyte == id).map(|b| format!("  limit: {}", limit(b, unit))).collect();
    if lines.is_empty() {
        lines.push("  limit: none in any built-in set".to_owned());
    } else {
        lines.push(format!("  {YARDSTICK}"));
    }
    lines
}

fn limit(benchmark: &Benchmark, unit: &str) -> String {
    let asked = match benchmark.kind {
        BenchmarkKind::Absent => "not to be found".to_owned(),
        BenchmarkKind::Max { limit } => format!("at most {} {unit}", short_number(limit)),
        BenchmarkKind::Range { low, high } => {
            format!("{} to {} {unit}", short_number(low), short_number(high))
        }
    };
    let since = benchmark.effective.map_or("never in force".to_owned(), |day| format!("from {day}"));
    let note = if benchmark.note.is_empty() { String::new() } else { format!(" {}", benchmark.note) };
    format!(
        "{} {}: {asked} (printed {}), {since}. {} [{}].{note}",
        benchmark.set,
        benchmark.effect.as_str(),
        benchmark.printed,
        benchmark.source,
        benchmark.checked
    )
}

/// Six figures at most, without trailing zeros.
fn short_number(value: f64) -> String {
    let rounded = format!("{value:.5e}");
    rounded.parse::<f64>().map_or(rounded, |short| short.to_string())
}

fn described(dictionary: &Dictionary, unit: Unit, entry: &UnitEntry) -> Shown {
    let reading = dictionary.units().reading(unit, None);
    let fits = |id| matches!(dictionary.factor(id, &reading), Ok(_) | Err(super::reach::UnitFault::BasisMissing));
    let usable = dictionary.analytes().iter().filter(|(id, _)| fits(*id)).count();
    let mut lines = vec![format!("{}: {}", entry.name, entry.meaning)];
    line(&mut lines, "measures", &entry.kind);
    line(&mut lines, "also written", &entry.spellings.join("; "));
    line(
        &mut lines,
        "fits",
        &format!("{usable} of {} analytes (dissolved ones counted apart)", dictionary.analytes().len()),
    );
    Shown {
        keys: std::iter::once(entry.name.clone()).chain(entry.spellings.iter().cloned()).collect(),
        table: None,
        short: format!("{:<14} {:<13} {}", entry.name, entry.kind, entry.meaning),
        full: lines.join("\n"),
    }
}

fn benchmarks(dictionary: &Dictionary) -> Vec<Shown> {
    let sets = dictionary.benchmarks().sets().iter().map(|set| Shown {
        keys: vec![set.id.clone(), set.name.clone()],
        table: None,
        short: format!("{:<20} {}", set.id, set.name),
        full: format!("{}: {}\n  issued by: {}\n  {}\n  {YARDSTICK}", set.id, set.name, set.issued_by, set.meaning),
    });
    let limits = dictionary.benchmarks().all().iter().map(|benchmark| {
        let id = dictionary.analytes().id(benchmark.analyte);
        let text = limit(benchmark, &dictionary.unit_text(benchmark.analyte));
        Shown {
            keys: vec![id.to_owned(), format!("{} {id}", benchmark.set)],
            table: None,
            short: format!("{:<20} {:<28} {}", benchmark.set, id, benchmark.printed),
            full: format!("{id}\n  {text}\n  {YARDSTICK}"),
        }
    });
    sets.chain(limits).collect()
}

fn columns(dictionary: &Dictionary) -> Vec<Shown> {
    let entry = |column: &super::columns::Column| {
        let unit = if column.unit.is_empty() { String::new() } else { format!(", {}", column.unit) };
        Shown {
            keys: vec![column.name.clone(), format!("{} {}", column.table, column.name)],
            table: Some(column.table.clone()),
            short: format!("{:<16} {:<20} {}", column.table, column.name, column.meaning),
            full: format!("{}.csv, {} ({}{unit})\n  {}", column.table, column.name, column.kind, column.meaning),
        }
    };
    dictionary.columns().all().iter().map(entry).collect()
}

fn reasons(dictionary: &Dictionary) -> Vec<Shown> {
    let entry = |text: &super::reasons::ReasonText| Shown {
        keys: vec![text.reason.clone()],
        table: None,
        short: format!("{:<24} {}", text.reason, text.meaning),
        full: format!(
            "{} (stage {})\n  {}\n  what would help: {}",
            text.reason, text.stage, text.meaning, text.what_would_help
        ),
    };
    dictionary.reasons().all().iter().map(entry).collect()
}
