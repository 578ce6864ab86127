//! The one door to the disk and the clock: opens, unpacks, hashes and lists inputs.
//!
//! Every other part of the program sees bytes and vetted paths. What was opened is remembered with its digest,
//! so that the manifest can name every input. Output is staged by `publish::stage`.

use crate::digest::Digest;
use crate::disk::{Disk, Input, machine};
use crate::ids::Day;
use crate::problem::Problem;
use std::collections::BTreeMap;
use std::io::{BufReader, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Unpacked bytes beyond this are refused when they are also more than `BOMB_RATIO` times the packed ones.
pub const BOMB_BYTES: u64 = 2 << 30;
/// See `BOMB_BYTES`.
pub const BOMB_RATIO: u64 = 100;

/// What is known of an input after it was read to its end.
#[derive(Clone, Debug, Default, serde::Serialize)]
pub struct InputFact {
    /// Bytes on disk.
    pub bytes: u64,
    /// SHA-256 of the bytes on disk, hexadecimal; empty where no digests are taken.
    pub sha256: String,
    /// Data rows read from it, where it is a table.
    pub rows: u64,
}

/// Whether inputs are hashed as they are read: a fifth of the time of reading a survey, and only a manifest tells of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Digests {
    Taken,
    LeftOut,
}

/// The inputs of a run: opens them and remembers their digests.
#[derive(Clone, Debug)]
pub struct Inputs {
    disk: Arc<dyn Disk>,
    digests: Digests,
    /// The one clock reading of a run.
    started: chrono::DateTime<chrono::Utc>,
    facts: Arc<Mutex<BTreeMap<PathBuf, InputFact>>>,
}

impl Default for Inputs {
    fn default() -> Inputs {
        Inputs::on(machine())
    }
}

impl Inputs {
    /// Inputs on a disk; `default` takes the machine's own.
    pub fn on(disk: Arc<dyn Disk>) -> Inputs {
        let started = disk.now();
        Inputs { disk, digests: Digests::Taken, started, facts: Arc::default() }
    }

    /// The same for a job that writes no manifest: nothing is hashed.
    pub fn without_digests(self) -> Inputs {
        Inputs { digests: Digests::LeftOut, ..self }
    }

    /// When the run started, UTC, to the second, as ISO 8601.
    pub fn started(&self) -> String {
        self.started.format("%Y-%m-%dT%H:%M:%SZ").to_string()
    }

    /// The latest day that has begun anywhere on Earth when the run starts: no sample is of a later one.
    pub fn today(&self) -> Day {
        Day::of((self.started + chrono::Duration::hours(14)).date_naive())
    }

    /// Opens a file for one pass from start to end, unpacking gzip and Zstandard by their first bytes.
    ///
    /// # Errors
    /// A missing or unreadable file, or a directory.
    pub fn open(&self, path: &Path) -> Result<Box<dyn Read + Send>, Problem> {
        let (file, packed) = self.open_plain(path)?;
        let digest = (self.digests == Digests::Taken).then(Digest::default);
        let hashed = Hashed { inner: file, digest, bytes: 0, path: path.to_path_buf(), inputs: self.clone() };
        let mut reader = BufReader::with_capacity(1 << 20, hashed);
        let mut start = Vec::new();
        reader.by_ref().take(Packing::MARK).read_to_end(&mut start).map_err(|e| unreadable(path, &e))?;
        let kind = Packing::of(&start);
        let reader = Cursor::new(start).chain(reader);
        Ok(match kind {
            Packing::Plain => Box::new(reader),
            Packing::Gzip => Box::new(Unpacked::new(flate2::read::MultiGzDecoder::new(reader), packed)),
            Packing::Zstandard => {
                let decoder = zstd::stream::read::Decoder::with_buffer(reader).map_err(|e| unreadable(path, &e))?;
                Box::new(Unpacked::new(decoder, packed))
            }
        })
    }

    /// The whole content of a file, unpacked.
    ///
    /// # Errors
    /// As `open`, and a damaged archive.
    pub fn read(&self, path: &Path) -> Result<Vec<u8>, Problem> {
        let mut bytes = Vec::new();
        self.open(path)?.read_to_end(&mut bytes).map_err(|e| unreadable(path, &e))?;
        Ok(bytes)
    }

