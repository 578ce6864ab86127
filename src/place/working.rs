//! The coordinate system that areas and distances are measured in: turns the extent of a region into an equal-area system centred
//! on it, and any system into the greatest error of distances over an extent.
//!
//! Equal area is kept exactly, since shares and densities are areas; distances then are off by at most the figure that
//! `distortion` gives: 1 part in 10,000 at 180 km from the centre, 1 in 200 at 1,270 km.
//!
//! Source: J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395 (1987), sections 4 (distortion) and 24
//! (Lambert azimuthal equal-area). From memory.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates")]

use super::bounds::Bounds;
use super::crs::{Crs, CrsFault, Grids, Transformer};
use super::shape::Point;

/// Lambert's azimuthal equal-area system on WGS 84 in metres, centred on the extent to a hundredth of a degree.
///
/// # Errors
/// `NoExtent` for bounds that are not finite.
pub fn working_crs(extent: &Bounds) -> Result<Crs, CrsFault> {
    let [lon, lat] = extent.centre().map(|x| (x * 100.0).round() / 100.0);
    if !(lon.is_finite() && (-90.0..=90.0).contains(&lat)) {
        return Err(CrsFault::NoExtent);
    }
    Crs::parse(&format!("+proj=laea +lat_0={lat} +lon_0={lon} +datum=WGS84 +units=m +no_defs +type=crs"))?.for_work()
}

/// Places along each side of the extent where the scale is looked at.
const STEPS: u32 = 12;
/// Degrees; short against the change of scale, long against PROJ's rounding.
const STEP: f64 = 1e-4;

/// The greatest relative error of a short distance anywhere in the extent, in any direction: 0.005 is half a percent.
///
/// # Errors
/// Where the system cannot be reached from WGS 84, or not at any of the places looked at.
pub fn distortion(crs: &Crs, extent: &Bounds) -> Result<f64, CrsFault> {
    let way = Transformer::new(&Crs::wgs84()?, crs, &Grids::Inside)?;
    let share = |i: u32| f64::from(i) / f64::from(STEPS);
    let places = (0..=STEPS).flat_map(|i| (0..=STEPS).map(move |j| extent.at(share(i), share(j))));
    let worst = places.filter_map(|place| scale_error(&way, place, crs.metres_per_unit().unwrap_or(1.0)));
    worst.reduce(f64::max).ok_or(CrsFault::NoExtent)
}

/// Largest departure of the scale from 1 at a place: the half axes of Tissot's ellipse are the singular values of the map from
/// metres east and north on the ellipsoid to metres of the system.
fn scale_error(way: &Transformer, [lon, lat]: Point, metres: f64) -> Option<f64> {
    let lat = lat.clamp(-89.9, 89.9);
    let (east, north) = metres_per_degree(lat);
    let slope = |a: Point, b: Point, length: f64| -> Option<Point> {
        let (a, b) = (way.point(a)?, way.point(b)?);
        Some([0, 1].map(|i| (b[i] - a[i]) * metres / length))
    };
    let u = slope([lon - STEP, lat], [lon + STEP, lat], 2.0 * STEP * east)?;
    let v = slope([lon, lat - STEP], [lon, lat + STEP], 2.0 * STEP * north)?;
    let size = u[0] * u[0] + u[1] * u[1] + v[0] * v[0] + v[1] * v[1];
    let turn = 2.0 * (u[0] * v[1] - u[1] * v[0]).abs();
    let (sum, difference) = ((size + turn).sqrt(), (size - turn).max(0.0).sqrt());
    let axes = [0.5 * (sum + difference), 0.5 * (sum - difference)];
    Some(axes.map(|axis| (axis - 1.0).abs()).into_iter().fold(0.0, f64::max))
}

/// Length of a degree of longitude and of latitude on the WGS 84 ellipsoid.
fn metres_per_degree(lat: f64) -> (f64, f64) {
    const MAJOR: f64 = 6_378_137.0;
    const FLATTENING: f64 = 1.0 / 298.257_223_563;
    const E2: f64 = FLATTENING * (2.0 - FLATTENING);
    let (sin, cos) = (libm::sin(lat.to_radians()), libm::cos(lat.to_radians()));
    let w2 = 1.0 - E2 * sin * sin;
    let across = MAJOR / w2.sqrt();
    let along = across * (1.0 - E2) / w2;
    ((across * cos).to_radians(), along.to_radians())
}
