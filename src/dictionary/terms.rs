//! Answers `wellreeve terms`: the dictionary, read like a dictionary. Turns a topic and perhaps a word into
//! plain text: with a word the best matches in full, or the nearest entries when none matches; without a
//! word a compact list.

use super::built_in::Dictionary;
use super::fold::{compact, words};
use super::names::NameOutcome;
use super::terms_entries as entries;

/// What is asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Topic {
    /// Analytes.
    Analytes,
    /// Units.
    Units,
    /// Limits.
    Benchmarks,
    /// Output columns.
    Columns,
    /// Reasons for setting a result aside.
    Reasons,
}

/// An entry that may be shown: what it is found by, and its two forms.
pub(super) struct Shown {
    pub(super) keys: Vec<String>,
    /// The table whose column it is; none for everything else.
    pub(super) table: Option<String>,
    pub(super) short: String,
    pub(super) full: String,
}

/// How many entries one answer holds at most.
const MOST: usize = 12;

/// The answer as text ending in a line break.
#[must_use]
pub fn lookup(dictionary: &Dictionary, topic: Topic, word: Option<&str>) -> String {
    let all = entries::of(dictionary, topic);
    let Some(word) = word.map(str::trim).filter(|word| !word.is_empty()) else {
        return all.iter().map(|entry| format!("{}\n", entry.short)).collect();
    };
    if let Some(table) = of_table(&all, word) {
        return table;
    }
    let meant = meant(dictionary, topic, word);
    let key = compact(&words(meant.as_deref().unwrap_or(word)));
    let found = matching(&all, &key);
    if found.is_empty() {
        return nearest(&all, word, &key);
    }
    let more = found.len().saturating_sub(MOST);
    let shown: Vec<&str> = found.iter().take(MOST).map(|entry| entry.full.as_str()).collect();
    let rest = if more == 0 { String::new() } else { format!("\n{more} more; ask with a longer word.\n") };
    format!("{}\n{rest}", shown.join("\n\n"))
}

/// All columns of the table that the word names, however many; a column of that name in other tables is pointed to.
fn of_table(all: &[Shown], word: &str) -> Option<String> {
    let key = compact(&words(word.strip_suffix(".csv").unwrap_or(word)));
    let own = |entry: &&Shown| entry.table.as_ref().is_some_and(|table| compact(&words(table)) == key);
    let columns: Vec<&str> = all.iter().filter(own).map(|entry| entry.full.as_str()).collect();
    let elsewhere =
        all.iter().filter(|entry| !own(entry) && entry.keys.first().is_some_and(|name| compact(&words(name)) == key));
    let elsewhere: Vec<&str> = elsewhere.filter_map(|entry| entry.table.as_deref()).collect();
    let beside = match elsewhere.first() {
        Some(first) => {
            format!(
                "\nA column of this name is in other tables ({}): ask for \"{first} {word}\".\n",
                elsewhere.join(", ")
            )
        }
        None => String::new(),
    };
    (!columns.is_empty()).then(|| format!("{}\n{beside}", columns.join("\n\n")))
}

/// The id behind a laboratory's spelling, or the unit behind a unit text.
fn meant(dictionary: &Dictionary, topic: Topic, word: &str) -> Option<String> {
    match topic {
        Topic::Analytes | Topic::Benchmarks => match dictionary.resolve(word) {
            NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => {
                Some(dictionary.analytes().id(reading.analyte).to_owned())
            }
            NameOutcome::Unknown { .. } => None,
        },
        Topic::Units => {
            let reading = dictionary.read_unit(word).ok()?;
            Some(dictionary.units().name(reading.unit).to_owned())
        }
        Topic::Columns | Topic::Reasons => None,
    }
}

/// Entries whose key is the word; else those of which a key contains it.
fn matching<'e>(all: &'e [Shown], key: &str) -> Vec<&'e Shown> {
    let same: Vec<&Shown> = all.iter().filter(|entry| folded(entry).any(|known| known == key)).collect();
    if !same.is_empty() || key.len() < 3 {
        return same;
    }
    all.iter().filter(|entry| folded(entry).any(|known| known.contains(key))).collect()
}

fn nearest(all: &[Shown], word: &str, key: &str) -> String {
    let score = |entry: &Shown| folded(entry).map(|known| strsim::jaro_winkler(&known, key)).fold(0.0, f64::max);
    let mut scored: Vec<(f64, &Shown)> = all.iter().map(|entry| (score(entry), entry)).collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let lines = scored.iter().take(5).filter(|(score, _)| *score > 0.7);
    let list: String = lines.map(|(_, entry)| format!("  {}\n", entry.short)).collect();
    if list.is_empty() {
        return format!("Nothing is known as \"{word}\", and nothing looks like it.\n");
    }
    format!("Nothing is known as \"{word}\". Nearest:\n{list}")
}

fn folded(entry: &Shown) -> impl Iterator<Item = String> {
    entry.keys.iter().map(|known| compact(&words(known)))
}
