//! Which limits count on a day. Turns all known [`Benchmark`]s and a choice of sets into the ones in
//! force: of each set, analyte, effect and sense the newest not later than the day. A limit without a date
//! is a proposal and never counts.
//!
//! Limits also judge close relatives (`judged_by` in `analytes.csv`): the first-draw strata of lead and
//! copper, and gross alpha by the limit on adjusted gross alpha, each unless the set has a limit of its own.

use chrono::NaiveDate;

use crate::ids::AnalyteId;

use super::analytes::Analytes;
use super::benchmarks::Benchmark;
use super::table::Table;

/// A set of limits.
#[derive(Debug, Clone)]
pub struct BenchmarkSet {
    /// Stable id, as plans name it.
    pub id: String,
    /// Its name.
    pub name: String,
    /// A few words for it beside a limit, as the report and the maps say it.
    pub short_name: String,
    /// Who issues it.
    pub issued_by: String,
    /// What it is and what it is not.
    pub meaning: String,
}

/// All limits, built-in and the county's own.
#[derive(Debug, Clone, Default)]
pub struct Benchmarks {
    sets: Vec<BenchmarkSet>,
    list: Vec<Benchmark>,
}

impl Benchmarks {
    /// Reads `benchmark-sets.csv`; the limits are added afterwards.
    pub(super) fn of_sets(table: &Table) -> Self {
        let sets = table.rows().map(|row| BenchmarkSet {
            id: row.owned("benchmark_set"),
            name: row.owned("name"),
            short_name: row.owned("short_name"),
            issued_by: row.owned("issued_by"),
            meaning: row.owned("meaning"),
        });
        Self { sets: sets.collect(), list: Vec::new() }
    }

    /// Adds limits, and with them the sets they name that are not described.
    pub(super) fn add(&mut self, limits: Vec<Benchmark>, analytes: &Analytes) {
        let first = self.list.len();
        for limit in limits {
            if !self.sets.iter().any(|set| set.id == limit.set) {
                self.sets.push(BenchmarkSet {
                    id: limit.set.clone(),
                    name: limit.set.clone(),
                    short_name: limit.set.clone(),
                    issued_by: "the survey's own file".to_owned(),
                    meaning: String::new(),
                });
            }
            self.list.push(limit);
        }
        self.lend(first, analytes);
    }

    /// The sets, built-in ones first.
    #[must_use]
    pub fn sets(&self) -> &[BenchmarkSet] {
        &self.sets
    }

    /// All limits, whatever their date.
    #[must_use]
    pub fn all(&self) -> &[Benchmark] {
        &self.list
    }

    /// The limits of `sets` in force on `as_of`, in the order of the sets asked for, then of analytes,
    /// effects and file. A set that is not known has none.
    #[must_use]
    pub fn in_force(&self, sets: &[String], as_of: NaiveDate) -> Vec<Benchmark> {
        let mut chosen: Vec<(usize, &Benchmark)> = Vec::new();
        for limit in self.list.iter().filter(|limit| limit.effective.is_some_and(|from| from <= as_of)) {
            let Some(rank) = sets.iter().position(|set| *set == limit.set) else {
                continue;
            };
            match chosen.iter_mut().find(|(_, known)| succeeds(limit, known)) {
                Some(known) if limit.effective >= known.1.effective => known.1 = limit,
                Some(_) => {}
                None => chosen.push((rank, limit)),
            }
        }
        chosen.sort_by_key(|(rank, limit)| (*rank, limit.analyte, limit.effect));
        chosen.into_iter().map(|(_, limit)| limit.clone()).collect()
    }

    /// Copies the limits from place `first` on to the analytes they judge too.
    fn lend(&mut self, first: usize, analytes: &Analytes) {
        for (borrower, entry) in analytes.iter() {
            let Some(lender) = entry.judged_by else {
                continue;
            };
            let fresh = self.list.iter().skip(first).filter(|limit| limit.analyte == lender);
            let free = fresh.filter(|limit| !self.has_own(borrower, &limit.set));
            let lent: Vec<Benchmark> = free.map(|limit| lent(limit, borrower, &entry.note)).collect();
            self.list.extend(lent);
        }
    }

    fn has_own(&self, analyte: AnalyteId, set: &str) -> bool {
        let mut own = self.list.iter().filter(|limit| limit.lent_by.is_none());
        own.any(|limit| limit.analyte == analyte && limit.set == set)
    }
}

fn lent(limit: &Benchmark, borrower: AnalyteId, note: &str) -> Benchmark {
    Benchmark {
        analyte: borrower,
        lent_by: Some(limit.analyte),
        note: format!("{note} {}", limit.note).trim().to_owned(),
        ..limit.clone()
    }
}

/// Whether two limits are editions of one.
fn succeeds(one: &Benchmark, other: &Benchmark) -> bool {
    one.set == other.set
        && one.analyte == other.analyte
        && one.effect == other.effect
        && one.kind.same_sense(other.kind)
}
