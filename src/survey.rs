//! The first half of the job: from the plan's text to one value a well.
//!
//! `prepare` tells every problem that the plan and the files' headers have, together; `read` then streams the
//! laboratory files, several blocks at a time, and takes the blocks back in file order.

use crate::dictionary::{Dictionary, DictionaryFault};
use crate::disk::{Disk, machine};
use crate::files::Inputs;
use crate::intake;
use crate::normalise::{self, Rules};
use crate::oddities;
use crate::per_well::{self, Keep, Survey};
use crate::place::{self, Wells};
use crate::plan::{self, Plan};
use crate::problem::{Problem, Problems, Warning, nearest};
use crate::progress::Progress;
use crate::strange_wells;
use crate::{Outcome, Quality};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// A plan that can be worked on.
#[derive(Debug)]
pub struct Job {
    /// The plan.
    pub plan: Plan,
    /// The dictionary, with the county's own limits and links.
    pub dictionary: Dictionary,
    /// The inputs read so far.
    pub inputs: Inputs,
}

/// Loads the plan and checks everything that can be checked before a result is read.
///
/// # Errors
/// All problems together.
pub fn prepare(plan_file: &Path) -> Result<Job, Problems> {
    prepare_on(&machine(), plan_file)
}

/// `prepare` with inputs on a disk other than the machine's own.
///
/// # Errors
/// As `prepare`.
pub fn prepare_on(disk: &Arc<dyn Disk>, plan_file: &Path) -> Result<Job, Problems> {
    prepare_with(Inputs::on(Arc::clone(disk)), plan_file)
}

/// `prepare` with inputs as the caller wants them opened.
///
/// # Errors
/// As `prepare`.
pub fn prepare_with(inputs: Inputs, plan_file: &Path) -> Result<Job, Problems> {
    let plan::Loaded { plan, mut problems } = plan::load(plan_file);
    let Some(plan) = plan else { return Err(problems.or(()).err().unwrap_or_default()) };
    let dictionary = problems.keep(dictionary(&plan, &inputs));
    if let Some(dictionary) = &dictionary {
        problems.keep(Rules::new(&plan, dictionary).map(|_| ()));
    }
    problems.keep(intake::open(&plan, &inputs).map(|_| ()));
    problems.keep(crate::publish::letters::Template::read(&plan, &inputs).map(|_| ()));
    if let Some(dictionary) = &dictionary {
        problems.keep(crate::recommend::tables(&plan, dictionary, &inputs).map(|_| ()));
    }
    match dictionary {
        Some(dictionary) => problems.or(Job { plan, dictionary, inputs }),
        None => Err(problems.or(()).err().unwrap_or_default()),
    }
}

/// The built-in dictionary with the county's own limits and links; every chosen set must be known.
fn dictionary(plan: &Plan, inputs: &Inputs) -> Result<Dictionary, Problems> {
    let mut dictionary = Dictionary::built_in().map_err(|fault| {
        Problem::file(&plan.path, "dictionary-faulty", fault.to_string(), "report this: it is a bug")
    })?;
    let mut problems = Problems::default();
    let limits = problems.keep(own_limits(plan, inputs, &mut dictionary));
    problems.keep(own_links(plan, inputs, &mut dictionary));
    // A set may stand in a file that could not be read.
    if limits.is_some() {
        problems.keep(known_sets(plan, &dictionary));
    }
    problems.or(dictionary)
}

fn own_limits(plan: &Plan, inputs: &Inputs, dictionary: &mut Dictionary) -> Result<(), Problems> {
    let Some(path) = &plan.benchmarks.file else { return Ok(()) };
    let bytes = inputs.read(path)?;
    let limits = dictionary.parse_benchmarks(&path.to_string_lossy(), &String::from_utf8_lossy(&bytes));
    let limits = limits.map_err(|faults| unusable(path, "benchmark-unusable", faults))?;
    inputs.count_rows(path, limits.len() as u64);
    dictionary.add_benchmarks(limits);
    Ok(())
}

fn own_links(plan: &Plan, inputs: &Inputs, dictionary: &mut Dictionary) -> Result<(), Problems> {
    let Some(path) = &plan.recommend.links else { return Ok(()) };
    let bytes = inputs.read(path)?;
    let links = dictionary.parse_links(&path.to_string_lossy(), &String::from_utf8_lossy(&bytes));
    let links = links.map_err(|faults| unusable(path, "landuse-link-unusable", faults))?;
    inputs.count_rows(path, links.all().len() as u64);
    dictionary.set_links(links);
    Ok(())
}

/// Faults of a county's own file, as problems.
fn unusable(path: &Path, code: &'static str, faults: Vec<DictionaryFault>) -> Problems {
    let told = |fault: DictionaryFault| {
        Problem::file(path, code, fault.found, fault.would_do).at(fault.line).under(fault.column)
    };
    Problems(faults.into_iter().map(told).collect())
}

