//! The well lists as written: rows of ids, coordinates with their systems, accuracies, depths; and aliases.

use super::angle;
use super::region::Region;
use super::register::Register;
use super::spots::{Repairs, Spot, Systems, Written, place};
use crate::files::Inputs;
use crate::intake::read_table;
use crate::plan::{Plan, TextOptions, WellsPart};
use crate::problem::{Problem, Problems};
use std::collections::BTreeMap;

/// Rows of the well lists as written.
#[derive(Default)]
pub(super) struct Listed {
    pub(super) ids: Register,
    /// The well of each row.
    pub(super) well: Vec<u32>,
    pub(super) written: Vec<Written>,
    pub(super) accuracy: Vec<Option<f64>>,
    pub(super) depth: Vec<Option<f64>>,
    pub(super) systems: Systems,
    aliases: BTreeMap<String, String>,
}

impl Listed {
    pub(super) fn spots(&self, plan: &Plan, region: &Region) -> Result<Vec<Spot>, Problems> {
        let repairs = if plan.survey.repair_locations { Repairs::Applied } else { Repairs::Proposed };
        place(plan, region, &self.systems, &self.written, repairs).map_err(Problems::from)
    }
}

/// Reads every list and then the aliases.
///
/// # Errors
/// Files, columns or coordinate systems that cannot be used, and aliases that do not mean one well.
pub(super) fn read_lists(plan: &Plan, inputs: &Inputs) -> Result<Listed, Problems> {
    let mut problems = Problems::default();
    let mut listed = Listed::default();
    for (number, part) in plan.wells.iter().enumerate() {
        let key = format!("wells[{}]", number + 1);
        problems.keep(read_part(plan, inputs, part, &key, &mut listed));
    }
    for (number, part) in plan.wells.iter().enumerate() {
        let key = format!("wells[{}].aliases", number + 1);
        problems.keep(read_aliases(inputs, part, &key, &mut listed));
    }
    let aliases = std::mem::take(&mut listed.aliases);
    for (other, well) in &aliases {
        if let Some(number) = listed.ids.find(well) {
            listed.ids.also(other, number);
        }
    }
    if problems.0.is_empty() && listed.ids.len() == 0 {
        let found = "no well is listed in any of its files";
        problems.push(plan.problem("wells", "wells-empty", found, "list the wells, one a row, each with its id"));
    }
    problems.or(listed)
}

fn read_part(plan: &Plan, inputs: &Inputs, part: &WellsPart, key: &str, listed: &mut Listed) -> Result<(), Problems> {
    let default =
        part.crs.as_ref().map(|text| listed.systems.of_plan(plan, &format!("{key}.crs"), text)).transpose()?;
    let mut columns = vec![(&part.well, "well"), (&part.x, "x"), (&part.y, "y")];
    let optional = [(&part.crs_column, "crs"), (&part.accuracy_m, "accuracy_m"), (&part.depth_m, "depth_m")];
    let at: Vec<Option<usize>> = optional
        .iter()
        .map(|(column, role)| {
            column.as_ref().map(|column| {
                columns.push((column, role));
                columns.len() - 1
            })
        })
        .collect();
    let columns: Vec<(String, String)> =
        columns.into_iter().map(|(column, role)| (column.clone(), format!("{key}.columns.{role}"))).collect();
    let mut problems = Problems::default();
    for path in &part.files {
        let Some(table) = problems.keep(read_table(inputs, path, &part.text, &columns)) else { continue };
        for record in table.records().filter(|record| !record.cell(0).is_empty()) {
            let optional = |which: usize| at.get(which).copied().flatten().map_or("", |at| record.cell(at));
            let well = listed.ids.number(record.cell(0));
            let named = optional(0);
            let system = if named.is_empty() { default } else { listed.systems.of(named) };
            listed.well.push(well);
            let written = Written::read(record.cell(1), record.cell(2), system, &listed.systems);
            listed.written.push(written);
            listed.accuracy.push(angle::plain(optional(1)));
            listed.depth.push(angle::plain(optional(2)));
        }
    }
    problems.or(())
}

/// Other ids of wells. One that is itself listed, or that stands for two wells, is an error.
fn read_aliases(inputs: &Inputs, part: &WellsPart, key: &str, listed: &mut Listed) -> Result<(), Problems> {
    let Some(path) = &part.aliases else { return Ok(()) };
    let columns = [("other_id".to_owned(), key.to_owned()), ("well".to_owned(), key.to_owned())];
    let mut problems = Problems::default();
    for record in read_table(inputs, path, &TextOptions::default(), &columns)?.records() {
        let (other, well) = (record.cell(0).to_owned(), record.cell(1).to_owned());
        let fault = match listed.aliases.get(&other) {
            _ if listed.ids.listed(&other).is_some() => Some(format!("\"{other}\" is itself a listed well")),
            Some(first) if *first != well => Some(format!("\"{other}\" stands for \"{first}\" and for \"{well}\"")),
            _ => None,
        };
        match fault {
            Some(found) => problems.push(
                Problem::file(
                    path,
                    "alias-ambiguous",
                    found,
                    "an other_id must mean one listed well and be none itself",
                )
                .at(record.line)
                .under(key),
            ),
            None => {
                listed.aliases.insert(other, well);
            }
        }
    }
    problems.or(())
}
