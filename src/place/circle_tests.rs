//! Circles against polygons: hand-made figures, centres where they hurt most, and properties of any partition.

use std::f64::consts::PI;

use proptest::prelude::*;

use super::*;

fn polygon(rings: &[&[Point]]) -> Polygon {
    Polygon::new(rings.iter().map(|ring| ring.to_vec()).collect()).unwrap()
}

fn square(x: f64, y: f64, side: f64) -> Polygon {
    polygon(&[&[[x, y], [x + side, y], [x + side, y + side], [x, y + side]]])
}

fn share(polygons: &[Polygon], centre: Point, radius: f64) -> f64 {
    CoverIndex::new(polygons, None).cover(centre, radius).share
}

#[track_caller]
fn near(got: f64, expected: f64) {
    assert!((got - expected).abs() <= 1e-12, "got {got}, expected {expected}");
}

#[test]
fn centres_on_borders_and_corners() {
    let unit = [square(0.0, 0.0, 10.0)];
    for (centre, expected) in [
        ([0.0, 5.0], 0.5),
        ([10.0, 5.0], 0.5),
        ([5.0, 0.0], 0.5),
        ([5.0, 10.0], 0.5),
        ([0.0, 0.0], 0.25),
        ([10.0, 0.0], 0.25),
        ([10.0, 10.0], 0.25),
        ([0.0, 10.0], 0.25),
        ([5.0, 5.0], 1.0),
        ([-1.0, 5.0], 0.0),
        ([11.0, 5.0], 0.0),
    ] {
        near(share(&unit, centre, 1.0), expected);
    }
}

#[test]
fn a_centre_a_hair_from_a_corner() {
    let unit = [square(0.0, 0.0, 1e5)];
    for step in [1e-9, -1e-9, 1e-12, -1e-12, 1e-300, 5e-324] {
        assert!((share(&unit, [step, 0.0], 500.0) - 0.25).abs() < 1e-11);
        assert!((share(&unit, [step, step], 500.0) - 0.25).abs() < 1e-11);
        assert!((share(&unit, [0.0, step], 500.0) - 0.25).abs() < 1e-11);
        assert!((share(&unit, [step, 700.0], 500.0) - 0.5).abs() < 1e-11);
    }
}

#[test]
fn overlapping_polygons_count_once() {
    let twice = [square(-10.0, -10.0, 20.0), square(-10.0, -10.0, 20.0), square(0.0, -10.0, 20.0)];
    near(share(&twice, [0.0, 0.0], 1.0), 1.0);
    let half = [square(0.0, -10.0, 20.0), square(0.0, -10.0, 25.0)];
    assert!((share(&half, [0.0, 0.0], 1.0) - 0.5).abs() < 1e-8);
}

#[test]
fn the_edge_of_the_layer() {
    let layer = Some(Rect { min: [0.0, 0.0], max: [100.0, 100.0] });
    let index = CoverIndex::new(&[square(0.0, 0.0, 50.0)], layer);
    assert_eq!(index.cover([50.0, 50.0], 10.0).edge, Edge::Within);
    assert_eq!(index.cover([95.0, 50.0], 10.0).edge, Edge::Passed);
    assert_eq!(index.cover([50.0, 50.0], 50.0).edge, Edge::Within);
}

#[test]
fn nothing_to_measure() {
    let index = CoverIndex::new(&[square(0.0, 0.0, 50.0)], None);
    for radius in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(index.cover([1.0, 1.0], radius).share, 0.0);
    }
    assert_eq!(index.cover([f64::NAN, 1.0], 5.0).share, 0.0);
    assert_eq!(share(&[], [0.0, 0.0], 5.0), 0.0);
}

/// A circle of many corners, which is cut into stretches: closed form of a regular polygon and of the lens of two circles.
#[test]
fn a_large_polygon() {
    let corners = 5000;
    let ring: Vec<Point> =
        (0..corners).map(|i| at_angle(2.0 * PI * f64::from(i) / f64::from(corners), 100.0)).collect();
    let disc = [Polygon::new(vec![ring]).unwrap()];
    let area = 0.5 * f64::from(corners) * 1e4 * libm::sin(2.0 * PI / f64::from(corners));
    near(share(&disc, [0.0, 0.0], 200.0), area / (PI * 4e4));
    near(share(&disc, [3.0, -2.0], 50.0), 1.0);
    near(share(&disc, [500.0, 0.0], 50.0), 0.0);
    let lens = 2.0 * libm::acos(0.5) - 0.5 * libm::sqrt(3.0);
    assert!((share(&disc, [100.0, 0.0], 100.0) - lens / PI).abs() < 1e-6);
}

