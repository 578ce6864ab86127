//! What surrounds each well: one number a land use and well.

use super::circle::Edge;
use super::landuse::{Index, Layer};
use super::nearby;
use super::raster::RasterShare;
use super::shape::{Point, Rect};
use super::wells::Site;
use crate::problem::{Problem, Warning};

/// One land use's measures, side by side with the wells.
#[derive(Debug, Default)]
pub struct Measured {
    /// The measure; `None` without a location, or with one too coarse.
    pub values: Vec<Option<f64>>,
    /// Notes by well.
    pub notes: Vec<(usize, String)>,
    /// Wells with a location too coarse for the measure.
    pub left_out: u64,
    /// What was met that a user would want to hear of.
    pub warnings: Vec<Warning>,
}

/// Outcome for one well.
enum One {
    Nowhere,
    TooCoarse,
    Known(f64),
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
    pub fn measure(&self, sites: &[Site]) -> Result<Measured, Problem> {
        let outcomes = self.outcomes(sites)?;
        let mut measured = Measured { warnings: self.warnings.clone(), ..Measured::default() };
        for (at, outcome) in outcomes.into_iter().enumerate() {
            measured.values.push(match outcome {
                One::Known(x) | One::PastEdge(x) | One::Partly { share: x, .. } => Some(x),
                One::Nowhere | One::TooCoarse | One::Unmapped => None,
            });
            match outcome {
                One::TooCoarse => {
                    measured.left_out += 1;
                    measured.notes.push((at, format!("location too coarse for {}", self.name)));
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
        Ok(measured)
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

    /// Asked in neighbour order, answered in the wells' order.
    fn outcomes(&self, sites: &[Site]) -> Result<Vec<One>, Problem> {
        let usable = |site: &Site| site.xy.filter(|_| site.accuracy_m.is_none_or(|accuracy| accuracy <= self.coarsest));
        let places: Vec<Point> = sites.iter().filter_map(usable).collect();
        let answers = match &self.index {
            Index::Raster { layer } => layer.shares(&places)?.into_iter().map(One::of_raster).collect(),
            _ => nearby::each(&places, |place| self.at(place)),
        };
        let mut answers = answers.into_iter();
        let one = |site: &Site| match (site.xy, usable(site)) {
            (None, _) => One::Nowhere,
            (Some(_), None) => One::TooCoarse,
            (Some(_), Some(_)) => answers.next().unwrap_or(One::Nowhere),
        };
        Ok(sites.iter().map(one).collect())
    }

    fn at(&self, xy: Point) -> One {
        match &self.index {
            Index::Raster { .. } => One::Nowhere,
            Index::Share { cover, radius } => {
                let cover = cover.cover(xy, *radius);
                if cover.edge == Edge::Passed { One::PastEdge(cover.share) } else { One::Known(cover.share) }
            }
            Index::Nearest { index } => index.nearest(xy).map_or(One::Nowhere, |nearest| One::Known(nearest.metres)),
            Index::Density { index, radius, layer } => {
                let Some(density) = index.density(xy, *radius) else { return One::Nowhere };
                let inside = layer.is_none_or(|layer| layer.holds_rect(&Rect::of_circle(xy, *radius)));
                if inside { One::Known(density.per_km2) } else { One::PastEdge(density.per_km2) }
            }
        }
    }
}
