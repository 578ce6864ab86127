//! How large a ZIP archive is when it is unpacked, so that a bomb is refused before it is opened.
//!
//! Read from the central directory (APPNOTE.TXT, sections 4.3.7, 4.3.12, 4.3.16, of wide archives 4.3.14, 4.3.15, 4.5.3; from memory, not
//! checked against it). What stands there is only what the archive says of itself, so an entry that could hold more than is allowed is
//! unpacked once, to be measured.

use std::io::Read;

/// A packed byte unpacks to this many at most (deflate, RFC 1951: 258 bytes for two bits).
const MOST_RATIO: u64 = 1032;

/// Begins the record at the end of an archive.
const END: &[u8] = b"PK\x05\x06";
/// Stands where a number is too wide for four bytes, and for two.
const WIDE: u64 = 0xFFFF_FFFF;
const WIDE_COUNT: u64 = 0xFFFF;

/// Whether the bytes have an end as archives have, so that a reader may find one in them.
pub(super) fn ends(bytes: &[u8]) -> bool {
    memchr::memmem::rfind(bytes, END).is_some()
}

/// Sum of the unpacked sizes of all entries, counted no further than past `most`; `None` where the directory cannot be read.
///
/// Many entries, none dangerous by itself, may hold very much together: whatever could take the sum past `most` is measured, and no more is
/// measured once it is past.
pub(super) fn unpacked(bytes: &[u8], most: u64) -> Option<u64> {
    let (mut sum, mut possible) = (0_u64, 0_u64);
    for entry in entries(bytes)? {
        let could = possible.saturating_add(entry.packed.saturating_mul(MOST_RATIO).max(entry.size));
        let real = if could > most { measured(bytes, &entry, most) } else { None };
        let size = entry.size.max(real.unwrap_or(0));
        possible = if real.is_some() { possible.saturating_add(size) } else { could };
        sum = sum.saturating_add(size);
        if sum > most {
            break;
        }
    }
    Some(sum)
}

/// The contents of all entries of a name, unpacked as they are read.
pub(super) fn contents<'b>(bytes: &'b [u8], name: &[u8]) -> Vec<Box<dyn Read + 'b>> {
    let named = entries(bytes).unwrap_or_default().into_iter().filter(|entry| entry.name == name);
    named.filter_map(|entry| content(bytes, &entry)).collect()
}

/// What the directory says of an entry.
struct Entry<'b> {
    name: &'b [u8],
    /// How it is packed.
    method: u64,
    /// Bytes as they stand, and unpacked.
    packed: u64,
    size: u64,
    /// Where its own header stands.
    local: u64,
    /// Where the next entry stands.
    behind: usize,
}

/// The entries of the directory; `None` where it cannot be read, and where they have more bytes than there are: those share some, so
/// that unpacking all would go over the same ones again and again.
fn entries(bytes: &[u8]) -> Option<Vec<Entry<'_>>> {
    let (count, start) = directory(bytes)?;
    let mut at = usize::try_from(start).ok()?;
    let mut all = Vec::new();
    for _ in 0..count {
        let entry = entry(bytes, at)?;
        at = entry.behind;
        all.push(entry);
    }
    let packed = all.iter().fold(0, |sum: u64, entry| sum.saturating_add(entry.packed));
    (packed <= bytes.len() as u64).then_some(all)
}

/// How many entries there are, and where the first stands.
fn directory(bytes: &[u8]) -> Option<(u64, u64)> {
    let end = memchr::memmem::rfind(bytes, END)?;
    let (count, start) = (number(bytes, end.checked_add(10)?, 2)?, number(bytes, end.checked_add(16)?, 4)?);
    let locator = end.checked_sub(20).filter(|at| bytes.get(*at..).is_some_and(|rest| rest.starts_with(b"PK\x06\x07")));
    let Some(locator) = locator else { return Some((count, start)) };
    let record = usize::try_from(number(bytes, locator + 8, 8)?).ok()?;
    if !bytes.get(record..)?.starts_with(b"PK\x06\x06") {
        return None;
    }
    let wide = (number(bytes, record.checked_add(32)?, 8)?, number(bytes, record.checked_add(48)?, 8)?);
    // Two directories, of which a reader may take the other.
    let agree = (count == WIDE_COUNT || count == wide.0) && (start == WIDE || start == wide.1);
    agree.then_some(wide)
}

