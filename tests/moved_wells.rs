//! Two surveys that differ only in what is hidden must have the same public files, to the byte.
//!
//! A well is moved from one hidden area to another, or a hidden result changes places with another one. Everything that is shown, and
//! every total, stays as it was; so whatever differs in any public file, be it a digit of a smoothed rate, the order of rows, a colour or
//! a word, tells of hidden households. The files are not understood, only compared: page, maps, tables, workbook, Parquet, all of them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "auditor/light.rs"]
mod light;
#[path = "auditor/random.rs"]
mod random;
#[path = "support/survey.rs"]
mod survey;

use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use survey::{Survey, files};
use wellreeve::publish::Extent;

/// Every file that anybody may see.
fn told(survey: &Survey) -> BTreeMap<String, Vec<u8>> {
    let all = files(&survey.path("out"));
    all.into_iter().filter(|(name, _)| name.starts_with("public/") || name.starts_with("research/")).collect()
}

/// Which cells are empty: the same in two runs where the same is hidden.
fn pattern(told: &BTreeMap<String, Vec<u8>>) -> Vec<(String, Vec<Vec<bool>>)> {
    let tables = told.iter().filter(|(name, _)| name.ends_with(".csv"));
    tables
        .map(|(name, bytes)| {
            let mut reader = csv::Reader::from_reader(bytes.as_slice());
            let rows = reader.records().map(|record| record.unwrap().iter().map(str::is_empty).collect()).collect();
            (name.clone(), rows)
        })
        .collect()
}

/// Areas of which nothing is shown.
fn hidden_areas(survey: &Survey) -> Vec<String> {
    let rows = survey.table("public/tables/coverage.csv").into_iter();
    rows.filter(|row| row["wells_sampled"].is_empty()).map(|row| row["area_id"].clone()).collect()
}

/// The strip that a line of wells.csv lies in.
fn strip(line: &str) -> Option<u64> {
    let lon: f64 = line.split(',').nth(1)?.parse().ok()?;
    Some(((lon + 94.0) / 0.1) as u64)
}

/// The survey's wells with one sampled well of a hidden area in another hidden one; `None` where there are not two.
fn moved(base: &Survey, dice: &mut random::Dice) -> Option<(String, String)> {
    let hidden: Vec<u64> = hidden_areas(base).iter().map(|id| id.trim_start_matches('A').parse().unwrap()).collect();
    let read = |name: &str| std::fs::read_to_string(base.path(name)).unwrap();
    let (wells, results) = (read("wells.csv"), read("lab.csv"));
    let sampled = |line: &&str| results.contains(&format!("\n{},", line.split(',').next().unwrap()));
    let inside: Vec<&str> =
        wells.lines().filter(|line| strip(line).is_some_and(|at| hidden.contains(&at))).filter(sampled).collect();
    let (well, others) = {
        let well = *inside.get(dice.below(inside.len().max(1) as u64) as usize)?;
        (well, hidden.iter().copied().filter(|at| Some(*at) != strip(well)).collect::<Vec<u64>>())
    };
    let to = *others.get(dice.below(others.len().max(1) as u64) as usize)?;
    let mut cells: Vec<String> = well.split(',').map(str::to_owned).collect();
    cells[1] = format!("{:.6}", -94.0 + 0.1 * to as f64 + 0.05);
    let told = format!("{} from {:?} to {to}", cells[0], strip(well).unwrap());
    Some((wells.replace(well, &cells.join(",")), told))
}

