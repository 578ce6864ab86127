//! One conversion between units: y = x * times / over + offset. Kept as a quotient, not as one factor,
//! so that 3 ug/L becomes exactly the nearest number to 0.003 mg/L, and there and back is the same value
//! to the last digits.

/// A linear change of unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conversion {
    times: f64,
    over: f64,
    offset: f64,
}

impl Conversion {
    /// Leaves a value as it is.
    pub const SAME: Self = Self { times: 1.0, over: 1.0, offset: 0.0 };

    /// y = x * times / over + offset; `None` unless all are finite and neither factor is zero.
    pub(super) fn new(times: f64, over: f64, offset: f64) -> Option<Self> {
        let sound = times.is_normal() && over.is_normal() && offset.is_finite();
        sound.then_some(Self { times, over, offset })
    }

    /// The value in the new unit.
    #[must_use]
    pub fn apply(&self, value: f64) -> f64 {
        value * self.times / self.over + self.offset
    }

    /// The factor as one number.
    #[must_use]
    pub fn factor(&self) -> f64 {
        self.times / self.over
    }

    /// What is added after the factor; 0 but for temperatures.
    #[must_use]
    pub fn offset(&self) -> f64 {
        self.offset
    }

    /// The way back.
    #[must_use]
    pub fn inverse(&self) -> Self {
        Self { times: self.over, over: self.times, offset: -self.offset * self.over / self.times }
    }

    /// First `self`, then `next`.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        Self { times: self.times * next.times, over: self.over * next.over, offset: next.apply(self.offset) }
    }
}

/// A number or a quotient of two, as conversion tables print them: "1000", "14.007/62.004", "-160/9".
pub(super) fn quotient(text: &str) -> Option<(f64, f64)> {
    let (above, below) = text.split_once('/').unwrap_or((text, "1"));
    Some((above.trim().parse().ok()?, below.trim().parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::{Conversion, quotient};

    #[test]
    fn there_and_back() {
        // Fahrenheit to Celsius: 212 is 100, 32 is 0 (definition of the scales).
        let (times, over) = quotient("5/9").unwrap();
        let (above, below) = quotient("-160/9").unwrap();
        let celsius = Conversion::new(times, over, above / below).unwrap();
        assert!((celsius.apply(212.0) - 100.0).abs() < 1e-12);
        assert!(celsius.apply(32.0).abs() < 1e-12);
        assert!((celsius.inverse().apply(celsius.apply(51.3)) - 51.3).abs() < 1e-12);
    }

    #[test]
    fn small_units_stay_exact() {
        let milli = Conversion::new(1.0, 1000.0, 0.0).unwrap();
        assert_eq!(milli.apply(3.0), 0.003);
        assert_eq!(milli.then(&milli.inverse()).apply(0.7), 0.7);
    }
}
