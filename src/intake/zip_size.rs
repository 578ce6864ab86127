//! How large a ZIP archive says it is unpacked, so that a bomb is refused before it is opened.
//!
//! Read from the central directory (APPNOTE.TXT, sections 4.3.12 and 4.3.16); from memory, not checked against it.

/// Sum of the unpacked sizes of all entries; `None` where the directory cannot be read.
pub(super) fn unpacked(bytes: &[u8]) -> Option<u64> {
    let end = memchr::memmem::rfind(bytes, b"PK\x05\x06")?;
    let entries = number(bytes, end + 10, 2)?;
    let mut at = usize::try_from(number(bytes, end + 16, 4)?).ok()?;
    let mut sum = 0;
    for _ in 0..entries {
        if bytes.get(at..at + 4)? != b"PK\x01\x02" {
            return None;
        }
        sum += number(bytes, at + 24, 4)?;
        let names = number(bytes, at + 28, 2)? + number(bytes, at + 30, 2)? + number(bytes, at + 32, 2)?;
        at += 46 + usize::try_from(names).ok()?;
    }
    Some(sum)
}

/// A little-endian number of some bytes.
fn number(bytes: &[u8], at: usize, length: usize) -> Option<u64> {
    let digits = bytes.get(at..at.checked_add(length)?)?;
    Some(digits.iter().rev().fold(0, |sum, byte| sum << 8 | u64::from(*byte)))
}
