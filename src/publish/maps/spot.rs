//! Where an area's label fits: the widest place inside its outline for a box of the label's height.
//!
//! A label that does not fit is left out rather than drawn over a neighbour; the area's name still stands in the
//! text shown when the pointer rests on it.

use super::scene::Point;

/// Heights at which places are tried.
const TRIES: usize = 24;
/// Lines through the box on which the outline is looked at.
const LEVELS: usize = 5;

/// Middle of a box of this width and height that lies inside the rings, if there is one.
pub(super) fn find(rings: &[Vec<Point>], width: f64, height: f64) -> Option<Point> {
    let (top, bottom) = extent(rings)?;
    let room = bottom - top - height;
    if room < 0.0 || across(rings) < width {
        return None;
    }
    let middle = (top + bottom) / 2.0;
    let mut best: Option<(f64, Point)> = None;
    for step in 0..=TRIES {
        let y = top + height / 2.0 + room * step as f64 / TRIES as f64;
        let Some((left, right)) = widest(rings, y, height) else {
            continue;
        };
        let score = (right - left).min(2.0 * width) - 0.5 * (y - middle).abs();
        if right - left >= width && best.is_none_or(|(found, _)| score > found) {
            best = Some((score, [(left + right) / 2.0, y]));
        }
    }
    best.map(|(_, at)| at)
}

/// Places tried along a stretch that is wider than the box.
const ALONG: usize = 8;
/// Room that a mark takes around its middle, in SVG pixels.
const MARK: f64 = 5.0;

/// As [`find`], but where the box covers the fewest marks; of equal places the one nearest to that of [`find`].
pub(super) fn find_clear(rings: &[Vec<Point>], width: f64, height: f64, marks: &[Point]) -> Option<Point> {
    let usual = find(rings, width, height)?;
    let covered = |at: Point| {
        let near = |p: &&Point| (p[0] - at[0]).abs() < width / 2.0 + MARK && (p[1] - at[1]).abs() < height / 2.0 + MARK;
        marks.iter().filter(near).count()
    };
    let (top, bottom) = extent(rings)?;
    let room = (bottom - top - height).max(0.0);
    let mut best = (covered(usual), 0.0, usual);
    for step in 0..=TRIES {
        if best.0 == 0 {
            break;
        }
        let y = top + height / 2.0 + room * step as f64 / TRIES as f64;
        let Some((left, right)) = widest(rings, y, height).filter(|(left, right)| right - left >= width) else {
            continue;
        };
        for place in 0..=ALONG {
            let at = [left + width / 2.0 + (right - left - width) * place as f64 / ALONG as f64, y];
            let this = (covered(at), libm::hypot(at[0] - usual[0], at[1] - usual[1]), at);
            if (this.0, this.1) < (best.0, best.1) {
                best = this;
            }
        }
    }
    Some(best.2)
}

fn extent(rings: &[Vec<Point>]) -> Option<(f64, f64)> {
    let ys = || rings.iter().flatten().map(|p| p[1]);
    let top = ys().min_by(f64::total_cmp)?;
    Some((top, ys().max_by(f64::total_cmp)?))
}

/// Distance of the outermost points from west to east.
fn across(rings: &[Vec<Point>]) -> f64 {
    let ends = |(low, high): (f64, f64), p: &Point| (low.min(p[0]), high.max(p[0]));
    let (low, high) = rings.iter().flatten().fold((f64::INFINITY, f64::NEG_INFINITY), ends);
    high - low
}

/// The widest stretch that is inside on every level of a box of this height around y.
fn widest(rings: &[Vec<Point>], y: f64, height: f64) -> Option<(f64, f64)> {
    let level = |i: usize| y + height * (i as f64 / (LEVELS - 1) as f64 - 0.5);
    let mut common = stretches(rings, level(0));
    for i in 1..LEVELS {
        common = overlap(&common, &stretches(rings, level(i)));
    }
    common.into_iter().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
}

/// Stretches of a level line that lie inside, by the even-odd rule.
fn stretches(rings: &[Vec<Point>], y: f64) -> Vec<(f64, f64)> {
    let mut crossings = Vec::new();
    for ring in rings {
        let next = ring.iter().cycle().skip(1);
        for (a, b) in ring.iter().zip(next) {
            if (a[1] <= y) != (b[1] <= y) {
                crossings.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).filter_map(|pair| Some((*pair.first()?, *pair.last()?))).collect()
}

fn overlap(a: &[(f64, f64)], b: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut both = Vec::new();
    for x in a {
        for y in b {
            let (low, high) = (x.0.max(y.0), x.1.min(y.1));
            if low < high {
                both.push((low, high));
            }
        }
    }
    both
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(a: f64, b: f64) -> Vec<Point> {
        vec![[a, a], [b, a], [b, b], [a, b]]
    }

    #[test]
    fn a_label_keeps_out_of_the_hole() {
        let rings = [ring(0.0, 100.0), ring(30.0, 70.0)];
        let [_, y] = find(&rings, 60.0, 12.0).unwrap();
        assert!(y + 6.0 <= 30.0 || y - 6.0 >= 70.0, "{y}");
    }

    #[test]
    fn what_does_not_fit_is_left_out() {
        assert_eq!(find(&[ring(0.0, 100.0)], 101.0, 12.0), None);
        assert_eq!(find(&[ring(0.0, 10.0)], 5.0, 12.0), None);
        assert_eq!(find(&[], 5.0, 12.0), None);
    }

    #[test]
    fn a_name_makes_way_for_marks() {
        let ring = vec![vec![[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]]];
        let usual = find(&ring, 40.0, 12.0).unwrap();
        assert_eq!(find_clear(&ring, 40.0, 12.0, &[]), Some(usual));
        let moved = find_clear(&ring, 40.0, 12.0, &[usual]).unwrap();
        assert!((moved[0] - usual[0]).abs() > 20.0 || (moved[1] - usual[1]).abs() > 6.0, "{moved:?}");
    }
}
