//! summary.csv: what the values of an analyte look like, by area and for the region.

use super::groups::{Groups, Member};
use super::rows::{Scope, SummaryRow};
use crate::dictionary::{Analyte, Dictionary};
use crate::ids::Interval;
use crate::methods::bootstrap::Settings;
use crate::methods::censored::Censored;
use crate::methods::choose::SummaryMethod;
use crate::methods::gamma::Gamma;
use crate::methods::goodness::largest_gap;
use crate::methods::mle::{Distribution, Mle};
use crate::methods::quantile_interval::{End, quantile_interval};
use crate::methods::summary::{self, Summary, summarise};
use crate::plan::Plan;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Rows of one analyte, the region first.
pub fn rows(plan: &Plan, dictionary: &Dictionary, group: &Groups<'_>) -> Vec<SummaryRow> {
    let microbial = dictionary.analytes().get(group.analyte).is_some_and(Analyte::is_microbial);
    let scopes: Vec<Scope> = group.scopes().collect();
    scopes.par_iter().map(|scope| row(plan, microbial, group, *scope)).collect()
}

fn row(plan: &Plan, microbial: bool, group: &Groups<'_>, scope: Scope) -> SummaryRow {
    let members = group.members(scope);
    let numbers = Numbers::of(members);
    let mut row = counted(group, scope, members, &numbers);
    if microbial {
        row.notes.push("bacteria: shares only".to_owned());
        return row;
    }
    if numbers.without > 0 {
        row.notes.push(format!(
            "{} without a number (present or absent only) are counted but not averaged",
            numbers.without
        ));
    }
    let settings = summary::Plan {
        bootstrap: Settings {
            level: plan.summary.interval,
            resamples: plan.summary.resamples as usize,
            seed: plan.summary.seed,
            stream: stream(group, scope),
        },
        fewest_detects: plan.summary.fewest_detects as usize,
    };
    match Censored::new(&numbers.value, &numbers.nondetect) {
        Ok(censored) if !censored.is_empty() => {
            take(&mut row, &summarise(&censored, numbers.above, &settings));
            ranks(&mut row, &censored, numbers.above, plan.summary.interval);
            fit(&mut row, &censored, &numbers);
            thin(&mut row, &censored);
        }
        Ok(_) => {}
        Err(why) => row.notes.push(format!("no summary: {why}")),
    }
    row
}

/// A random stream of its own for each group, whatever other groups there are.
fn stream(group: &Groups<'_>, scope: Scope) -> u64 {
    let area = match scope {
        Scope::Region => 0,
        Scope::Area(area) => u64::from(area.0) + 1,
    };
    (u64::from(group.analyte.0) << 32) | area
}

/// Values with a number, the lowest first, as the statistics take them.
#[derive(Default)]
struct Numbers {
    value: Vec<f64>,
    nondetect: Vec<bool>,
    /// `>x`, entered as x.
    above: usize,
    /// Verdicts without a number.
    without: usize,
}

impl Numbers {
    fn of(members: &[Member<'_>]) -> Numbers {
        let mut numbers = Numbers::default();
        let mut pairs: Vec<(f64, bool)> = Vec::with_capacity(members.len());
        for interval in members.iter().map(|member| member.value.interval) {
            match interval.number() {
                Some(x) => pairs.push((x, matches!(interval, Interval::Below(_)))),
                None => numbers.without += 1,
            }
            numbers.above += usize::from(matches!(interval, Interval::Above(_)));
        }
        // By size: the last digits of a fit must not tell the order of wells, which goes by areas.
        pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        (numbers.value, numbers.nondetect) = pairs.into_iter().unzip();
        numbers
    }
}

fn counted(group: &Groups<'_>, scope: Scope, members: &[Member<'_>], numbers: &Numbers) -> SummaryRow {
    let of = |limit: bool| {
        let own = numbers.value.iter().zip(&numbers.nondetect).filter(move |(_, below)| **below == limit);
        own.map(|(x, _)| *x)
    };
    let (detects, limits) = (|| of(false), || of(true));
    let detected = members.iter().filter(|member| member.value.interval.detected()).count();
    // Equal limits stand side by side: each different one is rounded once.
    let mut different: Vec<f64> = limits().collect();
    different.dedup();
    let different: BTreeSet<u64> =
        different.into_iter().map(|x| crate::publish::number::rounded(x).to_bits()).collect();
    SummaryRow {
        scope,
        analyte: group.analyte,
        wells: u32::try_from(members.len()).unwrap_or(u32::MAX),
        detected: u32::try_from(detected).unwrap_or(u32::MAX),
        limits: u32::try_from(different.len()).unwrap_or(u32::MAX),
        limit_range: limits().next().zip(limits().next_back()),
        lowest_detect: detects().next(),
        highest: detects().next_back(),
        mean: None,
        mean_interval: None,
        sd: None,
        quantiles: [None; 5],
        mean_upper: None,
        quantile_intervals: [[None; 2]; 2],
        p95_upper: None,
        gaps: [None; 2],
        method: SummaryMethod::SharesOnly.word(),
        notes: Vec::new(),
    }
}

