//! A walk over Thrift's compact encoding, in which a Parquet file describes itself.
//!
//! The reader of Parquet makes room for as many things as a list says it holds, and calls itself for what lies in what. So a file's
//! description is walked over here first, without making anything of it: a list that is longer than its bytes, or structures in
//! structures beyond all measure, are found before the reader believes them.
//!
//! Source: Apache Thrift's compact protocol (thrift-compact-protocol.md), from memory.

/// Structures in structures; those of Parquet's own description are 6 deep at most.
const DEEPEST: usize = 16;

/// What a value is, by its number in the encoding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Yes or no; in a structure it has no bytes of its own.
    Bool,
    Byte,
    /// A whole number of 16, 32 or 64 bits, all written in one way.
    Number,
    Double,
    Binary,
    List,
    Map,
    Struct,
    Uuid,
}

impl Kind {
    fn of(number: u8) -> Option<Kind> {
        Some(match number {
            1 | 2 => Kind::Bool,
            3 => Kind::Byte,
            4..=6 => Kind::Number,
            7 => Kind::Double,
            8 => Kind::Binary,
            9 | 10 => Kind::List,
            11 => Kind::Map,
            12 => Kind::Struct,
            13 => Kind::Uuid,
            _ => return None,
        })
    }
}

/// A place in encoded bytes. Every step gives `None` where the bytes make no sense.
pub(super) struct Walk<'a> {
    bytes: &'a [u8],
    at: usize,
    depth: usize,
}

/// What is to be done with a field: it was read, or it is to be passed over.
pub(super) enum Field {
    Read,
    PassOver,
}

