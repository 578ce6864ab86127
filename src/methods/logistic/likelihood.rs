//! Coefficients into the log-likelihood, its information and its slope, plain or with Firth's penalty.
//!
//! Two passes over the rows: the first gives likelihood and information, the second the slope, which needs the whole information.

use super::matrix::Factor;
use super::prepared::Prepared;

/// What is added to the log-likelihood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Penalty {
    /// Nothing.
    None,
    /// Half the log determinant of the information (Jeffreys' prior).
    Jeffreys,
}

/// A pivot below this share of its diagonal: the information is singular as far as a double can tell.
const SINGULAR_EPS: f64 = 1e-14;

/// Likelihood and information at one set of coefficients.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub(super) log_likelihood: f64,
    pub(super) information: Vec<f64>,
    pub(super) factor: Factor,
    log_determinant: f64,
    /// Chance to exceed and its p (1 - p), by row.
    chances: Vec<(f64, f64)>,
}

impl Point {
    pub(super) fn of(rows: &Prepared, beta: &[f64]) -> Option<Self> {
        let width = rows.columns;
        let mut information = vec![0.0; width * width];
        let mut chances = Vec::with_capacity(rows.wells.len());
        let mut log_likelihood = 0.0;
        for (row, n, x) in rows.each() {
            let eta: f64 = row.iter().zip(beta).map(|(x, b)| x * b).sum();
            // t = exp(-|eta|) never overflows, and all four figures come from it.
            let t = libm::exp(-eta.abs());
            let rare = t / (1.0 + t);
            let p = if eta < 0.0 { rare } else { 1.0 / (1.0 + t) };
            let w = rare / (1.0 + t);
            log_likelihood += x * eta.min(0.0) - (n - x) * eta.max(0.0) - n * libm::log1p(t);
            add_square(&mut information, row, n * w);
            chances.push((p, w));
        }
        mirror(&mut information, width);
        let all: Vec<usize> = (0..width).collect();
        let factor = Factor::of(&information, width, &all, SINGULAR_EPS).ok()?;
        let log_determinant = factor.log_determinant();
        let usable = log_likelihood.is_finite() && log_determinant.is_finite();
        usable.then_some(Point { log_likelihood, information, factor, log_determinant, chances })
    }

    pub(super) fn objective(&self, penalty: Penalty) -> f64 {
        match penalty {
            Penalty::None => self.log_likelihood,
            Penalty::Jeffreys => self.log_likelihood + 0.5 * self.log_determinant,
        }
    }
}

/// Adds `weight` times the lower half of the row's outer square.
fn add_square(matrix: &mut [f64], row: &[f64], weight: f64) {
    for (i, line) in matrix.chunks_exact_mut(row.len()).enumerate() {
        let part = weight * row[i];
        line.iter_mut().zip(row).take(i + 1).for_each(|(m, x)| *m += part * x);
    }
}

fn mirror(matrix: &mut [f64], width: usize) {
    for i in 0..width {
        for j in 0..i {
            matrix[j * width + i] = matrix[i * width + j];
        }
    }
}

/// Information where every coefficient is 0: shows which columns vary by themselves.
pub(super) fn information_at_zero(rows: &Prepared) -> Vec<f64> {
    let mut information = vec![0.0; rows.columns * rows.columns];
    for (row, n, _) in rows.each() {
        add_square(&mut information, row, n / 4.0);
    }
    mirror(&mut information, rows.columns);
    information
}

/// Slope of the objective: sum of x (y - p), and with the penalty of x h (1/2 - p), h being the well's leverage.
pub(super) fn slope(rows: &Prepared, point: &Point, penalty: Penalty) -> Vec<f64> {
    let mut slope = vec![0.0; rows.columns];
    let mut solved = vec![0.0; rows.columns];
    for ((row, n, x), (p, w)) in rows.each().zip(&point.chances) {
        let mut pull = x - n * p;
        if penalty == Penalty::Jeffreys {
            point.factor.forward(row, &mut solved);
            let leverage = w * solved.iter().map(|v| v * v).sum::<f64>();
            pull += n * leverage * (0.5 - p);
        }
        slope.iter_mut().zip(row).for_each(|(s, x)| *s += pull * x);
    }
    slope
}
