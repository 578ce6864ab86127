//! The plan file becomes its text, or the one problem that stops everything.
//!
//! A plan is short: a file of more than 16 MiB is data named by mistake, and is not read.

use super::codes;
use super::files::{self, Kind};
use super::near::list_names;
use super::paths::base_of;
use crate::problem::{Problem, Problems};
use std::io::{Error, ErrorKind};
use std::path::Path;

const LARGEST: u64 = 16 << 20;

/// The plan's text.
pub(super) fn plan_text(plan: &Path) -> Result<String, Problems> {
    if matches!(files::kind(plan), Ok(Kind::Folder)) {
        let names = list_names(plan, is_toml, "no .toml file is in that folder");
        let wanted = format!("give the plan file itself: {names}");
        return Err(Problem::file(plan, codes::PLAN_UNREADABLE, "this is a folder, not a plan", wanted).into());
    }
    let bytes = files::read(plan, LARGEST).map_err(|error| not_read(plan, &error))?;
    let text =
        String::from_utf8(bytes).map_err(|error| not_utf8(plan, error.as_bytes(), error.utf8_error().valid_up_to()))?;
    let is_blank = |line: &str| line.trim().is_empty() || line.trim_start().starts_with('#');
    if text.trim_start_matches('\u{feff}').lines().all(is_blank) {
        let wanted = "write at least [survey], [[results]], [[wells]] and [areas]; \
                      `wellreeve draft` makes a first plan from your files";
        return Err(Problem::file(plan, codes::PLAN_EMPTY, "the plan is empty", wanted).into());
    }
    Ok(text)
}

fn not_read(plan: &Path, error: &Error) -> Problem {
    let told = |code, found: String, wanted: String| Problem::file(plan, code, found, wanted);
    match error.kind() {
        ErrorKind::NotFound => {
            let names = list_names(&base_of(plan), is_toml, "none");
            told(codes::PLAN_NOT_FOUND, "there is no such plan".into(), format!("plans in that folder: {names}"))
        }
        ErrorKind::FileTooLarge => {
            let found = "the file is larger than 16 MiB, so it is no plan".into();
            told(codes::PLAN_UNREADABLE, found, "give the plan, not a file of data".into())
        }
        kind => told(
            codes::PLAN_UNREADABLE,
            format!("the plan cannot be read: {kind}"),
            "check the file's permissions".into(),
        ),
    }
}

fn not_utf8(plan: &Path, bytes: &[u8], good: usize) -> Problem {
    let line = 1 + bytes.iter().take(good).filter(|byte| **byte == b'\n').count() as u64;
    let found = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => "the plan is UTF-16 text, not UTF-8".to_string(),
        _ => format!("the plan is not UTF-8 text (byte {})", good + 1),
    };
    Problem::file(plan, codes::PLAN_NOT_UTF8, found, "save the plan as plain text in UTF-8").at(line)
}

fn is_toml(name: &str) -> bool {
    name.to_lowercase().ends_with(".toml")
}
