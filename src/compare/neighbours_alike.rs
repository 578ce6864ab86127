//! Does a difference between bands stand when neighbours are allowed to be alike? Wells count for as many independent ones.
//!
//! A reader would question the scores of the bands, which are 0, 1, 2 by exposure as in the trend tests beside it, and the note, which
//! tells the wells' worth as a share: a number of wells there could tell one that is hidden.

use super::bands::Banding;
use crate::ids::WellId;
use crate::methods::effective::{NoAssociation, test};
use crate::place::Wells;

/// p of outcomes (1 or 0 for exceeding, or scores) against the bands, and what to tell beside it.
pub(super) fn check(wells: &Wells, banding: &Banding, outcomes: &[(WellId, f64)]) -> (Option<f64>, String) {
    let (mut places, mut outcome, mut exposure) = (Vec::new(), Vec::new(), Vec::new());
    for (well, seen) in outcomes {
        let band = banding.of_well.get(well.index()).copied().flatten();
        if let (Some(band), Some(place)) = (band, wells.xy(*well)) {
            places.push(place);
            outcome.push(*seen);
            exposure.push(f64::from(band));
        }
    }
    match test(&places, &outcome, &exposure) {
        Ok(found) => {
            let worth = (100.0 * found.effective / found.wells as f64).round();
            (Some(found.p), format!("neighbours alike: wells count for {worth} % of their number"))
        }
        Err(NoAssociation::AllAlike) => (None, String::new()),
        Err(why) => (None, format!("no check of neighbours: {why}")),
    }
}
