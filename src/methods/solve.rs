//! The one root finder and the one maximiser that every fitted figure comes from.
//!
//! Both keep what they know (a bracket, the best point) as an invariant, have a fixed cap, and end
//! in an error where they did not settle: a loop that stopped early gives a plausible wrong number,
//! so its last point is never handed out.

use thiserror::Error;

/// Why an iteration has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NotSettled {
    /// The function has the same sign at both ends, so no root is known to lie between them.
    #[error("no change of sign between the ends")]
    NoBracket,
    /// The function gave something that is not a number.
    #[error("the function is not a number where it was asked")]
    NotANumber,
    /// The cap on steps was reached.
    #[error("no answer within {0} steps")]
    TooManySteps(usize),
    /// The surface is flat or bends the wrong way where it stopped.
    #[error("no maximum was found")]
    NoMaximum,
}

/// Steps after which a bracketed search gives up; halving alone needs about 1100 from the widest
/// bracket a double can hold to its last digit, and every third step halves.
const MOST_ROOT_STEPS: usize = 4000;
/// Two guesses this near to each other (relative) are the same.
const ROOT_EPS: f64 = 4.0 * f64::EPSILON;

/// # Computes
/// A point between `low` and `high` where `f` crosses zero, to the last few digits: secant steps
/// inside a bracket that always holds the crossing, and a halving whenever two steps in a row did
/// not halve it (false position is stopped from creeping).
/// # Takes
/// `f` with different signs (or zero) at the two ends; it need not be smooth.
/// # Errors
/// No change of sign; a value that is not a number; no answer within the cap.
/// # Source
/// Own; the bracket as invariant is common practice, no source.
pub fn root(mut f: impl FnMut(f64) -> f64, low: f64, high: f64) -> Result<f64, NotSettled> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa.is_nan() || fb.is_nan() {
        return Err(NotSettled::NotANumber);
    }
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    if (fa > 0.0) == (fb > 0.0) {
        return Err(NotSettled::NoBracket);
    }
    let mut slow = 0;
    for _ in 0..MOST_ROOT_STEPS {
        let width = (b - a).abs();
        if width <= ROOT_EPS * a.abs().max(b.abs()) || width < f64::MIN_POSITIVE {
            return Ok(if fa.abs() < fb.abs() { a } else { b });
        }
        let middle = a + 0.5 * (b - a);
        let guess = if slow >= 2 { middle } else { inside(a, b, b - fb * (b - a) / (fb - fa), middle) };
        let value = f(guess);
        if value.is_nan() {
            return Err(NotSettled::NotANumber);
        }
        if value == 0.0 || guess == a || guess == b {
            return Ok(guess);
        }
        if (value > 0.0) == (fa > 0.0) {
            (a, fa) = (guess, value);
        } else {
            (b, fb) = (guess, value);
        }
        slow = if (b - a).abs() > 0.5 * width { slow + 1 } else { 0 };
    }
    Err(NotSettled::TooManySteps(MOST_ROOT_STEPS))
}

/// The guess, drawn a little towards the middle so that it cannot stick at an end; the middle where
/// the guess lies outside.
fn inside(a: f64, b: f64, guess: f64, middle: f64) -> f64 {
    let (low, high) = (a.min(b), a.max(b));
    if !(guess > low && guess < high) {
        return middle;
    }
    let nudge = 2.0 * f64::EPSILON * guess.abs();
    let moved = if guess < middle { guess + nudge } else { guess - nudge };
    if moved > low && moved < high { moved } else { middle }
}

/// A surface over two parameters at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Height.
    pub value: f64,
    /// First derivatives.
    pub slope: [f64; 2],
    /// Second derivatives: of the first, mixed, of the second parameter.
    pub bend: [f64; 3],
}

/// Steps of the maximiser; a well-posed fit takes under twenty.
const MOST_STEPS: usize = 300;
/// A step this small (relative to the parameter, or to 1) ends the search.
const STEP_EPS: f64 = 1e-11;

