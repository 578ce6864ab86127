//! Internal maps of the wells: one for each analyte and benchmark with data, and one for each land use.

use super::{Ground, exceeding_words, is_of, land_use, undrawable};
use crate::dictionary::Benchmark;
use crate::ids::{AreaId, Interval};
use crate::methods::exceedance::Verdict;
use crate::per_well::WellValue;
use crate::place::shape::Point;
use crate::problem::Problem;
use crate::publish::maps::{Dot, DotState, DotsView, MOST_LABELLED, MapFault, MapOutline, Marking, dots_png, dots_svg};
use crate::publish::protect::period;
use crate::publish::stage::{Taken, file_word};
use crate::publish::words::set_words;
use crate::publish::{Results, Stage, number};
use crate::summarise::{Scope, judge};
use rayon::prelude::*;

/// More wells than this run into each other on a picture of fixed size; the SVG, which can be enlarged, is then alone.
const MOST_DOTS: usize = 5_000;

/// Draws and writes them.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub fn write(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let ground = Ground::new(results.wells.areas(), results.wells.region(), &period(results));
    let (results_maps, land_use) =
        rayon::join(|| by_result(stage, results, &ground), || land_use::write(stage, results, &ground));
    results_maps.and(land_use)
}

/// One for each analyte and benchmark with data.
fn by_result(stage: &Stage, results: &Results<'_>, ground: &Ground) -> Result<(), Problem> {
    let rows = &results.findings.exceedance;
    let with_data: Vec<&Benchmark> = results
        .findings
        .benchmarks
        .iter()
        .filter(|b| rows.iter().any(|row| is_of(row, b) && row.scope == Scope::Region && row.wells > 0))
        .collect();
    let drawn: Result<Vec<Drawn>, MapFault> =
        with_data.par_iter().map(|benchmark| draw(&view(results, ground, benchmark))).collect();
    let mut taken = Taken::default();
    for (drawn, benchmark) in drawn.map_err(undrawable)?.into_iter().zip(with_data) {
        let id = results.job.dictionary.analytes().id(benchmark.analyte);
        let name = taken.free(&format!("{id}-{}-{}", file_word(&benchmark.set), benchmark.effect.as_str()));
        write_drawn(stage, &name, drawn)?;
    }
    Ok(())
}

/// SVG, and PNG where the wells are few enough.
pub(super) type Drawn = (String, Option<Vec<u8>>);

pub(super) fn draw(view: &DotsView) -> Result<Drawn, MapFault> {
    let png = if view.dots.len() <= MOST_DOTS { Some(dots_png(view)?) } else { None };
    Ok((dots_svg(view)?, png))
}

/// Writes a map of wells under the first part of its name.
pub(super) fn write_drawn(stage: &Stage, name: &str, (svg, png): Drawn) -> Result<(), Problem> {
    let name = format!("internal/maps/{name}-wells");
    stage.write(&format!("{name}.svg"), svg.as_bytes(), None)?;
    match png {
        Some(png) => stage.write(&format!("{name}.png"), &png, None),
        None => Ok(()),
    }
}

fn view(results: &Results<'_>, ground: &Ground, benchmark: &Benchmark) -> DotsView {
    let dictionary = &results.job.dictionary;
    let entry = dictionary.analytes().get(benchmark.analyte);
    let id = || dictionary.analytes().id(benchmark.analyte).to_owned();
    let over = exceeding_words(dictionary, benchmark);
    let areas = results.wells.areas();
    let outlines = (0..areas.len())
        .map(|at| MapOutline { name: results.names().area_name(AreaId(at as u32)), parts: ground.parts_of(at) })
        .collect();
    let values = results
        .survey
        .by_analyte()
        .find(|(analyte, _)| *analyte == benchmark.analyte)
        .map(|(_, v)| v)
        .unwrap_or_default();
    let places = values.iter().filter_map(|value| Some((value, results.wells.xy(value.well)?)));
    let placed: Vec<(&WellValue, Point)> = places.collect();
    let named = placed.len() <= MOST_LABELLED;
    let dots = placed.iter().map(|(value, at)| {
        let state = match judge(value.interval, benchmark.kind) {
            Verdict::Exceeding => DotState::Exceeds,
            Verdict::Undetermined => DotState::Undetermined,
            Verdict::Meeting if value.interval.detected() => DotState::DetectedBelow,
            Verdict::Meeting => DotState::NotDetected,
        };
        let label = || format!("{}: {}", results.wells.id(value.well), interval_words(value.interval));
        Dot { at: *at, state, label: if named { label() } else { String::new() } }
    });
    DotsView {
        title: entry.map_or_else(id, |entry| entry.display_name.clone()),
        caption: format!("wells {over} ({})", set_words(dictionary, &benchmark.set)),
        marking: Marking::Results,
        notes: Vec::new(),
        source: results.job.plan.survey.title.clone(),
        date: ground.date.clone(),
        outlines,
        dots: dots.collect(),
        graticule: ground.graticule.clone(),
        north: ground.north,
    }
}

fn interval_words(interval: Interval) -> String {
    let number = number::text;
    match interval {
        Interval::Detect(x) => number(x),
        Interval::Below(x) => format!("<{}", number(x)),
        Interval::Above(x) => format!(">{}", number(x)),
        Interval::Present => "present".to_owned(),
        Interval::Absent => "absent".to_owned(),
    }
}
