//! land-use-model.csv: all land-use measures and depth together, by Firth's penalised logistic regression.
//!
//! Only wells with every term known and a verdict take part. A term's unit is chosen so that its odds ratio reads well:
//! a tenth of the circle, 100 m, ten features a square kilometre, 10 m of depth, a year. Depth takes part where at least
//! four wells in five have it, the year of the sample where samples span two years. A last row tells whether neighbours are
//! alike beyond what the model knows. Few or separated wells are told in `fit`, and never silently dropped.

use super::residuals;
use super::rows::ModelRow;
use crate::dictionary::Benchmark;
use crate::ids::Day;
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::exceedance::Verdict;
use crate::methods::logistic::{Firth, NoFit, Wells as Design, firth_beside_separation};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::{Measure, Plan};
use crate::summarise::{Findings, judge};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Share of wells with a depth from which depth takes part.
const DEPTH_KNOWN: f64 = 0.8;
/// Metres of depth in a term's unit.
const DEPTH_UNIT: f64 = 10.0;
/// Days of a year: the unit of the year of sampling.
const YEAR: f64 = 365.25;
/// Days that samples must span for the year to take part: two years (common practice, no source).
const SHORTEST_SPAN: i32 = 730;
/// Exceeding (or meeting) wells for each term below which the fit says that it is thin (common practice, no source).
const THIN: usize = 10;
/// Fewest wells on either side of a benchmark for a fit worth printing (common practice, no source).
const FEWEST_EITHER_SIDE: usize = 5;

/// The term that stands for no measure.
const INTERCEPT: &str = "intercept";

/// A term of the model.
struct Term {
    name: String,
    unit: f64,
    unit_text: &'static str,
    column: Column,
}

enum Column {
    LandUse(usize),
    Depth,
    /// Years since this day.
    Year(Day),
}

/// Rows for every benchmark that has data.
pub fn rows(plan: &Plan, wells: &Wells, survey: &Survey, findings: &Findings) -> Vec<ModelRow> {
    if plan.land_use.is_empty() {
        return Vec::new();
    }
    let terms = terms(plan, wells, survey);
    let values: Vec<_> = survey.by_analyte().collect();
    let jobs: Vec<(&Benchmark, &[WellValue])> = findings
        .benchmarks
        .iter()
        .filter_map(|benchmark| {
            values.iter().find(|(analyte, _)| *analyte == benchmark.analyte).map(|(_, v)| (benchmark, *v))
        })
        .collect();
    let mut rows: Vec<ModelRow> = jobs
        .par_iter()
        .flat_map_iter(|(benchmark, values)| one_model(plan, wells, &terms, benchmark, values))
        .collect();
    adjust(&mut rows);
    rows
}

fn terms(plan: &Plan, wells: &Wells, survey: &Survey) -> Vec<Term> {
    let mut terms: Vec<Term> = plan
        .land_use
        .iter()
        .enumerate()
        // Several radii of one land use say the same thing again: the first one speaks for them.
        .filter(|(number, one)| !plan.land_use.iter().take(*number).any(|earlier| earlier.family == one.family))
        .map(|(number, land_use)| {
            let (unit, unit_text) = match land_use.measure {
                Measure::Share { .. } => (0.1, "a tenth of the circle"),
                Measure::Nearest { .. } => (100.0, "100 m"),
                Measure::Density { .. } => (10.0, "10 a square kilometre"),
            };
            Term { name: land_use.name.clone(), unit, unit_text, column: Column::LandUse(number) }
        })
        .collect();
    let placed = wells.ids().filter(|well| wells.area(*well).is_some());
    let (with_depth, all) =
        placed.fold((0usize, 0usize), |(with, all), well| (with + usize::from(wells.depth(well).is_some()), all + 1));
    if with_depth > 0 && with_depth as f64 >= DEPTH_KNOWN * all as f64 {
        terms.push(Term {
            name: "depth_m".to_owned(),
            unit: DEPTH_UNIT,
            unit_text: "10 m of depth",
            column: Column::Depth,
        });
    }
    let days = || survey.values.iter().map(|value| value.day);
    if let (Some(first), Some(last)) = (days().min(), days().max())
        && last.0 - first.0 >= SHORTEST_SPAN
    {
        let (name, unit_text) = ("sample_year".to_owned(), "later year of sampling");
        terms.push(Term { name, unit: YEAR, unit_text, column: Column::Year(first) });
    }
    terms
}

fn measures(wells: &Wells, terms: &[Term], value: &WellValue) -> Option<Vec<f64>> {
    let one = |term: &Term| match term.column {
        Column::LandUse(number) => wells.measure(value.well, number).map(|x| x / term.unit),
        Column::Depth => wells.depth(value.well).map(|x| x / term.unit),
        Column::Year(first) => Some(f64::from(value.day.0 - first.0) / term.unit),
    };
    terms.iter().map(one).collect()
}

fn one_model(plan: &Plan, wells: &Wells, terms: &[Term], benchmark: &Benchmark, values: &[WellValue]) -> Vec<ModelRow> {
    let (mut design, mut exceeds, mut places) = (Vec::new(), Vec::new(), Vec::new());
    for value in values {
        let verdict = judge(value.interval, benchmark.kind);
        if let (true, Some(row)) = (verdict != Verdict::Undetermined, measures(wells, terms, value)) {
            design.extend(row);
            exceeds.push(verdict == Verdict::Exceeding);
            places.push(wells.xy(value.well).unwrap_or([f64::NAN; 2]));
        }
    }
    let data = Design { measures: &design, terms: terms.len(), exceeds: &exceeds };
    let over = exceeds.iter().filter(|x| **x).count();
    let fewer = over.min(exceeds.len() - over);
    let fitted = if fewer < FEWEST_EITHER_SIDE {
        Err(format!("not fitted: fewer than {FEWEST_EITHER_SIDE} wells on one side of the benchmark"))
    } else {
        firth_beside_separation(data, plan.summary.interval).map_err(|why| format!("not fitted: {why}"))
    };
    let words = fitted.as_ref().map_or_else(|_| Vec::new(), |(_, separated)| caveats(data, fewer, *separated));
    let fit = fitted.map(|(fit, _)| fit);
    let mut rows = model_rows(terms, benchmark, exceeds.len(), &fit, &words);
    if let Ok(fit) = &fit {
        rows.push(neighbours_row(terms, benchmark, data, &places, fit));
    }
    rows
}

