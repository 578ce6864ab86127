//! Areas that are cells of the H3 system: those of one resolution that hold a listed well.
//!
//! A cell's id is its H3 index, so tables join with anything else that is kept by H3 cells. Unlike squares and hexagons made here,
//! the cells are not of equal area: at one resolution the largest is nearly twice the smallest, over the globe. Their sides are drawn straight between
//! corners in the working coordinate system, and a well belongs to the cell as drawn: at coarse resolutions a well within some
//! metres of a side may belong to the neighbour of the cell that the index would give. So neighbours of the wells' cells are
//! drawn too, and dropped where they hold no well.
//!
//! Source: the H3 specification (h3geo.org), by way of the crate `h3o`.

use std::collections::BTreeSet;

use h3o::{CellIndex, LatLng, Resolution};
use serde_json::Value;

use super::cells::ID;
use super::crs::Transformer;
use super::features::Feature;
use super::polygons::PolygonSet;
use super::shape::{Geometry, Point, Polygon, RingFault};

/// Degrees to which corners are rounded, about a tenth of a millimetre: neighbours then share theirs to the last bit.
const CORNER: f64 = 1e9;

/// The cells, by index, that hold at least one of the places, given as longitude and latitude; `into` takes those to the working
/// system.
///
/// # Errors
/// A resolution so fine that a cell's corners fall together.
pub fn made(resolution: u8, places: &[Point], into: &Transformer) -> Result<Vec<Feature>, RingFault> {
    let resolution = Resolution::try_from(resolution).unwrap_or(Resolution::Fifteen);
    let own: BTreeSet<CellIndex> =
        places.iter().filter_map(|[lon, lat]| LatLng::new(*lat, *lon).ok()).map(|at| at.to_cell(resolution)).collect();
    let near: BTreeSet<CellIndex> = own.iter().flat_map(|cell| cell.grid_disk::<Vec<_>>(1)).collect();
    let drawn: Vec<(CellIndex, Polygon)> =
        near.into_iter().map(|cell| Ok((cell, Polygon::new(vec![ring(cell, into)])?))).collect::<Result<_, _>>()?;
    let set = PolygonSet::new((0_u32..).zip(drawn.iter().map(|(_, polygon)| polygon)));
    let mut moved = places.to_vec();
    into.points(&mut moved);
    let held: BTreeSet<usize> = moved.iter().filter_map(|place| set.locate(*place)).collect();
    let kept = drawn.into_iter().enumerate().filter(|(at, _)| held.contains(at)).map(|(_, cell)| cell);
    Ok(kept.enumerate().map(|(at, (cell, polygon))| feature(at + 1, cell, polygon)).collect())
}

fn feature(number: usize, cell: CellIndex, polygon: Polygon) -> Feature {
    let id = Value::String(cell.to_string());
    Feature {
        number,
        properties: [(ID.to_owned(), id)].into_iter().collect(),
        geometry: Geometry::Polygons(vec![polygon]),
    }
}

fn ring(cell: CellIndex, into: &Transformer) -> Vec<Point> {
    let rounded = |x: f64| (x * CORNER).round() / CORNER;
    let mut corners: Vec<Point> = cell.boundary().iter().map(|at| [rounded(at.lng()), rounded(at.lat())]).collect();
    into.points(&mut corners);
    corners
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::crs::{Crs, Grids};

    fn cells(resolution: u8, places: &[Point], crs: &str) -> Vec<Feature> {
        let way = Transformer::new(&Crs::wgs84().unwrap(), &Crs::parse(crs).unwrap(), &Grids::Inside).unwrap();
        made(resolution, places, &way).unwrap()
    }

    fn id(feature: &Feature) -> &str {
        feature.properties[ID].as_str().unwrap()
    }

    /// Source: the H3 documentation's own example, 37.7752702151959257, -122.418307270836565 at resolution 9 is 8928308280fffff
    /// (github.com/uber/h3, README). From memory.
    #[test]
    fn the_published_example() {
        let places = [[-122.418_307_270_836_56, 37.775_270_215_195_925]];
        let found = cells(9, &places, "EPSG:26910");
        assert_eq!(found.iter().map(id).collect::<Vec<_>>(), ["8928308280fffff"]);
        assert_eq!(found[0].number, 1);
    }

    /// Source: average area of a cell of resolution 7, 5.161293360 square kilometres (h3geo.org, table of cell statistics). From memory.
    #[test]
    fn every_place_lies_in_one_cell_and_the_size_is_the_published_one() {
        let places: Vec<Point> =
            (0..400).map(|i| [-94.0 + 0.013 * f64::from(i % 20), 44.0 + 0.009 * f64::from(i / 20)]).collect();
        let crs = "+proj=laea +lat_0=44.1 +lon_0=-93.9 +datum=WGS84 +units=m +type=crs";
        let found = cells(7, &places, crs);
        let area: f64 = found.iter().map(|f| f.geometry.polygons()[0].area()).sum::<f64>() / found.len() as f64;
        assert!((area / 5.161_293_360e6 - 1.0).abs() < 0.2, "{area}");
        let set = PolygonSet::new((0_u32..).zip(found.iter().map(|f| &f.geometry.polygons()[0])));
        let mut moved = places.clone();
        Transformer::new(&Crs::wgs84().unwrap(), &Crs::parse(crs).unwrap(), &Grids::Inside).unwrap().points(&mut moved);
        assert!(moved.iter().all(|place| set.locate(*place).is_some()));
    }

    #[test]
    fn the_180th_meridian_is_no_border() {
        let places = [[179.999, -16.8], [-179.999, -16.8]];
        let crs = "+proj=laea +lat_0=-16.8 +lon_0=180 +datum=WGS84 +units=m +type=crs";
        let found = cells(4, &places, crs);
        assert!(!found.is_empty() && found.len() <= 2);
        assert!(found.iter().all(|f| f.geometry.polygons()[0].area() < 3e9));
    }
}
