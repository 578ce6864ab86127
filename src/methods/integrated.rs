//! Small-area rates: counts of exceeding and meeting wells of all areas into a rate for each that
//! borrows strength from the rest.
//!
//! The overall mean and the spread between areas are not plugged in but integrated over. A reader
//! would question why: a plugged-in spread near zero makes intervals that are far too narrow (at
//! nominal 95 % they covered 36 to 89 % in simulations). The prior of the spread is another: one that
//! leaves no room for areas that are alike makes them too wide, and chances of concern too near the
//! middle. How: `hyper` turns the counts of all areas
//! into weighted Beta components, `area` turns these and one area's counts into figures.

mod area;
mod draws;
mod hyper;

use std::collections::BTreeMap;

use thiserror::Error;

use super::random::Stream;
use area::Columns;
use hyper::Components;

/// Why no rate can be had.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoPosterior {
    /// The two lists belong together, area by area.
    #[error("{exceeding} counts of exceeding wells but {wells} of wells")]
    LengthsDiffer {
        /// Length of the first list.
        exceeding: usize,
        /// Length of the second list.
        wells: usize,
    },
    /// More wells exceed than there are.
    #[error("area {position} has more exceeding wells than wells")]
    MoreThanAll {
        /// Position of the area, from 0.
        position: usize,
    },
    /// No area has a well.
    #[error("no area has a well")]
    NoWells,
    /// The level or the rate of concern is not between 0 and 1.
    #[error("level and rate of concern lie between 0 and 1")]
    OutOfRange,
    /// The quadrature does not give a whole.
    #[error("the chances of an area do not add up to one")]
    Quadrature,
}

/// How much areas are thought to differ before any result is seen: the distribution of k / (n0 + k), the weight that an
/// area of n0 wells gives to the overall mean, k being the concentration of the areas' rates and n0 the median number of wells
/// of areas that have wells. n0 / k is the variance between areas over that of an area's own share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpreadPrior {
    /// Beta(1/2, 1/2): the spread over an area's own error is half-Cauchy with scale 1. What the program publishes.
    ///
    /// # Source
    /// Gelman 2006, Polson and Scott 2012 (from memory).
    HalfCauchy,
    /// Uniform: k of density n0 / (n0 + k)^2. Its density of the spread is nothing at no spread, so that areas which are alike are
    /// held to differ; kept as a yardstick.
    ///
    /// # Source
    /// Christiansen and Morris 1997 (from memory).
    UniformShrinkage,
}

impl SpreadPrior {
    /// The Beta parameters of the weight.
    fn beta(self) -> (f64, f64) {
        match self {
            SpreadPrior::HalfCauchy => (0.5, 0.5),
            SpreadPrior::UniformShrinkage => (1.0, 1.0),
        }
    }
}

/// What is asked of each area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// Two-sided level of the interval, such as 0.95.
    pub level: f64,
    /// Rate above which an area is of concern.
    pub concern: f64,
}

/// What is known of one area's true rate; all are shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AreaRate {
    /// Posterior mean.
    pub mean: f64,
    /// Low end of the equal-tailed interval; below one in a million it stands as 0.
    pub low: f64,
    /// High end; within one in a million of 1 it stands as 1.
    pub high: f64,
    /// Chance that the rate is above the rate of concern.
    pub chance_above: f64,
}

/// The posterior over all areas of a region.
#[derive(Clone, Debug)]
pub struct Posterior {
    components: Components,
    exceeding: Vec<u64>,
    wells: Vec<u64>,
}

impl Posterior {
    /// `fit_under` the prior that the program publishes, `SpreadPrior::HalfCauchy`.
    ///
    /// # Errors
    /// As `fit_under`.
    /// # Checked against
    /// `tests/comparisons/small-areas.json`, made apart by quadrature over another variable.
    pub fn fit(exceeding: &[u64], wells: &[u64]) -> Result<Self, NoPosterior> {
        Self::fit_under(SpreadPrior::HalfCauchy, exceeding, wells)
    }

