//! One figure an area and each area's neighbours into clustering: Moran's I, local Moran, Getis and Ord's G*.
//!
//! A reader would question the areas without neighbours: they stay in the number of areas and in the mean, and simply weigh
//! nothing. Neighbour lists must be symmetric; the closed moments hold only then.

use super::special::two_sided_normal_p;

mod permuted;

pub use permuted::{global_p, local_p};

/// Why there is nothing to compute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoClustering {
    /// Areas and neighbour lists are not equally many.
    #[error("areas and neighbour lists are not equally many")]
    Lengths,
    /// A value is no finite number.
    #[error("a value is not a number")]
    NotANumber,
    /// An area lists itself, another twice, one that does not exist, or one that does not list it.
    #[error("neighbour lists are not symmetric")]
    Neighbours,
    /// All values are equal, or there are fewer than two.
    #[error("all values are equal")]
    AllEqual,
    /// No area has a neighbour.
    #[error("no area has a neighbour")]
    NoNeighbours,
}

/// How a neighbour weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weights {
    /// One over the number of neighbours: every area with neighbours counts alike.
    RowStandardised,
    /// One: every pair counts alike.
    Binary,
}

/// Moran's I with its moments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moran {
    /// Above `expected`: neighbours are alike.
    pub i: f64,
    /// -1 / (n - 1).
    pub expected: f64,
    /// Variance if values were normal.
    pub variance_normal: f64,
    /// Variance over all ways to deal the values out; `None` with fewer than four areas.
    pub variance_randomised: Option<f64>,
    /// From the randomised variance; `None` where that is not above 0.
    pub z: Option<f64>,
    /// Two-sided normal p of z.
    pub p: Option<f64>,
}

/// Where an area and its neighbours lie about the mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quadrant {
    /// High among high: part of a hot spot.
    HighHigh,
    /// High among low.
    HighLow,
    /// Low among high.
    LowHigh,
    /// Low among low.
    LowLow,
}

/// One area's clustering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Local {
    /// Local Moran; 0 without neighbours.
    pub local_moran: f64,
    /// `None` without neighbours. A value at the mean counts as low.
    pub quadrant: Option<Quadrant>,
    /// G* as a z; above 0: a high neighbourhood. `None` where the neighbourhood is the whole region.
    pub g_star: Option<f64>,
    /// Two-sided normal p of `g_star`.
    pub g_star_p: Option<f64>,
}

/// Moran's I.
///
/// # Computes
/// n / S0 times sum w z z / sum z^2, z being distances from the mean; mean and variance under normality and randomisation.
/// # Takes
/// A value an area; for each area the places of its neighbours, symmetric, without itself.
/// # Gives
/// I, moments, z and p.
/// # Errors
/// [`NoClustering`].
/// # Conventions
/// z and p from randomisation. Areas without neighbours stay in n.
/// # Source
/// Cliff and Ord 1981, Spatial Processes (from memory).
/// # Checked against
/// `12-spatial-clustering.json`.
pub fn moran(values: &[f64], neighbours: &[Vec<usize>], weights: Weights) -> Result<Moran, NoClustering> {
    let z = centred(values, neighbours)?;
    if neighbours.iter().all(Vec::is_empty) {
        return Err(NoClustering::NoNeighbours);
    }
    let n = z.len() as f64;
    let square: f64 = z.iter().map(|z| z * z).sum();
    let kurtosis = z.iter().map(|z| z * z * z * z).sum::<f64>() * n / (square * square);
    let Moments { s0, s1, s2 } = Moments::of(neighbours, weights);
    let lagged: f64 = z.iter().zip(lags(&z, neighbours, weights)).map(|(z, lag)| z * lag).sum();
    let i = n / s0 * lagged / square;
    let expected = -1.0 / (n - 1.0);
    let variance_normal = (n * n * s1 - n * s2 + 3.0 * s0 * s0) / (s0 * s0 * (n * n - 1.0)) - expected * expected;
    let by_values = n * ((n * n - 3.0 * n + 3.0) * s1 - n * s2 + 3.0 * s0 * s0);
    let by_kurtosis = kurtosis * ((n * n - n) * s1 - 2.0 * n * s2 + 6.0 * s0 * s0);
    let ways = (n - 1.0) * (n - 2.0) * (n - 3.0) * s0 * s0;
    let variance_randomised = (n > 3.0).then(|| (by_values - by_kurtosis) / ways - expected * expected);
    // Where every area neighbours every other, I is the same however values are dealt out, and only rounding is left.
    let varies = variance_randomised.filter(|v| *v > 1e-14);
    let z = varies.map(|v| (i - expected) / v.sqrt());
    Ok(Moran { i, expected, variance_normal, variance_randomised, z, p: z.map(two_sided_normal_p) })
}

