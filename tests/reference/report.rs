//! What came of the cases: turns a figure tree of ours and the `expected` tree of a case into a
//! list of differences.
//!
//! Comparison goes by what is expected: each figure there must be among ours, ours may hold more.
//! `null` matches only `null`, so a figure that the data cannot give must be withheld, not merely
//! close to something.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::close::Tolerance;

/// Differences and counts of one walk over a folder of cases.
pub struct Report {
    folder: PathBuf,
    file: String,
    /// Cases run in the present file, and in all files.
    pub cases_of_file: usize,
    pub cases: usize,
    pub figures: usize,
    pub failures: Vec<String>,
}

impl Report {
    pub fn new(folder: PathBuf) -> Self {
        Report { folder, file: String::new(), cases_of_file: 0, cases: 0, figures: 0, failures: Vec::new() }
    }

    /// Where the JSON files are; data files are named relative to it.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    pub fn start_file(&mut self, name: &str) {
        self.file = name.to_owned();
        self.cases_of_file = 0;
    }

    /// Counts the case and holds `got`, laid out like the case's `expected`, against it and against
    /// its printed figures.
    pub fn check(&mut self, case: &Value, got: &Value) {
        self.check_within(case, got, Tolerance::of_case(case));
    }

    /// The same with a tolerance of the caller's.
    pub fn check_within(&mut self, case: &Value, got: &Value, tolerance: Tolerance) {
        self.count();
        self.compare(case, "", got, &case["expected"], tolerance);
        self.published(case, got);
    }

    /// Counts a case whose comparison the topic makes by itself, with `compare` or `fail`.
    pub fn count(&mut self) {
        self.cases_of_file += 1;
        self.cases += 1;
    }

    /// Compares one figure or tree of figures.
    pub fn compare(&mut self, case: &Value, path: &str, got: &Value, expected: &Value, tolerance: Tolerance) {
        match expected {
            Value::Object(parts) => {
                for (key, part) in parts {
                    let name = if path.is_empty() { key.clone() } else { format!("{path}/{key}") };
                    match got.get(key) {
                        Some(ours) => self.compare(case, &name, ours, part, tolerance),
                        None => self.fail(case, &format!("{name}: not given")),
                    }
                }
            }
            Value::Array(parts) => self.compare_lists(case, path, got, parts, tolerance),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {
                self.figures += 1;
                if let Some(text) = difference(got, expected, tolerance) {
                    self.fail(case, &format!("{path}: {text}"));
                }
            }
        }
    }

    fn compare_lists(&mut self, case: &Value, path: &str, got: &Value, expected: &[Value], tolerance: Tolerance) {
        match got.as_array() {
            Some(ours) if ours.len() == expected.len() => {
                for (i, (one, part)) in ours.iter().zip(expected).enumerate() {
                    self.compare(case, &format!("{path}/{i}"), one, part, tolerance);
                }
            }
            Some(ours) => self.fail(case, &format!("{path}: {} figures, expected {}", ours.len(), expected.len())),
            None => self.fail(case, &format!("{path}: got {got}, expected a list of {}", expected.len())),
        }
    }

    /// Figures printed elsewhere, each with the tolerance that its print allows.
    pub fn published(&mut self, case: &Value, got: &Value) {
        for printed in case["published"].as_array().into_iter().flatten() {
            let figure = printed["figure"].as_str().unwrap_or_default();
            let path = format!("printed {figure} ({})", printed["where"].as_str().unwrap_or("no source"));
            let (ours, printed_value) = (at(got, figure), &printed["value"]);
            let within = |tolerance: &Value| Tolerance { abs: tolerance.as_f64().unwrap_or(0.0), rel: 0.0 };
            match printed["tolerance"].as_array() {
                // The two ends of an interval may be printed with different digits.
                Some(each) => {
                    for (i, tolerance) in each.iter().enumerate() {
                        self.compare(
                            case,
                            &format!("{path}/{i}"),
                            &at(&ours, &i.to_string()),
                            &printed_value[i],
                            within(tolerance),
                        );
                    }
                }
                None => self.compare(case, &path, &ours, printed_value, within(&printed["tolerance"])),
            }
        }
    }

    pub fn fail(&mut self, case: &Value, text: &str) {
        self.failures.push(format!("{} / {}: {text}", self.file, case["id"].as_str().unwrap_or("?")));
    }

    /// A fault of the file itself.
    pub fn fail_file(&mut self, text: &str) {
        self.failures.push(format!("{}: {text}", self.file));
    }

    pub fn summary(&self) -> String {
        let shown = self.failures.iter().take(200).cloned().collect::<Vec<_>>().join("\n");
        format!("{} cases, {} figures, {} differences\n{shown}", self.cases, self.figures, self.failures.len())
    }
}

/// The figure at a path such as `firth/1/estimate`; a name met at a list is taken from each of its
/// members.
pub fn at(tree: &Value, path: &str) -> Value {
    if path.is_empty() {
        return tree.clone();
    }
    let (head, rest) = path.split_once('/').unwrap_or((path, ""));
    match (tree, head.parse::<usize>()) {
        (Value::Array(list), Ok(i)) => list.get(i).map_or(Value::Null, |one| at(one, rest)),
        (Value::Array(list), Err(_)) => list.iter().map(|one| at(one, path)).collect(),
        _ => tree.get(head).map_or(Value::Null, |one| at(one, rest)),
    }
}

/// A number as the case files write it: infinities are words, what is not a number is `"nan"` and
/// matches nothing.
pub fn number(x: f64) -> Value {
    match x {
        x if x.is_finite() => Value::from(x),
        f64::INFINITY => Value::from("inf"),
        f64::NEG_INFINITY => Value::from("-inf"),
        _ => Value::from("nan"),
    }
}

/// `null` where there is none.
pub fn maybe(x: Option<f64>) -> Value {
    x.map_or(Value::Null, number)
}

/// Reads a number of a case, infinities written as words.
pub fn read(value: &Value) -> f64 {
    match value.as_str() {
        Some("inf") => f64::INFINITY,
        Some("-inf") => f64::NEG_INFINITY,
        Some(word) => panic!("{word:?} is not a number"),
        None => value.as_f64().unwrap_or_else(|| panic!("{value} is not a number")),
    }
}

/// Reads a list of numbers.
pub fn read_list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap_or_else(|| panic!("{value} is not a list")).iter().map(read).collect()
}

/// Reads a list of 0 and 1 (or of false and true).
pub fn read_flags(value: &Value) -> Vec<bool> {
    let flag = |v: &Value| v.as_bool().unwrap_or_else(|| read(v) != 0.0);
    value.as_array().unwrap_or_else(|| panic!("{value} is not a list")).iter().map(flag).collect()
}

/// The cases of a file.
pub fn cases(file: &Value) -> &[Value] {
    file["cases"].as_array().map_or(&[], Vec::as_slice)
}

fn difference(got: &Value, expected: &Value, tolerance: Tolerance) -> Option<String> {
    if got == expected {
        return None;
    }
    match (got.as_f64(), expected.as_f64()) {
        (Some(x), Some(y)) if tolerance.holds(x, y) => None,
        (Some(x), Some(y)) => Some(format!("got {x}, expected {y}, apart by {:e}", (x - y).abs())),
        _ => Some(format!("got {got}, expected {expected}")),
    }
}
