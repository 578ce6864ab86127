//! Which side an area is called to by the test of neighbours: amid high shares, amid low ones, or neither.

use super::maps::Call;
use crate::compare::HotSpot;

/// False discoveries that are put up with among the areas called, as in hot-spots.csv.
const CALLED: f64 = 0.05;

/// The side of one area.
pub(super) fn side(spot: &HotSpot) -> Call {
    match (spot.z, spot.q) {
        (Some(z), Some(q)) if q <= CALLED && z > 0.0 => Call::High,
        (Some(z), Some(q)) if q <= CALLED && z < 0.0 => Call::Low,
        (Some(_), Some(_)) => Call::Neither,
        _ => Call::Untold,
    }
}
