//! What surrounds each well: one number a land use and well.

use super::circle::Edge;
use super::disc;
use super::landuse::{Counts, Index, Layer, MappedEdge};
use super::nearby;
use super::raster::RasterShare;
use super::shape::{Point, Rect};
use super::wells::{Site, Wanted};
use crate::plan::CoarseWells;
use crate::problem::{Problem, Warning};
use std::collections::BTreeMap;

/// One land use's measures, side by side with the wells.
#[derive(Debug, Default)]
pub struct Measured {
    /// What comparisons use; `None` without a location, or with one too coarse where the plan leaves those out.
    pub values: Vec<Option<f64>>,
    /// Of wells with a location too coarse for the measure: mean and spread over all the places where they may be.
    pub averages: BTreeMap<usize, (f64, f64)>,
    /// Densities before the correction for the edge of the mapped ground, where that changed them.
    pub uncorrected: BTreeMap<usize, f64>,
    /// Notes by well.
    pub notes: Vec<(usize, String)>,
    /// Wells with a location too coarse for the measure.
    pub coarse: u64,
    /// Those of them that comparisons leave out.
    pub left_out: u64,
    /// What was met that a user would want to hear of.
    pub warnings: Vec<Warning>,
}

/// Outcome for one well.
enum One {
    Nowhere,
    /// Mean and spread over the disc of a coarse location.
    Average(Option<(f64, f64)>),
    Known(f64),
    /// Some of the circle is outside the mapped ground; counted for what is inside, and as counted.
    Corrected {
        value: f64,
        uncorrected: f64,
    },
    /// The circle leaves the layer's mapped extent.
    PastEdge(f64),
    /// A part of the circle has no data.
    Partly {
        share: f64,
        unknown: f64,
    },
    /// Nothing is known of the circle.
    Unmapped,
}

const NO_DATA: &str = " has no data for ";
/// Less of the circle than this is rounding.
const ROUNDING: f64 = 1e-9;

impl One {
    fn value(&self) -> Option<f64> {
        match self {
            One::Known(x) | One::PastEdge(x) | One::Partly { share: x, .. } | One::Corrected { value: x, .. } => {
                Some(*x)
            }
            One::Nowhere | One::Average(_) | One::Unmapped => None,
        }
    }

    fn of_raster(found: RasterShare) -> One {
        match found.unknown {
            unknown if unknown <= ROUNDING => One::Known(found.share),
            unknown if unknown >= 1.0 - ROUNDING => One::Unmapped,
            unknown => One::Partly { share: found.share, unknown },
        }
    }
}

impl Layer {
    /// Measures every site.
    ///
    /// # Errors
    /// A raster that turns out to be damaged.
    pub fn measure(&self, sites: &[Site], wanted: Wanted) -> Result<Measured, Problem> {
        let outcomes = self.outcomes(sites, wanted)?;
        let mut measured = Measured { warnings: self.warnings.clone(), ..Measured::default() };
        for (at, outcome) in outcomes.into_iter().enumerate() {
            measured.values.push(match outcome {
                One::Average(average) if self.coarse_wells == CoarseWells::Average => average.map(|(mean, _)| mean),
                One::Average(_) => None,
                _ => outcome.value(),
            });
            match outcome {
                One::Average(average) => {
                    measured.coarse += 1;
                    measured.left_out += u64::from(self.coarse_wells == CoarseWells::LeaveOut);
                    measured.averages.extend(average.map(|average| (at, average)));
                    measured.notes.push((at, format!("location too coarse for {}: average over its disc", self.name)));
                }
                One::Corrected { uncorrected, .. } => {
                    measured.uncorrected.insert(at, uncorrected);
                    measured.notes.push((at, format!("circle passes the edge of the {} layer; corrected", self.name)));
                }
                One::PastEdge(_) => {
                    measured.notes.push((at, format!("circle passes the edge of the {} layer", self.name)))
                }
                One::Partly { unknown, .. } => {
                    measured.notes.push((at, format!("{}{NO_DATA}{:.0} % of the circle", self.name, unknown * 100.0)));
                }
                One::Unmapped => measured.notes.push((at, format!("{}{NO_DATA}the circle", self.name))),
                One::Known(_) | One::Nowhere => {}
            }
        }
        measured.warnings.extend(self.without_data(&measured.notes));
        measured.warnings.extend(self.coarse(&measured));
        Ok(measured)
    }

