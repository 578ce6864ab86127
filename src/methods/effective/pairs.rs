//! All pairs of wells, sorted by distance, into the sums of products of each class: without walking over every pair.
//!
//! Squares of the region are halved again and again. Two wells are counted by the squares they lie in at the coarsest halving at
//! which these stand more than [`NEAR`] squares apart, so the distance of a pair is known to about a sixth of itself, or to one of the
//! smallest squares. A reader would question that: likeness changes slowly over such steps, and walking over all pairs of
//! 100,000 wells would take minutes.

/// Squares this many apart or fewer are near: their pairs are told apart by smaller squares.
const NEAR: i32 = 2;
/// Halvings of the coarsest squares: 16 along the region's longer side.
const COARSEST: u32 = 4;
/// Halvings of the smallest squares that are ever used.
const FINEST: u32 = 8;
/// Classes of distance an octave.
const AN_OCTAVE: f64 = 3.0;

/// The smallest square that each well lies in.
#[derive(Clone, Debug)]
pub(super) struct Squares {
    of_place: Vec<u32>,
    halvings: u32,
}

impl Squares {
    /// `None` where all places are one.
    pub(super) fn over(places: &[[f64; 2]]) -> Option<Squares> {
        let low = places.iter().fold([f64::INFINITY; 2], |low, p| [low[0].min(p[0]), low[1].min(p[1])]);
        let high = places.iter().fold([f64::NEG_INFINITY; 2], |high, p| [high[0].max(p[0]), high[1].max(p[1])]);
        let length = (high[0] - low[0]).max(high[1] - low[1]);
        if !(length > 0.0 && length.is_finite()) {
            return None;
        }
        let halvings = halvings(places.len());
        let side = 1usize << halvings;
        let along = |x: f64, from: f64| (((x - from) / length * side as f64) as usize).min(side - 1);
        let square = |place: &[f64; 2]| square(side / 2, along(place[0], low[0]), along(place[1], low[1])) as u32;
        Some(Squares { of_place: places.iter().map(square).collect(), halvings })
    }

    /// The products of a figure of two wells, summed over all pairs of each class, from the nearest pairs to the farthest.
    pub(super) fn by_distance(&self, figure: impl Iterator<Item = f64> + Clone) -> Vec<f64> {
        let mut grid = Grid::empty(1 << (self.halvings - 1));
        for (at, x) in self.of_place.iter().zip(figure.clone()) {
            grid.squares[*at as usize] += x;
        }
        let own = figure.map(|x| x * x).sum::<f64>();
        let mut classes = vec![0.0; class(f64::from(2u32 << self.halvings)) + 1];
        classes[0] = (grid.squares.iter().map(|x| x * x).sum::<f64>() - own) / 2.0;
        grid.add(&neighbours(), 1.0, &mut classes);
        for coarser in 0..=(self.halvings - COARSEST) {
            let steps = if self.halvings - coarser == COARSEST { all_beyond() } else { beyond() };
            grid.add(&steps, f64::from(1u32 << coarser), &mut classes);
            grid = grid.halved();
        }
        classes
    }
}

/// About a well a square, within bounds.
fn halvings(wells: usize) -> u32 {
    (COARSEST + 2..FINEST).find(|halvings| wells <= 1 << (2 * halvings)).unwrap_or(FINEST)
}

/// The class of a distance in smallest squares, at least 1.
fn class(distance: f64) -> usize {
    1 + (AN_OCTAVE * libm::log2(distance)).max(0.0) as usize
}

/// A step from a square to another; of each two opposite ones only one.
type Step = (i32, i32);

fn steps(reach: i32, wanted: impl Fn(i32, i32) -> bool) -> Vec<Step> {
    let forward = move |dx: i32, dy: i32| dy > 0 || (dy == 0 && dx > 0);
    (0..=reach)
        .flat_map(|dy| (-reach..=reach).map(move |dx| (dx, dy)))
        .filter(|(dx, dy)| forward(*dx, *dy) && wanted(*dx, *dy))
        .collect()
}

