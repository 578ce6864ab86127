//! Areas that are made: cells of one size in the working coordinate system, those that hold a listed well or have one on their
//! border.
//!
//! Cells hang on the origin of the working system, so that their borders stay where they are when wells are added, as long as the
//! plan names the system. Ids count rows from the north and columns from the west of the cells made (`r03c07`). Corners are whole
//! multiples of half a side (of the sixth of a hexagon's height), so that neighbours share them to the last bit.
//!
//! Which wells make the region has to be settled before any cell exists: a slip in one well's coordinates must not make a cell on
//! another continent. The globe is cut into squares of half a degree; wells in squares that touch belong together, and groups
//! smaller than a twentieth of the wells are left out. Their wells are then judged like wells far from given areas.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::features::Feature;
use super::shape::{Geometry, Point, Polygon, RingFault};
use crate::plan::GridKind;

/// The property that holds a cell's id.
pub const ID: &str = "id";

/// Degrees: about as far as a well may lie from an area.
const SQUARE: f64 = 0.5;
/// Part of the wells that a group must hold to count as a part of the region.
const GROUP: f64 = 0.05;

/// The places, as longitude and latitude, that make the region.
pub fn region_of(places: &[Point]) -> Vec<Point> {
    let square_of = |p: &Point| p.map(|x| (x / SQUARE).floor() as i32);
    let mut squares: BTreeMap<[i32; 2], usize> = BTreeMap::new();
    for place in places {
        *squares.entry(square_of(place)).or_default() += 1;
    }
    let mut kept: BTreeSet<[i32; 2]> = BTreeSet::new();
    let mut left: BTreeSet<[i32; 2]> = squares.keys().copied().collect();
    while let Some(first) = left.pop_first() {
        let group = group(first, &mut left);
        let wells: usize = group.iter().filter_map(|square| squares.get(square)).sum();
        if wells as f64 >= GROUP * places.len() as f64 {
            kept.extend(group);
        }
    }
    places.iter().filter(|place| kept.contains(&square_of(place))).copied().collect()
}

/// Takes the square and all that it touches, one after another, out of those left; the 180th meridian is no border.
fn group(first: [i32; 2], left: &mut BTreeSet<[i32; 2]>) -> Vec<[i32; 2]> {
    const AROUND: i32 = 720;
    const WEST: i32 = -360;
    let mut group = vec![first];
    let mut next = 0;
    while let Some(&[x, y]) = group.get(next) {
        next += 1;
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let beside = [(x + dx - WEST).rem_euclid(AROUND) + WEST, y + dy];
            if left.remove(&beside) {
                group.push(beside);
            }
        }
    }
    group
}

/// The cells that hold at least one of the places, given in the working system, row by row from the north-west.
///
/// # Errors
/// A size that makes no cell of the places: too small to be told from rounding.
pub fn made(kind: GridKind, size: f64, places: &[Point]) -> Result<Vec<Feature>, RingFault> {
    let grid = Grid { kind, size };
    let finite = places.iter().filter(|p| p.iter().all(|x| x.is_finite()));
    let cells: BTreeSet<Cell> = finite.flat_map(|&p| around(p)).map(|p| grid.cell(p)).collect();
    let rows = cells.iter().map(|(row, _)| *row).max().unwrap_or(0);
    let columns = cells.iter().map(|(_, column)| *column).min().unwrap_or(0);
    let widest = |numbers: Vec<i64>| numbers.into_iter().max().unwrap_or(0).to_string().len().max(2);
    let number = |&(row, column): &Cell| (rows - row + 1, column - columns + 1);
    let row_digits = widest(cells.iter().map(|cell| number(cell).0).collect());
    let column_digits = widest(cells.iter().map(|cell| number(cell).1).collect());
    let mut numbered: Vec<_> = cells.iter().map(|cell| (number(cell), *cell)).collect();
    numbered.sort_unstable();
    let feature = |(at, ((row, column), cell)): (usize, (Cell, Cell))| {
        let id = format!("r{row:0row_digits$}c{column:0column_digits$}");
        let geometry = Geometry::Polygons(vec![Polygon::new(vec![grid.ring(cell)])?]);
        Ok(Feature { number: at + 1, properties: [(ID.to_owned(), Value::String(id))].into_iter().collect(), geometry })
    };
    numbered.into_iter().enumerate().map(feature).collect()
}

