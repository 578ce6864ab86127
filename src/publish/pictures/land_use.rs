//! Internal maps of the wells by what surrounds them, one for each land use of the plan.

use super::wells::{Drawn, draw, write_drawn};
use super::{Ground, undrawable};
use crate::compare::{Banding, bandings};
use crate::ids::WellId;
use crate::place::shape::Point;
use crate::problem::Problem;
use crate::publish::maps::{Dot, DotState, DotsView, MOST_LABELLED, MapFault, MapOutline, Marking};
use crate::publish::stage::{Taken, file_word};
use crate::publish::{Results, Stage, number};
use rayon::prelude::*;

/// Draws and writes them.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub(super) fn write(stage: &Stage, results: &Results<'_>, ground: &Ground) -> Result<(), Problem> {
    let mut taken = Taken::default();
    let bandings = bandings(&results.job.plan, results.wells);
    let drawn: Result<Vec<Drawn>, MapFault> =
        bandings.par_iter().map(|banding| draw(&view(results, ground, banding))).collect();
    for (drawn, banding) in drawn.map_err(undrawable)?.into_iter().zip(&bandings) {
        write_drawn(stage, &format!("land-use-{}", taken.free(&file_word(&banding.land_use))), drawn)?;
    }
    Ok(())
}

fn view(results: &Results<'_>, ground: &Ground, banding: &Banding) -> DotsView {
    let areas = results.wells.areas();
    let outlines = (0..areas.len()).map(|at| MapOutline {
        name: results.names().area_name(crate::ids::AreaId(at as u32)),
        parts: ground.parts_of(at),
    });
    let places = results.wells.ids().zip(&banding.of_well).filter_map(|(well, band)| {
        results.wells.area(well)?;
        Some((well, band.map_or(DotState::NoBand, DotState::Band), results.wells.xy(well)?))
    });
    let placed: Vec<(WellId, DotState, Point)> = places.collect();
    let named = placed.len() <= MOST_LABELLED;
    let label = |well| if named { results.wells.id(well).to_owned() } else { String::new() };
    let dots = placed.iter().map(|(well, state, at)| Dot { at: *at, state: *state, label: label(*well) });
    DotsView {
        title: format!("Wells by land use: {}", banding.land_use),
        marking: Marking::Bands(banding.bands.iter().map(words).collect()),
        caption: "bands as in the plan, the most exposed a dark diamond".to_owned(),
        notes: Vec::new(),
        source: results.job.plan.survey.title.clone(),
        date: ground.date.clone(),
        outlines: outlines.collect(),
        dots: dots.collect(),
        graticule: ground.graticule.clone(),
        north: ground.north,
    }
}

fn words(band: &crate::compare::Band) -> String {
    let edges = match (band.from, band.to) {
        (None, Some(to)) => format!(" (under {})", number::text(to)),
        (Some(from), Some(to)) => format!(" ({} to {})", number::text(from), number::text(to)),
        (Some(from), None) => format!(" ({} or more)", number::text(from)),
        (None, None) => String::new(),
    };
    format!("{}{edges}", band.name)
}
