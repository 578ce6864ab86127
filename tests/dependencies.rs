//! What the program is made of: every crate stands in dependencies.csv with its licence, and no licence asks for more than a notice.
//!
//! `WELLREEVE_BLESS=1` writes the list anew; read the difference. The crate's own code holds no `unsafe`, which its two roots say.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]
#![allow(clippy::string_slice, reason = "places in the text are those of words found in it")]

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// Licences that let anybody use, change and pass on the program (SPDX names).
const ALLOWED: [&str; 13] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

fn here(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// What cargo knows of the crates that a build on Linux takes.
fn metadata() -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--offline", "--format-version", "1"])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Ids that can be reached from the root by links of the kinds given; the root itself left out.
fn reached(metadata: &Value, kinds: &[Option<&str>]) -> BTreeSet<String> {
    let nodes = metadata["resolve"]["nodes"].as_array().unwrap();
    let links: BTreeMap<&str, &Value> =
        nodes.iter().map(|node| (node["id"].as_str().unwrap(), &node["deps"])).collect();
    let root = metadata["resolve"]["root"].as_str().unwrap();
    let (mut seen, mut ahead) = (BTreeSet::new(), vec![root]);
    while let Some(id) = ahead.pop() {
        for link in links[id].as_array().unwrap() {
            let of_kind = |kind: &Value| kinds.contains(&kind["kind"].as_str());
            let to = link["pkg"].as_str().unwrap();
            if link["dep_kinds"].as_array().unwrap().iter().any(of_kind) && seen.insert(to.to_owned()) {
                ahead.push(to);
            }
        }
    }
    seen
}

/// The list as it should stand in the file.
fn list(metadata: &Value) -> String {
    let in_program = reached(metadata, &[None]);
    let in_build = reached(metadata, &[None, Some("build")]);
    let mut rows: Vec<[String; 4]> = Vec::new();
    for package in metadata["packages"].as_array().unwrap().iter().filter(|package| package["name"] != "wellreeve") {
        let text = |key: &str| package[key].as_str().unwrap_or("").to_owned();
        let use_of = match package["id"].as_str().unwrap() {
            id if in_program.contains(id) => "program",
            id if in_build.contains(id) => "build",
            _ => "tests",
        };
        rows.push([text("name"), text("version"), text("license").replace('/', " OR "), use_of.to_owned()]);
    }
    rows.sort();
    let lines = rows.iter().map(|row| row.join(",").replace("  ", " ") + "\n");
    "crate,version,licence,used_for\n".to_owned() + &lines.collect::<String>()
}

#[test]
fn every_crate_stands_in_the_list() {
    let found = list(&metadata());
    let path = here("tests/dependencies.csv");
    if std::env::var_os("WELLREEVE_BLESS").is_some() {
        std::fs::write(&path, &found).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap();
    let (found, wanted): (BTreeSet<&str>, BTreeSet<&str>) = (found.lines().collect(), wanted.lines().collect());
    let [new, gone] = [found.difference(&wanted), wanted.difference(&found)].map(|rows| rows.collect::<Vec<_>>());
    assert!(new.is_empty() && gone.is_empty(), "WELLREEVE_BLESS=1 writes it anew\nnew: {new:#?}\ngone: {gone:#?}");
}

#[test]
fn every_licence_is_allowed() {
    let list = std::fs::read_to_string(here("tests/dependencies.csv")).unwrap();
    let rows: Vec<Vec<&str>> = list.lines().skip(1).map(|line| line.split(',').collect()).collect();
    assert!(rows.len() > 200);
    let refused: Vec<_> = rows.iter().filter(|row| !allowed(row[2])).collect();
    assert!(refused.is_empty(), "{refused:#?}");
}

/// Whether an expression can be met: of `OR` one side, of `AND` both.
fn allowed(expression: &str) -> bool {
    let expression = expression.trim();
    if let Some((left, right)) = split(expression, " OR ") {
        return allowed(left) || allowed(right);
    }
    if let Some((left, right)) = split(expression, " AND ") {
        return allowed(left) && allowed(right);
    }
    match expression.strip_prefix('(').and_then(|inner| inner.strip_suffix(')')) {
        Some(inner) => allowed(inner),
        None => ALLOWED.contains(&expression),
    }
}

/// The two sides of the first word that stands outside brackets.
fn split<'e>(expression: &'e str, word: &str) -> Option<(&'e str, &'e str)> {
    let outside = |at: usize| {
        let before = &expression[..at];
        before.matches('(').count() == before.matches(')').count()
    };
    let (at, _) = expression.match_indices(word).find(|(at, _)| outside(*at))?;
    Some((&expression[..at], &expression[at + word.len()..]))
}

#[test]
fn expressions_are_read_as_their_standard_says() {
    for (expression, can) in [
        ("MIT OR GPL-3.0-only", true),
        ("MIT AND GPL-3.0-only", false),
        ("(MIT OR GPL-3.0-only) AND Unicode-3.0", true),
        ("(GPL-2.0-only OR LGPL-2.1) AND MIT", false),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("GPL-3.0-only WITH GCC-exception-3.1", false),
        ("", false),
    ] {
        assert_eq!(allowed(expression), can, "{expression}");
    }
}

#[test]
fn the_roots_forbid_unsafe_code() {
    for root in ["src/lib.rs", "src/main.rs"] {
        let text = std::fs::read_to_string(here(root)).unwrap();
        assert!(text.lines().any(|line| line == "#![forbid(unsafe_code)]"), "{root}");
    }
}

/// The fuzzer has a lock file of its own, which `tests/fuzz/run.sh` takes as it is.
#[test]
fn the_lock_file_of_the_fuzzer_follows() {
    let metadata = metadata();
    let own = metadata["packages"].as_array().unwrap().iter().find(|package| package["name"] == "wellreeve").unwrap();
    let needs = own["dependencies"].as_array().unwrap().iter().filter(|needed| needed["kind"].is_null());
    let needs: BTreeSet<&str> = needs.map(|needed| needed["name"].as_str().unwrap()).collect();
    let lock = std::fs::read_to_string(here("tests/fuzz/Cargo.lock")).unwrap();
    let block = lock.split("[[package]]").find(|block| block.contains("name = \"wellreeve\"\n")).unwrap();
    let (_, list) = block.split_once("dependencies = [").unwrap();
    let names = list.lines().filter_map(|line| line.trim().trim_matches(['"', ',']).split(' ').next());
    let locked: BTreeSet<&str> =
        names.map(|name| name.trim_matches('"')).filter(|name| !name.is_empty() && *name != "]").collect();
    assert_eq!(locked, needs, "cargo metadata --offline in tests/fuzz brings it up to date");
}
