//! The table of attributes beside a shapefile (dBASE III and its later kin) turned into properties.
//!
//! Text is in the encoding that the .cpg file names; without one it is UTF-8 where it can be, and Latin-1 (as browsers understand
//! it, Windows-1252) otherwise. Dates stay as their eight digits with dashes between. Rows marked as deleted count, as they do for
//! the shapes.

use super::bytes::{Bytes, Order};
use super::guard::{NO_ROOM, Room};
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use serde_json::{Map, Number, Value};

/// A column.
struct Field {
    name: String,
    kind: u8,
    bytes: usize,
}

/// Bytes that describe a column, and the mark after the last one.
const DESCRIPTION: usize = 32;
const END: u8 = 0x0d;

/// All rows, in order.
///
/// # Errors
/// What is wrong, in words, where the table breaks off or the encoding is not known.
pub(super) fn rows(table: &[u8], encoding: Option<&str>) -> Result<Vec<Map<String, Value>>, String> {
    rows_in(Room::of(table.len()), table, encoding)
}

fn rows_in(mut room: Room, table: &[u8], encoding: Option<&str>) -> Result<Vec<Map<String, Value>>, String> {
    let encoding = encoding.map(named).transpose()?;
    let mut header = Bytes::new(table);
    let sizes = (|| {
        header.take(4)?;
        Some((header.u32(Order::Little)?, header.u16(Order::Little)?, header.u16(Order::Little)?))
    })();
    let (count, start, width) = sizes.ok_or("the header breaks off")?;
    let fields = fields(table, encoding).ok_or("the description of its columns breaks off")?;
    let mut rest = Bytes::new(table.get(usize::from(start)..).ok_or("the header breaks off")?);
    let named: usize = fields.iter().map(|field| field.name.len()).sum();
    let mut rows = Vec::new();
    for number in 1..=count {
        let row = rest.take(usize::from(width)).ok_or_else(|| format!("row {number} of {count} breaks off"))?;
        // Columns of no letters would make rows without end of a few bytes.
        fields.iter().try_for_each(|_| room.take(0)).and_then(|()| room.take(row.len() + named)).ok_or(NO_ROOM)?;
        rows.push(row_of(row, &fields, encoding).ok_or_else(|| format!("row {number} is shorter than its columns"))?);
    }
    Ok(rows)
}

/// A .cpg file holds a label such as `UTF-8`, or a bare code page such as `1252` or `88591`.
fn named(text: &str) -> Result<&'static Encoding, String> {
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let page = match digits.as_str() {
        "65001" => "utf-8".to_owned(),
        "8859" => "latin1".to_owned(),
        page if page.starts_with("8859") && page.len() > 4 => format!("iso-8859-{}", page.trim_start_matches("8859")),
        page if page.len() == 4 && page.starts_with("125") => format!("windows-{page}"),
        "874" => "windows-874".to_owned(),
        "866" => "ibm866".to_owned(),
        "932" => "shift_jis".to_owned(),
        "936" => "gbk".to_owned(),
        _ => text.to_owned(),
    };
    let found = Encoding::for_label(text.as_bytes()).or_else(|| Encoding::for_label(page.as_bytes()));
    found.ok_or_else(|| format!("the .cpg file names the encoding {text:?}, which is not known"))
}

fn decoded(bytes: &[u8], encoding: Option<&'static Encoding>) -> String {
    let sure = encoding.or_else(|| std::str::from_utf8(bytes).is_ok().then_some(UTF_8));
    sure.unwrap_or(WINDOWS_1252).decode_without_bom_handling(bytes).0.into_owned()
}

fn fields(table: &[u8], encoding: Option<&'static Encoding>) -> Option<Vec<Field>> {
    let mut descriptions = Bytes::new(table.get(DESCRIPTION..)?);
    let mut fields = Vec::new();
    loop {
        let mut ahead = descriptions;
        if ahead.byte()? == END {
            return Some(fields);
        }
        let one = descriptions.take(DESCRIPTION)?;
        let name = one.get(..11)?.split(|&b| b == 0).next()?;
        let (kind, short, more) = (*one.get(11)?, *one.get(16)?, *one.get(17)?);
        let bytes = if kind == b'C' { usize::from(short) + 256 * usize::from(more) } else { usize::from(short) };
        fields.push(Field { name: decoded(name, encoding).trim().to_owned(), kind, bytes });
    }
}

