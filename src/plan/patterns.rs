//! Patterns for file names: each part of the path is held against the names in one folder.
//!
//! `**` goes into folders but not through links to them: a link that leads back up would never end. Hidden names
//! match only a part that begins with a dot: they are editors' and archivers' remains.

use super::files::{self, Kind};
use glob::{MatchOptions, Pattern};
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

const OPTIONS: MatchOptions =
    MatchOptions { case_sensitive: true, require_literal_separator: true, require_literal_leading_dot: true };

/// What a pattern leads to.
#[derive(Default)]
pub(super) struct Found {
    /// Files and folders that match, in no order that matters.
    pub paths: Vec<PathBuf>,
    /// Folders that could not be looked into, and why.
    pub closed: Vec<(PathBuf, ErrorKind)>,
}

enum Part {
    Name(PathBuf),
    Marks(Pattern),
    AnyFolders,
}

/// Whether a text holds the marks of a pattern.
pub(super) fn has_marks(text: &str) -> bool {
    text.contains(['*', '?', '['])
}

/// Everything below `base` that matches; an error says why the pattern is none.
pub(super) fn expand(base: &Path, pattern: &str) -> Result<Found, &'static str> {
    let parts: Vec<Part> = Path::new(pattern).components().map(part).collect::<Result<_, _>>()?;
    let mut found = Found::default();
    walk(base.to_path_buf(), &parts, &mut found);
    Ok(found)
}

fn part(part: Component<'_>) -> Result<Part, &'static str> {
    let text = part.as_os_str().to_string_lossy();
    match part {
        Component::Normal(_) if text == "**" => Ok(Part::AnyFolders),
        Component::Normal(_) if has_marks(&text) => Pattern::new(&text).map(Part::Marks).map_err(|error| error.msg),
        _ => Ok(Part::Name(PathBuf::from(part.as_os_str()))),
    }
}

fn walk(at: PathBuf, parts: &[Part], found: &mut Found) {
    let Some((first, rest)) = parts.split_first() else {
        found.paths.push(at);
        return;
    };
    match first {
        Part::Name(name) => {
            let next = at.join(name);
            if files::kind(&next).is_ok() {
                walk(next, rest, found);
            }
        }
        Part::Marks(pattern) => {
            for entry in look(&at, found) {
                if pattern.matches_with(&entry.name.to_string_lossy(), OPTIONS) {
                    walk(at.join(&entry.name), rest, found);
                }
            }
        }
        Part::AnyFolders => any_folders(at, parts, rest, found),
    }
}

/// `**`: the rest of the pattern here, and all of it in every folder below; `**` at the end is every file.
fn any_folders(at: PathBuf, parts: &[Part], rest: &[Part], found: &mut Found) {
    let below = look(&at, found);
    for entry in below.iter().filter(|entry| !entry.name.as_encoded_bytes().starts_with(b".")) {
        if entry.own_folder {
            walk(at.join(&entry.name), parts, found);
        } else if rest.is_empty() {
            found.paths.push(at.join(&entry.name));
        }
    }
    if !rest.is_empty() {
        walk(at, rest, found);
    }
}

fn look(folder: &Path, found: &mut Found) -> Vec<files::Entry> {
    if !matches!(files::kind(folder), Ok(Kind::Folder)) {
        return Vec::new();
    }
    files::entries(folder).unwrap_or_else(|error| {
        found.closed.push((folder.to_path_buf(), error.kind()));
        Vec::new()
    })
}