impl<'a> Walk<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Walk<'a> {
        Walk { bytes, at: 0, depth: 0 }
    }

    /// Bytes behind.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let taken = self.bytes.get(self.at..self.at.checked_add(count)?)?;
        self.at += count;
        Some(taken)
    }

    fn byte(&mut self) -> Option<u8> {
        self.take(1)?.first().copied()
    }

    /// Seven bits a byte, the lowest first.
    fn unsigned(&mut self) -> Option<u64> {
        let mut number: u64 = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            number |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return Some(number);
            }
        }
        None
    }

    /// A whole number; 0, -1, 1, -2 are written 0, 1, 2, 3.
    pub(super) fn number(&mut self) -> Option<i64> {
        let folded = self.unsigned()?;
        Some((folded >> 1) as i64 ^ -((folded & 1) as i64)) // the halves of 64 bits: nothing is lost
    }

    /// The fields of a structure, each given to `read` with its number and kind; how many there were.
    pub(super) fn fields(&mut self, read: &mut dyn FnMut(i64, Kind, &mut Walk<'a>) -> Option<Field>) -> Option<usize> {
        self.deeper()?;
        let (mut id, mut count) = (0_i64, 0);
        loop {
            let head = self.byte()?;
            if head == 0 {
                self.depth -= 1;
                return Some(count);
            }
            let step = i64::from(head >> 4);
            id = if step == 0 { self.number()? } else { id.checked_add(step)? };
            let kind = Kind::of(head & 0x0f)?;
            if let Field::PassOver = read(id, kind, self)?
                && kind != Kind::Bool
            {
                self.pass_over(kind)?;
            }
            count += 1;
        }
    }

    /// How many elements a list has, and of which kind. Each takes a byte at least.
    pub(super) fn list(&mut self) -> Option<(usize, Kind)> {
        let head = self.byte()?;
        let short = u64::from(head >> 4);
        let count = if short == 15 { self.unsigned()? } else { short };
        let count = usize::try_from(count).ok().filter(|count| *count <= self.bytes.len() - self.at)?;
        Some((count, Kind::of(head & 0x0f)?))
    }

    /// Goes behind a value. A structure in a list without any field is refused: there is none in Parquet's description, and a list
    /// of them would be the longest there can be.
    pub(super) fn pass_over(&mut self, kind: Kind) -> Option<()> {
        match kind {
            Kind::Bool | Kind::Byte => self.take(1).map(drop),
            Kind::Number => self.unsigned().map(drop),
            Kind::Double => self.take(8).map(drop),
            Kind::Uuid => self.take(16).map(drop),
            Kind::Binary => {
                let length = usize::try_from(self.unsigned()?).ok()?;
                self.take(length).map(drop)
            }
            Kind::Struct => self.fields(&mut |_, _, _| Some(Field::PassOver)).map(drop),
            Kind::List => self.pass_over_list(),
            Kind::Map => self.pass_over_map(),
        }
    }

    fn pass_over_list(&mut self) -> Option<()> {
        self.deeper()?;
        let (count, kind) = self.list()?;
        for _ in 0..count {
            if kind == Kind::Struct {
                self.fields(&mut |_, _, _| Some(Field::PassOver)).filter(|fields| *fields > 0)?;
            } else {
                self.pass_over(kind)?;
            }
        }
        self.depth -= 1;
        Some(())
    }

    fn pass_over_map(&mut self) -> Option<()> {
        let count = usize::try_from(self.unsigned()?).ok()?;
        if count == 0 {
            return Some(());
        }
        self.deeper()?;
        let kinds = self.byte()?;
        let (key, value) = (Kind::of(kinds >> 4)?, Kind::of(kinds & 0x0f)?);
        for _ in 0..count {
            self.pass_over(key)?;
            self.pass_over(value)?;
        }
        self.depth -= 1;
        Some(())
    }

    fn deeper(&mut self) -> Option<()> {
        self.depth += 1;
        (self.depth <= DEEPEST).then_some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(bytes: &[u8]) -> bool {
        Walk::new(bytes).pass_over(Kind::Struct).is_some()
    }

    #[test]
    fn numbers_and_fields_are_read() {
        // Field 1 is 150, field 3 is true, field 20 is -1, and a list of two bytes is passed over.
        let bytes = [0x15, 0xac, 0x02, 0x21, 0x05, 0x28, 0x01, 0x19, 0x23, 7, 9, 0];
        let mut seen = Vec::new();
        let mut walk = Walk::new(&bytes);
        let count = walk.fields(&mut |id, kind, walk| {
            let number = if kind == Kind::Number { walk.number()? } else { 0 };
            seen.push((id, number));
            Some(if kind == Kind::Number { Field::Read } else { Field::PassOver })
        });
        assert_eq!(count, Some(4));
        assert_eq!(seen, [(1, 150), (3, 0), (20, -1), (21, 0)]);
        assert_eq!(walk.at(), bytes.len());
    }

    #[test]
    fn what_is_longer_than_its_bytes_is_refused() {
        assert!(sound(&[0x19, 0x25, 2, 4, 0]));
        assert!(!sound(&[0x19, 0x35, 2, 4, 0]), "three numbers, and two are there");
        assert!(!sound(&[0x19, 0xfc, 0xff, 0xff, 0xff, 0xff, 0x07, 0]), "two thousand million structures");
        assert!(!sound(&[0x19, 0x2c, 0, 0, 0]), "structures of nothing");
        assert!(!sound(&[0x18, 0xff, 0xff, 0xff, 0xff, 0x7f, 0]), "a text");
        assert!(!sound(&[0x1b, 0xff, 0xff, 0xff, 0xff, 0x7f, 0x88, 0]), "a map");
        assert!(!sound(&[0x15, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01, 0]), "a number");
    }

    #[test]
    fn structures_in_structures_end_somewhere() {
        let deep = |n: usize| [vec![0x1c; n], vec![0; n + 1]].concat();
        assert!(sound(&deep(DEEPEST - 1)));
        assert!(!sound(&deep(DEEPEST)));
        assert!(!sound(&deep(1_000_000)));
        assert!(!sound(&[vec![0x19], vec![0x19; 1_000_000]].concat()), "lists");
    }
}
