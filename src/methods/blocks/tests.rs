//! Properties of the block test and of the blocks.

use super::*;
use proptest::prelude::*;

/// Twelve by twelve wells in 36 blocks of four.
fn lattice() -> (Vec<[f64; 2]>, Cells, Vec<u32>) {
    let places: Vec<[f64; 2]> = (0..144).map(|at| [f64::from(at % 12), f64::from(at / 12)]).collect();
    let cells = Cells::over(&places, 36).unwrap();
    let blocks = places.iter().map(|p| cells.block(*p)).collect();
    (places, cells, blocks)
}

#[test]
fn blocks_are_the_widest_that_are_enough() {
    let (places, cells, blocks) = lattice();
    assert!((cells.size - 11.0 / 6.0).abs() < 1e-6, "{}", cells.size);
    let mut used = blocks.clone();
    used.sort_unstable();
    used.dedup();
    assert_eq!(used.len(), 36);
    assert_eq!(Cells::over(&places[..1], 2), None);
    assert_eq!(Cells::over(&[], 2), None);
}

#[test]
fn a_link_within_blocks_that_vary_is_found_and_none_is_not() {
    let (_, _, blocks) = lattice();
    let exposure: Vec<f64> = blocks.iter().map(|b| f64::from(b % 3)).collect();
    let linked: Vec<f64> =
        exposure.iter().zip(0..).map(|(x, n)| f64::from(u8::from(x + f64::from(n % 2) > 1.5))).collect();
    let mut stream = Stream::new(1, 1);
    assert!(test(&blocks, &linked, &exposure, 12, 999, &mut stream).unwrap().p < 0.01);
    let apart: Vec<f64> = blocks.iter().map(|b| f64::from(b / 6 % 2)).collect();
    assert!(test(&blocks, &apart, &exposure, 12, 999, &mut stream).unwrap().p > 0.05);
}

#[test]
fn what_cannot_be_tested_is_said() {
    let mut stream = Stream::new(1, 1);
    let few = test(&[0, 1, 2], &[0.0, 1.0, 0.0], &[0.0, 1.0, 2.0], 12, 99, &mut stream);
    assert_eq!(few, Err(NoBlockTest::FewBlocks(3)));
    assert_eq!(test(&[0, 1], &[1.0, 1.0], &[0.0, 1.0], 2, 9, &mut stream), Err(NoBlockTest::AllAlike));
    assert_eq!(test(&[0], &[1.0, 1.0], &[0.0], 2, 9, &mut stream), Err(NoBlockTest::Lengths));
    assert_eq!(test(&[0, 1], &[1.0, f64::NAN], &[0.0, 1.0], 2, 9, &mut stream), Err(NoBlockTest::NotANumber));
}

proptest! {
    #[test]
    fn any_input_has_a_share_or_a_reason(wells in prop::collection::vec((0u32..20, -3.0..3.0f64, 0u8..4), 0..120)) {
        let block: Vec<u32> = wells.iter().map(|w| w.0).collect();
        let outcome: Vec<f64> = wells.iter().map(|w| w.1.round()).collect();
        let exposure: Vec<f64> = wells.iter().map(|w| f64::from(w.2)).collect();
        if let Ok(found) = test(&block, &outcome, &exposure, 2, 49, &mut Stream::new(3, 4)) {
            prop_assert!(found.p > 0.0 && found.p <= 1.0 && found.statistic.is_finite());
        }
    }

    #[test]
    fn any_place_has_a_block(places in prop::collection::vec((any::<f64>(), any::<f64>()), 0..40), wanted in 1usize..40) {
        let places: Vec<[f64; 2]> = places.into_iter().map(|(x, y)| [x, y]).collect();
        if let Some(cells) = Cells::over(&places, wanted) {
            for place in places {
                prop_assert!(cells.block(place) < 64 * 64 && cells.along(place) < 1 << 16);
            }
        }
    }
}
