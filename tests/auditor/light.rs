//! A run as far as the files that tests of what is hidden read.

use crate::survey::Survey;
use wellreeve::problem::Problems;
use wellreeve::progress::{Mode, Progress};
use wellreeve::publish::Extent;

/// The stages of a run; maps, report and research files take many times as long as tables.
pub fn run(survey: &Survey, extent: Extent) -> Result<(), Problems> {
    let (plan, progress) = (survey.path("plan.toml"), Progress::new(Mode::Quiet));
    let stage = wellreeve::publish::Stage::new(&survey.path("out"))?;
    let job = wellreeve::survey::prepare(&plan)?;
    let wells = wellreeve::place::wells(&job.plan, &job.inputs)?;
    let read = wellreeve::survey::read(&job, &wells, stage.keep_rows(), &progress)?;
    let findings = wellreeve::summarise::summarise(&job.plan, &job.dictionary, &wells, &read)?;
    let comparison = wellreeve::compare::compare(&job.plan, &job.dictionary, &wells, &read, &findings)?;
    let advice = wellreeve::recommend::recommend(&job.plan, &job.dictionary, &job.inputs, &wells, &read, &findings)?;
    let layers = wellreeve::layers::layers(&job, &wells, &read)?;
    let results = wellreeve::publish::Results {
        job: &job,
        wells: &wells,
        survey: &read,
        findings: &findings,
        comparison: &comparison,
        advice: &advice,
        layers: &layers,
    };
    wellreeve::publish::publish_told(stage, &results, extent)
}
