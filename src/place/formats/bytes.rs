//! Numbers taken from bytes, one after another; nothing is read past the end.

/// Which end of a number comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    /// The low end.
    Little,
    /// The high end.
    Big,
}

/// A place in a run of bytes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bytes<'a> {
    rest: &'a [u8],
}

impl<'a> Bytes<'a> {
    /// From the start.
    pub fn new(bytes: &'a [u8]) -> Bytes<'a> {
        Bytes { rest: bytes }
    }

    /// How many are left.
    pub fn left(&self) -> usize {
        self.rest.len()
    }

    /// The next ones.
    pub fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(taken)
    }

    /// The next byte.
    pub fn byte(&mut self) -> Option<u8> {
        self.take(1)?.first().copied()
    }

    /// Two bytes.
    pub fn u16(&mut self, order: Order) -> Option<u16> {
        let bytes = self.take(2)?.try_into().ok()?;
        Some(if order == Order::Little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    }

    /// Four bytes.
    pub fn u32(&mut self, order: Order) -> Option<u32> {
        let bytes = self.take(4)?.try_into().ok()?;
        Some(if order == Order::Little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    /// Eight bytes, a double.
    pub fn f64(&mut self, order: Order) -> Option<f64> {
        let bytes = self.take(8)?.try_into().ok()?;
        Some(if order == Order::Little { f64::from_le_bytes(bytes) } else { f64::from_be_bytes(bytes) })
    }

    /// Pairs of doubles, of which the first two of every `width` are kept.
    pub fn points(&mut self, count: usize, width: usize, order: Order) -> Option<Vec<[f64; 2]>> {
        let mut run = Bytes::new(self.take(count.checked_mul(width)?.checked_mul(8)?)?);
        let one = |_| {
            let point = [run.f64(order)?, run.f64(order)?];
            run.take((width - 2) * 8)?;
            Some(point)
        };
        (0..count).map(one).collect()
    }
}