fn entry(bytes: &[u8], at: usize) -> Option<Entry<'_>> {
    let head = bytes.get(at..)?.get(..46).filter(|head| head.starts_with(b"PK\x01\x02"))?;
    let length = |at: usize| usize::try_from(number(head, at, 2)?).ok();
    let name_at = at.checked_add(46)?;
    let more_at = name_at.checked_add(length(28)?)?;
    let notes_at = more_at.checked_add(length(30)?)?;
    let mut wide = wide_numbers(bytes.get(more_at..notes_at)?);
    // A number that is nowhere else is as large as it looks.
    let mut of = |at: usize| number(head, at, 4).map(|n| if n == WIDE { wide.next().unwrap_or(n) } else { n });
    let (size, packed, local) = (of(24)?, of(20)?, of(42)?);
    let method = number(head, 10, 2)?;
    let behind = notes_at.checked_add(length(32)?)?;
    Some(Entry { name: bytes.get(name_at..more_at)?, method, packed, size, local, behind })
}

/// The numbers too wide for the entry itself, in the order in which it has them.
fn wide_numbers(mut fields: &[u8]) -> impl Iterator<Item = u64> {
    const NUMBERS: u64 = 1;
    let mut numbers: &[u8] = &[];
    while let Some((kind, length)) = number(fields, 0, 2).zip(number(fields, 2, 2)) {
        let Some((field, rest)) = fields.get(4..).and_then(|rest| rest.split_at_checked(length as usize)) else {
            break;
        };
        if kind == NUMBERS {
            numbers = field;
            break;
        }
        fields = rest;
    }
    numbers.as_chunks::<8>().0.iter().map(|eight| u64::from_le_bytes(*eight))
}

const DEFLATED: u64 = 8;

/// An entry's content, unpacked as it is read.
fn content<'b>(bytes: &'b [u8], entry: &Entry<'_>) -> Option<Box<dyn Read + 'b>> {
    let local = usize::try_from(entry.local).ok()?;
    let names = number(bytes, local.checked_add(26)?, 2)? + number(bytes, local.checked_add(28)?, 2)?;
    let rest = bytes.get(local.checked_add(30)?.checked_add(usize::try_from(names).ok()?)?..)?;
    let packed = usize::try_from(entry.packed).ok().and_then(|length| rest.get(..length)).unwrap_or(rest);
    Some(if entry.method == DEFLATED { Box::new(flate2::read::DeflateDecoder::new(packed)) } else { Box::new(packed) })
}

