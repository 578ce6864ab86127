//! What the program asks of a disk and a clock, as one trait: the machine's own, or one of a test's making that fails where it is told to.
//!
//! A disk that is full, gone or slow cannot be had at will, and each place where a run touches it is a place where a run can lose
//! something. So whoever opens an input (`files`) or writes output (`publish::stage`) does it through here, and tests fail each of those
//! calls in turn. The program itself always takes `machine()`.

use std::fmt::Debug;
use std::fs::File;
use std::io::{Read, Result, Seek, Write};
use std::path::Path;
use std::sync::Arc;

/// An input that is open.
pub trait Input: Read + Seek + Send {}

impl<T: Read + Seek + Send> Input for T {}

/// What is asked of a disk. Every method fails as the system call of its name does.
pub trait Disk: Debug + Send + Sync {
    /// Opens a file that is there, for reading.
    ///
    /// # Errors
    /// As the system says.
    fn open(&self, path: &Path) -> Result<Box<dyn Input>>;

    /// Makes a file, empty where it was there before.
    ///
    /// # Errors
    /// As the system says.
    fn create(&self, path: &Path) -> Result<Box<dyn Write + Send>>;

    /// Makes a folder and those above it; one that is there already is no fault.
    ///
    /// # Errors
    /// As the system says.
    fn create_folders(&self, path: &Path) -> Result<()>;

    /// Gives a file a second name.
    ///
    /// # Errors
    /// As the system says; a file system without second names.
    fn link(&self, from: &Path, to: &Path) -> Result<()>;

    /// Copies a file.
    ///
    /// # Errors
    /// As the system says.
    fn copy(&self, from: &Path, to: &Path) -> Result<()>;

    /// Lets two folders change places in one step.
    ///
    /// # Errors
    /// As the system says; a system or file system that cannot.
    fn exchange(&self, one: &Path, other: &Path) -> Result<()>;

    /// Gives a folder another name.
    ///
    /// # Errors
    /// As the system says.
    fn rename(&self, from: &Path, to: &Path) -> Result<()>;

    /// The time now.
    fn now(&self) -> chrono::DateTime<chrono::Utc>;

    /// Removes a folder with all that is in it.
    ///
    /// # Errors
    /// As the system says.
    fn remove_folder(&self, path: &Path) -> Result<()>;
}

/// The machine's own disk.
pub fn machine() -> Arc<dyn Disk> {
    Arc::new(Machine)
}

/// See `machine`.
#[derive(Debug)]
pub struct Machine;

impl Disk for Machine {
    fn open(&self, path: &Path) -> Result<Box<dyn Input>> {
        Ok(Box::new(File::open(path)?))
    }

    fn create(&self, path: &Path) -> Result<Box<dyn Write + Send>> {
        Ok(Box::new(File::create(path)?))
    }

    fn create_folders(&self, path: &Path) -> Result<()> {
        std::fs::create_dir_all(path)
    }

    fn link(&self, from: &Path, to: &Path) -> Result<()> {
        std::fs::hard_link(from, to)
    }

    fn copy(&self, from: &Path, to: &Path) -> Result<()> {
        std::fs::copy(from, to).map(|_| ())
    }

    fn exchange(&self, one: &Path, other: &Path) -> Result<()> {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
    }

    fn rename(&self, from: &Path, to: &Path) -> Result<()> {
        std::fs::rename(from, to)
    }

    fn now(&self) -> chrono::DateTime<chrono::Utc> {
        chrono::Utc::now()
    }

    fn remove_folder(&self, path: &Path) -> Result<()> {
        std::fs::remove_dir_all(path)
    }
}
