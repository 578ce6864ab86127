//! codebook.md: every file and column of an edition, every analyte and limit in it, every reason; from the dictionary.

use super::super::Results;
use super::Edition;
use super::edition::CAUTIONS;
use super::fields::Resource;
use super::notebook::plain;
use crate::ids::AnalyteId;
use std::collections::BTreeSet;
use std::fmt::Write;

/// The file's text.
pub(super) fn text(results: &Results<'_>, edition: Edition, resources: &[Resource]) -> String {
    let mut text = format!("# Codebook: {}\n\n{}\n\n", plain(&results.job.plan.survey.title), edition.about());
    text.extend(CAUTIONS.iter().map(|caution| format!("- {caution}\n")));
    text.push_str(
        "\nFiles are Parquet; `areas.geojson` holds the outlines. An empty cell is not known, or hidden. A column whose \
         unit is *unit* stands in the unit that the row's column `unit` names.\n",
    );
    for resource in resources {
        push_table(&mut text, resource);
    }
    push_analytes(&mut text, results);
    push_limits(&mut text, results);
    push_reasons(&mut text, results);
    text
}

fn push_table(text: &mut String, resource: &Resource) {
    let _ = write!(
        text,
        "\n## {}.parquet: {}\n\n{} Rows are named by {}.\n\n| column | type | unit | meaning |\n| --- | --- | --- | --- |\n",
        resource.name,
        resource.title,
        resource.meaning,
        resource.key.join(", "),
    );
    for field in &resource.fields {
        let _ =
            writeln!(text, "| {} | {} | {} | {} |", plain(&field.name), field.kind, field.unit, plain(&field.meaning));
    }
}

fn push_analytes(text: &mut String, results: &Results<'_>) {
    let used: BTreeSet<AnalyteId> = results.findings.summaries.iter().map(|row| row.analyte).collect();
    text.push_str("\n## Analytes\n\n| analyte | name | CAS number | unit |\n| --- | --- | --- | --- |\n");
    let dictionary = &results.job.dictionary;
    for id in used {
        let Some(entry) = dictionary.analytes().get(id) else { continue };
        let cas = entry.cas.as_deref().unwrap_or("");
        let _ = writeln!(
            text,
            "| {} | {} | {cas} | {} |",
            plain(&entry.id),
            plain(&entry.display_name),
            dictionary.unit_text(id)
        );
    }
}

fn push_limits(text: &mut String, results: &Results<'_>) {
    text.push_str(
        "\n## Limits\n\n`checked` says whether a figure was read in its source or is from memory.\n\n\
         | analyte | set | effect | as printed | in force from | source | checked |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for limit in &results.findings.benchmarks {
        let from = limit.effective.map(|day| day.to_string()).unwrap_or_default();
        let analyte = results.job.dictionary.analytes().id(limit.analyte);
        let words = [analyte, &limit.set, limit.effect.as_str(), &limit.printed, &from, &limit.source, &limit.checked];
        let _ = writeln!(text, "| {} |", words.map(plain).join(" | "));
    }
}

fn push_reasons(text: &mut String, results: &Results<'_>) {
    text.push_str(
        "\n## Reasons for which a result is not used, in the order in which they are tried\n\n\
         | reason | meaning |\n| --- | --- |\n",
    );
    for reason in results.job.dictionary.reasons().all() {
        let _ = writeln!(text, "| {} | {} |", reason.reason, plain(&reason.meaning));
    }
}