fn known_sets(plan: &Plan, dictionary: &Dictionary) -> Result<(), Problems> {
    let known: Vec<&str> = dictionary.benchmarks().sets().iter().map(|set| set.id.as_str()).collect();
    let mut problems = Problems::default();
    for set in plan.benchmarks.sets.iter().filter(|set| !known.contains(&set.as_str())) {
        let near = nearest(set, known.iter().copied()).map(|near| format!("perhaps \"{near}\"; ")).unwrap_or_default();
        let wanted = format!("{near}the sets are: {}", known.join(", "));
        problems.push(plan.problem(
            "benchmarks.sets",
            "benchmark-set-unknown",
            format!("\"{set}\" is no benchmark set"),
            wanted,
        ));
    }
    problems.or(())
}

/// Results files reduced as far as they can be before all are known: what can be merged with the same of other files.
pub struct Reduced {
    reducer: per_well::Reducer,
    /// Things worth telling about the files.
    warnings: Vec<Warning>,
}

impl Reduced {
    /// Adds what came of other files, as if they had come after these. Both must rest on the same wells, in the same order, and
    /// on the same dictionary. Associative.
    ///
    /// # Errors
    /// Files that have lines in common: cut a survey by well.
    pub fn merge(&mut self, other: Reduced) -> Result<(), per_well::InBoth> {
        self.warnings.extend(other.warnings);
        self.reducer.merge(other.reducer)
    }

    /// Gives every row its fate.
    pub fn finish(self, plan: &Plan, wells: &Wells) -> Survey {
        let mut survey = self.reducer.finish();
        survey.warnings = self.warnings;
        survey.warnings.extend(strange_wells::warning(plan, wells, &survey.tally));
        survey.warnings.extend(oddities::warnings(plan, &survey.tally));
        survey.warnings.extend(oddities::after_as_of(plan, &survey.values));
        survey.warnings.extend(oddities::small_groups(plan));
        survey
    }
}

/// Reads every results file to one value a well.
///
/// # Errors
/// A file that is damaged further down, or that has no results at all; a disk that has no room for rows.
pub fn read(job: &Job, wells: &Wells, keep: Keep, progress: &Progress) -> Result<Survey, Problems> {
    Ok(reduce(job, wells, keep, progress)?.finish(&job.plan, wells))
}

/// Reads every results file, and leaves open what other files may still change.
///
/// # Errors
/// As `read`.
pub fn reduce(job: &Job, wells: &Wells, keep: Keep, progress: &Progress) -> Result<Reduced, Problems> {
    let rules = Rules::new(&job.plan, &job.dictionary)?.made_on(job.inputs.today());
    let mut intake = intake::open(&job.plan, &job.inputs)?;
    let total = intake
        .files
        .iter()
        .filter_map(|file| std::fs::metadata(&file.path).ok())
        .fold(0_u64, |sum, m| sum.saturating_add(m.len()));
    let bar = progress.bytes(total);
    let mut rows: BTreeMap<u16, u64> = BTreeMap::new();
    let mut reducer = per_well::reduce(job.plan.per_well.choose, keep);
    intake.in_order(
        |raw| (raw.text.len() as u64, place::locate(wells, normalise::block(&rules, raw))),
        |(bytes, block)| {
            bar.inc(bytes);
            *rows.entry(block.file.number).or_default() += block.rows.len() as u64;
            reducer.take(block)
        },
    )?;
    bar.finish_and_clear();
    let mut problems = Problems::default();
    for file in &intake.files {
        let count = rows.get(&file.number).copied().unwrap_or(0);
        job.inputs.count_rows(&file.path, count);
        if count == 0 {
            problems.push(Problem::file(
                &file.path,
                "file-without-results",
                "it has a header and no results",
                "remove it from the plan, or name another",
            ));
        }
    }
    let warnings = intake.warnings.into_iter().map(|told| from_base(&job.plan, told)).collect();
    problems.or(Reduced { reducer, warnings })
}

/// A warning about a file names it as the plan's folder sees it, wherever the program was started.
fn from_base(plan: &Plan, told: Warning) -> Warning {
    Warning { subject: plan::shown_path(&plan.base, Path::new(&told.subject)), ..told }
}

/// What is told at the end of a job.
pub fn outcome(job: &Job, wells: &Wells, survey: &Survey) -> Outcome {
    let share = survey.accounting.share_set_aside();
    let quality = if share > job.plan.most_set_aside { Quality::TooMuchSetAside(share) } else { Quality::Kept };
    let files = job.plan.results.iter().flat_map(|part| &part.files);
    let facts = job.inputs.facts();
    let rows = |path: &std::path::PathBuf| facts.get(path).map_or(0, |fact| fact.rows);
    let files = files.map(|path| (plan::shown_path(&job.plan.base, path), rows(path))).collect();
    let mut warnings = warnings(wells, survey);
    // Told to whoever runs it and left out of the files, which do not hang on the clock.
    warnings.extend(oddities::after_today(&job.plan, &survey.tally, job.inputs.today()));
    Outcome {
        files,
        accounting: survey.accounting.clone(),
        warnings,
        to_paste: oddities::to_paste(&job.plan, &job.dictionary, &survey.tally)
            + &strange_wells::to_paste(wells, &survey.tally),
        quality,
    }
}

/// Everything worth telling, in a fixed order.
pub fn warnings(wells: &Wells, survey: &Survey) -> Vec<Warning> {
    wells.warnings.iter().chain(&survey.warnings).cloned().collect()
}
