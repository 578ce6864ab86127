//! A scene as pixels: red, green, blue, row by row from the top.
//!
//! Edges are covered by their exact share of each pixel, which the drawing library's polygons are not, and holes stay
//! empty because they turn against their outer ring. Text and blending are the drawing library's.

use ab_glyph_rasterizer::{Rasterizer, point};
use plotters::backend::BitMapBackend;
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, RGBColor, TextStyle};

use super::fault::MapFault;
use super::font;
use super::palette::{PAPER, Rgb};
use super::scene::{
    Anchor, Ends, Fill, Item, MarkForm, Marks, Pattern, Point, Rim, Scene, Shape, Stroke, Text,
};

/// Pixels of the picture for one SVG pixel.
const SCALE: f64 = 3.0;
/// Corners of a drawn circle.
const CORNERS: u32 = 28;
/// Coverage below this leaves a pixel as it is.
const FAINT: f64 = 1.0 / 512.0;

/// Pixels and their number across and down.
pub(super) struct Bitmap {
    /// Three bytes a pixel.
    pub(super) pixels: Vec<u8>,
    /// Across.
    pub(super) width: u32,
    /// Down.
    pub(super) height: u32,
}

/// Paints a scene.
pub(super) fn paint(scene: &Scene) -> Result<Bitmap, MapFault> {
    let (width, height) = (
        (scene.width * SCALE).ceil() as u32,
        (scene.height * SCALE).ceil() as u32,
    );
    let paper = [PAPER.0, PAPER.1, PAPER.2];
    let mut pixels = paper.repeat(width as usize * height as usize);
    {
        let mut canvas = Canvas {
            backend: BitMapBackend::with_buffer(&mut pixels, (width, height)),
            width,
            height,
        };
        for item in &scene.items {
            match item {
                Item::Shape(shape) => canvas.shape(shape)?,
                Item::Marks(marks) => canvas.marks(marks)?,
                Item::Text(text) => canvas.text(text)?,
            }
        }
        canvas
            .backend
            .present()
            .map_err(|fault| MapFault::Encode(fault.to_string()))?;
    }
    Ok(Bitmap {
        pixels,
        width,
        height,
    })
}

struct Canvas<'a> {
    backend: BitMapBackend<'a>,
    width: u32,
    height: u32,
}

