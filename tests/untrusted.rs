//! Files that somebody sent in bad faith: whatever they say, nothing outside the plan's inputs is read and nothing outside `--out` is
//! written, and none of them goes on for ever.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "untrusted/databases.rs"]
mod databases;
#[path = "untrusted/definitions.rs"]
mod definitions;
#[path = "untrusted/names.rs"]
mod names;
#[path = "untrusted/nested.rs"]
mod nested;
#[path = "support/survey.rs"]
mod survey;
#[path = "untrusted/workbooks.rs"]
mod workbooks;

use std::collections::BTreeSet;
use std::path::Path;

/// Every file under a folder, by its path from there.
fn listed(folder: &Path) -> BTreeSet<String> {
    survey::files(folder).into_keys().collect()
}
