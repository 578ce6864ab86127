//! How numbers are written in tables. This file alone rounds.
//!
//! Twelve significant digits: more than any result carries, and few enough that the last bits of a platform's
//! mathematics never reach a byte.

/// Significant digits of a number in a table.
const DIGITS: usize = 12;

/// Numbers nearer to zero than this are written with an exponent, which every reader of tables takes.
const TINY: f64 = 1e-5;

/// Powers of ten that a double holds exactly.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// A number as text: shortest form of its twelve significant digits, `.` decimal.
pub fn text(value: f64) -> String {
    let mut out = Vec::with_capacity(16);
    push(&mut out, value);
    String::from_utf8(out).unwrap_or_default() // never: digits, point and sign
}

/// Appends a number as `text` gives it.
pub fn push(out: &mut Vec<u8>, value: f64) {
    if let Some((whole, places)) = scaled(value).filter(|_| value.abs() >= TINY) {
        push_decimal(out, whole, places);
        return;
    }
    let value = rounded(value);
    let tiny = value != 0.0 && value.abs() < TINY;
    let text = if tiny { format!("{value:e}") } else { value.to_string() };
    out.extend_from_slice(text.as_bytes());
}

/// The same number, rounded to its twelve significant digits.
pub fn rounded(value: f64) -> f64 {
    let quick = scaled(value).and_then(|(whole, places)| Some(whole / POWERS.get(places)?));
    quick.unwrap_or_else(|| exact(value))
}

/// Its twelve digits as a whole number, and how many of them stand behind the point: one multiplication by a power of ten
/// that is exact. `None` where there is no such power, or where the number is so large that none is needed.
fn scaled(value: f64) -> Option<(f64, usize)> {
    let size = value.abs();
    let before = |power: &f64| size < *power;
    let places = match size >= 1.0 {
        true => DIGITS.checked_sub(POWERS.iter().position(before)?)?,
        false => DIGITS - 1 + POWERS.iter().take(DIGITS).position(|power| size * power >= 1.0)?,
    };
    Some(((value * POWERS.get(places)?).round(), places))
}

/// Fifteen digits or fewer name one double only, so that these digits, without zeros at their end, are its shortest form.
fn push_decimal(out: &mut Vec<u8>, whole: f64, places: usize) {
    if whole < 0.0 {
        out.push(b'-');
    }
    push_whole(out, whole.abs() as u64, places + 1);
    let point = out.len() - places;
    let zeros = out.iter().skip(point).rev().take_while(|digit| **digit == b'0').count();
    out.truncate(out.len() - zeros);
    if out.len() > point {
        out.insert(point, b'.');
    }
}

/// Appends a whole number with leading zeros up to `least` digits.
pub fn push_whole(out: &mut Vec<u8>, number: u64, least: usize) {
    let digits = number.checked_ilog10().unwrap_or(0) as usize + 1;
    let (start, mut left) = (out.len(), number);
    out.resize(start + digits.max(least), b'0');
    for digit in out.iter_mut().skip(start).rev() {
        *digit = b'0' + (left % 10) as u8;
        left /= 10;
    }
}

/// By way of text, for any number.
fn exact(value: f64) -> f64 {
    let scientific = format!("{:.*e}", DIGITS - 1, value);
    let rounded = scientific.parse().unwrap_or(value);
    if rounded == 0.0 { 0.0 } else { rounded }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_digits_and_no_noise() {
        assert_eq!(text(0.1 + 0.2), "0.3");
        assert_eq!(text(1.0 / 3.0), "0.333333333333");
        assert_eq!(text(123_456_789.4), "123456789.4");
        assert_eq!(text(-0.0), "0");
        assert_eq!(text(0.0001), "0.0001");
        assert_eq!(text(1e-7), "1e-7");
    }

    proptest::proptest! {
        #[test]
        fn the_quick_way_is_within_half_a_last_digit(x in -1e9f64..1e9, small in 1e-9f64..1.0) {
            for value in [x, small, x * small] {
                let (got, wanted) = (rounded(value), exact(value));
                proptest::prop_assert!((got - wanted).abs() <= 1.01e-11 * value.abs(), "{} {} {}", value, got, wanted);
                proptest::prop_assert!(text(value).bytes().filter(u8::is_ascii_digit).count() <= 26);
                // What the standard library has for the shortest form.
                let shortest = if got != 0.0 && got.abs() < TINY { format!("{got:e}") } else { got.to_string() };
                proptest::prop_assert_eq!(text(value), shortest);
            }
        }
    }
}
