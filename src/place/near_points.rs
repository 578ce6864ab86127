//! Many points, and which of them are nearest to a place.
//!
//! Points are halved at their middle, by x and y in turn, down to a handful. A reader would question why the tree of `nearest` does
//! not stand here: it holds pieces of lines too, and of points alone, asked for once a well, this one answers in a fraction of the time.

use super::shape::Point;
use std::cmp::Ordering;

/// Points that are not halved any more.
const HANDFUL: usize = 8;
/// Points from which both halves are made on threads of their own.
const MANY: usize = 1 << 14;

/// Points in the order of their halves: those on the low side of the middle one stand before it, the others behind it.
#[derive(Clone, Debug, Default)]
pub struct NearPoints(Vec<Point>);

impl NearPoints {
    /// Sorts points into halves.
    pub fn new(mut points: Vec<Point>) -> NearPoints {
        halve(&mut points, Axis::X);
        NearPoints(points)
    }

    /// The point nearest to a place.
    pub fn nearest(&self, place: Point) -> Option<Point> {
        let mut found = [NONE];
        search(&self.0, Axis::X, place, &mut found);
        known(found.first())
    }

    /// The second nearest: the nearest other one to a place that is one of the points. It may lie at the same place.
    pub fn second(&self, place: Point) -> Option<Point> {
        let mut found = [NONE; 2];
        search(&self.0, Axis::X, place, &mut found);
        known(found.last())
    }
}

/// By which of its two numbers a point is on the low side.
#[derive(Clone, Copy)]
enum Axis {
    X,
    Y,
}

impl Axis {
    fn of(self, [x, y]: Point) -> f64 {
        match self {
            Axis::X => x,
            Axis::Y => y,
        }
    }

    fn other(self) -> Axis {
        match self {
            Axis::X => Axis::Y,
            Axis::Y => Axis::X,
        }
    }

    fn order(self, a: &Point, b: &Point) -> Ordering {
        self.of(*a).total_cmp(&self.of(*b))
    }
}

fn halve(points: &mut [Point], axis: Axis) {
    if points.len() <= HANDFUL {
        return;
    }
    let middle = points.len() / 2;
    points.select_nth_unstable_by(middle, |a, b| axis.order(a, b));
    let many = points.len() >= MANY;
    let (low, rest) = points.split_at_mut(middle);
    // The middle one stays where it is.
    let Some((_, high)) = rest.split_first_mut() else { return };
    if many {
        rayon::join(|| halve(low, axis.other()), || halve(high, axis.other()));
    } else {
        halve(low, axis.other());
        halve(high, axis.other());
    }
}

/// A squared distance and its point.
type Found = (f64, Point);

/// None found yet.
const NONE: Found = (f64::INFINITY, [0.0; 2]);

fn known(found: Option<&Found>) -> Option<Point> {
    found.filter(|(squared, _)| squared.is_finite()).map(|(_, point)| *point)
}

/// Brings the nearest ones found so far, nearest first, up to date.
fn search(points: &[Point], axis: Axis, place: Point, found: &mut [Found]) {
    let split = if points.len() > HANDFUL { points.split_at_checked(points.len() / 2) } else { None };
    let Some((low, Some((middle, high)))) = split.map(|(low, rest)| (low, rest.split_first())) else {
        points.iter().for_each(|point| offer(*point, place, found));
        return;
    };
    offer(*middle, place, found);
    let beyond = axis.of(place) - axis.of(*middle);
    let (near, far) = if beyond < 0.0 { (low, high) } else { (high, low) };
    search(near, axis.other(), place, found);
    if found.last().is_some_and(|(squared, _)| beyond * beyond < *squared) {
        search(far, axis.other(), place, found);
    }
}

fn offer(point: Point, place: Point, found: &mut [Found]) {
    let apart = |axis: Axis| axis.of(point) - axis.of(place);
    let squared = apart(Axis::X) * apart(Axis::X) + apart(Axis::Y) * apart(Axis::Y);
    let mut new = (squared, point);
    for known in found {
        if new.0 < known.0 {
            std::mem::swap(known, &mut new);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn apart(a: Point, b: Point) -> f64 {
        (a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1])
    }

    #[test]
    fn of_none_and_of_one_there_is_no_second() {
        let one = NearPoints::new(vec![[1.0, 2.0]]);
        assert_eq!((one.nearest([5.0, 5.0]), one.second([5.0, 5.0])), (Some([1.0, 2.0]), None));
        assert_eq!(NearPoints::default().nearest([0.0, 0.0]), None);
    }

    #[test]
    fn many_points_at_one_place_are_found_at_once() {
        let points = NearPoints::new(vec![[3.0, 4.0]; 200_000]);
        let start = std::time::Instant::now();
        assert!((0..10_000).all(|_| points.second([3.0, 4.0]) == Some([3.0, 4.0])));
        assert!(start.elapsed().as_secs() < 5, "{:?}", start.elapsed());
    }

    proptest! {
        /// On a coarse lattice, so that many places and distances are equal.
        #[test]
        fn the_nearest_are_those_of_a_walk_over_all(
            points in prop::collection::vec((0u8..40, 0u8..40), 0..300),
            place in (-10i16..50, -10i16..50),
        ) {
            let points: Vec<Point> = points.iter().map(|(x, y)| [f64::from(*x), f64::from(*y)]).collect();
            let place = [f64::from(place.0), f64::from(place.1)];
            let mut all: Vec<f64> = points.iter().map(|point| apart(*point, place)).collect();
            all.sort_by(f64::total_cmp);
            let near = NearPoints::new(points);
            prop_assert_eq!(near.nearest(place).map(|point| apart(point, place)), all.first().copied());
            prop_assert_eq!(near.second(place).map(|point| apart(point, place)), all.get(1).copied());
        }
    }
}
