//! The plan's price list: `analyte or panel,price`, and where panels are sold `includes`, their analytes between semicolons.
//!
//! A name that is no analyte is a panel. One whose contents are not said has a price and finds nothing that could be counted.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::files::Inputs;
use crate::ids::AnalyteId;
use crate::intake::read_table;
use crate::plan::{Plan, TextOptions};
use crate::problem::{Problem, Problems};
use std::collections::BTreeMap;
use std::path::Path;

/// What can be bought.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Analyte id, or the panel's name.
    pub name: String,
    /// Its price.
    pub price: f64,
    /// What it tests for; empty where a panel's contents are not said.
    pub analytes: Vec<AnalyteId>,
}

/// The price list.
#[derive(Debug, Default)]
pub struct Prices {
    /// Price of a single test, by analyte.
    pub analytes: BTreeMap<AnalyteId, f64>,
    /// Everything that can be bought, in the order of the list.
    pub items: Vec<Item>,
}

const NAME: &str = "analyte or panel";
const PRICE: &str = "price";
const INCLUDES: &str = "includes";

/// Reads the list; empty without one.
///
/// # Errors
/// An unreadable file, missing columns, a price that is not a number, a name under `includes` that is no analyte.
pub fn read(plan: &Plan, dictionary: &Dictionary, inputs: &Inputs) -> Result<Prices, Problems> {
    let mut prices = Prices::default();
    let Some(path) = &plan.recommend.prices else { return Ok(prices) };
    let table = |names: &[&str]| {
        let columns: Vec<(String, String)> =
            names.iter().map(|name| ((*name).to_owned(), "recommend.prices".to_owned())).collect();
        read_table(inputs, path, &TextOptions::default(), &columns)
    };
    // The third column may be left out. A list that could not be read is another matter: a second try might lose what panels hold.
    let table = table(&[NAME, PRICE, INCLUDES]).or_else(|problems| {
        let only_columns = problems.0.iter().all(|problem| problem.code == "column-missing");
        if only_columns { table(&[NAME, PRICE]) } else { Err(problems) }
    })?;
    let mut problems = Problems::default();
    for record in table.records() {
        let includes = record.cell(2);
        match item(path, dictionary, record.cell(0), record.cell(1), includes) {
            Ok(item) => prices.add(item, includes),
            Err(problem) => problems.push(problem.at(record.line)),
        }
    }
    problems.or(prices)
}

impl Prices {
    fn add(&mut self, item: Item, includes: &str) {
        if let ([analyte], true) = (item.analytes.as_slice(), includes.is_empty()) {
            self.analytes.insert(*analyte, item.price);
        }
        self.items.push(item);
    }
}

fn item(path: &Path, dictionary: &Dictionary, name: &str, price: &str, includes: &str) -> Result<Item, Problem> {
    let number = price.parse::<f64>().ok().filter(|price| *price >= 0.0 && price.is_finite());
    let Some(number) = number else {
        let found = format!("\"{price}\" is not a price");
        return Err(Problem::file(
            path,
            "price-unreadable",
            found,
            "write a number of at least 0, such as 18 or 22.50",
        ));
    };
    let parts = includes.split(';').map(str::trim).filter(|part| !part.is_empty());
    let analytes: Vec<AnalyteId> =
        parts.map(|part| analyte(dictionary, part).ok_or_else(|| unknown(path, part))).collect::<Result<_, _>>()?;
    Ok(match analyte(dictionary, name) {
        Some(analyte) if analytes.is_empty() => {
            Item { name: dictionary.analytes().id(analyte).to_owned(), price: number, analytes: vec![analyte] }
        }
        _ => Item { name: name.to_owned(), price: number, analytes },
    })
}

fn analyte(dictionary: &Dictionary, name: &str) -> Option<AnalyteId> {
    match dictionary.resolve(name) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => Some(reading.analyte),
        NameOutcome::Unknown { .. } => None,
    }
}

fn unknown(path: &Path, name: &str) -> Problem {
    let wanted = "name analytes between semicolons, as `wellreeve terms analytes` lists them";
    Problem::file(path, "price-includes-unknown", format!("\"{name}\" is no analyte"), wanted).under(INCLUDES)
}
