//! One value a well becomes rates, summaries and trends by area and for the region.
//!
//! Comes in: the reduced survey and the placed wells. Goes out: `Findings`. Nothing can go wrong but the disk: a figure the data
//! cannot give is empty, with its reason in the row's notes. Every group has a random stream of its own, so that no
//! group's answer depends on another's.

mod balance;
mod blanks;
mod cells;
mod coverage;
mod duplicates;
mod exceedance;
mod groups;
mod notes;
mod panel;
mod quality;
mod rows;
mod summary;
mod sums;
mod trend;

pub use coverage::{CoverageRow, rows as coverage};
pub use exceedance::{NOT_SMOOTHED, judge, reading, smooth};
pub use groups::{Groups, Member};
pub use panel::AnyHealthRow;
pub use quality::quality;
pub use rows::{ExceedanceRow, QualityRow, Scope, SummaryRow, TrendRow};
pub use sums::EXCEED_ALREADY;
pub use trend::adjust as adjust_trends;

use crate::dictionary::{Benchmark, Dictionary};
use crate::ids::{AnalyteId, Day};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::{Plan, Sums};
use crate::problem::Problem;
use rayon::prelude::*;

/// What the survey says, by area and for the region.
#[derive(Debug, Default)]
pub struct Findings {
    /// Limits in force on `as_of`.
    pub benchmarks: Vec<Benchmark>,
    /// The day that limits and ages refer to.
    pub as_of: Option<Day>,
    /// exceedance.csv
    pub exceedance: Vec<ExceedanceRow>,
    /// exceedance.csv, its rows of sums computed from several analytes
    pub sums: Vec<ExceedanceRow>,
    /// summary.csv
    pub summaries: Vec<SummaryRow>,
    /// trend.csv
    pub trends: Vec<TrendRow>,
    /// Wells over any health limit, the region first.
    pub any_health: Vec<AnyHealthRow>,
    /// coverage.csv
    pub coverage: Vec<CoverageRow>,
}

impl Findings {
    /// exceedance.csv whole: single analytes, then sums.
    pub fn all_exceedance(&self) -> impl Iterator<Item = &ExceedanceRow> {
        self.exceedance.iter().chain(&self.sums)
    }
}

/// Summarises every analyte.
///
/// # Errors
/// A disk that fails.
pub fn summarise(plan: &Plan, dictionary: &Dictionary, wells: &Wells, survey: &Survey) -> Result<Findings, Problem> {
    let as_of = plan.benchmarks.as_of.or(survey.last_day());
    let benchmarks = as_of
        .and_then(Day::date)
        .map(|day| dictionary.benchmarks().in_force(&plan.benchmarks.sets, day))
        .unwrap_or_default();
    let groups = || by_group(plan, dictionary, &benchmarks, wells, survey);
    // Each of these leaves threads idle in part; the groups fill them.
    let others = || {
        rayon::join(
            || trend::rows(plan, dictionary, wells, survey),
            || {
                rayon::join(
                    || coverage::rows(wells, survey, |_| true),
                    || panel::rows(plan, dictionary, wells, survey, &benchmarks),
                )
            },
        )
    };
    let ((exceedance, summaries), (trends, (coverage, any_health))) = rayon::join(groups, others);
    let sums = match plan.benchmarks.sums {
        Sums::Judged => sums::rows(plan, dictionary, &benchmarks, wells, survey),
        Sums::LeftOut => Vec::new(),
    };
    let trends = trends?;
    Ok(Findings { benchmarks, as_of, exceedance, sums, summaries, trends, any_health, coverage })
}

/// exceedance.csv and summary.csv, analyte by analyte.
fn by_group(
    plan: &Plan,
    dictionary: &Dictionary,
    benchmarks: &[Benchmark],
    wells: &Wells,
    survey: &Survey,
) -> (Vec<ExceedanceRow>, Vec<SummaryRow>) {
    let cells = cells::WellCells::of(wells, plan.summary.equal_area_cells);
    let analytes: Vec<(AnalyteId, &[WellValue])> = survey.by_analyte().collect();
    let one = |(analyte, values): &(AnalyteId, &[WellValue])| {
        let group = Groups::new(*analyte, values, wells);
        (exceedance::rows(plan, benchmarks, &cells, &group), summary::rows(plan, dictionary, &group))
    };
    let parts: Vec<(Vec<ExceedanceRow>, Vec<SummaryRow>)> = analytes.par_iter().map(one).collect();
    let (exceedance, summaries): (Vec<_>, Vec<_>) = parts.into_iter().unzip();
    (exceedance.into_iter().flatten().collect(), summaries.into_iter().flatten().collect())
}
