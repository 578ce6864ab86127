//! One analyte in the bands of several land uses in which the same wells take part: judged, ranked and placed once for all of them.

use super::bands::Banding;
use super::land_use::{Ground, against, bare, counted};
use super::neighbours_alike::{Neighbours, Of};
use super::rows::LandUseRow;
use crate::dictionary::{Analyte, Benchmark};
use crate::ids::{AnalyteId, Interval, WellId};
use crate::methods::cochran_armitage::{equal_scores, trend};
use crate::methods::exceedance::{Counts, Verdict};
use crate::methods::groups::{NoTest, Order, RankTest, Ranked, Weight};
use crate::per_well::WellValue;
use crate::summarise::judge;

/// One analyte and its values.
pub(super) struct Case<'a> {
    ground: Ground<'a>,
    analyte: AnalyteId,
    values: &'a [WellValue],
    /// Numbers of the values in order, and whether each is a limit; `None` for bacteria, which have shares only.
    order: Option<(Result<Order, NoTest>, Vec<bool>)>,
    /// The analyte's limits, each with what it makes of every value.
    limits: Vec<(&'a Benchmark, Vec<Verdict>)>,
}

/// The rank tests of one analyte and land use.
#[derive(Default)]
struct Ranks {
    p: Option<f64>,
    trend_p: Option<f64>,
    neighbour_p: Option<f64>,
    notes: Vec<String>,
}

impl<'a> Case<'a> {
    pub(super) fn new(ground: Ground<'a>, analyte: AnalyteId, values: &'a [WellValue]) -> Case<'a> {
        let own = ground.findings.benchmarks.iter().filter(|limit| limit.analyte == analyte);
        let verdicts = |limit: &Benchmark| values.iter().map(|value| judge(value.interval, limit.kind)).collect();
        let limits = own.map(|limit| (limit, verdicts(limit))).collect();
        let microbial = ground.dictionary.analytes().get(analyte).is_some_and(Analyte::is_microbial);
        let order = (!microbial).then(|| {
            // A verdict without a number takes no part, so its place in the order means nothing.
            let numbers: Vec<f64> = values.iter().map(|value| value.interval.number().unwrap_or(0.0)).collect();
            let limits = values.iter().map(|value| matches!(value.interval, Interval::Below(_))).collect();
            (Order::of(&numbers), limits)
        });
        Case { ground, analyte, values, order, limits }
    }

    /// Rows of each of the land uses: all benchmarks of the analyte; one block of bands without a benchmark if it has none.
    pub(super) fn rows(&self, bandings: &[&Banding]) -> Vec<Vec<LandUseRow>> {
        let taking = Taking::of(self, bandings);
        let mut all: Vec<Vec<LandUseRow>> = if self.limits.is_empty() {
            bandings.iter().map(|banding| self.bare(banding)).collect()
        } else {
            vec![Vec::new(); bandings.len()]
        };
        for (limit, verdicts) in &self.limits {
            all.iter_mut().zip(taking.judged(limit, verdicts)).for_each(|(rows, more)| rows.extend(more));
        }
        for (rows, ranks) in all.iter_mut().zip(taking.ranks()) {
            rows.iter_mut().for_each(|row| ranks.tell(row));
        }
        all
    }

    fn bare(&self, banding: &Banding) -> Vec<LandUseRow> {
        let mut wells = vec![0; banding.bands.len()];
        for band in self.values.iter().filter_map(|value| banding.band(value.well)) {
            wells.get_mut(usize::from(band)).into_iter().for_each(|wells| *wells += 1);
        }
        wells.into_iter().enumerate().map(|(number, wells)| bare(banding, self.analyte, number, wells)).collect()
    }
}

impl Ranks {
    fn tell(&self, row: &mut LandUseRow) {
        row.rank_p = self.p;
        row.rank_trend_p = self.trend_p;
        row.rank_neighbour_p = self.neighbour_p;
        row.test_notes.extend(self.notes.iter().cloned());
    }
}

/// The wells of a case that have a band by each of some land uses.
struct Taking<'c, 'a> {
    case: &'c Case<'a>,
    bandings: &'c [&'c Banding],
    /// Places of their values.
    places: Vec<usize>,
    wells: Vec<WellId>,
    neighbours: Neighbours,
}

