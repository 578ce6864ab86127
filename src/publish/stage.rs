//! Output is made in a folder beside `--out` and takes its place at the end.
//!
//! A run that fails leaves the old `out/` whole: on Linux the two folders are exchanged in one step; elsewhere, or
//! where the file system cannot, the old one is moved aside first. A folder that holds files no earlier run listed
//! is not touched at all (`occupied`), and what is found in it after the swap is kept beside the output.

use super::occupied;
use crate::digest::Digest;
use crate::disk::{Disk, machine};
use crate::per_well::Keep;
use crate::problem::{Problem, Problems};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is known of a written file.
#[derive(Clone, Debug, serde::Serialize)]
pub struct OutputFact {
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// Data rows, where it is a table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<u64>,
}

/// Rows kept in memory, about 0.15 kB each.
const ROWS_IN_MEMORY: u64 = 1_000_000;

/// A folder being filled.
#[derive(Debug)]
pub struct Stage {
    disk: Arc<dyn Disk>,
    out: PathBuf,
    folder: tempfile::TempDir,
    /// Held as long as the run lives; a folder that nobody holds was left by a run that was killed.
    _held: Option<File>,
    swept: Vec<String>,
    facts: Mutex<BTreeMap<String, OutputFact>>,
}

impl Stage {
    /// Starts a folder beside `out`, after checking that `out` may be replaced.
    ///
    /// # Errors
    /// Files in `out` that no run wrote, or a place that cannot be written.
    pub fn new(out: &Path) -> Result<Stage, Problems> {
        Stage::on(machine(), out)
    }

    /// `new` on a disk other than the machine's own.
    ///
    /// # Errors
    /// As `new`.
    pub fn on(disk: Arc<dyn Disk>, out: &Path) -> Result<Stage, Problems> {
        let out = &occupied::place(out)?;
        occupied::may_replace(out)?;
        let parent = out.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        if parent.exists() && !parent.is_dir() {
            return Err(occupied::not_a_folder(parent, "it is a file"));
        }
        disk.create_folders(parent).map_err(|e| unwritable(parent, &e))?;
        let name = out.file_name().map_or("out".to_owned(), |n| n.to_string_lossy().into_owned());
        let prefix = format!(".{name}-being-written-");
        let swept = super::leftovers::sweep(parent, &prefix, out);
        let folder = tempfile::Builder::new().prefix(&prefix).tempdir_in(parent);
        let folder =
            folder.map_err(|e| if e.kind() == TOO_LONG { too_long(out, &e) } else { unwritable(parent, &e) })?;
        let held = super::leftovers::hold(folder.path());
        Ok(Stage { disk, out: out.to_path_buf(), folder, _held: held, swept, facts: Mutex::default() })
    }

    /// What became of the folders that killed runs left beside `out`, a sentence each.
    pub fn swept(&self) -> &[String] {
        &self.swept
    }

    /// What a run keeps of its rows: in memory what a small computer can hold, the rest beside the output.
    pub fn keep_rows(&self) -> Keep {
        Keep::Rows { in_memory: ROWS_IN_MEMORY, folder: self.folder.path().to_path_buf() }
    }

    /// Writes a file whole.
    ///
    /// # Errors
    /// A full disk, or a folder that went away.
    pub fn write(&self, name: &str, bytes: &[u8], rows: Option<u64>) -> Result<(), Problem> {
        let mut file = self.create(name)?;
        file.write_all(bytes).map_err(|e| self.unwritable(name, &e))?;
        self.keep(name, file, rows)
    }

    /// Opens a file to be written piece by piece; end it with `keep`.
    ///
    /// # Errors
    /// As `write`.
    pub fn create(&self, name: &str) -> Result<Digested, Problem> {
        let path = self.within(name)?;
        let fault = |e: std::io::Error| self.unwritable(name, &e);
        if let Some(parent) = path.parent() {
            self.disk.create_folders(parent).map_err(fault)?;
        }
        let file = self.disk.create(&path).map_err(fault)?;
        Ok(Digested {
            inner: BufWriter::with_capacity(1 << 18, file),
            digest: Digest::default(),
            failed: Failed::default(),
        })
    }

    /// Ends a file and remembers its digest.
    ///
    /// # Errors
    /// As `write`.
    pub fn keep(&self, name: &str, mut file: Digested, rows: Option<u64>) -> Result<(), Problem> {
        file.flush().map_err(|e| self.unwritable(name, &e))?;
        let sha256 = file.digest.hex();
        self.lock().insert(name.to_owned(), OutputFact { sha256, rows });
        Ok(())
    }

