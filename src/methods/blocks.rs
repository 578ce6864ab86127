//! Wells in spatial blocks, an outcome and an exposure each, into a p-value that lets neighbours be alike.
//!
//! A test that deals exposures out well by well takes each well for independent news; wells beside each other share rock, water and
//! land use, so such a test calls far too much. Here whole blocks change places, and the pattern inside each stays as it is. A reader
//! would question the block's size: it must be wider than the distance over which wells are alike, and blocks must still be
//! many. [`Cells`] states the rule; what is alike across the border of two blocks stays uncorrected, so p
//! remains too small: in simulations (`tests/simulations/false-positives.csv`) a trend that is not there is called at 5 % in 11 of 100 surveys where
//! wells are alike over 0.04 of the region's width and in 17 where over 0.10, against 19 and 36 without blocks.

use super::random::Stream;
use std::collections::BTreeMap;

/// Blocks that hold alike numbers of wells change places with each other: about this many in a class.
const CLASS: usize = 12;
/// Fewest blocks with wells for a p to mean anything (common practice, no source).
pub const FEWEST_BLOCKS: usize = 12;

/// Why there is no p.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoBlockTest {
    /// Blocks, outcomes and exposures are not equally many.
    #[error("blocks, outcomes and exposures are not equally many")]
    Lengths,
    /// An outcome or exposure is no finite number.
    #[error("a value is not a number")]
    NotANumber,
    /// Too few blocks hold wells.
    #[error("wells lie in only {0} blocks")]
    FewBlocks(usize),
    /// All outcomes or all exposures are the same.
    #[error("outcomes or exposures are all alike")]
    AllAlike,
}

/// A permutation test over blocks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BlockTest {
    /// Sum over wells of exposure times (outcome less its mean); above 0: higher outcomes where exposure is higher.
    pub statistic: f64,
    /// Two-sided p, at least 1 / (rounds + 1).
    pub p: f64,
    /// Blocks that hold wells.
    pub blocks: usize,
}

/// Tests an association by letting whole blocks change places.
///
/// # Computes
/// T = sum of exposure times (outcome less its mean). In each round blocks change places at random within classes of about twelve
/// blocks that hold alike numbers of wells, and every block's wells take over the exposures of the block that came, in order
/// (by relative place in the list where the numbers of wells differ). p = (1 + rounds with |T| not below the one seen) / (1 + rounds).
/// # Takes
/// The block of each well, its outcome (1 or 0 for exceeding, or a score) and its exposure; wells of a block should stand in an
/// order that keeps neighbours together. Rounds and a random stream.
/// # Gives
/// [`BlockTest`]. The mean of T over all deals is 0 but for the classes, since the centred outcomes add up to nothing.
/// # Errors
/// [`NoBlockTest`].
/// # Conventions
/// A relative slack of 1e-12 in "not below". Time: wells times blocks of a class, then rounds times blocks.
/// # Source
/// Permutation of whole blocks as Davison and Hinkley 1997, Bootstrap Methods and their Application, chapter 8 treat spatial
/// blocks; the added one: their section 4.3 (from memory). Blocks wider than the range of likeness: Roberts and others 2017,
/// Ecography 40, 913-929 (from memory).
/// # Checked against
/// All permutations of small cases by an independent program (`tests/comparisons/blocks.json`); false-positive rates in
/// `tests/false_positives.rs`.
pub fn test(
    block: &[u32],
    outcome: &[f64],
    exposure: &[f64],
    fewest: usize,
    rounds: u32,
    stream: &mut Stream,
) -> Result<BlockTest, NoBlockTest> {
    let members = checked(block, outcome, exposure)?;
    if members.len() < fewest.max(2) {
        return Err(NoBlockTest::FewBlocks(members.len()));
    }
    let mean = outcome.iter().sum::<f64>() / outcome.len() as f64;
    let centred: Vec<f64> = outcome.iter().map(|y| y - mean).collect();
    if alike(outcome) || alike(exposure) {
        return Err(NoBlockTest::AllAlike);
    }
    let classes: Vec<Class> = classes(&members).iter().map(|class| Class::of(class, &centred, exposure)).collect();
    let statistic: f64 = classes.iter().map(Class::in_place).sum();
    let size: f64 = centred.iter().zip(exposure).map(|(y, x)| (y * x).abs()).sum();
    let seen = statistic.abs() - 1e-12 * size;
    let mut deals: Vec<Vec<usize>> = classes.iter().map(|class| (0..class.blocks).collect()).collect();
    let mut reached = 0u32;
    for _ in 0..rounds {
        let sum: f64 = classes.iter().zip(&mut deals).map(|(class, deal)| class.dealt(deal, stream)).sum();
        reached += u32::from(sum.abs() >= seen);
    }
    Ok(BlockTest { statistic, p: (f64::from(reached) + 1.0) / (f64::from(rounds) + 1.0), blocks: members.len() })
}

