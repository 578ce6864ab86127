//! How near is near enough: the tolerances of every test, in one place, and the comparison that
//! uses them.
//!
//! A reader would question a tolerance that was loosened to make a test pass; one that is not among
//! these constants has to be argued where it is used.
#![allow(dead_code, reason = "each test binary uses some of these")]

use serde_json::Value;

/// `|got - expected| <= abs + rel * |expected|`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    pub abs: f64,
    pub rel: f64,
}

/// Figures with a closed form.
pub const CLOSED_FORM: Tolerance = Tolerance { abs: 1e-9, rel: 1e-9 };
/// Figures that come out of an iteration.
pub const FITTED: Tolerance = Tolerance { abs: 1e-8, rel: 1e-6 };
/// Figures of the integrated small-area posterior, which the reference itself gives by quadrature.
pub const INTEGRATED: Tolerance = Tolerance { abs: 2e-5, rel: 0.0 };
/// Words, counts, and nothing to spare.
pub const EXACT: Tolerance = Tolerance { abs: 0.0, rel: 0.0 };

impl Tolerance {
    /// The case's own `tolerance`, or that of closed forms where it has none of the usual layout.
    pub fn of_case(case: &Value) -> Self {
        let part = |key: &str| case["tolerance"][key].as_f64();
        match (part("abs"), part("rel")) {
            (None, None) => CLOSED_FORM,
            (abs, rel) => Tolerance { abs: abs.unwrap_or(0.0), rel: rel.unwrap_or(0.0) },
        }
    }

    /// Whether `got` is near enough; infinities must be the same one, NaN never is.
    pub fn holds(self, got: f64, expected: f64) -> bool {
        got == expected || (got - expected).abs() <= self.abs + self.rel * expected.abs()
    }
}

/// Stops the test with both figures and their distance where they are not near enough.
#[track_caller]
pub fn assert_close(got: f64, expected: f64, tolerance: Tolerance) {
    assert!(tolerance.holds(got, expected), "got {got}, expected {expected}, apart by {:e}", (got - expected).abs());
}
