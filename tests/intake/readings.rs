//! Any interval in any supported spelling reads back to itself, and text outside the grammar is never a number.

use proptest::prelude::*;
use wellreeve::ids::Interval;
use wellreeve::normalise::{Facts, Flags, Marks, Sign, Words, interval, read};

/// A number as laboratories write it.
fn number(x: f64, style: usize) -> (String, Marks) {
    let plain = format!("{x}");
    let comma = Marks::new(Some(','), None);
    match style {
        0 => (plain, Marks::default()),
        1 => (format!("{x:e}").replace('e', "E"), Marks::default()),
        2 => (plain.replace('.', ","), comma),
        3 => (grouped(&plain, ',', '.'), Marks::new(None, Some(','))),
        4 => (grouped(&plain, '.', ','), comma),
        _ => (grouped(&plain, ' ', ','), Marks::new(Some(','), Some(' '))),
    }
}

fn grouped(plain: &str, mark: char, decimal: char) -> String {
    let (whole, decimals) = plain.split_once('.').unwrap_or((plain, ""));
    let mut text = String::new();
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place) % 3 == 0 {
            text.push(mark);
        }
        text.push(digit);
    }
    if decimals.is_empty() { text } else { format!("{text}{decimal}{decimals}") }
}

fn spelled(said: Interval, style: usize, form: usize) -> (String, Marks) {
    let forms: &[(&str, &str)] = match said {
        Interval::Detect(_) => {
            &[("", ""), ("", " J"), ("", "J"), ("~", ""), ("", " *"), (" ", " "), ("", " (J)"), ("", " B,J")]
        }
        Interval::Below(_) => &[
            ("<", ""),
            ("< ", ""),
            ("<", " U"),
            ("", "U"),
            ("", " UJ"),
            ("ND(", ")"),
            ("ND <", ""),
            ("≤", ""),
            ("BDL ", ""),
            ("nd (<", ")"),
        ],
        Interval::Above(_) => &[(">", ""), ("> ", ""), (">=", ""), ("≥", ""), ("", " >"), (">", " J")],
        Interval::Present => &[("Present", ""), ("P", ""), ("TNTC", ""), ("positive", ""), ("POS.", "")],
        Interval::Absent => &[("Absent", ""), ("A", ""), ("negative", ""), ("neg", "")],
    };
    let (before, behind) = forms[form % forms.len()];
    match said {
        Interval::Detect(x) | Interval::Below(x) | Interval::Above(x) => {
            let (text, marks) = number(x, style);
            (format!("{before}{text}{behind}"), marks)
        }
        Interval::Present | Interval::Absent => (format!("{before}{behind}"), Marks::default()),
    }
}

fn any_interval() -> impl Strategy<Value = Interval> {
    let number = prop_oneof![
        1e-6f64..1e7,
        (1u32..5_000_000).prop_map(f64::from),
        (1u32..99_999).prop_map(|n| f64::from(n) / 1000.0)
    ];
    prop_oneof![
        number.clone().prop_map(Interval::Detect),
        number.clone().prop_map(Interval::Below),
        number.prop_map(Interval::Above),
        Just(Interval::Present),
        Just(Interval::Absent),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn any_interval_in_any_spelling_reads_back(said in any_interval(), style in 0usize..6, form in 0usize..10) {
        let (text, marks) = spelled(said, style, form);
        // A verdict is a result of bacteria alone.
        let sign = if matches!(said, Interval::Present | Interval::Absent) { Sign::Count } else { Sign::Positive };
        let reading = read(&text, marks, &Words::new(&[]));
        let got = interval(reading.said, &Facts { flags: Flags::all(reading.flag), sign, ..Facts::default() });
        prop_assert_eq!(got.ok(), Some(said), "{}", text);
    }

    #[test]
    fn a_number_with_anything_unknown_behind_it_is_no_number(x in 0.0f64..1e6, tail in "[a-z/%]{3,8}") {
        prop_assume!(Words::new(&[]).flags(&tail).is_none());
        let text = format!("{x} {tail}");
        prop_assert!(interval(read(&text, Marks::default(), &Words::new(&[])).said, &Facts::default()).is_err());
    }
}
