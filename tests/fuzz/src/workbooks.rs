//! Workbooks: bytes as they are, or the parts of an xlsx file, which are put into an archive here, since no fuzzer guesses its checksums.

use super::archive::archive;
use super::{Choices, tables};

/// Bytes that begin with `PK` or the mark of the older kind are a file; others are the parts of one, between bytes 0xFF.
pub fn workbook(data: &[u8]) {
    let whole = data.starts_with(b"PK") || data.starts_with(b"\xd0\xcf\x11\xe0");
    let made = if whole { data.to_vec() } else { xlsx(data) };
    let names = ["Site", "Parameter", "Result", "Units", "RL", "Collected"].map(str::to_owned);
    let (mut choices, _) = Choices::new(&[0, 1, 2, 3, 4, 255, 5, 255, 255, 255, 255, 255], 12);
    let mut part = tables::part(&mut choices, &names);
    part.text = Default::default();
    tables::read(part, "lab.xlsx", &made);
}

const TYPES: &str = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>"#;
const RELATIONS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#;
const ROOT: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const BOOK: &str = r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Results" sheetId="1" r:id="rId1"/></sheets></workbook>"#;

/// Sheet, shared texts, styles, workbook and its relations, as far as they are given.
fn xlsx(data: &[u8]) -> Vec<u8> {
    let mut parts = data.split(|&byte| byte == 0xff);
    let mut next = |otherwise: &'static str| {
        parts.next().filter(|part| !part.is_empty()).map_or(otherwise.as_bytes().to_vec(), <[u8]>::to_vec)
    };
    let sheet = next("");
    let (shared, styles) = (next(""), next(""));
    let (book, relations) = (next(BOOK), next(RELATIONS));
    let mut entries: Vec<(&str, Vec<u8>)> = vec![
        ("[Content_Types].xml", TYPES.as_bytes().to_vec()),
        ("_rels/.rels", ROOT.as_bytes().to_vec()),
        ("xl/workbook.xml", book),
        ("xl/_rels/workbook.xml.rels", relations),
        ("xl/worksheets/sheet1.xml", sheet),
    ];
    entries.extend(
        [("xl/sharedStrings.xml", shared), ("xl/styles.xml", styles)].into_iter().filter(|(_, part)| !part.is_empty()),
    );
    archive(&entries)
}
