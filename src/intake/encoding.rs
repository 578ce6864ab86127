//! Bytes become UTF-8 text, block by block.
//!
//! A file without a byte-order mark is UTF-8 line by line where it is valid, and Windows-1252 on the lines where it
//! is not: every byte has a meaning there, so nothing is lost, and the lines are counted for a warning. UTF-16 is
//! told by its mark only. The plan can name any WHATWG encoding instead.

use encoding_rs::{CoderResult, Decoder, Encoding, UTF_8, WINDOWS_1252};

/// Turns raw chunks of one file into UTF-8.
pub(super) struct ToUtf8 {
    decoder: Option<Decoder>,
    /// Lines that were not UTF-8 and were read as Windows-1252.
    pub(super) other_lines: u64,
}

impl ToUtf8 {
    /// Chooses by the plan's encoding, or by a byte-order mark at the file's start.
    /// Gives the number of mark bytes to skip as well.
    pub(super) fn new(start: &[u8], named: Option<&str>) -> (ToUtf8, usize) {
        let marked = Encoding::for_bom(start);
        let skip = marked.map_or(0, |(_, length)| length);
        let encoding = named
            .and_then(|label| Encoding::for_label(label.as_bytes()))
            .or(marked.map(|(encoding, _)| encoding))
            .unwrap_or(UTF_8);
        let decoder = (encoding != UTF_8).then(|| encoding.new_decoder_without_bom_handling());
        (ToUtf8 { decoder, other_lines: 0 }, skip)
    }

    /// Whether raw chunks may be cut at `\n` bytes before decoding.
    pub(super) fn cuts_at_newlines(&self) -> bool {
        self.decoder.is_none()
    }

    /// Decodes a chunk. For UTF-8 the chunk must hold whole lines (or be the last).
    pub(super) fn text(&mut self, chunk: Vec<u8>, last: Chunk) -> String {
        match &mut self.decoder {
            Some(decoder) => decode(decoder, &chunk, last),
            None => match String::from_utf8(chunk) {
                Ok(text) => text,
                Err(error) => {
                    let (text, other_lines) = mixed(error.as_bytes());
                    self.other_lines += other_lines;
                    text
                }
            },
        }
    }
}

/// Text of lines that are UTF-8 or Windows-1252, and how many were the latter.
pub(super) fn mixed(chunk: &[u8]) -> (String, u64) {
    let mut text = String::with_capacity(chunk.len() + chunk.len() / 8);
    let mut other_lines = 0;
    for line in chunk.split_inclusive(|byte| *byte == b'\n') {
        match std::str::from_utf8(line) {
            Ok(line) => text.push_str(line),
            Err(_) => {
                other_lines += 1;
                text.push_str(&WINDOWS_1252.decode_without_bom_handling(line).0);
            }
        }
    }
    (text, other_lines)
}

/// Whether more chunks follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Chunk {
    /// More follow.
    Middle,
    /// The file's last.
    Last,
}

fn decode(decoder: &mut Decoder, chunk: &[u8], last: Chunk) -> String {
    let mut text = String::new();
    let mut from = 0;
    loop {
        let rest = chunk.get(from..).unwrap_or_default();
        let room = decoder.max_utf8_buffer_length(rest.len()).unwrap_or(rest.len() * 3 + 16);
        text.reserve(room);
        let (result, read, _) = decoder.decode_to_string(rest, &mut text, last == Chunk::Last);
        from += read;
        if result == CoderResult::InputEmpty {
            return text;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8], named: Option<&str>) -> (String, u64) {
        let (mut to, skip) = ToUtf8::new(bytes, named);
        let text = to.text(bytes[skip..].to_vec(), Chunk::Last);
        (text, to.other_lines)
    }

    #[test]
    fn each_encoding_reads_back() {
        assert_eq!(all("a;µg/L\n".as_bytes(), None), ("a;µg/L\n".to_owned(), 0));
        assert_eq!(all(b"\xef\xbb\xbfa\n", None), ("a\n".to_owned(), 0));
        assert_eq!(all(b"a;\xb5g/L\nplain\n", None), ("a;µg/L\nplain\n".to_owned(), 1));
        assert_eq!(all(b"\xff\xfea\0\xb5\0", None), ("aµ".to_owned(), 0));
        assert_eq!(all(b"\xfe\xff\0a\0\xb5", None), ("aµ".to_owned(), 0));
        assert_eq!(all(b"\xb5", Some("latin1")), ("µ".to_owned(), 0));
    }
}
