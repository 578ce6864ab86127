//! From metres of the working CRS to the picture, and what of a line lies inside the frame.
//!
//! Points are moved to a fine grid of the picture, so that borders shared by two areas stay shared; the grid is
//! coarser where outlines have very many points, which bounds the size of the map.

use super::fault::MapFault;
use super::scene::Point;
use super::view::Part;

/// Free space between the outermost outline and the frame, in SVG pixels.
const PAD: f64 = 14.0;
/// Least and greatest height of a frame as a share of its width.
const HEIGHTS: (f64, f64) = (0.4, 1.15);
/// Most points of all outlines together; beyond it the grid is made coarser.
const MOST_POINTS: usize = 5_000;
/// Grids tried, in SVG pixels.
const GRIDS: [f64; 4] = [0.1, 0.25, 0.5, 1.0];

/// Where the map stands in the picture and how metres become pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    /// Upper left corner.
    pub(super) low: Point,
    /// Lower right corner.
    pub(super) high: Point,
    /// Pixels a metre.
    pub(super) scale: f64,
    /// Metres at the middle of the frame.
    middle: Point,
}

impl Frame {
    /// The frame of a width that shows all parts. `named` gives the parts with the name used in faults.
    pub(super) fn fit<'a>(
        named: impl Iterator<Item = (&'a str, &'a [Part])>,
        low: Point,
        width: f64,
    ) -> Result<Frame, MapFault> {
        let (west_south, east_north) = bounds(named)?;
        let across = (east_north[0] - west_south[0]).max(1.0);
        let upwards = (east_north[1] - west_south[1]).max(1.0);
        let wanted = upwards * (width - 2.0 * PAD) / across + 2.0 * PAD;
        let height = wanted.clamp(width * HEIGHTS.0, width * HEIGHTS.1).round();
        let scale = ((width - 2.0 * PAD) / across).min((height - 2.0 * PAD) / upwards);
        let middle = [(west_south[0] + east_north[0]) / 2.0, (west_south[1] + east_north[1]) / 2.0];
        Ok(Frame { low, high: [low[0] + width, low[1] + height], scale, middle })
    }

    /// A point of the map in the picture.
    pub(super) fn place(&self, at: Point) -> Point {
        let x = (self.low[0] + self.high[0]) / 2.0 + (at[0] - self.middle[0]) * self.scale;
        let y = (self.low[1] + self.high[1]) / 2.0 - (at[1] - self.middle[1]) * self.scale;
        [x, y]
    }

    /// Rings of an area in the picture: outer rings turn one way, holes the other, so that a hole stays empty
    /// by the non-zero rule as well as by the even-odd one.
    pub(super) fn rings(&self, parts: &[Part], grid: f64) -> Vec<Vec<Point>> {
        let mut rings = Vec::new();
        for part in parts {
            for (number, ring) in part.iter().enumerate() {
                let placed: Vec<Point> = ring.iter().map(|at| self.place(*at)).collect();
                let placed = on_grid(&placed, grid);
                if placed.len() >= 3 {
                    rings.push(turned(placed, if number == 0 { 1.0 } else { -1.0 }));
                }
            }
        }
        rings
    }

    /// The parts of a line that lie inside the frame, in the picture.
    pub(super) fn inside(&self, line: &[Point]) -> Vec<Vec<Point>> {
        let placed: Vec<Point> = line.iter().map(|at| self.place(*at)).collect();
        let mut pieces: Vec<Vec<Point>> = Vec::new();
        for pair in placed.windows(2) {
            let [from, to] = pair else { continue };
            let Some((from, to)) = self.cut(*from, *to) else {
                continue;
            };
            match pieces.last_mut() {
                Some(piece) if piece.last() == Some(&from) => piece.push(to),
                _ => pieces.push(vec![from, to]),
            }
        }
        pieces
    }

    /// Liang-Barsky: the part of a segment inside the frame.
    fn cut(&self, from: Point, to: Point) -> Option<(Point, Point)> {
        let step = [to[0] - from[0], to[1] - from[1]];
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for axis in 0..2 {
            let (to_low, to_high) = (self.low[axis] - from[axis], self.high[axis] - from[axis]);
            if step[axis] == 0.0 {
                if to_low > 0.0 || to_high < 0.0 {
                    return None;
                }
                continue;
            }
            let (a, b) = (to_low / step[axis], to_high / step[axis]);
            enter = enter.max(a.min(b));
            leave = leave.min(a.max(b));
        }
        let at = |t: f64| {
            if t <= 0.0 {
                from
            } else if t >= 1.0 {
                to
            } else {
                [from[0] + t * step[0], from[1] + t * step[1]]
            }
        };
        (enter <= leave).then(|| (at(enter), at(leave)))
    }
}

