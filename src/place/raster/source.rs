//! A TIFF file seen so that class codes come out as they are stored.
//!
//! The decoder refuses pictures with a palette and turns the values of those in which white is 0, although either is only a way
//! of showing: class rasters have palettes as often as not. So the one number that says how to show the picture is replaced, as
//! the file is read, by the one that says "plain values".
//!
//! Source: TIFF 6.0 (1992), sections 2 and 8; BigTIFF by its layout in common use. From memory.

use crate::disk::Input;
use crate::place::formats::bytes::{Bytes, Order};
use std::io::{BufReader, Read, Seek, SeekFrom};

/// A file in which two bytes read otherwise than they are.
pub(super) struct Source {
    file: BufReader<Box<dyn Input>>,
    position: u64,
    patch: Option<(u64, [u8; 2])>,
}

impl Source {
    /// Looks for the number in the first directory of a file.
    pub fn new(mut file: Box<dyn Input>) -> std::io::Result<Source> {
        let patch = shown_as(&mut file)?;
        file.rewind()?;
        Ok(Source { file: BufReader::with_capacity(1 << 16, file), position: 0, patch })
    }
}

/// How the picture is to be shown, tag 262; "black is zero" stands for plain values.
const SHOWN_AS: u16 = 262;
const PLAIN: u16 = 1;

fn shown_as(file: &mut Box<dyn Input>) -> std::io::Result<Option<(u64, [u8; 2])>> {
    let mut head = Vec::new();
    file.by_ref().take(16).read_to_end(&mut head)?;
    let order = if head.starts_with(b"MM") { Order::Big } else { Order::Little };
    let big = matches!((order, head.get(2..4)), (Order::Little, Some([43, _])) | (Order::Big, Some([_, 43])));
    let Some(start) = directory(&head, order, big) else { return Ok(None) };
    let (count_bytes, entry_bytes, value_at) = if big { (8, 20, 12) } else { (2, 12, 8) };
    file.seek(SeekFrom::Start(start))?;
    let mut directory = Vec::new();
    file.by_ref().take((count_bytes + entry_bytes * MOST_ENTRIES) as u64).read_to_end(&mut directory)?;
    let entries = directory.get(count_bytes..).unwrap_or_default().chunks_exact(entry_bytes);
    let at = entries.take_while(|entry| Bytes::new(entry).u16(order).is_some_and(|tag| tag <= SHOWN_AS));
    let at = at.enumerate().find(|(_, entry)| Bytes::new(entry).u16(order) == Some(SHOWN_AS));
    let plain = if order == Order::Big { PLAIN.to_be_bytes() } else { PLAIN.to_le_bytes() };
    Ok(at.map(|(i, _)| (start + (count_bytes + i * entry_bytes + value_at) as u64, plain)))
}

/// Tag 262 is among the first entries, which are in ascending order.
const MOST_ENTRIES: usize = 64;

fn directory(head: &[u8], order: Order, big: bool) -> Option<u64> {
    let mut head = Bytes::new(head);
    head.take(4)?;
    if !big {
        return head.u32(order).map(u64::from);
    }
    head.take(4)?;
    let (first, second) = (u64::from(head.u32(order)?), u64::from(head.u32(order)?));
    Some(if order == Order::Big { first << 32 | second } else { second << 32 | first })
}

impl Read for Source {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.file.read(buffer)?;
        if let Some((at, bytes)) = self.patch {
            for (place, byte) in (at..).zip(bytes) {
                let inside = place.checked_sub(self.position).and_then(|i| usize::try_from(i).ok());
                if let Some(slot) = inside.filter(|i| *i < n).and_then(|i| buffer.get_mut(i)) {
                    *slot = byte;
                }
            }
        }
        self.position += n as u64;
        Ok(n)
    }
}

impl Seek for Source {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.position = match to {
            SeekFrom::Current(by) => {
                self.file.seek_relative(by)?;
                self.position.saturating_add_signed(by)
            }
            SeekFrom::Start(at) => {
                let by = i64::try_from(at).ok().and_then(|at| at.checked_sub_unsigned(self.position));
                match by {
                    Some(by) => self.file.seek_relative(by)?,
                    None => drop(self.file.seek(to)?),
                }
                at
            }
            SeekFrom::End(_) => self.file.seek(to)?,
        };
        Ok(self.position)
    }
}
