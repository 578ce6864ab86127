//! Wells as given into rows to sum over: a constant in front, each column of size about 1, alike wells counted together.

use super::likelihood::{Passed, Penalty, Point};
use super::matrix::Factor;
use super::{NoFit, Wells, likelihood};

/// What a column must keep of its square beside those before it; less and it is taken for a combination of them.
const COLLINEAR_EPS: f64 = 1e-11;

/// Distinct rows, with how many wells and how many exceeding ones each stands for.
pub(super) struct Prepared {
    pub(super) columns: usize,
    /// What each column was divided by.
    pub(super) scale: Vec<f64>,
    /// As sums over all rows want them.
    pub(super) blocks: Vec<Block>,
}

/// Rows that are worked out side by side.
pub(super) const SIDE: usize = 64;
/// Blocks of which one stands for all where a start is looked for.
const ONE_BLOCK_IN: usize = 16;
/// Fewest blocks that may stand for all: a thousand rows.
const FEWEST_BLOCKS: usize = 16;
/// One figure of each row of a block.
pub(super) type Lane = [f64; SIDE];

/// Rows column by column; the last block is filled up with rows of no wells.
#[derive(Clone)]
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
        let prepared = Prepared { columns: wells.terms + 1, blocks: grouped(wells, &scale), scale };
        let start = likelihood::information_at_zero(&prepared);
        let all: Vec<usize> = (0..prepared.columns).collect();
        match Factor::of(&start, prepared.columns, &all, COLLINEAR_EPS) {
            Ok(_) => Ok(prepared),
            Err(column) => Err(NoFit::Collinear(column)),
        }
    }

    /// A stretch of rows out of every so many, or `None` where there are too few to choose from. Rows stand in order of their
    /// measures, so these stand for all.
    pub(super) fn some(&self) -> Option<Self> {
        let blocks: Vec<Block> = self.blocks.iter().step_by(ONE_BLOCK_IN).cloned().collect();
        let scale = self.scale.clone();
        (blocks.len() >= FEWEST_BLOCKS).then_some(Prepared { columns: self.columns, scale, blocks })
    }

    /// The point at `beta`, or `None` where it has no regular information.
    pub(super) fn at(&self, beta: &[f64]) -> Option<(Point, Passed)> {
        Point::of(self, beta)
    }

    /// Slope of the objective at a point.
    pub(super) fn slope(&self, at: (&Point, &Passed), penalty: Penalty) -> Vec<f64> {
        likelihood::slope(self, at, penalty)
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

impl Block {
    fn empty(columns: usize) -> Self {
        let lane = [0.0; SIDE];
        Block { columns: vec![lane; columns], wells: lane, exceeding: lane, single: true }
    }

    /// Puts in the row at place `at`.
    fn put(&mut self, at: usize, row: impl Iterator<Item = f64>, wells: usize, exceeding: usize) {
        self.columns.iter_mut().zip(row).for_each(|(column, value)| column[at] = value);
        (self.wells[at], self.exceeding[at]) = (wells as f64, exceeding as f64);
        self.single &= wells <= 1;
    }

    /// How far each row lies along a direction, with its wells and how many of them exceed.
    pub(super) fn along<'a>(&'a self, direction: &'a [f64]) -> impl Iterator<Item = (f64, f64, f64)> + 'a {
        let filled = self.wells.iter().zip(&self.exceeding).enumerate().filter(|(_, (wells, _))| **wells > 0.0);
        filled.map(move |(at, (wells, exceeding))| {
            let far = self.columns.iter().zip(direction).map(|(column, d)| column[at] * d).sum();
            (far, *wells, *exceeding)
        })
    }
}

fn grouped(wells: Wells<'_>, scale: &[f64]) -> Vec<Block> {
    let terms = wells.terms;
    let row = |i: u32| &wells.measures[i as usize * terms..(i as usize + 1) * terms];
    let order = sorted(wells);
    let mut blocks: Vec<Block> = Vec::with_capacity(order.len() / SIDE + 1);
    for (number, alike) in order.chunk_by(|a, b| row(*a) == row(*b)).enumerate() {
        if number % SIDE == 0 {
            blocks.push(Block::empty(terms + 1));
        }
        let measures = alike.first().map_or(&[][..], |well| row(*well)).iter().zip(&scale[1..]).map(|(x, s)| x / s);
        let exceeding = alike.iter().filter(|well| wells.exceeds[**well as usize]).count();
        if let Some(block) = blocks.last_mut() {
            block.put(number % SIDE, std::iter::once(1.0).chain(measures), alike.len(), exceeding);
        }
    }
    blocks
}

/// Wells in the order of their measures: by the first one, those alike in it by the second, and so on.
fn sorted(wells: Wells<'_>) -> Vec<u32> {
    let mut order: Vec<(u64, u32)> = (0..wells.exceeds.len() as u32).map(|well| (0, well)).collect();
    sort_from(&mut order, wells, 0);
    order.into_iter().map(|(_, well)| well).collect()
}

/// One measure at a time as a whole number: comparing whole rows took as long as six passes over them.
fn sort_from(order: &mut [(u64, u32)], wells: Wells<'_>, term: usize) {
    if term == wells.terms {
        return;
    }
    for (key, well) in order.iter_mut() {
        *key = rank(wells.measures[*well as usize * wells.terms + term]);
    }
    order.sort_unstable_by_key(|(key, _)| *key);
    for alike in order.chunk_by_mut(|a, b| a.0 == b.0).filter(|alike| alike.len() > 1) {
        sort_from(alike, wells, term + 1);
    }
}

/// A whole number that orders as the finite number does; the two zeros are one.
fn rank(x: f64) -> u64 {
    let bits = (x + 0.0).to_bits();
    if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
}
