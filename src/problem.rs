//! A problem is what makes a plan or a file unusable (exit status 2), told in four parts: where, what was found,
//! what would do, and what to do next.
//!
//! Problems are collected, never thrown at the first: a user mends ten things in one round. A row that is set
//! aside is not a problem (see `fate`), and a thing worth telling that stops nothing is a `Warning`.

use std::path::{Path, PathBuf};

/// One thing wrong with the plan or a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Problem {
    /// The file it is in, as the user wrote it or as found.
    pub file: PathBuf,
    /// Line in that file, counted from 1, where one is known.
    pub line: Option<u64>,
    /// Plan key it concerns, such as `land_use[1].bands`, or a column name; empty where there is none.
    pub key: String,
    /// Stable code, listed in data-dictionary/problems.csv, such as `unknown-key`.
    pub code: &'static str,
    /// What was found, a lower-case fragment.
    pub found: String,
    /// What would be accepted; empty where nothing useful can be said.
    pub wanted: String,
}

impl Problem {
    /// A problem of a file as a whole.
    pub fn file(file: &Path, code: &'static str, found: impl Into<String>, wanted: impl Into<String>) -> Problem {
        Problem {
            file: file.to_path_buf(),
            line: None,
            key: String::new(),
            code,
            found: found.into(),
            wanted: wanted.into(),
        }
    }

    /// The same problem at a line.
    pub fn at(mut self, line: u64) -> Problem {
        self.line = Some(line);
        self
    }

    /// The same problem under a plan key or column.
    pub fn under(mut self, key: impl Into<String>) -> Problem {
        self.key = key.into();
        self
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if !self.key.is_empty() {
            write!(f, ", {}", self.key)?;
        }
        write!(f, ": {}", self.found)?;
        if !self.wanted.is_empty() {
            write!(f, "\n    {}", self.wanted)?;
        }
        write!(f, "\n    [{}]", self.code)
    }
}

/// Everything wrong, in the order of file, line and key.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems(pub Vec<Problem>);

impl Problems {
    /// `Ok(value)` when nothing is wrong, all problems otherwise.
    pub fn or<T>(self, value: T) -> Result<T, Problems> {
        if self.0.is_empty() { Ok(value) } else { Err(self.sorted()) }
    }

    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        self.0.push(problem);
    }

    /// Keeps the value of a result, or its problems.
    pub fn keep<T>(&mut self, result: Result<T, Problems>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(mut more) => {
                self.0.append(&mut more.0);
                None
            }
        }
    }

    fn sorted(mut self) -> Problems {
        self.0.sort();
        self.0.dedup();
        self
    }
}

impl Problems {
    /// Each with its place, for an answer that never writes anything.
    pub fn listed(&self) -> String {
        self.0.iter().map(Problem::to_string).collect::<Vec<_>>().join("\n")
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Problems {
        Problems(vec![problem])
    }
}

impl std::fmt::Display for Problems {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        const SHOWN: usize = 100;
        for problem in self.0.iter().take(SHOWN) {
            writeln!(f, "{problem}")?;
        }
        let count = self.0.len();
        if count > SHOWN {
            writeln!(f, "... and {} more.", count - SHOWN)?;
        }
        write!(f, "{count} problem{}; nothing was written.", if count == 1 { "" } else { "s" })
    }
}

impl std::error::Error for Problems {}

/// Something worth telling that stops nothing; alike ones are grouped with a count and three examples.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
pub struct Warning {
    /// What it concerns: a file, a plan key, a check.
    pub subject: String,
    /// One sentence.
    pub text: String,
    /// How many times.
    pub count: u64,
    /// The first three, as they stand in the source.
    pub examples: Vec<String>,
}

/// The nearest of `known` to `word`, if near enough to be a slip of the pen.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let fold = |text: &str| text.to_lowercase().replace(['_', '-', ' ', '.'], "");
    let folded = fold(word);
    known
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(&folded, &fold(candidate)), candidate))
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count().max(word.chars().count()) / 3)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hundred_problems_are_told_and_how_many_more_there_are() {
        let problem = |line| Problem::file(Path::new("plan.toml"), "unknown-key", "unknown key", "").at(line);
        let told = |count| Problems((1..=count).map(problem).collect()).to_string();
        assert!(told(100).ends_with("line 100: unknown key\n    [unknown-key]\n100 problems; nothing was written."));
        assert!(told(1000).contains("line 100: ") && !told(1000).contains("line 101: "));
        assert!(told(1000).ends_with("... and 900 more.\n1000 problems; nothing was written."));
    }
}
