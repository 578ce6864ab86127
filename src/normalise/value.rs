//! One result's text becomes a reading: a mark and a number, in one pass over its bytes.
//!
//! The grammar stands as a table in data-dictionary/value-spellings.csv. Nothing is guessed: text outside the grammar
//! is `Unreadable`, and text that says nothing is `Nothing`. What a reading means together with the qualifier, the
//! limit and the analyte is decided in `interval`.

use super::number::{Marks, leading_number};
use super::words::{Word, Words};
use crate::plan::Qualifier;

/// What the value's text says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said {
    /// A plain number.
    Number(f64),
    /// `<x`: not detected, x beside the mark.
    Less(f64),
    /// `>x`
    Greater(f64),
    /// A word for not detected, perhaps with its limit.
    NotDetected(Option<f64>),
    /// Found, without a number; also too numerous to count.
    Present,
    /// Not found, without a number.
    Absent,
    /// Nothing: empty, `--`, `N/A`.
    Nothing,
    /// Outside the grammar.
    Unreadable,
}

/// A reading: what was said, and the flags that stood beside it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What was said.
    pub said: Said,
    /// A flag behind the number, such as the J of `0.5 J`.
    pub flag: Option<Qualifier>,
}

impl Reading {
    fn plain(said: Said) -> Reading {
        Reading { said, flag: None }
    }
}

/// Reads a value's text. `marks` are the file's decimal and thousands marks, `words` its words.
pub fn read(text: &str, marks: Marks, words: &Words) -> Reading {
    let text = text.trim();
    match text.as_bytes().first() {
        None => Reading::plain(Said::Nothing),
        Some(b'0'..=b'9') => number(text, marks, words, Said::Number),
        Some(b'<') => less(text, marks, words),
        Some(b'>') => number(after(text, &[">=", ">"]), marks, words, Said::Greater),
        Some(_) => other(text, marks, words),
    }
}

/// The text behind the first of the marks it starts with.
fn after<'a>(text: &'a str, marks: &[&str]) -> &'a str {
    marks.iter().find_map(|mark| text.strip_prefix(mark)).unwrap_or(text).trim_start()
}

/// `<0.5`, or a word such as `<MDL`.
fn less(text: &str, marks: Marks, words: &Words) -> Reading {
    let reading = number(after(text, &["<=", "<"]), marks, words, Said::Less);
    match reading.said {
        Said::Unreadable => words.value(text).map_or(reading, |word| Reading::plain(said_by(word, None))),
        _ => reading,
    }
}

/// A number that must be there, and what may follow it.
fn number(text: &str, marks: Marks, words: &Words, said: impl Fn(f64) -> Said) -> Reading {
    let Some((value, rest)) = leading_number(text, marks) else { return Reading::plain(Said::Unreadable) };
    match tail(rest, marks, words) {
        Some(flag) => Reading { said: said(value), flag },
        None => Reading::plain(Said::Unreadable),
    }
}

/// What may follow a number: nothing, an uncertainty, flags, or both. `None` for anything else.
fn tail(rest: &str, marks: Marks, words: &Words) -> Option<Option<Qualifier>> {
    if rest.is_empty() {
        return Some(None);
    }
    let rest = rest.trim();
    let inner = rest.strip_prefix('(').and_then(|r| r.strip_suffix(')')).unwrap_or(rest).trim();
    if rest.is_empty() {
        return Some(None);
    }
    if let Some(spread) = ["±", "+/-", "+-"].iter().find_map(|mark| inner.strip_prefix(mark)) {
        let (_, left) = leading_number(spread.trim_start(), marks)?;
        let left = left.trim();
        return if left.is_empty() { Some(None) } else { words.flags(left).map(Some) };
    }
    words.flags(inner).map(Some)
}

/// Signs, words and odd marks.
fn other(text: &str, marks: Marks, words: &Words) -> Reading {
    let rest = after(text, &["≤", "≥", "~", "≈"]);
    match text.chars().next() {
        Some('≤') => return number(rest, marks, words, Said::Less),
        Some('≥') => return number(rest, marks, words, Said::Greater),
        Some('~' | '≈') => {
            let about = number(rest, marks, words, Said::Number);
            return Reading { flag: about.flag.or(Some(Qualifier::Estimated)), ..about };
        }
        _ => {}
    }
    let signed = leading_number(text, marks).is_some();
    match words.value(text) {
        Some(word) => Reading::plain(said_by(word, None)),
        None if signed => number(text, marks, words, Said::Number),
        None => word_with_limit(text, marks, words),
    }
}

/// `ND(0.5)`, `ND <0.5`, `BDL 0.5`: a word for not detected and its limit.
fn word_with_limit(text: &str, marks: Marks, words: &Words) -> Reading {
    let digit = |c: char| c.is_ascii_digit() || c == '<' || c == '(' || c == '=' || c == ':';
    let Some(at) = text.find(digit) else { return Reading::plain(Said::Unreadable) };
    let (word, limit) = text.split_at(at);
    let inner = limit.trim_matches(['(', ')', ' ', '=', ':']);
    let inner = after(inner, &["<=", "<", "≤"]);
    match (words.value(word.trim()), leading_number(inner, marks)) {
        (Some(Word::NotDetected), Some((value, rest))) => match tail(rest, marks, words) {
            Some(flag) => Reading { said: Said::NotDetected(Some(value)), flag },
            None => Reading::plain(Said::Unreadable),
        },
        _ => Reading::plain(Said::Unreadable),
    }
}

