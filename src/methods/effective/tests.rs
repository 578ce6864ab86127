//! Properties of the test with effective wells, and of the sums over pairs.

use super::*;
use crate::methods::random::Stream;
use proptest::prelude::*;

fn places(wells: usize, stream: &mut Stream) -> Vec<[f64; 2]> {
    (0..wells).map(|_| [stream.unit() * 3e4, stream.unit() * 2e4]).collect()
}

#[test]
fn every_pair_is_counted_once() {
    for (wells, number) in [(2, 1), (3, 2), (40, 3), (700, 4), (5000, 5)] {
        let mut stream = Stream::new(1, number);
        let at = places(wells, &mut stream);
        let [y, x]: [Vec<f64>; 2] = std::array::from_fn(|_| (0..wells).map(|_| stream.unit() - 0.3).collect());
        let squares = Squares::over(&at).unwrap();
        let total = |figure: &[f64]| squares.by_distance(figure.iter().copied()).iter().sum::<f64>();
        let n = wells as f64;
        assert_eq!(total(&vec![1.0; wells]), n * (n - 1.0) / 2.0);
        for values in [&y, &x] {
            let found = total(values);
            let (sum, squares) = values.iter().fold((0.0, 0.0), |(sum, squares), v| (sum + v, squares + v * v));
            assert!((found - (sum * sum - squares) / 2.0).abs() < 1e-7 * n * n, "{wells}: {found}");
        }
    }
}

#[test]
fn independent_wells_count_nearly_in_full_and_patches_for_little() {
    let mut stream = Stream::new(1, 9);
    let at = places(800, &mut stream);
    let lone: Vec<f64> = at.iter().map(|_| stream.unit()).collect();
    let other: Vec<f64> = at.iter().map(|_| stream.unit()).collect();
    let found = test(&at, &lone, &other).unwrap();
    assert!(found.effective > 700.0 && found.p > 0.01, "{found:?}");
    let patch = |p: &[f64; 2], size: f64| f64::from((p[0] / size).floor() as i32 % 2);
    let wide: Vec<f64> = at.iter().map(|p| patch(p, 7e3)).collect();
    let across: Vec<f64> = at.iter().map(|p| patch(&[p[1], 0.0], 7e3)).collect();
    let found = test(&at, &wide, &across).unwrap();
    assert!(found.effective < 100.0 && found.p > 0.05, "{found:?}");
}

#[test]
fn what_cannot_be_tested_is_said() {
    let two = [[0.0, 0.0], [1.0, 1.0]];
    assert_eq!(test(&[], &[], &[]), Err(NoAssociation::AllAlike));
    assert_eq!(test(&two, &[1.0], &[0.0, 1.0]), Err(NoAssociation::Lengths));
    assert_eq!(test(&two, &[1.0, f64::NAN], &[0.0, 1.0]), Err(NoAssociation::NotANumber));
    assert_eq!(test(&two, &[1.0, 1.0], &[0.0, 1.0]), Err(NoAssociation::AllAlike));
    assert_eq!(test(&[[5.0; 2]; 3], &[1.0, 0.0, 1.0], &[0.0, 1.0, 1.0]), Err(NoAssociation::OnePlace));
    assert_eq!(test(&two, &[1.0, 0.0], &[0.0, 1.0]), Err(NoAssociation::TooAlike));
}

#[test]
fn figures_of_one_ground_may_be_shared() {
    let mut stream = Stream::new(4, 4);
    let at = places(600, &mut stream);
    let figures: Vec<Vec<f64>> = (0..3).map(|_| at.iter().map(|_| (3.0 * stream.unit()).floor()).collect()).collect();
    let ground = Ground::of(&at).unwrap();
    let shared: Vec<Figure> = figures.iter().map(|values| ground.figure(values).unwrap()).collect();
    for (y, x) in [(0, 1), (0, 2), (1, 2)] {
        assert_eq!(association(&ground, &shared[y], &shared[x]), test(&at, &figures[y], &figures[x]));
    }
    let other = Ground::of(&at[..599]).unwrap();
    assert_eq!(association(&other, &shared[0], &shared[1]), Err(NoAssociation::Lengths));
    assert_eq!(other.figure(&figures[0]).err(), Some(NoAssociation::Lengths));
}

#[test]
fn two_halves_of_a_region_are_too_alike() {
    let at = places(500, &mut Stream::new(2, 2));
    let east: Vec<f64> = at.iter().map(|p| f64::from(p[0] > 1.5e4)).collect();
    let north: Vec<f64> = at.iter().map(|p| f64::from(p[0] > 1.3e4)).collect();
    assert_eq!(test(&at, &east, &north), Err(NoAssociation::TooAlike));
}

/// `cargo test --release --lib hundred_thousand -- --ignored --nocapture` prints the time that the documentation gives.
#[test]
#[ignore = "a measurement"]
fn hundred_thousand_wells() {
    let mut stream = Stream::new(3, 3);
    let at = places(100_000, &mut stream);
    let [y, x]: [Vec<f64>; 2] = std::array::from_fn(|_| at.iter().map(|_| stream.unit().round()).collect());
    let mut times: Vec<std::time::Duration> = (0..7)
        .map(|_| {
            let start = std::time::Instant::now();
            test(&at, &y, &x).unwrap();
            start.elapsed()
        })
        .collect();
    times.sort();
    println!("100,000 wells: fastest {:?}, middle {:?}", times[0], times[3]);
    assert!(times[0].as_secs() < 5);
}

proptest! {
    #[test]
    fn any_wells_have_a_share_or_a_reason(wells in prop::collection::vec((any::<f64>(), -9.0..9.0f64, -3.0..3.0f64, 0u8..4), 0..120), odd in 0usize..4) {
        let at: Vec<[f64; 2]> = wells.iter().map(|w| if odd == 0 { [w.0, w.1] } else { [w.1, w.1 * w.2] }).collect();
        let outcome: Vec<f64> = wells.iter().map(|w| if odd == 1 { w.2 * 1e99 } else { w.2.round() }).collect();
        let exposure: Vec<f64> = wells.iter().map(|w| f64::from(w.3) * if odd == 2 { 1e-300 } else { 1.0 }).collect();
        if let Ok(found) = test(&at, &outcome, &exposure) {
            prop_assert!(found.p > 0.0 && found.p <= 1.0 && found.correlation.abs() <= 1.0);
            prop_assert!(found.effective > 2.0 && found.effective <= found.wells as f64 && found.variance > 0.0);
        }
    }
}
