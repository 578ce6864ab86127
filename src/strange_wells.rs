//! Ids of wells that stand in the results and in no list become a warning, and lines for the file of other ids.
//!
//! Laboratories write `QM 12` for QM-0012. Nothing is joined here: an id that is alike but for case, marks, blanks and leading zeros is
//! offered, and only where it is the only one; whether it is the same well, somebody has to say.

use crate::normalise::Tally;
use crate::oddities::{Files, Met, plain};
use crate::place::Wells;
use crate::plan::Plan;
use crate::problem::Warning;
use rayon::prelude::*;
use rustc_hash::FxHashSet;
use std::collections::{BTreeMap, BTreeSet};

/// Lines that are offered: more than of names and units, since nobody wants to type the rest.
const OFFERED: usize = 1000;

/// The warning, with the ids met most often.
pub(crate) fn warning(plan: &Plan, wells: &Wells, tally: &Tally) -> Option<Warning> {
    let met = plain(&tally.wells);
    let count: u64 = met.iter().map(|(_, seen)| seen.count).sum();
    let likes = Likes::new(wells, &met);
    let files = Files { plan };
    let shown = |(id, seen): &Met| {
        let like = likes.of(id).map(|like| format!("; \"{like}\" is listed")).unwrap_or_default();
        format!("\"{id}\" ({}), {}{like}", seen.count, files.shown(seen.first))
    };
    let text = format!(
        "wells that no list holds, {} of them; list them, or give their listed ids in the file of wells.aliases",
        met.len()
    );
    let examples = met.iter().take(3).map(shown).collect();
    (count > 0).then(|| Warning { subject: "results.columns.well".to_owned(), text, count, examples })
}

/// Lines for the file of other ids, as comments since they are no part of a plan; empty where no listed id is alike.
pub(crate) fn to_paste(wells: &Wells, tally: &Tally) -> String {
    let met = plain(&tally.wells);
    let likes = Likes::new(wells, &met);
    let pairs: Vec<(&str, &str)> = met.iter().filter_map(|(id, _)| Some((id.as_str(), likes.of(id)?))).collect();
    if pairs.is_empty() {
        return String::new();
    }
    let lines: String =
        pairs.iter().take(OFFERED).map(|(id, like)| format!("# {},{}\n", cell(id), cell(like))).collect();
    let more = pairs.len().saturating_sub(OFFERED);
    let rest = if more > 0 { format!("# and {more} more\n") } else { String::new() };
    format!("# For the file that wells.aliases names, where they are the same wells:\n# other_id,well\n{lines}{rest}")
}

/// A cell of delimited text.
fn cell(text: &str) -> String {
    let plain = !text.contains([',', '"', '\n', '\r']);
    if plain { text.to_owned() } else { format!("\"{}\"", text.replace('"', "\"\"")) }
}

/// Listed ids by what is left of them without case, marks, blanks and leading zeros.
struct Likes<'w>(BTreeMap<String, Option<&'w str>>);

impl<'w> Likes<'w> {
    /// Only where there is something to look for: a list of wells may be long.
    fn new(wells: &'w Wells, met: &[Met]) -> Likes<'w> {
        let mut likes: BTreeMap<String, Option<&str>> = met.iter().map(|(id, _)| (bare(id), None)).collect();
        let mut twice: BTreeSet<String> = BTreeSet::new();
        for (bare, id) in listed(wells, &likes) {
            if likes.get_mut(&bare).is_some_and(|like| like.replace(id).is_some()) {
                twice.insert(bare);
            }
        }
        likes.retain(|bare, _| !bare.is_empty() && !twice.contains(bare));
        Likes(likes)
    }

    fn of(&self, id: &str) -> Option<&'w str> {
        self.0.get(&bare(id)).copied().flatten()
    }
}

/// The listed ids of which the same is left as of one that was met, in the order of the list.
fn listed<'w>(wells: &'w Wells, met: &BTreeMap<String, Option<&str>>) -> Vec<(String, &'w str)> {
    let known: FxHashSet<&str> = met.keys().map(String::as_str).collect();
    let alike = |at: u32| {
        let id = wells.id_at(at)?;
        Some((bare(id), id)).filter(|(bare, _)| known.contains(bare.as_str()))
    };
    let all = if known.is_empty() { 0 } else { u32::try_from(wells.len()).unwrap_or(u32::MAX) };
    (0..all).into_par_iter().filter_map(alike).collect()
}

/// `QM 012` and `qm-0012` are both `qm|12`: runs of letters and of digits, the zeros before a number left out.
fn bare(id: &str) -> String {
    let mut bare = String::new();
    let mut run = None;
    for c in id.to_lowercase().chars() {
        let kind = c.is_alphanumeric().then(|| c.is_ascii_digit());
        if kind != run && !bare.is_empty() && !bare.ends_with('|') {
            bare.push('|');
        }
        run = kind;
        if c.is_alphanumeric() && !(c == '0' && (bare.is_empty() || bare.ends_with('|'))) {
            bare.push(c);
        }
    }
    bare.trim_matches('|').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_alike_without_case_marks_and_leading_zeros() {
        for (one, other) in [("QM 012", "qm-0012"), ("W1", "w 001"), ("12/A", "0012a"), ("QM-0012", "QM0012")] {
            assert_eq!(bare(one), bare(other), "{one}");
        }
        for (one, other) in [("QM-12", "QM-120"), ("A1-2", "A12"), ("W1", "V1"), ("QM-1002", "QM-12")] {
            assert_ne!(bare(one), bare(other), "{one}");
        }
        assert_eq!(bare("--"), "");
        assert_eq!(cell("a,\"b\""), "\"a,\"\"b\"\"\"");
    }
}
