//! Files that cannot be used: one clear problem each, explained in the dictionary, with its line where one is known.

use super::{CSV, LONG, Lab, fixture};
use std::io::Write;

fn told(name: &str, bytes: impl AsRef<[u8]>, part: &str) -> (String, Option<u64>, String) {
    let problem = Lab::new(name, bytes, part).problem();
    assert!(problem.file.ends_with(name), "{problem}");
    assert!(!problem.found.is_empty() && !problem.wanted.is_empty(), "{problem}");
    let explained = include_str!("../../data-dictionary/problems.csv");
    assert!(explained.lines().any(|line| line.split(',').next() == Some(problem.code)), "{}", problem.code);
    (problem.code.to_owned(), problem.line, problem.key)
}

fn code(name: &str, bytes: impl AsRef<[u8]>) -> String {
    told(name, bytes, LONG).0
}

#[test]
fn files_that_are_no_tables() {
    for nothing in ["", " \r\n\n", "\u{feff}"] {
        assert_eq!(code("lab.csv", nothing), "file-empty");
    }
    assert_eq!(code("lab.csv", "%PDF-1.4 ..."), "not-a-table");
    assert_eq!(code("lab.xls", "<html><table>"), "not-a-table");
    assert_eq!(code("lab.json", "[{\"Site\": \"W-1\"}]"), "not-a-table");
    assert_eq!(code("lab.csv", [7u8, 0, 1, 2, 0, 10]), "not-text");
    assert_eq!(told("lab.csv", CSV.replace("7.1", "7\0"), LONG), ("not-text".to_owned(), Some(4), String::new()));
    let sixteen: Vec<u8> = CSV.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(code("lab.csv", sixteen), "not-text");
}

#[test]
fn columns_that_are_not_there() {
    let (what, line, key) = told("lab.csv", CSV.replace("Result", "Resutl"), LONG);
    assert_eq!((what.as_str(), line, key.as_str()), ("column-missing", Some(1), "results[1].columns.value"));
    let lab =
        Lab::new("lab.parquet", fixture("results.parquet"), &LONG.replace("Flag", "Remark").replace("Units", "Unit"));
    let problems = lab.open().err().unwrap();
    assert_eq!(problems.0.iter().map(|p| p.code).collect::<Vec<_>>(), ["column-missing", "column-missing"]);
    assert!(problems.0[0].wanted.contains("\"Units\""));
    let json = "{\"Site\": 1}\n{\"Parameter\": 1, \"Result\": 1, \"Units\": 1, \"Flag\": 1}";
    let problem = Lab::new("lab.jsonl", json, LONG).problem();
    assert_eq!((problem.code, problem.key.as_str()), ("column-missing", "results[1].columns.date"));
    assert_eq!(code("lab.csv", "Site,Parameter\n"), "column-missing");
    assert_eq!(told("lab.csv", CSV, &format!("header_line = 90\n{LONG}")).0, "header-missing");
}

#[test]
fn damage_further_down_has_its_line() {
    let json =
        "{\"Site\":1,\"Parameter\":1,\"Result\":1,\"Units\":1,\"Flag\":1,\"Collected\":1}\n\n{\"Site\": \"W-1\", \n";
    assert_eq!(told("lab.jsonl", json, LONG), ("json-damaged".to_owned(), Some(3), String::new()));
    assert_eq!(told("lab.jsonl", "{\"Site\": 1}\n[1]\n", LONG).1, Some(2));
    assert_eq!(told("lab.csv", CSV.replace("7.1", "\"7.1"), LONG), ("quote-open".to_owned(), Some(4), String::new()));
    let endless = format!("{CSV}W-3,\"{}", "x,\n".repeat(7 << 20));
    assert_eq!(told("lab.csv", endless, LONG), ("record-too-long".to_owned(), Some(5), String::new()));
}

#[test]
fn cut_off_files() {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(CSV.as_bytes()).unwrap();
    let gzip = packer.finish().unwrap();
    assert_eq!(code("lab.csv.gz", &gzip[..gzip.len() - 9]), "file-unreadable");
    let zst = zstd::encode_all(CSV.as_bytes(), 3).unwrap();
    assert_eq!(code("lab.csv.zst", &zst[..zst.len() - 9]), "file-unreadable");
    for name in ["results.xlsx", "results.xls", "results.ods", "results.parquet"] {
        let bytes = fixture(name);
        let wanted = if name.ends_with("parquet") { "parquet-damaged" } else { "workbook-damaged" };
        for part in [8, bytes.len() / 4, bytes.len() / 2] {
            assert_eq!(code(name, &bytes[..part]), wanted, "{name} cut at {part}");
        }
    }
}

#[test]
fn workbooks_with_bytes_changed_never_stop_the_program() {
    for name in ["results.xlsx", "results.xls", "results.ods"] {
        let whole = fixture(name);
        for at in (0..whole.len()).step_by(whole.len() / 40) {
            let mut bytes = whole.clone();
            bytes[at] ^= 0x5a;
            let lab = Lab::new(name, bytes, LONG);
            if let Ok(mut intake) = lab.open() {
                while intake.next_block().is_ok_and(|block| block.is_some()) {}
            }
        }
    }
}

#[test]
fn sheets_that_are_not_meant() {
    let book = fixture("results.xlsx");
    let named = |sheet: &str| Lab::new("lab.xlsx", &book, &format!("sheet = \"{sheet}\"\n{LONG}")).problem();
    let missing = named("Result");
    assert_eq!((missing.code, missing.key.as_str()), ("sheet-missing", "results[1].sheet"));
    assert_eq!(
        missing.wanted,
        "perhaps \"Results\"; the sheets are: \"Notes\", \"Old\", \"Results\", \"Blank\", \"Odd\""
    );
    assert_eq!(named("Blank").code, "sheet-empty");
    assert_eq!(named("Notes").code, "column-missing");
}

#[test]
fn a_workbook_that_unpacks_to_a_monster_is_refused() {
    let mut bytes = fixture("results.xlsx");
    let entry = bytes.windows(4).position(|mark| mark == b"PK\x01\x02").unwrap();
    bytes[entry + 24..entry + 28].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(code("lab.xlsx", bytes), "workbook-too-large");
}

#[test]
fn folders_are_no_files() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("lab.csv"), CSV).unwrap();
    let lab = Lab::in_folder(folder, "lab.csv", LONG);
    std::fs::remove_file(lab.folder.path().join("lab.csv")).unwrap();
    assert_eq!(lab.problem().code, "file-unreadable");
    std::fs::create_dir(lab.folder.path().join("lab.csv")).unwrap();
    assert_eq!(lab.problem().code, "not-a-file");
}
