//! The plan's only door to the disk: what lies at a path, what a folder holds, whether a file opens.
//!
//! Names in a folder come in the order of their bytes, so that no machine's folder order reaches the output.

use std::ffi::OsString;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// What lies at a path, links followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    File,
    Folder,
    /// A device, a pipe, a socket.
    Other,
}

/// One name in a folder.
#[derive(Debug)]
pub(super) struct Entry {
    pub name: OsString,
    /// Whether it is a folder itself, not a link to one.
    pub own_folder: bool,
}

/// What lies at a path.
pub(super) fn kind(path: &Path) -> io::Result<Kind> {
    let data = fs::metadata(path)?;
    Ok(match (data.is_dir(), data.is_file()) {
        (true, _) => Kind::Folder,
        (_, true) => Kind::File,
        _ => Kind::Other,
    })
}

/// The names in a folder, in the order of their bytes.
pub(super) fn entries(folder: &Path) -> io::Result<Vec<Entry>> {
    let mut entries = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let own_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        entries.push(Entry { name: entry.file_name(), own_folder });
    }
    entries.sort_by(|a, b| a.name.as_encoded_bytes().cmp(b.name.as_encoded_bytes()));
    Ok(entries)
}

/// Whether a file opens for reading.
pub(super) fn opens(path: &Path) -> io::Result<()> {
    fs::File::open(path).map(|_| ())
}

/// A file's bytes, and those of a plan only: a larger file than `most` is no plan and not read further. A pipe or a device does not
/// say how long it is.
pub(super) fn read(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    fs::File::open(path)?.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(io::ErrorKind::FileTooLarge.into()) } else { Ok(bytes) }
}

/// The file behind all its names.
pub(super) fn real(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf())
}
