//! Does a difference between bands stand when neighbours are allowed to be alike? Wells count for as many independent ones.
//!
//! A reader would question the scores of the bands, which are 0, 1, 2 by exposure as in the trend tests beside it, and the note, which
//! tells the wells' worth as a share: a number of wells there could tell one that is hidden.

use super::bands::Banding;
use crate::ids::WellId;
use crate::methods::effective::{NoAssociation, test};
use crate::place::Wells;

/// Of what the bands are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    /// 1 for exceeding, 0 for meeting: the column `neighbour_p`.
    Exceeding,
    /// Scores of concentrations: the column `rank_neighbour_p`.
    Concentrations,
}

impl Of {
    fn words(self) -> [&'static str; 2] {
        match self {
            Of::Exceeding => ["exceeding", "neighbour_p"],
            Of::Concentrations => ["concentrations", "rank_neighbour_p"],
        }
    }
}

/// p of outcomes against the bands, and what to tell beside it; nothing where every well counts in full.
pub(super) fn check(wells: &Wells, banding: &Banding, of: Of, outcomes: &[(WellId, f64)]) -> (Option<f64>, String) {
    let (mut places, mut outcome, mut exposure) = (Vec::new(), Vec::new(), Vec::new());
    for (well, seen) in outcomes {
        let band = banding.of_well.get(well.index()).copied().flatten();
        if let (Some(band), Some(place)) = (band, wells.xy(*well)) {
            places.push(place);
            outcome.push(*seen);
            exposure.push(f64::from(band));
        }
    }
    let [what, column] = of.words();
    match test(&places, &outcome, &exposure) {
        Ok(found) => {
            let worth = (100.0 * found.effective / found.wells as f64).round();
            let note = format!("neighbours alike in {what}: {column} counts the wells for {worth} % of their number");
            (Some(found.p), if worth < 100.0 { note } else { String::new() })
        }
        Err(NoAssociation::AllAlike) => (None, String::new()),
        Err(why) => (None, format!("no {column}: {why}")),
    }
}
