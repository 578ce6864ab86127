//! Which side an area is called to by the test of neighbours: amid high shares, amid low ones, or neither.

use crate::compare::HotSpot;

/// False discoveries that are put up with among the areas called, as in hot-spots.csv.
const CALLED: f64 = 0.05;

/// What an area's neighbourhood is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// Amid unusually high shares.
    High,
    /// Amid unusually low shares.
    Low,
    /// Like the rest of the region.
    Neither,
    /// Too few wells to take part.
    Untold,
}

/// The side of one area.
pub(super) fn side(spot: &HotSpot) -> Side {
    match (spot.z, spot.q) {
        (Some(z), Some(q)) if q <= CALLED && z > 0.0 => Side::High,
        (Some(z), Some(q)) if q <= CALLED && z < 0.0 => Side::Low,
        (Some(_), Some(_)) => Side::Neither,
        _ => Side::Untold,
    }
}
