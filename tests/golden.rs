//! The bytes of every output, by digest: the demo and three generated surveys must come out as they did.
//!
//! Work on speed or memory must not move a byte. Where a change of output is meant, `WELLREEVE_BLESS=1 cargo test --release --test golden`
//! writes `tests/golden/hashes.txt` anew: look at what the change touched (`git diff --stat` of two outputs), and commit the file with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/generated.rs"]
mod generated;
#[path = "support/survey.rs"]
mod survey;

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Seed, wells and choice of the generated surveys.
const SURVEYS: [(u64, usize, &str); 3] = [(1, 300, "latest"), (2, 500, "highest"), (3, 400, "median")];

fn home() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// `survey/path`, and the digest of the file; of the manifest without the clock's and the version's lines.
fn digests(name: &str, plan: &Path, into: &mut BTreeMap<String, String>) {
    let out = tempfile::tempdir().unwrap();
    survey::run(plan, &out.path().join("out"));
    for (path, bytes) in survey::files(&out.path().join("out")) {
        let bytes = if path == "manifest.json" { without_clock(&bytes) } else { bytes };
        let digest: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        into.insert(format!("{name}/{path}"), digest);
    }
}

fn without_clock(manifest: &[u8]) -> Vec<u8> {
    let text = std::str::from_utf8(manifest).unwrap();
    let stays = |line: &&str| !line.contains("\"started_at\"") && !line.contains("\"version\"");
    text.lines().filter(stays).collect::<Vec<_>>().join("\n").into_bytes()
}

fn all() -> BTreeMap<String, String> {
    let mut all = BTreeMap::new();
    digests("demo", &home().join("demo/plan.toml"), &mut all);
    for (seed, wells, choose) in SURVEYS {
        let folder = tempfile::tempdir().unwrap();
        generated::generate(seed, wells).write(folder.path(), choose, None);
        digests(&format!("survey-{seed}"), &folder.path().join("plan.toml"), &mut all);
    }
    all
}

/// The file has a line each: digest, two blanks, path.
#[test]
fn every_byte_is_as_it_was() {
    let file = home().join("tests/golden/hashes.txt");
    let found = all();
    assert!(found.len() > 400, "only {} files", found.len());
    let text: String = found.iter().map(|(path, digest)| format!("{digest}  {path}\n")).collect();
    if std::env::var_os("WELLREEVE_BLESS").is_some() {
        std::fs::write(&file, &text).unwrap();
        return;
    }
    let wanted = std::fs::read_to_string(&file).unwrap();
    let wanted: BTreeMap<&str, &str> =
        wanted.lines().filter_map(|line| line.split_once("  ")).map(|(d, p)| (p, d)).collect();
    let names =
        found.keys().map(String::as_str).chain(wanted.keys().copied()).collect::<std::collections::BTreeSet<_>>();
    let differs = |name: &&str| wanted.get(name).copied() != found.get(*name).map(String::as_str);
    let differing: Vec<&str> = names.into_iter().filter(differs).collect();
    let shown = differing.iter().take(40).copied().collect::<Vec<_>>().join("\n");
    assert!(
        differing.is_empty(),
        "{} outputs are not as they were; if that is meant, WELLREEVE_BLESS=1 writes tests/golden/hashes.txt anew:\n{shown}",
        differing.len()
    );
}
