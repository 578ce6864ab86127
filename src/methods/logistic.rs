//! Exceeding or not, against several measures at once, into odds ratios: plain logistic regression and Firth's penalised one.
//!
//! A reader would question the penalty. With few exceeding wells the plain fit is biased away from no effect and has no answer at
//! all where a measure splits the outcomes; Firth's has one, and its intervals and tests come from the profile of the penalised
//! likelihood, since standard errors mislead just there. Wells alike in every measure are counted as one row, so the order of
//! wells changes no digit.

use super::special::{two_sided_normal_p, two_sided_z};

mod likelihood;
mod matrix;
mod newton;
mod prepared;
mod profile;

use likelihood::Penalty;
use newton::Fitted;
use prepared::Prepared;
use profile::Interval;

/// Wells and their measures.
#[derive(Clone, Copy, Debug)]
pub struct Wells<'a> {
    /// Measures, one well after the other, without the constant.
    pub measures: &'a [f64],
    /// Measures a well; may be 0 (constant only).
    pub terms: usize,
    /// Whether each well exceeds.
    pub exceeds: &'a [bool],
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// Measures are not wells times terms.
    #[error("measures and wells do not match")]
    Lengths,
    /// A measure is no finite number.
    #[error("a measure is not a number")]
    NotANumber,
    /// No wells.
    #[error("no wells")]
    NoWells,
    /// A term (counted from 1; 0 is the constant) is determined by those before it, or has one value only.
    #[error("term {0} does not vary by itself")]
    Collinear(usize),
    /// Some combination of measures splits the outcomes without error: the plain estimate is infinite.
    #[error("the measures split the outcomes without error")]
    Separated,
    /// The iteration did not settle.
    #[error("the fit did not settle")]
    NotSettled,
}

/// One term of the plain fit; the constant is the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlainTerm {
    /// Change of the log odds for one unit of the measure.
    pub estimate: f64,
    /// From the inverse information.
    pub std_error: f64,
    /// exp(estimate).
    pub odds_ratio: f64,
    /// exp(estimate -+ z std_error); `None` for a confidence not between 0 and 1.
    pub odds_interval: Option<[f64; 2]>,
    /// Two-sided normal p of estimate / std_error.
    pub wald_p: f64,
}

/// The plain fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Plain {
    /// The constant, then the terms.
    pub terms: Vec<PlainTerm>,
    /// Log-likelihood.
    pub log_likelihood: f64,
}

/// One term of Firth's fit; the constant is the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirthTerm {
    /// Change of the log odds for one unit of the measure.
    pub estimate: f64,
    /// From the inverse of the unpenalised information at the estimate.
    pub std_error: f64,
    /// exp(estimate).
    pub odds_ratio: f64,
    /// estimate -+ z std_error, on the log scale.
    pub wald_interval: Option<[f64; 2]>,
    /// Two-sided normal p of estimate / std_error.
    pub wald_p: f64,
    /// Profile interval of the estimate, on the log scale; `None` where an end did not settle.
    pub profile_interval: Option<[f64; 2]>,
    /// Penalised likelihood ratio test of no effect and its p on one degree of freedom; `None` where the restricted fit failed.
    pub ratio_test: Option<(f64, f64)>,
}

/// Firth's fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Firth {
    /// The constant, then the terms.
    pub terms: Vec<FirthTerm>,
    /// Log-likelihood plus half the log determinant of the information.
    pub penalised_log_likelihood: f64,
}

/// Plain logistic regression.
///
/// # Computes
/// The maximum of the likelihood of a log odds that is linear in the measures; Wald intervals and p.
/// # Takes
/// Finite measures and outcomes of the same wells; the two-sided confidence. Scale measures so that one unit means something.
/// # Gives
/// A term for the constant and for each measure, in their order.
/// # Errors
/// [`NoFit`]; `Separated` where the maximum lies at infinity (also where no well, or every well, exceeds).
/// # Conventions
/// Standard errors from the expected information, which is the observed one here.
/// # Source
/// Albert and Anderson 1984, Biometrika 71, for separation (from memory).
/// # Checked against
/// `09-logistic.json` (`ml`, `separated`), `20-bangladesh-arsenic.json`.
pub fn plain(wells: Wells<'_>, confidence: f64) -> Result<Plain, NoFit> {
    let rows = Prepared::of(wells)?;
    let fit = newton::plain(&rows, vec![0.0; rows.columns])?;
    let z = two_sided_z(confidence);
    let term = |j: usize| {
        let (estimate, std_error) = on_scale(&rows, &fit, j);
        let interval = z.map(|z| [-z, z].map(|z| libm::exp(estimate + z * std_error)));
        PlainTerm {
            estimate,
            std_error,
            odds_ratio: libm::exp(estimate),
            odds_interval: interval,
            wald_p: two_sided_normal_p(estimate / std_error),
        }
    };
    Ok(Plain { terms: (0..rows.columns).map(term).collect(), log_likelihood: fit.point.log_likelihood })
}

