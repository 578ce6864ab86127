//! Markup, formulas and marks that turn the direction of text, planted in every text field of the input, are text in every output.
//!
//! The same survey's workbooks are read back by a library of their own and hold what the CSV holds.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use calamine::{Data, Reader, Xlsx, open_workbook};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use survey::{Survey, files};

/// Markup that would run, and a turn of direction that nothing ends.
const MARKUP: &str = "<img src=x onerror=planted()>&\u{202e}";
/// A formula that would call out.
const FORMULA: &str = "=HYPERLINK(1)";

fn json(text: &str) -> String {
    serde_json::to_string(text).unwrap()
}

fn areas() -> String {
    let names = [(format!("{FORMULA}W"), format!("{MARKUP}West")), (format!("{MARKUP}E"), format!("@SUM(1){MARKUP}"))];
    let feature = |at: usize| {
        let (west, (id, name)) = (-94.0 + 0.5 * at as f64, &names[at]);
        format!(
            r#"{{"type":"Feature","properties":{{"code":{},"label":{},"wells":400}},"geometry":{{"type":"Polygon","coordinates":[[[{west},42.8],[{e},42.8],[{e},43.2],[{west},43.2],[{west},42.8]]]}}}}"#,
            json(id),
            json(name),
            e = west + 0.5
        )
    };
    format!(r#"{{"type":"FeatureCollection","features":[{},{}]}}"#, feature(0), feature(1))
}

fn survey() -> Survey {
    let (mut wells, mut rows) =
        ("well,lon,lat\n".to_owned(), "well,analyte,value,unit,date,sample,kind,method\n".to_owned());
    for n in 0..40 {
        let id = format!("{FORMULA}{MARKUP}{n}");
        let (lon, lat) = (-93.9 + 0.02 * f64::from(n), 42.85 + 0.007 * f64::from(n));
        writeln!(wells, "\"{id}\",{lon},{lat}").unwrap();
        let value = if n % 5 == 0 { "<1".to_owned() } else { format!("{}", 2 + n % 17) };
        writeln!(rows, "\"{id}\",Arsenic,{value},ug/L,2021-03-0{},+{n}{MARKUP},{MARKUP},{FORMULA}{MARKUP}", 1 + n % 9)
            .unwrap();
        writeln!(rows, "\"{id}\",{FORMULA}{MARKUP},{value},{MARKUP},2021-03-01,1,,").unwrap();
        writeln!(rows, "\"{id}\",Lead,{FORMULA}{MARKUP},ug/L,2021-03-01,1,,").unwrap();
    }
    let survey = Survey::new("", &[("wells.csv", &wells), ("lab.csv", &rows), ("sites.csv", "x,y\n-93.7,42.9\n")]);
    survey.write("areas.geojson", &areas());
    let plan = PLAN.replace("MARKUP", MARKUP).replace("FORMULA", FORMULA);
    survey.write("plan.toml", &plan);
    survey
}

const PLAN: &str = r#"
[survey]
title = "FORMULA MARKUP"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "well", analyte = "analyte", value = "value", unit = "unit", date = "date", sample = "sample", sample_kind = "kind", method = "method" }
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"
[areas]
files = ["areas.geojson"]
id = "code"
name = "label"
wells_on_record = "wells"
[[land_use]]
name = "FORMULA MARKUP"
measure = "nearest"
files = ["sites.csv"]
columns = { x = "x", y = "y" }
crs = "EPSG:4326"
bands = [9000, 30000]
[benchmarks]
sets = ["us-mcl"]
[summary]
resamples = 0
[letters]
contact = "FORMULA MARKUP"
"#;

static RUN: LazyLock<Survey> = LazyLock::new(|| {
    let survey = survey();
    survey.run();
    survey
});

fn out() -> PathBuf {
    RUN.path("out")
}

