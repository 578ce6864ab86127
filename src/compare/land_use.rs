//! land-use.csv: for each land use, analyte, benchmark and band, the rate and how it differs from the lowest band.

use super::bands::Banding;
use super::neighbours_alike::{self, Of};
use super::rows::LandUseRow;
use crate::dictionary::{Benchmark, Dictionary};
use crate::ids::{AnalyteId, Interval, WellId};
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::cochran_armitage::{equal_scores, trend};
use crate::methods::exceedance::{Counts, Verdict};
use crate::methods::fisher;
use crate::methods::groups::{Ranked, Weight};
use crate::methods::two_by_two::{Estimate, OddsKind, TwoByTwo, odds_ratio, risk_difference, risk_ratio};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{Findings, judge};
use rayon::prelude::*;

/// Fewest wells on either side of a comparison below which its note says so (common practice, no source).
const FEW: u64 = 10;

/// What all land uses have in common.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub plan: &'a Plan,
    pub dictionary: &'a Dictionary,
    pub findings: &'a Findings,
    pub wells: &'a Wells,
}

/// Rows for every land use, in the plan's order.
pub(super) fn rows(ground: Ground<'_>, bandings: &[Banding], survey: &Survey) -> Vec<LandUseRow> {
    let analytes: Vec<(AnalyteId, &[WellValue])> = survey.by_analyte().collect();
    bandings.iter().flat_map(|banding| one_land_use(ground, banding, &analytes)).collect()
}

fn one_land_use(ground: Ground<'_>, banding: &Banding, analytes: &[(AnalyteId, &[WellValue])]) -> Vec<LandUseRow> {
    let blocks: Vec<Vec<LandUseRow>> = analytes
        .par_iter()
        .map(|(analyte, values)| Case { ground, banding, analyte: *analyte, values }.rows())
        .collect();
    let mut rows: Vec<LandUseRow> = blocks.into_iter().flatten().collect();
    adjust(&mut rows);
    rows
}

/// Adjusts the tests of one land use for their number.
pub(super) fn adjust(rows: &mut [LandUseRow]) {
    let own = || rows.chunk_by(|a, b| a.analyte == b.analyte);
    let rank_p: Vec<Option<f64>> = own().map(|rows| rows.first().and_then(|row| row.rank_p)).collect();
    let of_each: Vec<usize> = own().map(<[LandUseRow]>::len).collect();
    let rank_q =
        benjamini_hochberg(&rank_p).into_iter().zip(of_each).flat_map(|(q, rows)| std::iter::repeat_n(q, rows));
    let rank_q: Vec<Option<f64>> = rank_q.collect();
    rows.iter_mut().zip(rank_q).for_each(|(row, q)| row.rank_q = q);
    let fisher_p: Vec<Option<f64>> = rows.iter().map(|row| row.fisher_p).collect();
    for (row, q) in rows.iter_mut().zip(benjamini_hochberg(&fisher_p)) {
        row.fisher_q = q;
    }
    adjust_neighbours(rows);
}

/// Every analyte and benchmark has one check of neighbours, which stands in each of its bands.
fn adjust_neighbours(rows: &mut [LandUseRow]) {
    let tests: Vec<Option<f64>> = rows.iter().map(|row| row.neighbour_p.filter(|_| row.band_number == 0)).collect();
    let mut q = None;
    for (row, adjusted) in rows.iter_mut().zip(benjamini_hochberg(&tests)) {
        if row.band_number == 0 {
            q = adjusted;
        }
        row.neighbour_q = q.filter(|_| row.neighbour_p.is_some());
    }
}

/// One analyte in the bands of one land use.
struct Case<'a> {
    ground: Ground<'a>,
    banding: &'a Banding,
    analyte: AnalyteId,
    values: &'a [WellValue],
}

/// The rank tests of one analyte.
#[derive(Default)]
struct Ranks {
    p: Option<f64>,
    trend_p: Option<f64>,
    neighbour_p: Option<f64>,
    notes: Vec<String>,
}

