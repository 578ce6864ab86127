//! land-use.csv: for each land use, analyte, benchmark and band, the rate and how it differs from the lowest band.

use super::bands::Banding;
use super::rows::LandUseRow;
use crate::dictionary::{Benchmark, Dictionary};
use crate::ids::{AnalyteId, Interval};
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::cochran_armitage::{equal_scores, trend};
use crate::methods::exceedance::{Counts, Verdict};
use crate::methods::fisher;
use crate::methods::groups::{Weight, rank_test};
use crate::methods::two_by_two::{OddsKind, TwoByTwo, odds_ratio};
use crate::per_well::{Survey, WellValue};
use crate::plan::Plan;
use crate::summarise::{Findings, judge};
use rayon::prelude::*;

/// Rows for every land use, in the plan's order.
pub fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    bandings: &[Banding],
    survey: &Survey,
    findings: &Findings,
) -> Vec<LandUseRow> {
    let analytes: Vec<(AnalyteId, &[WellValue])> = survey.by_analyte().collect();
    bandings.iter().flat_map(|banding| one_land_use(plan, dictionary, banding, &analytes, findings)).collect()
}

fn one_land_use(
    plan: &Plan,
    dictionary: &Dictionary,
    banding: &Banding,
    analytes: &[(AnalyteId, &[WellValue])],
    findings: &Findings,
) -> Vec<LandUseRow> {
    let blocks: Vec<Vec<LandUseRow>> = analytes
        .par_iter()
        .map(|(analyte, values)| one_analyte(plan, dictionary, banding, *analyte, values, findings))
        .collect();
    let rank_p: Vec<Option<f64>> = blocks.iter().map(|rows| rows.first().and_then(|row| row.rank_p)).collect();
    let rank_q = benjamini_hochberg(&rank_p);
    let mut rows: Vec<LandUseRow> = Vec::new();
    for (mut block, q) in blocks.into_iter().zip(rank_q) {
        block.iter_mut().for_each(|row| row.rank_q = q);
        rows.extend(block);
    }
    let fisher_p: Vec<Option<f64>> = rows.iter().map(|row| row.fisher_p).collect();
    for (row, q) in rows.iter_mut().zip(benjamini_hochberg(&fisher_p)) {
        row.fisher_q = q;
    }
    rows
}

/// All benchmarks of one analyte; one block of bands without a benchmark if it has none.
fn one_analyte(
    plan: &Plan,
    dictionary: &Dictionary,
    banding: &Banding,
    analyte: AnalyteId,
    values: &[WellValue],
    findings: &Findings,
) -> Vec<LandUseRow> {
    let (rank_p, rank_note) = rank(dictionary, banding, analyte, values);
    let own: Vec<&Benchmark> = findings.benchmarks.iter().filter(|b| b.analyte == analyte).collect();
    let mut rows = match own.as_slice() {
        [] => bare(banding, analyte, values),
        some => some.iter().flat_map(|benchmark| judged(plan, banding, benchmark, values)).collect(),
    };
    for row in &mut rows {
        row.rank_p = rank_p;
        row.notes.extend(rank_note.clone());
    }
    rows
}

/// Peto-Peto over all bands. Bacteria have shares only, and verdicts without a number have no rank.
fn rank(
    dictionary: &Dictionary,
    banding: &Banding,
    analyte: AnalyteId,
    values: &[WellValue],
) -> (Option<f64>, Option<String>) {
    if dictionary.analytes().get(analyte).is_some_and(crate::dictionary::Analyte::is_microbial) {
        return (None, None);
    }
    let (mut number, mut nondetect, mut group) = (Vec::new(), Vec::new(), Vec::new());
    for value in values {
        if let (Some(band), Some(x)) = (band(banding, value), value.interval.number()) {
            number.push(x);
            nondetect.push(matches!(value.interval, Interval::Below(_)));
            group.push(usize::from(band));
        }
    }
    match rank_test(&number, &nondetect, &group, Weight::PetoPeto).outcome {
        Ok(test) => (Some(test.p), None),
        Err(why) => (None, Some(format!("no rank test: {why}"))),
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
        fisher_p: None,
        fisher_q: None,
        trend_p: None,
        rank_p: None,
        rank_q: None,
        notes: Vec::new(),
    }
}

/// Rows of one benchmark.
fn judged(plan: &Plan, banding: &Banding, benchmark: &Benchmark, values: &[WellValue]) -> Vec<LandUseRow> {
    let counts: Vec<Counts> = (0..banding.bands.len())
        .map(|number| Counts::of(in_band(banding, values, number).map(|value| verdict(value, benchmark))))
        .collect();
    let exceeding: Vec<u64> = counts.iter().map(|c| c.exceeding).collect();
    let known: Vec<u64> = counts.iter().map(|c| c.exceeding + c.meeting).collect();
    let trend = trend(&exceeding, &known, &equal_scores(counts.len()));
    let reference = counts.first().copied().unwrap_or_default();
    counts
        .iter()
        .enumerate()
        .map(|(number, count)| {
            let mut row = counted(plan, banding, benchmark, number, *count);
            match &trend {
                Ok(trend) => row.trend_p = Some(trend.p),
                Err(why) => row.notes.push(format!("no trend test: {why}")),
            }
            if number > 0 {
                against(&mut row, *count, reference, plan.summary.interval);
            }
            row
        })
        .collect()
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
    if band.exceeding + band.meeting == 0 || reference.exceeding + reference.meeting == 0 {
        row.notes.push("no wells to compare with".to_owned());
        return;
    }
    row.fisher_p = Some(fisher::test(table).p);
    match odds_ratio(table, level) {
        Some((estimate, kind)) => {
            row.odds_ratio = Some(estimate.value);
            row.odds_interval = estimate.interval.map(|[low, high]| (low, high));
            if kind == OddsKind::HalfAdded {
                row.notes.push("a cell is zero: half added to each for the odds ratio".to_owned());
            }
        }
        None => row.notes.push("no odds ratio".to_owned()),
    }
}