/// What an entry really unpacks to, up to a little more than `most`; `None` where it does not stand where the directory says.
fn measured(bytes: &[u8], entry: &Entry<'_>, most: u64) -> Option<u64> {
    if entry.method != DEFLATED {
        return Some(entry.packed);
    }
    let mut unpacking = content(bytes, entry)?.take(most.saturating_add(1));
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

    fn packed(size: usize) -> Vec<u8> {
        let mut packer = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::best());
        packer.write_all(&vec![0; size]).unwrap();
        packer.finish().unwrap()
    }

    /// An archive of one deflated entry, whose directory is made of these sizes, further fields and what comes before the end.
    fn archive(
        content: &[u8],
        sizes: [u32; 2],
        more: &[u8],
        end: impl Fn(u32) -> Vec<u8>,
        start: Option<u32>,
    ) -> Vec<u8> {
        let mut facts = vec![20, 0, 0, 0, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        facts.extend(sizes.map(u32::to_le_bytes).concat());
        facts.extend([1, 0]);
        let mut file = [b"PK\x03\x04".as_slice(), &facts, &[0, 0], b"a", content].concat();
        let at = file.len() as u32;
        let more_length = (more.len() as u16).to_le_bytes();
        file.extend([b"PK\x01\x02\x14\x00".as_slice(), &facts, &more_length, &[0; 14], b"a", more].concat());
        file.extend(end(at));
        let start = start.unwrap_or(at).to_le_bytes();
        file.extend([b"PK\x05\x06\0\0\0\0\x01\0\x01\0\x2f\0\0\0".as_slice(), &start, &[0, 0]].concat());
        file
    }

    /// One that says of itself that it is small.
    fn lying(size: usize) -> Vec<u8> {
        let content = packed(size);
        archive(&content, [content.len() as u32, 10], &[], |_| Vec::new(), None)
    }

    /// A wide one, which says how large it is in further fields alone, and where its directory is in a record of its own.
    fn wide(size: usize, start: Option<u32>) -> Vec<u8> {
        let content = packed(size);
        let numbers = [10_u64.to_le_bytes(), (content.len() as u64).to_le_bytes()].concat();
        let more = [b"\x99\x99\x01\0x\x01\0\x10\0".as_slice(), &numbers].concat();
        let end = |at: u32| {
            let record = u64::from(at) + 46 + 1 + more.len() as u64;
            let facts = [[0; 28].as_slice(), &1_u64.to_le_bytes(), &[0; 8], &u64::from(at).to_le_bytes()].concat();
            let locator = [b"PK\x06\x07\0\0\0\0".as_slice(), &record.to_le_bytes(), &[1, 0, 0, 0]].concat();
            [b"PK\x06\x06".as_slice(), &facts, &locator].concat()
        };
        archive(&content, [u32::MAX, u32::MAX], &more, end, start)
    }

    #[test]
    fn an_archive_that_lies_is_measured() {
        assert_eq!(unpacked(&lying(5_000_000), 1_000_000), Some(1_000_001));
        assert_eq!(unpacked(&lying(5_000_000), 100_000_000), Some(10), "too small to be dangerous");
        assert_eq!((unpacked(b"PK\x05\x06", 1), ends(b"PK\x05\x06")), (None, true));
    }

    /// `lying`, with its entry so many times in the directory and so many bytes more before that.
    fn repeated(times: u16, padding: usize) -> Vec<u8> {
        let one = lying(900_000);
        let find = |mark: &[u8]| memchr::memmem::find(&one, mark).unwrap();
        let (start, end) = (find(b"PK\x01\x02"), find(END));
        let mut tail = one[end..].to_vec();
        tail[10..12].copy_from_slice(&times.to_le_bytes());
        tail[16..20].copy_from_slice(&((start + padding) as u32).to_le_bytes());
        [&one[..start], &vec![0; padding], &one[start..end].repeat(usize::from(times)), &tail].concat()
    }

    #[test]
    fn many_small_entries_count_together() {
        assert_eq!(unpacked(&repeated(10, 100_000), 20_000_000), Some(100), "too small to be dangerous together");
        let most = 20_000_000;
        assert!(unpacked(&repeated(100, 100_000), most).is_some_and(|sum| sum > most && sum < 2 * most));
        assert_eq!(unpacked(&repeated(60_000, 0), most), None, "they share their bytes");
    }

    #[test]
    fn so_is_a_wide_one() {
        for start in [Some(u32::MAX), None] {
            assert_eq!(unpacked(&wide(5_000_000, start), 1_000_000), Some(1_000_001));
            assert_eq!(unpacked(&wide(5_000_000, start), 100_000_000), Some(10));
        }
        assert_eq!(unpacked(&wide(50, Some(0)), 1000), None, "two directories");
        let bytes = wide(5000, None);
        let lengths = contents(&bytes, b"a").into_iter().map(|mut one| one.read_to_end(&mut Vec::new()).unwrap());
        assert_eq!(lengths.collect::<Vec<_>>(), [5000]);
        assert_eq!(contents(&lying(5000), b"b").len(), 0);
    }
}
