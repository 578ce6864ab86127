//! Impossible coordinates: turns a well's coordinates as written into a verdict and, where one fits, a repair.
//!
//! A place is fine when it lies in its system's area of use and at most 50 km from some area. If it does not, the slips that people
//! make with coordinates are tried: x and y swapped, a sign lost, both. A repair fits when it leads to a fine place; of several
//! the one nearest to an area is proposed, and of equals the simplest. A repair is never applied here: it is a proposal, and the
//! plan decides.

use super::areas::{Areas, FAR};
use super::crs::{Crs, Transformer};
use super::shape::Point;

/// What was done wrong when the coordinates were written, from the simplest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slip {
    /// The minus of x was left out, or written where none belongs.
    LostSignX,
    /// The same of y.
    LostSignY,
    /// The same of both.
    LostBothSigns,
    /// x and y stand in each other's place.
    Swapped,
    /// Swapped, and the sign of the true x is wrong.
    SwappedLostSignX,
    /// Swapped, and the sign of the true y is wrong.
    SwappedLostSignY,
}

/// A slip and the coordinates that undo it, in the well's own system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repair {
    /// What was done wrong.
    pub slip: Slip,
    /// Easting or longitude once mended.
    pub x: f64,
    /// Northing or latitude once mended.
    pub y: f64,
}

/// The verdict on a well's coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Placement {
    /// In its system's area of use and near the areas.
    Fine,
    /// No coordinates, or not finite ones.
    Missing,
    /// (0, 0), which stands for "not known" more often than for a place.
    AtZero,
    /// x and y stand in each other's place, a sign perhaps lost besides.
    Swapped {
        /// The repair that fits.
        repair: Repair,
    },
    /// A sign or both were lost.
    SignLost {
        /// The repair that fits.
        repair: Repair,
    },
    /// Outside the area of use of its system, and no repair fits.
    OutsideUse,
    /// Too far from every area, and no repair fits.
    Far {
        /// Distance to the nearest area.
        metres: f64,
    },
}

/// What `diagnose` needs to know about a place given in the well's own system.
pub trait Surroundings {
    /// Whether it lies in the system's area of use.
    fn in_use(&self, p: Point) -> bool;

    /// Metres to the nearest area; infinite where that cannot be said.
    fn metres_to_areas(&self, p: Point) -> f64;
}

/// The ground around the areas, seen from one coordinate system.
pub struct Ground<'a> {
    /// The system that the coordinates are written in.
    pub crs: &'a Crs,
    /// From `crs` to longitude and latitude on WGS 84.
    pub to_lonlat: &'a Transformer,
    /// From `crs` to the working system of the areas.
    pub to_working: &'a Transformer,
    /// The areas, in the working system.
    pub areas: &'a Areas,
}

impl Surroundings for Ground<'_> {
    fn in_use(&self, p: Point) -> bool {
        let lonlat = self.to_lonlat.point(p).filter(|[_, lat]| lat.abs() <= 90.0);
        lonlat.is_some_and(|place| self.crs.area().is_none_or(|area| area.holds(place)))
    }

    fn metres_to_areas(&self, p: Point) -> f64 {
        self.to_working.point(p).map_or(f64::INFINITY, |place| self.areas.metres_to_nearest(place))
    }
}

/// Judges the coordinates of a well.
pub fn diagnose(x: Option<f64>, y: Option<f64>, around: &impl Surroundings) -> Placement {
    let (Some(x), Some(y)) = (x, y) else {
        return Placement::Missing;
    };
    if !(x.is_finite() && y.is_finite()) {
        return Placement::Missing;
    }
    if x == 0.0 && y == 0.0 {
        return Placement::AtZero;
    }
    let in_use = around.in_use([x, y]);
    let metres = if in_use { around.metres_to_areas([x, y]) } else { f64::INFINITY };
    if metres <= FAR {
        return Placement::Fine;
    }
    match best_repair(x, y, around) {
        Some(repair) if repair.slip >= Slip::Swapped => Placement::Swapped { repair },
        Some(repair) => Placement::SignLost { repair },
        None if in_use => Placement::Far { metres },
        None => Placement::OutsideUse,
    }
}

/// Whether a place is fine as it stands, no repair looked for.
pub fn is_fine(x: f64, y: f64, around: &impl Surroundings) -> bool {
    around.in_use([x, y]) && around.metres_to_areas([x, y]) <= FAR
}

