//! What lies near a path that is not there: where it was looked for, and the names that it may have been meant for.
//!
//! Only the deepest folder that exists is looked into; hidden names are left out, as they are in patterns.

use super::files;
use super::notes::quoted;
use crate::problem::nearest;
use std::path::{Path, PathBuf};

/// Where a missing path was looked for, and what is near it.
pub(super) fn near(base: &Path, text: &str) -> String {
    let mut known = PathBuf::new();
    for part in Path::new(text).components() {
        if files::kind(&base.join(known.join(part))).is_err() {
            let names = names(&base.join(&known));
            let missing = part.as_os_str().to_string_lossy();
            let looked = folder_name(&known);
            return match nearest(&missing, names.iter().map(String::as_str)) {
                Some(near) => {
                    let meant = known.join(near);
                    format!("did you mean {}? looked in {looked}", quoted(&meant.to_string_lossy()))
                }
                None => {
                    format!("looked in {looked}, which holds {}", list_names(&base.join(&known), |_| true, "nothing"))
                }
            };
        }
        known.push(part);
    }
    format!("looked in {}", folder_name(Path::new(text)))
}

/// A folder as a message names it.
pub(super) fn folder_name(folder: &Path) -> String {
    if folder.as_os_str().is_empty() { "the plan's folder".to_string() } else { quoted(&folder.to_string_lossy()) }
}

/// Names in a folder that are not hidden, in the order of their bytes.
fn names(folder: &Path) -> Vec<String> {
    let entries = files::entries(folder).unwrap_or_default();
    let names = entries.iter().map(|entry| entry.name.to_string_lossy().into_owned());
    names.filter(|name| !name.starts_with('.')).collect()
}

/// The first names in a folder that are worth showing, or `none`.
pub(super) fn list_names(folder: &Path, keep: fn(&str) -> bool, none: &str) -> String {
    const SHOWN: usize = 6;
    let names: Vec<String> = names(folder).into_iter().filter(|name| keep(name)).collect();
    let first = names.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    match names.len() {
        0 => none.to_string(),
        count if count > SHOWN => format!("{first} and {} more", count - SHOWN),
        _ => first,
    }
}
