//! The height of the penalised likelihood with one coefficient held, into that coefficient's interval and test.
//!
//! The distance is taken as the signed root of the fall, which is nearly straight in the coefficient, and its slope comes free with
//! each restricted fit: two or three fits an end. A bracket is kept, so a bent profile costs steps and not the answer.

use super::likelihood::Penalty;
use super::matrix::Factor;
use super::newton::{self, COARSE, Fitted};
use super::prepared::Prepared;
use crate::methods::special::chi_squared_above;

/// Error of the root of the fall at which an end has settled; about the same in standard errors of the coefficient.
const END_EPS: f64 = 1e-9;
const MOST_FITS: usize = 80;

/// Both ends for the normal quantile `z`, in units of the data.
pub(super) fn interval(rows: &Prepared, best: &Fitted, j: usize, z: f64) -> Option<[f64; 2]> {
    let low = end(rows, best, j, z, -1.0)?;
    let high = end(rows, best, j, z, 1.0)?;
    Some([low / rows.scale[j], high / rows.scale[j]])
}

/// Twice the fall where the coefficient is 0, and its p.
pub(super) fn ratio_test(rows: &Prepared, best: &Fitted, j: usize) -> Option<(f64, f64)> {
    let null = held_at(rows, best, j, 0.0).or_else(|| from_nothing(rows, j))?;
    let statistic = (2.0 * fall(best, &null)).max(0.0);
    Some((statistic, chi_squared_above(statistic, 1)))
}

fn from_nothing(rows: &Prepared, j: usize) -> Option<Fitted> {
    newton::fit(rows, Penalty::Jeffreys, vec![0.0; rows.columns], Some(j), COARSE).ok()
}

fn fall(best: &Fitted, there: &Fitted) -> f64 {
    best.height(Penalty::Jeffreys) - there.height(Penalty::Jeffreys)
}

fn end(rows: &Prepared, best: &Fitted, j: usize, z: f64, side: f64) -> Option<f64> {
    let centre = best.beta[j];
    let mut near = 0.0;
    let (mut far, mut fitted) = (f64::INFINITY, false);
    let mut at = z * best.point.factor.inverse_diagonal(j).sqrt();
    let mut last = best.clone();
    for _ in 0..MOST_FITS {
        let Some(there) = held_at(rows, &last, j, centre + side * at) else {
            // Too far for the information to stay regular: come nearer.
            (far, fitted) = (at, false);
            at = 0.5 * (near + at);
            if at <= near || at >= far {
                return None;
            }
            continue;
        };
        let root = (2.0 * fall(best, &there)).max(0.0).sqrt();
        let short = root - z;
        if short.abs() < END_EPS {
            return Some(centre + side * at);
        }
        if short < 0.0 {
            near = at;
        } else {
            (far, fitted) = (at, true);
        }
        if fitted && far - near <= 1e-14 * far {
            return Some(centre + side * at);
        }
        let steep = -side * there.slope[j] / root;
        at = next(at, at - short / steep, near, far);
        last = there;
    }
    None
}

/// Newton's guess where it lies inside the bracket and not too far out, otherwise something that does.
fn next(at: f64, guess: f64, near: f64, far: f64) -> f64 {
    if far.is_finite() {
        if guess > near && guess < far { guess } else { 0.5 * (near + far) }
    } else if guess > near && guess < 3.0 * at {
        guess
    } else {
        1.6 * at
    }
}

/// The restricted fit from a neighbouring one: the other coefficients are first moved along the ridge.
fn held_at(rows: &Prepared, from: &Fitted, j: usize, value: f64) -> Option<Fitted> {
    let width = rows.columns;
    let free: Vec<usize> = (0..width).filter(|i| *i != j).collect();
    let factor = Factor::of(&from.point.information, width, &free, 0.0).ok()?;
    let mixed: Vec<f64> = free.iter().map(|i| from.point.information[i * width + j]).collect();
    let turn = factor.solve(&mixed);
    let mut beta = from.beta.clone();
    free.iter().zip(turn).for_each(|(i, t)| beta[*i] -= t * (value - from.beta[j]));
    beta[j] = value;
    newton::fit(rows, Penalty::Jeffreys, beta, Some(j), COARSE).ok()
}