impl Case<'_> {
    /// All benchmarks of the analyte; one block of bands without a benchmark if it has none.
    fn rows(&self) -> Vec<LandUseRow> {
        let ranks = self.ranks();
        let own: Vec<&Benchmark> =
            self.ground.findings.benchmarks.iter().filter(|b| b.analyte == self.analyte).collect();
        let mut rows = match own.as_slice() {
            [] => bare(self.banding, self.analyte, self.values),
            some => some.iter().flat_map(|benchmark| self.judged(benchmark)).collect(),
        };
        for row in &mut rows {
            row.rank_p = ranks.p;
            row.rank_trend_p = ranks.trend_p;
            row.rank_neighbour_p = ranks.neighbour_p;
            row.notes.extend(ranks.notes.iter().filter(|note| !row.notes.contains(note)).cloned().collect::<Vec<_>>());
        }
        rows
    }

    /// Peto-Peto over all bands, for a trend over them, and with neighbours alike. Bacteria have shares only, and
    /// verdicts without a number have no rank.
    fn ranks(&self) -> Ranks {
        if self.ground.dictionary.analytes().get(self.analyte).is_some_and(crate::dictionary::Analyte::is_microbial) {
            return Ranks::default();
        }
        let (mut wells, mut number, mut nondetect, mut group) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for value in self.values {
            if let (Some(band), Some(x)) = (band(self.banding, value), value.interval.number()) {
                wells.push(value.well);
                number.push(x);
                nondetect.push(matches!(value.interval, Interval::Below(_)));
                group.push(usize::from(band));
            }
        }
        let mut ranks = Ranks::default();
        let tested = Ranked::of(&number, &nondetect, &group).and_then(|ranked| {
            let test = ranked.test(Weight::PetoPeto);
            test.outcome.map(|all| (ranked.scores(), test, all.p))
        });
        let (outcomes, test, p) = match tested {
            Ok(tested) => tested,
            Err(why) => {
                ranks.notes.push(format!("no rank test: {why}"));
                return ranks;
            }
        };
        ranks.p = Some(p);
        let scores = equal_scores(self.banding.bands.len());
        ranks.trend_p = test.trend(&scores).ok().map(|trend| trend.p);
        let outcomes: Vec<(WellId, f64)> = wells.into_iter().zip(outcomes).collect();
        let (p, note) = neighbours_alike::check(self.ground.wells, self.banding, Of::Concentrations, &outcomes);
        ranks.neighbour_p = p;
        ranks.notes.extend(Some(note).filter(|note| !note.is_empty()));
        ranks
    }

    /// Rows of one benchmark.
    fn judged(&self, benchmark: &Benchmark) -> Vec<LandUseRow> {
        let (plan, banding) = (self.ground.plan, self.banding);
        let counts: Vec<Counts> = (0..banding.bands.len())
            .map(|number| Counts::of(in_band(banding, self.values, number).map(|value| verdict(value, benchmark))))
            .collect();
        let exceeding: Vec<u64> = counts.iter().map(|c| c.exceeding).collect();
        let known: Vec<u64> = counts.iter().map(|c| c.exceeding + c.meeting).collect();
        let trend = trend(&exceeding, &known, &equal_scores(counts.len()));
        let outcomes: Vec<(WellId, f64)> = self
            .values
            .iter()
            .filter_map(|value| Some((value.well, one_or_none(verdict(value, benchmark))?)))
            .collect();
        let (neighbour_p, alike_note) =
            neighbours_alike::check(self.ground.wells, self.banding, Of::Exceeding, &outcomes);
        let reference = counts.first().copied().unwrap_or_default();
        let one_band = |(number, count): (usize, &Counts)| {
            let mut row = counted(plan, banding, benchmark, number, *count);
            match &trend {
                Ok(trend) => row.trend_p = Some(trend.p),
                Err(why) => row.notes.push(format!("no trend test: {why}")),
            }
            row.neighbour_p = neighbour_p;
            row.notes.extend(Some(alike_note.clone()).filter(|note| !note.is_empty()));
            if number > 0 {
                against(&mut row, *count, reference, plan.summary.interval);
            }
            row
        };
        counts.iter().enumerate().map(one_band).collect()
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

fn band(banding: &Banding, value: &WellValue) -> Option<u8> {
    banding.of_well.get(value.well.index()).copied().flatten()
}

fn in_band<'v>(banding: &'v Banding, values: &'v [WellValue], number: usize) -> impl Iterator<Item = &'v WellValue> {
    values.iter().filter(move |value| band(banding, value).map(usize::from) == Some(number))
}

/// Rows without a benchmark: only the wells and the rank test.
fn bare(banding: &Banding, analyte: AnalyteId, values: &[WellValue]) -> Vec<LandUseRow> {
    (0..banding.bands.len())
        .map(|number| {
            let wells = in_band(banding, values, number).count();
            LandUseRow { wells: u32::try_from(wells).unwrap_or(u32::MAX), ..empty(banding, analyte, number) }
        })
        .collect()
}

fn empty(banding: &Banding, analyte: AnalyteId, number: usize) -> LandUseRow {
    let band = banding.bands.get(number);
    LandUseRow {
        land_use: banding.land_use.clone(),
        band: band.map(|b| b.name.clone()).unwrap_or_default(),
        band_number: number,
        from: band.and_then(|b| b.from),
        to: band.and_then(|b| b.to),
        analyte,
        benchmark: None,
        wells: 0,
        exceeding: None,
        undetermined: None,
        rate: None,
        rate_interval: None,
        odds_ratio: None,
        odds_interval: None,
        risk_ratio: None,
        risk_ratio_interval: None,
        risk_difference: None,
        risk_difference_interval: None,
        fisher_p: None,
        fisher_mid_p: None,
        fisher_q: None,
        trend_p: None,
        rank_p: None,
        rank_q: None,
        rank_trend_p: None,
        neighbour_p: None,
        neighbour_q: None,
        rank_neighbour_p: None,
        notes: Vec::new(),
    }
}

fn verdict(value: &WellValue, benchmark: &Benchmark) -> Verdict {
    judge(value.interval, benchmark.kind)
}

fn counted(plan: &Plan, banding: &Banding, benchmark: &Benchmark, number: usize, count: Counts) -> LandUseRow {
    let small = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    let rates = count.rates(plan.summary.interval);
    LandUseRow {
        benchmark: Some((benchmark.set.clone(), benchmark.effect.as_str().to_owned())),
        wells: small(count.wells()),
        exceeding: Some(small(count.exceeding)),
        undetermined: Some(small(count.undetermined)),
        rate: rates.rate,
        rate_interval: rates.low.zip(rates.high),
        notes: vec![format!("benchmark: {}", benchmark.effect.as_str())],
        ..empty(banding, benchmark.analyte, number)
    }
}

/// The band against the lowest-exposure band.
fn against(row: &mut LandUseRow, band: Counts, reference: Counts, level: f64) {
    let table = TwoByTwo {
        exposed_exceeding: band.exceeding,
        exposed_meeting: band.meeting,
        reference_exceeding: reference.exceeding,
        reference_meeting: reference.meeting,
    };
    let (here, there) = (band.exceeding + band.meeting, reference.exceeding + reference.meeting);
    if here == 0 || there == 0 {
        row.notes.push("no wells to compare with".to_owned());
        return;
    }
    let test = fisher::test(table);
    (row.fisher_p, row.fisher_mid_p) = (Some(test.p), Some(test.mid_p));
    match odds_ratio(table, level) {
        Some((estimate, kind)) => {
            row.odds_ratio = Some(estimate.value);
            row.odds_interval = ends(Some(estimate));
            if kind == OddsKind::HalfAdded {
                row.notes.push("a cell is zero: half added to each for the odds ratio".to_owned());
            }
        }
        None => row.notes.push("no odds ratio".to_owned()),
    }
    let ratio = risk_ratio(table, level).filter(|ratio| ratio.value.is_finite());
    (row.risk_ratio, row.risk_ratio_interval) = (ratio.map(|ratio| ratio.value), ends(ratio));
    let difference = risk_difference(table, level);
    row.risk_difference = difference.map(|difference| difference.value);
    row.risk_difference_interval = ends(difference);
    row.notes.extend(caveat(table, here, there));
}

fn ends(estimate: Option<Estimate>) -> Option<(f64, f64)> {
    estimate?.interval.map(|[low, high]| (low, high))
}

/// What to say of a table that is too thin, or that the bands split without a remainder.
fn caveat(table: TwoByTwo, here: u64, there: u64) -> Option<String> {
    let exceeding = table.exposed_exceeding + table.reference_exceeding;
    let text = if exceeding == 0 {
        "no well of either band exceeds: nothing to compare".to_owned()
    } else if exceeding == here + there {
        "every well of both bands exceeds: nothing to compare".to_owned()
    } else if here < FEW || there < FEW {
        // No numbers here: the lowest band's may be hidden.
        format!("too few wells for much to be said: fewer than {FEW} here or in the lowest band")
    } else if table.reference_exceeding == 0 {
        "no well of the lowest band exceeds: no risk ratio, and the odds ratio is only a rough figure".to_owned()
    } else if table.exposed_exceeding == 0 {
        "no well of this band exceeds: the odds ratio is only a rough figure".to_owned()
    } else {
        return None;
    };
    Some(text)
}
