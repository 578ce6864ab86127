//! How large a ZIP archive is when it is unpacked, so that a bomb is refused before it is opened.
//!
//! Read from the central directory (APPNOTE.TXT, sections 4.3.7, 4.3.12 and 4.3.16; from memory, not checked against it). What stands
//! there is only what the archive says of itself, so an entry that could hold more than is allowed is unpacked once, to be measured.

use std::io::Read;

/// A packed byte unpacks to this many at most (deflate, RFC 1951: 258 bytes for two bits).
const MOST_RATIO: u64 = 1032;

/// Sum of the unpacked sizes of all entries, measured only as far as `most`; `None` where the directory cannot be read.
pub(super) fn unpacked(bytes: &[u8], most: u64) -> Option<u64> {
    let size = |at: usize| Some(number(bytes, at + 24, 4)?.max(measured(bytes, at, most).unwrap_or(0)));
    entries(bytes)?.into_iter().try_fold(0, |sum: u64, at| Some(sum.saturating_add(size(at)?)))
}

/// The contents of all entries of a name, unpacked as they are read.
pub(super) fn contents<'b>(bytes: &'b [u8], name: &[u8]) -> Vec<Box<dyn Read + 'b>> {
    let named = |at: &usize| {
        bytes.get(at + 46..).is_some_and(|rest| rest.starts_with(name))
            && number(bytes, at + 28, 2) == Some(name.len() as u64)
    };
    entries(bytes).unwrap_or_default().into_iter().filter(named).filter_map(|at| content(bytes, at)).collect()
}

/// Where the entries of the directory begin; `None` where it cannot be read.
fn entries(bytes: &[u8]) -> Option<Vec<usize>> {
    let end = memchr::memmem::rfind(bytes, b"PK\x05\x06")?;
    let count = number(bytes, end.checked_add(10)?, 2)?;
    let mut at = usize::try_from(number(bytes, end.checked_add(16)?, 4)?).ok()?;
    let mut places = Vec::new();
    for _ in 0..count {
        if bytes.get(at..at.checked_add(4)?)? != b"PK\x01\x02" {
            return None;
        }
        let names = number(bytes, at + 28, 2)? + number(bytes, at + 30, 2)? + number(bytes, at + 32, 2)?;
        places.push(at);
        at = at.checked_add(46 + usize::try_from(names).ok()?)?;
    }
    Some(places)
}

const DEFLATED: u64 = 8;

/// An entry's content, unpacked as it is read.
fn content(bytes: &[u8], at: usize) -> Option<Box<dyn Read + '_>> {
    let packed = packed(bytes, at)?;
    Some(if number(bytes, at + 10, 2)? == DEFLATED {
        Box::new(flate2::read::DeflateDecoder::new(packed))
    } else {
        Box::new(packed)
    })
}

/// An entry's bytes as they stand.
fn packed(bytes: &[u8], at: usize) -> Option<&[u8]> {
    let length = usize::try_from(number(bytes, at + 20, 4)?).ok()?;
    let local = usize::try_from(number(bytes, at + 42, 4)?).ok()?;
    let names = number(bytes, local.checked_add(26)?, 2)? + number(bytes, local.checked_add(28)?, 2)?;
    let start = local.checked_add(30)?.checked_add(usize::try_from(names).ok()?)?;
    let rest = bytes.get(start..)?;
    Some(rest.get(..length).unwrap_or(rest))
}

/// What an entry really unpacks to, up to a little more than `most`; 0 for one too small to be dangerous or not packed.
fn measured(bytes: &[u8], at: usize, most: u64) -> Option<u64> {
    if number(bytes, at + 10, 2)? != DEFLATED || number(bytes, at + 20, 4)?.saturating_mul(MOST_RATIO) <= most {
        return None;
    }
    let mut unpacking = content(bytes, at)?.take(most.saturating_add(1));
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