/// Parts a value's text from the unit-like text behind its number: `2.4 mg/L` is `2.4` and `mg/L`.
///
/// Whether that is a unit is decided where units are known; `None` where no letter follows a digit.
pub fn unit_behind(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let starts = |c: char| c.is_alphabetic() || c == '%' || c == '#';
    let mut digits = false;
    let mut before = ' ';
    for (at, c) in text.char_indices() {
        // The E of 1.2E-3 belongs to the number.
        let exponent = matches!(c, 'e' | 'E')
            && before.is_ascii_digit()
            && text
                .get(at + 1..)
                .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || "+-".contains(c)));
        if digits && starts(c) && !exponent {
            let (value, unit) = text.split_at_checked(at)?;
            return Some((value.trim_end(), unit));
        }
        digits |= c.is_ascii_digit();
        before = c;
    }
    None
}

fn said_by(word: Word, limit: Option<f64>) -> Said {
    match word {
        Word::NotDetected => Said::NotDetected(limit),
        Word::Present => Said::Present,
        Word::Absent => Said::Absent,
        Word::Nothing => Said::Nothing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> Said {
        read(text, Marks::default(), &Words::new(&[])).said
    }

    fn flagged(text: &str) -> (Said, Option<Qualifier>) {
        let reading = read(text, Marks::default(), &Words::new(&[]));
        (reading.said, reading.flag)
    }

    #[test]
    fn every_spelling_of_the_table_reads_as_it_says() {
        let table = include_str!("../../data-dictionary/value-spellings.csv");
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let mut count = 0;
        for row in reader.records() {
            let row = row.unwrap();
            let marks = match &row[3] {
                note if note.contains("plan: decimal") => Marks::new(Some(','), None),
                note if note.contains("plan: thousands") => Marks::new(None, Some(',')),
                _ => Marks::default(),
            };
            let reading = read(&row[0], marks, &Words::new(&[]));
            let got = match reading.flag {
                Some(flag) => format!("{:?} {:?}", reading.said, flag),
                None => format!("{:?}", reading.said),
            };
            assert_eq!(got, &row[1], "{}", &row[0]);
            count += 1;
        }
        assert!(count > 50);
    }

    #[test]
    fn numbers_keep_their_sign_and_exponent() {
        assert_eq!(said("-0.4"), Said::Number(-0.4));
        assert_eq!(said("+2"), Said::Number(2.0));
        assert_eq!(said("1.2E-3"), Said::Number(0.0012));
        assert_eq!(said(".5"), Said::Number(0.5));
        assert_eq!(said("1.2.3"), Said::Unreadable);
        assert_eq!(said("see note"), Said::Unreadable);
        assert_eq!(said("5 mg/L"), Said::Unreadable);
        assert_eq!(said("1e999"), Said::Unreadable);
    }

    #[test]
    fn flags_are_read_behind_the_number() {
        assert_eq!(flagged("0.5U"), (Said::Number(0.5), Some(Qualifier::NonDetect)));
        assert_eq!(flagged("0.5 J"), (Said::Number(0.5), Some(Qualifier::Estimated)));
        assert_eq!(flagged("<0.5 (UJ)"), (Said::Less(0.5), Some(Qualifier::NonDetectEstimated)));
        assert_eq!(flagged("0.5 U J"), (Said::Number(0.5), Some(Qualifier::NonDetectEstimated)));
        assert_eq!(flagged("5 ± 2 J"), (Said::Number(5.0), Some(Qualifier::Estimated)));
        assert_eq!(flagged("5 U,>"), (Said::Unreadable, None));
        assert_eq!(flagged("5 g/L"), (Said::Unreadable, None));
    }

    #[test]
    fn a_unit_stands_behind_a_number() {
        assert_eq!(unit_behind("<0.5 mg/L as N"), Some(("<0.5", "mg/L as N")));
        assert_eq!(unit_behind("1.2E-3ug/L"), Some(("1.2E-3", "ug/L")));
        assert_eq!(unit_behind(" 12 % "), Some(("12", "%")));
        assert_eq!(unit_behind("ND 0.5 ug/L"), Some(("ND 0.5", "ug/L")));
        assert_eq!(unit_behind("see note"), None);
        assert_eq!(unit_behind("1.2E-3"), None);
    }

    proptest::proptest! {
        #[test]
        fn any_number_in_any_spelling_reads_back(x in 1e-6f64..1e9, spelling in 0usize..8) {
            let (text, wanted) = match spelling {
                0 => (format!("{x}"), Said::Number(x)),
                1 => (format!("<{x}"), Said::Less(x)),
                2 => (format!("< {x} U"), Said::Less(x)),
                3 => (format!(">{x}"), Said::Greater(x)),
                4 => (format!("ND({x})"), Said::NotDetected(Some(x))),
                5 => (format!("ND <{x}"), Said::NotDetected(Some(x))),
                6 => (format!("{x:e}"), Said::Number(x)),
                _ => (format!("{x} ± 2"), Said::Number(x)),
            };
            proptest::prop_assert_eq!(said(&text), wanted);
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,20}") {
            said(&text);
        }
    }
}
