//! The well list of the run: who is where, in which area, and what surrounds them.

use super::areas::Areas;
use super::crs::CrsFault;
use super::landuse::{self, Layer};
use super::listed::{Listed, read_lists};
use super::measure::Measured;
use super::region::Region;
use super::register::Register;
use super::shape::Point;
use super::spots::{Spot, Systems, lonlats};
use crate::files::Inputs;
use crate::ids::{AreaId, WellId};
use crate::plan::{AreaSource, Plan};
use crate::problem::{Problems, Warning};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Two rows of one well farther apart than this disagree (metres).
const SAME_PLACE: f64 = 50.0;

/// Wells taken into another system together.
const TOGETHER: usize = 1 << 16;

/// All listed wells, in the order in which they are first listed.
#[derive(Debug)]
pub struct Wells {
    region: Region,
    ids: Arc<Register>,
    sites: Arc<Vec<Site>>,
    /// The area that each well lies in.
    area_of: Vec<Option<AreaId>>,
    /// By land use and then well.
    measures: Arc<Vec<Vec<Option<f64>>>>,
    /// By land use: mean and spread of wells whose location is too coarse, densities before correction, numbers of wells.
    beside: Arc<Vec<Beside>>,
    /// What was met that a user would want to hear of.
    pub warnings: Vec<Warning>,
    further: Vec<Further>,
}

/// What is known of a land use beside its measures.
#[derive(Debug, Default)]
struct Beside {
    averages: BTreeMap<usize, (f64, f64)>,
    uncorrected: BTreeMap<usize, f64>,
    coarse: u64,
    left_out: u64,
}

/// A further layer of areas: the same wells, each in its area of that layer.
#[derive(Debug)]
pub struct Further {
    /// The word for its folder and its column.
    pub called: String,
    /// The wells.
    pub wells: Wells,
}

/// What is known of a well's place.
#[derive(Clone, Debug, Default)]
pub struct Site {
    /// In the working system.
    pub xy: Option<Point>,
    /// Accuracy as listed, in metres.
    pub accuracy_m: Option<f64>,
    /// Accuracy of the way into the working system, in metres, where PROJ knows it.
    pub transform_accuracy_m: Option<f64>,
    /// What both together leave open, in metres: the root of the sum of their squares, since neither knows of the other.
    pub uncertainty_m: Option<f64>,
    /// Depth as listed, in metres.
    pub depth_m: Option<f64>,
    /// What is to be said of it.
    pub notes: Vec<String>,
}

/// What is wanted of the land-use layers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// Every well's measures.
    Measures,
    /// What is wrong or doubtful; the measures stay empty but where only measuring shows it.
    Doubts,
}

/// Reads the areas, the well lists and the land-use layers, places every well and measures what surrounds it.
///
/// # Errors
/// Every file, column, layer or coordinate system that cannot be used.
pub fn wells(plan: &Plan, inputs: &Inputs) -> Result<Wells, Problems> {
    wells_with(plan, inputs, Wanted::Measures)
}

/// As `wells`, with what is wanted of the land-use layers.
///
/// # Errors
/// As `wells`.
pub fn wells_with(plan: &Plan, inputs: &Inputs, wanted: Wanted) -> Result<Wells, Problems> {
    let mut problems = Problems::default();
    let (listed, region) = if matches!(plan.areas.source, AreaSource::Files(_)) {
        rayon::join(|| read_lists(plan, inputs), || Region::read(plan, inputs, |_| Ok(Vec::new())))
    } else {
        made_around(plan, inputs)
    };
    let (listed, region) = (problems.keep(listed), problems.keep(region));
    let (Some(region), Some(listed)) = (region, listed) else { return Err(problems.or(()).err().unwrap_or_default()) };
    let (layers, spots) = rayon::join(|| landuse::read(plan, inputs, &region), || listed.spots(plan, &region));
    match (problems.keep(layers), problems.keep(spots)) {
        (Some(layers), Some(spots)) => {
            let further = problems.keep(divisions(plan, inputs, &region, &listed));
            let mut wells = Wells::assemble(region, listed, spots, &layers, wanted)?;
            wells.divide(further.unwrap_or_default());
            problems.or(wells)
        }
        _ => Err(problems.or(()).err().unwrap_or_default()),
    }
}

/// The further layers of areas, with what they are called.
fn divisions(
    plan: &Plan,
    inputs: &Inputs,
    region: &Region,
    listed: &Listed,
) -> Result<Vec<(String, Region)>, Problems> {
    let mut problems = Problems::default();
    let mut divisions = Vec::new();
    for part in &plan.further_areas {
        let places = |grids: &_| lonlats(plan, &listed.systems, &listed.written, grids);
        let divided = region.divided(plan, inputs, part, places);
        divisions.extend(problems.keep(divided).map(|region| (part.called.clone().unwrap_or_default(), region)));
    }
    problems.or(divisions)
}

