//! Shares of circles: turns a layer of polygons into something that says how much of any circle they cover, exactly.
//!
//! Every circle is measured in closed form (see `arc`), over the whole circle. Overlapping polygons count once: `overlap` merges
//! those whose interiors meet when the index is made, and the rest, which at most touch, are simply added. A polygon that lies
//! wholly inside the circle costs one addition, a small one a walk along its edges, a large one only its edges near the circle.
//!
//! The edge of the layer is the box around all of the layer's polygons, of whatever class: a circle that reaches out of it may
//! have ground in it that the layer says nothing about. Gaps inside that box are taken as ground of no class.

#![allow(clippy::indexing_slicing, reason = "runs and stretches are cut here from the rings they index")]

use std::ops::{ControlFlow, Range};

use rstar::{AABB, RTree, RTreeObject};

use super::arc::Arcs;
use super::overlap;
use super::polygons::PolygonSet;
use super::shape::{Point, Polygon, Rect};

/// Whether a circle stays within the box around the layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// All of the circle is in the box.
    Within,
    /// Some of it is not.
    Passed,
}

/// How much of a circle is covered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cover {
    /// Square metres.
    pub area: f64,
    /// Share of the whole circle, in [0, 1].
    pub share: f64,
    /// Whether the circle stays within the layer.
    pub edge: Edge,
}

/// Polygons of one class (or of classes that count together), prepared for circles.
#[derive(Clone, Debug)]
pub struct CoverIndex {
    corners: Vec<Point>,
    runs: Vec<Range<u32>>,
    tree: RTree<Block>,
    large: PolygonSet,
    layer: Option<Rect>,
}

/// A whole small polygon (its rings are closed runs) or a stretch of a large one's border.
#[derive(Clone, Debug)]
struct Block {
    rect: Rect,
    runs: Range<u32>,
    kind: Kind,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Whole { area: f64 },
    Stretch,
}

impl RTreeObject for Block {
    type Envelope = AABB<Point>;

    fn envelope(&self) -> AABB<Point> {
        self.rect.aabb()
    }
}

/// Polygons with more edges than this are cut into stretches of `STRETCH` edges: a box test for each is cheap beside the edges it
/// saves.
const LARGE: usize = 64;
const STRETCH: usize = 16;

impl CoverIndex {
    /// Prepares the polygons that count; `layer` is the box around all polygons of the layer, those of other classes included
    /// (`Rect::with` folds them). Where it is `None` no circle passes its edge.
    pub fn new(polygons: &[Polygon], layer: Option<Rect>) -> CoverIndex {
        let apart = overlap::merged(polygons);
        let large = PolygonSet::new(apart.iter().filter(|p| p.edges() > LARGE).map(|p| (0, p)));
        let mut index = CoverIndex { corners: Vec::new(), runs: Vec::new(), tree: RTree::new(), large, layer };
        let blocks = apart.iter().flat_map(|polygon| index.blocks(polygon)).collect();
        index.tree = RTree::bulk_load(blocks);
        index
    }

    /// How much of the circle the polygons cover. A radius that is not above 0 gives a share of 0.
    ///
    /// # Source
    /// Closed form; accuracy about 1e-12 of the circle, 1e-8 where overlapping polygons had to be merged.
    pub fn cover(&self, centre: Point, radius: f64) -> Cover {
        let rect = Rect::of_circle(centre, radius);
        let edge = if self.layer.is_none_or(|layer| layer.holds_rect(&rect)) { Edge::Within } else { Edge::Passed };
        let circle = std::f64::consts::PI * radius * radius;
        let known = radius > 0.0 && radius.is_finite() && centre.iter().all(|x| x.is_finite());
        let area = if known { self.area(centre, radius, &rect).clamp(0.0, circle) } else { 0.0 };
        let share = if known { area / circle } else { 0.0 };
        Cover { area, share, edge }
    }

    fn area(&self, centre: Point, radius: f64, rect: &Rect) -> f64 {
        let mut arcs = Arcs::new(radius);
        let mut whole = 0.0;
        let radius2 = radius * radius;
        let _: ControlFlow<()> = self.tree.locate_in_envelope_intersecting_int(&rect.aabb(), |block: &Block| {
            match block.kind {
                Kind::Whole { area } if block.rect.farthest2(centre) <= radius2 => whole += area,
                _ if block.rect.nearest2(centre) >= radius2 => {}
                Kind::Whole { .. } => self.runs_of(block).for_each(|ring| arcs.ring(centre, ring)),
                Kind::Stretch => self.runs_of(block).for_each(|run| arcs.chain(centre, run)),
            }
            ControlFlow::Continue(())
        });
        self.wind_large(centre, &mut arcs);
        whole + arcs.area()
    }

    /// Winding of the large polygons, of which `tree` knows only pieces.
    fn wind_large(&self, centre: Point, arcs: &mut Arcs) {
        let here = Rect { min: centre, max: centre };
        for part in self.large.parts_meeting(&here) {
            self.large.edges_between(part, centre[1], centre[1]).for_each(|(a, b)| arcs.wind(centre, a, b));
        }
    }

    fn runs_of(&self, block: &Block) -> impl Iterator<Item = &[Point]> {
        let runs = &self.runs[block.runs.start as usize..block.runs.end as usize];
        runs.iter().map(|run| &self.corners[run.start as usize..run.end as usize])
    }

    fn blocks(&mut self, polygon: &Polygon) -> Vec<Block> {
        if polygon.edges() > LARGE {
            return polygon.rings().iter().flat_map(|ring| self.stretches(ring)).collect();
        }
        let first = self.runs.len() as u32;
        polygon.rings().iter().for_each(|ring| self.add_run(ring));
        let runs = first..self.runs.len() as u32;
        vec![Block { rect: polygon.rect(), runs, kind: Kind::Whole { area: polygon.area() } }]
    }

    fn stretches(&mut self, ring: &[Point]) -> Vec<Block> {
        let edges = ring.len() - 1;
        let starts = (0..edges).step_by(STRETCH);
        let pieces = starts.filter_map(|start| {
            let run = &ring[start..=(start + STRETCH).min(edges)];
            let first = self.runs.len() as u32;
            self.add_run(run);
            Rect::around(run).map(|rect| Block { rect, runs: first..first + 1, kind: Kind::Stretch })
        });
        pieces.collect()
    }

    fn add_run(&mut self, run: &[Point]) {
        let first = self.corners.len() as u32;
        self.corners.extend_from_slice(run);
        self.runs.push(first..self.corners.len() as u32);
    }
}

/// Area that a circle shares with one polygon, in square metres.
pub fn shared_area(polygon: &Polygon, centre: Point, radius: f64) -> f64 {
    let mut arcs = Arcs::new(radius);
    polygon.rings().iter().for_each(|ring| arcs.ring(centre, ring));
    arcs.area()
}

#[cfg(test)]
#[path = "circle_tests.rs"]
mod tests;