fn row_of(row: &[u8], fields: &[Field], encoding: Option<&'static Encoding>) -> Option<Map<String, Value>> {
    const DELETED_MARK: usize = 1;
    let mut cells = Bytes::new(row.get(DELETED_MARK..)?);
    fields
        .iter()
        .map(|field| Some((field.name.clone(), value(cells.take(field.bytes)?, field.kind, encoding))))
        .collect()
}

fn value(cell: &[u8], kind: u8, encoding: Option<&'static Encoding>) -> Value {
    let number = |x: f64| Number::from_f64(x).map_or(Value::Null, Value::Number);
    match (kind, cell.len()) {
        (b'I' | b'+', 4) => Bytes::new(cell).u32(Order::Little).map_or(Value::Null, |x| Value::from(x.cast_signed())),
        (b'O' | b'B', 8) => Bytes::new(cell).f64(Order::Little).map_or(Value::Null, number),
        (b'N' | b'F', _) => plain_number(&decoded(cell, Some(WINDOWS_1252))),
        (b'L', _) => match cell.first() {
            Some(b'T' | b't' | b'Y' | b'y') => Value::Bool(true),
            Some(b'F' | b'f' | b'N' | b'n') => Value::Bool(false),
            _ => Value::Null,
        },
        (b'D', 8) => date(&decoded(cell, Some(WINDOWS_1252))),
        _ => Value::String(decoded(cell, encoding).trim_matches(['\0', ' ']).to_owned()),
    }
}

/// Stars and blanks stand for nothing.
fn plain_number(text: &str) -> Value {
    let text = text.trim_matches(['\0', ' ']).replace(',', ".");
    if let Ok(whole) = text.parse::<i64>() {
        return Value::from(whole);
    }
    text.parse::<f64>().ok().and_then(Number::from_f64).map_or(Value::Null, Value::Number)
}

fn date(text: &str) -> Value {
    match (text.get(..4), text.get(4..6), text.get(6..8)) {
        (Some(year), Some(month), Some(day)) if text.bytes().all(|b| b.is_ascii_digit()) => {
            Value::String(format!("{year}-{month}-{day}"))
        }
        _ => Value::Null,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn encodings_as_they_are_named() {
        for (text, name) in [
            ("UTF-8", "UTF-8"),
            ("65001", "UTF-8"),
            ("ISO-8859-1", "windows-1252"),
            ("88592", "ISO-8859-2"),
            ("1252", "windows-1252"),
            ("ANSI 1251", "windows-1251"),
        ] {
            assert_eq!(named(text).map(Encoding::name), Ok(name), "{text}");
        }
        assert!(named("runes").is_err());
        assert_eq!(decoded(b"Bj\xf6rk", None), "Bj\u{f6}rk");
        assert_eq!(decoded("Bj\u{f6}rk".as_bytes(), None), "Bj\u{f6}rk");
    }

    #[test]
    fn cells() {
        assert_eq!(value(b"   12", b'N', None), Value::from(12));
        assert_eq!(value(b" 1.50", b'F', None), Value::from(1.5));
        assert_eq!(value(b"*****", b'N', None), Value::Null);
        assert_eq!(value(b"20250418", b'D', None), Value::from("2025-04-18"));
        assert_eq!(value(b"?", b'L', None), Value::Null);
        assert_eq!(value(b" ash  ", b'C', None), Value::from("ash"));
    }

    #[test]
    fn a_table_that_breaks_off() {
        assert!(rows(b"\x03", None).is_err());
        assert!(rows(&[3; 40], None).is_err());
    }

    #[test]
    fn columns_of_no_letters_do_not_fill_the_memory() {
        const COLUMNS: u16 = 2_000;
        const ROWS: u32 = 100_000;
        let start = 32 + 32 * COLUMNS + 1;
        let head = [&[3, 0, 0, 0], ROWS.to_le_bytes().as_slice(), &start.to_le_bytes(), &1_u16.to_le_bytes()].concat();
        let column = |n: u16| [format!("c{n:08}\0\0").as_bytes(), b"C", &[0; 20]].concat();
        let columns: Vec<u8> = (0..COLUMNS).flat_map(column).collect();
        let table = [head, vec![0; 20], columns, vec![END], vec![b' '; ROWS as usize]].concat();
        assert_eq!(rows_in(Room::bytes(10_000_000), &table, None), Err(NO_ROOM.to_owned()));
    }
}
