//! Marks by the thousand: each form is drawn once for each of 16 places inside a pixel and then stamped.
//!
//! A stamp holds, for every pixel it touches, colour already weakened by its share, so stamping is a copy inside and
//! one mix at the edge. A mark so stands at most an eighth of a pixel from its place.

use std::ops::Range;

use super::cover::{SCALE, bands, cover};
use super::palette::{PAPER, Rgb};
use super::pixels::{FULL, Layer, Pixels};
use super::scene::{Ends, MarkForm, Marks, Point};

/// Places inside a pixel, across and down.
const STEPS: i32 = 4;
/// Corners of a drawn circle.
const CORNERS: u32 = 28;
/// Width of the light rim and of drawn lines, in SVG pixels; `svg` writes the same.
pub(super) const RIM: f64 = 0.8;
/// As above.
pub(super) const LINE: f64 = 1.4;

/// Stamps all marks onto a picture.
pub(super) fn marks(pixels: &mut Pixels, marks: &Marks) {
    let mut stamps: [Option<Stamp>; (STEPS * STEPS) as usize] = Default::default();
    for (at, _) in &marks.at {
        let step = |axis: usize| (at[axis] * SCALE * f64::from(STEPS)).round() as i32;
        let (x, y) = (step(0), step(1));
        let offset = [x.rem_euclid(STEPS), y.rem_euclid(STEPS)];
        if let Some(stamp) = stamps.get_mut((offset[1] * STEPS + offset[0]) as usize) {
            let stamp = stamp.get_or_insert_with(|| Stamp::new(marks, offset));
            stamp.press(pixels, x.div_euclid(STEPS), y.div_euclid(STEPS));
        }
    }
}

/// Draws one mark with its middle at a place in SVG pixels.
fn draw(layer: &mut impl Layer, marks: &Marks, at: Point) {
    let (lines, ends) = outline(marks.form, at, marks.radius);
    let (fill, colour, width) = match marks.form {
        MarkForm::Diamond | MarkForm::Disc => (Some(marks.colour), PAPER, RIM),
        MarkForm::Ring => (Some(PAPER), marks.colour, LINE),
        MarkForm::Cross => (None, marks.colour, LINE),
    };
    if let Some(fill) = fill {
        cover(&lines, |x, y, share| layer.lay(x, y, fill, share));
    }
    cover(&bands(&lines, ends, width), |x, y, share| layer.lay(x, y, colour, share));
}

fn outline(form: MarkForm, at: Point, r: f64) -> (Vec<Vec<Point>>, Ends) {
    let near = |x: f64, y: f64| [at[0] + x, at[1] + y];
    match form {
        MarkForm::Diamond => (vec![vec![near(0.0, -r), near(r, 0.0), near(0.0, r), near(-r, 0.0)]], Ends::Closed),
        MarkForm::Cross => (vec![vec![near(-r, 0.0), near(r, 0.0)], vec![near(0.0, -r), near(0.0, r)]], Ends::Open),
        MarkForm::Disc | MarkForm::Ring => {
            let corner = |i: u32| {
                let (sin, cos) = libm::sincos(f64::from(i) * std::f64::consts::TAU / f64::from(CORNERS));
                near(r * cos, r * sin)
            };
            (vec![(0..CORNERS).map(corner).collect()], Ends::Closed)
        }
    }
}

/// One form at one place inside a pixel.
struct Stamp {
    runs: Vec<Run>,
    /// Bytes of the runs that cover their pixels wholly.
    whole: Vec<u8>,
    /// Weakened colour of the other runs, and what they leave of the pixel beneath, in parts of [`FULL`].
    partly: Vec<[u16; 4]>,
}

/// A stretch of a row, relative to the pixel of the mark's middle.
struct Run {
    x: i32,
    y: i32,
    length: usize,
    kind: Kind,
}

enum Kind {
    Whole(Range<usize>),
    Partly(Range<usize>),
}

impl Stamp {
    fn new(marks: &Marks, offset: [i32; 2]) -> Stamp {
        let reach = ((marks.radius + LINE) * SCALE).ceil() as i32 + 2;
        let middle = |axis: usize| (f64::from(reach) + f64::from(offset[axis]) / f64::from(STEPS)) / SCALE;
        let mut sheet = Sheet::new(2 * reach + 1);
        draw(&mut sheet, marks, [middle(0), middle(1)]);
        let mut stamp = Stamp { runs: Vec::new(), whole: Vec::new(), partly: Vec::new() };
        for (row, cells) in sheet.cells.chunks(sheet.side as usize).enumerate() {
            let mut x = -reach;
            for same in cells.chunk_by(|a, b| degree(a) == degree(b)) {
                stamp.add(same, x, row as i32 - reach);
                x += same.len() as i32;
            }
        }
        stamp
    }

