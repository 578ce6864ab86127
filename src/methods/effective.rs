//! Wells with places, an outcome and an exposure each, into a p-value that counts alike neighbours for less than they are many.
//!
//! Wells beside each other share rock, water and land use, so a test that takes each for independent news calls far too much. Here
//! the spread of the correlation is worked out from how alike both outcome and exposure are at every distance, and the test is
//! that of as many independent wells as would spread so far. A reader would question why no blocks change places: a deal
//! of blocks breaks what is alike across their borders; in trials (1,000 draws, alike over 0.04 and 0.10 of the region) it called 11 and
//! 17 of 100 surveys without a difference, where this calls about 5 (`tests/simulations/false-positives.csv`).

use super::special::beta_cdf;

mod pairs;

use pairs::Squares;

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
    let ground = Ground::of(places)?;
    association(&ground, &ground.figure(outcome)?, &ground.figure(exposure)?)
}

/// Where wells lie: what [`test`]s of several outcomes and exposures of the same wells share.
#[derive(Clone, Debug)]
pub struct Ground {
    wells: usize,
    /// The squares they lie in, and the pairs of each class of distance; `None` where all lie in one place.
    pairs: Option<(Squares, Vec<f64>)>,
}

/// A figure of each well of a ground: an outcome or an exposure.
#[derive(Clone, Debug)]
pub struct Figure {
    /// Deviations from the mean in standard deviations.
    standard: Vec<f64>,
    /// Sums of the products of two wells, by class of distance.
    alike: Vec<f64>,
}

impl Ground {
    /// Wells at these places (metres).
    ///
    /// # Errors
    /// [`NoAssociation::NotANumber`].
    pub fn of(places: &[[f64; 2]]) -> Result<Ground, NoAssociation> {
        if !places.iter().flatten().all(is_usable) {
            return Err(NoAssociation::NotANumber);
        }
        let pairs = Squares::over(places).map(|squares| {
            let pairs = squares.by_distance(std::iter::repeat_n(1.0, places.len()));
            (squares, pairs)
        });
        Ok(Ground { wells: places.len(), pairs })
    }

    /// A figure of each of the wells, in their order.
    ///
    /// # Errors
    /// [`NoAssociation::Lengths`], [`NoAssociation::NotANumber`] and [`NoAssociation::AllAlike`].
    pub fn figure(&self, values: &[f64]) -> Result<Figure, NoAssociation> {
        if values.len() != self.wells {
            return Err(NoAssociation::Lengths);
        }
        if !values.iter().all(is_usable) {
            return Err(NoAssociation::NotANumber);
        }
        let standard = standardised(values).ok_or(NoAssociation::AllAlike)?;
        let by_distance = |(squares, _): &(Squares, Vec<f64>)| squares.by_distance(standard.iter().copied());
        let alike = self.pairs.as_ref().map(by_distance).unwrap_or_default();
        Ok(Figure { standard, alike })
    }
}

/// [`test`] of two figures of one ground.
///
/// # Errors
/// [`NoAssociation::OnePlace`] and [`NoAssociation::TooAlike`]; [`NoAssociation::Lengths`] where a figure is of other wells.
pub fn association(ground: &Ground, outcome: &Figure, exposure: &Figure) -> Result<Association, NoAssociation> {
    if [outcome, exposure].iter().any(|figure| figure.standard.len() != ground.wells) {
        return Err(NoAssociation::Lengths);
    }
    let (_, pairs) = ground.pairs.as_ref().ok_or(NoAssociation::OnePlace)?;
    let n = ground.wells as f64;
    let classes = pairs.iter().zip(outcome.alike.iter().zip(&exposure.alike)).filter(|(pairs, _)| **pairs > 0.0);
    let alike: f64 = classes.map(|(pairs, (y, x))| y * x / pairs).sum();
    let variance = ((n + 2.0 * alike) / (n * n)).max(1.0 / (n - 1.0));
    let products: f64 = outcome.standard.iter().zip(&exposure.standard).map(|(y, x)| y * x).sum();
    let correlation = (products / n).clamp(-1.0, 1.0);
    let effective = (1.0 + 1.0 / variance).min(n);
    if effective < FEWEST.min(n) || effective <= 2.0 {
        return Err(NoAssociation::TooAlike);
    }
    let p = beta_cdf((effective - 2.0) / 2.0, 0.5, 1.0 - correlation * correlation);
    Ok(Association { correlation, variance, effective, wells: ground.wells, p: p.clamp(f64::MIN_POSITIVE, 1.0) })
}

fn is_usable(x: &f64) -> bool {
    x.is_finite() && x.abs() <= 1e100
}

/// Deviations from the mean in standard deviations (divisor n); `None` where there is no deviation.
fn standardised(values: &[f64]) -> Option<Vec<f64>> {
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
    (spread > 0.0 && spread.is_finite()).then(|| deviation.into_iter().map(|d| d / spread).collect())
}

#[cfg(test)]
mod tests;
