//! land-use.csv: for each land use, analyte, benchmark and band, the rate and how it differs from the lowest band.

use super::bands::Banding;
use super::case::Case;
use super::rows::LandUseRow;
use crate::dictionary::{Benchmark, Dictionary};
use crate::ids::AnalyteId;
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::exceedance::Counts;
use crate::methods::fisher;
use crate::methods::two_by_two::{Estimate, OddsKind, TwoByTwo, odds_ratio, risk_difference, risk_ratio};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::Findings;
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

/// Rows for each banding, in order.
pub(super) fn rows(ground: Ground<'_>, bandings: &[Banding], survey: &Survey) -> Vec<Vec<LandUseRow>> {
    let analytes: Vec<(AnalyteId, &[WellValue])> = survey.by_analyte().collect();
    let alike = of_same_wells(bandings);
    let of_analyte = |(analyte, values): &(AnalyteId, &[WellValue])| {
        let case = Case::new(ground, *analyte, values);
        let rows = alike.iter().flat_map(|(numbers, own)| numbers.iter().copied().zip(case.rows(own)));
        rows.collect::<Vec<(usize, Vec<LandUseRow>)>>()
    };
    let blocks: Vec<Vec<(usize, Vec<LandUseRow>)>> = analytes.par_iter().map(of_analyte).collect();
    let mut by_banding: Vec<Vec<LandUseRow>> = vec![Vec::new(); bandings.len()];
    for (number, rows) in blocks.into_iter().flatten() {
        if let Some(all) = by_banding.get_mut(number) {
            all.extend(rows);
        }
    }
    by_banding.iter_mut().for_each(|rows| adjust(rows));
    by_banding
}

/// Bandings in which the same wells have a band, with their numbers: they share most of the work.
fn of_same_wells(bandings: &[Banding]) -> Vec<(Vec<usize>, Vec<&Banding>)> {
    let mut groups: Vec<(Vec<usize>, Vec<&Banding>)> = Vec::new();
    for (number, banding) in bandings.iter().enumerate() {
        let same =
            |(_, own): &&mut (Vec<usize>, Vec<&Banding>)| own.first().is_some_and(|own| own.has_wells_of(banding));
        match groups.iter_mut().find(same) {
            Some((numbers, own)) => {
                numbers.push(number);
                own.push(banding);
            }
            None => groups.push((vec![number], vec![banding])),
        }
    }
    groups
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

/// A row without a benchmark: only its wells.
pub(super) fn bare(banding: &Banding, analyte: AnalyteId, number: usize, wells: u64) -> LandUseRow {
    LandUseRow { wells: u32::try_from(wells).unwrap_or(u32::MAX), ..empty(banding, analyte, number) }
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
        test_notes: Vec::new(),
    }
}

/// A row of one benchmark from the counts of its band.
pub(super) fn counted(
    plan: &Plan,
    banding: &Banding,
    benchmark: &Benchmark,
    number: usize,
    count: Counts,
) -> LandUseRow {
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
pub(super) fn against(row: &mut LandUseRow, band: Counts, reference: Counts, level: f64) {
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
    if table.reference_exceeding == 0 && table.exposed_exceeding > 0 {
        row.test_notes.push("no risk ratio: no well of the lowest band exceeds".to_owned());
    }
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
        "no well of the lowest band exceeds: the odds ratio is only a rough figure".to_owned()
    } else if table.exposed_exceeding == 0 {
        "no well of this band exceeds: the odds ratio is only a rough figure".to_owned()
    } else {
        return None;
    };
    Some(text)
}
