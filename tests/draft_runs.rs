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
