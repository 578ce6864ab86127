//! A date's text becomes a day, with the time of day where one is written.
//!
//! ISO dates are always read. A plan's `date_format` or `date_order` says how other dates go; without either, a date of
//! digits is read only when it can be read in one way, and set aside otherwise: never guessed. A year of two digits is
//! no date. Midnight is how programs write a day whose time they do not know, so it counts as no time.

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

/// The plan's word for a spreadsheet's day numbers.
pub const SERIALS: &str = "excel";

/// Years that are believed.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

impl Dates {
    /// Reads a date's text.
    pub fn read(&self, text: &str) -> DateText {
        let text = text.trim();
        if text.is_empty()
            || matches!(text.to_lowercase().as_str(), "-" | "--" | "n/a" | "na" | "null" | "none" | "unknown")
        {
            return DateText::Nothing;
        }
        if let Some(moment) = iso(text) {
            return DateText::Read(moment);
        }
        match &self.format {
            Some(format) if format == SERIALS => serial(text).map_or(DateText::Unreadable, DateText::Read),
            Some(format) => by_format(text, format).map_or(DateText::Unreadable, DateText::Read),
            None => month_by_name(text).map_or_else(|| self.digits(text), DateText::Read),
        }
    }

    fn digits(&self, text: &str) -> DateText {
        let (date, time) = match text.split_once([' ', 'T']) {
            Some((date, time)) => (date, Some(time)),
            None => (text, None),
        };
        let minute = match time.map(time_of_day) {
            Some(None) => return DateText::Unreadable,
            Some(Some(minute)) => minute,
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

/// `2025-04-18` or `20250418`, the former with or without a time and a zone (the zone is not used: the day is the one written).
fn iso(text: &str) -> Option<Moment> {
    let bytes = text.as_bytes();
    if bytes.len() == 8 && bytes.iter().all(u8::is_ascii_digit) {
        // No such text is also a day and a month before a believed year.
        let day = checked(text.get(..4)?.parse().ok()?, text.get(4..6)?.parse().ok()?, text.get(6..)?.parse().ok()?)?;
        return Some(Moment { day, minute: None });
    }
    if bytes.get(4) != Some(&b'-') || bytes.get(7) != Some(&b'-') {
        return None;
    }
    let day = checked(text.get(..4)?.parse().ok()?, text.get(5..7)?.parse().ok()?, text.get(8..10)?.parse().ok()?)?;
    match text.get(10..)? {
        "" => Some(Moment { day, minute: None }),
        rest => {
            let time = rest.strip_prefix(['T', ' '])?;
            let time = time.trim_end_matches("UTC").trim_end_matches('Z');
            let time = time.find(['+', '-']).map_or(time, |at| time.split_at(at).0);
            Some(Moment { day, minute: time_of_day(time)? })
        }
    }
}

/// A spreadsheet's day number, its fraction the time: 43499 is 2019-02-03, in the system that begins with 1900 (ECMA-376,
/// part 1, 18.17.4.1, from memory). Days before March 1900 are left out: that system has a 29 February there.
fn serial(text: &str) -> Option<Moment> {
    let number: f64 = text.parse().ok().filter(|x| (61.0..110_000.0).contains(x))?;
    let date = NaiveDate::from_ymd_opt(1899, 12, 30)?.checked_add_days(chrono::Days::new(number as u64))?;
    let minute = ((number - number.floor()) * 1440.0).round() as u16;
    believed(date, Some(minute).filter(|minute| (1..1440).contains(minute)))
}

/// By the plan's format. One without a time also reads a day with a time behind it.
fn by_format(text: &str, format: &str) -> Option<Moment> {
    if let Ok(time) = NaiveDateTime::parse_from_str(text, format) {
        return believed(time.date(), minute_of(time.time()));
    }
    if let Ok(date) = NaiveDate::parse_from_str(text, format) {
        return believed(date, None);
    }
    let (date, rest) = NaiveDate::parse_and_remainder(text, format).ok()?;
    believed(date, time_of_day(rest.strip_prefix([' ', 'T', ','])?)?)
}

fn believed(date: NaiveDate, minute: Option<u16>) -> Option<Moment> {
    YEARS.contains(&chrono::Datelike::year(&date)).then_some(Moment { day: Day::of(date), minute })
}

/// Minutes since midnight; none at midnight.
fn minute_of(time: NaiveTime) -> Option<u16> {
    u16::try_from(time.num_seconds_from_midnight() / 60).ok().filter(|minute| *minute > 0)
}

/// Names of the months; three letters of one are enough.
const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// `3-Feb-2019`, `Feb 3, 2019`, `2019 February 3`, `03FEB2019`, with or without a time.
fn month_by_name(text: &str) -> Option<Moment> {
    let (first, rest) = run(text)?;
    let (second, rest) = run(rest)?;
    let (third, rest) = run(rest)?;
    let (year, month, day) = match (first.len(), month_number(first), month_number(second)) {
        (1 | 2, None, Some(month)) => (third, month, first),
        (4, None, Some(month)) => (first, month, third),
        (_, Some(month), None) => (third, month, second),
        _ => return None,
    };
    if year.len() != 4 || day.len() > 2 {
        return None;
    }
    let day = checked(year.parse().ok()?, month, day.parse().ok()?)?;
    let time = rest.trim_start_matches([' ', ',', ':', 'T']);
    let minute = if time.is_empty() { None } else { time_of_day(time)? };
    Some(Moment { day, minute })
}

/// The first run of digits or of letters, marks before it passed over, and what follows.
fn run(text: &str) -> Option<(&str, &str)> {
    let text = text.trim_start_matches([' ', '-', '/', '.', ',']);
    let digits = text.starts_with(|c: char| c.is_ascii_digit());
    let of_run = |c: char| if digits { c.is_ascii_digit() } else { c.is_ascii_alphabetic() };
    let (run, rest) = text.split_at(text.find(|c| !of_run(c)).unwrap_or(text.len()));
    (!run.is_empty()).then_some((run, rest))
}

fn month_number(word: &str) -> Option<u32> {
    let word = word.to_ascii_lowercase();
    let place = MONTHS.iter().position(|name| word.len() >= 3 && name.starts_with(&word))?;
    u32::try_from(place + 1).ok()
}

/// Minutes since midnight of `14:05`, `14:05:30`, `2:05 PM`; none inside at midnight.
fn time_of_day(text: &str) -> Option<Option<u16>> {
    let text = text.trim();
    let formats = ["%H:%M", "%H:%M:%S", "%H:%M:%S%.f", "%I:%M %p", "%I:%M:%S %p", "%I:%M%p"];
    formats.iter().find_map(|format| NaiveTime::parse_from_str(text, format).ok()).map(minute_of)
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
    fn a_format_of_days_reads_a_time_behind_them() {
        let read = |format: &str, text| Dates { format: Some(format.to_owned()), order: None }.read(text);
        let at = |minute| DateText::Read(Moment { day: checked(2005, 1, 9).unwrap(), minute });
        assert_eq!(read("%m/%d/%y", "01/09/05 2:05 PM"), at(Some(14 * 60 + 5)));
        assert_eq!(read("%m/%d/%y", "1/9/05"), at(None));
        assert_eq!(read("%m/%d/%y %H:%M", "01/09/05 14:05"), at(Some(14 * 60 + 5)));
        assert_eq!(read("%m/%d/%y", "01/09/05 soon"), DateText::Unreadable);
        assert_eq!(read("%m/%d/%y", "01/09/05x"), DateText::Unreadable);
    }

    /// 43499 is 3 February 2019 and 25569 the first day of 1970 (LibreOffice Calc, from memory).
    #[test]
    fn day_numbers_of_spreadsheets_are_read_where_the_plan_says_so() {
        let serials = Dates { format: Some("excel".to_owned()), order: None };
        assert_eq!(serials.read("43499"), day(2019, 2, 3));
        assert_eq!(serials.read("25569"), day(1970, 1, 1));
        assert!(matches!(serials.read("43499.604166667"), DateText::Read(Moment { minute: Some(870), .. })));
        assert_eq!(serials.read("2019-02-03"), day(2019, 2, 3));
        assert_eq!(serials.read("60"), DateText::Unreadable);
        assert_eq!(Dates::default().read("43499"), DateText::Unreadable);
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

    #[test]
    fn months_by_name_in_any_order_need_a_whole_year() {
        let none = Dates::default();
        let texts = [
            "3-Feb-2019",
            "Feb 3, 2019",
            "03FEB2019",
            "3 February 2019",
            "February 3 2019",
            "2019-Feb-03",
            "Feb. 3, 2019",
        ];
        for text in texts {
            assert_eq!(none.read(text), day(2019, 2, 3), "{text}");
        }
        for text in ["03 FEB 19", "3-Feb-19", "Feb 3", "Feb 2019", "30-Feb-2019", "3-Fe-2019", "2019 3 Feb", "19-Feb-3"]
        {
            assert_eq!(none.read(text), DateText::Unreadable, "{text}");
        }
        assert!(matches!(none.read("3-Feb-2019 2:30 PM"), DateText::Read(Moment { minute: Some(870), .. })));
        assert_eq!(none.read("5-Sept-2019"), day(2019, 9, 5));
    }

    #[test]
    fn days_without_marks_and_midnights() {
        let none = Dates::default();
        assert_eq!(none.read("20190203"), day(2019, 2, 3));
        assert_eq!(none.read("20191303"), DateText::Unreadable);
        assert_eq!(none.read("43499"), DateText::Unreadable);
        assert_eq!(none.read("2019-02-03T00:00:00Z"), day(2019, 2, 3));
        assert_eq!(none.read("2/25/2019 12:00:00 AM"), day(2019, 2, 25));
    }

    proptest::proptest! {
        #[test]
        fn any_day_in_any_spelling_reads_back(days in 0i32..60_000, spelling in 0usize..7) {
            let date = Day(days - 20_000).date().unwrap();
            let formats = ["%Y-%m-%d", "%Y/%m/%d", "%d-%b-%Y", "%B %d, %Y", "%d.%m.%Y", "%Y%m%d", "%d/%m/%Y %H:%M"];
            let dates = Dates { format: None, order: Some(DateOrder::DayFirst) };
            let text = date.and_hms_opt(0, 0, 0).unwrap().format(formats[spelling]).to_string();
            proptest::prop_assert_eq!(dates.read(&text), DateText::Read(Moment { day: Day::of(date), minute: None }));
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,24}") {
            Dates::default().read(&text);
        }
    }
}
