//! The plan's price list: `analyte or panel,price`.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::files::Inputs;
use crate::ids::AnalyteId;
use crate::intake::read_table;
use crate::plan::{Plan, TextOptions};
use crate::problem::{Problem, Problems};
use std::collections::BTreeMap;

/// Price of a test, by analyte. Names that are no analyte are panels, kept by name.
#[derive(Debug, Default)]
pub struct Prices {
    /// By analyte.
    pub analytes: BTreeMap<AnalyteId, f64>,
    /// By panel name.
    pub panels: BTreeMap<String, f64>,
}

/// Reads the list; empty without one.
///
/// # Errors
/// An unreadable file, missing columns, or a price that is not a number.
pub fn read(plan: &Plan, dictionary: &Dictionary, inputs: &Inputs) -> Result<Prices, Problems> {
    let mut prices = Prices::default();
    let Some(path) = &plan.recommend.prices else { return Ok(prices) };
    let key = "recommend.prices".to_owned();
    let columns = [("analyte or panel".to_owned(), key.clone()), ("price".to_owned(), key)];
    let mut problems = Problems::default();
    for record in read_table(inputs, path, &TextOptions::default(), &columns)?.records {
        let (name, text) = (record.cell(0), record.cell(1));
        match text.parse::<f64>() {
            Ok(price) if price >= 0.0 => match dictionary.resolve(name) {
                NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => {
                    prices.analytes.insert(reading.analyte, price);
                }
                NameOutcome::Unknown { .. } => {
                    prices.panels.insert(name.to_owned(), price);
                }
            },
            _ => problems.push(
                Problem::file(
                    path,
                    "price-unreadable",
                    format!("\"{text}\" is not a price"),
                    "write a number of at least 0, such as 18 or 22.50",
                )
                .at(record.line),
            ),
        }
    }
    problems.or(prices)
}
