//! How large a ZIP archive is when it is unpacked, so that a bomb is refused before it is opened.
//!
//! Read from the central directory (APPNOTE.TXT, sections 4.3.7, 4.3.12 and 4.3.16; from memory, not checked against it). What stands
//! there is only what the archive says of itself, so an entry that could hold more than is allowed is unpacked once, to be measured.

use std::io::Read;

/// A packed byte unpacks to this many at most (deflate, RFC 1951: 258 bytes for two bits).
const MOST_RATIO: u64 = 1032;

/// Sum of the unpacked sizes of all entries, measured only as far as `most`; `None` where the directory cannot be read.
pub(super) fn unpacked(bytes: &[u8], most: u64) -> Option<u64> {
    let end = memchr::memmem::rfind(bytes, b"PK\x05\x06")?;
    let entries = number(bytes, end.checked_add(10)?, 2)?;
    let mut at = usize::try_from(number(bytes, end.checked_add(16)?, 4)?).ok()?;
    let mut sum: u64 = 0;
    for _ in 0..entries {
        if bytes.get(at..at.checked_add(4)?)? != b"PK\x01\x02" {
            return None;
        }
        sum = sum.saturating_add(number(bytes, at + 24, 4)?.max(measured(bytes, at, most).unwrap_or(0)));
        let names = number(bytes, at + 28, 2)? + number(bytes, at + 30, 2)? + number(bytes, at + 32, 2)?;
        at = at.checked_add(46 + usize::try_from(names).ok()?)?;
    }
    Some(sum)
}

/// What an entry really unpacks to, up to a little more than `most`; 0 for one too small to be dangerous or not packed.
fn measured(bytes: &[u8], at: usize, most: u64) -> Option<u64> {
    const DEFLATED: u64 = 8;
    let packed = number(bytes, at + 20, 4)?;
    if number(bytes, at + 10, 2)? != DEFLATED || packed.saturating_mul(MOST_RATIO) <= most {
        return None;
    }
    let local = usize::try_from(number(bytes, at + 42, 4)?).ok()?;
    let names = number(bytes, local.checked_add(26)?, 2)? + number(bytes, local.checked_add(28)?, 2)?;
    let start = local.checked_add(30)?.checked_add(usize::try_from(names).ok()?)?;
    let content = bytes.get(start..)?.get(..usize::try_from(packed).ok()?).or_else(|| bytes.get(start..))?;
    let mut unpacking = flate2::read::DeflateDecoder::new(content).take(most.saturating_add(1));
    // A damaged entry is the reader's to refuse; what came before the damage counts.
    let (mut chunk, mut sum) = (vec![0; 1 << 16], 0_u64);
    while let Ok(n @ 1..) = unpacking.read(&mut chunk) {
        sum += n as u64;
    }
    Some(sum)
}

/// A little-endian number of some bytes.
fn number(bytes: &[u8], at: usize, length: usize) -> Option<u64> {
    let digits = bytes.get(at..at.checked_add(length)?)?;
    Some(digits.iter().rev().fold(0, |sum, byte| sum << 8 | u64::from(*byte)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    /// One deflated entry of zeros that says of itself that it is small.
    fn lying(size: usize) -> Vec<u8> {
        let mut packer = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::best());
        packer.write_all(&vec![0; size]).unwrap();
        let packed = packer.finish().unwrap();
        let mut facts = vec![20, 0, 0, 0, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        facts.extend((packed.len() as u32).to_le_bytes());
        facts.extend(10_u32.to_le_bytes());
        facts.extend([1, 0, 0, 0]);
        let mut file = [b"PK\x03\x04".as_slice(), &facts, b"a", &packed].concat();
        let start = file.len() as u32;
        file.extend([b"PK\x01\x02\x14\x00".as_slice(), &facts, &[0; 14], b"a"].concat());
        file.extend([b"PK\x05\x06\0\0\0\0\x01\0\x01\0\x2f\0\0\0".as_slice(), &start.to_le_bytes(), &[0, 0]].concat());
        file
    }

    #[test]
    fn an_archive_that_lies_is_measured() {
        assert_eq!(unpacked(&lying(5_000_000), 1_000_000), Some(1_000_001));
        assert_eq!(unpacked(&lying(5_000_000), 100_000_000), Some(10), "too small to be dangerous");
        assert_eq!(unpacked(b"PK\x05\x06", 1), None);
    }
}
