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
    let value = rounded(value);
    if value != 0.0 && value.abs() < TINY { format!("{value:e}") } else { value.to_string() }
}

/// The same number, rounded to its twelve significant digits.
pub fn rounded(value: f64) -> f64 {
    quick(value).unwrap_or_else(|| exact(value))
}

/// By one multiplication and one division, where the power of ten between them is exact.
fn quick(value: f64) -> Option<f64> {
    let places = DIGITS as i32 - 1 - libm::floor(libm::log10(value.abs())) as i32;
    let power = POWERS.get(usize::try_from(places).ok()?)?;
    Some((value * power).round() / power)
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
            }
        }
    }
}
