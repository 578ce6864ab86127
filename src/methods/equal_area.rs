//! Wells in equal-area cells into a rate that does not follow where wells happen to crowd.
//!
//! A reader would question the interval: wells of a crowded cell weigh less, so the interval is Wilson's with the effective number
//! of wells (Kish), not with all of them. Cells without a determined well are left out, not guessed.

use super::proportions::wilson_of_share;
use super::special::two_sided_z;

/// A grid of square cells; x runs with the columns and y with the rows, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Lower left corner.
    pub origin: (f64, f64),
    /// Length of a cell's side.
    pub size: f64,
    /// Cells along x.
    pub columns: usize,
    /// Cells along y.
    pub rows: usize,
}

impl Grid {
    /// Column and row of a place; the lower and left edges belong to a cell, the grid's far edges to the last one. `None` outside,
    /// for what is no number, and for a grid without size.
    pub fn cell(&self, x: f64, y: f64) -> Option<(usize, usize)> {
        let column = along(x, self.origin.0, self.size, self.columns)?;
        Some((column, along(y, self.origin.1, self.size, self.rows)?))
    }
}

fn along(at: f64, origin: f64, size: f64, cells: usize) -> Option<usize> {
    if at == origin + cells as f64 * size {
        return cells.checked_sub(1).filter(|_| size > 0.0);
    }
    let step = ((at - origin) / size).floor();
    (size > 0.0 && step >= 0.0 && step < cells as f64).then_some(step as usize)
}

/// The spread-corrected rate and what stands behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EqualAreaRate {
    /// Mean over cells of the share exceeding in the cell.
    pub rate: f64,
    /// The plain share of the same wells.
    pub plain_rate: f64,
    /// Cells with a determined well.
    pub cells: usize,
    /// Determined wells inside the grid.
    pub wells: usize,
    /// Standard error from the spread between cells; `None` with one cell.
    pub cell_error: Option<f64>,
    /// Wells that, evenly spread, would tell as much.
    pub effective_wells: f64,
    /// Wilson's interval with `effective_wells`; `None` for a confidence not between 0 and 1.
    pub interval: Option<[f64; 2]>,
}

/// Rate by equal-area cells.
///
/// # Computes
/// The mean over cells of the share of determined wells that exceed.
/// # Takes
/// For each well its cell (any number that tells cells apart; `None` outside) and whether it exceeds (`None` undetermined); the
/// two-sided confidence.
/// # Gives
/// The rate; `None` where no cell holds a determined well.
/// # Errors
/// None; a list longer than the other is cut.
/// # Conventions
/// Effective wells = 1 / sum of squared weights, a well weighing 1 / (cells x wells in its cell).
/// # Source
/// Belitz and others 2010, Water Resources Research 46, W11550; Kish 1965, Survey Sampling (both from memory).
/// # Checked against
/// `17-equal-area-cells.json`.
pub fn rate<C: Copy + Ord>(cells: &[Option<C>], exceeds: &[Option<bool>], confidence: f64) -> Option<EqualAreaRate> {
    let known = |(cell, state): (&Option<C>, &Option<bool>)| Some((((*cell)?), (*state)?));
    let mut wells: Vec<(C, bool)> = cells.iter().zip(exceeds).filter_map(known).collect();
    wells.sort_unstable();
    let counted = |list: &[(C, bool)]| (list.iter().filter(|well| well.1).count() as f64, list.len() as f64);
    let counts: Vec<(f64, f64)> = wells.chunk_by(|a, b| a.0 == b.0).map(counted).collect();
    if counts.is_empty() {
        return None;
    }
    let k = counts.len() as f64;
    let share = |(x, n): &(f64, f64)| x / n;
    let rate = counts.iter().map(share).sum::<f64>() / k;
    let spread: f64 = counts.iter().map(|c| (share(c) - rate) * (share(c) - rate)).sum();
    let effective_wells = k * k / counts.iter().map(|(_, n)| 1.0 / n).sum::<f64>();
    Some(EqualAreaRate {
        rate,
        plain_rate: counts.iter().map(|c| c.0).sum::<f64>() / wells.len() as f64,
        cells: counts.len(),
        wells: wells.len(),
        cell_error: (k > 1.0).then(|| (spread / (k - 1.0) / k).sqrt()),
        effective_wells,
        interval: two_sided_z(confidence).map(|_| wilson_of_share(rate, effective_wells, confidence)),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// By hand: shares 2/3 and 0, so 1/3 where the plain rate is 2/4; weights 1/6, 1/6, 1/6, 1/2, so 1 / (3/36 + 1/4) = 3 wells.
    /// No published example was found.
    #[test]
    fn two_cells_by_hand() {
        let got =
            rate(&[Some(0), Some(0), Some(0), Some(1)], &[Some(true), Some(true), Some(false), Some(false)], 0.95)
                .unwrap();
        assert!((got.rate - 1.0 / 3.0).abs() < 1e-15 && (got.effective_wells - 3.0).abs() < 1e-14);
        assert_eq!((got.plain_rate, got.cells, got.wells), (0.5, 2, 4));
    }

    #[test]
    fn edges_and_outside() {
        let grid = Grid { origin: (0.0, 0.0), size: 10.0, columns: 2, rows: 1 };
        assert_eq!(grid.cell(20.0, 10.0), Some((1, 0)));
        assert_eq!(grid.cell(10.0, 0.0), Some((1, 0)));
        for (x, y) in [(25.0, 5.0), (-1.0, 5.0), (f64::NAN, 5.0), (f64::INFINITY, 5.0), (5.0, 10.1)] {
            assert_eq!(grid.cell(x, y), None);
        }
        assert_eq!(Grid { size: 0.0, ..grid }.cell(0.0, 0.0), None);
        assert_eq!(Grid { size: f64::NAN, ..grid }.cell(0.0, 0.0), None);
        assert_eq!(Grid { columns: 0, ..grid }.cell(0.0, 0.0), None);
    }

    #[test]
    fn nothing_known_is_no_rate() {
        assert_eq!(rate::<u32>(&[], &[], 0.95), None);
        assert_eq!(rate(&[Some(1), None], &[None, Some(true)], 0.95), None);
    }

    proptest! {
        #[test]
        fn between_the_cells_and_no_more_wells_than_there_are(list in prop::collection::vec((0u8..6, prop::option::of(any::<bool>())), 1..60)) {
            let cells: Vec<_> = list.iter().map(|w| Some(w.0)).collect();
            let states: Vec<_> = list.iter().map(|w| w.1).collect();
            if let Some(got) = rate(&cells, &states, 0.9) {
                let [low, high] = got.interval.unwrap();
                prop_assert!(low <= got.rate + 1e-12 && got.rate <= high + 1e-12 && (0.0..=1.0).contains(&got.rate));
                prop_assert!(got.effective_wells <= got.wells as f64 + 1e-9 && got.effective_wells >= got.cells as f64 - 1e-9);
            }
        }

        #[test]
        fn one_well_a_cell_is_the_plain_rate(states in prop::collection::vec(any::<bool>(), 1..40)) {
            let cells: Vec<_> = (0..states.len()).map(Some).collect();
            let known: Vec<_> = states.iter().copied().map(Some).collect();
            let got = rate(&cells, &known, 0.95).unwrap();
            prop_assert!((got.rate - got.plain_rate).abs() < 1e-12);
        }
    }
}
