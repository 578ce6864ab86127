//! Files become a starter plan: what each file is, which column is what, and where that is only a guess.
//!
//! Comes in: result, well and map files in any order. Goes out: the text of a plan and every doubt about it. Can go
//! wrong: a file that cannot be read, or a plan that is already there. What cannot be guessed is left to the user as
//! a comment, never made up: a plan that cannot run yet says so in its doubts.

mod columns;
mod dates;
mod headings;
mod json;
mod maps;
mod output;
mod places;
mod plan_text;
mod results;
mod sheet;
mod sorted;
mod unknown;
mod wide;

pub use output::write;

use crate::dictionary::Dictionary;
use crate::files::Inputs;
use crate::normalise::Words;
use crate::problem::{Problem, Problems};
use columns::Scales;
use headings::Headings;
use plan_text::{PlanText, quoted};
use sorted::Found;
use std::cell::RefCell;
use std::path::{Path, PathBuf};

/// A starter plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drafted {
    /// The plan, as TOML with comments.
    pub plan_text: String,
    /// Every guess that is unsure, by plan key; first of all what keeps the plan from running.
    pub doubts: Vec<String>,
}

/// Looks at the files and guesses a plan for the folder `out`; nothing is written.
///
/// # Errors
/// Every file that cannot be read or is empty, and an `out` that holds a plan already.
pub fn draft(files: &[PathBuf], out: &Path) -> Result<Drafted, Problems> {
    let mut problems = Problems::default();
    problems.keep(output::free(out).map_err(Problems::from));
    let dictionary = Dictionary::built_in().map_err(|fault| {
        Problem::file(Path::new("dictionary"), "dictionary-faulty", fault.to_string(), "report this")
    })?;
    let headings = Headings::built_in();
    let scales =
        Scales { dictionary: &dictionary, headings: &headings, words: Words::new(&[]), known: RefCell::default() };
    let found = problems.keep(sorted::sort(files, &Inputs::default(), &scales));
    match found {
        Some(found) => problems.or(plan(&found, out, &scales)),
        None => problems.or(Drafted { plan_text: String::new(), doubts: Vec::new() }),
    }
}

fn plan(found: &Found, out: &Path, scales: &Scales<'_>) -> Drafted {
    let mut plan = PlanText::default();
    plan.remark("A starter plan. Lines marked \"unsure\" are guesses: look at each of them before a run.");
    plan.line("");
    plan.heading("[survey]", "survey");
    plan.key("title", &quoted("Private-well survey"), "write the survey's name");
    plan.line("");
    let lacking = found.write(&mut plan, out, scales);
    let mut doubts = lacking;
    doubts.append(&mut plan.doubts);
    Drafted { plan_text: plan.text, doubts }
}
