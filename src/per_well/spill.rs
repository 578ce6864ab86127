//! Blocks put away in a file without a name, which the system frees when the run ends, however it ends.

use crate::intake::SourceFile;
use crate::normalise::{Block, pack, unpack};
use crate::problem::Problem;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Where a block lies in the file.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    file: Arc<SourceFile>,
    start: u64,
    length: usize,
}

/// The file, and the folder it was made in for what is told when it fails.
#[derive(Debug)]
pub(super) struct Spill {
    /// One handle, since a nameless file cannot be opened again; reading a block is short beside working on it.
    file: Mutex<File>,
    folder: PathBuf,
    end: u64,
    packed: Vec<u8>,
}

impl Spill {
    /// Makes the file.
    pub(super) fn new(folder: &Path) -> Result<Spill, Problem> {
        let file = tempfile::tempfile_in(folder).map_err(|e| failed(folder, &e))?;
        Ok(Spill { file: Mutex::new(file), folder: folder.to_path_buf(), end: 0, packed: Vec::new() })
    }

    /// Puts a block away.
    pub(super) fn put(&mut self, block: &Block) -> Result<Stretch, Problem> {
        self.packed.clear();
        pack(block, &mut self.packed);
        let file = self.file.get_mut().unwrap_or_else(PoisonError::into_inner);
        file.write_all(&self.packed).map_err(|e| failed(&self.folder, &e))?;
        let stretch = Stretch { file: block.file.clone(), start: self.end, length: self.packed.len() };
        self.end += stretch.length as u64;
        Ok(stretch)
    }

    /// Takes a block back.
    pub(super) fn get(&self, stretch: &Stretch) -> Result<Block, Problem> {
        let mut bytes = Vec::with_capacity(stretch.length);
        {
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            let length = stretch.length as u64;
            let found = file.seek(SeekFrom::Start(stretch.start));
            found
                .and_then(|_| (&mut *file).take(length).read_to_end(&mut bytes))
                .map_err(|e| failed(&self.folder, &e))?;
        }
        unpack(stretch.file.clone(), &bytes).ok_or_else(|| lost(stretch))
    }
}

/// A block whose bytes are not what was written.
pub(super) fn lost(stretch: &Stretch) -> Problem {
    let found = format!("the rows put away for it did not come back ({} bytes)", stretch.length);
    Problem::file(&stretch.file.path, "rows-not-kept", found, "run again; check the disk if it happens twice")
}

fn failed(folder: &Path, error: &std::io::Error) -> Problem {
    let found = match error.kind() {
        std::io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        _ => error.to_string(),
    };
    let wanted = "name a folder with room for as many bytes as the results files hold, unpacked; the old one is whole";
    Problem::file(folder, "rows-not-kept", found, wanted)
}
