//! How a text file is to be read: encoding, delimiter, header line, decimal mark, thousands mark, sheet.
//!
//! Everything may be left out and is then found by looking at the file; what is said here is taken as said.

use crate::plan::checked::TextOptions;
use crate::plan::codes;
use crate::plan::notes::quoted;
use crate::plan::read::{Section, did_you_mean};

pub(super) const KEYS: &[&str] = &["encoding", "delimiter", "header_line", "decimal", "thousands", "sheet"];
/// Encodings that laboratories' programs write; every WHATWG label is accepted.
const ENCODINGS: &[&str] = &[
    "utf-8",
    "utf-16le",
    "utf-16be",
    "windows-1252",
    "latin1",
    "windows-1250",
    "iso-8859-2",
    "macintosh",
    "shift_jis",
    "gb18030",
];

/// Reads the text options of a table.
pub(super) fn read(section: &Section<'_>) -> TextOptions {
    let options = TextOptions {
        encoding: encoding(section),
        delimiter: delimiter(section),
        header_line: section.whole("header_line", 1, 1_000_000),
        decimal: section.word("decimal", &[(".", '.'), (",", ',')]),
        thousands: thousands(section),
        sheet: section.text("sheet"),
    };
    marks_differ(section, &options);
    options
}

fn encoding(section: &Section<'_>) -> Option<String> {
    let label = section.text("encoding")?;
    if encoding_rs::Encoding::for_label_no_replacement(label.as_bytes()).is_some() {
        return Some(label);
    }
    let wanted = format!(
        "{}names are those of the WHATWG Encoding Standard, such as {}",
        did_you_mean(&label, ENCODINGS),
        ENCODINGS.join(", ")
    );
    tell(section, "encoding", codes::UNKNOWN_ENCODING, format!("unknown encoding {}", quoted(&label)), &wanted);
    None
}

fn delimiter(section: &Section<'_>) -> Option<u8> {
    let text = raw(section, "delimiter")?;
    let byte = if text == "tab" { Some(b'\t') } else { single(&text).and_then(|mark| u8::try_from(mark).ok()) };
    let fits =
        |byte: &u8| *byte == b'\t' || (byte.is_ascii_punctuation() || *byte == b' ') && !b"\"'.-+<>".contains(byte);
    let byte = byte.filter(fits);
    if byte.is_none() {
        let wanted = "one mark between fields: \",\", \";\", \"|\" or \"tab\"";
        tell(section, "delimiter", codes::ONE_CHARACTER, format!("{} is not a delimiter", quoted(&text)), wanted);
    }
    byte
}

fn thousands(section: &Section<'_>) -> Option<char> {
    let text = raw(section, "thousands")?;
    let mark = single(&text).filter(|mark| !mark.is_alphanumeric() && !mark.is_control() && !"+-<>".contains(*mark));
    if mark.is_none() {
        let wanted = "one mark between thousands: \",\", \".\", \" \" or \"'\"";
        tell(section, "thousands", codes::ONE_CHARACTER, format!("{} is not a thousands mark", quoted(&text)), wanted);
    }
    mark
}

/// A text that may be a blank.
fn raw(section: &Section<'_>, key: &str) -> Option<String> {
    match &section.node(key)?.value {
        crate::plan::written::Value::Text(text) if !text.is_empty() => Some(text.clone()),
        _ => section.text(key),
    }
}

fn single(text: &str) -> Option<char> {
    let mut marks = text.chars();
    marks.next().filter(|_| marks.next().is_none())
}

/// Where 1.234 could be read both ways, the plan has to say which.
fn marks_differ(section: &Section<'_>, options: &TextOptions) {
    let decimal = options.decimal.unwrap_or('.');
    if options.thousands == Some(decimal) && (options.decimal.is_some() || !section.has("decimal")) {
        let said = if options.decimal.is_some() {
            "also the decimal mark"
        } else {
            "the decimal mark, unless decimal says otherwise"
        };
        let wanted = "write two different marks, such as decimal = \",\" and thousands = \".\"";
        tell(section, "thousands", codes::KEYS_DISAGREE, format!("\"{decimal}\" is {said}"), wanted);
    }
}

fn tell(section: &Section<'_>, key: &str, code: &'static str, found: String, wanted: &str) {
    if let Some(node) = section.node(key) {
        section.notes.tell_at(node, code, found, wanted);
    }
}
