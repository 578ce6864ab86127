//! Which lines were met before, told by their digests.
//!
//! Tables of bare digests, in shards by the digest's upper bits, so that no single table is ever copied whole as it grows.
//! A reader would question why no hash set of the library stands here: digests are spread evenly as they are, so a table
//! may grow by a third instead of twofold, and a look-up meets one place in memory instead of two.

/// Bits that choose a shard. Eight large shards and not many small ones: the C library hands a block back to the system when it
/// is freed only where it is larger than those it has met freed before, up to 32 MiB.
const BITS: u32 = 3;
/// Places of a shard's first table.
const FIRST: usize = 12;

/// Digests of all lines so far.
pub(super) struct Lines {
    shards: Vec<Shard>,
}

/// Digests that begin with the same bits, each at or behind its place in their order.
#[derive(Default)]
struct Shard {
    /// 0 is an empty place; a quarter at least are.
    table: Vec<u64>,
    full: usize,
}

impl Lines {
    /// None yet.
    pub(super) fn new() -> Lines {
        Lines { shards: (0..1 << BITS).map(|_| Shard::default()).collect() }
    }

    /// Notes a line; whether it is new.
    pub(super) fn insert(&mut self, digest: u64) -> bool {
        self.shards.get_mut((digest >> (64 - BITS)) as usize).is_some_and(|shard| shard.insert(digest))
    }

    /// Meets the places of digests that are noted next, one right behind the other, so that memory brings them side by side and not
    /// each in its turn.
    pub(super) fn fetch(&self, digests: impl Iterator<Item = u64>) {
        let place = |digest: u64| {
            let table = &self.shards.get((digest >> (64 - BITS)) as usize)?.table;
            table.get(start(digest, table.len())).copied()
        };
        std::hint::black_box(digests.filter_map(place).fold(0, |met, place| met ^ place));
    }

    /// Notes the lines of another; how many of them were known here.
    pub(super) fn merge(&mut self, other: Lines) -> u64 {
        let others = other.shards.into_iter().flat_map(|shard| shard.table).filter(|digest| *digest != 0);
        others.map(|digest| u64::from(!self.insert(digest))).sum()
    }
}

impl Shard {
    fn insert(&mut self, digest: u64) -> bool {
        if (self.full + 1) * 4 > self.table.len() * 3 {
            self.grow();
        }
        let new = put(&mut self.table, digest);
        self.full += usize::from(new);
        new
    }

    fn grow(&mut self) {
        let mut table = vec![0; (self.table.len() + self.table.len() / 3).max(FIRST)];
        for digest in self.table.iter().filter(|digest| **digest != 0) {
            put(&mut table, *digest);
        }
        self.table = table;
    }
}

/// Puts a digest into a table with empty places; false if it is there already. Of 0 and 1, which no table needs to tell
/// apart, both are 1.
fn put(table: &mut [u64], digest: u64) -> bool {
    let digest = digest.max(1);
    let mut at = start(digest, table.len());
    loop {
        match table.get_mut(at) {
            Some(place) if *place == 0 => {
                *place = digest;
                return true;
            }
            Some(place) if *place == digest => return false,
            Some(_) => at += 1,
            None => at = 0,
        }
    }
}

/// Where the search for a digest starts: as far into the table as the bits behind its shard's are into their range.
fn start(digest: u64, size: usize) -> usize {
    ((u128::from(digest << BITS) * size as u128) >> 64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_line_is_new_once() {
        let (mut lines, mut tree) = (Lines::new(), BTreeSet::new());
        // Half of the numbers crowd at the ends of shards, where a search goes round.
        for n in 0..40_000u64 {
            let scattered = (n % 30_011).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let digest = if n % 2 == 0 { scattered } else { (n % 7001 + 1).wrapping_mul(u64::MAX >> BITS) };
            assert_eq!(lines.insert(digest), tree.insert(digest.max(1)), "{digest}");
        }
        assert_eq!(lines.shards.iter().map(|shard| shard.full).sum::<usize>(), tree.len());
    }

    #[test]
    fn lines_of_both_are_told() {
        let of = |numbers: std::ops::Range<u64>| {
            let mut lines = Lines::new();
            numbers.for_each(|n| {
                lines.insert(n.wrapping_mul(0x9E37_79B9_7F4A_7C15));
            });
            lines
        };
        let mut lines = of(0..5000);
        assert_eq!(lines.merge(of(5000..9000)), 0);
        assert_eq!(lines.merge(of(8000..12_000)), 1000);
        assert!(!lines.insert(11_999u64.wrapping_mul(0x9E37_79B9_7F4A_7C15)));
    }
}
