//! The land-use layers of the plan, read and made ready to be asked about any place.

use super::circle::CoverIndex;
use super::crs::{Crs, Transformer, distortion};
use super::density::DensityIndex;
use super::features::{Feature, text_of};
use super::layers::{MapFiles, crs_problem, layer};
use super::nearest::NearestIndex;
use super::raster::{RasterLayer, RasterPlan, is_raster};
use super::region::{Region, WORTH_A_WARNING};
use super::shape::{Geometry, Point, Polygon, Rect};
use crate::files::Inputs;
use crate::intake::read_table;
use crate::plan::{LandUse, Measure, Plan, PointColumns};
use crate::problem::{Problem, Problems, Warning};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// One land use, ready to be measured.
pub struct Layer {
    /// Its name.
    pub(super) name: String,
    /// What is measured, with its index.
    pub(super) index: Index,
    /// A location coarser than this is left out (metres).
    pub(super) coarsest: f64,
    /// Rows of the layer that could not be used.
    pub(super) warnings: Vec<Warning>,
}

/// An index for each measure.
pub(super) enum Index {
    Share { cover: CoverIndex, radius: f64 },
    Raster { layer: RasterLayer },
    Nearest { index: NearestIndex },
    Density { index: DensityIndex, radius: f64, layer: Option<Rect> },
}

/// Reads every land use.
///
/// # Errors
/// Files, columns, classes or coordinate systems that cannot be used.
pub fn read(plan: &Plan, inputs: &Inputs, region: &Region) -> Result<Vec<Layer>, Problems> {
    let mut problems = Problems::default();
    let mut layers = Vec::new();
    let read: Vec<Result<Layer, Problems>> = plan
        .land_use
        .par_iter()
        .enumerate()
        .map(|(number, land_use)| one(plan, inputs, region, land_use, &format!("land_use[{}]", number + 1)))
        .collect();
    for layer in read {
        layers.extend(problems.keep(layer));
    }
    problems.or(layers)
}

fn one(plan: &Plan, inputs: &Inputs, region: &Region, land_use: &LandUse, key: &str) -> Result<Layer, Problems> {
    let smallest_edge = land_use.bands.iter().copied().fold(f64::INFINITY, f64::min);
    let (index, coarsest, warnings) = match &land_use.measure {
        Measure::Share { radius_m, classes, .. } if is_raster_layer(inputs, land_use)? => {
            let files = &land_use.files;
            let wanted = RasterPlan { files, crs: land_use.crs.as_deref(), classes, radius: *radius_m, key };
            let layer = RasterLayer::open(inputs, &wanted, &region.working, &region.grids)?;
            let warnings = stretched(&layer, region, &land_use.name);
            (Index::Raster { layer }, radius_m / 2.0, warnings)
        }
        Measure::Share { radius_m, class, classes } => {
            let features = layer(plan, inputs, region, &maps(land_use, key))?;
            let cover = cover(plan, land_use, &features, class.as_deref(), classes, key)?;
            (Index::Share { cover, radius: *radius_m }, radius_m / 2.0, Vec::new())
        }
        Measure::Nearest { columns: Some(columns) } => {
            let points = points(plan, inputs, region, land_use, columns, key)?;
            let places: Vec<Point> = points.found.iter().map(|(at, _)| *at).collect();
            (Index::Nearest { index: NearestIndex::of_points(&places) }, smallest_edge / 2.0, points.warnings)
        }
        Measure::Nearest { columns: None } => {
            let features = layer(plan, inputs, region, &maps(land_use, key))?;
            let index = NearestIndex::new(features.iter().map(|feature| &feature.geometry));
            (Index::Nearest { index }, smallest_edge / 2.0, Vec::new())
        }
        Measure::Density { radius_m, columns } => {
            let points = match columns {
                Some(columns) => points(plan, inputs, region, land_use, columns, key)?,
                None => feature_points(plan, inputs, region, land_use, key)?,
            };
            let layer = Rect::around(points.found.iter().map(|(at, _)| at));
            let index = DensityIndex::new(points.found);
            (Index::Density { index, radius: *radius_m, layer }, radius_m / 2.0, points.warnings)
        }
    };
    Ok(Layer { name: land_use.name.clone(), index, coarsest, warnings })
}

fn is_raster_layer(inputs: &Inputs, land_use: &LandUse) -> Result<bool, Problem> {
    land_use.files.first().map_or(Ok(false), |path| is_raster(inputs, path))
}

/// A warning where the raster's own system, in which circles are drawn, is not true to distances.
fn stretched(layer: &RasterLayer, region: &Region, name: &str) -> Vec<Warning> {
    let share = distortion(layer.crs(), &region.bounds).ok().filter(|share| *share > WORTH_A_WARNING);
    let warning = |share: f64| Warning {
        subject: name.to_owned(),
        text: format!("distances in the raster's coordinate system are off by up to {:.1} %", share * 100.0),
        count: 1,
        examples: vec![layer.crs().name().to_owned()],
    };
    share.map(warning).into_iter().collect()
}