impl<'c, 'a> Taking<'c, 'a> {
    fn of(case: &'c Case<'a>, bandings: &'c [&'c Banding]) -> Taking<'c, 'a> {
        let banded = |well: WellId| bandings.first().is_some_and(|banding| banding.band(well).is_some());
        let members = case.values.iter().enumerate().filter(|(_, value)| banded(value.well));
        let (places, wells): (Vec<usize>, Vec<WellId>) = members.map(|(at, value)| (at, value.well)).unzip();
        let neighbours = Neighbours::of(case.ground.wells, bandings, &wells);
        Taking { case, bandings, places, wells, neighbours }
    }

    /// p of outcomes with neighbours alike, and its note, for each land use; wells without an outcome take no part.
    fn alike(&self, of: Of, outcomes: &[Option<f64>]) -> Vec<(Option<f64>, String)> {
        let known: Vec<f64> = outcomes.iter().copied().flatten().collect();
        if known.len() == self.wells.len() {
            return self.neighbours.check(of, &known);
        }
        let wells: Vec<WellId> =
            self.wells.iter().zip(outcomes).filter(|(_, known)| known.is_some()).map(|(well, _)| *well).collect();
        Neighbours::of(self.case.ground.wells, self.bandings, &wells).check(of, &known)
    }

    /// Rows of one benchmark, for each land use.
    fn judged(&self, limit: &Benchmark, verdicts: &[Verdict]) -> Vec<Vec<LandUseRow>> {
        let own: Vec<Verdict> = self.places.iter().filter_map(|at| verdicts.get(*at)).copied().collect();
        let outcomes: Vec<Option<f64>> = own.iter().map(|verdict| one_or_none(*verdict)).collect();
        let alike = self.alike(Of::Exceeding, &outcomes);
        let rows = self.bandings.iter().zip(alike).map(|(banding, alike)| {
            let counts = self.counts(banding, &own);
            self.bands(banding, limit, &counts, alike)
        });
        rows.collect()
    }

    /// The verdicts of each band.
    fn counts(&self, banding: &Banding, verdicts: &[Verdict]) -> Vec<Counts> {
        let mut counts = vec![Counts::default(); banding.bands.len()];
        for (well, verdict) in self.wells.iter().zip(verdicts) {
            let band = banding.band(*well).and_then(|band| counts.get_mut(usize::from(band)));
            band.into_iter().for_each(|counts| counts.add(*verdict));
        }
        counts
    }

    fn bands(
        &self,
        banding: &Banding,
        limit: &Benchmark,
        counts: &[Counts],
        (neighbour_p, alike_note): (Option<f64>, String),
    ) -> Vec<LandUseRow> {
        let plan = self.case.ground.plan;
        let exceeding: Vec<u64> = counts.iter().map(|c| c.exceeding).collect();
        let known: Vec<u64> = counts.iter().map(|c| c.exceeding + c.meeting).collect();
        let trend = trend(&exceeding, &known, &equal_scores(counts.len()));
        let reference = counts.first().copied().unwrap_or_default();
        let one_band = |(number, count): (usize, &Counts)| {
            let mut row = counted(plan, banding, limit, number, *count);
            match &trend {
                Ok(trend) => row.trend_p = Some(trend.p),
                Err(why) => row.test_notes.push(format!("no trend test: {why}")),
            }
            row.neighbour_p = neighbour_p;
            row.test_notes.extend(Some(alike_note.clone()).filter(|note| !note.is_empty()));
            if number > 0 {
                against(&mut row, *count, reference, plan.summary.interval);
            }
            row
        };
        counts.iter().enumerate().map(one_band).collect()
    }

    /// Peto-Peto over all bands, for a trend over them, and with neighbours alike, for each land use. Bacteria have shares only, and
    /// verdicts without a number have no rank.
    fn ranks(&self) -> Vec<Ranks> {
        let Some((order, limits)) = &self.case.order else {
            return self.bandings.iter().map(|_| Ranks::default()).collect();
        };
        let ranked = |banding: &&Banding| {
            let number = |at: usize| self.case.values.get(at).filter(|value| value.interval.number().is_some());
            let band = |at: usize| number(at).and_then(|value| banding.band(value.well)).map(usize::from);
            Ranked::in_order(order.as_ref().map_err(|why| *why)?, limits, banding.bands.len(), band)
        };
        let ranked: Vec<Result<Ranked, NoTest>> = self.bandings.iter().map(ranked).collect();
        // Scores do not ask for groups, and every land use has the same wells.
        let scores = ranked.iter().flatten().next().map(Ranked::scores).zip(order.as_ref().ok());
        let outcome = |at: &usize| {
            let (scores, order) = scores.as_ref()?;
            let limit = self.case.values.get(*at)?.interval;
            limit.number().map(|_| scores.of(order, *at, matches!(limit, Interval::Below(_))))
        };
        let outcomes: Vec<Option<f64>> = self.places.iter().map(outcome).collect();
        let tests = ranked.into_iter().map(|ranked| ranked.map(|ranked| ranked.test(Weight::PetoPeto)));
        let alike = self.alike(Of::Concentrations, &outcomes);
        tests.zip(self.bandings).zip(alike).map(|((test, banding), alike)| ranks(test, banding, alike)).collect()
    }
}

fn ranks(test: Result<RankTest, NoTest>, banding: &Banding, (neighbour_p, note): (Option<f64>, String)) -> Ranks {
    let tested = test.and_then(|test| test.outcome.map(|all| (test, all.p)));
    match tested {
        Ok((test, p)) => Ranks {
            p: Some(p),
            trend_p: test.trend(&equal_scores(banding.bands.len())).ok().map(|trend| trend.p),
            neighbour_p,
            notes: Some(note).filter(|note| !note.is_empty()).into_iter().collect(),
        },
        Err(why) => Ranks { notes: vec![format!("no rank test: {why}")], ..Ranks::default() },
    }
}

/// 1 above the limit, 0 below.
fn one_or_none(verdict: Verdict) -> Option<f64> {
    match verdict {
        Verdict::Exceeding => Some(1.0),
        Verdict::Meeting => Some(0.0),
        Verdict::Undetermined => None,
    }
}
