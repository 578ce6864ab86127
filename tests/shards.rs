//! A survey cut by state, each state reduced apart, and merged: byte for byte the tables of the survey reduced at once.
//!
//! This is what a reduction on several machines rests on (see "Past one machine" in DEVELOPERS.md). Files and line numbers
//! of results are other ones in a cut survey, so the lists that name them are compared without them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/generated.rs"]
mod generated;
#[path = "support/survey.rs"]
mod survey;

use generated::{Generated, STATES, generate};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use wellreeve::per_well::Keep;
use wellreeve::progress::{Mode, Progress};
use wellreeve::publish::Stage;
use wellreeve::survey::{Job, Reduced, prepare, reduce};
use wellreeve::{conclude, place};

const QUIET: fn() -> Progress = || Progress::new(Mode::Quiet);

fn reduced(home: &Path, keep: Keep) -> (Job, place::Wells, Reduced) {
    let job = prepare(&home.join("plan.toml")).unwrap();
    let wells = place::wells(&job.plan, &job.inputs).unwrap();
    let reduced = reduce(&job, &wells, keep, &QUIET()).unwrap();
    (job, wells, reduced)
}

/// The states, each reduced in a folder of its own; the first one's rows wait on disk, the others' in memory.
fn states(made: &Generated, home: &Path, choose: &str) -> Vec<(PathBuf, Keep)> {
    let folder = |state: usize| {
        let folder = home.join(format!("state-{state}"));
        made.write(&folder, choose, Some(state));
        let in_memory = if state == 0 { 0 } else { 1_000_000 };
        (folder.clone(), Keep::Rows { in_memory, folder })
    };
    (0..STATES).map(folder).collect()
}

/// Output that must not show how the survey was cut; of the lists of rows, the lines without file and number, sorted.
fn comparable(out: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = survey::files(out);
    // These name files, or give the digests of those that do.
    for name in [
        "manifest.json",
        "internal/results.parquet",
        "internal/well-values.parquet",
        "internal/research/well-values.parquet",
    ] {
        files.remove(name).unwrap_or_else(|| panic!("no {name}"));
    }
    files.retain(|name, _| !name.starts_with("internal/research/") && !name.ends_with("report.html"));
    let rows = String::from_utf8(files.remove("internal/set-aside.csv").unwrap()).unwrap();
    let mut rows: Vec<&str> = rows.lines().filter_map(|line| line.splitn(3, ',').nth(2)).collect();
    rows.sort_unstable();
    files.insert("internal/set-aside.csv".to_owned(), rows.join("\n").into_bytes());
    files
}

fn is_merged_as_at_once(choose: &str) {
    let made = generate(11, 400);
    let home = tempfile::tempdir().unwrap();
    let (whole, out) = (home.path().join("whole"), home.path().join("out"));
    made.write(&whole, choose, None);
    survey::run(&whole.join("plan.toml"), &home.path().join("at-once"));

    let mut parts = states(&made, home.path(), choose).into_iter().map(|(folder, keep)| reduced(&folder, keep).2);
    let mut all = parts.next().unwrap();
    parts.for_each(|part| all.merge(part).unwrap());
    let job = prepare(&whole.join("plan.toml")).unwrap();
    let wells = place::wells(&job.plan, &job.inputs).unwrap();
    let stage = Stage::new(&out).unwrap();
    conclude(stage, &job, &wells, &all.finish(&job.plan, &wells), &QUIET()).unwrap();

    let (wanted, found) = (comparable(&home.path().join("at-once")), comparable(&out));
    assert_eq!(wanted.keys().collect::<Vec<_>>(), found.keys().collect::<Vec<_>>());
    assert!(wanted.keys().filter(|name| name.contains("/tables/")).count() > 20);
    for (name, bytes) in wanted {
        assert!(bytes == found[&name], "{choose}: {name} differs");
    }
}

#[test]
fn states_reduced_apart_and_merged_give_the_same_tables() {
    is_merged_as_at_once("latest");
}

#[test]
fn the_median_merges_too() {
    is_merged_as_at_once("median");
}

#[test]
fn merging_is_associative() {
    let made = generate(12, 400);
    let home = tempfile::tempdir().unwrap();
    let part = |at: usize| {
        let (folder, keep) = states(&made, home.path(), "highest").swap_remove(at);
        reduced(&folder, keep)
    };
    let [(job, wells, mut a), (_, _, b), (_, _, c)] = [part(0), part(1), part(2)];
    a.merge(b).unwrap();
    a.merge(c).unwrap();
    let [(_, _, mut left), (_, _, mut b), (_, _, c)] = [part(0), part(1), part(2)];
    b.merge(c).unwrap();
    left.merge(b).unwrap();
    let (one, other) = (a.finish(&job.plan, &wells), left.finish(&job.plan, &wells));
    assert!(!one.values.is_empty());
    assert_eq!((one.values, one.accounting), (other.values, other.accounting));
}

/// A line that stands in two parts would count once in one run: merging must say so, not count it twice.
#[test]
fn parts_that_share_lines_are_refused() {
    let made = generate(13, 400);
    let home = tempfile::tempdir().unwrap();
    made.write(home.path(), "latest", Some(1));
    let [(_, _, mut one), (_, _, again)] = [Keep::Nothing, Keep::Nothing].map(|keep| reduced(home.path(), keep));
    let told = one.merge(again).unwrap_err().to_string();
    assert!(told.contains("stand in both parts; cut the survey by well"), "{told}");
}