/// # Computes
/// The parameters where a smooth surface is highest, with the surface there: Newton's step where
/// the surface bends down, the slope's direction otherwise, shortened until the surface rises.
/// # Takes
/// `f`, which may give `None` or a NaN outside its range (the step is then shortened), and a start
/// inside the range.
/// # Errors
/// No rise however short the step while the slope is not flat; a surface that does not bend down at
/// the end; the cap.
pub fn maximise(f: impl Fn([f64; 2]) -> Option<Surface>, start: [f64; 2]) -> Result<([f64; 2], Surface), NotSettled> {
    let mut point = start;
    let mut here = f(point).filter(is_number).ok_or(NotSettled::NotANumber)?;
    for _ in 0..MOST_STEPS {
        let step = direction(&here);
        let size = step.iter().zip(point).map(|(s, x)| s.abs() / x.abs().max(1.0)).fold(0.0, f64::max);
        if size < STEP_EPS {
            return bends_down(&here).then_some((point, here)).ok_or(NotSettled::NoMaximum);
        }
        match rise(&f, point, &here, step) {
            Some((next, there)) => (point, here) = (next, there),
            // Rounding hides the last rise: good where the step had become tiny, a failure
            // otherwise.
            None if size < 1e-6 && bends_down(&here) => return Ok((point, here)),
            None => return Err(NotSettled::NoMaximum),
        }
    }
    Err(NotSettled::TooManySteps(MOST_STEPS))
}

fn is_number(s: &Surface) -> bool {
    s.value.is_finite() && s.slope.iter().chain(&s.bend).all(|x| x.is_finite())
}

fn bends_down(s: &Surface) -> bool {
    s.bend[0] < 0.0 && s.bend[0] * s.bend[2] - s.bend[1] * s.bend[1] > 0.0
}

fn direction(s: &Surface) -> [f64; 2] {
    let [g, h] = s.slope;
    if bends_down(s) {
        let [a, c, b] = s.bend;
        let det = a * b - c * c;
        return [-(b * g - c * h) / det, -(a * h - c * g) / det];
    }
    let length = (g * g + h * h).sqrt().max(1.0);
    [g / length, h / length]
}

fn rise(
    f: impl Fn([f64; 2]) -> Option<Surface>,
    point: [f64; 2],
    here: &Surface,
    step: [f64; 2],
) -> Option<([f64; 2], Surface)> {
    let mut share = 1.0;
    for _ in 0..60 {
        let next = [point[0] + share * step[0], point[1] + share * step[1]];
        if next == point {
            return None;
        }
        if let Some(there) = f(next).filter(is_number)
            && there.value > here.value
        {
            return Some((next, there));
        }
        share *= 0.5;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_found_to_the_last_digits() {
        assert!((root(|x| x * x - 2.0, 0.0, 2.0).unwrap() - std::f64::consts::SQRT_2).abs() < 1e-15);
        assert!((root(|x| libm::cos(x) - x, 0.0, 1.0).unwrap() - 0.739_085_133_215_160_6).abs() < 1e-15);
        // A flat end and a steep one: false position alone creeps here.
        let steep = root(|x| libm::pow(x, 21.0) - 1e-9, 0.0, 10.0).unwrap();
        assert!((libm::pow(steep, 21.0) / 1e-9 - 1.0).abs() < 1e-12);
        assert_eq!(root(|x| x, 0.0, 1.0), Ok(0.0));
    }

    #[test]
    fn no_bracket_and_no_number_are_errors() {
        assert_eq!(root(|x| x + 1.0, 0.0, 1.0), Err(NotSettled::NoBracket));
        assert_eq!(root(|_| f64::NAN, 0.0, 1.0), Err(NotSettled::NotANumber));
    }

    /// Rosenbrock's valley turned upside down, highest at (1, 1).
    fn valley([x, y]: [f64; 2]) -> Option<Surface> {
        let u = y - x * x;
        Some(Surface {
            value: -(100.0 * u * u + (1.0 - x) * (1.0 - x)),
            slope: [400.0 * x * u + 2.0 * (1.0 - x), -200.0 * u],
            bend: [400.0 * u - 800.0 * x * x - 2.0, 400.0 * x, -200.0],
        })
    }

    #[test]
    fn the_valley_ends_at_one_and_one() {
        let ([x, y], _) = maximise(valley, [-1.2, 1.0]).unwrap();
        assert!((x - 1.0).abs() < 1e-9 && (y - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_slope_without_end_is_an_error() {
        let plane = |[x, _]: [f64; 2]| Some(Surface { value: x, slope: [1.0, 0.0], bend: [0.0; 3] });
        assert!(maximise(plane, [0.0, 0.0]).is_err());
    }
}
