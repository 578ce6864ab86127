//! Outcomes of draws into the lines of a results table.

use std::collections::BTreeMap;

/// What became of one interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    NotGiven,
    Covered,
    /// The whole interval lies below the truth.
    Low,
    /// The whole interval lies above the truth.
    High,
}

impl Outcome {
    pub fn of(ends: Option<(f64, f64)>, truth: f64) -> Outcome {
        // Rounding at an end is not a miss.
        let slack = 1e-9 * truth.abs();
        match ends {
            None => Outcome::NotGiven,
            Some((_, high)) if high < truth - slack => Outcome::Low,
            Some((low, _)) if low > truth + slack => Outcome::High,
            Some(_) => Outcome::Covered,
        }
    }
}

/// Outcomes of one interval in one setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    pub interval: &'static str,
    pub draws: usize,
    pub given: usize,
    pub covered: usize,
    pub low: usize,
    pub high: usize,
}

impl Tally {
    /// Share of the intervals that hold the truth; `None` where none was given.
    pub fn coverage(&self) -> Option<f64> {
        (self.given > 0).then(|| self.covered as f64 / self.given as f64)
    }

    /// draws, given, covered, too_low, too_high: the last three as shares of those given.
    pub fn cells(&self) -> String {
        let share = |count: usize, whole: usize| {
            if whole == 0 { String::new() } else { format!("{:.4}", count as f64 / whole as f64) }
        };
        let of_given = |count| share(count, self.given);
        format!(
            "{},{},{},{},{}",
            self.draws,
            share(self.given, self.draws),
            of_given(self.covered),
            of_given(self.low),
            of_given(self.high)
        )
    }
}

/// Adds up, in the order of the first draw.
pub fn tally(draws: Vec<Vec<(&'static str, Outcome)>>) -> Vec<Tally> {
    let names: Vec<&'static str> =
        draws.first().map(|first| first.iter().map(|(name, _)| *name).collect()).unwrap_or_default();
    let mut counts: BTreeMap<&'static str, Tally> = BTreeMap::new();
    for (interval, outcome) in draws.into_iter().flatten() {
        let entry =
            counts.entry(interval).or_insert(Tally { interval, draws: 0, given: 0, covered: 0, low: 0, high: 0 });
        entry.draws += 1;
        entry.given += usize::from(outcome != Outcome::NotGiven);
        entry.covered += usize::from(outcome == Outcome::Covered);
        entry.low += usize::from(outcome == Outcome::Low);
        entry.high += usize::from(outcome == Outcome::High);
    }
    names.into_iter().filter_map(|name| counts.get(name).cloned()).collect()
}
