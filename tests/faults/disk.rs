//! A disk that does as a test says, in front of the machine's own.

use std::io::{Error, ErrorKind, Read, Result, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use wellreeve::disk::{Disk, Input, machine};

/// Whether the call with this number is tried: the first and last ten, and of the others one in `one_in`; all with `FAULTS=all`.
pub fn tried(number: u64, calls: u64, one_in: u64) -> bool {
    all() || number <= 10 || number + 10 > calls || number.is_multiple_of(one_in)
}

/// Whether every call is to fail in every way.
pub fn all() -> bool {
    std::env::var("FAULTS").is_ok_and(|value| value == "all")
}

/// Which calls are counted, and fail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Calls {
    Reading,
    Writing,
}

/// How long a fault lasts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lasting {
    Once,
    FromThenOn,
}

/// What the disk does.
#[derive(Clone, Copy, Debug)]
pub struct Behaviour {
    pub calls: Calls,
    /// The call that fails, counted from 1; 0 for none.
    pub fails_at: u64,
    pub lasting: Lasting,
    pub kind: ErrorKind,
    /// Reads and writes of so many bytes at most, where given.
    pub piece: Option<usize>,
    /// Every second read or write is interrupted before it does anything.
    pub interrupted: bool,
    /// Two folders cannot change places, as on some file systems.
    pub no_exchange: bool,
    /// A file of somebody's that appears in the folder that is about to be replaced, in the last moment.
    pub stranger: Option<&'static str>,
    /// What its clock shows, in hours since 1970; otherwise the machine's.
    pub clock: Option<i64>,
}

impl Behaviour {
    /// A disk without a fault.
    pub fn sound(calls: Calls) -> Behaviour {
        Behaviour {
            calls,
            fails_at: 0,
            lasting: Lasting::FromThenOn,
            kind: ErrorKind::StorageFull,
            piece: None,
            interrupted: false,
            no_exchange: false,
            stranger: None,
            clock: None,
        }
    }
}

/// The words of the error, by which a message shows that it tells of this fault.
pub const WORDS: &str = "the disk of the test fails";

#[derive(Debug)]
struct State {
    does: Behaviour,
    counted: AtomicU64,
    /// What failed, and where.
    failed: std::sync::Mutex<Vec<String>>,
    turns: AtomicU64,
}

impl State {
    /// Counts a call, and fails it where it is its turn.
    fn call(&self, calls: Calls, what: &str, path: &Path) -> Result<()> {
        if calls != self.does.calls {
            return Ok(());
        }
        let n = self.counted.fetch_add(1, Ordering::SeqCst) + 1;
        let due = self.does.fails_at;
        let fails = due > 0 && if self.does.lasting == Lasting::Once { n == due } else { n >= due };
        if !fails {
            return Ok(());
        }
        self.failed.lock().unwrap().push(format!("{what} {}", path.display()));
        Err(Error::new(self.does.kind, WORDS))
    }

    fn interrupt(&self) -> Result<()> {
        let turn = self.turns.fetch_add(1, Ordering::SeqCst);
        let now = self.does.interrupted && turn.is_multiple_of(2);
        if now { Err(ErrorKind::Interrupted.into()) } else { Ok(()) }
    }

    fn piece(&self, wanted: usize) -> usize {
        self.does.piece.map_or(wanted, |piece| piece.min(wanted))
    }
}

/// See the head of this file.
#[derive(Clone, Debug)]
pub struct Faulty(Arc<State>, Arc<dyn Disk>);

impl Faulty {
    pub fn new(does: Behaviour) -> Faulty {
        Faulty(
            Arc::new(State { does, counted: AtomicU64::new(0), failed: Default::default(), turns: AtomicU64::new(0) }),
            machine(),
        )
    }

    /// As the library takes it.
    pub fn shared(&self) -> Arc<dyn Disk> {
        Arc::new(self.clone())
    }

    /// What failed so far.
    pub fn failed(&self) -> String {
        self.0.failed.lock().unwrap().join(", ")
    }

    /// Calls so far of the kind that is counted.
    pub fn counted(&self) -> u64 {
        self.0.counted.load(Ordering::SeqCst)
    }
}

impl Disk for Faulty {
    fn open(&self, path: &Path) -> Result<Box<dyn Input>> {
        self.0.call(Calls::Reading, "open", path)?;
        Ok(Box::new(Slow { state: self.0.clone(), path: path.to_path_buf(), inner: self.1.open(path)? }))
    }

    fn create(&self, path: &Path) -> Result<Box<dyn Write + Send>> {
        self.0.call(Calls::Writing, "create", path)?;
        Ok(Box::new(Slow { state: self.0.clone(), path: path.to_path_buf(), inner: self.1.create(path)? }))
    }

    fn create_folders(&self, path: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "create folders", path)?;
        self.1.create_folders(path)
    }

    fn link(&self, from: &Path, to: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "link", to)?;
        self.1.link(from, to)
    }

    fn copy(&self, from: &Path, to: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "copy", to)?;
        self.1.copy(from, to)
    }

    fn exchange(&self, one: &Path, other: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "exchange", other)?;
        if let Some(name) = self.0.does.stranger {
            std::fs::write(other.join(name), "mine")?;
        }
        if self.0.does.no_exchange { Err(ErrorKind::Unsupported.into()) } else { self.1.exchange(one, other) }
    }

    fn rename(&self, from: &Path, to: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "rename", to)?;
        self.1.rename(from, to)
    }

    fn now(&self) -> chrono::DateTime<chrono::Utc> {
        let shown = self.0.does.clock.map(|hours| chrono::DateTime::UNIX_EPOCH + chrono::Duration::hours(hours));
        shown.unwrap_or_else(|| self.1.now())
    }

    fn remove_folder(&self, path: &Path) -> Result<()> {
        self.0.call(Calls::Writing, "remove folder", path)?;
        self.1.remove_folder(path)
    }
}

/// A file read or written as the disk does.
struct Slow<T: ?Sized> {
    state: Arc<State>,
    path: std::path::PathBuf,
    inner: Box<T>,
}

impl Read for Slow<dyn Input> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        self.state.interrupt()?;
        self.state.call(Calls::Reading, "read", &self.path)?;
        let piece = self.state.piece(buffer.len());
        self.inner.read(&mut buffer[..piece])
    }
}

impl Seek for Slow<dyn Input> {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.state.call(Calls::Reading, "seek", &self.path)?;
        self.inner.seek(to)
    }
}

impl Write for Slow<dyn Write + Send> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.state.interrupt()?;
        self.state.call(Calls::Writing, "write", &self.path)?;
        self.inner.write(&bytes[..self.state.piece(bytes.len())])
    }

    fn flush(&mut self) -> Result<()> {
        self.inner.flush()
    }
}
