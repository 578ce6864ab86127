//! One record a well and analyte, found again by both: what a run's memory mostly consists of.
//!
//! The record is the finished `WellValue` itself, so that nothing is copied into another shape at the end; a table of
//! places stands beside the records. Both are cut into shards by well: no table is ever copied whole as it grows, and each
//! shard is freed as it is handed out. A reader would question why no hash map of the library stands here: with keys and
//! records in one table, a fifth to a half of the room for records is always empty; here it is that share of four bytes.

use super::reduce::WellValue;
use crate::ids::{AnalyteId, WellId};

/// Shards, by well. As few as of `lines`, so that what one held goes back to the system as it is handed out.
const SHARDS: u32 = 8;
/// Odd number nearest to 2 to the 64 over the golden ratio: its multiples are spread evenly (Fibonacci hashing).
const SPREAD: u64 = 0x9E37_79B9_7F4A_7C15;
/// Places over which the analytes of a well are spread: more would lie in more lines of the cache, fewer would be full of
/// the well's own records and those of the next.
const NEAR: usize = 64;
/// Places of a shard's first table; always a power of two.
const FIRST: usize = 16;

/// All records.
pub(super) struct Pairs {
    shards: Vec<Shard>,
}

#[derive(Default)]
struct Shard {
    /// Place of a record, plus one; 0 is empty. Longer than the records by a third at least.
    table: Vec<u32>,
    records: Vec<WellValue>,
}

impl Pairs {
    /// None yet.
    pub(super) fn new() -> Pairs {
        Pairs { shards: (0..SHARDS).map(|_| Shard::default()).collect() }
    }

    /// Adds a record, or lets `join` bring the one of the same well and analyte up to date.
    pub(super) fn offer(&mut self, new: WellValue, join: impl FnOnce(&mut WellValue, &WellValue)) {
        if let Some(shard) = self.shards.get_mut((new.well.0 % SHARDS) as usize) {
            shard.offer(new, join);
        }
    }

    /// Meets the records of wells and analytes that are offered next, one right behind the other, so that memory brings them side by
    /// side and not each in its turn.
    pub(super) fn fetch(&self, keys: impl Iterator<Item = (WellId, AnalyteId)> + Clone) {
        let number = |(well, analyte): (WellId, AnalyteId)| {
            let shard = self.shards.get((well.0 % SHARDS) as usize)?;
            let size = Some(shard.table.len()).filter(|size| *size > 0)?;
            Some((shard, shard.table.get(start(well, analyte, size))?.checked_sub(1)?))
        };
        let places = keys.clone().filter_map(number).fold(0, |met, (_, number)| met ^ number);
        let record = |(shard, number): (&Shard, u32)| shard.records.get(number as usize).map(|record| record.well.0);
        std::hint::black_box(keys.filter_map(number).filter_map(record).fold(places, |met, well| met ^ well));
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.shards.iter().map(|shard| shard.records.len()).sum()
    }

    /// Hands out every record, shard by shard, in no order that means anything.
    pub(super) fn into_shards(self) -> impl Iterator<Item = Vec<WellValue>> {
        self.shards.into_iter().map(|shard| shard.records)
    }
}

impl Shard {
    fn offer(&mut self, new: WellValue, join: impl FnOnce(&mut WellValue, &WellValue)) {
        if (self.records.len() + 1) * 4 > self.table.len() * 3 {
            self.grow();
        }
        let mut at = start(new.well, new.analyte, self.table.len());
        loop {
            let Some(place) = self.table.get_mut(at) else { return };
            let Some(number) = place.checked_sub(1) else {
                self.records.push(new);
                *place = u32::try_from(self.records.len()).unwrap_or(u32::MAX);
                return;
            };
            match self.records.get_mut(number as usize) {
                Some(known) if (known.well, known.analyte) == (new.well, new.analyte) => return join(known, &new),
                _ => at = (at + 1) & (self.table.len() - 1),
            }
        }
    }

    /// A table of twice the size; places are found anew from the records.
    fn grow(&mut self) {
        let size = (self.table.len() * 2).max(FIRST);
        self.table = vec![0; size];
        for (record, number) in self.records.iter().zip(1..) {
            let mut at = start(record.well, record.analyte, size);
            while self.table.get(at).is_some_and(|place| *place != 0) {
                at = (at + 1) & (size - 1);
            }
            if let Some(place) = self.table.get_mut(at) {
                *place = number;
            }
        }
    }
}

/// Where the search for a record starts in a table of `size` places, a power of two. All of a well's analytes start within
/// `NEAR` places: a sample's results, which come together, meet in the same few lines of the cache.
fn start(well: WellId, analyte: AnalyteId, size: usize) -> usize {
    let of_well = u64::from(well.0).wrapping_mul(SPREAD) >> (64 - size.trailing_zeros());
    (of_well as usize + usize::from(analyte.0) % NEAR) & (size - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{Day, Interval};
    use crate::plan::{Method, SampleKind};
    use std::collections::BTreeMap;

    fn record(well: u32, analyte: u16) -> WellValue {
        WellValue {
            analyte: AnalyteId(analyte),
            well: WellId(well),
            interval: Interval::Present,
            day: Day(0),
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            estimated: false,
            newest: Day(0),
            results: 1,
            row: 0,
        }
    }

    #[test]
    fn counts_are_those_of_a_tree() {
        let mut pairs = Pairs::new();
        let mut tree: BTreeMap<(u32, u16), u32> = BTreeMap::new();
        for n in 0..60_000u32 {
            let (well, analyte) = (n.wrapping_mul(2_654_435_761) % 3001, (n % 13) as u16);
            pairs.fetch([(WellId(well), AnalyteId(analyte))].into_iter());
            pairs.offer(record(well, analyte), |known, new| known.results += new.results);
            *tree.entry((well, analyte)).or_default() += 1;
        }
        assert_eq!(pairs.len(), tree.len());
        let found = pairs.into_shards().flatten().map(|value| ((value.well.0, value.analyte.0), value.results));
        assert_eq!(found.collect::<BTreeMap<_, _>>(), tree);
    }
}