/// Made areas need the wells first: they lie around them.
fn made_around(plan: &Plan, inputs: &Inputs) -> (Result<Listed, Problems>, Result<Region, Problems>) {
    let listed = match read_lists(plan, inputs) {
        Ok(listed) => listed,
        Err(problems) => return (Err(problems.clone()), Err(problems)),
    };
    let region = Region::read(plan, inputs, |grids| lonlats(plan, &listed.systems, &listed.written, grids));
    (Ok(listed), region)
}

impl Wells {
    fn assemble(
        region: Region,
        listed: Listed,
        spots: Vec<Spot>,
        layers: &[Layer],
        wanted: Wanted,
    ) -> Result<Wells, Problems> {
        let mut warnings = region.warnings.clone();
        warnings.extend(system_warnings(&listed.systems));
        let mut sites: Vec<Site> = gather(&listed, &spots);
        warnings.extend(site_warnings(&listed.ids, &sites));
        if region.distortion > super::region::WORTH_A_WARNING {
            warnings.push(Warning {
                subject: "survey.working_crs".to_owned(),
                text: format!("distances are distorted by up to {:.2} % over the region", region.distortion * 100.0),
                count: 1,
                examples: vec![region.working.name().to_owned()],
            });
        }
        let mut measured = layers.iter().map(|layer| layer.measure(&sites, wanted)).collect::<Result<Vec<_>, _>>()?;
        for measured in &measured {
            for (at, note) in &measured.notes {
                if let Some(site) = sites.get_mut(*at) {
                    site.notes.push(note.clone());
                }
            }
            warnings.extend(measured.warnings.clone());
        }
        Ok(Wells {
            area_of: areas_of(&region.areas, &sites),
            region,
            ids: Arc::new(listed.ids),
            sites: Arc::new(sites),
            measures: Arc::new(measured.iter_mut().map(|m| std::mem::take(&mut m.values)).collect()),
            beside: Arc::new(measured.into_iter().map(beside).collect()),
            warnings,
            further: Vec::new(),
        })
    }

    /// Adds the further layers, and what is doubtful about them.
    fn divide(&mut self, divisions: Vec<(String, Region)>) {
        for (called, region) in divisions {
            self.warnings.extend(region.warnings.clone());
            let area_of = areas_of(&region.areas, &self.sites);
            let (ids, sites, measures) = (Arc::clone(&self.ids), Arc::clone(&self.sites), Arc::clone(&self.measures));
            let (beside, warnings, further) = (Arc::clone(&self.beside), Vec::new(), Vec::new());
            let wells = Wells { region, ids, sites, area_of, measures, beside, warnings, further };
            self.further.push(Further { called, wells });
        }
    }

    /// The further layers of areas, in the plan's order.
    pub fn further(&self) -> &[Further] {
        &self.further
    }

    /// How many wells are listed.
    pub fn len(&self) -> usize {
        self.ids.len()
    }

    /// Whether none is.
    pub fn is_empty(&self) -> bool {
        self.ids.len() == 0
    }

    /// Every well.
    pub fn ids(&self) -> impl Iterator<Item = WellId> + use<> {
        (0..u32::try_from(self.ids.len()).unwrap_or(u32::MAX)).map(WellId)
    }

    /// A well's id.
    pub fn id(&self, well: WellId) -> &str {
        self.id_at(well.0).unwrap_or("")
    }

    /// The id at a place of the list; `None` past its end.
    pub fn id_at(&self, at: u32) -> Option<&str> {
        self.ids.get(at as usize)
    }

    /// The place in the list of an id or alias.
    pub fn find(&self, id: &str) -> Option<u32> {
        self.ids.find(id)
    }

