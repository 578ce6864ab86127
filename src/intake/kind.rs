//! What kind of file it is, told by its first bytes and never by its name.

/// Kinds of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Nothing but blanks.
    Empty,
    /// Delimited text: whatever is none of the others.
    Text,
    /// A workbook in a ZIP archive: xlsx, xlsb, ods.
    ZipWorkbook,
    /// A workbook of the older kind: xls.
    OldWorkbook,
    /// Parquet.
    Parquet,
    /// One JSON object a line.
    JsonLines,
    /// Something else, by its name.
    Other(&'static str),
}

/// First bytes of files that people send instead of a table.
const OTHERS: [(&[u8], &str); 11] = [
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"{\\rtf", "a word-processor document"),
    (b"7z\xbc\xaf\x27\x1c", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"\xfd7zXZ\0", "a file packed with xz"),
    // Once unpacked, as all files are.
    (b"\x1f\x8b", "a file packed twice"),
    (b"\x28\xb5\x2f\xfd", "a file packed twice"),
    (b"SQLite format 3\0", "a database"),
    (b"\0\x01\0\0Standard ", "a database"), // Access, from memory
];

impl Kind {
    /// The kind of a file that starts so.
    pub(super) fn of(start: &[u8]) -> Kind {
        if let Some((_, name)) = OTHERS.iter().find(|(mark, _)| start.starts_with(mark)) {
            return Kind::Other(name);
        }
        match start {
            [b'P', b'K', 3 | 5, 4 | 6, ..] => Kind::ZipWorkbook,
            [0xd0, 0xcf, 0x11, 0xe0, ..] => Kind::OldWorkbook,
            [b'P', b'A', b'R', b'1', ..] => Kind::Parquet,
            [b'B', b'Z', b'h', b'1'..=b'9', b'1', b'A', b'Y', ..] => Kind::Other("a file packed with bzip2"),
            _ if start.get(257..262) == Some(b"ustar") => Kind::Other("a tar archive"),
            _ => Kind::of_text(start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start).trim_ascii_start()),
        }
    }

    fn of_text(start: &[u8]) -> Kind {
        match start {
            [] => Kind::Empty,
            [b'{', ..] => Kind::JsonLines,
            [b'[', rest @ ..] if matches!(rest.trim_ascii_start().first(), Some(b'{' | b'[')) => {
                Kind::Other("one JSON list")
            }
            [b'<', b'!' | b'?' | b'a'..=b'z' | b'A'..=b'Z', ..] => Kind::Other("a web page or XML"),
            _ => Kind::Text,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_bytes_tell() {
        assert_eq!(Kind::of(b"Site,Result\n"), Kind::Text);
        assert_eq!(Kind::of(b"<0.5,ug/L\n"), Kind::Text);
        assert_eq!(Kind::of(b" \r\n"), Kind::Empty);
        assert_eq!(Kind::of(b"PK\x03\x04"), Kind::ZipWorkbook);
        assert_eq!(Kind::of(b"PAR1"), Kind::Parquet);
        assert_eq!(Kind::of(b"\xef\xbb\xbf{\"a\": 1}"), Kind::JsonLines);
        assert_eq!(Kind::of(b"[\n {\"a\": 1}]"), Kind::Other("one JSON list"));
        assert_eq!(Kind::of(b"[lab] Site,Result"), Kind::Text);
        assert_eq!(Kind::of(b"<table><tr>"), Kind::Other("a web page or XML"));
        assert_eq!(Kind::of(b"BZh91AY&SY"), Kind::Other("a file packed with bzip2"));
        assert_eq!(Kind::of(b"BZh9,Result\n"), Kind::Text);
        let tar = [&b"lab.csv"[..], &[0; 250], b"ustar"].concat();
        assert_eq!(Kind::of(&tar), Kind::Other("a tar archive"));
    }
}
