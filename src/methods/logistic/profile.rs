//! The height of the penalised likelihood with one coefficient held, into that coefficient's interval and test.
//!
//! The distance is taken as the signed root of the fall, which is nearly straight in the coefficient. The other coefficients are not
//! settled at each place before the next is tried: one step moves all at once, those not held on to the ridge and the held one
//! along it, and what the others still lack in height is reckoned in (Venzon and Moolgavkar 1988, Applied Statistics 37, from
//! memory). How far the root is from straight tells how near to the end a last step may start: of many wells one look is enough.
//! A bracket is kept, so a bent profile costs steps and not the answer.

use super::likelihood::Penalty;
use super::matrix::Factor;
use super::newton::{self, COARSE, Fitted};
use super::prepared::Prepared;
use crate::methods::special::chi_squared_above;

/// Error of the root of the fall from which one more step, without a look at where it leads, ends within its square of the end: 1e-10
/// of a standard error.
const NEAR_END: f64 = 1e-5;
/// Error of an end, in standard errors, that is let stand where there are many wells and it can be reckoned.
const ENOUGH: f64 = 1e-6;
/// What the information has to hold for each term to count as many wells: well over a thousand of them.
const MANY: f64 = 300.0;
/// Error of the height at 0 that is let stand.
const HEIGHT_ENOUGH: f64 = 1e-9;
/// Expected rise (twice) up to which that error is trusted to be as reckoned.
const LOOSEST: f64 = 1e-3;
/// Expected rise (twice) at which the other coefficients are near enough to their ridge to go on.
const LOOSE: f64 = 1e-2;
/// Rounds after which they settle at each place: small samples bend otherwise than the information says.
const SOON: usize = 8;
/// Width of the bracket, relative, at which its end is the answer.
const NARROWEST: f64 = 1e-11;
const MOST_FITS: usize = 80;

/// An interval and how far from straight the root of the fall is on the way to its ends.
#[derive(Clone, Copy, Debug)]
pub(super) struct Interval {
    /// In units of the data.
    pub(super) ends: [f64; 2],
    /// Departure from the straight line at a distance of one standard error, in standard errors.
    bend: f64,
}

/// Both ends for the normal quantile `z`.
pub(super) fn interval(rows: &Prepared, best: &Fitted, j: usize, z: f64) -> Option<Interval> {
    let low = end(rows, best, j, z, -1.0)?;
    let high = end(rows, best, j, z, 1.0)?;
    Some(Interval { ends: [low, high].map(|end| end.at / rows.scale[j]), bend: low.bend.max(high.bend) })
}

/// Expected rise (twice) from which the height at 0 is known well enough, where the profiles bend as much as towards these intervals.
/// What is left out in reckoning with the expected rise is the bend over the distance that is still to go, its root.
pub(super) fn settled(intervals: &[Option<Interval>]) -> f64 {
    let bends = intervals.iter().map(|interval| interval.map_or(f64::INFINITY, |interval| interval.bend));
    let bend = bends.fold(0.0, f64::max);
    libm::cbrt(HEIGHT_ENOUGH / (SAFE * bend)).powi(2).clamp(COARSE, LOOSEST)
}

/// Twice the fall where the coefficient is 0, and its p; `settled` as above.
pub(super) fn ratio_test(rows: &Prepared, best: &Fitted, j: usize, settled: f64) -> Option<(f64, f64)> {
    let along = Ridge::at(rows, best.clone(), j).and_then(|ridge| held_at(rows, &ridge, 0.0, settled));
    let null = along.map(|ridge| ridge.fitted).or_else(|| from_nothing(rows, j))?;
    let statistic = (2.0 * fall(best, &null)).max(0.0);
    Some((statistic, chi_squared_above(statistic, 1)))
}

fn from_nothing(rows: &Prepared, j: usize) -> Option<Fitted> {
    newton::fit(rows, Penalty::Jeffreys, vec![0.0; rows.columns], Some(j), COARSE).ok()
}

fn fall(best: &Fitted, there: &Fitted) -> f64 {
    best.height(Penalty::Jeffreys) - there.height(Penalty::Jeffreys)
}

/// An end of an interval.
#[derive(Clone, Copy)]
struct End {
    at: f64,
    /// As in [`Interval`].
    bend: f64,
}

