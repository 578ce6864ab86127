//! How numbers are written in tables. This file alone rounds.
//!
//! Twelve significant digits: more than any result carries, and few enough that the last bits of a platform's
//! mathematics never reach a byte.

/// Significant digits of a number in a table.
const DIGITS: usize = 12;

/// Numbers nearer to zero than this are written with an exponent, which every reader of tables takes.
const TINY: f64 = 1e-5;

/// A number as text: shortest form of its twelve significant digits, `.` decimal.
pub fn text(value: f64) -> String {
    let value = rounded(value);
    if value != 0.0 && value.abs() < TINY { format!("{value:e}") } else { value.to_string() }
}

/// The same number, rounded to its twelve significant digits.
pub fn rounded(value: f64) -> f64 {
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
}