fn text_of(ends: &[&str]) -> Vec<(String, String)> {
    let chosen = files(&out()).into_iter().filter(|(name, _)| ends.iter().any(|end| name.ends_with(end)));
    chosen.map(|(name, bytes)| (name, String::from_utf8(bytes).unwrap())).collect()
}

#[test]
fn markup_is_text_in_pages_and_pictures() {
    let found = text_of(&[".html", ".svg"]);
    assert!(found.len() > 3, "{}", found.len());
    for (name, text) in found {
        assert!(!text.contains("<img src=x"), "{name}");
    }
    let page = std::fs::read_to_string(out().join("public/report.html")).unwrap();
    assert!(page.contains("&lt;img src=x onerror=planted()&gt;&amp;"), "the planted text is shown, as text");
}

/// A turn of direction stays inside an element of its own, or is left out.
#[test]
fn direction_is_not_turned() {
    for (name, text) in text_of(&[".svg"]) {
        assert!(!text.contains('\u{202e}'), "{name}");
    }
    for (name, text) in text_of(&[".html"]) {
        for (at, _) in text.match_indices('\u{202e}') {
            let (before, _) = text.split_at(at);
            let inside = before.rfind("<bdi>") > before.rfind("</bdi>");
            let tag = before.rfind('<') > before.rfind('>');
            let own = before.rfind("<title>") > before.rfind("</title>")
                || before.rfind("<option") > before.rfind("</option>");
            assert!(inside || tag || own, "{name} at {at}");
        }
    }
}

#[test]
fn no_cell_of_a_table_is_a_formula() {
    let mut cells = 0;
    for (name, text) in text_of(&[".csv"]) {
        for record in csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes()).records()
        {
            for cell in &record.unwrap() {
                cells += 1;
                let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
                assert!(!formula, "{name}: {cell}");
            }
        }
    }
    assert!(cells > 500);
}

#[test]
fn areas_are_geojson_with_the_names_as_given() {
    let bytes = std::fs::read(out().join("public/areas.geojson")).unwrap();
    let parsed: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(parsed["features"][0]["properties"]["area_name"], format!("{MARKUP}West"));
}

fn sheets(path: &Path) -> BTreeMap<String, Vec<Vec<Data>>> {
    let mut book: Xlsx<_> = open_workbook(path).unwrap();
    for sheet in book.sheet_names() {
        let formulas = book.worksheet_formula(&sheet).unwrap();
        assert!(formulas.cells().all(|(_, _, formula)| formula.is_empty()), "{sheet} holds a formula");
    }
    let read = |(name, range): (String, calamine::Range<Data>)| (name, range.rows().map(<[Data]>::to_vec).collect());
    book.worksheets().into_iter().map(read).collect()
}

#[test]
fn workbooks_hold_what_the_csv_holds() {
    for side in ["public", "internal"] {
        let sheets = sheets(&out().join(side).join("survey.xlsx"));
        let mut numbers = 0;
        for (name, rows) in sheets.iter().filter(|(name, _)| !matches!(name.as_str(), "about" | "hidden")) {
            let path = out().join(side).join(format!("tables/{name}.csv"));
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(&path).unwrap();
            let told: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
            assert_eq!(rows.len(), told.len(), "{name}");
            for (row, told) in rows.iter().zip(&told).skip(1) {
                for (cell, told) in row.iter().zip(told) {
                    match cell {
                        Data::Empty => assert_eq!(told, "", "{name}"),
                        Data::Float(x) => assert_eq!(Some(*x), told.parse().ok(), "{name}: {told}"),
                        Data::Int(x) => assert_eq!(x.to_string(), told, "{name}"),
                        Data::String(text) => assert_eq!(text, told.strip_prefix('\'').unwrap_or(told), "{name}"),
                        other => panic!("{name}: {other:?} for {told}"),
                    }
                    numbers += usize::from(matches!(cell, Data::Float(_) | Data::Int(_)));
                }
            }
        }
        assert!(numbers > 100, "{side}: {numbers} numbers");
    }
}

