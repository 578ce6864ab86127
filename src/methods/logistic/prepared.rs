//! Wells as given into rows to sum over: a constant in front, each column of size about 1, alike wells counted together.

use super::likelihood::Penalty;
use super::matrix::Factor;
use super::{NoFit, Wells, likelihood};

/// What a column must keep of its square beside those before it; less and it is taken for a combination of them.
const COLLINEAR_EPS: f64 = 1e-11;

/// Distinct rows, with how many wells and how many exceeding ones each stands for.
pub(super) struct Prepared {
    pub(super) columns: usize,
    /// Rows one after the other, divided by `scale`.
    pub(super) rows: Vec<f64>,
    pub(super) wells: Vec<f64>,
    pub(super) exceeding: Vec<f64>,
    pub(super) scale: Vec<f64>,
    /// The same rows, as the sums over all of them want them.
    pub(super) blocks: Vec<Block>,
}

/// Rows that are worked out side by side.
pub(super) const SIDE: usize = 64;
/// One figure of each row of a block.
pub(super) type Lane = [f64; SIDE];

/// Rows column by column; the last block is filled up with rows of no wells.
pub(super) struct Block {
    pub(super) columns: Vec<Lane>,
    pub(super) wells: Lane,
    pub(super) exceeding: Lane,
    /// No row stands for more than one well.
    pub(super) single: bool,
}

impl Prepared {
    pub(super) fn of(wells: Wells<'_>) -> Result<Self, NoFit> {
        let n = wells.exceeds.len();
        if Some(wells.measures.len()) != n.checked_mul(wells.terms) {
            return Err(NoFit::Lengths);
        }
        if n == 0 {
            return Err(NoFit::NoWells);
        }
        if wells.measures.iter().any(|x| !x.is_finite()) {
            return Err(NoFit::NotANumber);
        }
        let scale = scales(wells);
        let mut prepared = grouped(wells, scale);
        prepared.blocks = blocks(&prepared);
        let start = likelihood::information_at_zero(&prepared);
        let all: Vec<usize> = (0..prepared.columns).collect();
        match Factor::of(&start, prepared.columns, &all, COLLINEAR_EPS) {
            Ok(_) => Ok(prepared),
            Err(column) => Err(NoFit::Collinear(column)),
        }
    }

    /// Measures of each distinct row, the constant first.
    pub(super) fn each(&self) -> impl Iterator<Item = (&[f64], f64, f64)> {
        let counts = self.wells.iter().zip(&self.exceeding);
        self.rows.chunks_exact(self.columns).zip(counts).map(|(row, (n, x))| (row, *n, *x))
    }

    /// The point at `beta`, or `None` where it has no regular information.
    pub(super) fn at(&self, beta: &[f64]) -> Option<likelihood::Point> {
        likelihood::Point::of(self, beta)
    }

    /// Slope of the objective at a point.
    pub(super) fn slope(&self, point: &likelihood::Point, penalty: Penalty) -> Vec<f64> {
        likelihood::slope(self, point, penalty)
    }
}

/// The largest size in each column, 1 for the constant and for a column of zeros.
fn scales(wells: Wells<'_>) -> Vec<f64> {
    let mut scale = vec![0.0_f64; wells.terms];
    if wells.terms > 0 {
        for row in wells.measures.chunks_exact(wells.terms) {
            scale.iter_mut().zip(row).for_each(|(s, x)| *s = s.max(x.abs()));
        }
    }
    let usable = |s: f64| if s > 0.0 { s } else { 1.0 };
    std::iter::once(1.0).chain(scale.into_iter().map(usable)).collect()
}

fn blocks(rows: &Prepared) -> Vec<Block> {
    let counts = rows.wells.chunks(SIDE).zip(rows.exceeding.chunks(SIDE));
    let rows = rows.rows.chunks(SIDE * rows.columns).map(|block| (block, rows.columns));
    rows.zip(counts).map(|((block, width), (wells, exceeding))| laid(block, width, wells, exceeding)).collect()
}

fn laid(block: &[f64], width: usize, wells: &[f64], exceeding: &[f64]) -> Block {
    let lane = |values: &mut dyn Iterator<Item = f64>| {
        let mut lane = [0.0; SIDE];
        lane.iter_mut().zip(values).for_each(|(place, value)| *place = value);
        lane
    };
    Block {
        columns: (0..width).map(|j| lane(&mut block.iter().skip(j).step_by(width).copied())).collect(),
        wells: lane(&mut wells.iter().copied()),
        exceeding: lane(&mut exceeding.iter().copied()),
        single: wells.iter().all(|n| *n <= 1.0),
    }
}

fn grouped(wells: Wells<'_>, scale: Vec<f64>) -> Prepared {
    let (n, terms) = (wells.exceeds.len(), wells.terms);
    let row = |i: usize| &wells.measures[i * terms..(i + 1) * terms];
    let compare = |a: &usize, b: &usize| {
        let differing =
            row(*a).iter().zip(row(*b)).map(|(x, y)| x.partial_cmp(y)).find(|o| *o != Some(std::cmp::Ordering::Equal));
        differing.flatten().unwrap_or(std::cmp::Ordering::Equal)
    };
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_unstable_by(compare);
    let mut out = Prepared {
        columns: terms + 1,
        rows: Vec::new(),
        wells: Vec::new(),
        exceeding: Vec::new(),
        scale,
        blocks: Vec::new(),
    };
    for alike in order.chunk_by(|a, b| compare(a, b).is_eq()) {
        out.rows.push(1.0);
        let first = alike.first().map_or(&[][..], |i| row(*i));
        out.rows.extend(first.iter().zip(out.scale.iter().skip(1)).map(|(x, s)| x / s));
        out.wells.push(alike.len() as f64);
        out.exceeding.push(alike.iter().filter(|i| wells.exceeds[**i]).count() as f64);
    }
    out
}