/// The survey's results with those of one analyte in a hidden group changed for those of a well in another area's hidden group of it; that
/// well may have none. Analytes of the whole panel and parts of sums are left alone: other groups, which are shown, count them too.
fn exchanged(base: &Survey, dice: &mut random::Dice) -> Option<(String, String)> {
    let panel: String =
        base.table("public/tables/any-health.csv").iter().map(|row| row["note"].to_lowercase()).collect();
    let rows = base.table("public/tables/summary.csv").into_iter();
    let hidden: BTreeSet<(String, u64)> = rows
        .filter(|row| row["wells"].is_empty() && row["area_id"] != "region")
        .map(|row| (row["analyte"].clone(), row["area_id"].trim_start_matches('A').parse().unwrap()))
        .collect();
    let read = |name: &str| std::fs::read_to_string(base.path(name)).unwrap();
    let (wells, results) = (read("wells.csv"), read("lab.csv"));
    let place: BTreeMap<&str, u64> =
        wells.lines().filter_map(|line| Some((line.split(',').next()?, strip(line)?))).collect();
    let mut of_well: BTreeMap<&str, BTreeMap<&str, u32>> = BTreeMap::new();
    for line in results.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        *of_well.entry(cells[0]).or_default().entry(cells[1]).or_default() += 1;
    }
    let mut choices = Vec::new();
    for (name, id) in [("Lead", "lead"), ("Manganese", "manganese"), ("Hardness", "hardness_as_caco3")] {
        if panel.contains(id) {
            continue;
        }
        let inside = |well: &&str| place.get(*well).is_some_and(|at| hidden.contains(&(id.to_owned(), *at)));
        let others = |well: &&str| of_well[*well].keys().any(|other| *other != name);
        // The accounting tells how many wells have several results.
        let once = |well: &&str| of_well[*well].get(name).is_none_or(|results| *results == 1);
        let able: Vec<&str> = of_well.keys().copied().filter(inside).filter(others).filter(once).collect();
        for first in able.iter().copied().filter(|well| of_well[well].contains_key(name)) {
            let second = able.iter().copied().filter(|well| place[well] != place[first]);
            choices.extend(second.map(|second| (name, first, second)));
        }
    }
    let (name, first, second) = *choices.get(dice.below(choices.len().max(1) as u64) as usize)?;
    let line = |line: &str| match line.split_once(',') {
        Some((well, rest)) if well == first && rest.starts_with(name) => format!("{second},{rest}"),
        Some((well, rest)) if well == second && rest.starts_with(name) => format!("{first},{rest}"),
        _ => line.to_owned(),
    };
    let lines: Vec<String> = results.lines().map(line).collect();
    Some((lines.join("\n") + "\n", format!("{name} of {first} for that of {second}")))
}

/// What differs between a survey and the same one with a file changed; `None` where something else is hidden then.
fn compared(
    seed: u64,
    name: &str,
    change: fn(&Survey, &mut random::Dice) -> Option<(String, String)>,
) -> Option<Vec<String>> {
    let smallest = [5, 5, 5, 3, 10][(seed % 5) as usize];
    let made = || {
        let survey = random::survey(seed, smallest);
        let plan = random::without_land_use(&std::fs::read_to_string(survey.path("plan.toml")).unwrap());
        survey.write(
            "plan.toml",
            &if seed.is_multiple_of(7) { plan.replace("resamples = 0", "resamples = 40") } else { plan },
        );
        survey
    };
    let (base, other) = (made(), made());
    light::run(&base, Extent::All).ok()?;
    let (text, what) = change(&base, &mut random::Dice(seed + 7))?;
    other.write(name, &text);
    light::run(&other, Extent::All).ok()?;
    let (first, second) = (told(&base), told(&other));
    if pattern(&first) != pattern(&second) {
        return None;
    }
    let differ = first.iter().filter(|(name, bytes)| second.get(*name) != Some(bytes));
    let differ: Vec<String> = differ.map(|(name, _)| format!("survey {seed}: {name} differs ({what})")).collect();
    if let (false, Ok(folder)) = (differ.is_empty(), std::env::var("PAIRS_KEPT")) {
        for (which, told) in [("before", &first), ("after", &second)] {
            for (name, bytes) in told {
                let path = std::path::Path::new(&folder).join(format!("{seed}-{which}")).join(name);
                std::fs::create_dir_all(path.parent().unwrap()).unwrap();
                std::fs::write(path, bytes).unwrap();
            }
        }
    }
    Some(differ)
}

/// `PAIRS` takes another number of surveys, `PAIRS_KEPT` a folder for those that differ.
fn pairs(usual: u64, fewest: usize, name: &str, change: fn(&Survey, &mut random::Dice) -> Option<(String, String)>) {
    let surveys = std::env::var("PAIRS").ok().and_then(|text| text.parse().ok());
    let seeds = 0..surveys.unwrap_or(usual);
    let found: Vec<Vec<String>> = seeds.into_par_iter().filter_map(|seed| compared(seed, name, change)).collect();
    let differ: Vec<String> = found.iter().flatten().cloned().collect();
    assert!(differ.is_empty(), "of {} pairs, {} files differ:\n{}", found.len(), differ.len(), differ.join("\n"));
    assert!(surveys.is_some() || found.len() >= fewest, "{} pairs", found.len());
}

#[test]
fn a_well_moved_between_hidden_areas_changes_nothing() {
    pairs(45, 15, "wells.csv", moved);
}

#[test]
fn results_exchanged_between_hidden_groups_change_nothing() {
    pairs(45, 10, "lab.csv", exchanged);
}
