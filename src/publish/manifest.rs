//! manifest.json: which program, which plan, every input and output with its digest, every warning.

use super::{Results, Stage};
use crate::digest::hex_of;
use crate::plan::shown_path;
use crate::problem::Problem;
use crate::survey::warnings;
use serde_json::{Map, Value, json};

/// Writes it; the last file of a run, since it lists the others. Its one clock reading stands alone on its line.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let plan = &results.job.plan;
    let facts = results.job.inputs.facts();
    let inputs: Map<String, Value> =
        facts.iter().map(|(path, fact)| (shown_path(&plan.base, path), json!(fact))).collect();
    let outputs: Map<String, Value> = stage.facts().iter().map(|(name, fact)| (name.clone(), json!(fact))).collect();
    let manifest = json!({
        "program": "wellreeve",
        "version": env!("CARGO_PKG_VERSION"),
        "started_at": results.job.inputs.started(),
        "title": plan.survey.title,
        "plan": plan.path.file_name().map(|name| name.to_string_lossy().into_owned()),
        "plan_sha256": hex_of(plan.text.as_bytes()),
        "seed": plan.summary.seed,
        "as_of": results.findings.as_of.map(|day| day.to_string()),
        "results_read": results.survey.accounting.read(),
        "results_used": results.survey.accounting.used(),
        "inputs": inputs,
        "outputs": outputs,
        "warnings": warnings(results.wells, results.survey),
    });
    let text = serde_json::to_string_pretty(&manifest).unwrap_or_default() + "\n";
    stage.write("manifest.json", text.as_bytes(), None)
}
