//! From a region's private-well laboratory results to tables, maps, a report and research files.
//!
//! One plan file goes in, one folder comes out. `run` shows the whole way, `check` its first half; the folders of this
//! crate stand in the order the data takes.
#![forbid(unsafe_code)]
// Nothing here may panic on data. Where an index is allowed, the file says why it cannot miss.
#![warn(clippy::indexing_slicing)]
#![cfg_attr(test, allow(clippy::indexing_slicing, reason = "a test stops at the first surprise"))]

pub mod caught;
pub mod cli;
pub mod compare;
pub mod dictionary;
pub mod digest;
pub mod disk;
pub mod draft;
pub mod fate;
pub mod files;
pub mod ids;
mod in_order;
pub mod intake;
pub mod layers;
pub mod methods;
pub mod normalise;
mod numbered;
mod oddities;
mod parquet;
pub mod per_well;
pub mod place;
pub mod plain;
pub mod plan;
pub mod problem;
pub mod progress;
pub mod publish;
pub mod recommend;
mod strange_wells;
pub mod summarise;
pub mod survey;
pub mod table;
pub mod trace;

use progress::Progress;
use std::path::Path;
use std::sync::Arc;

/// What came of a job that could be done.
#[derive(Debug)]
pub struct Outcome {
    /// Where every row went.
    pub accounting: per_well::Accounting,
    /// Results read from each file, by path as the plan's folder sees it.
    pub files: Vec<(String, u64)>,
    /// Things worth telling.
    pub warnings: Vec<problem::Warning>,
    /// Names, units and sample fractions that nobody knows, as text for the plan; empty where there are none.
    pub to_paste: String,
    /// Whether the plan's own limits on data quality were kept.
    pub quality: Quality,
}

/// Whether the plan's own limits on data quality were kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quality {
    /// They were.
    Kept,
    /// This share was set aside, more than the plan allows.
    TooMuchSetAside(f64),
}

/// The whole job: plan in, folder out.
///
/// # Errors
/// Every problem that makes the plan or a file unusable; nothing is written then, and an earlier `out` stays whole.
pub fn run(plan_file: &Path, out: &Path, progress: &Progress) -> Result<Outcome, problem::Problems> {
    run_on(&disk::machine(), plan_file, out, progress)
}

/// `run` on a disk other than the machine's own.
///
/// # Errors
/// As `run`.
pub fn run_on(
    disk: &Arc<dyn disk::Disk>,
    plan_file: &Path,
    out: &Path,
    progress: &Progress,
) -> Result<Outcome, problem::Problems> {
    let stage = publish::Stage::on(Arc::clone(disk), out)?; // an unwritable place shows in the first second
    stage.swept().iter().for_each(|told| progress.step(told));
    let job = survey::prepare_on(disk, plan_file)?; // plan, dictionary and file headers, with every problem in them
    progress.step("Placing the wells");
    let wells = place::wells(&job.plan, &job.inputs)?; // where the wells are, what surrounds them
    recommend::vet(&job.plan, &job.dictionary, &job.inputs, &wells)?; // prices and events, before the long work
    progress.step("Reading the results");
    let survey = survey::read(&job, &wells, stage.keep_rows(), progress)?; // lab files: normalised, located, one value a well
    conclude(stage, &job, &wells, &survey, progress)?; // figures, advice, and the folder
    Ok(survey::outcome(&job, &wells, &survey))
}

/// The second half of `run`: from one value a well to the folder.
///
/// # Errors
/// As `run`.
pub fn conclude(
    stage: publish::Stage,
    job: &survey::Job,
    wells: &place::Wells,
    survey: &per_well::Survey,
    progress: &Progress,
) -> Result<(), problem::Problems> {
    progress.step("Summarising");
    let findings = summarise::summarise(&job.plan, &job.dictionary, wells, survey)?; // rates and summaries
    progress.step("Comparing by land use");
    let comparison = compare::compare(&job.plan, &job.dictionary, wells, survey, &findings)?; // by land use
    progress.step("Making recommendations");
    let advice = recommend::recommend(&job.plan, &job.dictionary, &job.inputs, wells, survey, &findings)?; // what to do
    let layers = layers::layers(job, wells, survey)?; // the same by area of each further layer
    let results = publish::Results {
        job,
        wells,
        survey,
        findings: &findings,
        comparison: &comparison,
        advice: &advice,
        layers: &layers,
    };
    publish::publish(stage, &results, progress) // tables, maps, report, research files
}

/// Reads everything, writes nothing: the first half of `run`.
///
/// # Errors
/// As `run`.
pub fn check(plan_file: &Path, progress: &Progress) -> Result<Outcome, problem::Problems> {
    let job = survey::prepare_with(files::Inputs::default().without_digests(), plan_file)?;
    let wells = place::wells_with(&job.plan, &job.inputs, place::Wanted::Doubts)?;
    recommend::vet(&job.plan, &job.dictionary, &job.inputs, &wells)?;
    let survey = survey::read(&job, &wells, per_well::Keep::Nothing, progress)?;
    Ok(survey::outcome(&job, &wells, &survey))
}