impl Canvas<'_> {
    fn shape(&mut self, shape: &Shape) -> Result<(), MapFault> {
        if shape.ends == Ends::Closed {
            self.rings(&shape.lines, shape.fill)?;
        }
        shape.stroke.map_or(Ok(()), |stroke| {
            self.stroke(&shape.lines, shape.ends, stroke)
        })
    }

    fn rings(&mut self, rings: &[Vec<Point>], fill: Fill) -> Result<(), MapFault> {
        match fill {
            Fill::None => Ok(()),
            Fill::Plain(colour) => self.cover(rings, |_, _| 1.0, colour),
            Fill::Pattern { paper, ink, kind } => {
                self.cover(rings, |_, _| 1.0, paper)?;
                self.cover(rings, |x, y| tile(kind, x, y), ink)
            }
        }
    }

    fn stroke(&mut self, lines: &[Vec<Point>], ends: Ends, stroke: Stroke) -> Result<(), MapFault> {
        let mut bands = Vec::new();
        for line in lines {
            let back = if ends == Ends::Closed { 1 } else { 0 };
            let points: Vec<Point> = line.iter().chain(line.iter().take(back)).copied().collect();
            bands.extend(
                points
                    .windows(2)
                    .filter_map(|pair| band(pair, stroke.width)),
            );
        }
        self.cover(&bands, |_, _| 1.0, stroke.colour)
    }

    /// Paints what the rings cover, weakened by `share` at each place (in SVG pixels).
    fn cover(
        &mut self,
        rings: &[Vec<Point>],
        share: impl Fn(f64, f64) -> f64,
        colour: Rgb,
    ) -> Result<(), MapFault> {
        let Some((low, high)) = extent(rings) else {
            return Ok(());
        };
        let size = |axis: usize| (high[axis] - low[axis]).max(0.0) as usize;
        let mut raster = Rasterizer::new(size(0), size(1));
        for ring in rings {
            for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
                let at = |p: &Point| {
                    point(
                        (p[0] * SCALE - low[0]) as f32,
                        (p[1] * SCALE - low[1]) as f32,
                    )
                };
                raster.draw_line(at(a), at(b));
            }
        }
        let mut done = Ok(());
        raster.for_each_pixel_2d(|x, y, covered| {
            let (x, y) = (low[0] + f64::from(x), low[1] + f64::from(y));
            let alpha = f64::from(covered).min(1.0) * share((x + 0.5) / SCALE, (y + 0.5) / SCALE);
            if done.is_ok() && alpha > FAINT {
                done = self.blend(x, y, colour, alpha);
            }
        });
        done
    }

    fn blend(&mut self, x: f64, y: f64, colour: Rgb, alpha: f64) -> Result<(), MapFault> {
        if x < 0.0 || y < 0.0 || x >= f64::from(self.width) || y >= f64::from(self.height) {
            return Ok(());
        }
        let colour = RGBColor(colour.0, colour.1, colour.2)
            .mix(alpha)
            .to_backend_color();
        let drawn = self.backend.draw_pixel((x as i32, y as i32), colour);
        drawn.map_err(|fault| MapFault::Encode(fault.to_string()))
    }

    fn marks(&mut self, marks: &Marks) -> Result<(), MapFault> {
        let rim = |colour, width| Some(Stroke { colour, width });
        for (at, _) in &marks.at {
            let (lines, ends) = mark_lines(marks.form, *at, marks.radius);
            let (fill, stroke) = match marks.form {
                MarkForm::Diamond | MarkForm::Disc => (Fill::Plain(marks.colour), rim(PAPER, 0.8)),
                MarkForm::Ring => (Fill::Plain(PAPER), rim(marks.colour, 1.4)),
                MarkForm::Cross => (Fill::None, rim(marks.colour, 1.4)),
            };
            self.shape(&Shape {
                lines,
                ends,
                fill,
                stroke,
                about: None,
            })?;
        }
        Ok(())
    }

    fn text(&mut self, text: &Text) -> Result<(), MapFault> {
        let other = !text.instead.is_empty() && !font::can_write(&text.text);
        let words = if other { &text.instead } else { &text.text };
        let width = font::width(words, text.size)?;
        let left = match text.anchor {
            Anchor::Start => text.at[0],
            Anchor::Middle => text.at[0] - width / 2.0,
            Anchor::End => text.at[0] - width,
        };
        let px = text.size * SCALE;
        let at = [left * SCALE, text.at[1] * SCALE - font::base_line(px)];
        if let Rim::Of(colour) = text.rim {
            for step in 0..8 {
                let (sin, cos) = libm::sincos(f64::from(step) * std::f64::consts::FRAC_PI_4);
                self.words(words, [at[0] + 2.4 * cos, at[1] + 2.4 * sin], px, colour)?;
            }
        }
        self.words(words, at, px, text.colour)
    }

    fn words(&mut self, words: &str, at: Point, px: f64, colour: Rgb) -> Result<(), MapFault> {
        let colour = RGBColor(colour.0, colour.1, colour.2);
        let style = TextStyle::from(font::at_size(px)?)
            .color(&colour)
            .pos(Pos::new(HPos::Left, VPos::Top));
        let place = (at[0].round() as i32, at[1].round() as i32);
        self.backend
            .draw_text(words, &style, place)
            .map_err(|fault| MapFault::Font(fault.to_string()))
    }
}

/// Corners of the box of whole pixels around the rings.
fn extent(rings: &[Vec<Point>]) -> Option<(Point, Point)> {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in rings.iter().flatten() {
        low = [low[0].min(p[0] * SCALE), low[1].min(p[1] * SCALE)];
        high = [high[0].max(p[0] * SCALE), high[1].max(p[1] * SCALE)];
    }
    let whole = (
        [low[0].floor() - 1.0, low[1].floor() - 1.0],
        [high[0].ceil() + 2.0, high[1].ceil() + 2.0],
    );
    low[0].is_finite().then_some(whole)
}

/// A segment as a four-cornered band that always turns the same way, a little longer than the segment so that
/// bands meet at corners.
fn band(pair: &[Point], width: f64) -> Option<Vec<Point>> {
    let [a, b] = pair else { return None };
    let (x, y) = (b[0] - a[0], b[1] - a[1]);
    let length = libm::hypot(x, y);
    if length == 0.0 {
        return None;
    }
    let (along, half) = (
        [x / length * width * 0.35, y / length * width * 0.35],
        width / 2.0,
    );
    let side = [-y / length * half, x / length * half];
    let (a, b) = (
        [a[0] - along[0], a[1] - along[1]],
        [b[0] + along[0], b[1] + along[1]],
    );
    let corner = |p: Point, sign: f64| [p[0] + sign * side[0], p[1] + sign * side[1]];
    Some(vec![
        corner(a, -1.0),
        corner(b, -1.0),
        corner(b, 1.0),
        corner(a, 1.0),
    ])
}

