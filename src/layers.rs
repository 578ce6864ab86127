//! The further layers of areas: what is found by area, once more for each.
//!
//! The main layer settles which results count, so a well that lies in none of its areas is in no table of the others either.

use crate::per_well::Survey;
use crate::place::{Further, Wells};
use crate::problem::Problems;
use crate::recommend::{self, Advice};
use crate::summarise::{self, Findings};
use crate::survey::Job;

/// One layer's findings and advice.
#[derive(Debug)]
pub struct LayerFindings {
    /// Rates, summaries, trends, coverage.
    pub findings: Findings,
    /// Advice by area and where to go first; the lists of wells are the main layer's.
    pub advice: Advice,
}

/// Finds for each further layer what was found for the main one, side by side with `wells.further()`.
///
/// # Errors
/// A price list that cannot be read.
pub fn layers(job: &Job, wells: &Wells, survey: &Survey) -> Result<Vec<LayerFindings>, Problems> {
    wells.further().iter().map(|layer| one(job, layer, survey)).collect()
}

fn one(job: &Job, layer: &Further, survey: &Survey) -> Result<LayerFindings, Problems> {
    let findings = summarise::summarise(&job.plan, &job.dictionary, &layer.wells, survey)?;
    let advice = recommend::by_area(&job.plan, &job.dictionary, &job.inputs, &layer.wells, survey, &findings)?;
    Ok(LayerFindings { findings, advice })
}
