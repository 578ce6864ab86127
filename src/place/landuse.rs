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
use super::spread::SpreadIndex;
use crate::files::Inputs;
use crate::intake::read_table;
use crate::plan::{CoarseWells, LandUse, Measure, Plan, PointColumns};
use crate::problem::{Problem, Problems, Warning};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// One land use, ready to be measured.
pub struct Layer {
    /// Its name.
    pub(super) name: String,
    /// What is measured, with its index.
    pub(super) index: Index,
    /// A location coarser than this is not measured at one place (metres).
    pub(super) coarsest: f64,
    /// What becomes of those in comparisons.
    pub(super) coarse_wells: CoarseWells,
    /// Rows of the layer that could not be used.
    pub(super) warnings: Vec<Warning>,
}

/// An index for each measure.
pub(super) enum Index {
    Share { cover: CoverIndex, radius: f64 },
    Raster { layer: RasterLayer },
    Nearest { index: NearestIndex },
    Density { index: Counts, radius: f64, edge: MappedEdge },
}

/// What is counted.
pub(super) enum Counts {
    Points(DensityIndex),
    Spread(SpreadIndex),
}

/// Where the mapped ground ends.
pub(super) enum MappedEdge {
    /// Known: what lies outside is corrected for.
    Known(Box<CoverIndex>),
    /// Not known: the box around the points, which only warns.
    Box(Option<Rect>),
}

/// Reads every land use.
///
/// # Errors
/// Files, columns, classes or coordinate systems that cannot be used.
pub fn read(plan: &Plan, inputs: &Inputs, region: &Region) -> Result<Vec<Layer>, Problems> {
    let mut problems = Problems::default();
    let mut layers = Vec::new();
    let read: Vec<Result<Layer, Problems>> =
        plan.land_use.par_iter().map(|land_use| one(plan, inputs, region, land_use, &land_use.key)).collect();
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
        Measure::Density { radius_m, columns, count, mapped } => {
            let (index, edge, warnings) = match columns {
                Some(columns) => of_points(points(plan, inputs, region, land_use, columns, key)?),
                None => of_features(plan, inputs, region, land_use, count.as_deref())?,
            };
            let edge = if mapped.is_empty() { edge } else { mapped_by(plan, inputs, region, mapped, key)? };
            (Index::Density { index, radius: *radius_m, edge }, radius_m / 2.0, warnings)
        }
    };
    Ok(Layer { name: land_use.name.clone(), index, coarsest, coarse_wells: land_use.coarse_wells, warnings })
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
        for record in read_table(inputs, path, &land_use.text, &wanted)?.records() {
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

type Counted = (Counts, MappedEdge, Vec<Warning>);

fn of_points(points: Points) -> Counted {
    let around = Rect::around(points.found.iter().map(|(at, _)| at));
    (Counts::Points(DensityIndex::new(points.found)), MappedEdge::Box(around), points.warnings)
}

/// Points or polygons of map files, each with its count; 1 where the plan names no property.
fn of_features(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    land_use: &LandUse,
    count: Option<&str>,
) -> Result<Counted, Problems> {
    let features = layer(plan, inputs, region, &maps(land_use, &land_use.key))?;
    let mut points = Points { found: Vec::new(), warnings: Vec::new() };
    let mut polygons = Vec::new();
    let mut unusable = 0;
    for feature in &features {
        let stands_for = count.map_or(Some(1.0), |key| text_of(&feature.properties, key)?.parse::<f64>().ok());
        let Some(stands_for) = stands_for.filter(|n| n.is_finite() && *n >= 0.0) else {
            unusable += 1;
            continue;
        };
        match &feature.geometry {
            Geometry::Points(found) => points.found.extend(found.iter().map(|at| (*at, stands_for))),
            Geometry::Polygons(parts) => polygons.push((parts.clone(), stands_for)),
            Geometry::Empty => {}
            Geometry::Lines(_) => {
                let what = format!("feature {} is made of lines", feature.number);
                return Err(kind_problem(land_use, what, "a density needs points, or polygons with counts"));
            }
        }
    }
    if unusable > 0 {
        let text = "features without a usable count".to_owned();
        let warning = Warning { subject: land_use.name.clone(), text, count: unusable, examples: Vec::new() };
        points.warnings.push(warning);
    }
    match (points.found.is_empty(), polygons.is_empty()) {
        (_, true) => Ok(of_points(points)),
        (false, false) => Err(kind_problem(
            land_use,
            "points and polygons together".to_owned(),
            "give each a [[land_use]] of its own",
        )),
        (true, false) => {
            let all: Vec<Polygon> = polygons.iter().flat_map(|(parts, _)| parts.iter().cloned()).collect();
            let edge = MappedEdge::Known(Box::new(CoverIndex::new(&all, None)));
            Ok((Counts::Spread(SpreadIndex::new(polygons)), edge, points.warnings))
        }
    }
}

fn kind_problem(land_use: &LandUse, found: String, wanted: &str) -> Problems {
    let shown = land_use.files.first().cloned().unwrap_or_default();
    Problem::file(&shown, "layer-kind", found, wanted).under(&land_use.key).into()
}

/// The outlines of the ground that was mapped.
fn mapped_by(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    files: &[PathBuf],
    key: &str,
) -> Result<MappedEdge, Problems> {
    let features = layer(plan, inputs, region, &MapFiles { files, crs: None, layer: None, key })?;
    let polygons: Vec<Polygon> = features.iter().flat_map(|f| f.geometry.polygons().iter().cloned()).collect();
    Ok(MappedEdge::Known(Box::new(CoverIndex::new(&polygons, None))))
}