/// Two runs, the same bytes.
#[test]
fn workbooks_are_the_same_each_time() {
    let again = survey();
    again.run();
    let read = |home: &Path| std::fs::read(home.join("public/survey.xlsx")).unwrap();
    assert!(read(&out()) == read(&again.path("out")));
}

/// The parts of a workbook, unpacked: local headers of a zip file, each with its packed bytes (PKWARE's APPNOTE, from memory).
fn unpacked(bytes: &[u8]) -> String {
    let mut text = String::new();
    let starts = bytes.windows(4).enumerate().filter(|(_, window)| *window == b"PK\x03\x04").map(|(at, _)| at);
    for at in starts {
        let word = |from: usize| usize::from(u16::from_le_bytes([bytes[at + from], bytes[at + from + 1]]));
        let (method, name) = (word(8), at + 30..at + 30 + word(26));
        text.push_str(&String::from_utf8_lossy(&bytes[name.clone()]));
        let packed = &bytes[name.end + word(28)..];
        if method == 8 {
            let mut part = Vec::new();
            std::io::Read::read_to_end(&mut flate2::read::DeflateDecoder::new(packed), &mut part).unwrap();
            text.push_str(&String::from_utf8_lossy(&part));
        }
    }
    text
}

/// Every text of a Parquet file, with what stands in its foot.
fn columns(path: &Path, bytes: &[u8]) -> String {
    use polars::prelude::{ParquetReader, SerReader};
    let frame = ParquetReader::new(std::fs::File::open(path).unwrap()).finish().unwrap();
    let mut text = String::from_utf8_lossy(bytes).into_owned();
    for column in frame.columns().iter().filter(|column| column.str().is_ok()) {
        column.str().unwrap().iter().flatten().for_each(|cell| {
            text.push_str(cell);
            text.push('\n');
        });
    }
    text
}

/// No public file names a well, a sample, an input file, a folder of this machine or its user, be it packed or in a file's own description.
#[test]
fn nothing_of_wells_and_machine_is_in_public_files() {
    let mut never: Vec<String> = (0..40).map(|n| format!("{FORMULA}{MARKUP}{n}")).collect();
    never.extend((0..40).map(|n| format!("+{n}{MARKUP}")));
    never.extend(["lab.csv", "wells.csv", "sites.csv", "plan.toml"].map(str::to_owned));
    never.push(RUN.home.path().to_string_lossy().into_owned());
    never.extend(std::env::var("HOME").into_iter().chain(std::env::current_dir().map(|at| at.display().to_string())));
    let host = std::fs::read_to_string("/etc/hostname").unwrap_or_default().trim().to_owned();
    never.extend(std::env::var("USER").into_iter().chain([host]).filter(|name| name.len() > 5));
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for (name, bytes) in
        files(&out()).into_iter().filter(|(name, _)| name.starts_with("public/") || name.starts_with("research/"))
    {
        let ends = name.rsplit('.').next().unwrap().to_owned();
        let text = match ends.as_str() {
            "xlsx" => unpacked(&bytes),
            "parquet" => columns(&out().join(&name), &bytes),
            _ => String::from_utf8_lossy(&bytes).into_owned(),
        };
        let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
        for word in never.iter().filter(|word| word.len() > 1) {
            assert!(!plain.contains(word.as_str()), "{name} holds {word}");
            assert!(!plain.contains(json(word).trim_matches('"')), "{name} holds {word}");
        }
        *kinds.entry(ends).or_default() += 1;
    }
    for kind in ["csv", "geojson", "html", "svg", "png", "xlsx", "parquet", "md", "json", "ipynb", "txt"] {
        assert!(kinds.contains_key(kind), "{kind}: {kinds:?}");
    }
    let book = unpacked(&std::fs::read(out().join("public/survey.xlsx")).unwrap());
    assert!(book.contains("docProps/core.xml") && book.contains("arsenic"), "the workbook was unpacked");
}