fn best_repair(x: f64, y: f64, around: &impl Surroundings) -> Option<Repair> {
    let candidates = [
        Repair { slip: Slip::LostSignX, x: -x, y },
        Repair { slip: Slip::LostSignY, x, y: -y },
        Repair { slip: Slip::LostBothSigns, x: -x, y: -y },
        Repair { slip: Slip::Swapped, x: y, y: x },
        Repair { slip: Slip::SwappedLostSignX, x: -y, y: x },
        Repair { slip: Slip::SwappedLostSignY, x: y, y: -x },
    ];
    let fitting = candidates.into_iter().filter(|repair| around.in_use([repair.x, repair.y]));
    let near = fitting.map(|repair| (around.metres_to_areas([repair.x, repair.y]), repair));
    let best = near.filter(|(metres, _)| *metres <= FAR).min_by(|a, b| a.0.total_cmp(&b.0));
    best.map(|(_, repair)| repair)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::areas::AreaKeys;
    use crate::place::crs::Grids;
    use crate::place::features::read_geojson;

    const AREA: &str = r#"{"type":"Feature","properties":{"code":"A"},"geometry":
        {"type":"Polygon","coordinates":[[[-94,44],[-93,44],[-93,45],[-94,45],[-94,44]]]}}"#;

    fn judge(crs: &str, x: f64, y: f64) -> Placement {
        let working = Crs::parse("EPSG:32615").unwrap();
        let wgs84 = Crs::wgs84().unwrap();
        let way = |from: &Crs, to: &Crs| Transformer::new(from, to, &Grids::Inside).unwrap();
        let keys = AreaKeys { id: "code", name: None, wells_on_record: None, households: None, infants: None };
        let areas = Areas::new(read_geojson(AREA.as_bytes(), &way(&wgs84, &working)).unwrap().features, keys).unwrap();
        let crs = Crs::parse(crs).unwrap();
        let ground =
            Ground { crs: &crs, to_lonlat: &way(&crs, &wgs84), to_working: &way(&crs, &working), areas: &areas };
        diagnose(Some(x), Some(y), &ground)
    }

    #[test]
    fn degrees() {
        assert_eq!(judge("NAD83", -93.5, 44.5), Placement::Fine);
        assert_eq!(judge("NAD83", -93.5, 44.0 - 0.4), Placement::Fine);
        assert_eq!(judge("NAD83", 0.0, 0.0), Placement::AtZero);
        assert_eq!(judge("NAD83", f64::NAN, 1.0), Placement::Missing);
        let sign = Repair { slip: Slip::LostSignX, x: -93.5, y: 44.5 };
        assert_eq!(judge("NAD83", 93.5, 44.5), Placement::SignLost { repair: sign });
        let swapped = Repair { slip: Slip::Swapped, x: -93.5, y: 44.5 };
        assert_eq!(judge("NAD83", 44.5, -93.5), Placement::Swapped { repair: swapped });
        let both = Repair { slip: Slip::SwappedLostSignX, x: -93.5, y: 44.5 };
        assert_eq!(judge("NAD83", 44.5, 93.5), Placement::Swapped { repair: both });
        assert_eq!(judge("NAD83", 10.0, 10.0), Placement::OutsideUse);
        assert!(matches!(judge("NAD83", -100.0, 44.5), Placement::Far { metres } if metres > 400_000.0));
        assert_eq!(judge("NAD83", -9350.0, 4450.0), Placement::OutsideUse);
    }

    #[test]
    fn metres() {
        assert_eq!(judge("NAD83 UTM 15N", 450_000.0, 4_930_000.0), Placement::Fine);
        let swapped = Repair { slip: Slip::Swapped, x: 450_000.0, y: 4_930_000.0 };
        assert_eq!(judge("NAD83 UTM 15N", 4_930_000.0, 450_000.0), Placement::Swapped { repair: swapped });
        assert!(matches!(judge("NAD83 UTM 15N", 450_000.0, 3_930_000.0), Placement::Far { .. }));
        assert_eq!(judge("NAD83 UTM 15N", -93.5, 44.5), Placement::OutsideUse);
    }

    #[test]
    fn nothing_given() {
        struct Anywhere;
        impl Surroundings for Anywhere {
            fn in_use(&self, _: Point) -> bool {
                true
            }
            fn metres_to_areas(&self, _: Point) -> f64 {
                0.0
            }
        }
        assert_eq!(diagnose(None, Some(1.0), &Anywhere), Placement::Missing);
        assert_eq!(diagnose(Some(1.0), None, &Anywhere), Placement::Missing);
    }
}