    /// Makes `find` of these names quicker, asked for right after.
    pub(super) fn fetch<'n>(&self, names: impl Iterator<Item = &'n str>) {
        self.ids.fetch(names);
    }

    /// What is known of a well's place.
    pub fn site(&self, well: WellId) -> Option<&Site> {
        self.sites.get(well.index())
    }

    /// A well's place in the working system.
    pub fn xy(&self, well: WellId) -> Option<Point> {
        self.site(well)?.xy
    }

    /// Longitude and latitude of every well that has a place, on all threads.
    ///
    /// # Errors
    /// None in practice: the way there was made before.
    pub fn lonlats(&self) -> Result<Vec<Option<Point>>, CrsFault> {
        let nowhere = [f64::NAN; 2];
        let mut points: Vec<Point> = self.sites.iter().map(|site| site.xy.unwrap_or(nowhere)).collect();
        points.par_chunks_mut(TOGETHER).try_for_each(|some| {
            self.region.to_lonlat()?.points(some); // those that cannot be taken over become NaN
            Ok(())
        })?;
        Ok(points.into_iter().map(|point| Some(point).filter(|[x, y]| x.is_finite() && y.is_finite())).collect())
    }

    /// A well's area.
    pub fn area(&self, well: WellId) -> Option<AreaId> {
        self.area_of.get(well.index()).copied().flatten()
    }

    /// A well's depth in metres.
    pub fn depth(&self, well: WellId) -> Option<f64> {
        self.site(well)?.depth_m
    }

    /// A well's measure of a land use, by the plan's order.
    pub fn measure(&self, well: WellId, land_use: usize) -> Option<f64> {
        self.measures.get(land_use)?.get(well.index()).copied().flatten()
    }

    /// Every well's measure of a land use.
    pub fn measures(&self, land_use: usize) -> impl Iterator<Item = Option<f64>> + '_ {
        self.measures.get(land_use).into_iter().flatten().copied()
    }

    /// Wells left out of a land use because their location is too coarse.
    pub fn left_out(&self, land_use: usize) -> u64 {
        self.beside.get(land_use).map_or(0, |beside| beside.left_out)
    }

    /// Wells whose location is too coarse for a land use, left out or not.
    pub fn coarse(&self, land_use: usize) -> u64 {
        self.beside.get(land_use).map_or(0, |beside| beside.coarse)
    }

    /// Mean and spread of a land use's measure over all the places where a well may be, where its location is too coarse for it.
    pub fn average(&self, well: WellId, land_use: usize) -> Option<(f64, f64)> {
        self.beside.get(land_use)?.averages.get(&well.index()).copied()
    }

    /// A density before the correction for the edge of the mapped ground.
    pub fn uncorrected(&self, well: WellId, land_use: usize) -> Option<f64> {
        let known = self.beside.get(land_use)?.uncorrected.get(&well.index()).copied();
        known.or_else(|| self.measure(well, land_use))
    }

    /// The areas.
    pub fn areas(&self) -> &Areas {
        &self.region.areas
    }

    /// The ground.
    pub fn region(&self) -> &Region {
        &self.region
    }
}

fn areas_of(areas: &Areas, sites: &[Site]) -> Vec<Option<AreaId>> {
    let locate = |site: &Site| site.xy.and_then(|xy| areas.locate(xy)).and_then(|at| u32::try_from(at).ok());
    sites.par_iter().map(|site| locate(site).map(AreaId)).collect()
}

fn beside(measured: Measured) -> Beside {
    let Measured { averages, uncorrected, coarse, left_out, .. } = measured;
    Beside { averages, uncorrected, coarse, left_out }
}

/// One site a well: rows of one well must agree to `SAME_PLACE`.
fn gather(listed: &Listed, spots: &[Spot]) -> Vec<Site> {
    let mut sites = vec![Site::default(); listed.ids.len()];
    let mut disagree = vec![false; listed.ids.len()];
    for (row, (well, spot)) in listed.well.iter().zip(spots).enumerate() {
        let at = *well as usize;
        let (Some(site), Some(apart)) = (sites.get_mut(at), disagree.get_mut(at)) else { continue };
        match (site.xy, spot.xy) {
            (Some(a), Some(b)) => *apart |= libm::hypot(a[0] - b[0], a[1] - b[1]) > SAME_PLACE,
            (None, Some(b)) => site.xy = Some(b),
            (_, None) => {}
        }
        if let Some(note) = &spot.note
            && !site.notes.contains(note)
        {
            site.notes.push(note.clone());
        }
        let accuracy = listed.accuracy.get(row).copied().flatten();
        site.accuracy_m = site.accuracy_m.into_iter().chain(accuracy).max_by(f64::total_cmp);
        let transform = spot.transform_accuracy;
        site.transform_accuracy_m = site.transform_accuracy_m.into_iter().chain(transform).max_by(f64::total_cmp);
        site.depth_m = site.depth_m.or(listed.depth.get(row).copied().flatten());
    }
    for (site, apart) in sites.iter_mut().zip(disagree) {
        let known = [site.accuracy_m, site.transform_accuracy_m].into_iter().flatten();
        site.uncertainty_m = known.reduce(libm::hypot);
        if apart {
            site.xy = None;
            site.notes.push(format!("listed at places more than {SAME_PLACE:.0} m apart"));
        }
    }
    sites
}

fn system_warnings(systems: &Systems) -> Vec<Warning> {
    let one = |(text, count): (&String, &u64)| Warning {
        subject: "wells".to_owned(),
        text: "a coordinate system is not known; its wells have no location".to_owned(),
        count: *count,
        examples: vec![text.clone()],
    };
    systems.unknown.iter().map(one).collect()
}

/// Alike location notes, grouped with three examples.
fn site_warnings(ids: &Register, sites: &[Site]) -> Vec<Warning> {
    let mut grouped: BTreeMap<String, Warning> = BTreeMap::new();
    for (id, note) in ids.ids().zip(sites).flat_map(|(id, site)| site.notes.iter().map(move |note| (id, note))) {
        let kind = note.split(':').next().unwrap_or(note).trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ');
        let kind = if kind.starts_with("km ") { "too far from every area" } else { kind };
        let warning = grouped.entry(kind.to_owned()).or_insert_with(|| Warning {
            subject: "wells".to_owned(),
            text: kind.to_owned(),
            count: 0,
            examples: Vec::new(),
        });
        warning.count += 1;
        if warning.examples.len() < 3 {
            warning.examples.push(format!("{id}: {note}"));
        }
    }
    grouped.into_values().collect()
}
