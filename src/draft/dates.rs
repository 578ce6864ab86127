//! How a file writes its dates: found by reading them in every usual way.
//!
//! The plan reads ISO dates whatever it says. Where day and month could change places in every date seen, nothing in
//! the file can tell, and the guess is marked.

use crate::normalise::SERIALS;
use chrono::{Datelike, NaiveDate, NaiveTime};

/// How dates are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// `2025-04-18`: nothing needs to be said.
    Iso,
    /// A word for `date_order`.
    Order(&'static str),
    /// A chrono format for `date_format`.
    Format(&'static str),
}

/// A way, and whether another would have done as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Found {
    pub way: Way,
    /// Whether every date could be read with day and month the other way round.
    pub either_way: bool,
}

const FORMATS: [&str; 13] = [
    "%d-%b-%Y",
    "%d %b %Y",
    "%b %d, %Y",
    "%d %B %Y",
    "%B %d, %Y",
    "%d/%b/%Y",
    "%d-%B-%Y",
    "%b %d %Y",
    "%Y%m%d",
    "%d-%b-%y",
    "%d.%m.%y",
    "%m/%d/%y",
    "%d/%m/%y",
];
const WAYS: [Way; 3] = [Way::Iso, Way::Order("month-first"), Way::Order("day-first")];

/// Whether a text is a date in some way.
pub(super) fn is_date(text: &str) -> bool {
    ways().any(|way| reads(way, text))
}

/// The way that reads most of the texts.
pub(super) fn find<'a>(texts: impl Iterator<Item = &'a str> + Clone) -> Option<Found> {
    let count = |way: Way| texts.clone().filter(|text| reads(way, text)).count();
    let mut best: Option<(usize, Way)> = None;
    for way in ways().chain([Way::Format(SERIALS)]) {
        let read = count(way);
        if read > best.map_or(0, |(most, _)| most) {
            best = Some((read, way));
        }
    }
    let (read, way) = best?;
    let turned = match way {
        Way::Order("month-first") => Some(Way::Order("day-first")),
        Way::Format("%m/%d/%y") => Some(Way::Format("%d/%m/%y")),
        _ => None,
    };
    let either_way = turned.is_some_and(|turned| count(turned) == read);
    // Dates with full stops are nearly always written day first (common practice, no source).
    let dots = texts.clone().filter(|text| text.contains('.')).count() * 2 > read;
    match turned {
        Some(turned) if either_way && dots => Some(Found { way: turned, either_way }),
        _ => Some(Found { way, either_way }),
    }
}

fn ways() -> impl Iterator<Item = Way> {
    WAYS.into_iter().chain(FORMATS.into_iter().map(Way::Format))
}

fn reads(way: Way, text: &str) -> bool {
    let text = text.trim();
    match way {
        Way::Iso => iso(text),
        Way::Order(order) => iso(text) || digits(text, order),
        Way::Format(format) => iso(text) || by_format(text, format),
    }
}

fn iso(text: &str) -> bool {
    let (date, rest) = text.split_at_checked(10).unwrap_or((text, ""));
    let time = rest.trim_start_matches(['T', ' ']).trim_end_matches('Z');
    let time = time.find(['+', '-']).and_then(|at| time.get(..at)).unwrap_or(time);
    NaiveDate::parse_from_str(date, "%Y-%m-%d").is_ok_and(believed) && (time.is_empty() || is_time(time))
}

/// Three groups of digits with a year of four, and perhaps a time.
fn digits(text: &str, order: &str) -> bool {
    let (date, time) = text.split_once([' ', 'T']).map_or((text, None), |(date, time)| (date, Some(time)));
    let mut parts = date.split(['/', '.', '-']).map(|part| part.parse::<u32>().ok().map(|n| (part.len(), n)));
    let (Some(Some(a)), Some(Some(b)), Some(Some(c)), None) = (parts.next(), parts.next(), parts.next(), parts.next())
    else {
        return false;
    };
    let (year, month, day) = match order {
        _ if a.0 == 4 => (a, b, c),
        "month-first" => (c, a, b),
        _ => (c, b, a),
    };
    let date = i32::try_from(year.1).ok().and_then(|y| NaiveDate::from_ymd_opt(y, month.1, day.1));
    year.0 == 4 && date.is_some_and(believed) && time.is_none_or(is_time)
}

/// Whether a text may be a spreadsheet's day number of the last hundred years; so may many a well's number be.
pub(super) fn is_serial(text: &str) -> bool {
    text.parse::<f64>().is_ok_and(|number| (10_000.0..60_000.0).contains(&number))
}

fn by_format(text: &str, format: &str) -> bool {
    if format == SERIALS {
        return is_serial(text);
    }
    let date = NaiveDate::parse_from_str(text, format).ok();
    let timed = || {
        let (date, rest) = NaiveDate::parse_and_remainder(text, format).ok()?;
        is_time(rest.strip_prefix([' ', 'T', ','])?).then_some(date)
    };
    date.or_else(timed).is_some_and(believed)
}

fn believed(date: NaiveDate) -> bool {
    (1900..2200).contains(&date.year())
}

fn is_time(text: &str) -> bool {
    let formats = ["%H:%M", "%H:%M:%S", "%H:%M:%S%.f", "%I:%M %p", "%I:%M:%S %p", "%I:%M%p"];
    formats.iter().any(|format| NaiveTime::parse_from_str(text.trim(), format).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(texts: &[&str]) -> (Way, bool) {
        let found = find(texts.iter().copied()).unwrap();
        (found.way, found.either_way)
    }

    #[test]
    fn the_order_is_told_by_a_day_past_twelve() {
        assert_eq!(found(&["2019-02-03", "2019-02-03T14:30:00Z"]), (Way::Iso, false));
        assert_eq!(found(&["03/02/2019", "03/25/2019"]), (Way::Order("month-first"), false));
        assert_eq!(found(&["03.02.2019 08:15", "25.03.2019"]), (Way::Order("day-first"), false));
        assert_eq!(found(&["03/02/2019", "01/05/2019"]), (Way::Order("month-first"), true));
        assert_eq!(found(&["03.02.2019"]), (Way::Order("day-first"), true));
        assert_eq!(found(&["2-Mar-2019", "12-Jan-2020"]), (Way::Format("%d-%b-%Y"), false));
        assert!(find(["7.2", "SF-01"].into_iter()).is_none());
    }
}