fn take(row: &mut SummaryRow, summary: &Summary) {
    row.mean = summary.mean;
    row.mean_interval = summary.mean_low.zip(summary.mean_high);
    row.mean_upper = summary.mean_upper;
    row.sd = summary.sd;
    row.quantiles = summary.quantiles;
    row.method = summary.method.word();
    row.notes.extend(summary.notes.iter().map(|note| super::notes::text(*note)));
}

/// Intervals of quantiles from ranks; an upper end may not lie at a `>x`, which could be anything above.
fn ranks(row: &mut SummaryRow, group: &Censored, above: usize, level: f64) {
    let at = |end: End| match end {
        End::At(x) => Some(x),
        End::Open => None,
    };
    let known_above = above == 0;
    let ends = |p: f64, level: f64| quantile_interval(group, p, level).map(at);
    row.quantile_intervals = [0.5, 0.9].map(|p| {
        let [low, high] = ends(p, level);
        [low, high.filter(|_| known_above)]
    });
    // One-sided at a level is the upper end of a two-sided interval that leaves twice as much out.
    let two_sided = 2.0 * level - 1.0;
    row.p95_upper = ends(0.95, two_sided)[1].filter(|_| known_above);
}

/// Largest distance from the line, times the root of the wells, that a lognormal sample with fitted mean and spread passes once in
/// twenty times (Lilliefors 1967, from memory; for complete data, so with non-detects a rough guide).
const FIT_LIMIT: f64 = 0.886;

/// Where percentiles are read off a lognormal line: how far it, and a gamma distribution, are from what was found.
fn fit(row: &mut SummaryRow, group: &Censored, numbers: &Numbers) {
    if row.method != SummaryMethod::OrderStatistics.word() {
        return;
    }
    let low: Vec<f64> =
        numbers.value.iter().zip(&numbers.nondetect).map(|(x, below)| if *below { 0.0 } else { *x }).collect();
    let lognormal = Mle::of(Distribution::Lognormal, &low, &numbers.value).ok();
    let gamma = Gamma::of(group).ok();
    let finite = |gap: Option<f64>| gap.filter(|gap| gap.is_finite());
    row.gaps = [
        finite(lognormal.and_then(|fit| largest_gap(group, |x| fit.share_below(x)))),
        finite(gamma.and_then(|fit| largest_gap(group, |x| fit.share_below(x)))),
    ];
    if let Some(fit) = lognormal
        && let (Some((low, high)), mean) = (row.mean_interval, fit.mean(0.95).value)
        && mean.is_finite()
        && (mean < low || mean > high)
    {
        let mean = crate::publish::number::text(mean);
        row.notes.push(format!(
            "a lognormal distribution fitted to all values has its mean at {mean}, outside the interval"
        ));
    }
    if row.gaps[0].is_some_and(|gap| gap * (group.len() as f64).sqrt() > FIT_LIMIT) {
        row.notes
            .push("values do not follow a lognormal distribution, off which modelled percentiles are read".to_owned());
    }
}

/// Detects under which an interval of the mean of skewed values held the truth in fewer than 88 of 100 simulated groups at a nominal
/// 95 (tests/simulations/coverage.csv).
const THIN: usize = 30;

fn thin(row: &mut SummaryRow, group: &Censored) {
    if row.mean_interval.is_some() && group.detected() < THIN {
        row.notes.push(format!(
            "fewer than {THIN} detects: the interval of the mean is narrower than it says if values are skewed"
        ));
    }
}