    fn add(&mut self, cells: &[[f32; 4]], x: i32, y: i32) {
        let byte = |value: f32| (value * 255.0 + 0.5) as u8;
        let part = |value: f32| (value * FULL as f32 + 0.5) as u16;
        let kind = match cells.first().map(degree) {
            Some(Degree::Whole) => {
                let from = self.whole.len();
                self.whole
                    .extend(cells.iter().flat_map(|[red, green, blue, _]| [byte(*red), byte(*green), byte(*blue)]));
                Kind::Whole(from..self.whole.len())
            }
            Some(Degree::Partly) => {
                let from = self.partly.len();
                let weak = |cell: &[f32; 4]| {
                    // Weakened by the rounded share, so that a mix never exceeds 255.
                    let [red, green, blue, share] = *cell;
                    let weak = |value: f32| ((value / share).min(1.0) * 255.0 * f32::from(part(share)) + 0.5) as u16;
                    [weak(red), weak(green), weak(blue), FULL as u16 - part(share)]
                };
                self.partly.extend(cells.iter().map(weak));
                Kind::Partly(from..self.partly.len())
            }
            Some(Degree::Clear) | None => return,
        };
        self.runs.push(Run { x, y, length: cells.len(), kind });
    }

    /// Presses the stamp with the mark's middle in a pixel.
    fn press(&self, pixels: &mut Pixels, x: i32, y: i32) {
        for run in &self.runs {
            let Some((bytes, skipped)) = pixels.stretch(x + run.x, y + run.y, run.length) else { continue };
            match &run.kind {
                Kind::Whole(range) => copy(bytes, self.whole.get(range.start + 3 * skipped..).unwrap_or_default()),
                Kind::Partly(range) => mix(bytes, self.partly.get(range.start + skipped..).unwrap_or_default()),
            }
        }
    }
}

fn copy(bytes: &mut [u8], whole: &[u8]) {
    if let Some(whole) = whole.get(..bytes.len()) {
        bytes.copy_from_slice(whole);
    }
}

fn mix(bytes: &mut [u8], partly: &[[u16; 4]]) {
    for ([red, green, blue], [r, g, b, left]) in bytes.as_chunks_mut::<3>().0.iter_mut().zip(partly) {
        // At most 255 * 256 + 128, which sixteen bits hold.
        let mixed = |under: u8, new: u16| ((u16::from(under) * left + new + FULL as u16 / 2) / FULL as u16) as u8;
        (*red, *green, *blue) = (mixed(*red, *r), mixed(*green, *g), mixed(*blue, *b));
    }
}

#[derive(PartialEq, Eq)]
enum Degree {
    Clear,
    Partly,
    Whole,
}

fn degree(cell: &[f32; 4]) -> Degree {
    let half_a_part = 0.5 / FULL as f32;
    match cell[3] {
        share if share < half_a_part => Degree::Clear,
        share if share > 1.0 - half_a_part => Degree::Whole,
        _ => Degree::Partly,
    }
}

/// An empty square that a mark is drawn on: colour weakened by its share, and the share, all 0 to 1.
struct Sheet {
    side: i32,
    cells: Vec<[f32; 4]>,
}

impl Sheet {
    fn new(side: i32) -> Sheet {
        Sheet { side, cells: vec![[0.0; 4]; (side * side) as usize] }
    }
}

