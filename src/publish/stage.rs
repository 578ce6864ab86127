//! Output is made in a folder beside `--out` and takes its place at the end.
//!
//! A run that fails leaves the old `out/` whole: on Linux the two folders are exchanged in one step; elsewhere, or
//! where the file system cannot, the old one is moved aside first. A folder that holds files no earlier run listed
//! is not touched at all.

use crate::files::hex;
use crate::per_well::Keep;
use crate::problem::{Problem, Problems};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

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
        may_replace(out)?;
        let parent = out.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        if parent.exists() && !parent.is_dir() {
            return Err(not_a_folder(parent, "it is a file"));
        }
        std::fs::create_dir_all(parent).map_err(|e| unwritable(parent, &e))?;
        let name = out.file_name().map_or("out".to_owned(), |n| n.to_string_lossy().into_owned());
        let prefix = format!(".{name}-being-written-");
        let swept = super::leftovers::sweep(parent, &prefix, out);
        let folder = tempfile::Builder::new().prefix(&prefix).tempdir_in(parent).map_err(|e| unwritable(parent, &e))?;
        let held = super::leftovers::hold(folder.path());
        Ok(Stage { out: out.to_path_buf(), folder, _held: held, swept, facts: Mutex::default() })
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
        file.write_all(bytes).map_err(|e| unwritable(&self.out.join(name), &e))?;
        self.keep(name, file, rows)
    }

    /// Opens a file to be written piece by piece; end it with `keep`.
    ///
    /// # Errors
    /// As `write`.
    pub fn create(&self, name: &str) -> Result<Digested, Problem> {
        let path = self.folder.path().join(name);
        let shown = self.out.join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(|e| unwritable(&shown, &e))?;
        }
        let file = File::create(&path).map_err(|e| unwritable(&shown, &e))?;
        Ok(Digested { inner: BufWriter::with_capacity(1 << 18, file), digest: Sha256::new() })
    }

    /// Ends a file and remembers its digest.
    ///
    /// # Errors
    /// As `write`.
    pub fn keep(&self, name: &str, mut file: Digested, rows: Option<u64>) -> Result<(), Problem> {
        file.flush().map_err(|e| unwritable(&self.out.join(name), &e))?;
        let sha256 = hex(&file.digest.finalize());
        self.lock().insert(name.to_owned(), OutputFact { sha256, rows });
        Ok(())
    }

    /// Gives a written file a second name; the bytes are shared where the file system can, copied where it cannot.
    ///
    /// # Errors
    /// As `write`.
    pub fn link(&self, from: &str, to: &str) -> Result<(), Problem> {
        let [source, target] = [from, to].map(|name| self.folder.path().join(name));
        let fault = |e: &std::io::Error| unwritable(&self.out.join(to), e);
        if let Some(parent) = target.parent() {
            std::fs::create_dir_all(parent).map_err(|e| fault(&e))?;
        }
        if std::fs::hard_link(&source, &target).is_err() {
            std::fs::copy(&source, &target).map_err(|e| fault(&e))?;
        }
        let mut facts = self.lock();
        if let Some(fact) = facts.get(from).cloned() {
            facts.insert(to.to_owned(), fact);
        }
        Ok(())
    }

    /// Every file written so far, by name whatever the order of writing.
    pub fn facts(&self) -> BTreeMap<String, OutputFact> {
        self.lock().clone()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, OutputFact>> {
        self.facts.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts the folder in the place of `out`.
    ///
    /// # Errors
    /// A place that cannot be written; the old `out` is then whole.
    pub fn finish(self) -> Result<(), Problems> {
        may_replace(&self.out)?;
        set_open(self.folder.path());
        if self.out.exists() { self.exchange() } else { self.place() }
    }

    /// Where the folder cannot be put in place, it goes with the stage.
    fn place(self) -> Result<(), Problems> {
        std::fs::rename(self.folder.path(), &self.out).map_err(|e| Problems::from(unwritable(&self.out, &e)))?;
        let _ = self.folder.keep();
        Ok(())
    }

    /// Swaps the two folders; the old content then lies in the temporary one and goes with it.
    fn exchange(self) -> Result<(), Problems> {
        let made = self.folder.path();
        let swapped = rustix::fs::renameat_with(
            rustix::fs::CWD,
            made,
            rustix::fs::CWD,
            &self.out,
            rustix::fs::RenameFlags::EXCHANGE,
        );
        if swapped.is_ok() {
            return Ok(());
        }
        let aside = made.with_extension("old");
        std::fs::rename(&self.out, &aside).map_err(|e| unwritable(&self.out, &e))?;
        if let Err(error) = std::fs::rename(made, &self.out) {
            let _ = std::fs::rename(&aside, &self.out);
            return Err(unwritable(&self.out, &error).into());
        }
        std::fs::remove_dir_all(&aside).map_err(|e| Problems::from(unwritable(&aside, &e)))
    }
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
#[derive(Debug)]
pub struct Digested {
    inner: BufWriter<File>,
    digest: Sha256,
}

impl Write for Digested {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let n = self.inner.write(bytes)?;
        self.digest.update(bytes.get(..n).unwrap_or_default());
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.inner.flush()
    }
}

/// `out` may be replaced if it does not exist, is empty, or holds only what its manifest lists.
fn may_replace(out: &Path) -> Result<(), Problems> {
    if !out.exists() {
        return if out.is_symlink() { Err(not_a_folder(out, "it is a link to nothing")) } else { Ok(()) };
    }
    if !out.is_dir() {
        return Err(not_a_folder(out, "it is a file"));
    }
    let listed = listed(out);
    let mut strangers = Vec::new();
    find_strangers(out, out, &listed, &mut strangers);
    if strangers.is_empty() {
        return Ok(());
    }
    let count = strangers.len();
    strangers.sort();
    strangers.truncate(3);
    let found = format!("it holds {count} file(s) that no run listed, such as {}", strangers.join(", "));
    Err(Problem::file(
        out,
        "out-holds-other-files",
        found,
        "name another folder, or move them away; nothing was touched",
    )
    .into())
}

fn not_a_folder(path: &Path, found: &str) -> Problems {
    Problem::file(path, "out-not-a-folder", found, "name a folder that is new or holds an earlier run").into()
}

fn listed(out: &Path) -> BTreeSet<String> {
    let mut listed = BTreeSet::from(["manifest.json".to_owned()]);
    let manifest = std::fs::read(out.join("manifest.json")).unwrap_or_default();
    let parsed: serde_json::Value = serde_json::from_slice(&manifest).unwrap_or_default();
    if let Some(outputs) = parsed.get("outputs").and_then(serde_json::Value::as_object) {
        listed.extend(outputs.keys().cloned());
    }
    listed
}

fn find_strangers(base: &Path, folder: &Path, listed: &BTreeSet<String>, strangers: &mut Vec<String>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let path = entry.path();
        let name = crate::plan::shown_path(base, &path);
        if path.is_dir() && !path.is_symlink() {
            find_strangers(base, &path, listed, strangers);
        } else if !listed.contains(&name) {
            strangers.push(name);
        }
    }
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
    fn a_finished_stage_replaces_only_its_own() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        for round in 0..2 {
            let stage = Stage::new(&out).unwrap();
            stage.write("tables/a.csv", format!("x\n{round}\n").as_bytes(), Some(1)).unwrap();
            stage.write("manifest.json", br#"{"outputs":{"tables/a.csv":{}}}"#, None).unwrap();
            stage.finish().unwrap();
        }
        assert_eq!(std::fs::read_to_string(out.join("tables/a.csv")).unwrap(), "x\n1\n");
        std::fs::write(out.join("mine.txt"), "keep").unwrap();
        assert!(Stage::new(&out).is_err());
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
    }
}
