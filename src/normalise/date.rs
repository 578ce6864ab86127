//! A date's text becomes a day, with the time of day where one is written.
//!
//! ISO dates are always read. A plan's `date_format` or `date_order` says how other dates go; without either, a date of
//! digits is read only when it can be read in one way, and set aside otherwise: never guessed.

use crate::ids::Day;
use crate::plan::DateOrder;
use chrono::{NaiveDate, NaiveDateTime, NaiveTime, Timelike};

/// A day and, where written, the minute of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// The day.
    pub day: Day,
    /// Minutes since midnight.
    pub minute: Option<u16>,
}

/// What a date's text turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateText {
    /// Empty, or a word for nothing.
    Nothing,
    /// A day.
    Read(Moment),
    /// Two different days, depending on the order of day and month.
    Ambiguous,
    /// No date.
    Unreadable,
}

/// How a file's dates are written.
#[derive(Clone, Debug, Default)]
pub struct Dates {
    /// chrono format.
    pub format: Option<String>,
    /// Order of day and month.
    pub order: Option<DateOrder>,
}

/// Years that are believed.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

impl Dates {
    /// Reads a date's text.
    pub fn read(&self, text: &str) -> DateText {
        let text = text.trim();
        if text.is_empty() || matches!(text.to_lowercase().as_str(), "-" | "--" | "n/a" | "na" | "null" | "none" | "unknown") {
            return DateText::Nothing;
        }
        if let Some(moment) = iso(text) {
            return DateText::Read(moment);
        }
        match &self.format {
            Some(format) => by_format(text, format).map_or(DateText::Unreadable, DateText::Read),
            None => self.digits(text),
        }
    }

    fn digits(&self, text: &str) -> DateText {
        let (date, time) = match text.split_once([' ', 'T']) {
            Some((date, time)) => (date, Some(time)),
            None => (text, None),
        };
        let minute = match time.map(time_of_day) {
            Some(None) => return DateText::Unreadable,
            Some(minute) => minute,
            None => None,
        };
        let orders = self.order.map_or(vec![DateOrder::MonthFirst, DateOrder::DayFirst], |order| vec![order]);
        let mut days: Vec<Day> = orders.iter().filter_map(|order| in_order(date, *order)).collect();
        days.dedup();
        match days.as_slice() {
            [] => DateText::Unreadable,
            [day] => DateText::Read(Moment { day: *day, minute }),
            _ => DateText::Ambiguous,
        }
    }
}

/// `2025-04-18`, with or without a time and a zone (the zone is not used: the day is the one written).
fn iso(text: &str) -> Option<Moment> {
    let bytes = text.as_bytes();
    if bytes.get(4) != Some(&b'-') || bytes.get(7) != Some(&b'-') {
        return None;
    }
    let day = checked(text.get(..4)?.parse().ok()?, text.get(5..7)?.parse().ok()?, text.get(8..10)?.parse().ok()?)?;
    match text.get(10..)? {
        "" => Some(Moment { day, minute: None }),
        rest => {
            let time = rest.strip_prefix(['T', ' '])?;
            let time = time.trim_end_matches('Z');
            let time = time.find(['+', '-']).map_or(time, |at| time.split_at(at).0);
            Some(Moment { day, minute: Some(time_of_day(time)?) })
        }
    }
}

fn by_format(text: &str, format: &str) -> Option<Moment> {
    if let Ok(date) = NaiveDate::parse_from_str(text, format) {
        return YEARS.contains(&chrono::Datelike::year(&date)).then_some(Moment { day: Day::of(date), minute: None });
    }
    let time = NaiveDateTime::parse_from_str(text, format).ok()?;
    Some(Moment { day: Day::of(time.date()), minute: u16::try_from(time.num_seconds_from_midnight() / 60).ok() })
}

/// Minutes since midnight of `14:05`, `14:05:30`, `2:05 PM`.
fn time_of_day(text: &str) -> Option<u16> {
    let text = text.trim();
    let formats = ["%H:%M", "%H:%M:%S", "%H:%M:%S%.f", "%I:%M %p", "%I:%M:%S %p", "%I:%M%p"];
    let time = formats.iter().find_map(|format| NaiveTime::parse_from_str(text, format).ok())?;
    u16::try_from(time.num_seconds_from_midnight() / 60).ok()
}

/// Three groups of digits in an order.
fn in_order(date: &str, order: DateOrder) -> Option<Day> {
    let mut parts = date.split(['/', '.', '-']);
    let (a, b, c) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() || [a, b, c].iter().any(|p| p.is_empty() || !p.bytes().all(|x| x.is_ascii_digit())) {
        return None;
    }
    let (year, month, day) = match order {
        _ if a.len() == 4 => (a, b, c),
        DateOrder::YearFirst => (a, b, c),
        DateOrder::MonthFirst => (c, a, b),
        DateOrder::DayFirst => (c, b, a),
    };
    // Two-digit years are not guessed.
    (year.len() == 4).then(|| checked(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?))?
}

fn checked(year: i32, month: u32, day: u32) -> Option<Day> {
    YEARS.contains(&year).then(|| NaiveDate::from_ymd_opt(year, month, day).map(Day::of))?
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(year: i32, month: u32, day: u32) -> DateText {
        DateText::Read(Moment { day: checked(year, month, day).unwrap(), minute: None })
    }

    #[test]
    fn iso_is_always_read() {
        let dates = Dates { format: None, order: Some(DateOrder::DayFirst) };
        assert_eq!(dates.read("2019-02-03"), day(2019, 2, 3));
        assert_eq!(dates.read("2019-02-31"), DateText::Unreadable);
        assert!(matches!(dates.read("2019-02-03T14:30:00Z"), DateText::Read(Moment { minute: Some(870), .. })));
    }

    #[test]
    fn orders_are_told_or_unambiguous() {
        let none = Dates::default();
        assert_eq!(none.read("03/02/2019"), DateText::Ambiguous);
        assert_eq!(none.read("03/25/2019"), day(2019, 3, 25));
        assert_eq!(none.read("25.03.2019"), day(2019, 3, 25));
        assert_eq!(none.read("03/03/2019"), day(2019, 3, 3));
        let month_first = Dates { format: None, order: Some(DateOrder::MonthFirst) };
        assert_eq!(month_first.read("03/02/2019"), day(2019, 3, 2));
        assert_eq!(month_first.read("25/03/2019"), DateText::Unreadable);
        assert_eq!(none.read("3/4/19"), DateText::Unreadable);
        assert_eq!(none.read(""), DateText::Nothing);
    }

    #[test]
    fn a_format_reads_what_it_says() {
        let dates = Dates { format: Some("%d %b %Y".to_owned()), order: None };
        assert_eq!(dates.read("3 Feb 2019"), day(2019, 2, 3));
        assert_eq!(dates.read("Feb 3"), DateText::Unreadable);
    }
}