    /// How many wells are located too coarsely, and what becomes of them.
    fn coarse(&self, measured: &Measured) -> Option<Warning> {
        let fate = match self.coarse_wells {
            CoarseWells::LeaveOut => "left out of comparisons",
            CoarseWells::Average => "taking part in comparisons with the average over their discs",
        };
        let text = format!("wells located more coarsely than {:.0} m, {fate}", self.coarsest);
        let subject = self.name.clone();
        (measured.coarse > 0).then(|| Warning { subject, text, count: measured.coarse, examples: Vec::new() })
    }

    /// How many circles of a raster lack data, with three of the notes.
    fn without_data(&self, notes: &[(usize, String)]) -> Option<Warning> {
        let lacking: Vec<&String> = notes.iter().map(|(_, note)| note).filter(|note| note.contains(NO_DATA)).collect();
        let text = "circles around wells have parts without data; shares are of the whole circle".to_owned();
        let examples = lacking.iter().take(3).map(|note| (*note).clone()).collect();
        (!lacking.is_empty()).then(|| Warning {
            subject: self.name.clone(),
            text,
            count: lacking.len() as u64,
            examples,
        })
    }

    /// Asked in neighbour order, answered in the wells' order; a coarse location is asked for at every place of its disc.
    fn outcomes(&self, sites: &[Site], wanted: Wanted) -> Result<Vec<One>, Problem> {
        let disc = |site: &Site| site.uncertainty_m.filter(|metres| *metres > self.coarsest);
        let mut places: Vec<Point> = Vec::with_capacity(sites.len());
        for (site, xy) in sites.iter().filter_map(|site| Some((site, site.xy?))) {
            match disc(site) {
                Some(metres) => places.extend(disc::places(xy, metres)),
                None => places.push(xy),
            }
        }
        let answers: Vec<One> = match &self.index {
            Index::Raster { layer } => layer.shares(&places)?.into_iter().map(One::of_raster).collect(),
            // Only a raster can turn out to be damaged, or to lack data, as it is measured.
            _ if wanted == Wanted::Doubts => Vec::new(),
            _ => nearby::each(&places, |place| self.at(place)),
        };
        let mut answers = answers.into_iter();
        let mut one = |site: &Site| match (site.xy, disc(site)) {
            (None, _) => One::Nowhere,
            (Some(_), None) => answers.next().unwrap_or(One::Nowhere),
            (Some(_), Some(_)) => average(answers.by_ref().take(disc::PLACES)),
        };
        Ok(sites.iter().map(&mut one).collect())
    }

    fn at(&self, xy: Point) -> One {
        match &self.index {
            Index::Raster { .. } => One::Nowhere,
            Index::Share { cover, radius } => {
                let cover = cover.cover(xy, *radius);
                if cover.edge == Edge::Passed { One::PastEdge(cover.share) } else { One::Known(cover.share) }
            }
            Index::Nearest { index } => index.nearest(xy).map_or(One::Nowhere, |nearest| One::Known(nearest.metres)),
            Index::Density { index, radius, edge } => {
                let density = match index {
                    Counts::Points(index) => index.density(xy, *radius),
                    Counts::Spread(index) => index.density(xy, *radius),
                };
                density.map_or(One::Nowhere, |density| at_edge(edge, xy, *radius, density.per_km2))
            }
        }
    }
}

/// Less of the circle than this on mapped ground tells too little of the rest (common practice, no source).
const LEAST_MAPPED: f64 = 0.25;

fn at_edge(edge: &MappedEdge, xy: Point, radius: f64, counted: f64) -> One {
    match edge {
        MappedEdge::Box(around) => {
            let inside = around.is_none_or(|around| around.holds_rect(&Rect::of_circle(xy, radius)));
            if inside { One::Known(counted) } else { One::PastEdge(counted) }
        }
        MappedEdge::Known(ground) => match ground.cover(xy, radius).share {
            share if share >= 1.0 - ROUNDING => One::Known(counted),
            share if share < LEAST_MAPPED => One::Unmapped,
            share => One::Corrected { value: counted / share, uncorrected: counted },
        },
    }
}

/// Over the places of a disc; nothing where most of them have no answer.
fn average(answers: impl Iterator<Item = One>) -> One {
    let known: Vec<f64> = answers.filter_map(|one| one.value()).collect();
    One::Average(disc::mean_and_spread(&known).filter(|_| 2 * known.len() >= disc::PLACES))
}
