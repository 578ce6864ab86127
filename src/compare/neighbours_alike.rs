//! Does a difference between bands stand when neighbours are allowed to be alike? Wells count for as many independent ones.
//!
//! A reader would question the scores of the bands, which are 0, 1, 2 by exposure as in the trend tests beside it, and the note, which
//! tells the wells' worth as a share: a number of wells there could tell one that is hidden.

use super::bands::Banding;
use crate::ids::WellId;
use crate::methods::effective::{Association, Figure, Ground, NoAssociation, association};
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

/// Wells and the bands they are in by several land uses: what the checks of all their outcomes share.
pub(super) struct Neighbours {
    ground: Result<Ground, NoAssociation>,
    /// The bands of each land use.
    exposures: Vec<Result<Figure, NoAssociation>>,
}

impl Neighbours {
    /// Wells that have a band by every one of the land uses.
    pub(super) fn of(wells: &Wells, bandings: &[&Banding], taking: &[WellId]) -> Neighbours {
        // A well without a place would be no number, and is told as such: there is none.
        let places: Vec<[f64; 2]> = taking.iter().map(|well| wells.xy(*well).unwrap_or([f64::NAN; 2])).collect();
        let ground = Ground::of(&places);
        let bands = |banding: &&Banding| {
            let band = |well: &WellId| banding.band(*well).map_or(f64::NAN, f64::from);
            let bands: Vec<f64> = taking.iter().map(band).collect();
            ground.as_ref().map_err(|why| *why).and_then(|ground| ground.figure(&bands))
        };
        let exposures = bandings.iter().map(bands).collect();
        Neighbours { ground, exposures }
    }

    /// For each land use p of outcomes, one a well, against the bands, and what to tell beside it; nothing where every well counts in
    /// full.
    pub(super) fn check(&self, of: Of, outcomes: &[f64]) -> Vec<(Option<f64>, String)> {
        let ground = self.ground.as_ref().map_err(|why| *why);
        let outcome = ground.and_then(|ground| ground.figure(outcomes));
        let found = |exposure: &Result<Figure, NoAssociation>| {
            let outcome = outcome.as_ref().map_err(|why| *why)?;
            association(ground?, outcome, exposure.as_ref().map_err(|why| *why)?)
        };
        self.exposures.iter().map(|exposure| told(of, found(exposure))).collect()
    }
}

fn told(of: Of, found: Result<Association, NoAssociation>) -> (Option<f64>, String) {
    let [what, column] = of.words();
    match found {
        Ok(found) => {
            let worth = (100.0 * found.effective / found.wells as f64).round();
            let note = format!("neighbours alike in {what}: {column} counts the wells for {worth} % of their number");
            (Some(found.p), if worth < 100.0 { note } else { String::new() })
        }
        Err(NoAssociation::AllAlike) => (None, String::new()),
        Err(why) => (None, format!("no {column}: {why}")),
    }
}