/// Local Moran and G* of each area.
///
/// # Computes
/// Local Moran (n - 1) z times the mean z of the neighbours / sum z^2; G*: the sum over the area and its neighbours less what the
/// mean makes of it, over its standard deviation.
/// # Takes
/// As [`moran`].
/// # Gives
/// One [`Local`] an area, in order.
/// # Errors
/// [`NoClustering`] other than `NoNeighbours`.
/// # Conventions
/// Local Moran row-standardised with n - 1; G* binary, with the area itself, population standard deviation.
/// # Source
/// Anselin 1995, Geographical Analysis 27; Ord and Getis 1995, Geographical Analysis 27 (from memory).
/// # Checked against
/// `12-spatial-clustering.json`.
pub fn local(values: &[f64], neighbours: &[Vec<usize>]) -> Result<Vec<Local>, NoClustering> {
    let z = centred(values, neighbours)?;
    let n = z.len() as f64;
    let square: f64 = z.iter().map(|z| z * z).sum();
    let lag = lags(&z, neighbours, Weights::RowStandardised);
    let one = |((own, lag), near): ((&f64, f64), &Vec<usize>)| {
        let among = near.len() as f64 + 1.0;
        let sum = own + near.iter().map(|j| z[*j]).sum::<f64>();
        let deviation = (square / n).sqrt() * ((n * among - among * among) / (n - 1.0)).max(0.0).sqrt();
        let g_star = (among < n).then(|| sum / deviation);
        Local {
            local_moran: (n - 1.0) * own * lag / square,
            quadrant: (!near.is_empty()).then(|| quadrant(*own, lag)),
            g_star,
            g_star_p: g_star.map(two_sided_normal_p),
        }
    };
    Ok(z.iter().zip(lag).zip(neighbours).map(one).collect())
}

fn quadrant(own: f64, lag: f64) -> Quadrant {
    match (own > 0.0, lag > 0.0) {
        (true, true) => Quadrant::HighHigh,
        (true, false) => Quadrant::HighLow,
        (false, true) => Quadrant::LowHigh,
        (false, false) => Quadrant::LowLow,
    }
}

/// Spread below this share of the largest value is rounding.
const EQUAL_EPS: f64 = 1e-13;

/// Distances from the mean, once lists and values were found usable.
fn centred(values: &[f64], neighbours: &[Vec<usize>]) -> Result<Vec<f64>, NoClustering> {
    if values.len() != neighbours.len() {
        return Err(NoClustering::Lengths);
    }
    let largest = values.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    // The fourth powers of the moments must not overflow.
    if values.iter().any(|v| !v.is_finite()) || largest > 1e60 {
        return Err(NoClustering::NotANumber);
    }
    if !symmetric(neighbours) {
        return Err(NoClustering::Neighbours);
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let z: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let spread = z.iter().fold(0.0_f64, |m, z| m.max(z.abs()));
    let equal = values.len() < 2 || spread <= EQUAL_EPS * largest || spread < 1e-60;
    if equal { Err(NoClustering::AllEqual) } else { Ok(z) }
}

fn symmetric(neighbours: &[Vec<usize>]) -> bool {
    let sorted = |list: &Vec<usize>| {
        let mut list = list.clone();
        list.sort_unstable();
        list
    };
    let lists: Vec<Vec<usize>> = neighbours.iter().map(sorted).collect();
    let mutual = |i: usize, j: &usize| *j != i && lists.get(*j).is_some_and(|back| back.binary_search(&i).is_ok());
    lists.iter().enumerate().all(|(i, list)| list.is_sorted_by(|a, b| a < b) && list.iter().all(|j| mutual(i, j)))
}

/// Weighted sum of the neighbours' values, by area.
fn lags(z: &[f64], neighbours: &[Vec<usize>], weights: Weights) -> Vec<f64> {
    let lag = |near: &Vec<usize>| near.iter().map(|j| z[*j]).sum::<f64>() * weight(near.len(), weights);
    neighbours.iter().map(lag).collect()
}

/// What each of `count` neighbours weighs.
fn weight(count: usize, weights: Weights) -> f64 {
    match weights {
        Weights::RowStandardised => 1.0 / count.max(1) as f64,
        Weights::Binary => 1.0,
    }
}

/// The three sums of the weights that the moments need.
struct Moments {
    s0: f64,
    s1: f64,
    s2: f64,
}

impl Moments {
    fn of(neighbours: &[Vec<usize>], weights: Weights) -> Self {
        let own: Vec<f64> = neighbours.iter().map(|near| weight(near.len(), weights)).collect();
        let (mut s0, mut s1, mut s2) = (0.0, 0.0, 0.0);
        for (w, near) in own.iter().zip(neighbours) {
            let row = w * near.len() as f64;
            let column: f64 = near.iter().map(|j| own[*j]).sum();
            s0 += row;
            s1 += 0.5 * near.iter().map(|j| (w + own[*j]) * (w + own[*j])).sum::<f64>();
            s2 += (row + column) * (row + column);
        }
        Moments { s0, s1, s2 }
    }
}

#[cfg(test)]
mod tests;
