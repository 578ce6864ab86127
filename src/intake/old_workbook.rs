//! An old workbook (xls) is looked over before its reader opens it: whether its chains of sectors end, and how many cells its sheets span.
//!
//! The reader follows chains as they stand, also in a circle, and makes all cells between the first and the last of a sheet at once, so
//! that a damaged file of some kilobytes would fill the memory. Sectors, chains and directory are those of [MS-CFB], records those of
//! [MS-XLS] (both from memory).

/// Cells that all sheets together may span: two sheets used to their last corner.
const MOST_CELLS: u64 = 1 << 25;

/// A place behind which no sector follows.
const END_OF_CHAIN: u32 = 0xFFFF_FFFE;
/// Numbers from here on are no sectors that hold places of others.
const RESERVED: u32 = 0xFFFF_FFFA;

/// Looks a workbook over.
///
/// # Errors
/// What is wrong with it, in words.
pub(super) fn look(bytes: &[u8]) -> Result<(), String> {
    let broken = || "its directory of contents is broken".to_owned();
    let book = Container::new(bytes).ok_or_else(broken)?.book()?;
    let Some(book) = book else { return Ok(()) }; // the reader says what is missing
    let cells = sheets(&book).iter().fold(0, |sum: u64, start| sum.saturating_add(span(&book, *start)));
    if cells > MOST_CELLS {
        return Err(format!("its sheets span {cells} cells, from the first that is used to the last"));
    }
    Ok(())
}

/// A file of streams that are chains of sectors.
struct Container<'b> {
    bytes: &'b [u8],
    size: usize,
    /// Which sector follows each.
    next: Vec<u32>,
}

impl<'b> Container<'b> {
    fn new(bytes: &'b [u8]) -> Option<Container<'b>> {
        let size = if word(bytes, 30)? == 12 { 4096 } else { 512 };
        let mut container = Container { bytes, size, next: Vec::new() };
        let mut tables: Vec<u32> = longs(bytes.get(76..512)?).collect();
        let (mut more, sectors) = (long(bytes, 68)?, bytes.len() / size);
        for _ in 0..=sectors {
            if more >= RESERVED {
                break;
            }
            tables.extend(longs(container.sector(more)?));
            more = tables.pop()?;
        }
        let listed = tables.into_iter().filter(|table| *table < RESERVED).take(sectors + 1);
        container.next = listed.flat_map(|table| longs(container.sector(table).unwrap_or_default())).collect();
        Some(container)
    }

    /// A sector's bytes; fewer at the end of the file.
    fn sector(&self, number: u32) -> Option<&'b [u8]> {
        let start = (number as usize).checked_add(1)?.checked_mul(self.size)?;
        let rest = self.bytes.get(start.min(self.bytes.len())..)?;
        (number as usize <= self.bytes.len() / self.size).then(|| rest.get(..self.size).unwrap_or(rest))
    }

    /// The stream that holds the workbook, if there is one.
    fn book(&self) -> Result<Option<Vec<u8>>, String> {
        let most = self.bytes.len() / self.size + 1;
        let whole = |start| chain(start, u64::MAX, &self.next, most, |number| self.sector(number));
        let header = |at| long(self.bytes, at).unwrap_or(END_OF_CHAIN);
        let directory = whole(header(48))?;
        let entries: Vec<&[u8]> = directory.chunks_exact(128).collect();
        let small = entries.first().map_or(END_OF_CHAIN, |root| long(root, 116).unwrap_or(END_OF_CHAIN));
        let (mini, mini_next) = if header(64) > 0 {
            (whole(small)?, longs(&whole(header(60))?).collect())
        } else {
            (Vec::new(), Vec::new())
        };
        let Some(entry) = ["workbook", "book"].iter().find_map(|name| entries.iter().find(|entry| is(entry, name)))
        else {
            return Ok(None);
        };
        let more = if self.size == 4096 { long(entry, 124).unwrap_or(0) } else { 0 };
        let length = u64::from(more) << 32 | u64::from(long(entry, 120).unwrap_or(0));
        let start = long(entry, 116).unwrap_or(END_OF_CHAIN);
        if length >= 4096 {
            return chain(start, length, &self.next, most, |number| self.sector(number)).map(Some);
        }
        let most = mini.len() / 64 + 1;
        chain(start, length, &mini_next, most, |number| mini.chunks(64).nth(number as usize)).map(Some)
    }
}

/// The bytes of a chain of sectors, at most `length`. One of more than `most` sectors, which is all there are, comes to one twice.
fn chain<'s>(
    start: u32,
    length: u64,
    next: &[u32],
    most: usize,
    sector: impl Fn(u32) -> Option<&'s [u8]>,
) -> Result<Vec<u8>, String> {
    let (mut bytes, mut number) = (Vec::new(), start);
    for _ in 0..=most {
        if number == END_OF_CHAIN {
            return Ok(bytes);
        }
        bytes.extend_from_slice(sector(number).ok_or("it is cut off, or its sectors are mixed up")?);
        if bytes.len() as u64 >= length {
            bytes.truncate(length as usize);
            return Ok(bytes);
        }
        number = *next.get(number as usize).ok_or("it is cut off, or its sectors are mixed up")?;
    }
    Err("its sectors follow each other in a circle".to_owned())
}

/// Whether a directory entry has the name given, in small letters.
fn is(entry: &[u8], name: &str) -> bool {
    let letters: Vec<u16> = entry.as_chunks::<2>().0.iter().map(|pair| u16::from_le_bytes(*pair)).collect();
    let end = letters.iter().take(32).position(|letter| *letter == 0).unwrap_or(32);
    String::from_utf16_lossy(letters.get(..end).unwrap_or_default()).eq_ignore_ascii_case(name)
}

