//! Rows into fitted coefficients, all free or one of them held.
//!
//! Each step solves with the information and is halved until the objective does not fall. In samples of a few wells the penalty bends
//! as much as the likelihood and such steps can swing for ever; a fit that has not settled soon goes on with the slope's own
//! derivative, taken by differences. The loop ends where the expected rise is below what the caller needs; where it does not end
//! there is no answer.

use super::NoFit;
use super::likelihood::{Penalty, Point};
use super::matrix::Factor;
use super::prepared::{Block, Lane, Prepared};

/// Expected rise (twice, in log-likelihood) at which a published fit has settled: 1e-10 standard errors.
pub(super) const FINE: f64 = 1e-20;
/// The same for a point of a profile, whose height alone is used, with the rise still expected added.
pub(super) const COARSE: f64 = 1e-9;
/// Ordinary fits take under ten steps.
const MOST_STEPS: usize = 300;
/// Steps after which a fit with a penalty no longer trusts the information alone.
const SOON: usize = 12;
/// Distance (in a column of size 1) for the derivative of the slope: errors of 1e-10 of it.
const DIFFERENCE: f64 = 1e-5;
/// No coefficient (of a column of size 1) moves further in a step: keeps the first steps from overshooting into flat country.
const LONGEST_STEP: f64 = 5.0;
/// Fall of the objective, relative, that rounding alone can cause.
const ROUNDING: f64 = 1e-13;
/// Promised rise (twice) that rounding can feign where columns are nearly dependent: at most 3e-5 standard errors away.
const FEIGNED: f64 = 1e-9;
/// Steps without a rise after which a promise that small is not believed.
const PATIENCE: usize = 3;

/// Coefficients and what was found there.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    pub(super) beta: Vec<f64>,
    pub(super) point: Point,
    pub(super) slope: Vec<f64>,
    /// Expected rise, twice, that was left out as too small.
    pub(super) rise: f64,
}

impl Fitted {
    /// Height of the maximum near by.
    pub(super) fn height(&self, penalty: Penalty) -> f64 {
        self.point.objective(penalty) + 0.5 * self.rise
    }
}

/// Maximum of the objective from `beta` on; the coefficient `held` keeps its value.
pub(super) fn fit(
    rows: &Prepared,
    penalty: Penalty,
    beta: Vec<f64>,
    held: Option<usize>,
    settled: f64,
) -> Result<Fitted, NoFit> {
    let mut here = start(rows, penalty, beta)?;
    let mut idle = 0;
    for taken in 0..MOST_STEPS {
        let differenced = if taken < SOON || penalty == Penalty::None { None } else { bend(rows, penalty, &here.beta) };
        let bent = differenced.and_then(|matrix| step(rows, &here, &matrix, held).ok());
        let (step, rise) = bent.map_or_else(|| step(rows, &here, &here.point.information, held), Ok)?;
        if rise < settled || (rise < FEIGNED && idle >= PATIENCE) {
            return Ok(Fitted { rise, ..here });
        }
        match advance(rows, penalty, &here, &step) {
            Some(next) => {
                idle = if rises(penalty, &here, &next) { 0 } else { idle + 1 };
                here = next;
            }
            // Rounding hides the last rise.
            None if rise < FEIGNED => return Ok(here),
            None => return Err(NoFit::NotSettled),
        }
    }
    Err(NoFit::NotSettled)
}

/// Whether the second point is higher by more than rounding.
fn rises(penalty: Penalty, from: &Fitted, to: &Fitted) -> bool {
    let now = from.point.objective(penalty);
    to.point.objective(penalty) > now + ROUNDING * (1.0 + now.abs())
}