fn mark_lines(form: MarkForm, at: Point, r: f64) -> (Vec<Vec<Point>>, Ends) {
    let near = |x: f64, y: f64| [at[0] + x, at[1] + y];
    match form {
        MarkForm::Diamond => (
            vec![vec![
                near(0.0, -r),
                near(r, 0.0),
                near(0.0, r),
                near(-r, 0.0),
            ]],
            Ends::Closed,
        ),
        MarkForm::Cross => (
            vec![
                vec![near(-r, 0.0), near(r, 0.0)],
                vec![near(0.0, -r), near(0.0, r)],
            ],
            Ends::Open,
        ),
        MarkForm::Disc | MarkForm::Ring => {
            let corner = |i: u32| {
                let (sin, cos) =
                    libm::sincos(f64::from(i) * std::f64::consts::TAU / f64::from(CORNERS));
                near(r * cos, r * sin)
            };
            (vec![(0..CORNERS).map(corner).collect()], Ends::Closed)
        }
    }
}

/// How much of a pixel at a place (in SVG pixels) a pattern covers; `svg` writes the same tiles.
fn tile(kind: Pattern, x: f64, y: f64) -> f64 {
    let inside = |distance: f64, reach: f64| ((reach - distance) * SCALE + 0.5).clamp(0.0, 1.0);
    let from_middle = |v: f64, tile: f64| v.rem_euclid(tile) - tile / 2.0;
    match kind {
        Pattern::Hatch => inside(
            from_middle((x + y) * std::f64::consts::FRAC_1_SQRT_2, 7.0).abs(),
            0.7,
        ),
        Pattern::Dots => inside(libm::hypot(from_middle(x, 7.0), from_middle(y, 7.0)), 0.95),
        Pattern::Crosses => {
            let (dx, dy) = (from_middle(x, 12.0), from_middle(y, 12.0));
            let arm = (dx - dy).abs().min((dx + dy).abs()) * std::f64::consts::FRAC_1_SQRT_2;
            inside(arm, 0.55).min(inside(dx.abs().max(dy.abs()), 2.0))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn colour_at(bitmap: &Bitmap, x: f64, y: f64) -> [u8; 3] {
        let at = 3 * ((y * SCALE) as usize * bitmap.width as usize + (x * SCALE) as usize);
        [
            bitmap.pixels[at],
            bitmap.pixels[at + 1],
            bitmap.pixels[at + 2],
        ]
    }

    fn square(low: f64, high: f64) -> Vec<Point> {
        vec![[low, low], [high, low], [high, high], [low, high]]
    }

    fn painted(lines: Vec<Vec<Point>>) -> Bitmap {
        let fill = Fill::Plain(Rgb(10, 20, 30));
        let items = vec![Item::Shape(Shape {
            lines,
            ends: Ends::Closed,
            fill,
            stroke: None,
            about: None,
        })];
        paint(&Scene {
            width: 40.0,
            height: 40.0,
            title: String::new(),
            description: String::new(),
            items,
        })
        .unwrap()
    }

    #[test]
    fn a_hole_stays_paper_and_the_rest_is_covered() {
        let mut hole = square(15.0, 25.0);
        hole.reverse();
        let bitmap = painted(vec![square(5.0, 35.0), hole]);
        assert_eq!(colour_at(&bitmap, 20.0, 20.0), [255, 255, 255]);
        for (x, y) in [(10.0, 20.0), (30.0, 20.0), (20.0, 10.0), (20.0, 30.0)] {
            assert_eq!(colour_at(&bitmap, x, y), [10, 20, 30]);
        }
        assert_eq!(colour_at(&bitmap, 2.0, 20.0), [255, 255, 255]);
    }

    #[test]
    fn the_covered_share_of_the_picture_is_the_area_of_the_shape() {
        let bitmap = painted(vec![vec![[3.3, 4.1], [31.7, 9.2], [12.4, 36.6]]]);
        let darkness: f64 = bitmap
            .pixels
            .chunks(3)
            .map(|px| f64::from(255 - px[0]) / 245.0)
            .sum();
        let area = 0.5 * ((31.7 - 3.3) * (36.6 - 4.1) - (12.4 - 3.3) * (9.2 - 4.1)) * SCALE * SCALE;
        assert!(
            (darkness / area - 1.0_f64).abs() < 0.004,
            "{darkness} {area}"
        );
    }

    #[test]
    fn patterns_leave_paper_between_their_figures() {
        for kind in [Pattern::Hatch, Pattern::Dots, Pattern::Crosses] {
            let places =
                (0..84).flat_map(|x| (0..84).map(move |y| tile(kind, f64::from(x), f64::from(y))));
            let all: Vec<f64> = places.collect();
            let mean = all.iter().sum::<f64>() / all.len() as f64;
            assert!((0.01..0.35).contains(&mean), "{kind:?} {mean}");
        }
    }
}