fn end(rows: &Prepared, best: &Fitted, j: usize, z: f64, side: f64) -> Option<End> {
    let centre = best.beta[j];
    let std_error = best.point.factor.inverse_diagonal(j).sqrt();
    let mut near = 0.0;
    let (mut far, mut fitted) = (f64::INFINITY, false);
    let mut at = z * std_error;
    let mut last = Ridge::at(rows, best.clone(), j)?;
    for round in 0..MOST_FITS {
        let settled = if round < SOON { LOOSE } else { COARSE };
        if round == SOON {
            // In samples of a few wells a bracket can be wrong whose heights rest on coefficients that had not settled.
            (near, far, fitted) = (0.0, f64::INFINITY, false);
        }
        let Some(there) = held_at(rows, &last, centre + side * at, settled) else {
            // Too far for the information to stay regular: come nearer.
            (far, fitted) = (at, false);
            at = 0.5 * (near + at);
            if at <= near || at >= far {
                return None;
            }
            continue;
        };
        let place = Place::of(best, &there, side, at / std_error);
        let guess = std_error * place.guess(z);
        let rise = there.fitted.rise;
        let sharp = (place.root - z).abs() < NEAR_END && rise < COARSE;
        if (sharp || place.error(z, rise, best) < ENOUGH) && guess.is_finite() {
            return Some(End { at: centre + side * guess, bend: place.bend() });
        }
        // As far as the height may be wrong where the other coefficients have not settled.
        let doubt = rise * std_error;
        if place.root < z {
            near = at - doubt;
        } else {
            (far, fitted) = (at + doubt, true);
        }
        if fitted && far - near <= NARROWEST * far {
            return Some(End { at: centre + side * at, bend: f64::INFINITY });
        }
        at = next(at, guess, near, far);
        last = there;
    }
    None
}

/// The root of the fall at one distance from the estimate, in standard errors, where a straight profile's root is the distance.
struct Place {
    distance: f64,
    root: f64,
    slope: f64,
}

/// How many times larger than reckoned an error may be.
const SAFE: f64 = 10.0;

impl Place {
    fn of(best: &Fitted, there: &Ridge, side: f64, distance: f64) -> Self {
        let root = (2.0 * fall(best, &there.fitted)).max(0.0).sqrt();
        let std_error = best.point.factor.inverse_diagonal(there.held).sqrt();
        Place { distance, root, slope: -side * there.slope * std_error / root }
    }

    /// Distance at which the root is `z`: a step along a curve with the root and slope known here, and those of a straight profile at
    /// the estimate.
    fn guess(&self, z: f64) -> f64 {
        let straight = (z - self.root) / self.slope;
        let curve = (2.0 + 4.0 * self.slope - 6.0 * self.root / self.distance) / self.distance;
        let turned = straight - 0.5 * curve * straight * straight / self.slope;
        // Far from the end the curve may point anywhere.
        self.distance + if (turned - straight).abs() < 0.1 * straight.abs() { turned } else { straight }
    }

    fn bend(&self) -> f64 {
        (self.root - self.distance).abs() / (self.distance * self.distance)
    }

    /// How far the guess may be off: by the square of the bend over the square of the way still to go, since the curve has its first
    /// power; by what the slope at the estimate leaves out of the penalty, one part in as many wells as the information stands
    /// for; and by the bend over what the other coefficients still have to go. Of few wells nothing is promised.
    fn error(&self, z: f64, rise: f64, best: &Fitted) -> f64 {
        let way = (z - self.root).abs();
        let penalty = best.beta.len() as f64 / best.point.information[0];
        if penalty * MANY > 1.0 {
            return f64::INFINITY;
        }
        let bend = self.bend();
        SAFE * ((bend * bend + penalty) * way * way + bend * rise.max(0.0).sqrt() * (rise + way))
    }
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

/// A restricted fit and how the profile goes on from it.
struct Ridge {
    fitted: Fitted,
    held: usize,
    free: Vec<usize>,
    /// What each free coefficient still has to move to reach the ridge.
    off: Vec<f64>,
    /// How much each free coefficient falls along the ridge for one unit of the held one.
    turn: Vec<f64>,
    /// Slope of the profile in the held coefficient.
    slope: f64,
}

impl Ridge {
    fn at(rows: &Prepared, fitted: Fitted, held: usize) -> Option<Self> {
        let width = rows.columns;
        let free: Vec<usize> = (0..width).filter(|i| *i != held).collect();
        let factor = Factor::of(&fitted.point.information, width, &free, 0.0).ok()?;
        let of_free = |values: &[f64]| -> Vec<f64> { free.iter().map(|i| values[*i]).collect() };
        let slopes = of_free(&fitted.slope);
        let turn = factor.solve(&of_free(&fitted.point.information[held * width..(held + 1) * width]));
        let off = factor.solve(&slopes);
        let slope = fitted.slope[held] - turn.iter().zip(&slopes).map(|(t, u)| t * u).sum::<f64>();
        Some(Ridge { fitted, held, free, off, turn, slope })
    }

    /// Coefficients with the held one at `value`, the others moved on to the ridge and along it.
    fn moved_to(&self, value: f64) -> Vec<f64> {
        let mut beta = self.fitted.beta.clone();
        let by = value - beta[self.held];
        for ((i, off), turn) in self.free.iter().zip(&self.off).zip(&self.turn) {
            beta[*i] += off - turn * by;
        }
        beta[self.held] = value;
        beta
    }
}

/// The restricted fit from a neighbouring one.
fn held_at(rows: &Prepared, from: &Ridge, value: f64, settled: f64) -> Option<Ridge> {
    let held = Some(from.held);
    let fitted = newton::fit(rows, Penalty::Jeffreys, from.moved_to(value), held, settled).ok()?;
    Ridge::at(rows, fitted, from.held)
}