fn at_angle(angle: f64, radius: f64) -> Point {
    [radius * libm::cos(angle), radius * libm::sin(angle)]
}

/// A plane cut into quadrilaterals with shared corners off the grid.
fn quilt(shifts: &[(f64, f64)], step: f64) -> Vec<Polygon> {
    let corner = |i: usize, j: usize| {
        let (dx, dy) = shifts[(i * 7 + j * 3) % shifts.len()];
        [(i as f64 + 0.3 * dx) * step, (j as f64 + 0.3 * dy) * step]
    };
    let cell = |i, j| polygon(&[&[corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1)]]);
    (0..8).flat_map(|i| (0..8).map(move |j| (i, j))).map(|(i, j)| cell(i, j)).collect()
}

proptest! {
    #[test]
    fn a_partition_covers_the_circle(
        shifts in prop::collection::vec((-1.0..1.0_f64, -1.0..1.0_f64), 11),
        x in 3.0..5.0_f64, y in 3.0..5.0_f64, radius in 0.01..2.5_f64, pick in 0_usize..4,
    ) {
        let cells = quilt(&shifts, 100.0);
        let mut centre = [x * 100.0, y * 100.0];
        if pick == 0 {
            centre = cells[36].rings()[0][1];
        }
        let radius = radius * 100.0;
        let sum: f64 = cells.iter().map(|cell| shared_area(cell, centre, radius)).sum();
        let circle = PI * radius * radius;
        prop_assert!((sum / circle - 1.0).abs() < 1e-12, "{}", sum / circle);
        prop_assert!((share(&cells, centre, radius) - 1.0).abs() < 1e-12);
        for cell in &cells {
            let one = shared_area(cell, centre, radius);
            prop_assert!(one >= -1e-12 * circle && one <= cell.area().min(circle) * (1.0 + 1e-12) + 1e-9);
        }
    }

    #[test]
    fn shifting_and_scaling_change_nothing(
        shifts in prop::collection::vec((-1.0..1.0_f64, -1.0..1.0_f64), 11),
        x in 0.0..8.0_f64, y in 0.0..8.0_f64, radius in 10.0..400.0_f64, east in -6e5..6e5_f64, north in 0.0..5e6_f64,
    ) {
        let cells = quilt(&shifts, 100.0);
        let some: Vec<Polygon> = cells.iter().step_by(3).cloned().collect();
        let moved = |p: &Point| [p[0] + east, p[1] + north];
        let far: Vec<Polygon> = some.iter().map(|p| Polygon::new(vec![p.rings()[0].iter().map(moved).collect()]).unwrap()).collect();
        let centre = [x * 100.0, y * 100.0];
        let here = share(&some, centre, radius);
        prop_assert!((here - share(&far, moved(&centre), radius)).abs() < 1e-9);
        let doubled = |p: &Point| [p[0] * 2.0, p[1] * 2.0];
        let big: Vec<Polygon> = some.iter().map(|p| Polygon::new(vec![p.rings()[0].iter().map(doubled).collect()]).unwrap()).collect();
        prop_assert!((here - share(&big, doubled(&centre), radius * 2.0)).abs() < 1e-13);
    }

    /// The index, in blocks and stretches, against the plain sum over one polygon.
    #[test]
    fn stretches_add_up(seed in 0_u32..500, x in -1.3..1.3_f64, y in -1.3..1.3_f64, radius in 0.001..1.5_f64) {
        let ring: Vec<Point> = (0..300).map(|i| {
            let wave = 0.6 + 0.4 * f64::from((i * 7919 + seed * 104_729) % 1000) / 1000.0;
            at_angle(f64::from(i) * 2.0 * PI / 300.0, wave)
        }).collect();
        let star = Polygon::new(vec![ring]).unwrap();
        let plain = shared_area(&star, [x, y], radius) / (PI * radius * radius);
        prop_assert!((share(&[star], [x, y], radius) - plain).abs() < 1e-12);
    }
}