fn maps<'a>(land_use: &'a LandUse, key: &'a str) -> MapFiles<'a> {
    MapFiles { files: &land_use.files, crs: land_use.crs.as_deref(), layer: land_use.layer.as_deref(), key }
}

/// The polygons of the wanted classes; the whole layer's box tells where it is mapped.
fn cover(
    plan: &Plan,
    land_use: &LandUse,
    features: &[Feature],
    class: Option<&str>,
    classes: &[String],
    key: &str,
) -> Result<CoverIndex, Problems> {
    let mapped = features.iter().filter_map(|feature| feature.geometry.rect()).reduce(Rect::with);
    let present: BTreeSet<String> =
        class.map(|class| features.iter().filter_map(|f| text_of(&f.properties, class)).collect()).unwrap_or_default();
    let mut problems = Problems::default();
    for wanted in classes.iter().filter(|wanted| class.is_some() && !present.contains(*wanted)) {
        let listed = present.iter().map(String::as_str).collect::<Vec<_>>().join(", ");
        let found = match class.filter(|_| present.is_empty()) {
            Some(class) => format!("no feature of {} has a property \"{class}\"", land_use.name),
            None => format!("no feature of {} has the class \"{wanted}\"", land_use.name),
        };
        problems.push(plan.problem(
            &format!("{key}.classes"),
            "class-unknown",
            found,
            if present.is_empty() {
                "name the property that holds the class of each feature".to_owned()
            } else {
                format!("the classes are: {listed}")
            },
        ));
    }
    let counts = |feature: &Feature| match class {
        Some(class) if !classes.is_empty() => {
            text_of(&feature.properties, class).is_some_and(|text| classes.contains(&text))
        }
        _ => true,
    };
    let polygons: Vec<Polygon> =
        features.iter().filter(|f| counts(f)).flat_map(|f| f.geometry.polygons().iter().cloned()).collect();
    problems.or(CoverIndex::new(&polygons, mapped))
}

/// Points with counts, and what could not be used.
struct Points {
    found: Vec<(Point, f64)>,
    warnings: Vec<Warning>,
}

fn points(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    land_use: &LandUse,
    columns: &PointColumns,
    key: &str,
) -> Result<Points, Problems> {
    let crs_key = format!("{key}.crs");
    let text = land_use.crs.as_deref().unwrap_or("EPSG:4326");
    let from = Crs::parse(text).map_err(|fault| crs_problem(plan, &crs_key, &fault))?;
    let way =
        Transformer::new(&from, &region.working, &region.grids).map_err(|fault| crs_problem(plan, &crs_key, &fault))?;
    let mut wanted =
        vec![(columns.x.clone(), format!("{key}.columns.x")), (columns.y.clone(), format!("{key}.columns.y"))];
    if let Some(count) = &columns.count {
        wanted.push((count.clone(), format!("{key}.columns.count")));
    }
    let mut points = Points { found: Vec::new(), warnings: Vec::new() };
    let mut unusable = Warning {
        subject: land_use.name.clone(),
        text: "rows without usable coordinates or count".to_owned(),
        count: 0,
        examples: Vec::new(),
    };
    for path in &land_use.files {
        for record in read_table(inputs, path, &land_use.text, &wanted)?.records {
            let number = |at: usize| record.cell(at).parse::<f64>().ok().filter(|x| x.is_finite());
            let count = if columns.count.is_some() { number(2).filter(|n| *n >= 0.0) } else { Some(1.0) };
            let at = number(0).zip(number(1)).and_then(|(x, y)| way.point([x, y]));
            match at.zip(count) {
                Some(point) => points.found.push(point),
                None => {
                    unusable.count += 1;
                    if unusable.examples.len() < 3 {
                        unusable.examples.push(format!(
                            "{}, line {}",
                            crate::plan::shown_path(&plan.base, path),
                            record.line
                        ));
                    }
                }
            }
        }
    }
    points.warnings.extend((unusable.count > 0).then_some(unusable));
    if points.found.is_empty() {
        let found = format!("{} has no usable point", land_use.name);
        return Err(Problems::from(plan.problem(
            &format!("{key}.files"),
            "layer-empty",
            found,
            "check its columns and crs",
        )));
    }
    Ok(points)
}

fn feature_points(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    land_use: &LandUse,
    key: &str,
) -> Result<Points, Problems> {
    let features = layer(plan, inputs, region, &maps(land_use, key))?;
    let mut found = Vec::new();
    for feature in &features {
        match &feature.geometry {
            Geometry::Points(points) => found.extend(points.iter().map(|at| (*at, 1.0))),
            Geometry::Empty => {}
            other => {
                let what = format!("feature {} is made of {}", feature.number, other.kind());
                let shown = land_use.files.first().cloned().unwrap_or_default();
                return Err(Problem::file(&shown, "layer-kind", what, "a density needs points").under(key).into());
            }
        }
    }
    Ok(Points { found, warnings: Vec::new() })
}
