//! The equal-area cell of every well, made once for all analytes.

use crate::ids::{AreaId, WellId};
use crate::methods::equal_cells::{EqualCells, spread};
use crate::place::Wells;
use rayon::prelude::*;

/// Points that stand for one cell, and the most points of an area.
const POINTS_A_CELL: usize = 200;
const MOST_POINTS: usize = 40_000;
/// Places tried for a point inside the area before giving up: an outline fills more of its box than this.
const TRIES_A_POINT: usize = 60;

/// Cells by well; empty where the plan asks for none.
#[derive(Debug, Default)]
pub(super) struct WellCells(Vec<Option<u32>>);

impl WellCells {
    /// `wanted` cells in each area.
    pub(super) fn of(wells: &Wells, wanted: u32) -> WellCells {
        if wanted == 0 {
            return WellCells::default();
        }
        let count = u32::try_from(wells.areas().len()).unwrap_or(u32::MAX);
        let areas: Vec<Option<EqualCells>> =
            (0..count).into_par_iter().map(|area| cells(wells, AreaId(area), wanted)).collect();
        let cell = |well: WellId| Some(areas.get(wells.area(well)?.index())?.as_ref()?.cell(wells.xy(well)?));
        WellCells(wells.ids().map(cell).collect())
    }

    /// The cell of a well inside its area.
    pub(super) fn cell(&self, well: WellId) -> Option<u32> {
        self.0.get(well.index()).copied().flatten()
    }

    /// Whether the plan asks for cells.
    pub(super) fn is_on(&self) -> bool {
        !self.0.is_empty()
    }
}

fn cells(wells: &Wells, area: AreaId, wanted: u32) -> Option<EqualCells> {
    let rect = wells.areas().rect(area)?;
    let points = (POINTS_A_CELL * wanted as usize).min(MOST_POINTS);
    let place = |n: u32| {
        let [u, v] = spread(n);
        [rect.min[0] + u * (rect.max[0] - rect.min[0]), rect.min[1] + v * (rect.max[1] - rect.min[1])]
    };
    let tries = u32::try_from(points * TRIES_A_POINT).unwrap_or(u32::MAX);
    let inside = (0..tries).map(place).filter(|p| wells.areas().locate(*p) == Some(area.index()));
    EqualCells::of(inside.take(points).collect(), wanted)
}
