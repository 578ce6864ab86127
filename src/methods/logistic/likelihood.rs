//! Coefficients into the log-likelihood, its information and its slope, plain or with Firth's penalty.
//!
//! Two passes over the rows: the first gives likelihood and information, the second the slope, which needs the whole information.

use super::matrix::Factor;
use super::prepared::{Block, Lane, Prepared, SIDE};
use crate::methods::special::exp_below_zero;

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
}

/// Chance to exceed and its p (1 - p), by block: what the slope wants of the pass before. Not kept with the point, which is copied.
pub(super) struct Passed(Vec<Chances>);

#[derive(Clone, Debug)]
struct Chances {
    p: Lane,
    w: Lane,
}

impl Point {
    pub(super) fn of(rows: &Prepared, beta: &[f64]) -> Option<(Self, Passed)> {
        let width = rows.columns;
        let mut information = vec![0.0; width * width];
        let mut chances = Vec::with_capacity(rows.blocks.len());
        let mut log_likelihood = 0.0;
        for block in &rows.blocks {
            let (here, likelihood) = at_block(block, beta);
            log_likelihood += likelihood;
            add_squares(&mut information, block, &here.w);
            chances.push(here);
        }
        mirror(&mut information, width);
        let all: Vec<usize> = (0..width).collect();
        let factor = Factor::of(&information, width, &all, SINGULAR_EPS).ok()?;
        let log_determinant = factor.log_determinant();
        let usable = log_likelihood.is_finite() && log_determinant.is_finite();
        let point = Point { log_likelihood, information, factor, log_determinant };
        usable.then_some((point, Passed(chances)))
    }

    pub(super) fn objective(&self, penalty: Penalty) -> f64 {
        match penalty {
            Penalty::None => self.log_likelihood,
            Penalty::Jeffreys => self.log_likelihood + 0.5 * self.log_determinant,
        }
    }
}

/// Chances of a block's rows, and its log-likelihood.
fn at_block(block: &Block, beta: &[f64]) -> (Chances, f64) {
    let mut eta = [0.0; SIDE];
    for (column, b) in block.columns.iter().zip(beta) {
        eta.iter_mut().zip(column).for_each(|(e, x)| *e += x * b);
    }
    // t = exp(-|eta|) never overflows, and all four figures come from it.
    let t = eta.map(|eta| exp_below_zero(-eta.abs()));
    let (mut p, mut w, mut linear) = ([0.0; SIDE], [0.0; SIDE], [0.0; SIDE]);
    for i in 0..SIDE {
        let whole = 1.0 / (1.0 + t[i]);
        let rare = t[i] * whole;
        (p[i], w[i]) = (if eta[i] < 0.0 { rare } else { whole }, rare * whole);
        let (n, x) = (block.wells[i], block.exceeding[i]);
        linear[i] = x * eta[i].min(0.0) - (n - x) * eta[i].max(0.0);
    }
    let logs = if block.single {
        // One logarithm of a product of at most 2^SIDE.
        libm::log(product(&block.wells, &t))
    } else {
        block.wells.iter().zip(&t).map(|(n, t)| n * libm::log1p(*t)).sum()
    };
    (Chances { p, w }, linear.iter().sum::<f64>() - logs)
}

/// Adds the lower half of the rows' outer squares, each times its wells and `weight`.
fn add_squares(matrix: &mut [f64], block: &Block, weight: &Lane) {
    let width = block.columns.len();
    let mut part = [0.0; SIDE];
    for (line, left) in matrix.chunks_exact_mut(width).zip(&block.columns) {
        for i in 0..SIDE {
            part[i] = block.wells[i] * weight[i] * left[i];
        }
        // Up to the diagonal, which is where the two columns are the same.
        for (place, right) in line.iter_mut().zip(&block.columns) {
            *place += dot(&part, right);
            if std::ptr::eq(left, right) {
                break;
            }
        }
    }
}

/// Product of 1 + a b, in eight lanes as `dot`.
fn product(a: &Lane, b: &Lane) -> f64 {
    let mut lanes = [1.0; 8];
    for (x, y) in a.as_chunks::<8>().0.iter().zip(b.as_chunks::<8>().0) {
        for i in 0..8 {
            lanes[i] *= 1.0 + x[i] * y[i];
        }
    }
    lanes.iter().product()
}

/// Sum of products, in eight lanes that a processor works out side by side, always in the same order.
fn dot(a: &Lane, b: &Lane) -> f64 {
    let mut lanes = [0.0; 8];
    for (x, y) in a.as_chunks::<8>().0.iter().zip(b.as_chunks::<8>().0) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum()
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
    rows.blocks.iter().for_each(|block| add_squares(&mut information, block, &[0.25; SIDE]));
    mirror(&mut information, rows.columns);
    information
}

/// Slope of the objective: sum of x (y - p), and with the penalty of x h (1/2 - p), h being the well's leverage.
pub(super) fn slope(rows: &Prepared, (point, passed): (&Point, &Passed), penalty: Penalty) -> Vec<f64> {
    let mut slope = vec![0.0; rows.columns];
    let mut solved = vec![[0.0; SIDE]; rows.columns];
    for (block, Chances { p, w }) in rows.blocks.iter().zip(&passed.0) {
        let mut pull = [0.0; SIDE];
        for i in 0..SIDE {
            pull[i] = block.exceeding[i] - block.wells[i] * p[i];
        }
        if penalty == Penalty::Jeffreys {
            let squares = point.factor.forward_squares(&block.columns, &mut solved);
            for i in 0..SIDE {
                pull[i] += block.wells[i] * w[i] * squares[i] * (0.5 - p[i]);
            }
        }
        slope.iter_mut().zip(&block.columns).for_each(|(s, x)| *s += dot(&pull, x));
    }
    slope
}
