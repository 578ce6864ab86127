//! land-use-model.csv: all land-use measures and depth together, by Firth's penalised logistic regression.
//!
//! Only wells with every term known and a verdict take part. A term's unit is chosen so that its odds ratio reads well:
//! a tenth of the circle, 100 m, ten features a square kilometre, 10 m of depth. Depth takes part where at least
//! four wells in five have it.

use super::rows::ModelRow;
use crate::dictionary::Benchmark;
use crate::ids::WellId;
use crate::methods::adjust::benjamini_hochberg;
use crate::methods::exceedance::Verdict;
use crate::methods::logistic::{Firth, Wells as Design, firth};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::{Measure, Plan};
use crate::summarise::{Findings, judge};
use rayon::prelude::*;

/// Share of wells with a depth from which depth takes part.
const DEPTH_KNOWN: f64 = 0.8;
/// Metres of depth in a term's unit.
const DEPTH_UNIT: f64 = 10.0;
/// Fewest wells on either side of a benchmark for a fit worth printing (common practice, no source).
const FEWEST_EITHER_SIDE: usize = 5;

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
}

/// Rows for every benchmark that has data.
pub fn rows(plan: &Plan, wells: &Wells, survey: &Survey, findings: &Findings) -> Vec<ModelRow> {
    if plan.land_use.is_empty() {
        return Vec::new();
    }
    let terms = terms(plan, wells);
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
    adjust_by_term(&mut rows, &terms);
    rows
}

fn terms(plan: &Plan, wells: &Wells) -> Vec<Term> {
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
    terms
}

fn measures(wells: &Wells, terms: &[Term], well: WellId) -> Option<Vec<f64>> {
    let one = |term: &Term| match term.column {
        Column::LandUse(number) => wells.measure(well, number).map(|x| x / term.unit),
        Column::Depth => wells.depth(well).map(|x| x / term.unit),
    };
    terms.iter().map(one).collect()
}

fn one_model(plan: &Plan, wells: &Wells, terms: &[Term], benchmark: &Benchmark, values: &[WellValue]) -> Vec<ModelRow> {
    let (mut design, mut exceeds) = (Vec::new(), Vec::new());
    for value in values {
        let verdict = judge(value.interval, benchmark.kind);
        if let (true, Some(row)) = (verdict != Verdict::Undetermined, measures(wells, terms, value.well)) {
            design.extend(row);
            exceeds.push(verdict == Verdict::Exceeding);
        }
    }
    let over = exceeds.iter().filter(|x| **x).count();
    let fit = if over < FEWEST_EITHER_SIDE || exceeds.len() - over < FEWEST_EITHER_SIDE {
        Err(format!("not fitted: fewer than {FEWEST_EITHER_SIDE} wells on one side of the benchmark"))
    } else {
        let data = Design { measures: &design, terms: terms.len(), exceeds: &exceeds };
        firth(data, plan.summary.interval).map_err(|why| format!("not fitted: {why}"))
    };
    model_rows(terms, benchmark, exceeds.len(), &fit)
}

fn model_rows(terms: &[Term], benchmark: &Benchmark, wells: usize, fit: &Result<Firth, String>) -> Vec<ModelRow> {
    let names = std::iter::once(("intercept", "")).chain(terms.iter().map(|t| (t.name.as_str(), t.unit_text)));
    names
        .enumerate()
        .map(|(number, (name, unit))| {
            let term = fit.as_ref().ok().and_then(|fit| fit.terms.get(number));
            ModelRow {
                analyte: benchmark.analyte,
                set: benchmark.set.clone(),
                term: name.to_owned(),
                estimate: term.map(|t| t.estimate),
                std_error: term.map(|t| t.std_error),
                odds_ratio: term.map(|t| t.odds_ratio),
                odds_interval: term
                    .and_then(|t| t.profile_interval)
                    .map(|[low, high]| (libm::exp(low), libm::exp(high))),
                p: term.and_then(|t| t.ratio_test).map(|(_, p)| p),
                q: None,
                wells: u32::try_from(wells).unwrap_or(u32::MAX),
                fit: fit_text(fit, benchmark, unit),
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
fn adjust_by_term(rows: &mut [ModelRow], terms: &[Term]) {
    for term in terms {
        let own: Vec<usize> =
            rows.iter().enumerate().filter(|(_, row)| row.term == term.name).map(|(at, _)| at).collect();
        let p: Vec<Option<f64>> = own.iter().map(|at| rows.get(*at).and_then(|row| row.p)).collect();
        for (at, q) in own.into_iter().zip(benjamini_hochberg(&p)) {
            if let Some(row) = rows.get_mut(at) {
                row.q = q;
            }
        }
    }
}