fn is_near(dx: i32, dy: i32) -> bool {
    dx.abs().max(dy.abs()) <= NEAR
}

/// Steps by the parity of the square's column and row, since that decides where the halved squares lie.
type ByParity = [Vec<Step>; 4];

/// Steps among the smallest squares that no halving tells apart.
fn neighbours() -> ByParity {
    std::array::from_fn(|_| steps(NEAR, is_near))
}

/// Steps that are not near here, but between squares that are near once halved.
fn beyond() -> ByParity {
    std::array::from_fn(|parity| {
        let (odd_x, odd_y) = (parity as i32 & 1, parity as i32 >> 1);
        steps(2 * NEAR + 1, |dx, dy| !is_near(dx, dy) && is_near((odd_x + dx) >> 1, (odd_y + dy) >> 1))
    })
}

/// All steps of the coarsest squares that are not near.
fn all_beyond() -> ByParity {
    std::array::from_fn(|_| steps((1 << COARSEST) - 1, |dx, dy| !is_near(dx, dy)))
}

/// A figure summed in each square of the region, `2 half` by `2 half` of them: four planes, one for each parity of column and row, and
/// row by row in each, so that a step is a sum of products of rows that lie side by side.
struct Grid {
    half: usize,
    squares: Vec<f64>,
}

/// The plane of a square.
fn parity(x: usize, y: usize) -> usize {
    x & 1 | (y & 1) << 1
}

/// Where the square in column `x` and row `y` is kept.
fn square(half: usize, x: usize, y: usize) -> usize {
    (parity(x, y) * half + y / 2) * half + x / 2
}

impl Grid {
    fn empty(half: usize) -> Grid {
        Grid { half, squares: vec![0.0; 4 * half * half] }
    }

    fn plane(&self, parity: usize) -> &[f64] {
        let size = self.half * self.half;
        &self.squares[parity * size..(parity + 1) * size]
    }

    /// Four squares, one of each plane, become one.
    fn halved(&self) -> Grid {
        let mut grid = Grid::empty(self.half / 2);
        for at in 0..self.half * self.half {
            let four = (0..4).map(|parity| self.plane(parity)[at]).sum::<f64>();
            grid.squares[square(self.half / 2, at % self.half, at / self.half)] += four;
        }
        grid
    }

    /// Adds the pairs of squares that the steps lead between; `size` is a square's side in smallest ones.
    fn add(&self, steps: &ByParity, size: f64, classes: &mut [f64]) {
        for (from, steps) in steps.iter().enumerate() {
            // Row by row, and all steps of a row: what they lead to is then still in the first cache.
            let mut sums = vec![0.0; steps.len()];
            for row in 0..self.half {
                steps.iter().zip(&mut sums).for_each(|(step, sum)| *sum += self.products(from, row, *step));
            }
            for ((dx, dy), sum) in steps.iter().zip(sums) {
                classes[class(f64::from(dx * dx + dy * dy).sqrt() * size)] += sum;
            }
        }
    }

    /// Sum of the products of the squares of one row of a plane with those that a step leads to.
    fn products(&self, from: usize, row: usize, (dx, dy): Step) -> f64 {
        let (x, y) = ((from & 1) as i32 + dx, (from >> 1) as i32 + dy);
        let (right, down) = (x >> 1, (y >> 1) as usize);
        let across = self.half.saturating_sub(right.unsigned_abs() as usize);
        if across == 0 || row + down >= self.half {
            return 0.0;
        }
        let to = parity((x & 1) as usize, (y & 1) as usize);
        let here = row * self.half + right.min(0).unsigned_abs() as usize;
        let there = (row + down) * self.half + right.max(0) as usize;
        dot(&self.plane(from)[here..here + across], &self.plane(to)[there..there + across])
    }
}

/// In four lanes that a processor works out side by side, always in the same order.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    let mut lanes = [0.0; 4];
    for (x, y) in a.iter().zip(b) {
        for i in 0..4 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum::<f64>() + rest
}
