//! `date_format`: a chrono format that gives back the day it was made from, or `excel` for a spreadsheet's day numbers.
//!
//! A format is tried on two days rather than looked at, since what matters is that year, month and day can all be
//! read back from it, whichever marks they are written with.

use crate::normalise::SERIALS;
use crate::plan::codes;
use crate::plan::notes::quoted;
use crate::plan::read::Section;
use chrono::NaiveDate;
use chrono::format::{Item, Parsed, StrftimeItems};
use std::fmt::Write;

const WANTED: &str = "%d is the day, %m the month, %Y the year, %H:%M the time, as in \"%d.%m.%Y\" for 31.12.2025; \"excel\" for the day numbers of spreadsheets";

/// The format, where it is one.
pub(super) fn format(section: &Section<'_>) -> Option<String> {
    let text = section.text("date_format")?;
    if text == SERIALS {
        return Some(text);
    }
    let fault = fault(&text)?;
    match fault {
        Fault::None => return Some(text),
        Fault::Marks => tell(section, &format!("{} is not a date format", quoted(&text))),
        Fault::Incomplete => tell(section, &format!("{} does not give year, month and day", quoted(&text))),
    }
    None
}

enum Fault {
    None,
    Marks,
    Incomplete,
}

fn fault(text: &str) -> Option<Fault> {
    let items: Vec<Item<'_>> = StrftimeItems::new(text).collect();
    if items.contains(&Item::Error) {
        return Some(Fault::Marks);
    }
    let days = [NaiveDate::from_ymd_opt(2024, 11, 23)?, NaiveDate::from_ymd_opt(2021, 2, 3)?];
    let kept = days.iter().all(|day| read_back(*day, &items) == Some(*day));
    Some(if kept { Fault::None } else { Fault::Incomplete })
}

fn read_back(day: NaiveDate, items: &[Item<'_>]) -> Option<NaiveDate> {
    let moment = day.and_hms_opt(14, 5, 9)?.and_utc().fixed_offset();
    let mut text = String::new();
    write!(text, "{}", moment.format_with_items(items.iter())).ok()?;
    let mut parsed = Parsed::new();
    chrono::format::parse(&mut parsed, &text, items.iter()).ok()?;
    parsed.to_naive_date().ok()
}

fn tell(section: &Section<'_>, found: &str) {
    if let Some(node) = section.node("date_format") {
        section.notes.tell_at(node, codes::BAD_DATE_FORMAT, found, WANTED);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_format_gives_back_its_day() {
        let sound = |text: &str| matches!(fault(text), Some(Fault::None));
        for text in ["%d.%m.%Y", "%m/%d/%y", "%Y-%m-%dT%H:%M:%S%z", "%e %b %Y", "%F", "%Y%m%d", "%-d.%-m.%Y %I:%M %p"] {
            assert!(sound(text), "{text}");
        }
        for text in ["%d.%m", "%Y", "dd.mm.yyyy", "%Q", "%", "%H:%M", "%d%m"] {
            assert!(!sound(text), "{text}");
        }
    }
}
