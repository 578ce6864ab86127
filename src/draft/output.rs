//! Where the plan is written, and how it names the files: relative to its own folder.
//!
//! The plan is created, never replaced: a draft must not cost anybody the plan they have worked on.

use crate::problem::{Problem, Problems};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Component, Path, PathBuf};

const NAME: &str = "plan.toml";

/// Writes the plan into the folder, which is made if need be, and gives its path.
///
/// # Errors
/// A folder that holds a plan already, or cannot be written to.
pub fn write(plan_text: &str, out: &Path) -> Result<PathBuf, Problems> {
    let plan = out.join(NAME);
    let told = |error: std::io::Error| match error.kind() {
        ErrorKind::AlreadyExists => taken(&plan),
        _ => Problem::file(
            &plan,
            "draft-unwritable",
            format!("cannot be written: {error}"),
            "name another folder with --out",
        ),
    };
    std::fs::create_dir_all(out).map_err(told)?;
    let mut file = OpenOptions::new().write(true).create_new(true).open(&plan).map_err(told)?;
    file.write_all(plan_text.as_bytes()).map_err(told)?;
    Ok(plan)
}

/// The problem of a folder that holds a plan already.
pub(super) fn free(out: &Path) -> Result<(), Problem> {
    let plan = out.join(NAME);
    if plan.symlink_metadata().is_ok() {
        return Err(taken(&plan));
    }
    match out.metadata() {
        Ok(about) if !about.is_dir() => {
            Err(Problem::file(out, "draft-unwritable", "it is not a folder", "name a folder with --out"))
        }
        _ => Ok(()),
    }
}

fn taken(plan: &Path) -> Problem {
    Problem::file(
        plan,
        "plan-exists",
        "there is a plan already",
        "a draft replaces none; name another folder with --out",
    )
}

/// A file as a plan in the folder would name it.
pub(super) fn relative(out: &Path, file: &Path) -> String {
    let (from, to) = (real(out), real(file));
    let (from, to): (Vec<Component<'_>>, Vec<Component<'_>>) = (from.components().collect(), to.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let path: PathBuf = match shared {
        // Another drive has no way there that is relative.
        0 => to.iter().collect(),
        _ => {
            let up = from.iter().skip(shared).map(|_| Component::ParentDir);
            up.chain(to.iter().skip(shared).copied()).collect()
        }
    };
    path.to_string_lossy().replace('\\', "/")
}

/// A path with its links followed, also where its end does not exist yet.
fn real(path: &Path) -> PathBuf {
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    for known in whole.ancestors() {
        if let (Ok(real), Ok(rest)) = (known.canonicalize(), whole.strip_prefix(known)) {
            return real.join(rest);
        }
    }
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_named_from_the_plans_folder() {
        assert_eq!(relative(Path::new("/no/such/a/b"), Path::new("/no/such/a/c/x.csv")), "../c/x.csv");
        assert_eq!(relative(Path::new("/no/such/a"), Path::new("/no/such/a/x.csv")), "x.csv");
    }
}
