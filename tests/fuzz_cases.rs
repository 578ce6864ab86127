//! The fuzzer's interesting cases, kept small, on stable Rust: whatever the bytes are, nothing panics and what must hold holds.
//!
//! `fuzz/cases/TARGET/` holds them; every input that ever stopped a target is among them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test stops at the first surprise"
)]

#[allow(dead_code, missing_docs, reason = "the fuzzer uses the rest")]
#[path = "fuzz/src/lib.rs"]
mod fuzz;

use std::path::{Path, PathBuf};

fn cases(target: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/cases").join(target);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn every_case_of_every_target() {
    let mut count = 0;
    for (target, work) in fuzz::TARGETS {
        let cases = cases(target);
        assert!(!cases.is_empty(), "{target} has no cases");
        for case in cases {
            let bytes = std::fs::read(&case).unwrap();
            let done = std::panic::catch_unwind(|| work(&bytes));
            assert!(done.is_ok(), "{}", case.display());
            count += 1;
        }
    }
    assert!(count > 100, "{count} cases");
    let _ = std::fs::remove_dir_all(fuzz::folder());
}

/// Text cut at every byte, and with each byte turned: what a broken copy looks like.
#[test]
fn cases_cut_short_and_bent() {
    for (target, work) in fuzz::TARGETS.iter().filter(|(target, _)| ["value", "date", "wkb"].contains(target)) {
        for case in cases(target) {
            let bytes = std::fs::read(&case).unwrap();
            for at in 0..bytes.len().min(120) {
                work(&bytes[..at]);
                let mut bent = bytes.clone();
                bent[at] ^= 0x80;
                work(&bent);
            }
        }
    }
    let _ = std::fs::remove_dir_all(fuzz::folder());
}
