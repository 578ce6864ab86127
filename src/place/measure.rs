//! What surrounds each well: one number a land use and well.

use super::circle::Edge;
use super::landuse::{Index, Layer};
use super::shape::{Point, Rect};
use super::wells::Site;
use crate::problem::Warning;
use rayon::prelude::*;

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
        let outcomes: Vec<One> = sites.par_iter().map(|site| self.one(site)).collect();
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
                One::PastEdge(_) => measured.notes.push((at, format!("circle passes the edge of the {} layer", self.name))),
                One::Known(_) | One::Nowhere => {}
            }
        }
        measured
    }

    fn one(&self, site: &Site) -> One {
        let Some(xy) = site.xy else { return One::Nowhere };
        if site.accuracy_m.is_some_and(|accuracy| accuracy > self.coarsest) {
            return One::TooCoarse;
        }
        self.at(xy)
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
