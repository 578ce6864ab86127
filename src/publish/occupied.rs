//! What lies where the output is to go, and whether a run may put itself in its place.
//!
//! A folder may be replaced if it is empty or holds only what its manifest lists. What cannot be looked into counts as somebody's. All of
//! this is told before anything is read, and asked once more before the swap.

use crate::problem::{Problem, Problems};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Where the output really goes: a link to a folder stands for that folder, so that the link outlives the run.
///
/// # Errors
/// The folder one stands in, and a place where a file system of its own begins: neither can change places with another folder.
pub(super) fn place(out: &Path) -> Result<PathBuf, Problems> {
    let named = out.file_name().is_some() && !out.is_symlink();
    let real = if named { Ok(out.to_path_buf()) } else { out.canonicalize() };
    let real = real.unwrap_or_else(|_| out.to_path_buf());
    let whole = real.canonicalize().ok();
    if whole.is_some() && whole == std::env::current_dir().ok().and_then(|here| here.canonicalize().ok()) {
        return Err(refused(out, "it is the folder you stand in", "name a folder in it, such as out"));
    }
    if begins_a_file_system(&real) {
        let inside = real.join("out");
        let wanted = format!("name a folder in it, such as {}", inside.display());
        return Err(refused(out, "a file system of its own begins here", &wanted));
    }
    Ok(real)
}

#[cfg(unix)]
fn begins_a_file_system(folder: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let device = |path: &Path| path.metadata().ok().map(|about| about.dev());
    let parent = folder.canonicalize().ok().and_then(|whole| whole.parent().map(Path::to_path_buf));
    folder.is_dir() && parent.is_none_or(|parent| device(&parent) != device(folder))
}

#[cfg(not(unix))]
fn begins_a_file_system(_: &Path) -> bool {
    false
}

/// Whether `out` does not exist, is empty, or holds only what its manifest lists.
pub(super) fn may_replace(out: &Path) -> Result<(), Problems> {
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

/// What an earlier output is called from now on that got files of others while it was being replaced.
pub(super) fn kept_name(old: &Path) -> PathBuf {
    let name = old.file_name().map_or_else(String::new, |name| name.to_string_lossy().replace("being-written", "kept"));
    old.with_file_name(name.trim_start_matches('.').trim_end_matches(".old"))
}

/// What is told of it.
pub(super) fn kept_sentence(kept: &Path) -> String {
    format!("Kept the earlier output as {}: it got files of others during the run", kept.display())
}

/// The problem of a place where no folder can be.
pub(super) fn not_a_folder(path: &Path, found: &str) -> Problems {
    refused(path, found, "name a folder that is new or holds an earlier run")
}

fn refused(path: &Path, found: &str, wanted: &str) -> Problems {
    Problem::file(path, "out-not-a-folder", found, wanted).into()
}

fn listed(out: &Path) -> BTreeSet<String> {
    let mut listed = BTreeSet::from(["manifest.json".to_owned()]);
    let manifest = out.join("manifest.json");
    // A pipe of that name would be waited for.
    let manifest = if manifest.is_file() { std::fs::read(manifest).unwrap_or_default() } else { Vec::new() };
    let parsed: serde_json::Value = serde_json::from_slice(&manifest).unwrap_or_default();
    if let Some(outputs) = parsed.get("outputs").and_then(serde_json::Value::as_object) {
        listed.extend(outputs.keys().cloned());
    }
    listed
}

fn find_strangers(base: &Path, folder: &Path, listed: &BTreeSet<String>, strangers: &mut Vec<String>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        strangers.push(format!("{}/ (which cannot be looked into)", crate::plan::shown_path(base, folder)));
        return;
    };
    for entry in entries {
        let Ok(entry) = entry else {
            strangers.push(format!("a name in {} that cannot be read", crate::plan::shown_path(base, folder)));
            continue;
        };
        let path = entry.path();
        let name = crate::plan::shown_path(base, &path);
        if path.is_dir() && !path.is_symlink() {
            find_strangers(base, &path, listed, strangers);
        } else if !listed.contains(&name) {
            strangers.push(name);
        }
    }
}
