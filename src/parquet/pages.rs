//! The pages of a column, looked over before they are unpacked: a page says how long it is and how many values it holds, and the
//! reader makes room for both.
//!
//! Source: Apache Parquet's parquet.thrift (from memory).

use super::Fault;
use super::thrift::{Field, Kind, Walk};

/// Bytes of the largest page that is unpacked. Programs that write Parquet make pages of about 1 MiB.
const LARGEST: i64 = 256 << 20;
/// Values of a column of lists in one row group: rows do not bound them.
const MOST_IN_LISTS: u64 = 1 << 26;
/// Encoding of texts that begin as the one before did (`DELTA_BYTE_ARRAY`).
const BEGINS_ALIKE: i64 = 7;

/// What the pages of a column are like.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct About {
    /// Bytes of the largest page whose texts may each be as long as the whole page; 0 where there is none.
    pub alike: u64,
}

/// What one page says.
#[derive(Default)]
struct Page {
    unpacked: i64,
    packed: i64,
    /// Of a page of data.
    values: i64,
    /// Of a page of different values, to which the others point.
    different: i64,
    encoding: i64,
}

/// Looks over a column's pages. `values` is what the file says the column holds; `rows` is that of the row group where the column
/// has one value a row.
///
/// # Errors
/// Pages that contradict the file or are too large to be unpacked.
pub(super) fn look_over(bytes: &[u8], values: i64, rows: Option<usize>) -> Result<About, Fault> {
    let damaged = |found: &str| Fault::Damaged(found.to_owned());
    let wanted = u64::try_from(values).map_err(|_| damaged("a column has fewer values than none"))?;
    if rows.is_some_and(|rows| rows as u64 != wanted) {
        return Err(damaged("a column has another number of values than its row group has rows"));
    }
    if rows.is_none() && wanted > MOST_IN_LISTS {
        return Err(damaged("a column of lists holds more than 67 million values in a row group"));
    }
    let (mut about, mut seen, mut rest) = (About::default(), 0_u64, bytes);
    while seen < wanted {
        let (page, behind) = page(rest).ok_or_else(|| damaged("a page's description makes no sense"))?;
        let packed = usize::try_from(page.packed).ok().filter(|packed| *packed <= behind.len());
        let packed = packed.ok_or_else(|| damaged("a page is longer than its column"))?;
        if !(0..=LARGEST).contains(&page.unpacked) {
            return Err(damaged(&format!("a page unpacks to more than {} MiB", LARGEST >> 20)));
        }
        if page.different > page.unpacked || page.different < 0 || page.values < 0 {
            return Err(damaged("a page has more values than bytes"));
        }
        if page.encoding == BEGINS_ALIKE {
            about.alike = about.alike.max(page.unpacked.unsigned_abs());
        }
        seen = seen.saturating_add(page.values.unsigned_abs());
        rest = behind.get(packed..).unwrap_or_default();
    }
    if seen > wanted {
        return Err(damaged("its pages hold more values than their column"));
    }
    Ok(about)
}

/// The next page's description, and the bytes behind it.
fn page(bytes: &[u8]) -> Option<(Page, &[u8])> {
    const UNPACKED: i64 = 2;
    const PACKED: i64 = 3;
    const DATA: i64 = 5;
    const DIFFERENT: i64 = 7;
    const DATA_2: i64 = 8;
    let mut page = Page::default();
    let mut walk = Walk::new(bytes);
    walk.fields(&mut |id, kind, walk| {
        match (id, kind) {
            (UNPACKED, Kind::Number) => page.unpacked = walk.number()?,
            (PACKED, Kind::Number) => page.packed = walk.number()?,
            (DATA, Kind::Struct) => (page.values, page.encoding) = values(walk, 2)?,
            (DATA_2, Kind::Struct) => (page.values, page.encoding) = values(walk, 4)?,
            (DIFFERENT, Kind::Struct) => page.different = values(walk, 2)?.0,
            _ => return Some(Field::PassOver),
        }
        Some(Field::Read)
    })?;
    let at = walk.at();
    bytes.get(at..).map(|behind| (page, behind))
}

/// How many values a page holds, and in which encoding, which is in the field of that number.
fn values(walk: &mut Walk<'_>, encoding_at: i64) -> Option<(i64, i64)> {
    const VALUES: i64 = 1;
    let (mut values, mut encoding) = (0, 0);
    walk.fields(&mut |id, kind, walk| {
        match (id, kind) {
            (VALUES, Kind::Number) => values = walk.number()?,
            (id, Kind::Number) if id == encoding_at => encoding = walk.number()?,
            _ => return Some(Field::PassOver),
        }
        Some(Field::Read)
    })?;
    Some((values, encoding))
}
