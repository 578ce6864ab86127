//! The merge fields of a letter: everything that a template may name.
//!
//! Texts are plain; the template engine escapes them. Lists may be empty, and texts that are not known are empty.

use serde::Serialize;

/// One household's letter.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Letter {
    /// Title of the survey.
    pub title: String,
    /// Well id.
    pub well: String,
    /// The area's name.
    pub area: String,
    /// The day that limits and ages refer to.
    pub date: String,
    /// Whom to ask, from the plan.
    pub contact: String,
    /// Program and version.
    pub program: String,
    /// The well's results, those above a limit first.
    pub results: Vec<ResultLine>,
    /// How many of them are above a limit that guards health.
    pub above_health: usize,
    /// Which tests those are, such as `nitrate, arsenic`.
    pub above_tests: String,
    /// Whole years between the newest of the results and `date`.
    pub newest_years: u32,
    /// Whether the well lies in none of the areas, or nobody knows where it lies.
    pub unplaced: bool,
    /// What was found around, without names.
    pub neighbours: Vec<NeighbourLine>,
    /// What to test next.
    pub next_tests: Vec<NextLine>,
    /// Cautions, those that the results call for first.
    pub cautions: Vec<String>,
}

/// One result.
#[derive(Clone, Debug, Default, Serialize)]
pub struct ResultLine {
    /// The test's name.
    pub test: String,
    /// The result with its unit.
    pub result: String,
    /// Day of the sample.
    pub date: String,
    /// The limit with its unit; empty where there is none.
    pub limit: String,
    /// What the limit is about.
    pub meaning: String,
    /// `above` (of a range: `outside`; of bacteria: `found`, `not found`), `within`, `cannot tell` or `no limit`.
    pub verdict: String,
    /// Whether it is above a limit that guards health.
    pub above_health: bool,
    /// `field kit`; empty of a laboratory.
    pub method: String,
}

/// One test's anonymous picture of the area.
#[derive(Clone, Debug, Default, Serialize)]
pub struct NeighbourLine {
    /// The test's name.
    pub test: String,
    /// One sentence.
    pub sentence: String,
    /// Filled dots of ten.
    pub filled: String,
    /// Empty dots of ten.
    pub open: String,
}

/// One test to come.
#[derive(Clone, Debug, Default, Serialize)]
pub struct NextLine {
    /// What to test for.
    pub test: String,
    /// When.
    pub when: String,
    /// Why.
    pub why: String,
}

impl Letter {
    /// A letter in which every field and list is filled.
    pub fn sample() -> Letter {
        let text = || "text".to_owned();
        let result = ResultLine {
            test: text(),
            result: text(),
            date: text(),
            limit: text(),
            meaning: text(),
            verdict: "above".to_owned(),
            above_health: true,
            method: text(),
        };
        Letter {
            title: text(),
            well: text(),
            area: text(),
            date: text(),
            contact: text(),
            program: text(),
            results: vec![result, ResultLine::default()],
            unplaced: true,
            above_health: 1,
            above_tests: text(),
            newest_years: 9,
            neighbours: vec![NeighbourLine { test: text(), sentence: text(), filled: text(), open: text() }],
            next_tests: vec![NextLine { test: text(), when: text(), why: text() }],
            cautions: vec![text()],
        }
    }
}
