//! sample-next.csv (internal): in which parts of an area to sample next, first to last.
//!
//! Nine parts of equal area, those with the fewest sampled wells first, and among equals the one that reaches farthest from any
//! sampled well. Parts are of equal area, so fewest wells is least dense; how many wells there are to be sampled in a part only the
//! well lists can tell, and they stand beside it.

use super::outreach::with_result;
use super::parts::{PARTS, Parts, name};
use super::rows::SampleNextRow;
use crate::ids::AreaId;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::place::shape::Point;
use rayon::prelude::*;
use rstar::RTree;

/// Rows by area and then order.
pub fn rows(wells: &Wells, survey: &Survey, parts: &[Option<Parts>]) -> Vec<SampleNextRow> {
    let counts = counts(wells, survey, parts);
    let places: Vec<Point> = wells
        .ids()
        .zip(with_result(wells, survey))
        .filter(|(_, seen)| *seen)
        .filter_map(|(well, _)| wells.xy(well))
        .collect();
    let tree = RTree::bulk_load(places);
    let areas = parts.par_iter().zip(&counts).enumerate();
    let rows = areas.map(|(area, (cut, counts))| {
        let area = AreaId(u32::try_from(area).unwrap_or(u32::MAX));
        cut.as_ref().map(|cut| of_area(area, cut, counts, &tree)).unwrap_or_default()
    });
    rows.collect::<Vec<_>>().into_iter().flatten().collect()
}

/// Sampled and listed wells of each area's parts.
fn counts(wells: &Wells, survey: &Survey, parts: &[Option<Parts>]) -> Vec<[(u32, u32); PARTS]> {
    let mut counts = vec![[(0, 0); PARTS]; parts.len()];
    for (well, seen) in wells.ids().zip(with_result(wells, survey)) {
        let (Some(area), Some(xy)) = (wells.area(well), wells.xy(well)) else { continue };
        let cut = parts.get(area.index()).and_then(Option::as_ref);
        let slot = cut.map(|cut| cut.at(xy)).and_then(|part| counts.get_mut(area.index())?.get_mut(part));
        if let Some((sampled, listed)) = slot {
            *listed += 1;
            *sampled += u32::from(seen);
        }
    }
    counts
}

fn of_area(area: AreaId, cut: &Parts, counts: &[(u32, u32); PARTS], tree: &RTree<Point>) -> Vec<SampleNextRow> {
    let mut rows: Vec<SampleNextRow> = (0..PARTS)
        .zip(counts)
        .filter_map(|(part, (sampled, listed))| {
            let (place, gap_m) = loneliest(cut, part, tree)?;
            let because = because(*sampled, *listed, gap_m);
            Some(SampleNextRow {
                area,
                order: 0,
                part: name(part),
                sampled: *sampled,
                listed: *listed,
                gap_m,
                place,
                because,
            })
        })
        .collect();
    rows.sort_by(|a, b| {
        let gap = |row: &SampleNextRow| row.gap_m.unwrap_or(f64::INFINITY);
        a.sampled.cmp(&b.sampled).then(gap(b).total_cmp(&gap(a))).then(a.part.cmp(b.part))
    });
    rows.iter_mut().zip(1..).for_each(|(row, order)| row.order = order);
    rows
}

/// The place of a part that lies farthest from every sampled well, and how far.
fn loneliest(cut: &Parts, part: usize, tree: &RTree<Point>) -> Option<(Point, Option<f64>)> {
    let own = cut.points.iter().filter(|(_, of)| *of == part).map(|(point, _)| *point);
    let gap = |[x, y]: Point| tree.nearest_neighbor(&[x, y]).map(|[a, b]| libm::hypot(x - a, y - b));
    own.map(|point| (point, gap(point)))
        .max_by(|a, b| a.1.unwrap_or(0.0).total_cmp(&b.1.unwrap_or(0.0)).then(b.0[0].total_cmp(&a.0[0])))
}

fn because(sampled: u32, listed: u32, gap_m: Option<f64>) -> String {
    let have = match (sampled, listed) {
        (_, 0) => "No well of the lists lies here".to_owned(),
        (0, 1) => "The one well of the lists here was never sampled".to_owned(),
        (_, 1) => "The one well of the lists here was sampled".to_owned(),
        (0, _) => format!("None of the {listed} wells of the lists here was ever sampled"),
        (1, _) => format!("1 of the {listed} wells of the lists here was sampled"),
        (2, 2) => "Both wells of the lists here were sampled".to_owned(),
        _ if sampled >= listed => format!("All {listed} wells of the lists here were sampled"),
        _ => format!("{sampled} of the {listed} wells of the lists here were sampled"),
    };
    match gap_m {
        Some(gap) => format!("{have}; one place in it lies {:.1} km from any sampled well.", gap / 1000.0),
        None => format!("{have}; no well of the survey was."),
    }
}
