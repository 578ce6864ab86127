//! The grammar of values, of units and of dates: one cell's text each.

use super::Choices;
use std::sync::LazyLock;
use wellreeve::dictionary::Dictionary;
use wellreeve::ids::Interval;
use wellreeve::normalise::{Dates, Facts, Flags, Marks, Said, Sign, Words, interval, read, unit_behind};
use wellreeve::plan::{DateOrder, Qualifier};

/// The dictionary, read once.
pub static DICTIONARY: LazyLock<Dictionary> =
    LazyLock::new(|| Dictionary::built_in().expect("the dictionary is sound"));
static WORDS: LazyLock<Words> = LazyLock::new(|| Words::new(&["below".to_owned(), "n. n.".to_owned()]));

const MARKS: [(Option<char>, Option<char>); 6] = [
    (None, None),
    (Some('.'), None),
    (Some(','), None),
    (Some(','), Some(' ')),
    (None, Some('\'')),
    (Some('.'), Some(',')),
];
const QUALIFIERS: [&[Qualifier]; 5] = [
    &[],
    &[Qualifier::NonDetect],
    &[Qualifier::Above, Qualifier::Estimated],
    &[Qualifier::Trace],
    &[Qualifier::Rejected, Qualifier::NonDetectEstimated],
];

/// A value's text under marks and qualifiers chosen by its first four bytes.
pub fn value(data: &[u8]) {
    let (mut choices, text) = Choices::new(data, 4);
    let text = String::from_utf8_lossy(text);
    let (decimal, thousands) = choices.one(&MARKS).unwrap_or_default();
    let qualifiers = choices.one(&QUALIFIERS).unwrap_or_default();
    let limit = choices.one(&[None, Some(0.5), Some(0.0), Some(-1.0)]).unwrap_or_default();
    let sign = choices.one(&[Sign::Positive, Sign::Count, Sign::Any]).unwrap_or_default();
    let reading = read(&text, Marks::new(decimal, thousands), &WORDS);
    match reading.said {
        Said::Number(x) | Said::Less(x) | Said::Greater(x) | Said::NotDetected(Some(x)) => assert!(x.is_finite()),
        _ => {}
    }
    let flags = Flags::all(qualifiers.iter().copied().chain(reading.flag));
    match interval(reading.said, &Facts { flags, limit, plan_limit: limit, sign }) {
        Ok(Interval::Below(x)) => assert!(x.is_finite() && x > 0.0, "{text:?} is below {x}"),
        Ok(Interval::Above(x) | Interval::Detect(x)) => assert!(x.is_finite(), "{text:?} is {x}"),
        _ => {}
    }
    if let Some((number, unit)) = unit_behind(&text) {
        assert!(!number.is_empty() && !unit.is_empty(), "{text:?} parted");
    }
}

/// A unit's text, then a name's after a line end.
pub fn unit(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let (unit, name) = text.split_once('\n').unwrap_or((&text, ""));
    let reading = DICTIONARY.read_unit(unit);
    let _ = DICTIONARY.resolve_heading(name);
    let _ = DICTIONARY.read_fraction(name);
    let Ok(reading) = reading else { return };
    let analytes = DICTIONARY.analytes().iter().map(|(id, _)| id);
    for conversion in analytes.filter_map(|id| DICTIONARY.factor(id, &reading).ok()) {
        let there = conversion.apply(10.0);
        assert!(there.is_finite(), "{unit:?}");
        assert!((conversion.inverse().apply(there) - 10.0).abs() < 1e-6, "{unit:?} leads there and not back");
    }
}

const FORMATS: [Option<&str>; 8] = [
    None,
    Some("%d.%m.%Y"),
    Some("%m/%d/%y %H:%M"),
    Some("%Y%j"),
    Some("%b %e, %Y"),
    Some("excel"),
    Some("%s"),
    Some("%+"),
];
const ORDERS: [Option<DateOrder>; 4] =
    [None, Some(DateOrder::DayFirst), Some(DateOrder::MonthFirst), Some(DateOrder::YearFirst)];

/// A date's text, format and order chosen by its first two bytes.
pub fn date(data: &[u8]) {
    let (mut choices, text) = Choices::new(data, 2);
    let text = String::from_utf8_lossy(text);
    let format = choices.one(&FORMATS).flatten().map(str::to_owned);
    let order = choices.one(&ORDERS).flatten();
    let dates = Dates { format, order };
    if let wellreeve::normalise::DateText::Read(moment) = dates.read(&text) {
        let written = moment.day.to_string();
        let year: i32 = written.get(..4).and_then(|year| year.parse().ok()).unwrap_or_default();
        assert!((1900..=2199).contains(&year), "{text:?} is {written}");
        assert!(moment.minute.is_none_or(|minute| (1..1440).contains(&minute)), "{text:?}");
        assert_eq!(
            Dates::default().read(&written),
            wellreeve::normalise::DateText::Read(wellreeve::normalise::Moment { day: moment.day, minute: None })
        );
    }
}
