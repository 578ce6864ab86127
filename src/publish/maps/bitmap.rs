//! A scene as pixels: red, green, blue, row by row from the top.
//!
//! Edges are covered by their exact share of each pixel, which the drawing library's polygons are not, and go straight
//! into the picture's bytes; only the letters of texts are the drawing library's.

use std::collections::BTreeMap;

use super::cover::{SCALE, bands, cover};
use super::fault::MapFault;
use super::palette::PAPER;
use super::pixels::{Layer, Pixels};
use super::scene::{Ends, Fill, Item, Pattern, Scene, Shape};
use super::tile::Tile;
use super::{lettering, stamp};

/// Paints a scene.
pub(super) fn paint(scene: &Scene) -> Result<Pixels, MapFault> {
    let (width, height) = ((scene.width * SCALE).ceil() as u32, (scene.height * SCALE).ceil() as u32);
    let mut canvas = Canvas { pixels: Pixels::plain(width, height, PAPER), tiles: BTreeMap::new() };
    for item in &scene.items {
        match item {
            Item::Shape(shape) => canvas.shape(shape),
            Item::Marks(marks) => stamp::marks(&mut canvas.pixels, marks),
            Item::Text(text) => lettering::text(&mut canvas.pixels, text)?,
        }
    }
    Ok(canvas.pixels)
}

struct Canvas {
    pixels: Pixels,
    /// Patterns that were used.
    tiles: BTreeMap<Pattern, Tile>,
}

impl Canvas {
    fn shape(&mut self, shape: &Shape) {
        if shape.ends == Ends::Closed {
            self.rings(shape);
        }
        if let Some(stroke) = shape.stroke {
            let bands = bands(&shape.lines, shape.ends, stroke.width);
            cover(&bands, |x, y, share| self.pixels.lay(x, y, stroke.colour, share));
        }
    }

    fn rings(&mut self, shape: &Shape) {
        match shape.fill {
            Fill::None => {}
            Fill::Plain(colour) => cover(&shape.lines, |x, y, share| self.pixels.lay(x, y, colour, share)),
            Fill::Pattern { paper, ink, kind } => {
                let reach = (self.pixels.width + self.pixels.height) as usize;
                let tile = self.tiles.entry(kind).or_insert_with(|| Tile::new(kind, reach));
                cover(&shape.lines, |x, y, share| {
                    self.pixels.lay(x, y, paper, share);
                    self.pixels.lay(x, y, ink, share * tile.at(x, y));
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::publish::maps::palette::Rgb;
    use crate::publish::maps::scene::Point;

    fn colour_at(bitmap: &Pixels, x: f64, y: f64) -> [u8; 3] {
        let at = 3 * ((y * SCALE) as usize * bitmap.width as usize + (x * SCALE) as usize);
        [bitmap.bytes[at], bitmap.bytes[at + 1], bitmap.bytes[at + 2]]
    }

    fn square(low: f64, high: f64) -> Vec<Point> {
        vec![[low, low], [high, low], [high, high], [low, high]]
    }

    fn painted(lines: Vec<Vec<Point>>) -> Pixels {
        let fill = Fill::Plain(Rgb(10, 20, 30));
        let items = vec![Item::Shape(Shape { lines, ends: Ends::Closed, fill, stroke: None, about: None })];
        paint(&Scene { width: 40.0, height: 40.0, title: String::new(), description: String::new(), items }).unwrap()
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
        let darkness: f64 = bitmap.bytes.chunks(3).map(|px| f64::from(255 - px[0]) / 245.0).sum();
        let area = 0.5 * ((31.7 - 3.3) * (36.6 - 4.1) - (12.4 - 3.3) * (9.2 - 4.1)) * SCALE * SCALE;
        assert!((darkness / area - 1.0_f64).abs() < 0.004, "{darkness} {area}");
    }
}