    /// Gives a written file a second name; the bytes are shared where the file system can, copied where it cannot.
    ///
    /// # Errors
    /// As `write`.
    pub fn link(&self, from: &str, to: &str) -> Result<(), Problem> {
        let (source, target) = (self.within(from)?, self.within(to)?);
        let fault = |e: std::io::Error| self.unwritable(to, &e);
        if let Some(parent) = target.parent() {
            self.disk.create_folders(parent).map_err(fault)?;
        }
        if self.disk.link(&source, &target).is_err() {
            self.disk.copy(&source, &target).map_err(fault)?;
        }
        let mut facts = self.lock();
        if let Some(fact) = facts.get(from).cloned() {
            facts.insert(to.to_owned(), fact);
        }
        Ok(())
    }

    /// The problem of a file of this output that could not be written.
    pub fn unwritable(&self, name: &str, error: &std::io::Error) -> Problem {
        unwritable(&self.out.join(name), error)
    }

    /// Where a file of this name is written: always inside the folder, since names may be made of what a data file says.
    fn within(&self, name: &str) -> Result<PathBuf, Problem> {
        let inside = Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
        if inside && !name.is_empty() {
            return Ok(self.folder.path().join(name));
        }
        let found = format!("the name {name:?} leads out of the folder");
        Err(Problem::file(&self.out, "out-unwritable", found, "rename what it is named after"))
    }

    /// Every file written so far, by name whatever the order of writing.
    pub fn facts(&self) -> BTreeMap<String, OutputFact> {
        self.lock().clone()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, OutputFact>> {
        self.facts.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts the folder in the place of `out`. What comes back holds the old one, which goes with it.
    ///
    /// # Errors
    /// A place that cannot be written, or files that others removed; the old `out` is then whole.
    pub fn finish(self) -> Result<Placed, Problems> {
        occupied::may_replace(&self.out)?;
        self.all_there()?;
        set_open(self.folder.path());
        if self.out.exists() { self.exchange() } else { self.place() }
    }

    /// Whether nobody took away what was written: a folder that is removed midway is made anew by the next file in it.
    fn all_there(&self) -> Result<(), Problem> {
        let gone = |name: &&String| !self.folder.path().join(name).is_file();
        let facts = self.lock();
        let Some(name) = facts.keys().find(gone) else { return Ok(()) };
        let wanted = "run again, and leave the folder that a run is writing alone; the old one is whole";
        Err(Problem::file(&self.out.join(name), "out-unwritable", "it was removed while the run was at work", wanted))
    }

    /// Where the folder cannot be put in place, it goes with the stage.
    fn place(self) -> Result<Placed, Problems> {
        let placed = self.disk.rename(self.folder.path(), &self.out);
        placed.map_err(|e| Problems::from(unwritable(&self.out, &e)))?;
        let _ = self.folder.keep();
        Ok(Placed::default())
    }

    /// Swaps the two folders; the old content then lies in the temporary one and goes with it.
    fn exchange(self) -> Result<Placed, Problems> {
        let made = self.folder.path();
        if self.disk.exchange(made, &self.out).is_ok() {
            return Ok(self.keep_strangers());
        }
        let aside = made.with_extension("old");
        self.disk.rename(&self.out, &aside).map_err(|e| unwritable(&self.out, &e))?;
        if let Err(error) = self.disk.rename(made, &self.out) {
            // Where it cannot go back either, the next run puts it back.
            let _ = self.disk.rename(&aside, &self.out);
            return Err(unwritable(&self.out, &error).into());
        }
        if occupied::may_replace(&aside).is_err() {
            return Ok(Placed { old: None, told: Some(self.kept(&aside)) });
        }
        // The new output is whole; what is left of the old one is cleared by the next run.
        let _ = self.disk.remove_folder(&aside);
        Ok(Placed::default())
    }

    /// A file that somebody put into the old output in the last moment is not removed with it.
    fn keep_strangers(mut self) -> Placed {
        if occupied::may_replace(self.folder.path()).is_ok() {
            return Placed { old: Some(self.folder), told: None };
        }
        self.folder.disable_cleanup(true);
        Placed { old: None, told: Some(self.kept(self.folder.path())) }
    }

    /// Gives the earlier output, which is somebody's now, a name of its own; a sentence about it.
    fn kept(&self, old: &Path) -> String {
        let kept = occupied::kept_name(old);
        let kept = if self.disk.rename(old, &kept).is_ok() { &kept } else { old };
        occupied::kept_sentence(kept)
    }
}

/// The output is in its place.
#[derive(Debug, Default)]
#[must_use]
pub struct Placed {
    /// What stood there before; it is removed when this goes, which may take long.
    pub old: Option<tempfile::TempDir>,
    /// A sentence, where something of the old output was kept.
    pub told: Option<String>,
}

/// A temporary folder is private; the finished one follows the usual rule of the place it stands in.
fn set_open(folder: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // 0755: failing to widen it loses nothing.
        let _ = std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o755));
    }
    #[cfg(not(unix))]
    let _ = folder;
}

/// A file that is hashed as it is written.
pub struct Digested {
    inner: BufWriter<Box<dyn Write + Send>>,
    digest: Digest,
    failed: Failed,
}