/// Places a millimetre away: a well on a border gets the cells on both sides, whichever way rounding takes it later.
fn around([x, y]: Point) -> [Point; 4] {
    const NEAR: f64 = 0.001;
    [[x - NEAR, y - NEAR], [x + NEAR, y - NEAR], [x - NEAR, y + NEAR], [x + NEAR, y + NEAR]]
}

/// A cell by its row and column.
type Cell = (i64, i64);

/// Cells are known by row, from the south, and column, from the west.
struct Grid {
    kind: GridKind,
    size: f64,
}

/// Height of the sixth of a hexagon's side to side distance 1, of which a row of hexagons takes three.
const SIXTH: f64 = 0.288_675_134_594_812_9;

impl Grid {
    fn cell(&self, p: Point) -> Cell {
        let [x, y] = p.map(|x| x / self.size);
        match self.kind {
            GridKind::Square => (y.floor() as i64, x.floor() as i64),
            GridKind::Hexagon => {
                let below = (y / (3.0 * SIXTH)).floor() as i64;
                let near = [below, below + 1].map(|row| {
                    let column = (x - 0.5 * odd(row) as f64).round() as i64;
                    let (dx, dy) = (x - column as f64 - 0.5 * odd(row) as f64, y - row as f64 * 3.0 * SIXTH);
                    (dx * dx + dy * dy, (row, column))
                });
                if near[0].0 <= near[1].0 { near[0].1 } else { near[1].1 }
            }
        }
    }

    /// Corners from the south-west or south, counterclockwise.
    fn ring(&self, (row, column): Cell) -> Vec<Point> {
        match self.kind {
            GridKind::Square => [(0, 0), (1, 0), (1, 1), (0, 1)]
                .map(|(dx, dy)| [(column + dx) as f64 * self.size, (row + dy) as f64 * self.size])
                .to_vec(),
            GridKind::Hexagon => {
                let (half, sixth) = (0.5 * self.size, SIXTH * self.size);
                let (x, y) = (2 * column + odd(row), 3 * row);
                [(0, -2), (1, -1), (1, 1), (0, 2), (-1, 1), (-1, -1)]
                    .map(|(dx, dy)| [(x + dx) as f64 * half, (y + dy) as f64 * sixth])
                    .to_vec()
            }
        }
    }
}

/// 1 for the rows that are shifted by half a cell.
fn odd(row: i64) -> i64 {
    row.rem_euclid(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::areas::{AreaKeys, Areas};
    use proptest::prelude::*;

    fn ids(kind: GridKind, places: &[Point]) -> Vec<String> {
        areas(kind, places).ids
    }

    fn areas(kind: GridKind, places: &[Point]) -> Areas {
        let keys = AreaKeys { id: ID, name: None, wells_on_record: None, households: None, infants: None };
        Areas::new(made(kind, 1000.0, places).unwrap(), keys).unwrap()
    }

    #[test]
    fn rows_from_the_north() {
        let places = [[500.0, 2500.0], [500.0, 500.0], [6500.0, 600.0], [6400.0, 600.0]];
        assert_eq!(ids(GridKind::Square, &places), ["r01c01", "r03c01", "r03c07"]);
    }

    #[test]
    fn one_slip_makes_no_cell() {
        let mut places: Vec<Point> = (0..100).map(|i| [-94.0 + 0.02 * f64::from(i), 44.0]).collect();
        places.push([44.0, -94.0]);
        places.push([94.0, 44.0]);
        assert_eq!(region_of(&places).len(), 100);
        places.extend((0..10).map(|i| [-100.0, 50.0 + 0.01 * f64::from(i)]));
        assert_eq!(region_of(&places).len(), 110);
        assert!(region_of(&[]).is_empty());
        let across = [[179.9, 50.0], [-179.9, 50.0]];
        assert_eq!(region_of(&across), across);
    }

    proptest! {
        /// Equal areas, no overlap, and every place in the cell made for it.
        #[test]
        fn cells_hold_their_places(points in prop::collection::vec(prop::array::uniform2(-9e3..9e3_f64), 1..60)) {
            for kind in [GridKind::Square, GridKind::Hexagon] {
                let areas = areas(kind, &points);
                let size = if kind == GridKind::Square { 1e6 } else { 0.75_f64.sqrt() * 1e6 };
                for polygons in &areas.polygons {
                    prop_assert!((polygons[0].area() / size - 1.0).abs() < 1e-9);
                }
                for &p in &points {
                    prop_assert!(areas.locate(p).is_some());
                }
                prop_assert!(areas.len() <= 4 * points.len());
                prop_assert_eq!(crate::place::checks::findings(&areas), []);
            }
        }
    }
}
