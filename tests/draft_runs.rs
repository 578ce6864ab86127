//! Drafts that run: the plans of the ten sample surveys go through the first half of the job as they stand.
//!
//! Ten surveys of invention lie under `draft/`; the townships are the demo's. That a plan is understood is not enough:
//! its results have to be read, its wells placed, and some of the rows used.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use wellreeve::draft::{draft, write};
use wellreeve::progress::{Mode, Progress};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const LEAST: usize = 8;

fn listed(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

/// How many results were used, or why the plan did not run.
fn used(sample: &Path) -> Result<u64, String> {
    let out = tempfile::tempdir().unwrap();
    let mut files = listed(sample);
    files.push(Path::new(ROOT).join("demo/maps/townships.geojson"));
    let drafted = draft(&files, out.path()).map_err(|problems| problems.to_string())?;
    let plan = write(&drafted.plan_text, out.path()).map_err(|problems| problems.to_string())?;
    let outcome = wellreeve::check(&plan, &Progress::new(Mode::Quiet)).map_err(|problems| problems.to_string())?;
    match outcome.accounting.used() {
        0 => Err("no row was used".to_owned()),
        rows => Ok(rows),
    }
}

#[test]
fn at_least_eight_of_ten_drafts_run_as_they_stand() {
    let samples = listed(&Path::new(ROOT).join("tests/draft"));
    assert_eq!(samples.len(), 10);
    let failed: Vec<String> = samples
        .iter()
        .filter_map(|sample| used(sample).err().map(|why| format!("{}: {why}", sample.display())))
        .collect();
    assert!(samples.len() - failed.len() >= LEAST, "{}", failed.join("\n"));
}

/// One survey as workbooks, as Parquet and as a list of other ids: each drafts a plan that runs.
#[test]
fn workbooks_parquet_and_other_ids_draft_plans_that_run() {
    let fixtures = Path::new(ROOT).join("tests/intake");
    for name in ["results.xlsx", "results.ods", "results.xls", "results.parquet"] {
        let (home, out) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let write_here = |name: &str, text: &str| fs::write(home.path().join(name), text).unwrap();
        write_here(
            "wells.csv",
            "Site,Lon,Lat\nW-1,-93.803523,43.296508\nW-2,-93.756981,43.320724\nW-3,-93.719282,43.348657\n",
        );
        write_here("other-ids.csv", "other_id,well\nOLD-9,W-3\n");
        let mut files: Vec<PathBuf> = ["wells.csv", "other-ids.csv"].map(|name| home.path().join(name)).to_vec();
        files.push(fixtures.join(name));
        files.push(Path::new(ROOT).join("demo/maps/townships.geojson"));
        let drafted = draft(&files, out.path()).unwrap_or_else(|problems| panic!("{name}: {problems}"));
        assert!(drafted.plan_text.contains("\naliases = "), "{name}: {}", drafted.plan_text);
        let plan = write(&drafted.plan_text, out.path()).unwrap();
        let checked = wellreeve::check(&plan, &Progress::new(Mode::Quiet));
        let outcome = checked.unwrap_or_else(|problems| panic!("{name}: {problems}\n{}", drafted.plan_text));
        assert!(outcome.accounting.used() >= 2, "{name}: {:?}\n{}", outcome.accounting, drafted.plan_text);
    }
}
