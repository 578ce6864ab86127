//! Folders that killed runs left beside the output: removed by the next run, or put back where they are the old output.
//!
//! Each run holds a lock on its folder as long as it lives, and the system lets go of it however the run ends. So a folder
//! that can be locked belongs to nobody; one of a run at work is never touched.

use super::occupied;
use std::fs::File;
use std::path::{Path, PathBuf};

/// Holds a folder for this run; `None` where the system has no such locks, and then nothing of it is ever swept.
pub(super) fn hold(folder: &Path) -> Option<File> {
    let file = File::open(folder).ok()?;
    file.try_lock().ok().map(|()| file)
}

/// Deals with every folder in `parent` whose name starts with `prefix` and that nobody holds; a sentence about each.
pub(super) fn sweep(parent: &Path, prefix: &str, out: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(parent) else { return Vec::new() };
    let mut left: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.is_dir() && !path.is_symlink() && starts_with(path, prefix))
        .collect();
    left.sort();
    left.iter().filter_map(|folder| deal_with(folder, out)).collect()
}

fn starts_with(path: &Path, prefix: &str) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(prefix))
}

/// A folder moved aside during a swap is the old output: it goes back where the new one did not come.
fn deal_with(folder: &Path, out: &Path) -> Option<String> {
    let _held = hold(folder)?;
    let shown = folder.display();
    if folder.extension().is_some_and(|end| end == "old") && !out.exists() {
        std::fs::rename(folder, out).ok()?;
        return Some(format!("Put back {}, which a run that was ended had moved aside", out.display()));
    }
    if is_somebodys(folder) {
        let kept = occupied::kept_name(folder);
        std::fs::rename(folder, &kept).ok()?;
        return Some(occupied::kept_sentence(&kept));
    }
    std::fs::remove_dir_all(folder).ok()?;
    Some(format!("Removed {shown}, left by a run that was ended"))
}

/// Whether it is an earlier output, which has its list, that got a file of others before the run was ended.
fn is_somebodys(folder: &Path) -> bool {
    folder.join("manifest.json").is_file() && occupied::may_replace(folder).is_err()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_nobody_holds_is_swept() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let folders = [".out-being-written-a", ".out-being-written-b", ".other-being-written-c", "mine"];
        for name in folders {
            std::fs::create_dir(home.path().join(name)).unwrap();
            std::fs::write(home.path().join(name).join("x"), "x").unwrap();
        }
        let held = hold(&home.path().join(folders[0]));
        assert!(held.is_some());
        let told = sweep(home.path(), ".out-being-written-", &out);
        assert_eq!(told.len(), 1, "{told:?}");
        let left = |name: &str| home.path().join(name).exists();
        assert_eq!(folders.map(left), [true, false, true, true]);
    }

    #[test]
    fn an_output_moved_aside_comes_back() {
        let home = tempfile::tempdir().unwrap();
        let (aside, out) = (home.path().join(".out-being-written-a.old"), home.path().join("out"));
        std::fs::create_dir(&aside).unwrap();
        assert_eq!(sweep(home.path(), ".out-being-written-", &out).len(), 1);
        assert!(out.exists() && !aside.exists());
    }

    #[test]
    fn a_file_of_others_in_an_earlier_output_is_never_swept() {
        let home = tempfile::tempdir().unwrap();
        let (aside, out) = (home.path().join(".out-being-written-a.old"), home.path().join("out"));
        for folder in [&aside, &out] {
            std::fs::create_dir(folder).unwrap();
            std::fs::write(folder.join("manifest.json"), r#"{"outputs":{"a.csv":{}}}"#).unwrap();
            std::fs::write(folder.join("a.csv"), "a").unwrap();
        }
        std::fs::write(aside.join("mine.txt"), "mine").unwrap();
        let told = sweep(home.path(), ".out-being-written-", &out);
        assert!(told[0].starts_with("Kept") && told[0].contains("out-kept-a"), "{told:?}");
        assert_eq!(std::fs::read(home.path().join("out-kept-a/mine.txt")).unwrap(), b"mine");
        assert!(sweep(home.path(), ".out-being-written-", &out).is_empty());
    }
}
