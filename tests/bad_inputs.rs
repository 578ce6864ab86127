//! Bad plans and inputs, each with the exact words that its user gets. The words stand in `tests/bad-inputs/*.txt`, to be read.
//!
//! Every case starts from one small sound survey, spoils it, and asks `check`. Where that says no (status 2), `run` must say
//! the same and leave no output; where `check` says yes, `run` must too. `WELLREEVE_BLESS=1` writes the files anew; read them then.
#![allow(clippy::print_stdout, reason = "what a system does not allow is told as skipped")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[allow(dead_code, missing_docs, reason = "one of its functions is used")]
#[path = "fuzz/src/archive.rs"]
mod archive;
#[path = "bad-inputs/base.rs"]
mod base;
#[path = "bad-inputs/changing.rs"]
mod changing;
#[path = "support/hostile_parquet.rs"]
mod hostile_parquet;
#[path = "bad-inputs/killed.rs"]
mod killed;
#[path = "bad-inputs/maps.rs"]
mod maps;
#[path = "bad-inputs/mounts.rs"]
mod mounts;
#[path = "bad-inputs/packed.rs"]
mod packed;
#[path = "bad-inputs/permissions.rs"]
mod permissions;
#[path = "bad-inputs/places.rs"]
mod places;
#[path = "bad-inputs/plans.rs"]
mod plans;
#[path = "bad-inputs/tables.rs"]
mod tables;
#[path = "bad-inputs/writing.rs"]
mod writing;

/// The files together hold at least this many cases.
const FEWEST: usize = 60;

/// Otherwise every case would fail for another reason than its own.
#[test]
fn the_survey_is_sound_before_it_is_spoilt() {
    base::walk("unspoilt", &[("nothing is wrong", |_| {})]);
}

#[test]
fn the_files_hold_many_cases() {
    let folder = base::folder();
    let texts = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let texts = texts.filter(|path| path.extension().is_some_and(|end| end == "txt"));
    let cases: usize = texts
        .map(|path| std::fs::read_to_string(path).unwrap().lines().filter(|line| line.starts_with("== ")).count())
        .sum();
    assert!(cases >= FEWEST, "{cases} cases");
}
