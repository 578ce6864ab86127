//! Paths and patterns of the plan become files and folders that are there and can be read, or what is wrong.
//!
//! A file reached by two names stands once, or its results would count twice. A name that is there is taken as it
//! is written, even where it holds the marks of a pattern.

use super::codes;
use super::files::{self, Kind, real};
use super::near::{folder_name, list_names, near};
use super::notes::quoted;
use super::patterns::{self, has_marks};
use crate::plan::shown_path;
use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

/// What is wrong with a path of the plan; the caller knows its key.
#[derive(Debug, PartialEq)]
pub(super) struct Fault {
    pub code: &'static str,
    pub found: String,
    pub wanted: String,
}

impl Fault {
    fn new(code: &'static str, found: impl Into<String>, wanted: impl Into<String>) -> Fault {
        Fault { code, found: found.into(), wanted: wanted.into() }
    }
}

/// The folder that the plan's paths start from.
pub(super) fn base_of(plan: &Path) -> PathBuf {
    match plan.parent().map(clean) {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => PathBuf::from("."),
    }
}

/// The files that one entry of `files` names: those found, and what is wrong.
pub(super) fn find(base: &Path, pattern: &str) -> (Vec<PathBuf>, Vec<Fault>) {
    if has_marks(pattern) && files::kind(&base.join(pattern)).is_err() {
        return matching(base, pattern);
    }
    match file(base, pattern) {
        Ok(path) => (vec![path], Vec::new()),
        Err(fault) if fault.code == codes::FOLDER_NOT_FILE => {
            let inside = format!("{}/*.csv", pattern.trim_end_matches('/'));
            let wanted = format!("name the files in it, such as {}", quoted(&inside));
            (Vec::new(), vec![Fault { wanted, ..fault }])
        }
        Err(fault) => (Vec::new(), vec![fault]),
    }
}

fn matching(base: &Path, pattern: &str) -> (Vec<PathBuf>, Vec<Fault>) {
    let found = match patterns::expand(base, pattern) {
        Ok(found) => found,
        Err(why) => return (Vec::new(), vec![bad_pattern(pattern, why)]),
    };
    let unread = found.closed.into_iter().map(|(path, kind)| unreadable(base, &path, kind));
    let (mut files, mut faults, mut folders) = (Vec::new(), unread.collect::<Vec<_>>(), 0);
    for path in found.paths.iter().map(|path| clean(path)) {
        match files::kind(&path) {
            Ok(Kind::Folder) => folders += 1,
            _ => match readable(base, &path) {
                Ok(()) => files.push(path),
                Err(fault) => faults.push(fault),
            },
        }
    }
    if files.is_empty() && faults.is_empty() {
        faults.push(nothing_matches(base, pattern, folders));
    }
    (files, faults)
}

/// Sorts by the bytes of the path and keeps one name of each file.
pub(super) fn sorted(mut files: Vec<PathBuf>) -> Vec<PathBuf> {
    files.sort_by(|a, b| a.as_os_str().as_encoded_bytes().cmp(b.as_os_str().as_encoded_bytes()));
    let mut seen = BTreeSet::new();
    files.retain(|path| seen.insert(real(path)));
    files
}

/// One file, without marks for patterns.
pub(super) fn file(base: &Path, text: &str) -> Result<PathBuf, Fault> {
    let path = clean(&base.join(text));
    match files::kind(&path) {
        Ok(Kind::Folder) => {
            Err(Fault::new(codes::FOLDER_NOT_FILE, format!("{} is a folder", quoted(text)), "name one file in it"))
        }
        Ok(_) => readable(base, &path).map(|()| path),
        Err(error) if error.kind() == ErrorKind::NotFound => Err(gone(base, &path, text)),
        Err(error) => Err(unreadable(base, &path, error.kind())),
    }
}