impl Layer for Sheet {
    fn lay(&mut self, x: i32, y: i32, colour: Rgb, share: f32) {
        if !(0..self.side).contains(&x) || !(0..self.side).contains(&y) {
            return;
        }
        let colour = [colour.0, colour.1, colour.2].map(|value| f32::from(value) / 255.0);
        if let (Some(cell), [red, green, blue]) = (self.cells.get_mut((y * self.side + x) as usize), colour) {
            for (old, new) in cell.iter_mut().zip([red, green, blue, 1.0]) {
                *old = *old * (1.0 - share) + new * share;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FORMS: [MarkForm; 4] = [MarkForm::Diamond, MarkForm::Disc, MarkForm::Ring, MarkForm::Cross];

    fn of(form: MarkForm, at: &[Point]) -> Marks {
        Marks { form, colour: Rgb(10, 60, 120), radius: 4.2, at: at.iter().map(|at| (*at, String::new())).collect() }
    }

    fn ground() -> Pixels {
        Pixels::plain(90, 90, Rgb(230, 180, 90))
    }

    fn greatest_difference(a: &Pixels, b: &Pixels) -> u8 {
        a.bytes.iter().zip(&b.bytes).map(|(a, b)| a.abs_diff(*b)).max().unwrap()
    }

    #[test]
    fn a_stamp_is_the_drawing_where_the_place_is_one_of_its_sixteen() {
        for form in FORMS {
            for step in 0..16 {
                let at = [(45.0 + f64::from(step % 4) / 4.0) / SCALE, (44.0 + f64::from(step / 4) / 4.0) / SCALE];
                let (mut stamped, mut drawn) = (ground(), ground());
                marks(&mut stamped, &of(form, &[at]));
                draw(&mut drawn, &of(form, &[at]), at);
                assert!(greatest_difference(&stamped, &drawn) <= 2, "{form:?} {step}");
            }
        }
    }

    /// Middle of what differs from the ground, in pixels, and its amount.
    fn middle(pixels: &Pixels) -> [f64; 3] {
        let ink =
            pixels.bytes.iter().zip(&ground().bytes).map(|(a, b)| f64::from(a.abs_diff(*b))).collect::<Vec<f64>>();
        let cells = ink.chunks(3).map(|c| c.iter().sum::<f64>()).enumerate();
        let sums = cells
            .fold([0.0; 3], |sum, (n, v)| [sum[0] + v * (n % 90) as f64, sum[1] + v * (n / 90) as f64, sum[2] + v]);
        [sums[0] / sums[2], sums[1] / sums[2], sums[2]]
    }

    #[test]
    fn elsewhere_a_mark_moves_by_an_eighth_of_a_pixel_at_most_and_keeps_its_size() {
        for form in FORMS {
            for step in 0..40 {
                let at = [14.0 + f64::from(step) * 0.0237, 15.0 + f64::from(step) * 0.0411];
                let (mut stamped, mut drawn) = (ground(), ground());
                marks(&mut stamped, &of(form, &[at]));
                draw(&mut drawn, &of(form, &[at]), at);
                let ([x, y, ink], [x0, y0, ink0]) = (middle(&stamped), middle(&drawn));
                // An eighth, and some more for pixels in which rim and fill weigh the other way against the ground.
                assert!((x - x0).abs() < 0.2 && (y - y0).abs() < 0.2, "{form:?} {step}: {x} {x0} {y} {y0}");
                assert!((ink / ink0 - 1.0).abs() < 0.02, "{form:?} {step}: {ink} {ink0}");
            }
        }
    }

    #[test]
    fn white_on_white_stays_white() {
        let mut pixels = Pixels::plain(90, 90, PAPER);
        let places: Vec<Point> = (0..16).map(|n| [8.0 + f64::from(n) / 12.0, 10.0 + f64::from(n) / 3.0]).collect();
        marks(&mut pixels, &Marks { colour: PAPER, ..of(MarkForm::Disc, &places) });
        assert!(pixels.bytes.iter().all(|byte| *byte == 255));
    }

    #[test]
    fn marks_at_and_over_the_edges_are_cut_as_drawn_ones_are() {
        for form in FORMS {
            for at in [[0.0, 10.0], [30.0, 30.0], [-3.0, 29.0], [14.0, -1.0], [-90.0, 5.0], [12.0, 900.0]] {
                let (mut stamped, mut drawn) = (ground(), ground());
                marks(&mut stamped, &of(form, &[at]));
                draw(&mut drawn, &of(form, &[at]), at);
                assert!(greatest_difference(&stamped, &drawn) <= 2, "{form:?} {at:?}");
            }
        }
    }

    #[test]
    fn later_marks_lie_above() {
        let mut pixels = ground();
        marks(&mut pixels, &of(MarkForm::Ring, &[[15.0, 15.0]]));
        marks(&mut pixels, &of(MarkForm::Diamond, &[[15.0, 15.0]]));
        let middle = (15.0 * SCALE) as usize;
        let at = 3 * (middle * 90 + middle);
        assert_eq!(pixels.bytes[at..at + 3], [10, 60, 120]);
    }
}
