//! Workbooks that point at other files: parts named by a path out of the archive, links to other workbooks, entries named `..`.

use crate::listed;
use crate::survey::Survey;
use wellreeve::progress::{Mode, Progress};

#[allow(dead_code, missing_docs, reason = "one of its functions is used")]
#[path = "../fuzz/src/archive.rs"]
mod archive;

const RESULTS: &str = "\n[[results]]\nfiles = [\"lab.xlsx\"]\nlayout = \"long\"\n\
    columns = { well = \"Site\", analyte = \"Parameter\", value = \"Result\", unit = \"Units\", date = \"Collected\" }\n";
const ROOT: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const BOOK: &str = r#"<workbook xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Results" sheetId="1" r:id="rId1"/></sheets><externalReferences><externalReference r:id="rId2"/></externalReferences></workbook>"#;

fn relations(target: &str, outside: &str) -> String {
    let kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    format!(
        "<Relationships><Relationship Id=\"rId1\" Type=\"{kind}/worksheet\" Target=\"{target}\"/>\
         <Relationship Id=\"rId2\" Type=\"{kind}/externalLink\" Target=\"{outside}\" TargetMode=\"External\"/></Relationships>"
    )
}

/// A sheet of one result, its value the result of a formula that looks into another file.
fn sheet() -> String {
    let cell = |text: &str| format!("<c t=\"str\"><v>{text}</v></c>");
    let row = |cells: &[&str]| format!("<row>{}</row>", cells.iter().map(|text| cell(text)).collect::<String>());
    let value = "<c t=\"str\"><f>'file:///etc/[hostname]Sheet'!A1</f><v>12</v></c>";
    format!(
        "<worksheet><sheetData>{}<row>{}{}{value}{}{}</row></sheetData></worksheet>",
        row(&["Site", "Parameter", "Result", "Units", "Collected"]),
        cell("A1"),
        cell("Arsenic"),
        cell("ug/L"),
        cell("2020-01-05")
    )
}

fn survey(target: &str) -> Survey {
    let survey = Survey::new(RESULTS, &[("wells.csv", "well,lon,lat\nA1,-93.7,43\n")]);
    let sheet = sheet().into_bytes();
    let entries = [
        ("_rels/.rels", ROOT.as_bytes().to_vec()),
        ("xl/workbook.xml", BOOK.as_bytes().to_vec()),
        ("xl/_rels/workbook.xml.rels", relations(target, "file:///etc/hostname").into_bytes()),
        ("xl/worksheets/sheet1.xml", sheet.clone()),
        ("../../../escaped.xml", sheet.clone()),
        ("/tmp/escaped.xml", sheet),
    ];
    std::fs::write(survey.path("lab.xlsx"), archive::archive(&entries)).unwrap();
    survey
}

#[test]
fn links_are_not_followed_and_entries_not_unpacked() {
    let survey = survey("worksheets/sheet1.xml");
    let before = listed(&survey.path(""));
    survey.run();
    assert!(listed(&survey.path("")).difference(&before).all(|name| name.starts_with("out/")));
    let values = survey.table("internal/tables/exceedance.csv");
    assert!(
        values.iter().any(|row| row["analyte"] == "arsenic" && row["wells"] == "1"),
        "the value is the one in the file"
    );
}

#[test]
fn a_sheet_elsewhere_is_not_there() {
    for target in ["../../../../../../etc/hostname", "/etc/hostname", "file:///etc/hostname"] {
        let survey = survey(target);
        let told =
            wellreeve::run(&survey.path("plan.toml"), &survey.path("out"), &Progress::new(Mode::Quiet)).unwrap_err();
        assert!(told.to_string().contains("lab.xlsx"), "{target}: {told}");
    }
}
