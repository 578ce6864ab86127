//! Every problem's code stands in data-dictionary/problems.csv, and every code there is used.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeSet;
use std::path::Path;

/// Rust sources without their test modules, joined.
fn sources(folder: &Path, into: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            into.push(text.split("#[cfg(test)]\nmod tests").next().unwrap().to_owned());
        }
    }
}

/// Text literals shaped like a code (two or more lower-case words with hyphens) among a call's first arguments.
fn codes_in(text: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for call in ["Problem::file(", ".problem("] {
        for rest in text.split(call).skip(1) {
            let end = rest.char_indices().nth(300).map_or(rest.len(), |(at, _)| at);
            let start = rest.split_at(end).0.split(';').next().unwrap();
            let is_code = |word: &&str| {
                word.contains('-')
                    && word.split('-').all(|part| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase()))
            };
            found.extend(start.split('"').skip(1).step_by(2).find(is_code).map(str::to_owned));
        }
    }
    found
}

#[test]
fn codes_and_their_list_agree() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut texts = Vec::new();
    sources(&home.join("src"), &mut texts);
    let used: BTreeSet<String> = texts.iter().flat_map(|text| codes_in(text)).collect();
    let mut reader = csv::Reader::from_path(home.join("data-dictionary/problems.csv")).unwrap();
    let listed: Vec<String> = reader.records().map(|record| record.unwrap()[0].to_owned()).collect();
    let known: BTreeSet<String> = listed.iter().cloned().collect();
    assert_eq!(known.len(), listed.len(), "a code is listed twice");
    let unlisted: Vec<&String> = used.difference(&known).collect();
    assert!(unlisted.is_empty(), "codes without an entry: {unlisted:?}");
    let all = texts.join("\n");
    let unused: Vec<&String> = known.iter().filter(|code| !all.contains(&format!("\"{code}\""))).collect();
    assert!(unused.is_empty(), "entries that nothing uses: {unused:?}");
}
