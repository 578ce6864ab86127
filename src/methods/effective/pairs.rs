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

/// What is summed of each square and each class.
const PARTS: usize = 3;

/// Pairs, sum of products of outcomes, sum of products of exposures.
pub(super) type Class = [f64; PARTS];
/// Wells, sum of outcomes, sum of exposures.
type Square = [f64; PARTS];

/// Classes from the nearest pairs to the farthest; `None` where all places are one.
pub(super) fn by_distance(places: &[[f64; 2]], outcome: &[f64], exposure: &[f64]) -> Option<Vec<Class>> {
    let halvings = halvings(places.len());
    let mut grid = Grid::over(places, outcome, exposure, halvings)?;
    let mut classes = vec![[0.0; 3]; class(f64::from(2u32 << halvings)) + 1];
    let own: Square = places
        .iter()
        .zip(outcome.iter().zip(exposure))
        .fold([0.0; 3], |sum, (_, (y, x))| [sum[0] + 1.0, sum[1] + y * y, sum[2] + x * x]);
    for (at, class) in classes.iter_mut().take(1).flatten().enumerate() {
        *class = (grid.squared(at) - own[at]) / 2.0;
    }
    grid.add(&neighbours(), 1.0, &mut classes);
    for coarser in 0..=(halvings - COARSEST) {
        let steps = if halvings - coarser == COARSEST { all_beyond() } else { beyond() };
        grid.add(&steps, f64::from(1u32 << coarser), &mut classes);
        grid = grid.halved();
    }
    Some(classes)
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

/// Squares of one parity of column and row, row by row; each part of them on its own, so that a step is a sum of products of rows
/// that lie side by side.
#[derive(Clone)]
struct Plane {
    parts: [Vec<f64>; PARTS],
}

/// Squares over the region: four planes of `half` by `half`, by [`parity`].
struct Grid {
    half: usize,
    planes: [Plane; 4],
}

/// The plane of a square.
fn parity(x: usize, y: usize) -> usize {
    x & 1 | (y & 1) << 1
}

impl Grid {
    fn empty(half: usize) -> Grid {
        let plane = Plane { parts: std::array::from_fn(|_| vec![0.0; half * half]) };
        Grid { half, planes: std::array::from_fn(|_| plane.clone()) }
    }

    fn over(places: &[[f64; 2]], outcome: &[f64], exposure: &[f64], halvings: u32) -> Option<Grid> {
        let low = places.iter().fold([f64::INFINITY; 2], |low, p| [low[0].min(p[0]), low[1].min(p[1])]);
        let high = places.iter().fold([f64::NEG_INFINITY; 2], |high, p| [high[0].max(p[0]), high[1].max(p[1])]);
        let length = (high[0] - low[0]).max(high[1] - low[1]);
        if !(length > 0.0 && length.is_finite()) {
            return None;
        }
        let side = 1usize << halvings;
        let along = |x: f64, from: f64| (((x - from) / length * side as f64) as usize).min(side - 1);
        let mut grid = Grid::empty(side / 2);
        for (place, (y, x)) in places.iter().zip(outcome.iter().zip(exposure)) {
            grid.put(along(place[0], low[0]), along(place[1], low[1]), [1.0, *y, *x]);
        }
        Some(grid)
    }

    /// Adds to the square in column `x` and row `y`.
    fn put(&mut self, x: usize, y: usize, more: [f64; PARTS]) {
        let at = y / 2 * self.half + x / 2;
        for (part, more) in self.planes[parity(x, y)].parts.iter_mut().zip(more) {
            part[at] += more;
        }
    }

    /// Sum of squares of one part over all squares.
    fn squared(&self, part: usize) -> f64 {
        self.planes.iter().flat_map(|plane| &plane.parts[part]).map(|x| x * x).sum()
    }

    /// Four squares, one of each plane, become one.
    fn halved(&self) -> Grid {
        let mut grid = Grid::empty(self.half / 2);
        for at in 0..self.half * self.half {
            let four = |part: usize| self.planes.iter().map(|plane| plane.parts[part][at]).sum();
            grid.put(at % self.half, at / self.half, std::array::from_fn(four));
        }
        grid
    }

    /// Adds the pairs of squares that the steps lead between; `size` is a square's side in smallest ones.
    fn add(&self, steps: &ByParity, size: f64, classes: &mut [Class]) {
        for (from, steps) in steps.iter().enumerate() {
            for (dx, dy) in steps {
                let class = class(f64::from(dx * dx + dy * dy).sqrt() * size);
                let (x, y) = ((from & 1) as i32 + dx, (from >> 1) as i32 + dy);
                let to = parity((x & 1) as usize, (y & 1) as usize);
                for (part, sum) in classes[class].iter_mut().enumerate() {
                    let (here, there) = (&self.planes[from].parts[part], &self.planes[to].parts[part]);
                    *sum += self.products(here, there, (x >> 1, y >> 1));
                }
            }
        }
    }

    /// Sum of the products of squares of one plane with those of another `by` columns and rows away.
    fn products(&self, here: &[f64], there: &[f64], by: (i32, i32)) -> f64 {
        let across = self.half.saturating_sub(by.0.unsigned_abs() as usize);
        if across == 0 {
            return 0.0;
        }
        let columns = |from: usize| from..from + across;
        let (left, right) = (by.0.min(0).unsigned_abs() as usize, by.0.max(0) as usize);
        let rows = here.chunks_exact(self.half).zip(there.chunks_exact(self.half).skip(by.1.max(0) as usize));
        rows.map(|(here, there)| dot(&here[columns(left)], &there[columns(right)])).sum()
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