/// The plain fit from `beta` on, which runs away where the outcomes are separated.
pub(super) fn plain(rows: &Prepared, beta: Vec<f64>) -> Result<Fitted, NoFit> {
    let all = |of: fn(&Block) -> &Lane| rows.blocks.iter().flat_map(of).sum::<f64>();
    let (exceeding, wells) = (all(|block| &block.exceeding), all(|block| &block.wells));
    if exceeding == 0.0 || exceeding == wells {
        return Err(NoFit::Separated);
    }
    let mut here = start(rows, Penalty::None, beta)?;
    for _ in 0..MOST_STEPS {
        let (step, rise) = step(rows, &here, &here.point.information, None)?;
        if splits(rows, &step) {
            return Err(NoFit::Separated);
        }
        if rise < FINE {
            return Ok(here);
        }
        match advance(rows, Penalty::None, &here, &step) {
            Some(next) => here = next,
            None if rise < FEIGNED => return Ok(here),
            None => return Err(NoFit::NotSettled),
        }
    }
    Err(NoFit::NotSettled)
}

fn start(rows: &Prepared, penalty: Penalty, beta: Vec<f64>) -> Result<Fitted, NoFit> {
    let (point, passed) = rows.at(&beta).ok_or(NoFit::NotSettled)?;
    let slope = rows.slope((&point, &passed), penalty);
    Ok(Fitted { beta, point, slope, rise: 0.0 })
}

/// How the objective bends down at `beta`: less the derivative of its slope.
fn bend(rows: &Prepared, penalty: Penalty, beta: &[f64]) -> Option<Vec<f64>> {
    let width = rows.columns;
    let mut bends = vec![0.0; width * width];
    for j in 0..width {
        let slope_at = |by: f64| {
            let mut beta = beta.to_vec();
            beta[j] += by;
            rows.at(&beta).map(|(point, passed)| rows.slope((&point, &passed), penalty))
        };
        let (up, down) = (slope_at(DIFFERENCE)?, slope_at(-DIFFERENCE)?);
        for (i, (up, down)) in up.iter().zip(down).enumerate() {
            let half = (down - up) / (4.0 * DIFFERENCE);
            bends[i * width + j] += half;
            bends[j * width + i] += half;
        }
    }
    Some(bends)
}

/// The step against a matrix of bends, and the rise it promises, twice.
fn step(rows: &Prepared, here: &Fitted, bends: &[f64], held: Option<usize>) -> Result<(Vec<f64>, f64), NoFit> {
    let free: Vec<usize> = (0..rows.columns).filter(|j| Some(*j) != held).collect();
    let factor = Factor::of(bends, rows.columns, &free, 0.0).map_err(|_| NoFit::NotSettled)?;
    let slope: Vec<f64> = free.iter().map(|j| here.slope[*j]).collect();
    let part = factor.solve(&slope);
    let rise = part.iter().zip(&slope).map(|(s, u)| s * u).sum();
    let longest = part.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
    let shorten = if longest > LONGEST_STEP { LONGEST_STEP / longest } else { 1.0 };
    let mut step = vec![0.0; rows.columns];
    free.iter().zip(part).for_each(|(j, s)| step[*j] = s * shorten);
    Ok((step, rise))
}

fn advance(rows: &Prepared, penalty: Penalty, here: &Fitted, step: &[f64]) -> Option<Fitted> {
    let now = here.point.objective(penalty);
    let mut share = 1.0;
    for _ in 0..40 {
        let beta: Vec<f64> = here.beta.iter().zip(step).map(|(b, s)| b + share * s).collect();
        if let Some((point, passed)) = rows.at(&beta)
            && point.objective(penalty) >= now - ROUNDING * (1.0 + now.abs())
        {
            let slope = rows.slope((&point, &passed), penalty);
            return Some(Fitted { beta, point, slope, rise: 0.0 });
        }
        share *= 0.5;
    }
    None
}

/// Wells this near to the border, relative to the farthest one, count as on it.
const BORDER_EPS: f64 = 1e-6;

/// Whether the direction has every exceeding well on its one side and every other on its other side or on the border.
fn splits(rows: &Prepared, direction: &[f64]) -> bool {
    let rows = || rows.blocks.iter().flat_map(|block| block.along(direction));
    let farthest = rows().fold(0.0_f64, |m, (at, _, _)| m.max(at.abs()));
    let near = BORDER_EPS * farthest;
    farthest > 0.0 && rows().all(|(at, n, x)| (x == 0.0 || at >= -near) && (x == n || at <= near))
}
