//! Figures as a reader wants them: percent with sensible digits, counts with separators, concentrations with three
//! digits. Tables for machines are written elsewhere and keep their digits.

/// A share as percent: whole percent from 10 on, one decimal below, never `0%` for something that is not zero.
pub fn percent(share: f64) -> String {
    let value = 100.0 * share;
    match value {
        v if !v.is_finite() => "not known".to_owned(),
        v if v <= 0.0 => "0%".to_owned(),
        v if v < 0.1 => "under 0.1%".to_owned(),
        v if v < 9.95 => format!("{}%", trimmed(&format!("{v:.1}"))),
        v if v >= 100.0 => format!("{v:.0}%"),
        v if v > 99.0 => "over 99%".to_owned(),
        v => format!("{v:.0}%"),
    }
}

/// An interval of shares: `7% to 19%`.
pub fn interval(low: f64, high: f64) -> String {
    format!("{} to {}", percent(low), percent(high))
}

/// A count with thousands separators.
pub fn count(value: u64) -> String {
    let digits = value.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// A number with three digits that count; whole with separators from 1000 on.
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return if value == f64::INFINITY { "no upper end".to_owned() } else { "not known".to_owned() };
    }
    let size = value.abs();
    if size == 0.0 {
        return "0".to_owned();
    }
    let sign = if value < 0.0 { "-" } else { "" };
    if size >= 999.5 {
        return if size < 1e15 { format!("{sign}{}", count(size.round() as u64)) } else { format!("{value:.2e}") };
    }
    let decimals = (2 - libm::log10(size).floor() as i32).clamp(0, 12) as usize;
    trimmed(&format!("{value:.decimals$}"))
}

/// An expected number of things that come whole: whole from 10 on, in tenths below.
pub(super) fn expected(value: f64) -> String {
    match value {
        v if !v.is_finite() => number(v),
        v if v >= 9.95 => count(v.round() as u64),
        v if v <= 0.0 => "0".to_owned(),
        v if v < 0.05 => "under 0.1".to_owned(),
        v => trimmed(&format!("{v:.1}")),
    }
}

/// In tenths, so that figures under each other can be compared.
pub(super) fn tenths(value: f64) -> String {
    if value.is_finite() { format!("{value:.1}") } else { number(value) }
}

/// What a script sorts by: the number with the digits that are shown.
pub(super) fn sortable(value: f64) -> String {
    if value.is_finite() { number(value).replace(',', "") } else { "-1".to_owned() }
}

/// A share with the digits that are shown of it, as percent.
pub(super) fn sortable_share(share: f64) -> f64 {
    let places = if share < 0.0995 { 1e3 } else { 1e2 };
    (share * places).round() / places
}

/// A ratio with two digits that count: more would promise what its interval takes back.
pub(super) fn ratio(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || !value.is_finite() || size >= 99.5 {
        return number(value);
    }
    if (0.9..=1.1).contains(&size) {
        return trimmed(&format!("{value:.2}")); // or an odds ratio for each hundred metres would be "1 (1 to 1)"
    }
    let decimals = (1 - libm::log10(size).floor() as i32).clamp(0, 12) as usize;
    trimmed(&format!("{value:.decimals$}"))
}

/// A part of a whole as the width of a bar.
pub(super) fn part(value: f64, whole: f64) -> String {
    let share = if whole > 0.0 { (value / whole).clamp(0.0, 1.0) } else { 0.0 };
    format!("{:.1}%", 100.0 * share)
}

/// A p value as a reader can use it.
pub(super) fn chance(p: f64) -> String {
    match p {
        p if !p.is_finite() => "not known".to_owned(),
        p if p < 0.001 => "under 0.001".to_owned(),
        p if p < 0.1 => format!("{p:.3}"),
        p => format!("{p:.2}"),
    }
}

/// `1 well`, `41 wells`.
pub(super) fn wells(value: u64) -> String {
    if value == 1 { "1 well".to_owned() } else { format!("{} wells", count(value)) }
}

fn trimmed(text: &str) -> String {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_expected_comes_whole() {
        let cases = [
            (334.2, "334"),
            (69.5, "70"),
            (9.96, "10"),
            (1.22, "1.2"),
            (5.0, "5"),
            (0.0788, "0.1"),
            (0.01, "under 0.1"),
            (0.0, "0"),
        ];
        for (value, words) in cases {
            assert_eq!(expected(value), words);
        }
    }

    #[test]
    fn percents_have_sensible_digits() {
        let cases = [
            (0.0, "0%"),
            (0.0004, "under 0.1%"),
            (0.004, "0.4%"),
            (0.05, "5%"),
            (0.0731, "7.3%"),
            (0.0996, "10%"),
            (0.123, "12%"),
            (0.995, "over 99%"),
            (1.0, "100%"),
        ];
        for (share, words) in cases {
            assert_eq!(percent(share), words);
        }
    }

    #[test]
    fn numbers_have_three_digits() {
        let cases = [(0.0, "0"), (0.012345, "0.0123"), (9.996, "10"), (10.04, "10"), (123.4, "123"), (1234.5, "1,235")];
        for (value, words) in cases {
            assert_eq!(number(value), words);
        }
        assert_eq!([0.1764, 1.0, 2.35, 0.996, 137.2].map(ratio), ["0.18", "1", "2.4", "1", "137"]);
        assert_eq!(number(-2.5), "-2.5");
        assert_eq!(number(1e-5), "0.00001");
        assert_eq!(count(1_234_567), "1,234,567");
    }
}
