//! Which lines were met before, told by their digests.
//!
//! In shards by the digest's upper bits, so that no single table is ever copied whole as it grows.

use rustc_hash::FxHashSet;

/// Bits that choose a shard.
const BITS: u32 = 8;

/// Digests of all lines so far.
pub(super) struct Lines {
    shards: Vec<FxHashSet<u64>>,
}

impl Lines {
    /// None yet.
    pub(super) fn new() -> Lines {
        Lines { shards: (0..1 << BITS).map(|_| FxHashSet::default()).collect() }
    }

    /// Notes a line; whether it is new.
    pub(super) fn insert(&mut self, digest: u64) -> bool {
        self.shards.get_mut((digest >> (64 - BITS)) as usize).is_some_and(|shard| shard.insert(digest))
    }

    /// Notes the lines of another; how many of them were known here.
    pub(super) fn merge(&mut self, other: Lines) -> u64 {
        let mut known = 0;
        for (own, other) in self.shards.iter_mut().zip(other.shards) {
            let before = own.len() + other.len();
            own.extend(other);
            known += (before - own.len()) as u64;
        }
        known
    }
}
