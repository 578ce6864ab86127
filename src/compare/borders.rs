//! Which areas are neighbours: those whose borders come within a metre of each other.
//!
//! A reader would question the metre: digitised borders of two areas seldom run through the very same points, and a corner that
//! touches counts. Areas that lie inside others without touching their border are no neighbours.

use crate::place::shape::{Point, Polygon, Rect, to_segment2};
use rayon::prelude::*;
use rstar::{AABB, RTree, RTreeObject};
use std::collections::BTreeSet;

/// Borders this near to each other touch (metres).
const TOUCH: f64 = 1.0;

/// A stretch of an area's border.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    ends: [Point; 2],
    area: usize,
}

impl RTreeObject for Stretch {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        AABB::from_corners(self.ends[0], self.ends[1])
    }
}

/// For each area the places of its neighbours, in order; symmetric, without itself.
pub(super) fn neighbours(areas: &[Vec<Polygon>]) -> Vec<Vec<usize>> {
    let stretches: Vec<Vec<Stretch>> =
        areas.iter().enumerate().map(|(area, polygons)| outline(area, polygons)).collect();
    let tree = RTree::bulk_load(stretches.concat());
    // Each pair is looked for once, from the area that comes first.
    let later: Vec<BTreeSet<usize>> =
        stretches.par_iter().enumerate().map(|(area, own)| touched(area, own, &tree)).collect();
    let mut all: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); areas.len()];
    for (area, others) in later.iter().enumerate() {
        for other in others {
            for (one, two) in [(area, *other), (*other, area)] {
                if let Some(list) = all.get_mut(one) {
                    list.insert(two);
                }
            }
        }
    }
    all.into_iter().map(|list| list.into_iter().collect()).collect()
}

fn outline(area: usize, polygons: &[Polygon]) -> Vec<Stretch> {
    let rings = polygons.iter().flat_map(Polygon::rings);
    rings
        .flat_map(|ring| {
            ring.windows(2).filter_map(move |pair| Some(Stretch { ends: [*pair.first()?, *pair.last()?], area }))
        })
        .collect()
}

/// Later areas that one touches.
fn touched(area: usize, own: &[Stretch], tree: &RTree<Stretch>) -> BTreeSet<usize> {
    let mut found = BTreeSet::new();
    for stretch in own {
        let Some(rect) = Rect::around(&stretch.ends) else { continue };
        let reach = AABB::from_corners(rect.min.map(|x| x - TOUCH), rect.max.map(|x| x + TOUCH));
        for other in tree.locate_in_envelope_intersecting(&reach) {
            if other.area > area && !found.contains(&other.area) && touch(stretch.ends, other.ends) {
                found.insert(other.area);
            }
        }
    }
    found
}

fn touch([a, b]: [Point; 2], [c, d]: [Point; 2]) -> bool {
    let near = |p: Point, from: Point, to: Point| to_segment2(from, to, p) <= TOUCH * TOUCH;
    near(a, c, d) || near(b, c, d) || near(c, a, b) || near(d, a, b) || cross(a, b, c, d)
}

/// Whether two stretches cross away from their ends.
fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, size: f64) -> Vec<Polygon> {
        vec![Polygon::new(vec![vec![[x, y], [x + size, y], [x + size, y + size], [x, y + size]]]).unwrap()]
    }

    #[test]
    fn sides_corners_and_narrow_gaps_touch_and_wide_gaps_do_not() {
        let areas = [
            square(0.0, 0.0, 1000.0),
            square(1000.0, 0.0, 1000.0),   // side by side
            square(1000.5, 1000.5, 400.0), // a corner of the first, half a metre off; over the second
            square(0.0, 1002.0, 500.0),    // two metres off
        ];
        assert_eq!(neighbours(&areas), [vec![1, 2], vec![0, 2], vec![0, 1], vec![]]);
    }

    #[test]
    fn a_border_that_only_shares_part_of_a_side_touches() {
        let areas = [square(0.0, 0.0, 1000.0), square(1000.9, 300.0, 100.0), square(5000.0, 0.0, 10.0)];
        assert_eq!(neighbours(&areas), [vec![1], vec![0], vec![]]);
    }

    #[test]
    fn crossing_borders_touch_and_an_island_inside_does_not() {
        let tall =
            vec![Polygon::new(vec![vec![[400.0, -500.0], [600.0, -500.0], [600.0, 1500.0], [400.0, 1500.0]]]).unwrap()];
        assert_eq!(neighbours(&[square(0.0, 0.0, 1000.0), tall]), [vec![1], vec![0]]);
        assert_eq!(neighbours(&[square(0.0, 0.0, 1000.0), square(400.0, 400.0, 100.0)]), [vec![], Vec::<usize>::new()]);
    }

    #[test]
    fn an_area_of_two_parts_has_the_neighbours_of_both() {
        let both: Vec<Polygon> = square(0.0, 0.0, 10.0).into_iter().chain(square(100.0, 0.0, 10.0)).collect();
        assert_eq!(
            neighbours(&[square(10.0, 0.0, 10.0), both, square(110.0, 0.0, 10.0)]),
            [vec![1], vec![0, 2], vec![1]]
        );
    }

    #[test]
    fn a_grid_has_eight_neighbours_inside() {
        let areas: Vec<Vec<Polygon>> =
            (0..9).map(|at| square(f64::from(at % 3) * 50.0, f64::from(at / 3) * 50.0, 50.0)).collect();
        let found = neighbours(&areas);
        assert_eq!(found.iter().map(Vec::len).collect::<Vec<_>>(), [3, 5, 3, 5, 8, 5, 3, 5, 3]);
    }
}