    /// # Computes
    /// The beta-binomial model x ~ Binomial(n, p), p ~ Beta(mu k, (1 - mu) k), with mu uniform on 0
    /// to 1 and a prior of k; as a mixture over a grid in logit(mu) and ln(k).
    /// # Takes
    /// For each area the exceeding wells and the exceeding and meeting wells; areas without wells
    /// take no part in the fit.
    /// # Errors
    /// Lists of different length, more exceeding than wells, no wells at all; a posterior without
    /// weight (not seen).
    /// # Checked against
    /// `tests/reference/statistics/22-small-areas-integrated.json`, under `UniformShrinkage`.
    pub fn fit_under(prior: SpreadPrior, exceeding: &[u64], wells: &[u64]) -> Result<Self, NoPosterior> {
        if exceeding.len() != wells.len() {
            return Err(NoPosterior::LengthsDiffer { exceeding: exceeding.len(), wells: wells.len() });
        }
        if let Some(position) = exceeding.iter().zip(wells).position(|(x, n)| x > n) {
            return Err(NoPosterior::MoreThanAll { position });
        }
        if wells.iter().all(|n| *n == 0) {
            return Err(NoPosterior::NoWells);
        }
        let components = Components::of(prior, exceeding, wells);
        if components.len() == 0 {
            return Err(NoPosterior::Quadrature);
        }
        Ok(Posterior { components, exceeding: exceeding.to_vec(), wells: wells.to_vec() })
    }

    /// # Computes
    /// For each area mean, equal-tailed interval and chance above the rate of concern of the
    /// mixture of Beta(mu k + x, (1 - mu) k + n - x).
    /// # Gives
    /// One entry an area, in order; an area without wells gets what the others say of it.
    /// # Errors
    /// A level or rate outside 0 to 1; a quadrature that does not add up to one within 1e-5 (not
    /// seen).
    pub fn rates(&self, question: &Question) -> Result<Vec<AreaRate>, NoPosterior> {
        let within = |x: f64| x > 0.0 && x < 1.0;
        if !within(question.level) || !within(question.concern) {
            return Err(NoPosterior::OutOfRange);
        }
        let mut columns = Columns::new(&self.components, &self.exceeding, &self.wells);
        // Areas with the same counts share their figures.
        let mut known: BTreeMap<(u64, u64), AreaRate> = BTreeMap::new();
        let mut rates = Vec::with_capacity(self.wells.len());
        for (x, n) in self.exceeding.iter().zip(&self.wells) {
            let rate = match known.get(&(*x, *n)) {
                Some(rate) => *rate,
                None => columns.rate(*x, *n, question)?,
            };
            known.insert((*x, *n), rate);
            rates.push(rate);
        }
        Ok(rates)
    }

    /// # Computes
    /// For each area the chance that its true rate is among the highest fifth (rounded up) of all
    /// areas, as the share of joint draws from the posterior in which it is.
    /// # Takes
    /// A stream and how many draws; 400 leave a standard error of at most 0.025.
    /// # Conventions
    /// Rates are compared by their logits, so that rates next to nothing are not taken for equal. One area alone is the worst
    /// fifth; areas without wells take part with what the others say of them.
    pub fn chance_worst_fifth(&self, mut stream: Stream, draws: u32) -> Vec<f64> {
        let areas = self.wells.len();
        let worst = areas.div_ceil(5);
        let mut hits = vec![0u32; areas];
        let mut rates = vec![0.0; areas];
        let mut sorted = rates.clone();
        for _ in 0..draws {
            let (a, b) = self.components.draw(stream.unit());
            for ((rate, x), n) in rates.iter_mut().zip(&self.exceeding).zip(&self.wells) {
                *rate = stream.beta_logit(a + *x as f64, b + (n - x) as f64);
            }
            sorted.copy_from_slice(&rates);
            let (_, least, _) = sorted.select_nth_unstable_by(areas - worst, f64::total_cmp);
            for (hit, rate) in hits.iter_mut().zip(&rates) {
                *hit += u32::from(rate >= least);
            }
        }
        hits.into_iter().map(|hit| f64::from(hit) / f64::from(draws.max(1))).collect()
    }

