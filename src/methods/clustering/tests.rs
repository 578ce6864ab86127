//! Clustering: a printed example, the checkerboard, and what must hold for any values.

use proptest::prelude::*;

use super::*;

/// Rook neighbours on a lattice.
fn lattice(rows: usize, columns: usize) -> Vec<Vec<usize>> {
    let near = |i: usize| {
        let (r, c) = (i / columns, i % columns);
        let mut list = Vec::new();
        if r > 0 {
            list.push(i - columns);
        }
        if c > 0 {
            list.push(i - 1);
        }
        if c + 1 < columns {
            list.push(i + 1);
        }
        if r + 1 < rows {
            list.push(i + columns);
        }
        list
    };
    (0..rows * columns).map(near).collect()
}

/// The ten zones of de Smith, Goodchild and Longley, Geospatial Analysis, as libpysal carries them; I with binary weights is 0.0317
/// by esda, a general-purpose library of spatial statistics (no printed figure was read).
#[test]
fn ten_zones() {
    let values = [2.24, 3.1, 4.55, -5.15, -4.39, 0.46, 5.54, 9.02, -2.09, -3.06];
    let near = [
        vec![1, 3],
        vec![0, 4],
        vec![3, 6],
        vec![0, 2, 4, 7],
        vec![1, 3, 5, 8],
        vec![4, 9],
        vec![2, 7],
        vec![3, 6, 8],
        vec![4, 7, 9],
        vec![5, 8],
    ];
    assert!((moran(&values, &near, Weights::Binary).unwrap().i - 0.0317).abs() < 5e-5);
}

#[test]
fn a_checkerboard_is_minus_one() {
    let values: Vec<f64> = (0..16).map(|i| f64::from((i / 4 + i % 4) % 2)).collect();
    for weights in [Weights::RowStandardised, Weights::Binary] {
        assert!((moran(&values, &lattice(4, 4), weights).unwrap().i + 1.0).abs() < 1e-12);
        assert!(global_p(&values, &lattice(4, 4), weights, 999, 1).unwrap() < 0.01);
    }
}

#[test]
fn what_cannot_be_computed_is_said() {
    let near = lattice(1, 3);
    let b = Weights::Binary;
    assert_eq!(moran(&[1.0], &near, b), Err(NoClustering::Lengths));
    assert_eq!(moran(&[1.0, f64::NAN, 2.0], &near, b), Err(NoClustering::NotANumber));
    assert_eq!(moran(&[0.3; 3], &near, b), Err(NoClustering::AllEqual));
    assert_eq!(moran(&[], &[], b), Err(NoClustering::AllEqual));
    assert_eq!(moran(&[1.0, 2.0, 3.0], &[vec![], vec![], vec![]], b), Err(NoClustering::NoNeighbours));
    for bad in [
        vec![vec![1], vec![], vec![]],
        vec![vec![0], vec![], vec![]],
        vec![vec![9], vec![], vec![]],
        vec![vec![1, 1], vec![0], vec![]],
    ] {
        assert_eq!(moran(&[1.0, 2.0, 3.0], &bad, b), Err(NoClustering::Neighbours));
    }
    let three = moran(&[1.0, 2.0, 3.0], &near, b).unwrap();
    assert_eq!((three.variance_randomised, three.z, three.p), (None, None, None));
    let whole = local(&[1.0, 2.0, 3.0], &near).unwrap();
    assert_eq!((whole[1].g_star, whole[1].g_star_p), (None, None));
}

/// The share of permutations and the normal p of the randomised z speak of the same thing.
#[test]
fn permutations_agree_with_the_moments() {
    let values: Vec<f64> = (0..49).map(|i| f64::from((i * 37) % 49)).collect();
    let near = lattice(7, 7);
    let normal = moran(&values, &near, Weights::RowStandardised).unwrap().p.unwrap();
    let dealt = global_p(&values, &near, Weights::RowStandardised, 4999, 7).unwrap();
    assert!((normal - dealt).abs() < 0.04, "{normal} {dealt}");
    let first = local_p(&values, &near, 199, 7).unwrap();
    assert_eq!(first, local_p(&values, &near, 199, 7).unwrap());
}

/// High values in one corner of a lattice: its middle stands out, an area far off does not.
#[test]
fn a_hot_spot_stands_out() {
    let near = lattice(8, 8);
    let hot = |i: usize| i / 8 < 3 && i % 8 < 3;
    let values: Vec<f64> = (0..64).map(|i| f64::from(u8::from(hot(i))) * 10.0 + ((i * 29) % 13) as f64 * 0.1).collect();
    let p = local_p(&values, &near, 999, 3).unwrap();
    assert!(p[9].unwrap() <= 0.01 && p[54].unwrap() > 0.05, "{:?} {:?}", p[9], p[54]);
    let all = local(&values, &near).unwrap();
    assert!(all[9].quadrant == Some(Quadrant::HighHigh) && all[9].g_star.unwrap() > 4.0);
}

proptest! {
    #[test]
    fn unit_and_origin_change_nothing(values in prop::collection::vec(-9.0..9.0f64, 20), unit in 0.01..100.0f64, origin in -50.0..50.0f64) {
        let near = lattice(4, 5);
        let moved: Vec<f64> = values.iter().map(|v| v * unit + origin).collect();
        let (a, b) = (moran(&values, &near, Weights::RowStandardised).unwrap(), moran(&moved, &near, Weights::RowStandardised).unwrap());
        prop_assert!((a.i - b.i).abs() < 1e-9 && (a.p.unwrap() - b.p.unwrap()).abs() < 1e-7);
        let all = local(&values, &near).unwrap();
        let mean = all.iter().map(|l| l.local_moran).sum::<f64>() / 20.0;
        prop_assert!((mean - a.i * 19.0 / 20.0).abs() < 1e-9);
    }
}
