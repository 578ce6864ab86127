//! What surrounds each well: one number a land use and well.

use super::circle::Edge;
use super::landuse::{Index, Layer};
use super::nearby;
use super::shape::{Point, Rect};
use super::wells::Site;
use crate::problem::Warning;

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
}

impl Layer {
    /// Measures every site.
    pub fn measure(&self, sites: &[Site]) -> Measured {
        let outcomes = self.outcomes(sites);
        let mut measured = Measured { warnings: self.warnings.clone(), ..Measured::default() };
        for (at, outcome) in outcomes.into_iter().enumerate() {
            measured.values.push(match outcome {
                One::Known(x) | One::PastEdge(x) => Some(x),
                One::Nowhere | One::TooCoarse => None,
            });
            match outcome {
                One::TooCoarse => {
                    measured.left_out += 1;
                    measured.notes.push((at, format!("location too coarse for {}", self.name)));
                }
                One::PastEdge(_) => {
                    measured.notes.push((at, format!("circle passes the edge of the {} layer", self.name)))
                }
                One::Known(_) | One::Nowhere => {}
            }
        }
        measured
    }

    /// Asked in neighbour order, answered in the wells' order.
    fn outcomes(&self, sites: &[Site]) -> Vec<One> {
        let usable = |site: &Site| site.xy.filter(|_| site.accuracy_m.is_none_or(|accuracy| accuracy <= self.coarsest));
        let places: Vec<Point> = sites.iter().filter_map(usable).collect();
        let mut answers = nearby::each(&places, |place| self.at(place)).into_iter();
        let one = |site: &Site| match (site.xy, usable(site)) {
            (None, _) => One::Nowhere,
            (Some(_), None) => One::TooCoarse,
            (Some(_), Some(_)) => answers.next().unwrap_or(One::Nowhere),
        };
        sites.iter().map(one).collect()
    }

    fn at(&self, xy: Point) -> One {
        match &self.index {
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