/// The last error of a file, for writers of others that tell it in words of their own.
#[derive(Clone, Debug, Default)]
pub struct Failed(Arc<Mutex<Option<std::io::Error>>>);

impl Failed {
    /// The error, or `otherwise` where the disk had none.
    pub fn or(&self, otherwise: impl std::fmt::Display) -> std::io::Error {
        let error = self.0.lock().unwrap_or_else(PoisonError::into_inner).take();
        error.unwrap_or_else(|| std::io::Error::other(otherwise.to_string()))
    }

    fn kept<T>(&self, result: std::io::Result<T>) -> std::io::Result<T> {
        if let Err(error) = &result {
            let copy = error.raw_os_error().map_or(error.kind().into(), std::io::Error::from_raw_os_error);
            *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(copy);
        }
        result
    }
}

impl Digested {
    /// Where its last error can be asked for while another writer has it.
    pub fn failed(&self) -> Failed {
        self.failed.clone()
    }
}

impl Write for Digested {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let n = self.failed.kept(self.inner.write(bytes))?;
        self.digest.update(bytes.get(..n).unwrap_or_default());
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.failed.kept(self.inner.flush())
    }
}

/// A name that somebody chose, such as a land use's or a benchmark set's, as part of a file's name: letters, digits, `-` and `_`, and
/// no more of them than file systems take.
pub(super) fn file_word(name: &str) -> String {
    const LONGEST: usize = 48;
    let plain = |c: char| if c.is_alphanumeric() || c == '-' || c == '_' { c } else { '-' };
    name.chars().take(LONGEST).map(plain).collect()
}

/// Names of files given so far in one folder, so that no two names become one: on many disks `A` and `a` are the same.
#[derive(Debug, Default)]
pub(super) struct Taken(BTreeSet<String>);

impl Taken {
    /// The name, with a number behind it where it is taken.
    pub(super) fn free(&mut self, name: &str) -> String {
        let numbered = (2_u64..).map(|number| format!("{name}-{number}"));
        let found = std::iter::once(name.to_owned()).chain(numbered).find(|name| self.0.insert(name.to_lowercase()));
        found.unwrap_or_default() // never: some number is free
    }
}

/// What a system says of a name that it has no room for.
const TOO_LONG: std::io::ErrorKind = std::io::ErrorKind::InvalidFilename;

/// Beside the folder itself, the name of the one that is written first has to fit.
fn too_long(out: &Path, error: &std::io::Error) -> Problem {
    Problem::file(out, "out-unwritable", format!("cannot be written: {error}"), "name a folder of fewer letters")
}

fn unwritable(path: &Path, error: &std::io::Error) -> Problem {
    let found = match error.kind() {
        std::io::ErrorKind::PermissionDenied => "no permission to write here".to_owned(),
        std::io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        // An error without a number of the system's may hold a temporary name.
        kind if error.raw_os_error().is_none() => format!("cannot be written: {kind}"),
        _ => format!("cannot be written: {error}"),
    };
    Problem::file(path, "out-unwritable", found, "name a folder with room that you may write to; the old one is whole")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_written_outside_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let stage = Stage::new(&home.path().join("out")).unwrap();
        for name in ["../x", "a/../../x", "/tmp/x", "a/..", "..", "./x", ""] {
            let told = stage.write(name, b"x", None).unwrap_err();
            assert_eq!(told.code, "out-unwritable", "{name}");
        }
        stage.write("a/b..c/...d", b"x", None).unwrap();
        assert!(stage.link("a/b..c/...d", "../e").is_err());
        assert_eq!(stage.facts().len(), 1);
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
    }

    #[test]
    fn words_for_file_names() {
        assert_eq!(file_word("../../x"), "------x");
        assert_eq!(file_word("dairy & beef \u{0}"), "dairy---beef--");
        assert_eq!(file_word("Überlauf_2-b"), "Überlauf_2-b");
        assert_eq!(file_word(&"å".repeat(999)).len(), 96);
        let mut taken = Taken::default();
        assert_eq!(["a-b", "A-B", "a-b", "c"].map(|name| taken.free(name)), ["a-b", "A-B-2", "a-b-3", "c"]);
    }

    #[test]
    fn a_finished_stage_replaces_only_its_own() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        for round in 0..2 {
            let stage = Stage::new(&out).unwrap();
            stage.write("tables/a.csv", format!("x\n{round}\n").as_bytes(), Some(1)).unwrap();
            stage.write("manifest.json", br#"{"outputs":{"tables/a.csv":{}}}"#, None).unwrap();
            drop(stage.finish().unwrap());
        }
        assert_eq!(std::fs::read_to_string(out.join("tables/a.csv")).unwrap(), "x\n1\n");
        std::fs::write(out.join("mine.txt"), "keep").unwrap();
        assert!(Stage::new(&out).is_err());
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
    }
}