/// What to know of a fit that succeeded.
fn caveats(data: Design<'_>, fewer: usize, separated: Result<bool, NoFit>) -> Vec<String> {
    let mut words = Vec::new();
    if fewer < THIN * data.terms {
        words.push(format!("thin: {fewer} wells on the rarer side for {} terms", data.terms));
    }
    if separated == Ok(true) {
        words.push("separated: the terms tell all wells apart, so ratios have no upper bound in the data".to_owned());
    }
    words
}

/// Moran's I of the residuals: `estimate` is I and `std_error` its error if wells were dealt out at random.
fn neighbours_row(
    terms: &[Term],
    benchmark: &Benchmark,
    data: Design<'_>,
    places: &[[f64; 2]],
    fit: &Firth,
) -> ModelRow {
    let estimates: Vec<f64> = fit.terms.iter().map(|term| term.estimate).collect();
    let chance = |row: &[f64]| {
        let log_odds = estimates.iter().zip(std::iter::once(&1.0).chain(row)).map(|(b, x)| b * x).sum::<f64>();
        1.0 / (1.0 + libm::exp(-log_odds))
    };
    let fitted: Vec<f64> = data.measures.chunks_exact(terms.len().max(1)).map(chance).collect();
    let effect = benchmark.effect.as_str();
    let (found, note, wells) = match residuals::clustering(places, data.exceeds, &fitted) {
        Ok((moran, wells)) => (Some(moran), ALIKE.to_owned(), wells),
        Err(why) => (None, why, data.exceeds.len()),
    };
    ModelRow {
        estimate: found.map(|moran| moran.i),
        std_error: found.and_then(|moran| moran.variance_randomised).filter(|v| *v > 0.0).map(f64::sqrt),
        p: found.and_then(|moran| moran.p),
        wells: u32::try_from(wells).unwrap_or(u32::MAX),
        fit: format!("{effect}; {note}"),
        ..blank_row(benchmark, residuals::TERM)
    }
}

const ALIKE: &str = "Moran's I of the residuals; a small p says that neighbours are alike beyond the model, whose p-values are then too small";

fn blank_row(benchmark: &Benchmark, term: &str) -> ModelRow {
    ModelRow {
        analyte: benchmark.analyte,
        set: benchmark.set.clone(),
        effect: benchmark.effect.as_str(),
        term: term.to_owned(),
        estimate: None,
        std_error: None,
        odds_ratio: None,
        odds_interval: None,
        p: None,
        q: None,
        wells: 0,
        fit: String::new(),
    }
}

fn model_rows(
    terms: &[Term],
    benchmark: &Benchmark,
    wells: usize,
    fit: &Result<Firth, String>,
    words: &[String],
) -> Vec<ModelRow> {
    let names = std::iter::once((INTERCEPT, "")).chain(terms.iter().map(|t| (t.name.as_str(), t.unit_text)));
    names
        .enumerate()
        .map(|(number, (name, unit))| {
            let term = fit.as_ref().ok().and_then(|fit| fit.terms.get(number));
            ModelRow {
                estimate: term.map(|t| t.estimate),
                std_error: term.map(|t| t.std_error),
                odds_ratio: term.map(|t| t.odds_ratio),
                odds_interval: term
                    .and_then(|t| t.profile_interval)
                    .map(|[low, high]| (libm::exp(low), libm::exp(high))),
                p: term.and_then(|t| t.ratio_test).map(|(_, p)| p),
                wells: u32::try_from(wells).unwrap_or(u32::MAX),
                fit: std::iter::once(&fit_text(fit, benchmark, unit))
                    .chain(words)
                    .cloned()
                    .collect::<Vec<_>>()
                    .join("; "),
                ..blank_row(benchmark, name)
            }
        })
        .collect()
}

fn fit_text(fit: &Result<Firth, String>, benchmark: &Benchmark, unit: &str) -> String {
    let effect = benchmark.effect.as_str();
    match fit {
        Err(why) => format!("{effect}; {why}"),
        Ok(_) if unit.is_empty() => format!("{effect}; Firth"),
        Ok(_) => format!("{effect}; Firth; odds ratio for each {unit}"),
    }
}

/// Benjamini-Hochberg over the benchmarks, for each term.
pub(super) fn adjust(rows: &mut [ModelRow]) {
    // Not of the intercept, which answers no question.
    let names: BTreeSet<String> = rows.iter().map(|row| row.term.clone()).filter(|name| name != INTERCEPT).collect();
    for name in names {
        let own: Vec<usize> = rows.iter().enumerate().filter(|(_, row)| row.term == name).map(|(at, _)| at).collect();
        let p: Vec<Option<f64>> = own.iter().map(|at| rows.get(*at).and_then(|row| row.p)).collect();
        for (at, q) in own.into_iter().zip(benjamini_hochberg(&p)) {
            if let Some(row) = rows.get_mut(at) {
                row.q = q;
            }
        }
    }
}
