//! The same question for many places, asked in an order that keeps neighbours together.
//!
//! Wells come in file order, and an index of a large layer does not fit into the processor's cache: asked in file order, most of
//! the time goes into waiting for memory. Places are visited along a Morton curve instead, on all threads, and answers are put back
//! in the order given; since each answer depends on its place alone, order and threads cannot show in them.

#![allow(
    clippy::indexing_slicing,
    reason = "the order is a permutation of the places, and points have two coordinates"
)]

use rayon::prelude::*;

use super::shape::{Point, Rect};

/// Places visited by one thread at a time.
const CHUNK: usize = 512;

/// The answer for each place, in the order of the places.
pub fn each<T: Send>(places: &[Point], answer: impl Fn(Point) -> T + Sync) -> Vec<T> {
    let order = order(places);
    let chunks = order.par_chunks(CHUNK);
    let answered = chunks.map(|chunk| chunk.iter().map(|&i| answer(places[i as usize])).collect::<Vec<T>>());
    let answered: Vec<Vec<T>> = answered.collect();
    let mut slots: Vec<Option<T>> = Vec::new();
    slots.resize_with(places.len(), || None);
    for (&i, answer) in order.iter().zip(answered.into_iter().flatten()) {
        slots[i as usize] = Some(answer);
    }
    slots.into_iter().flatten().collect()
}

/// Numbers of the places along the curve; those that are not finite come first.
fn order(places: &[Point]) -> Vec<u32> {
    let finite = |p: &&Point| p.iter().all(|x| x.is_finite());
    let rect = Rect::around(places.iter().filter(finite)).unwrap_or(Rect { min: [0.0; 2], max: [0.0; 2] });
    let mut keyed: Vec<(u32, u32)> =
        places.par_iter().zip(0_u32..places.len() as u32).map(|(p, i)| (key(*p, &rect), i)).collect();
    keyed.par_sort_unstable();
    keyed.into_iter().map(|(_, i)| i).collect()
}

/// Sixteen bits of each coordinate, interleaved.
fn key(p: Point, rect: &Rect) -> u32 {
    let step = |i: usize| {
        let width = rect.max[i] - rect.min[i];
        if width > 0.0 { ((p[i] - rect.min[i]) / width * 65_535.0) as u16 } else { 0 }
    };
    spread(step(0)) | spread(step(1)) << 1
}

/// Puts a zero between any two bits.
fn spread(bits: u16) -> u32 {
    let x = u32::from(bits);
    let x = (x | x << 8) & 0x00ff_00ff;
    let x = (x | x << 4) & 0x0f0f_0f0f;
    let x = (x | x << 2) & 0x3333_3333;
    (x | x << 1) & 0x5555_5555
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn bits_are_spread() {
        assert_eq!(spread(0b1011), 0b100_0101);
        assert_eq!(spread(u16::MAX), 0x5555_5555);
    }

    proptest! {
        #[test]
        fn answers_keep_their_places(places in prop::collection::vec(prop::array::uniform2(-1e7..1e7_f64), 0..2000)) {
            let expected: Vec<f64> = places.iter().map(|p| p[0] - 3.0 * p[1]).collect();
            prop_assert_eq!(each(&places, |p| p[0] - 3.0 * p[1]), expected);
        }
    }

    #[test]
    fn places_that_are_nowhere() {
        let places = [[f64::NAN, 1.0], [3.0, 4.0], [f64::INFINITY, 0.0]];
        assert_eq!(each(&places, |p| p[0].is_finite()), [false, true, false]);
        assert!(each(&[], |p| p).is_empty());
    }
}
