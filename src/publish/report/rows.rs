//! From rates to the rows of a chart: name, strip, share, interval and counts in words.
//!
//! Where a small-area estimate is known it is what a row shows and is ranked by; counts are always as found.

use serde::Serialize;

use super::chart;
use super::escape::anchor;
use super::footnotes::Footnotes;
use super::input::{RateFigures, RateLine, Spread};
use super::words::{count, interval, percent, sortable_share, wells};

/// A chart: a scale and rows.
#[derive(Debug, Serialize)]
pub(super) struct Chart {
    axis: String,
    rows: Vec<Row>,
    /// How many rows were left to the tables.
    more: usize,
    /// Notes under the chart, numbered in its rows.
    notes: Footnotes,
    /// Names of rows that are hidden.
    hidden: Vec<String>,
    /// Names of rows without any well.
    empty: Vec<String>,
}

/// One row of a chart.
#[derive(Debug, Serialize)]
struct Row {
    label: String,
    link: String,
    detail: String,
    strip: String,
    rate: String,
    interval: String,
    wells: String,
    open: String,
    /// What the script sorts by: the share and the number of wells.
    by: [f64; 2],
    thin: bool,
    notes: Vec<usize>,
}

/// What names a row and where it leads.
#[derive(Clone, Copy)]
pub(super) enum Names {
    /// Rows are areas.
    Areas,
    /// Rows are analytes.
    Analytes,
}

/// Rows in the order given, the highest alone where there are more than `most`; hidden and empty ones only by name.
pub(super) fn chart(lines: &[&RateLine], names: Names, most: usize) -> Chart {
    let named = |wanted: &dyn Fn(&RateLine) -> bool| -> Vec<String> {
        lines.iter().filter(|line| wanted(line)).map(|line| label(line, names)).collect()
    };
    let mut known: Vec<&RateLine> = lines.iter().filter(|line| has_wells(line)).copied().collect();
    let more = known.len().saturating_sub(most);
    if more > 0 {
        known = ranked(&known);
        known.truncate(most);
    }
    let spreads: Vec<Spread> = known.iter().filter_map(|line| shown(line.figures.as_ref()?)).collect();
    let end = chart::scale_end(spreads.iter());
    let mut notes = Footnotes::default();
    Chart {
        axis: chart::axis(end),
        rows: known.iter().filter_map(|line| row(line, names, end, &mut notes)).collect(),
        notes,
        more,
        hidden: named(&|line| line.figures.is_none()),
        empty: named(&|line| line.figures.is_some_and(|figures| figures.wells == 0)),
    }
}

fn has_wells(line: &RateLine) -> bool {
    line.figures.is_some_and(|figures| figures.wells > 0)
}

fn label(line: &RateLine, names: Names) -> String {
    match names {
        Names::Areas => line.area.clone(),
        Names::Analytes => line.analyte.clone(),
    }
}

/// The small-area estimate where there is one, otherwise the plain rate.
pub(super) fn shown(figures: &RateFigures) -> Option<Spread> {
    figures.smoothed.or(figures.rate)
}

fn row(line: &RateLine, names: Names, end: f64, notes: &mut Footnotes) -> Option<Row> {
    let figures = line.figures.as_ref().filter(|figures| figures.wells > 0)?;
    let spread = shown(figures);
    let (link, detail) = match names {
        Names::Areas => (anchor("area", &line.area_id), String::new()),
        Names::Analytes => (anchor("test", &line.analyte_id), format!("{}: {}", line.benchmark, line.set)),
    };
    Some(Row {
        label: label(line, names),
        link,
        detail,
        strip: spread.map_or_else(String::new, |spread| chart::strip(&spread, end)),
        rate: spread.map_or_else(|| "not known".to_owned(), |spread| percent(spread.value)),
        interval: spread.map_or_else(String::new, |spread| interval(spread.low, spread.high)),
        wells: of_wells(figures),
        open: not_judged(figures),
        by: [spread.map_or(-1.0, |spread| sortable_share(spread.value)), f64::from(figures.wells)],
        thin: spread.is_some_and(|spread| chart::is_thin(&spread)),
        notes: notes.numbers(&line.notes),
    })
}

/// `3 of 41 wells`, of those that could be judged.
pub(super) fn of_wells(figures: &RateFigures) -> String {
    let judged = u64::from(figures.exceeding) + u64::from(figures.meeting);
    match judged {
        0 => format!("{}, none could be judged", wells(u64::from(figures.wells))),
        _ => format!("{} of {}", count(u64::from(figures.exceeding)), wells(judged)),
    }
}

/// `14 more could not be judged`, or nothing.
fn not_judged(figures: &RateFigures) -> String {
    match figures.undetermined {
        0 => String::new(),
        _ if figures.exceeding + figures.meeting == 0 => String::new(),
        more => format!("{} more could not be judged", count(u64::from(more))),
    }
}

/// Highest rate first, then those not known, then hidden; equal ones in the order given.
pub(super) fn ranked<'a>(lines: &[&'a RateLine]) -> Vec<&'a RateLine> {
    let key = |line: &RateLine| line.figures.as_ref().map_or(-2.0, |f| shown(f).map_or(-1.0, |spread| spread.value));
    let mut sorted = lines.to_vec();
    sorted.sort_by(|a, b| key(b).total_cmp(&key(a)));
    sorted
}
