//! The patterns as pixels: how much of each pixel a pattern's figures cover. `svg` writes the same tiles.
//!
//! Figures are worked out once for a tile, for a pattern may fill most of a picture.

use super::cover::SCALE;
use super::scene::Pattern;

/// Width of a tile of dots or hatching, and of crosses, in SVG pixels; whole pixels of the picture as well.
const SMALL: f64 = 7.0;
const LARGE: f64 = 12.0;

/// The shares of one pattern.
pub(super) enum Tile {
    /// A square that repeats both ways.
    Square { side: usize, shares: Vec<f32> },
    /// Shares that depend on the sum of both places alone and do not repeat in whole pixels.
    Slant { shares: Vec<f32> },
}

impl Tile {
    /// The tile of a pattern; `reach` is the greatest sum of a pixel's places across and down.
    pub(super) fn new(kind: Pattern, reach: usize) -> Tile {
        let middle = |pixel: usize| (pixel as f64 + 0.5) / SCALE;
        let square = |width: f64| {
            let side = (width * SCALE) as usize;
            let share = |at: usize| share(kind, middle(at % side), middle(at / side)) as f32;
            Tile::Square { side, shares: (0..side * side).map(share).collect() }
        };
        match kind {
            Pattern::Hatch => {
                Tile::Slant { shares: (0..=reach).map(|sum| share(kind, middle(sum), middle(0)) as f32).collect() }
            }
            Pattern::Dots => square(SMALL),
            Pattern::Crosses => square(LARGE),
        }
    }

    /// The share at a pixel.
    pub(super) fn at(&self, x: i32, y: i32) -> f32 {
        let (x, y) = (x.max(0) as usize, y.max(0) as usize);
        let share = match self {
            Tile::Square { side, shares } => shares.get(y % side * side + x % side),
            Tile::Slant { shares } => shares.get(x + y),
        };
        share.copied().unwrap_or(0.0)
    }
}

/// How much of a pixel at a place (in SVG pixels) a pattern covers.
fn share(kind: Pattern, x: f64, y: f64) -> f64 {
    let inside = |distance: f64, reach: f64| ((reach - distance) * SCALE + 0.5).clamp(0.0, 1.0);
    let from_middle = |v: f64, tile: f64| v.rem_euclid(tile) - tile / 2.0;
    match kind {
        Pattern::Hatch => inside(from_middle((x + y) * std::f64::consts::FRAC_1_SQRT_2, SMALL).abs(), 0.7),
        Pattern::Dots => inside(libm::hypot(from_middle(x, SMALL), from_middle(y, SMALL)), 0.95),
        Pattern::Crosses => {
            let (dx, dy) = (from_middle(x, LARGE), from_middle(y, LARGE));
            let arm = (dx - dy).abs().min((dx + dy).abs()) * std::f64::consts::FRAC_1_SQRT_2;
            inside(arm, 0.55).min(inside(dx.abs().max(dy.abs()), 2.0))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KINDS: [Pattern; 3] = [Pattern::Hatch, Pattern::Dots, Pattern::Crosses];

    #[test]
    fn a_tile_repeats_what_the_pattern_is_at_every_pixel() {
        for kind in KINDS {
            let tile = Tile::new(kind, 400);
            for (x, y) in (0..200).flat_map(|x| (0..200).map(move |y| (x, y))) {
                let direct = share(kind, (f64::from(x) + 0.5) / SCALE, (f64::from(y) + 0.5) / SCALE);
                assert!((f64::from(tile.at(x, y)) - direct).abs() < 1e-5, "{kind:?} {x} {y}");
            }
        }
    }

    #[test]
    fn patterns_leave_paper_between_their_figures() {
        for kind in KINDS {
            let tile = Tile::new(kind, 600);
            let all: Vec<f32> =
                (0..252).flat_map(|x| (0..252).map(move |y| (x, y))).map(|(x, y)| tile.at(x, y)).collect();
            let mean = all.iter().sum::<f32>() / all.len() as f32;
            assert!((0.01..0.35).contains(&mean), "{kind:?} {mean}");
        }
    }
}
