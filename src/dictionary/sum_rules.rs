//! Limits on sums. Turns rows of `sum-rules.csv` into [`SumRule`]s: the analyte that stands for the sum, its parts, and what each part
//! is divided by, in the part's preferred unit and basis. A plain sum divides by one unit of the sum.
//!
//! A reader would question non-detects: a part that was not detected is anything from 0 to its limit, and the sum an interval, unless
//! the law itself counts non-detects as zero (`nondetects` is `zero`).

use super::benchmarks::{analyte, unit};
use super::built_in::Dictionary;
use super::fault::DictionaryFault;
use super::names::NameOutcome;
use super::table::{Row, Table};
use crate::ids::AnalyteId;

const REQUIRED: [&str; 10] =
    ["analyte", "component", "divisor", "unit", "basis", "needed", "nondetects", "source", "checked", "note"];

/// How one sum is made.
#[derive(Debug, Clone, PartialEq)]
pub struct SumRule {
    /// The analyte that stands for the sum; its limits are among the benchmarks.
    pub analyte: AnalyteId,
    /// What is added up.
    pub parts: Vec<Part>,
    /// How many parts a well must have been tested for.
    pub needed: usize,
    /// Whether the law counts a non-detect as zero.
    pub nondetects_are_zero: bool,
    /// Where the rule is published.
    pub source: String,
    /// `published-text` or `memory`.
    pub checked: String,
    /// What to know besides.
    pub note: String,
}

/// One part of a sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Analyte.
    pub analyte: AnalyteId,
    /// What its value is divided by, in its preferred unit and basis.
    pub divisor: f64,
}

/// Reads the rules; a rule's rows stand together.
pub(super) fn read(dictionary: &Dictionary, file: &str, text: &str) -> Result<Vec<SumRule>, DictionaryFault> {
    let table = Table::read(file, text, &REQUIRED)?;
    let mut rules: Vec<SumRule> = Vec::new();
    for row in table.rows() {
        let sum = analyte(dictionary, row)?.analyte;
        if rules.last().is_none_or(|rule| rule.analyte != sum) {
            rules.push(SumRule {
                analyte: sum,
                parts: Vec::new(),
                needed: needed(row)?,
                nondetects_are_zero: row.cell("nondetects") == "zero",
                source: row.owned("source"),
                checked: row.owned("checked"),
                note: row.owned("note"),
            });
        }
        if let Some(rule) = rules.last_mut() {
            rule.parts.push(part(dictionary, row)?);
        }
    }
    for rule in &mut rules {
        rule.needed = rule.needed.min(rule.parts.len());
    }
    Ok(rules)
}

fn needed(row: Row<'_>) -> Result<usize, DictionaryFault> {
    match row.cell("needed") {
        "all" => Ok(usize::MAX),
        text => text.parse().map_err(|_| row.fault("needed", "all, or how many components a well must have")),
    }
}

fn part(dictionary: &Dictionary, row: Row<'_>) -> Result<Part, DictionaryFault> {
    let (NameOutcome::Known(name) | NameOutcome::NeedsBasis(name)) = dictionary.resolve(row.cell("component")) else {
        return Err(row.fault("component", "an analyte of the dictionary"));
    };
    let fault = || row.fault("unit", "a unit that fits the component, with its basis where it needs one");
    let change = dictionary.convert(&name, &unit(dictionary, row, &name)?).map_err(|_| fault())?;
    let divisor =
        row.number("divisor")?.filter(|x| *x > 0.0).ok_or_else(|| row.fault("divisor", "a number above 0"))?;
    Ok(Part { analyte: name.analyte, divisor: change.apply(divisor) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 50 mg/L as NO3 is 11.29 mg/L as N, 3 mg/L as NO2 is 0.913 (ratios of molar masses).
    #[test]
    fn divisors_stand_in_the_preferred_unit() {
        let dictionary = Dictionary::built_in().unwrap();
        let id = |rule: &&SumRule| dictionary.analytes().id(rule.analyte) == "nitrate_nitrite_ratio_sum";
        let rule = dictionary.sum_rules().iter().find(id).unwrap();
        let divisors: Vec<f64> = rule.parts.iter().map(|part| part.divisor).collect();
        assert!(
            (divisors[0] - 50.0 * 14.007 / 62.004).abs() < 1e-3 && (divisors[1] - 3.0 * 14.007 / 46.005).abs() < 1e-3
        );
        assert_eq!(rule.needed, 2);
    }

    #[test]
    fn every_sum_has_a_limit_and_no_part_twice() {
        let dictionary = Dictionary::built_in().unwrap();
        for rule in dictionary.sum_rules() {
            assert!(dictionary.benchmarks().all().iter().any(|b| b.analyte == rule.analyte), "{rule:?}");
            let mut parts: Vec<_> = rule.parts.iter().map(|part| part.analyte).collect();
            parts.sort_unstable();
            parts.dedup();
            assert!(parts.len() == rule.parts.len() && !parts.contains(&rule.analyte) && !rule.source.is_empty());
        }
    }
}