/// The grid for pixels, whose number does not depend on that of the points.
pub(super) const FINE_GRID: f64 = 0.1;

/// The grid for SVG text: fine enough for the picture, and coarser where very many points would make it long.
pub(super) fn grid_for(points: usize) -> f64 {
    let over = points as f64 / MOST_POINTS as f64;
    GRIDS.into_iter().find(|grid| *grid * 10.0 >= over).unwrap_or(1.0)
}

/// How many points the parts have.
pub(super) fn points(parts: &[Part]) -> usize {
    parts.iter().flatten().map(Vec::len).sum()
}

/// Twice the signed area of a ring (shoelace formula).
pub(super) fn turning(ring: &[Point]) -> f64 {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum()
}

fn turned(mut ring: Vec<Point>, sign: f64) -> Vec<Point> {
    if turning(&ring) * sign < 0.0 {
        ring.reverse();
    }
    ring
}

/// Points moved to the grid, repeats and the closing point dropped; as it was where fewer than three would remain.
fn on_grid(ring: &[Point], grid: f64) -> Vec<Point> {
    let snap = |v: f64| (v / grid).round() * grid;
    let mut snapped: Vec<Point> = ring.iter().map(|p| [snap(p[0]), snap(p[1])]).collect();
    snapped.dedup();
    if snapped.len() > 1 && snapped.first() == snapped.last() {
        snapped.pop();
    }
    if snapped.len() >= 3 { snapped } else { ring.to_vec() }
}

fn bounds<'a>(named: impl Iterator<Item = (&'a str, &'a [Part])>) -> Result<(Point, Point), MapFault> {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for (name, parts) in named {
        for at in parts.iter().flatten().filter(|ring| ring.len() >= 3).flatten() {
            if !(at[0].is_finite() && at[1].is_finite()) {
                return Err(MapFault::BadCoordinate(name.to_owned()));
            }
            low = [low[0].min(at[0]), low[1].min(at[1])];
            high = [high[0].max(at[0]), high[1].max(at[1])];
        }
    }
    if low[0].is_finite() { Ok((low, high)) } else { Err(MapFault::NoOutline) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Part {
        let ring = |a: f64, b: f64| vec![[a, a], [b, a], [b, b], [a, b], [a, a]];
        vec![ring(0.0, 1000.0), ring(400.0, 600.0)]
    }

    #[test]
    fn holes_turn_against_their_outer_ring_whatever_the_file_says() {
        for flip in [false, true] {
            let mut part = square();
            if flip {
                part[1].reverse();
            }
            let parts = [part];
            let frame = Frame::fit([("a", parts.as_slice())].into_iter(), [0.0, 0.0], 300.0).unwrap();
            let rings = frame.rings(&parts, 0.1);
            assert!(turning(&rings[0]) > 0.0 && turning(&rings[1]) < 0.0);
        }
    }

    #[test]
    fn north_is_up_and_the_whole_area_is_inside() {
        let parts = [square()];
        let frame = Frame::fit([("a", parts.as_slice())].into_iter(), [10.0, 20.0], 300.0).unwrap();
        assert!(frame.place([0.0, 1000.0])[1] < frame.place([0.0, 0.0])[1]);
        for at in frame.rings(&parts, 0.1).concat() {
            assert!(at[0] >= frame.low[0] && at[0] <= frame.high[0] && at[1] >= frame.low[1] && at[1] <= frame.high[1]);
        }
    }

    #[test]
    fn lines_are_cut_at_the_frame() {
        let parts = [square()];
        let frame = Frame::fit([("a", parts.as_slice())].into_iter(), [0.0, 0.0], 300.0).unwrap();
        let pieces = frame.inside(&[[-9e4, 500.0], [9e4, 500.0]]);
        assert_eq!(pieces.len(), 1);
        assert!((pieces[0][0][0] - 0.0).abs() < 1e-9 && (pieces[0][1][0] - 300.0).abs() < 1e-9);
        assert!(frame.inside(&[[-9e4, 9e4], [9e4, 9e4]]).is_empty());
    }

    #[test]
    fn nothing_to_show_is_a_fault() {
        let none: [Part; 0] = [];
        assert_eq!(Frame::fit([("a", none.as_slice())].into_iter(), [0.0; 2], 9.0).err(), Some(MapFault::NoOutline));
        let bad = [vec![vec![[f64::NAN, 0.0], [1.0, 0.0], [1.0, 1.0]]]];
        let fault = Frame::fit([("a", bad.as_slice())].into_iter(), [0.0; 2], 9.0).err();
        assert_eq!(fault, Some(MapFault::BadCoordinate("a".to_owned())));
    }
}