/// Whether some direction of the measures splits the outcomes without error, completely or but for wells on the border.
///
/// # Computes
/// Follows the plain fit; where it runs away, the direction it runs in is held against every well.
/// # Takes
/// As [`plain`].
/// # Gives
/// Whether the plain estimate is infinite.
/// # Errors
/// [`NoFit`] other than `Separated`.
/// # Conventions
/// A well counts as on the border within 1e-6 of the largest distance.
/// # Source
/// Albert and Anderson 1984, Biometrika 71 (from memory).
/// # Checked against
/// `09-logistic.json` (`separated`, made by a linear programme).
pub fn is_separated(wells: Wells<'_>) -> Result<bool, NoFit> {
    let rows = Prepared::of(wells)?;
    splits(&rows, vec![0.0; rows.columns])
}

/// The answer is the same from wherever the fit starts; it is had soonest from near the plain estimate.
fn splits(rows: &Prepared, beta: Vec<f64>) -> Result<bool, NoFit> {
    match newton::plain(rows, beta) {
        Ok(_) => Ok(false),
        Err(NoFit::Separated) => Ok(true),
        Err(other) => Err(other),
    }
}

/// Firth's penalised logistic regression.
///
/// # Computes
/// The maximum of the log-likelihood plus half the log determinant of the information; for each term the interval in which the
/// profile of that sum stays within half the chi-squared quantile of its maximum, and the test of 0 in the same way.
/// # Takes
/// As [`plain`].
/// # Gives
/// Finite figures also where the outcomes are separated or all alike.
/// # Errors
/// [`NoFit`], never `Separated`.
/// # Conventions
/// Restricted fits keep the full information matrix in the penalty. Standard errors are those of the unpenalised information.
/// # Source
/// Firth 1993, Biometrika 80, 27-38; Heinze and Schemper 2002, Statistics in Medicine 21, 2409-2419 (both from memory).
/// # Checked against
/// `09-logistic.json` (`firth`).
pub fn firth(wells: Wells<'_>, confidence: f64) -> Result<Firth, NoFit> {
    let rows = Prepared::of(wells)?;
    Ok(penalised(&rows, &best(&rows)?, confidence))
}

/// [`firth`] and [`is_separated`] of the same wells, whose rows are made ready once.
///
/// # Errors
/// As [`firth`].
pub fn firth_beside_separation(wells: Wells<'_>, confidence: f64) -> Result<(Firth, Result<bool, NoFit>), NoFit> {
    let rows = Prepared::of(wells)?;
    let fit = best(&rows)?;
    Ok((penalised(&rows, &fit, confidence), splits(&rows, fit.beta)))
}

/// From where some of the rows have their maximum, which saves half the passes over all of them.
fn best(rows: &Prepared) -> Result<Fitted, NoFit> {
    let fit = |rows: &Prepared, from, settled| newton::fit(rows, Penalty::Jeffreys, from, None, settled);
    let nothing = || vec![0.0; rows.columns];
    let near = rows.some().and_then(|some| fit(&some, nothing(), newton::COARSE).ok());
    fit(rows, near.map_or_else(nothing, |near| near.beta), newton::FINE)
}

fn penalised(rows: &Prepared, fit: &Fitted, confidence: f64) -> Firth {
    let z = two_sided_z(confidence);
    let intervals: Vec<Option<Interval>> =
        (0..rows.columns).map(|j| z.and_then(|z| profile::interval(rows, fit, j, z))).collect();
    let settled = profile::settled(&intervals);
    let term = |j: usize| {
        let (estimate, std_error) = on_scale(rows, fit, j);
        FirthTerm {
            estimate,
            std_error,
            odds_ratio: libm::exp(estimate),
            wald_interval: z.map(|z| [-z, z].map(|z| estimate + z * std_error)),
            wald_p: two_sided_normal_p(estimate / std_error),
            profile_interval: intervals[j].map(|interval| interval.ends),
            ratio_test: profile::ratio_test(rows, fit, j, settled),
        }
    };
    let on_data_scale = rows.scale.iter().map(|s| libm::log(*s)).sum::<f64>();
    Firth {
        terms: (0..rows.columns).map(term).collect(),
        penalised_log_likelihood: fit.point.objective(Penalty::Jeffreys) + on_data_scale,
    }
}

/// Estimate and standard error of a term in units of the data.
fn on_scale(rows: &Prepared, fit: &Fitted, j: usize) -> (f64, f64) {
    (fit.beta[j] / rows.scale[j], fit.point.factor.inverse_diagonal(j).sqrt() / rows.scale[j])
}

#[cfg(test)]
mod tests;
