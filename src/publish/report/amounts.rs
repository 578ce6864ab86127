//! Concentrations on the page: one row an area, with the notes under the table.
//!
//! A percentile that is only known to lie below the lowest amount found says so in its cell; a dash would look like a gap.

use serde::Serialize;

use super::analyte::{SummaryFigures, SummaryLine};
use super::footnotes::Footnotes;
use super::words::number;

/// The table of one test.
#[derive(Debug, Serialize)]
pub(super) struct AmountsView<'a> {
    unit: &'a str,
    rows: Vec<AmountRow<'a>>,
    notes: Footnotes,
    /// How many rows were left to the summary table.
    more: usize,
}

#[derive(Debug, Serialize)]
struct AmountRow<'a> {
    line: &'a SummaryLine,
    median: Amount,
    p90: Amount,
    method: &'static str,
    notes: Vec<usize>,
}

/// A figure in words, and what the script sorts by.
#[derive(Debug, Default, PartialEq, Serialize)]
struct Amount {
    words: String,
    by: f64,
}

/// The note of a summary of bacteria.
const BACTERIA: &str = "bacteria: shares only";
/// How the note begins that says below what the empty percentiles lie.
const BELOW: &str = "empty percentiles are below ";

/// The first `most` rows; nothing where there are none, or no amounts in them: bacteria that were only found or not.
pub(super) fn amounts(lines: &[SummaryLine], most: usize) -> Option<AmountsView<'_>> {
    let unit = lines.first()?.unit.as_str();
    let mut shown = lines.iter().filter_map(|line| line.figures.as_ref()).peekable();
    if shown.peek().is_some() && shown.all(without_amounts) {
        return None;
    }
    let mut notes = Footnotes::default();
    let rows = lines.iter().take(most).map(|line| row(line, &mut notes)).collect();
    Some(AmountsView { unit, rows, notes, more: lines.len().saturating_sub(most) })
}

fn without_amounts(figures: &SummaryFigures) -> bool {
    figures.highest.is_none() && figures.notes.iter().any(|note| note == BACTERIA)
}

fn row<'a>(line: &'a SummaryLine, notes: &mut Footnotes) -> AmountRow<'a> {
    let Some(figures) = &line.figures else {
        return AmountRow { line, median: Amount::default(), p90: Amount::default(), method: "", notes: Vec::new() };
    };
    let others: Vec<String> = figures.notes.iter().filter(|note| !note.starts_with(BELOW)).cloned().collect();
    AmountRow {
        line,
        median: amount(figures.median, figures),
        p90: amount(figures.p90, figures),
        method: method_words(&figures.method),
        notes: notes.numbers(&others),
    }
}

fn amount(value: Option<f64>, figures: &SummaryFigures) -> Amount {
    let below = || figures.notes.iter().find_map(|note| note.strip_prefix(BELOW)?.parse::<f64>().ok());
    match (value, figures.mean.and_then(|_| below())) {
        (Some(value), _) => Amount { words: number(value), by: value },
        (None, Some(below)) => Amount { words: format!("under {}", number(below)), by: 0.0 },
        (None, None) => Amount { words: "–".to_owned(), by: -1.0 },
    }
}

fn method_words(method: &str) -> &'static str {
    match method {
        "all-detected" => "plain: all detected",
        "kaplan-meier" => "Kaplan-Meier",
        "order-statistics" => "model of logarithms",
        "shares-only" => "shares only",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::super::input::Spread;
    use super::*;

    #[test]
    fn an_empty_percentile_says_below_what_it_lies() {
        let figures = SummaryFigures {
            wells: 20,
            detected: 12,
            limits: Some((0.5, 1.0)),
            highest: Some(9.0),
            mean: Some(Spread { value: 2.0, low: 1.0, high: 3.0 }),
            median: None,
            p90: Some(4.0),
            method: "kaplan-meier".into(),
            notes: vec!["empty percentiles are below 0.547".into()],
        };
        let line = SummaryLine { area_id: "a".into(), area: "A".into(), unit: "mg/L".into(), figures: Some(figures) };
        let lines = [line];
        let view = amounts(&lines, 5).unwrap();
        assert_eq!((view.rows[0].median.words.as_str(), view.rows[0].p90.words.as_str()), ("under 0.547", "4"));
        assert!(view.rows[0].notes.is_empty() && amounts(&[], 5).is_none());
    }
}