fn checked(block: &[u32], outcome: &[f64], exposure: &[f64]) -> Result<Vec<Vec<usize>>, NoBlockTest> {
    if block.len() != outcome.len() || block.len() != exposure.len() {
        return Err(NoBlockTest::Lengths);
    }
    if outcome.iter().chain(exposure).any(|x| !x.is_finite() || x.abs() > 1e100) {
        return Err(NoBlockTest::NotANumber);
    }
    let mut members: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (well, block) in block.iter().enumerate() {
        members.entry(*block).or_default().push(well);
    }
    Ok(members.into_values().collect())
}

fn alike(values: &[f64]) -> bool {
    let first = values.first().copied().unwrap_or(0.0);
    values.iter().all(|x| *x == first)
}

/// Blocks by number of wells, in runs of about [`CLASS`].
fn classes(members: &[Vec<usize>]) -> Vec<Vec<&Vec<usize>>> {
    let mut order: Vec<&Vec<usize>> = members.iter().collect();
    order.sort_by_key(|block| block.len());
    let count = (order.len() / CLASS).max(1);
    let cut = |at: usize| at * order.len() / count;
    (0..count).map(|at| order.get(cut(at)..cut(at + 1)).unwrap_or_default().to_vec()).collect()
}

/// Blocks that may change places, with the part of T that each pair makes.
struct Class {
    blocks: usize,
    /// Row: the block whose outcomes; column: the block whose exposures.
    parts: Vec<f64>,
}

impl Class {
    fn of(members: &[&Vec<usize>], centred: &[f64], exposure: &[f64]) -> Class {
        let pair = |here: &[usize], from: &[usize]| -> f64 {
            let place = |at: usize| (2 * at + 1) * from.len() / (2 * here.len());
            here.iter().enumerate().map(|(at, well)| centred[*well] * exposure[from[place(at)]]).sum()
        };
        let parts = members.iter().flat_map(|here| members.iter().map(|from| pair(here, from))).collect();
        Class { blocks: members.len(), parts }
    }

    fn in_place(&self) -> f64 {
        self.parts.iter().step_by(self.blocks + 1).sum()
    }

    fn dealt(&self, deal: &mut [usize], stream: &mut Stream) -> f64 {
        for at in 0..deal.len() {
            let left = u32::try_from(deal.len() - at).unwrap_or(u32::MAX);
            deal.swap(at, at + stream.below(left) as usize);
        }
        deal.iter().zip(self.parts.chunks(self.blocks)).filter_map(|(from, row)| row.get(*from)).sum()
    }
}

/// Square blocks over a region.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cells {
    /// Side of a block, in the unit of the places (metres).
    pub size: f64,
    origin: [f64; 2],
    columns: u32,
}

impl Cells {
    /// The widest square blocks of which at least `wanted` hold a place: the region's longer side is cut into 2, 3, 4, ... parts
    /// until that many do. `None` where no cut into up to 64 parts does: wells then lie in too few places.
    pub fn over(places: &[[f64; 2]], wanted: usize) -> Option<Cells> {
        let usable = || places.iter().filter(|p| p.iter().all(|x| x.is_finite()));
        let low = usable().fold([f64::INFINITY; 2], |low, p| [low[0].min(p[0]), low[1].min(p[1])]);
        let high = usable().fold([f64::NEG_INFINITY; 2], |high, p| [high[0].max(p[0]), high[1].max(p[1])]);
        let side = (high[0] - low[0]).max(high[1] - low[1]);
        if !(side > 0.0 && side.is_finite()) {
            return None;
        }
        (2u32..=64).find_map(|parts| {
            // A hair wider, so that the outermost well lies inside.
            let cells = Cells { size: side / f64::from(parts) * (1.0 + 1e-9), origin: low, columns: parts };
            let used: std::collections::BTreeSet<u32> = usable().map(|p| cells.block(*p)).collect();
            (used.len() >= wanted).then_some(cells)
        })
    }

    /// The block of a place; places outside belong to the nearest one.
    pub fn block(&self, place: [f64; 2]) -> u32 {
        let along = |x: f64, from: f64| (((x - from) / self.size) as u32).min(self.columns - 1);
        along(place[1], self.origin[1]) * self.columns + along(place[0], self.origin[0])
    }

    /// A place's number along a curve that keeps neighbours together inside a block (Morton's order of 256 by 256 steps).
    pub fn along(&self, place: [f64; 2]) -> u32 {
        let step = |x: f64, from: f64| {
            let within = (x - from) / self.size;
            (((within - within.floor()) * 256.0) as u32).min(255)
        };
        spread(step(place[0], self.origin[0])) | (spread(step(place[1], self.origin[1])) << 1)
    }
}

/// Puts a zero bit between the lowest eight bits.
fn spread(x: u32) -> u32 {
    (0..8).fold(0, |sum, bit| sum | ((x >> bit & 1) << (2 * bit)))
}

#[cfg(test)]
mod tests;
