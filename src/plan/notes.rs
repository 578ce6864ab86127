//! Where the problems of one plan are gathered, and how a value of the plan is shown in them.
//!
//! Gathering goes through a shared reference, so that readers of different keys need not hand a list around.

use super::codes;
use super::written::{Node, Value};
use crate::problem::Problem;
use std::cell::RefCell;
use std::path::{Path, PathBuf};

/// Where the problems of one plan are gathered.
pub(super) struct Notes {
    /// The plan file, as given.
    pub plan: PathBuf,
    /// The folder its paths start from.
    pub base: PathBuf,
    told: RefCell<Vec<Problem>>,
}

impl Notes {
    pub(super) fn new(plan: &Path, base: PathBuf) -> Notes {
        Notes { plan: plan.to_path_buf(), base, told: RefCell::default() }
    }

    /// Adds a problem at a key path; line 0 is no line.
    pub(super) fn tell(
        &self,
        (path, line): (&str, u64),
        code: &'static str,
        found: impl Into<String>,
        wanted: impl Into<String>,
    ) {
        let problem = Problem::file(&self.plan, code, found, wanted).under(path);
        self.told.borrow_mut().push(if line == 0 { problem } else { problem.at(line) });
    }

    /// Adds a problem at a node.
    pub(super) fn tell_at(&self, node: &Node, code: &'static str, found: impl Into<String>, wanted: impl Into<String>) {
        self.tell((&node.path, node.line), code, found, wanted);
    }

    /// A value of the wrong type.
    pub(super) fn wrong_type(&self, node: &Node, wanted: &str, example: impl Into<String>) {
        self.tell_at(node, codes::WRONG_TYPE, format!("found {}, not {wanted}", shown(node)), example);
    }

    /// Everything told, in the order of line and key.
    pub(super) fn into_told(self) -> Vec<Problem> {
        let mut told = self.told.into_inner();
        told.sort();
        told.dedup();
        told
    }
}

/// What stands at a node, for a message.
pub(super) fn shown(node: &Node) -> String {
    match &node.value {
        Value::Text(text) => format!("the text {}", quoted(text)),
        Value::Whole(whole) => format!("the number {whole}"),
        Value::Number(number) => format!("the number {}", crate::plain::number(*number)),
        Value::Truth(truth) => truth.to_string(),
        Value::Moment(text, Some(_)) => format!("the date {text}"),
        Value::Moment(text, None) => format!("the time {text}"),
        Value::List(_) => "a list".to_string(),
        Value::Table(_) => "a table".to_string(),
    }
}

/// A text in quotes, cut where it is long.
pub(super) fn quoted(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return format!("{text:?}");
    }
    format!("{:?}...", text.chars().take(LONGEST).collect::<String>())
}