    /// Opens a file that was read to its end before, to be read here and there; nothing is unpacked.
    ///
    /// # Errors
    /// As the system says.
    pub(crate) fn open_again(&self, path: &Path) -> std::io::Result<Box<dyn Input>> {
        self.disk.open(path)
    }

    /// Opens a regular file and tells how long it is.
    fn open_plain(&self, path: &Path) -> Result<(Box<dyn Input>, u64), Problem> {
        let about = std::fs::metadata(path).map_err(|e| unreadable(path, &e))?;
        if !about.is_file() {
            let found = if about.is_dir() { "a folder" } else { "not a regular file" };
            return Err(Problem::file(path, "not-a-file", found, "name a file"));
        }
        Ok((self.disk.open(path).map_err(|e| unreadable(path, &e))?, about.len()))
    }

    /// Remembers how many data rows a file gave.
    pub fn count_rows(&self, path: &Path, rows: u64) {
        self.lock().entry(path.to_path_buf()).or_default().rows = rows;
    }

    /// Every input read so far, by path.
    pub fn facts(&self) -> BTreeMap<PathBuf, InputFact> {
        self.lock().clone()
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, BTreeMap<PathBuf, InputFact>> {
        self.facts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// How a file's bytes are packed, told by its first bytes.
enum Packing {
    Plain,
    Gzip,
    Zstandard,
}

impl Packing {
    /// Bytes of the longest mark at a file's start.
    const MARK: u64 = 4;

    fn of(start: &[u8]) -> Packing {
        match start {
            [0x1f, 0x8b, ..] => Packing::Gzip,
            [0x28, 0xb5, 0x2f, 0xfd, ..] => Packing::Zstandard,
            _ => Packing::Plain,
        }
    }
}

/// A file that is hashed as it is read, if digests are taken; what is known of it is kept once its end is seen.
struct Hashed {
    inner: Box<dyn Input>,
    digest: Option<Digest>,
    bytes: u64,
    path: PathBuf,
    inputs: Inputs,
}

impl Read for Hashed {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        if n == 0 {
            let sha256 = self.digest.clone().map(Digest::hex).unwrap_or_default();
            let mut facts = self.inputs.lock();
            let fact = facts.entry(self.path.clone()).or_default();
            fact.bytes = self.bytes;
            fact.sha256 = sha256;
        } else {
            if let Some(digest) = &mut self.digest {
                digest.update(buffer.get(..n).unwrap_or_default());
            }
            self.bytes += n as u64;
        }
        Ok(n)
    }
}

/// An unpacking reader that refuses bombs.
struct Unpacked<R> {
    inner: R,
    packed: u64,
    given: u64,
    most: u64,
}

impl<R> Unpacked<R> {
    fn new(inner: R, packed: u64) -> Self {
        Unpacked { inner, packed, given: 0, most: BOMB_BYTES }
    }
}

impl<R: Read> Read for Unpacked<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        self.given += n as u64;
        if self.given > self.most && self.given / BOMB_RATIO > self.packed {
            return Err(std::io::Error::other(format!(
                "it unpacks to more than {BOMB_RATIO} times its size and more than {} GiB",
                BOMB_BYTES >> 30
            )));
        }
        Ok(n)
    }
}

/// The problem of a file that could not be read.
pub fn unreadable(path: &Path, error: &std::io::Error) -> Problem {
    let found = match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "no permission to read it".to_owned(),
        _ => format!("cannot be read: {error}"),
    };
    Problem::file(path, "file-unreadable", found, "check the path, its permissions and that the file is whole")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unpacked(given: u64, packed: u64) -> std::io::Result<u64> {
        let inner = std::io::repeat(b'x').take(given);
        let mut reader = Unpacked { most: 10_000, ..Unpacked::new(inner, packed) };
        std::io::copy(&mut reader, &mut std::io::sink())
    }

    #[test]
    fn a_bomb_is_large_and_a_hundred_times_its_size() {
        assert_eq!(unpacked(10_000, 1).unwrap(), 10_000);
        assert_eq!(unpacked(50_000, 600).unwrap(), 50_000);
        assert!(unpacked(5_000_000, 600).unwrap_err().to_string().contains("more than 100 times its size"));
    }
}
