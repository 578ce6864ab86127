//! Joint draws of the share of wells over any health limit, area by area: intervals of expected numbers and of ranks.
//!
//! One draw takes a rate for every analyte and area from the smoothed posteriors and combines them as if independent. Areas share
//! each analyte's overall level, so their draws rise and fall together, and ranks are surer than intervals suggest. A draw's
//! stream hangs on the plan's seed and the draw's number alone.

use crate::ids::{AnalyteId, AreaId};
use crate::methods::integrated::Posterior;
use crate::methods::random::Stream;
use crate::summarise::ExceedanceRow;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// How many: the ends of a 95 % interval are then known to about one part in a hundred of the draws.
const DRAWS: u64 = 1000;
/// Sets these streams apart from those of other uses of the seed.
const SALT: u64 = 0x6f75_7472_6561_6368;

/// Shares over any health limit: one row a draw, one column an area.
#[derive(Clone, Debug, Default)]
pub struct Draws {
    shares: Vec<Vec<f64>>,
    level: f64,
}

impl Draws {
    /// Draws for areas numbered from 0, from each area's worst row of every family.
    pub fn of(
        worst: &BTreeMap<AreaId, BTreeMap<AnalyteId, &ExceedanceRow>>,
        areas: usize,
        seed: u64,
        level: f64,
    ) -> Draws {
        let uses = uses(worst);
        let one = |number: u64| {
            let mut stream = Stream::new(seed ^ SALT, number);
            let mut none = vec![1.0; areas];
            for (posterior, members) in &uses {
                for (area, rate) in members.iter().zip(posterior.draw(&mut stream, members)) {
                    if let Some(none) = none.get_mut(*area) {
                        *none *= 1.0 - rate;
                    }
                }
            }
            none.into_iter().map(|none| 1.0 - none).collect()
        };
        Draws { shares: (0..DRAWS).into_par_iter().map(one).collect(), level }
    }

    /// Equal-tailed interval of an area's share.
    pub fn interval(&self, area: AreaId) -> Option<(f64, f64)> {
        let mut shares: Vec<f64> = self.shares.iter().filter_map(|draw| draw.get(area.index()).copied()).collect();
        shares.sort_by(f64::total_cmp);
        ends(&shares, self.level)
    }

    /// For each of some areas, given with their wells on record, the lowest and highest rank by expected number.
    pub fn ranks(&self, among: &[(AreaId, u32)]) -> BTreeMap<AreaId, (u32, u32)> {
        let mut ranks: Vec<Vec<u32>> = vec![Vec::with_capacity(self.shares.len()); among.len()];
        for draw in &self.shares {
            let number =
                |at: &usize| among.get(*at).map_or(0.0, |(a, n)| draw.get(a.index()).unwrap_or(&0.0) * f64::from(*n));
            let mut order: Vec<usize> = (0..among.len()).collect();
            order.sort_by(|a, b| number(b).total_cmp(&number(a)).then(a.cmp(b)));
            for (rank, at) in (1..).zip(order) {
                ranks.get_mut(at).into_iter().for_each(|list| list.push(rank));
            }
        }
        let interval = |mut list: Vec<u32>| {
            list.sort_unstable();
            ends(&list, self.level)
        };
        among.iter().zip(ranks).filter_map(|((area, _), list)| Some((*area, interval(list)?))).collect()
    }
}

/// A posterior and the areas that use it.
type Use = (Arc<Posterior>, Vec<usize>);

/// Each posterior once.
fn uses(worst: &BTreeMap<AreaId, BTreeMap<AnalyteId, &ExceedanceRow>>) -> Vec<Use> {
    // By analyte and set, so that the order of drawing is that of the tables.
    let mut uses: BTreeMap<(AnalyteId, &str, &str), Use> = BTreeMap::new();
    for (area, families) in worst {
        for row in families.values() {
            if let Some(posterior) = &row.posterior {
                let key = (row.analyte, row.set.as_str(), row.effect.as_str());
                let entry = uses.entry(key).or_insert_with(|| (Arc::clone(posterior), Vec::new()));
                entry.1.push(area.index());
            }
        }
    }
    uses.into_values().collect()
}

/// Equal-tailed ends of a sorted list.
fn ends<T: Copy>(sorted: &[T], level: f64) -> Option<(T, T)> {
    let last = sorted.len().checked_sub(1)?;
    let at = |share: f64| sorted.get((share * last as f64).round() as usize).copied();
    let tail = 0.5 * (1.0 - level);
    at(tail).zip(at(1.0 - tail))
}
