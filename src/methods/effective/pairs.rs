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

/// Pairs, sum of products of outcomes, sum of products of exposures.
pub(super) type Class = [f64; 3];
/// Wells, sum of outcomes, sum of exposures.
type Square = [f64; 3];

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
        let squares: f64 = grid.squares.iter().map(|square| square[at] * square[at]).sum();
        *class = (squares - own[at]) / 2.0;
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

/// Squares over the region, row by row.
struct Grid {
    side: i32,
    squares: Vec<Square>,
}

impl Grid {
    fn over(places: &[[f64; 2]], outcome: &[f64], exposure: &[f64], halvings: u32) -> Option<Grid> {
        let low = places.iter().fold([f64::INFINITY; 2], |low, p| [low[0].min(p[0]), low[1].min(p[1])]);
        let high = places.iter().fold([f64::NEG_INFINITY; 2], |high, p| [high[0].max(p[0]), high[1].max(p[1])]);
        let length = (high[0] - low[0]).max(high[1] - low[1]);
        if !(length > 0.0 && length.is_finite()) {
            return None;
        }
        let side = 1usize << halvings;
        let along = |x: f64, from: f64| (((x - from) / length * side as f64) as usize).min(side - 1);
        let mut squares = vec![[0.0; 3]; side * side];
        for (place, (y, x)) in places.iter().zip(outcome.iter().zip(exposure)) {
            let square = &mut squares[along(place[1], low[1]) * side + along(place[0], low[0])];
            *square = [square[0] + 1.0, square[1] + y, square[2] + x];
        }
        Some(Grid { side: side as i32, squares })
    }

    fn halved(&self) -> Grid {
        let (side, half) = (self.side as usize, self.side as usize / 2);
        let four = |at: usize| {
            let first = at / half * 2 * side + at % half * 2;
            let [a, b, c, d] = [first, first + 1, first + side, first + side + 1].map(|at| self.squares[at]);
            std::array::from_fn(|part| a[part] + b[part] + c[part] + d[part])
        };
        Grid { side: half as i32, squares: (0..half * half).map(four).collect() }
    }

    /// Adds the pairs of squares that the steps lead between; `size` is a square's side in smallest ones.
    fn add(&self, steps: &ByParity, size: f64, classes: &mut [Class]) {
        let classed: [Vec<(Step, usize)>; 4] = std::array::from_fn(|parity| {
            let length = |(dx, dy): Step| f64::from(dx * dx + dy * dy).sqrt();
            steps[parity].iter().map(|step| (*step, class(length(*step) * size))).collect()
        });
        for (at, here) in self.squares.iter().enumerate().filter(|(_, here)| here[0] > 0.0) {
            let (x, y) = (at as i32 % self.side, at as i32 / self.side);
            for ((dx, dy), class) in &classed[(x & 1 | (y & 1) << 1) as usize] {
                let (to_x, to_y) = (x + dx, y + dy);
                if to_x < 0 || to_x >= self.side || to_y >= self.side {
                    continue;
                }
                let there = self.squares[(to_y * self.side + to_x) as usize];
                if there[0] > 0.0 {
                    let sums = &mut classes[*class];
                    *sums = std::array::from_fn(|part| sums[part] + here[part] * there[part]);
                }
            }
        }
    }
}
