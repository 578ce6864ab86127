//! Wells with places, an outcome and an exposure each, into a p-value that counts alike neighbours for less than they are many.
//!
//! Wells beside each other share rock, water and land use, so a test that takes each for independent news calls far too much. Here
//! the spread of the correlation is worked out from how alike both outcome and exposure are at every distance, and the test is
//! that of as many independent wells as would spread so far. A reader would question why no blocks change places: a deal
//! of blocks breaks what is alike across their borders; in trials (1,000 draws, alike over 0.04 and 0.10 of the region) it called 11 and
//! 17 of 100 surveys without a difference, where this calls about 5 (`tests/simulations/false-positives.csv`).

use super::special::beta_cdf;

mod pairs;

/// Fewest independent wells that a p may rest on (common practice, no source).
pub const FEWEST: f64 = 6.0;

/// Why there is no p.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoAssociation {
    /// Places, outcomes and exposures are not equally many.
    #[error("places, outcomes and exposures are not equally many")]
    Lengths,
    /// A place, outcome or exposure is no finite number.
    #[error("a value is not a number")]
    NotANumber,
    /// All outcomes or all exposures are the same, or there are too few of them.
    #[error("outcomes or exposures are all alike")]
    AllAlike,
    /// All wells lie in one place.
    #[error("all wells lie in one place")]
    OnePlace,
    /// Neighbours are alike over so wide a range that hardly anything independent is left.
    #[error("neighbours are alike over so wide a range that the wells count as fewer than {FEWEST} independent ones")]
    TooAlike,
}

/// A correlation of wells that need not be independent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Association {
    /// Pearson's correlation; above 0: higher outcomes where exposure is higher.
    pub correlation: f64,
    /// Variance of the correlation where there is no link.
    pub variance: f64,
    /// Independent wells that would give this variance; at most the wells there are.
    pub effective: f64,
    /// Wells.
    pub wells: usize,
    /// Two-sided p.
    pub p: f64,
}

/// Tests a correlation between two figures of wells, both of which may be alike among neighbours.
///
/// # Computes
/// r, and its variance by Clifford, Richardson and Hemon: pairs of wells are sorted into classes by distance; with N pairs in a class
/// and the mean products of deviations there, C of the outcome and D of the exposure, the variance of r is
/// (n + 2 sum of N C D / (variances of both)) / n^2. M = 1 + 1 / variance independent wells would do as well, and p is that of a
/// correlation of M wells (Student's t with M - 2).
/// # Takes
/// Places (metres), outcomes (1 or 0 for exceeding, or scores) and exposures, equally many.
/// # Gives
/// [`Association`]; p is never much below that of the test that takes wells for independent, since M is at most their number.
/// # Errors
/// [`NoAssociation`]. With M below [`FEWEST`] there is no p.
/// # Conventions
/// Variances with divisor n. Classes of distance: see [`pairs`]; three an octave, from about 1/64 to 1/256 of the region's longer
/// side, by the number of wells. A sum of products below 0 (neighbours unlike) counts for nothing.
/// Time: proportional to wells; about 35 ms for 100,000 (`hundred_thousand_wells` in the tests measures it).
/// # Source
/// Clifford, Richardson and Hemon 1989, Biometrics 45, 123-134; Dutilleul 1993, Biometrics 49, 305-314, for the t with M - 2
/// (from memory).
/// # Checked against
/// A program over all pairs, written apart (`tests/comparisons/neighbours.json`); false-positive rates and power in
/// `tests/false_positives.rs`.
pub fn test(places: &[[f64; 2]], outcome: &[f64], exposure: &[f64]) -> Result<Association, NoAssociation> {
    if places.len() != outcome.len() || places.len() != exposure.len() {
        return Err(NoAssociation::Lengths);
    }
    let usable = |x: &f64| x.is_finite() && x.abs() <= 1e100;
    if !places.iter().flatten().chain(outcome).chain(exposure).all(usable) {
        return Err(NoAssociation::NotANumber);
    }
    let (Some(outcome), Some(exposure)) = (Centred::of(outcome), Centred::of(exposure)) else {
        return Err(NoAssociation::AllAlike);
    };
    let n = places.len() as f64;
    let classes = pairs::by_distance(places, &outcome.standard, &exposure.standard).ok_or(NoAssociation::OnePlace)?;
    let alike: f64 = classes.iter().filter(|class| class[0] > 0.0).map(|class| class[1] * class[2] / class[0]).sum();
    let variance = ((n + 2.0 * alike) / (n * n)).max(1.0 / (n - 1.0));
    let products: f64 = outcome.standard.iter().zip(&exposure.standard).map(|(y, x)| y * x).sum();
    let correlation = (products / n).clamp(-1.0, 1.0);
    let effective = (1.0 + 1.0 / variance).min(n);
    if effective < FEWEST.min(n) || effective <= 2.0 {
        return Err(NoAssociation::TooAlike);
    }
    let p = beta_cdf((effective - 2.0) / 2.0, 0.5, 1.0 - correlation * correlation);
    Ok(Association { correlation, variance, effective, wells: places.len(), p: p.clamp(f64::MIN_POSITIVE, 1.0) })
}

/// Deviations from the mean in standard deviations (divisor n).
struct Centred {
    standard: Vec<f64>,
}

impl Centred {
    /// `None` where there is no deviation.
    fn of(values: &[f64]) -> Option<Centred> {
        let first = *values.first()?;
        if values.iter().all(|x| *x == first) {
            return None;
        }
        let n = values.len() as f64;
        let mean = values.iter().map(|x| x / n).sum::<f64>();
        let deviation: Vec<f64> = values.iter().map(|x| x - mean).collect();
        let widest = deviation.iter().fold(0.0f64, |widest, d| widest.max(d.abs()));
        // In parts of the widest, so that squares neither vanish nor overflow.
        let spread = widest * (deviation.iter().map(|d| (d / widest) * (d / widest)).sum::<f64>() / n).sqrt();
        (spread > 0.0 && spread.is_finite())
            .then(|| Centred { standard: deviation.into_iter().map(|d| d / spread).collect() })
    }
}

#[cfg(test)]
mod tests;