/// A file that is not there, or a link whose end is not.
fn gone(base: &Path, path: &Path, text: &str) -> Fault {
    if path.is_symlink() {
        let found = format!("{} is a link to a file that is not there", quoted(text));
        return Fault::new(codes::FILE_NOT_FOUND, found, "mend the link, or name the file itself");
    }
    Fault::new(codes::FILE_NOT_FOUND, format!("there is no file {}", quoted(text)), near(base, text))
}

/// One folder.
pub(super) fn folder(base: &Path, text: &str) -> Result<PathBuf, Fault> {
    let path = clean(&base.join(text));
    match files::kind(&path) {
        Ok(Kind::Folder) => Ok(path),
        Ok(_) => {
            let found = format!("{} is a file", quoted(text));
            Err(Fault::new(codes::FILE_NOT_FOLDER, found, "name the folder that it lies in"))
        }
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let found = format!("there is no folder {}", quoted(text));
            Err(Fault::new(codes::FILE_NOT_FOUND, found, near(base, text.trim_end_matches('/'))))
        }
        Err(error) => Err(unreadable(base, &path, error.kind())),
    }
}

fn readable(base: &Path, path: &Path) -> Result<(), Fault> {
    match files::kind(path) {
        // A pipe is not opened: that would wait for its other end.
        Ok(Kind::Other) => {
            let found = format!("{} is neither a file nor a folder", quoted(&shown_path(base, path)));
            Err(Fault::new(codes::FILE_UNREADABLE, found, "name an ordinary file"))
        }
        Ok(_) => files::opens(path).map_err(|error| unreadable(base, path, error.kind())),
        Err(error) => Err(unreadable(base, path, error.kind())),
    }
}

fn unreadable(base: &Path, path: &Path, kind: ErrorKind) -> Fault {
    let found = format!("{} cannot be read: {kind}", quoted(&shown_path(base, path)));
    Fault::new(codes::FILE_UNREADABLE, found, "check its permissions, or name another")
}

fn bad_pattern(pattern: &str, why: &str) -> Fault {
    let found = format!("{} is not a pattern: {why}", quoted(pattern));
    let wanted =
        "* stands for any part of a name, ? for one character, [ab] for one of those, ** alone for any folders";
    Fault::new(codes::BAD_PATTERN, found, wanted)
}

fn nothing_matches(base: &Path, pattern: &str, folders: usize) -> Fault {
    if folders > 0 {
        let wanted = format!("name the files in them, such as {}", quoted(&format!("{pattern}/*.csv")));
        return Fault::new(codes::FOLDER_NOT_FILE, format!("only folders match {}", quoted(pattern)), wanted);
    }
    let is_fixed = |part: &Component<'_>| !has_marks(&part.as_os_str().to_string_lossy());
    let fixed: PathBuf = Path::new(pattern).components().take_while(is_fixed).collect();
    let wanted = match files::kind(&base.join(&fixed)) {
        Ok(Kind::Folder) => {
            let names = list_names(&base.join(&fixed), |_| true, "nothing");
            format!("looked in {}, which holds {names}", folder_name(&fixed))
        }
        _ => near(base, &fixed.to_string_lossy()),
    };
    Fault::new(codes::NOTHING_MATCHES, format!("no file matches {}", quoted(pattern)), wanted)
}

/// The path without its `.` parts; `..` stays, since a link may lie before it.
fn clean(path: &Path) -> PathBuf {
    path.components().filter(|part| *part != Component::CurDir).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_from_the_working_folder_stay_short() {
        assert_eq!(base_of(Path::new("plan.toml")), Path::new("."));
        assert_eq!(base_of(Path::new("./a/./plan.toml")), Path::new("a"));
        assert_eq!(base_of(Path::new("/a/../b/plan.toml")), Path::new("/a/../b"));
        let found = find(Path::new("."), "./Cargo.tom?");
        assert_eq!(found, (vec![PathBuf::from("Cargo.toml")], Vec::new()));
        assert_eq!(file(Path::new("."), "Cargo.toml"), Ok(PathBuf::from("Cargo.toml")));
    }
}
