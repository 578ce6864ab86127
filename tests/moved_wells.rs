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
use std::collections::BTreeMap;
use survey::{Survey, files};

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

#[test]
fn a_well_moved_between_hidden_areas_changes_nothing() {
    let seeds: u64 = std::env::var("MOVES").ok().and_then(|text| text.parse().ok()).unwrap_or(200);
    let found: Vec<(u64, Vec<String>)> = (0..seeds)
        .into_par_iter()
        .filter_map(|seed| {
            let smallest = [5, 5, 5, 3, 10][(seed % 5) as usize];
            let plain = |survey: Survey| {
                let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
                survey.write("plan.toml", &random::without_land_use(&plan));
                survey
            };
            let base = plain(random::survey(seed, smallest));
            light::run(&base).ok()?;
            let (wells, what) = moved(&base, &mut random::Dice(seed + 7))?;
            let other = plain(random::survey(seed, smallest));
            other.write("wells.csv", &wells);
            light::run(&other).ok()?;
            let (first, second) = (told(&base), told(&other));
            if pattern(&first) != pattern(&second) {
                return None; // another choice of what is hidden
            }
            let differ = first.iter().filter(|(name, bytes)| second.get(*name) != Some(bytes)).map(|(name, _)| {
                if std::env::var("MOVES_KEPT").is_ok() {
                    let dir = std::path::Path::new("/tmp/team/x-privacy").join(format!("moved-{seed}"));
                    for (which, told) in [("a", &first), ("b", &second)] {
                        let path = dir.join(which).join(name);
                        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
                        std::fs::write(path, &told[name]).unwrap();
                    }
                }
                format!("survey {seed}: {name} differs ({what})")
            });
            Some((seed, differ.collect()))
        })
        .collect();
    eprintln!("{} pairs, {} differ", found.len(), found.iter().filter(|(_, d)| !d.is_empty()).count());
    let differ: Vec<String> = found.into_iter().flat_map(|(_, differ)| differ).collect();
    assert!(differ.is_empty(), "{} files differ:\n{}", differ.len(), differ.join("\n"));
}
