//! From rings and lines to the share of each pixel they cover.
//!
//! Shares are exact areas, so that edges are smooth, and holes stay empty because they turn against their outer ring.
//! Lines are bands that are covered together, so that their corners are not painted twice.

use ab_glyph_rasterizer::{Rasterizer, point};

use super::scene::{Ends, Point};

/// Pixels of the picture for one SVG pixel.
pub(super) const SCALE: f64 = 2.0;
/// Shares below this leave a pixel as it is.
const FAINT: f32 = 1.0 / 512.0;

/// Gives each pixel that the rings (in SVG pixels) touch and the share of it that they cover.
pub(super) fn cover(rings: &[Vec<Point>], mut lay: impl FnMut(i32, i32, f32)) {
    let Some((low, high)) = extent(rings) else { return };
    let size = |axis: usize| (high[axis] - low[axis]).max(0.0) as usize;
    let mut raster = Rasterizer::new(size(0), size(1));
    let at = |p: &Point| point((p[0] * SCALE - low[0]) as f32, (p[1] * SCALE - low[1]) as f32);
    for ring in rings {
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            raster.draw_line(at(a), at(b));
        }
    }
    let (left, top) = (low[0] as i32, low[1] as i32);
    raster.for_each_pixel_2d(|x, y, covered| {
        if covered > FAINT {
            lay(left + x as i32, top + y as i32, covered.min(1.0));
        }
    });
}

/// Corners of the box of whole pixels around the rings.
fn extent(rings: &[Vec<Point>]) -> Option<(Point, Point)> {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in rings.iter().flatten() {
        low = [low[0].min(p[0] * SCALE), low[1].min(p[1] * SCALE)];
        high = [high[0].max(p[0] * SCALE), high[1].max(p[1] * SCALE)];
    }
    let whole = ([low[0].floor() - 1.0, low[1].floor() - 1.0], [high[0].ceil() + 2.0, high[1].ceil() + 2.0]);
    low[0].is_finite().then_some(whole)
}

/// Lines of a width as rings to be covered together.
pub(super) fn bands(lines: &[Vec<Point>], ends: Ends, width: f64) -> Vec<Vec<Point>> {
    let mut bands = Vec::new();
    for line in lines {
        let back = if ends == Ends::Closed { 1 } else { 0 };
        let points: Vec<Point> = line.iter().chain(line.iter().take(back)).copied().collect();
        bands.extend(points.windows(2).filter_map(|pair| band(pair, width)));
    }
    bands
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
    let (along, half) = ([x / length * width * 0.35, y / length * width * 0.35], width / 2.0);
    let side = [-y / length * half, x / length * half];
    let (a, b) = ([a[0] - along[0], a[1] - along[1]], [b[0] + along[0], b[1] + along[1]]);
    let corner = |p: Point, sign: f64| [p[0] + sign * side[0], p[1] + sign * side[1]];
    Some(vec![corner(a, -1.0), corner(b, -1.0), corner(b, 1.0), corner(a, 1.0)])
}
