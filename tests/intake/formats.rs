//! The same three results in every format and encoding.

use super::{CSV, LONG, Lab, SAME, TextOptions, fixture, intake, lines, said};
use std::io::Write;

fn same(name: &str, bytes: impl AsRef<[u8]>, part: &str, rows: [u64; 3]) {
    let results = Lab::new(name, bytes, part).results();
    assert_eq!(said(&results), SAME, "{name}");
    assert_eq!(lines(&results), rows, "{name}");
}

fn utf16(text: &str, bytes_of: fn(u16) -> [u8; 2]) -> Vec<u8> {
    text.encode_utf16().flat_map(bytes_of).collect()
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(bytes).unwrap();
    packer.finish().unwrap()
}

#[test]
fn delimiters_are_found_or_named() {
    for mark in [",", ";", "\t", "|"] {
        same("lab.csv", CSV.replace(',', mark), LONG, [2, 3, 4]);
    }
    same("lab.csv", CSV.replace(',', ":"), &format!("delimiter = \":\"\n{LONG}"), [2, 3, 4]);
}

#[test]
fn line_ends_marks_and_quotes_do_not_matter() {
    same("lab.csv", CSV.replace('\n', "\r\n"), LONG, [2, 3, 4]);
    same("lab.csv", CSV.replace('\n', "\r"), LONG, [2, 3, 4]);
    same("lab.csv", CSV.trim_end(), LONG, [2, 3, 4]);
    same("lab.csv", format!("\u{feff}{CSV}"), LONG, [2, 3, 4]);
    same("lab.csv", CSV.replace("Arsenic", "\"Arsenic\"").replace('\n', "\n\n"), LONG, [3, 5, 7]);
}

#[test]
fn packed_files_are_unpacked() {
    same("lab.csv.gz", gzip(CSV.as_bytes()), LONG, [2, 3, 4]);
    same("lab.csv.zst", zstd::encode_all(CSV.as_bytes(), 3).unwrap(), LONG, [2, 3, 4]);
    same("lab.xlsx.gz", gzip(&fixture("results.xlsx")), LONG, [5, 6, 8]);
}

#[test]
fn encodings_are_told_by_mark_line_or_plan() {
    let odd = CSV.replace("ug/L", "µg/L").replace("Flag", "Flagged é");
    let part = LONG.replace("Flag", "Flagged é");
    let latin: Vec<u8> = odd.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let named = format!("encoding = \"latin1\"\n{part}");
    let sixteen = format!("encoding = \"utf-16le\"\n{part}");
    let files: [(Vec<u8>, &str); 6] = [
        (odd.clone().into_bytes(), &part),
        (utf16(&format!("\u{feff}{odd}"), u16::to_le_bytes), &part),
        (utf16(&format!("\u{feff}{odd}"), u16::to_be_bytes), &part),
        (utf16(&odd, u16::to_le_bytes), &sixteen),
        (latin.clone(), &part),
        (latin.clone(), &named),
    ];
    for (bytes, part) in files {
        assert_eq!(said(&Lab::new("lab.csv", bytes, part).results()), SAME.replace("ug/L", "µg/L"));
    }
    let lab = Lab::new("lab.csv", latin, &part);
    let mut intake = lab.open().unwrap();
    while intake.next_block().unwrap().is_some() {}
    assert_eq!((intake.warnings.len(), intake.warnings[0].count), (1, 3));
}

#[test]
fn workbooks_give_their_rows() {
    same("lab.xlsx", fixture("results.xlsx"), LONG, [5, 6, 8]);
    same("lab.xls", fixture("results.xls"), LONG, [5, 6, 8]);
    same("lab.ods", fixture("results.ods"), LONG, [5, 6, 8]);
    same("lab.xlsx", fixture("results.xlsx"), &format!("sheet = \"Results\"\n{LONG}"), [5, 6, 8]);
    same("mere-name", fixture("results.xlsx"), LONG, [5, 6, 8]);
}

#[test]
fn odd_cells_of_a_workbook_stand_as_what_they_are() {
    let part = format!("sheet = \"Odd\"\n{}", LONG.replace("Collected", "Received"));
    let results = Lab::new("lab.xlsx", fixture("results.xlsx"), &part).results();
    let wanted =
        ["2|W 3||1234.5|\"ug/L\"||", "3|true||#N/A|||2019-02-03 14:30:00", "4|||0.0000001|||", "1048576||||||"];
    assert_eq!(results, wanted);
    let comma = Lab::new("lab.xlsx", fixture("results.xlsx"), &format!("decimal = \",\"\n{part}"));
    assert_eq!(comma.results()[0], "2|W 3||1234,5|\"ug/L\"||");
}

#[test]
fn a_time_of_a_workbook_stays_a_time() {
    let part = format!("sheet = \"Odd\"\n{LONG}");
    assert_eq!(Lab::new("lab.xlsx", fixture("results.xlsx"), &part).results()[1], "3|true||#N/A|||14:30:00");
}

#[test]
fn parquet_gives_its_records() {
    same("lab.parquet", fixture("results.parquet"), LONG, [1, 2, 3]);
    let part = LONG.replace("Result", "Depth");
    let results = Lab::new("lab.parquet", fixture("results.parquet"), &part).results();
    assert_eq!(results[0], "1|W-1|Nitrate as N|1.5|mg/L||2019-02-03");
    assert_eq!(results[1], "2|W-1|Arsenic||ug/L|U|2019-02-03");
}

#[test]
fn json_lines_give_their_lines() {
    let text = r#"{"Site": "W-1", "Parameter": "Nitrate as N", "Result": 2.5, "Units": "mg/L", "Collected": "2019-02-03"}

{"Parameter": "Arsenic", "Site": "W-1", "Result": "<0.5", "Units": "ug/L", "Flag": "U", "Collected": "2019-02-03", "Note": null}
{"Site": "W-2", "Parameter": "Arsenic", "Result": "7.1", "Units": "ug/L", "Flag": "J", "Collected": "2019-12-31"}"#;
    same("lab.jsonl", text, LONG, [1, 3, 4]);
    same("lab.jsonl", text.replace('\n', "\r\n"), LONG, [1, 3, 4]);
}

#[test]
fn lines_that_differ_under_another_key_are_not_the_same_line() {
    let line =
        r#"{"Site": "W-1", "Parameter": "Iron", "Result": 1, "Units": "", "Flag": "", "Collected": "", "Tap": "KEY"}"#;
    let text = ["a", "b", "a"].map(|tap| line.replace("KEY", tap)).join("\n");
    let lab = Lab::new("lab.jsonl", text, LONG);
    let block = lab.open().unwrap().next_block().unwrap().unwrap();
    let mut digests = Vec::new();
    block.each_result(|line, _| digests.push(line.digest)).unwrap();
    assert!(digests[0] != digests[1] && digests[0] == digests[2]);
}

#[test]
fn small_tables_come_in_the_same_formats() {
    let columns = [("Site".to_owned(), "k".to_owned()), ("Result".to_owned(), "k".to_owned())];
    for name in ["results.xlsx", "results.xls", "results.ods", "results.parquet"] {
        let lab = Lab::new(name, fixture(name), LONG);
        let path = lab.folder.path().join(name);
        let table = intake::read_table(&lab.inputs, &path, &TextOptions::default(), &columns).unwrap();
        let cells: Vec<&str> = table.records().flat_map(|record| [record.cell(0), record.cell(1)]).collect();
        assert_eq!(cells, ["W-1", "2.5", "W-1", "<0.5", "W-2", "7.1"], "{name}");
        assert_eq!(lab.inputs.facts()[&path].rows, 3);
    }
}
