//! A picture's bytes, and colour laid over them by its share of each pixel.
//!
//! What is drawn asks for a [`Layer`], so that the same drawing can go onto a picture or into a stamp.

use super::palette::Rgb;

/// Full cover of a pixel, in the whole numbers that blending works with.
pub(super) const FULL: u32 = 256;

/// Something that takes colour.
pub(super) trait Layer {
    /// Lays colour over a share (0 to 1) of a pixel; places outside are let go.
    fn lay(&mut self, x: i32, y: i32, colour: Rgb, share: f32);
}

/// Pixels and their number across and down.
pub(super) struct Pixels {
    /// Red, green, blue, row by row from the top.
    pub(super) bytes: Vec<u8>,
    /// Across.
    pub(super) width: u32,
    /// Down.
    pub(super) height: u32,
}

impl Pixels {
    /// A picture of one colour.
    pub(super) fn plain(width: u32, height: u32, colour: Rgb) -> Pixels {
        let bytes = [colour.0, colour.1, colour.2].repeat(width as usize * height as usize);
        Pixels { bytes, width, height }
    }

    /// The bytes of a stretch of a row that lie in the picture, and how many pixels of it are cut off at its left.
    pub(super) fn stretch(&mut self, x: i32, y: i32, length: usize) -> Option<(&mut [u8], usize)> {
        let row = u32::try_from(y).ok().filter(|row| *row < self.height)?;
        let (from, to) = (x.max(0) as u32, (i64::from(x) + length as i64).clamp(0, i64::from(self.width)) as u32);
        let at = |x: u32| 3 * (row as usize * self.width as usize + x as usize);
        let bytes = self.bytes.get_mut(at(from)..at(to)).filter(|_| from < to)?;
        Some((bytes, x.min(0).unsigned_abs() as usize))
    }
}

impl Layer for Pixels {
    fn lay(&mut self, x: i32, y: i32, colour: Rgb, share: f32) {
        if x < 0 || y < 0 || x as u32 >= self.width || y as u32 >= self.height {
            return;
        }
        let at = 3 * (y as usize * self.width as usize + x as usize);
        let Some([red, green, blue]) = self.bytes.get_mut(at..at + 3) else { return };
        let over = ((share * FULL as f32 + 0.5) as u32).min(FULL);
        if over == FULL {
            (*red, *green, *blue) = (colour.0, colour.1, colour.2);
        } else if over > 0 {
            let mix = |under: u8, new: u8| {
                ((u32::from(under) * (FULL - over) + u32::from(new) * over + FULL / 2) / FULL) as u8
            };
            (*red, *green, *blue) = (mix(*red, colour.0), mix(*green, colour.1), mix(*blue, colour.2));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colour_is_laid_by_its_share_and_never_outside() {
        let mut pixels = Pixels::plain(2, 1, Rgb(100, 200, 0));
        pixels.lay(0, 0, Rgb(200, 0, 255), 0.5);
        for (x, y) in [(-1, 0), (2, 0), (0, 1), (0, -1)] {
            pixels.lay(x, y, Rgb(1, 1, 1), 1.0);
        }
        assert_eq!(pixels.bytes, [150, 100, 128, 100, 200, 0]);
    }

    #[test]
    fn stretches_are_cut_at_the_edges() {
        let mut pixels = Pixels::plain(4, 2, Rgb(0, 0, 0));
        let mut cut = |x, y, length| pixels.stretch(x, y, length).map(|(bytes, skipped)| (bytes.len() / 3, skipped));
        assert_eq!(cut(-2, 0, 5), Some((3, 2)));
        assert_eq!(cut(1, 1, 9), Some((3, 0)));
        assert_eq!([cut(4, 0, 2), cut(-3, 0, 3), cut(0, 2, 1), cut(0, -1, 1)], [None; 4]);
    }
}
