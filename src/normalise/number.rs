//! The number at the start of a text, with the file's decimal and thousands marks.
//!
//! Thousands are believed only in groups of exactly three digits, so `1,234.5` is read and `12,34` is not. Where the
//! plan names neither mark, a single group with nothing behind it is not believed either: `1,234` may be 1234 or
//! 1.234, a thousandfold apart. A number that overflows is none.

/// How a file writes numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Marks {
    /// `.` or `,`.
    pub decimal: char,
    /// Between thousands, if any.
    pub thousands: Option<char>,
    said_by: SaidBy,
}

/// Who says how numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum SaidBy {
    /// The plan names a mark.
    Plan,
    /// Nobody.
    Default,
}

impl Default for Marks {
    fn default() -> Self {
        Marks::new(None, None)
    }
}

impl Marks {
    /// From the plan's options: a decimal comma makes the full stop the thousands mark, and the other way round.
    pub fn new(decimal: Option<char>, thousands: Option<char>) -> Marks {
        let said_by = if decimal.or(thousands).is_some() { SaidBy::Plan } else { SaidBy::Default };
        let decimal = decimal.unwrap_or('.');
        let other = if decimal == ',' { '.' } else { ',' };
        Marks { decimal, thousands: Some(thousands.unwrap_or(other)), said_by }
    }

    /// Whether a character stands between thousands; for a plain space, so do the spaces that do not break.
    fn is_thousands(self, c: char) -> bool {
        self.thousands == Some(c) || (self.thousands == Some(' ') && matches!(c, '\u{a0}' | '\u{202f}'))
    }
}

/// The number at the start of the text and what follows it; `None` if there is none or it is not finite.
pub(super) fn leading_number(text: &str, marks: Marks) -> Option<(f64, &str)> {
    let end = text.bytes().take_while(|b| is_part(*b)).count();
    let simple = text.get(..end)?;
    // The usual case: nothing but what Rust's own parser reads.
    if marks.decimal == '.'
        && let Ok(value) = simple.parse::<f64>()
        && !follows_on(text.get(end..)?, marks)
    {
        return value.is_finite().then_some((value, text.get(end..)?));
    }
    scan(text, marks)
}

fn is_part(byte: u8) -> bool {
    matches!(byte, b'0'..=b'9' | b'.' | b'-' | b'+' | b'e' | b'E')
}

/// Whether what stands behind a simple number would still belong to it.
fn follows_on(rest: &str, marks: Marks) -> bool {
    let mut chars = rest.chars();
    let first = chars.next().is_some_and(|c| marks.is_thousands(c) || c == marks.decimal);
    first && chars.next().is_some_and(|c| c.is_ascii_digit())
}

/// The general case: sign, grouped whole part, decimals, exponent.
fn scan(text: &str, marks: Marks) -> Option<(f64, &str)> {
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    if let Some(after) = rest.strip_prefix(['-', '+', '\u{2212}']) {
        if !rest.starts_with('+') {
            plain.push('-');
        }
        rest = after;
    }
    let (whole, after) = digits(rest);
    plain.push_str(whole);
    rest = after;
    let groups = groups(whole, rest, marks, &mut plain)?;
    rest = groups.rest;
    let mut decimals = "";
    if let Some(after) = rest.strip_prefix(marks.decimal) {
        (decimals, rest) = digits(after);
        plain.push('.');
        plain.push_str(decimals);
    }
    if whole.is_empty() && decimals.is_empty() {
        return None;
    }
    if groups.count == 1 && decimals.is_empty() && marks.said_by == SaidBy::Default {
        return None;
    }
    rest = exponent(rest, &mut plain);
    let ends = !rest.starts_with(['.', ',']) && !rest.starts_with(|c: char| c.is_ascii_digit());
    let value: f64 = plain.parse().ok()?;
    (ends && value.is_finite()).then_some((value, rest))
}

fn digits(text: &str) -> (&str, &str) {
    text.split_at(text.bytes().take_while(u8::is_ascii_digit).count())
}

/// Groups of three digits, and what follows them.
struct Groups<'a> {
    count: usize,
    rest: &'a str,
}

/// Groups of three after a thousands mark; `None` if a group is not of three digits, or nothing could be a thousand.
fn groups<'a>(whole: &str, mut rest: &'a str, marks: Marks, plain: &mut String) -> Option<Groups<'a>> {
    let mut count = 0;
    while let Some(after) = rest.strip_prefix(|c| marks.is_thousands(c)) {
        let (group, behind) = digits(after);
        if group.is_empty() {
            break;
        }
        if group.len() != 3 || whole.is_empty() || whole.len() > 3 || whole.starts_with('0') {
            return None;
        }
        plain.push_str(group);
        rest = behind;
        count += 1;
    }
    Some(Groups { count, rest })
}

fn exponent<'a>(rest: &'a str, plain: &mut String) -> &'a str {
    let Some(after) = rest.strip_prefix(['e', 'E']) else { return rest };
    let (sign, after) = match after.strip_prefix(['-', '+']) {
        Some(behind) => (if after.starts_with('-') { "-" } else { "" }, behind),
        None => ("", after),
    };
    let (power, behind) = digits(after);
    if power.is_empty() {
        return rest;
    }
    plain.push('e');
    plain.push_str(sign);
    plain.push_str(power);
    behind
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_both_worlds() {
        let european = Marks::new(Some(','), None);
        assert_eq!(leading_number("1.234,5", european), Some((1234.5, "")));
        assert_eq!(leading_number("0,5 J", european), Some((0.5, " J")));
        assert_eq!(leading_number("1,234.5", Marks::default()), Some((1234.5, "")));
        assert_eq!(leading_number("12,34", Marks::default()), None);
        assert_eq!(leading_number("0,123", Marks::new(None, Some(','))), None);
        assert_eq!(leading_number("1,234", Marks::default()), None);
        assert_eq!(leading_number("1,234", Marks::new(None, Some(','))), Some((1234.0, "")));
        assert_eq!(leading_number("1,234,567", Marks::default()), Some((1_234_567.0, "")));
        assert_eq!(leading_number("1\u{a0}234,5", Marks::new(Some(','), Some(' '))), Some((1234.5, "")));
        assert_eq!(leading_number("1.2.3", Marks::default()), None);
        assert_eq!(leading_number("5E", Marks::default()), Some((5.0, "E")));
        assert_eq!(leading_number("", Marks::default()), None);
        assert_eq!(leading_number("-", Marks::default()), None);
    }
}