    /// Number of Beta components in use.
    pub fn components(&self) -> usize {
        self.components.len()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const QUESTION: Question = Question { level: 0.95, concern: 0.05 };

    /// One area alone, 3 of 20: figures of an independent quadrature (case "one area" of file 22).
    #[test]
    fn one_area_alone() {
        let posterior = Posterior::fit_under(SpreadPrior::UniformShrinkage, &[3], &[20]).unwrap();
        let got = posterior.rates(&QUESTION).unwrap()[0];
        let pairs = [(got.mean, 0.179442), (got.low, 0.051890), (got.high, 0.361639), (got.chance_above, 0.977735)];
        for (figure, known) in pairs {
            assert!((figure - known).abs() < 2e-5, "{figure} {known}");
        }
    }

    #[test]
    fn what_cannot_be_fitted_is_said() {
        let of = |x: &[u64], n: &[u64]| Posterior::fit(x, n).map(|_| ());
        assert_eq!(of(&[], &[]), Err(NoPosterior::NoWells));
        assert_eq!(of(&[0], &[0]), Err(NoPosterior::NoWells));
        assert_eq!(of(&[2], &[1]), Err(NoPosterior::MoreThanAll { position: 0 }));
        assert_eq!(of(&[2], &[]), Err(NoPosterior::LengthsDiffer { exceeding: 1, wells: 0 }));
    }

    #[test]
    fn worst_fifth_adds_up_and_finds_the_worst() {
        let posterior =
            Posterior::fit(&[1, 30, 4, 25, 0, 18, 2, 40, 3, 1], &[40, 50, 45, 48, 39, 50, 41, 55, 60, 20]).unwrap();
        let chances = posterior.chance_worst_fifth(Stream::new(1, 1), 500);
        assert!((chances.iter().sum::<f64>() - 2.0).abs() < 1e-9);
        assert!(chances[7] > 0.9 && chances[4] == 0.0, "{chances:?}");
    }

    /// No exceedance anywhere, one anywhere, one area: chances still add up to the number of worst places.
    #[test]
    fn worst_fifth_at_the_boundaries() {
        let wells = [10, 10, 0, 25, 400, 10, 10];
        for exceeding in [[0; 7], [0, 0, 0, 1, 0, 0, 0], [10, 10, 0, 25, 400, 10, 10]] {
            let chances = Posterior::fit(&exceeding, &wells).unwrap().chance_worst_fifth(Stream::new(1, 2), 400);
            assert!((chances.iter().sum::<f64>() - 2.0).abs() < 1e-9, "{chances:?}");
            assert!(chances.iter().all(|c| *c < 0.9), "{chances:?}");
        }
        assert_eq!(Posterior::fit(&[1], &[4]).unwrap().chance_worst_fifth(Stream::new(1, 3), 50), [1.0]);
    }

    #[test]
    fn large_areas_follow_their_own_rate() {
        let got = Posterior::fit(&[50_000, 10, 0], &[100_000, 1000, 3]).unwrap().rates(&QUESTION).unwrap();
        assert!((got[0].mean - 0.5).abs() < 1e-3 && (got[0].high - got[0].low - 0.0062).abs() < 2e-4, "{got:?}");
    }

    /// Nearly all of the posterior lies beyond the end of the grid, in the tails summed in closed form.
    #[test]
    fn none_among_very_many_and_all_among_very_many() {
        let wells = [19_371, 22_831, 27_069];
        let none = Posterior::fit(&[0, 0, 0], &wells).unwrap().rates(&QUESTION).unwrap();
        assert!(none.iter().all(|r| r.low == 0.0 && r.high < 1e-3 && r.chance_above < 1e-6), "{none:?}");
        let all = Posterior::fit(&wells, &wells).unwrap().rates(&QUESTION).unwrap();
        assert!(all.iter().all(|r| r.high == 1.0 && r.low > 0.999), "{all:?}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn every_area_has_figures_in_order(list in prop::collection::vec((0u64..60, 0.0..1.0f64), 1..20)) {
            let wells: Vec<u64> = list.iter().map(|(n, _)| *n).collect();
            let exceeding: Vec<u64> = list.iter().map(|(n, part)| (*n as f64 * part * part).round() as u64).collect();
            let Ok(posterior) = Posterior::fit(&exceeding, &wells) else { return Ok(()) };
            for rate in posterior.rates(&QUESTION).unwrap() {
                prop_assert!(0.0 <= rate.low && rate.low <= rate.mean && rate.mean <= rate.high && rate.high <= 1.0, "{:?}", rate);
                prop_assert!((0.0..=1.0).contains(&rate.chance_above));
            }
        }
    }
}