const BEGINNING: u16 = 0x0809;
const END: u16 = 0x000A;
const SHEET: u16 = 0x0085;
const DIMENSIONS: u16 = 0x0200;
const SEVERAL: u16 = 0x00BD;
/// Records of one cell: formula, number, labels, truth or error, short number, shared text.
const CELLS: [u16; 7] = [0x0006, 0x0203, 0x0204, 0x00D6, 0x0205, 0x027E, 0x00FD];

/// Kinds and contents of the records of a stream.
fn records(mut stream: &[u8]) -> impl Iterator<Item = (u16, &[u8])> {
    std::iter::from_fn(move || {
        let (kind, length) = (word(stream, 0)?, word(stream, 2)?);
        let content = stream.get(4..)?.get(..usize::from(length))?;
        stream = stream.get(4 + content.len()..)?;
        Some((kind, content))
    })
}

/// Where the sheets of a workbook begin.
fn sheets(book: &[u8]) -> Vec<usize> {
    let global = records(book).take_while(|(kind, _)| *kind != END);
    global.filter(|(kind, _)| *kind == SHEET).filter_map(|(_, content)| Some(long(content, 0)? as usize)).collect()
}

/// How many cells a sheet says or shows that it spans.
fn span(book: &[u8], start: usize) -> u64 {
    let (mut said, mut used, mut depth) = (0, None, 0_usize);
    for (kind, content) in records(book.get(start..).unwrap_or_default()) {
        match kind {
            BEGINNING => depth += 1,
            END if depth <= 1 => break,
            END => depth -= 1,
            DIMENSIONS => said = dimensions(content).map_or(said, |cells| cells.max(said)),
            SEVERAL => used = cell(content, content.len() as u64 / 6).map(|new| join(used, new)).or(used),
            kind if CELLS.contains(&kind) => used = cell(content, 0).map(|new| join(used, new)).or(used),
            _ => {}
        }
    }
    let shown = used.map_or(0, |[top, left, bottom, right]| (bottom - top + 1) * (right - left + 1));
    said.max(shown)
}

/// First row and column, last row and column.
type Box4 = [u64; 4];

/// The cells of a record, of which `more` may follow in its row.
fn cell(content: &[u8], more: u64) -> Option<Box4> {
    let (row, column) = (u64::from(word(content, 0)?), u64::from(word(content, 2)?));
    Some([row, column, row, column + more])
}

fn join(old: Option<Box4>, new: Box4) -> Box4 {
    let Some(old) = old else { return new };
    [old[0].min(new[0]), old[1].min(new[1]), old[2].max(new[2]), old[3].max(new[3])]
}

/// Cells that a sheet says it has. Where the last comes before the first, the reader takes it for very many.
fn dimensions(content: &[u8]) -> Option<u64> {
    let wide = content.len() >= 14;
    let row = |at: usize| if wide { long(content, at * 2) } else { word(content, at).map(u32::from) };
    let column = |at: usize| word(content, if wide { at + 4 } else { at }).map(u32::from);
    let (first, last) = (row(0)?, row(2)?);
    let (left, right) = (column(4)?, column(6)?);
    let left = if left > 0xFF || right < left { 0 } else { left };
    if last == 0 || right == 0 {
        return Some(1);
    }
    Some(u64::from(last.wrapping_sub(first)) * u64::from(right.wrapping_sub(left)))
}

fn word(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|pair| u16::from_le_bytes(*pair))
}

fn long(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|four| u32::from_le_bytes(*four))
}

fn longs(bytes: &[u8]) -> impl Iterator<Item = u32> {
    bytes.as_chunks::<4>().0.iter().map(|four| u32::from_le_bytes(*four))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOUND: &[u8] = include_bytes!("../../tests/intake/results.xls");

    /// Where the first sheet of the workbook says how many cells it has.
    fn said() -> usize {
        memchr::memmem::find(SOUND, &[0x00, 0x02, 14, 0]).unwrap() + 4
    }

    #[test]
    fn a_sound_workbook_passes() {
        assert_eq!(look(SOUND), Ok(()));
    }

    #[test]
    fn a_circle_of_sectors_is_told() {
        let mut bytes = SOUND.to_vec();
        let table = (u32::from_le_bytes(SOUND[76..80].try_into().unwrap()) as usize + 1) * 512;
        let directory = u32::from_le_bytes(SOUND[48..52].try_into().unwrap());
        let place = table + directory as usize * 4;
        bytes[place..place + 4].copy_from_slice(&directory.to_le_bytes());
        assert!(look(&bytes).unwrap_err().contains("circle"));
    }

    #[test]
    fn cells_without_number_are_told() {
        let mut bytes = SOUND.to_vec();
        bytes[said() + 4..said() + 8].copy_from_slice(&u32::MAX.to_le_bytes());
        assert!(look(&bytes).unwrap_err().contains("span"));
    }

    #[test]
    fn a_cell_far_out_counts() {
        let far = [&[0x09, 0x08, 0, 0][..], &[0x03, 0x02, 4, 0, 0, 0, 0, 0], &[0x03, 0x02, 4, 0, 255, 255, 255, 255]];
        assert_eq!(span(&far.concat(), 0), 1 << 32);
    }

    #[test]
    fn cut_and_spoilt_ones_do_no_harm() {
        for at in 0..SOUND.len() {
            let mut bytes = SOUND.to_vec();
            bytes[at] ^= 1 << (at % 8);
            let _ = (look(&bytes), look(SOUND.get(..at).unwrap()));
        }
    }
}
