//! What a plan and the dictionary say about reading results, made ready once for all blocks.

use super::date::Dates;
use super::number::Marks;
use super::words::Words;
use crate::dictionary::{Dictionary, NameOutcome, SampleFraction};
use crate::ids::{AnalyteId, Day};
use crate::plan::{Method, Plan, Qualifier, ResultsPart, SampleKind};
use crate::problem::{Problem, Problems};
use std::collections::BTreeMap;

/// Rules for every results part.
pub struct Rules<'d> {
    /// The dictionary.
    pub dictionary: &'d Dictionary,
    /// First and last day that count.
    pub period: Option<(Day, Day)>,
    /// Limits of the plan, in the analyte's preferred unit.
    pub plan_limits: BTreeMap<AnalyteId, f64>,
    /// The day on which the run is made, where later dates are to be counted.
    pub today: Option<Day>,
    parts: Vec<PartRules>,
}

/// Rules of one `[[results]]`.
pub struct PartRules {
    /// Decimal and thousands marks.
    pub marks: Marks,
    /// Words and flags.
    pub words: Words,
    /// Dates.
    pub dates: Dates,
    /// Sample kinds of the plan.
    pub sample_kinds: BTreeMap<String, SampleKind>,
    /// Methods of the plan.
    pub methods: BTreeMap<String, Method>,
    /// Qualifiers of the plan.
    pub qualifiers: BTreeMap<String, Qualifier>,
    /// Sample fractions of the plan.
    pub fractions: BTreeMap<String, SampleFraction>,
    /// Names of the plan.
    pub names: BTreeMap<String, String>,
    /// Units of the plan.
    pub units: BTreeMap<String, String>,
}

impl<'d> Rules<'d> {
    /// Makes the rules.
    ///
    /// # Errors
    /// Names and units in the plan that the dictionary does not know.
    pub fn new(plan: &Plan, dictionary: &'d Dictionary) -> Result<Rules<'d>, Problems> {
        let mut problems = Problems::default();
        let plan_limits = plan_limits(plan, dictionary, &mut problems);
        for (number, part) in plan.results.iter().enumerate() {
            check_names(plan, number + 1, part, dictionary, &mut problems);
        }
        let parts = plan.results.iter().map(PartRules::new).collect();
        problems.or(Rules { dictionary, period: plan.survey.period, plan_limits, today: None, parts })
    }

    /// The same, counting dates after a day.
    pub fn made_on(self, today: Day) -> Rules<'d> {
        Rules { today: Some(today), ..self }
    }

    /// The rules of a part, counted from 0.
    pub fn part(&self, number: usize) -> Option<&PartRules> {
        self.parts.get(number)
    }
}

impl PartRules {
    fn new(part: &ResultsPart) -> PartRules {
        PartRules {
            marks: Marks::new(part.text.decimal, part.text.thousands),
            words: Words::new(&part.non_detect_words).with_qualifiers(&part.qualifiers),
            dates: Dates { format: part.date_format.clone(), order: part.date_order },
            sample_kinds: part.sample_kinds.clone(),
            methods: part.methods.clone(),
            qualifiers: part.qualifiers.clone(),
            fractions: part.fractions.clone(),
            names: part.names.clone(),
            units: part.units.clone(),
        }
    }
}

fn plan_limits(plan: &Plan, dictionary: &Dictionary, problems: &mut Problems) -> BTreeMap<AnalyteId, f64> {
    let mut limits = BTreeMap::new();
    for (name, number, unit) in &plan.per_well.non_detect_limits {
        let key = format!("per_well.non_detect_limits.{name}");
        match quantity(dictionary, name, *number, unit) {
            Ok((analyte, limit)) => {
                limits.insert(analyte, limit);
            }
            Err(found) => problems.push(plan.problem(
                &key,
                "limit-unknown",
                found,
                "write an analyte of the dictionary and a unit that fits it, such as arsenic = \"1 ug/L\"",
            )),
        }
    }
    limits
}

/// Names and units that the plan maps to must be in the dictionary.
fn check_names(plan: &Plan, number: usize, part: &ResultsPart, dictionary: &Dictionary, problems: &mut Problems) {
    for (own, name) in &part.names {
        if !knows_name(dictionary, name) {
            let key = format!("results[{number}].names.\"{own}\"");
            problems.push(unknown_name(plan, &key, name, dictionary));
        }
    }
    for (own, unit) in &part.units {
        if !knows_unit(dictionary, unit) {
            let key = format!("results[{number}].units.\"{own}\"");
            problems.push(unknown_unit(plan, &key, unit));
        }
    }
    if let crate::plan::Layout::Wide { analytes, .. } = &part.layout {
        for cell in analytes {
            let key = format!("results[{number}].analyte_columns.\"{}\"", cell.column);
            let name = part.names.get(&cell.analyte).unwrap_or(&cell.analyte);
            if !knows_name(dictionary, name) {
                problems.push(unknown_name(plan, &format!("{key}.analyte"), name, dictionary));
            }
            if let Some(unit) = &cell.unit
                && !knows_unit(dictionary, part.units.get(unit).unwrap_or(unit))
            {
                problems.push(unknown_unit(plan, &format!("{key}.unit"), unit));
            }
        }
    }
}

fn unknown_name(plan: &Plan, key: &str, name: &str, dictionary: &Dictionary) -> Problem {
    let near = match dictionary.resolve(name) {
        NameOutcome::Unknown { nearest } => nearest.join(", "),
        NameOutcome::Known(_) | NameOutcome::NeedsBasis(_) => String::new(),
    };
    let wanted = if near.is_empty() { String::new() } else { format!("nearest: {near}; ") };
    plan.problem(
        key,
        "analyte-unknown",
        format!("\"{name}\" is not in the dictionary"),
        format!("{wanted}`wellreeve terms analytes` lists them"),
    )
}

fn unknown_unit(plan: &Plan, key: &str, unit: &str) -> Problem {
    plan.problem(
        key,
        "unit-unknown",
        format!("\"{unit}\" is not a unit of the dictionary"),
        "`wellreeve terms units` lists them",
    )
}

fn knows_name(dictionary: &Dictionary, name: &str) -> bool {
    dictionary.find_name(name).is_some()
}

fn knows_unit(dictionary: &Dictionary, unit: &str) -> bool {
    dictionary.read_unit(unit).is_ok()
}

/// An amount of an analyte in its preferred unit, or what is wrong with it.
fn quantity(dictionary: &Dictionary, name: &str, number: f64, unit: &str) -> Result<(AnalyteId, f64), String> {
    let reading = match dictionary.resolve(name) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => reading,
        NameOutcome::Unknown { .. } => return Err(format!("\"{name}\" is not in the dictionary")),
    };
    let unit_read = dictionary.read_unit(unit).map_err(|_| format!("\"{unit}\" is not a unit of the dictionary"))?;
    let conversion = dictionary.convert(&reading, &unit_read).map_err(|_| format!("{unit} does not fit {name}"))?;
    Ok((reading.analyte, conversion.apply(number)))
}
