//! Numbers and days of the plan: within their range, or a problem that says the range in words.

use super::codes;
use super::notes::{Notes, quoted, shown};
use super::read::Section;
use super::written::{Node, Value};
use crate::ids::Day;

/// A range of numbers.
pub(super) struct Range {
    holds: fn(f64) -> bool,
    words: &'static str,
    /// Whether a number above 1 may be a percentage by mistake.
    share: Share,
}

#[derive(PartialEq)]
enum Share {
    Yes,
    No,
}

/// A share that is neither none nor all.
pub(super) const INNER_SHARE: Range =
    Range { holds: |x| x > 0.0 && x < 1.0, words: "a number between 0 and 1, both left out", share: Share::Yes };
/// Any share.
pub(super) const SHARE: Range =
    Range { holds: |x| (0.0..=1.0).contains(&x), words: "a number from 0 to 1", share: Share::Yes };
/// A share above none.
pub(super) const SOME_SHARE: Range =
    Range { holds: |x| x > 0.0 && x <= 1.0, words: "a number above 0 and up to 1", share: Share::Yes };
/// Metres around a well. A circle wider than this is no surroundings, and numbers far above it run over where they are squared.
pub(super) const RADIUS: Range = Range {
    holds: |x| x > 0.0 && x <= FARTHEST,
    words: "a number of metres above 0 and up to 1000000",
    share: Share::No,
};
/// Metres from side to side of a made area.
pub(super) const SIDE: Range =
    Range { holds: |x| (1.0..=FARTHEST).contains(&x), words: "a number of metres from 1 to 1000000", share: Share::No };
const FARTHEST: f64 = 1e6;
/// A distance, a density, a sum of money.
pub(super) const POSITIVE: Range =
    Range { holds: |x| x > 0.0 && x.is_finite(), words: "a number above 0", share: Share::No };

impl Section<'_> {
    /// A number within a range.
    pub(super) fn number(&self, key: &str, range: &Range) -> Option<f64> {
        self.node(key).and_then(|node| number_of(self.notes, node, range))
    }

    /// A whole number from `least` to `most`.
    pub(super) fn whole(&self, key: &str, least: u64, most: u64) -> Option<u64> {
        let node = self.node(key)?;
        let Value::Whole(whole) = node.value else {
            self.notes.wrong_type(
                node,
                "a whole number",
                format!("write a whole number without quotes, {}", span(least, most)),
            );
            return None;
        };
        let inside = u64::try_from(whole).ok().filter(|whole| (least..=most).contains(whole));
        if inside.is_none() {
            let wanted = format!("a whole number, {}", span(least, most));
            self.notes.tell_at(node, codes::OUT_OF_RANGE, format!("found {}", shown(node)), wanted);
        }
        inside
    }

    /// A whole number of wells or results, from `least` to a million.
    pub(super) fn small(&self, key: &str, least: u32) -> Option<u32> {
        const MOST: u64 = 1_000_000;
        let whole = self.whole(key, least.into(), MOST)?;
        u32::try_from(whole).ok()
    }

    /// A calendar day, as a TOML date or as ISO text.
    pub(super) fn day(&self, key: &str) -> Option<Day> {
        self.node(key).and_then(|node| day_of(self.notes, node))
    }
}

/// A node's number, within a range.
pub(super) fn number_of(notes: &Notes, node: &Node, range: &Range) -> Option<f64> {
    let number = match node.value {
        Value::Whole(whole) => whole as f64,
        Value::Number(number) => number,
        _ => {
            notes.wrong_type(node, "a number", format!("write {}, without quotes", range.words));
            return None;
        }
    };
    if !(range.holds)(number) {
        let hint = if range.share == Share::Yes { percent_hint(number) } else { String::new() };
        notes.tell_at(node, codes::OUT_OF_RANGE, format!("found {}", shown(node)), range.words.to_string() + &hint);
        return None;
    }
    Some(number)
}

fn day_of(notes: &Notes, node: &Node) -> Option<Day> {
    const WANTED: &str = "write year, month and day, such as 2025-12-31";
    match &node.value {
        Value::Moment(_, Some(day)) => Some(*day),
        Value::Moment(text, None) => {
            notes.tell_at(node, codes::NOT_A_DATE, format!("{text} is not a date alone"), WANTED);
            None
        }
        Value::Text(text) => {
            let day = text.trim().parse::<chrono::NaiveDate>().ok().map(Day::of);
            if day.is_none() {
                notes.tell_at(node, codes::NOT_A_DATE, format!("{} is not a date", quoted(text)), WANTED);
            }
            day
        }
        _ => {
            notes.wrong_type(node, "a date", WANTED);
            None
        }
    }
}

/// Per cent are the usual slip for a share.
fn percent_hint(number: f64) -> String {
    if number > 1.0 && number <= 100.0 {
        format!("; {number} per cent is written {}", number / 100.0)
    } else {
        String::new()
    }
}

fn span(least: u64, most: u64) -> String {
    if most >= u64::from(u32::MAX) { format!("{least} or more") } else { format!("from {least} to {most}") }
}
