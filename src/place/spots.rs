//! Rows of coordinates in mixed systems become places in the working one.

use super::angle::{self, Angle};
use super::crs::{Crs, CrsFault, CrsKind, Grids, Transformer};
use super::layers::crs_problem;
use super::region::Region;
use super::repair::{Ground, Placement, diagnose};
use super::shape::Point;
use crate::plan::Plan;
use crate::problem::Problem;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// A place as written.
#[derive(Clone, Debug)]
pub struct Written {
    /// Easting or longitude.
    pub x: Option<f64>,
    /// Northing or latitude.
    pub y: Option<f64>,
    /// Number of its system in the list of systems; `None` where it is not known.
    pub system: Option<usize>,
    /// How its numbers were written.
    pub spelled: Spelled,
}

/// How coordinates were written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Spelled {
    /// As plain numbers.
    #[default]
    Plain,
    /// In degrees, minutes and seconds, or with a letter of the compass.
    Degrees,
}

impl Written {
    /// Reads the texts of x and y; degrees in parts only in a system of degrees, since `450 000` may be metres.
    pub fn read(x: &str, y: &str, system: Option<usize>, systems: &Systems) -> Written {
        let geographic = system.and_then(|n| systems.list.get(n)).is_some_and(|crs| crs.kind() == CrsKind::Geographic);
        let number = |text: &str| match angle::plain(text)
            .map(Angle::Plain)
            .or_else(|| angle::read(text).filter(|_| geographic))
        {
            Some(Angle::Plain(x)) => (Some(x), Spelled::Plain),
            Some(Angle::Parts(x)) => (Some(x), Spelled::Degrees),
            None => (None, Spelled::Plain),
        };
        let ((x, of_x), (y, of_y)) = (number(x), number(y));
        let spelled = if of_x == Spelled::Plain { of_y } else { of_x };
        Written { x, y, system, spelled }
    }
}

/// A place as understood.
#[derive(Clone, Debug)]
pub struct Spot {
    /// In the working system; `None` without a usable location.
    pub xy: Option<Point>,
    /// What is to be said of it.
    pub note: Option<String>,
    /// Accuracy in metres that PROJ gives for the way taken.
    pub transform_accuracy: Option<f64>,
}

/// The coordinate systems met, each parsed once.
#[derive(Debug, Default)]
pub struct Systems {
    by_text: BTreeMap<String, Option<usize>>,
    list: Vec<Crs>,
    /// Texts that name none, with their counts.
    pub unknown: BTreeMap<String, u64>,
}

impl Systems {
    /// The number of a row's system.
    pub fn of(&mut self, text: &str) -> Option<usize> {
        if let Some(known) = self.by_text.get(text) {
            if known.is_none() {
                *self.unknown.entry(text.to_owned()).or_default() += 1;
            }
            return *known;
        }
        let number = Crs::parse(text).ok().map(|crs| {
            self.list.push(crs);
            self.list.len() - 1
        });
        self.by_text.insert(text.to_owned(), number);
        if number.is_none() {
            *self.unknown.entry(text.to_owned()).or_default() += 1;
        }
        number
    }

    /// The number of the plan's own system.
    ///
    /// # Errors
    /// It names none.
    pub fn of_plan(&mut self, plan: &Plan, key: &str, text: &str) -> Result<usize, Problem> {
        if let Err(fault) = Crs::parse(text) {
            return Err(crs_problem(plan, key, &fault));
        }
        Ok(self.of(text).unwrap_or_default())
    }
}

/// Whether the repair that fits is applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Repairs {
    /// Told only.
    Proposed,
    /// Applied and told.
    Applied,
}

/// Rows a transformer is made for.
const BATCH: usize = 50_000;

/// Places all rows, in order.
///
/// # Errors
/// A system from which PROJ knows no way into the working one.
pub fn place(
    plan: &Plan,
    region: &Region,
    systems: &Systems,
    rows: &[Written],
    repairs: Repairs,
) -> Result<Vec<Spot>, Problem> {
    let batches: Result<Vec<Vec<Spot>>, Problem> =
        rows.par_chunks(BATCH).map(|batch| one_batch(plan, region, systems, batch, repairs)).collect();
    Ok(batches?.into_iter().flatten().collect())
}

/// Longitude and latitude of the rows that have a place at all: not (0, 0), and in their system's area of use.
///
/// # Errors
/// A system from which PROJ knows no way to longitude and latitude.
pub fn lonlats(plan: &Plan, systems: &Systems, rows: &[Written], grids: &Grids) -> Result<Vec<Point>, Problem> {
    let batch = |batch: &[Written]| -> Result<Vec<Point>, CrsFault> {
        let wgs84 = Crs::wgs84()?;
        let ways = systems.list.iter().map(|crs| Ok((crs, Transformer::new(crs, &wgs84, grids)?)));
        let ways = ways.collect::<Result<Vec<_>, _>>()?;
        let lonlat = |row: &Written| {
            let (crs, way) = ways.get(row.system?)?;
            let at = [row.x?, row.y?];
            let place = way.point(at).filter(|[lon, lat]| at != [0.0; 2] && lon.abs() <= 180.0 && lat.abs() <= 90.0)?;
            crs.area().is_none_or(|area| area.holds(place)).then_some(place)
        };
        Ok(batch.iter().filter_map(lonlat).collect())
    };
    let batches: Result<Vec<Vec<Point>>, CrsFault> = rows.par_chunks(BATCH).map(batch).collect();
    Ok(batches.map_err(|fault| crs_problem(plan, "wells", &fault))?.into_iter().flatten().collect())
}

/// Ways out of one system.
struct Ways {
    to_lonlat: Transformer,
    to_working: Transformer,
    /// What PROJ says of the way, by square of the working system: the best way differs from place to place.
    accuracy: BTreeMap<[i64; 2], Option<f64>>,
    /// The zones beside this one, once a place did not fit.
    beside: Option<Vec<(Crs, Ways)>>,
}

/// Metres: the side of a square in which the way is asked for once.
const SQUARE: f64 = 10_000.0;

impl Ways {
    fn new(plan: &Plan, region: &Region, from: &Crs) -> Result<Ways, Problem> {
        let fault = |e| crs_problem(plan, "wells", &e);
        let to_lonlat = Crs::wgs84().and_then(|wgs84| Transformer::new(from, &wgs84, &region.grids)).map_err(fault)?;
        let to_working = Transformer::new(from, &region.working, &region.grids).map_err(fault)?;
        Ok(Ways { to_lonlat, to_working, accuracy: BTreeMap::new(), beside: None })
    }
}

fn one_batch(
    plan: &Plan,
    region: &Region,
    systems: &Systems,
    batch: &[Written],
    repairs: Repairs,
) -> Result<Vec<Spot>, Problem> {
    let mut ways: BTreeMap<usize, Ways> = BTreeMap::new();
    let mut spots = Vec::with_capacity(batch.len());
    for row in batch {
        let Some((number, crs)) = row.system.and_then(|n| Some((n, systems.list.get(n)?))) else {
            spots.push(nowhere("its coordinate system is not known"));
            continue;
        };
        let way = match ways.entry(number) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(new) => new.insert(Ways::new(plan, region, crs)?),
        };
        spots.push(spot(plan, region, crs, way, row, repairs)?);
    }
    Ok(spots)
}

fn nowhere(note: &str) -> Spot {
    Spot { xy: None, note: Some(note.to_owned()), transform_accuracy: None }
}

fn spot(
    plan: &Plan,
    region: &Region,
    crs: &Crs,
    ways: &mut Ways,
    row: &Written,
    repairs: Repairs,
) -> Result<Spot, Problem> {
    let ground = Ground { crs, to_lonlat: &ways.to_lonlat, to_working: &ways.to_working, areas: &region.areas };
    let (found, spelled) = (diagnose(row.x, row.y, &ground), row.spelled == Spelled::Degrees);
    let at = row.x.zip(row.y);
    let (place, what) = match found {
        Placement::Fine if !spelled => return Ok(fine(ways, at)),
        Placement::Fine => (at, "written in degrees, minutes and seconds"),
        Placement::Missing => return Ok(nowhere("no coordinates that can be read")),
        Placement::AtZero => return Ok(nowhere("coordinates are (0, 0)")),
        Placement::Swapped { repair } => (Some((repair.x, repair.y)), "x and y look swapped"),
        Placement::SignLost { repair } => (Some((repair.x, repair.y)), "a sign looks lost"),
        Placement::OutsideUse | Placement::Far { .. } => {
            return Ok(match other_zone(plan, region, crs, ways, at)? {
                Some((name, spot)) => repaired(spot, &format!("the zone looks wrong: {name} would fit"), repairs),
                None => nowhere(&out_of_reach(found)),
            });
        }
    };
    let shown = place.map(|(x, y)| format!("{what}: ({}, {}) would fit", rounded(x), rounded(y))).unwrap_or_default();
    Ok(repaired(fine(ways, place), &shown, repairs))
}

/// To a hundredth of a second or better, without the tail of digits that a sum leaves.
fn rounded(x: f64) -> f64 {
    (x * 1e7).round() / 1e7
}

fn out_of_reach(found: Placement) -> String {
    match found {
        Placement::Far { metres } => format!("{:.0} km from every area", metres / 1000.0),
        _ => "outside its coordinate system's area of use".to_owned(),
    }
}

/// A spot that only a repair makes fine: taken or only told.
fn repaired(spot: Spot, shown: &str, repairs: Repairs) -> Spot {
    match repairs {
        Repairs::Proposed => nowhere(shown),
        Repairs::Applied => Spot { note: Some(format!("repaired, {shown}")), ..spot },
    }
}

/// The place in a zone beside the one that was named, where it would be fine there.
fn other_zone(
    plan: &Plan,
    region: &Region,
    crs: &Crs,
    ways: &mut Ways,
    at: Option<(f64, f64)>,
) -> Result<Option<(String, Spot)>, Problem> {
    if ways.beside.is_none() {
        let zones = crs.zones_beside().into_iter();
        let zones: Result<Vec<_>, Problem> =
            zones.map(|zone| Ok((zone.clone(), Ways::new(plan, region, &zone)?))).collect();
        ways.beside = Some(zones?);
    }
    for (zone, ways) in ways.beside.iter_mut().flatten() {
        let ground =
            Ground { crs: zone, to_lonlat: &ways.to_lonlat, to_working: &ways.to_working, areas: &region.areas };
        if diagnose(at.map(|at| at.0), at.map(|at| at.1), &ground) == Placement::Fine {
            return Ok(Some((zone.name().to_owned(), fine(ways, at))));
        }
    }
    Ok(None)
}

fn fine(ways: &mut Ways, at: Option<(f64, f64)>) -> Spot {
    let Some((x, y)) = at else { return nowhere("no coordinates") };
    let xy = ways.to_working.point([x, y]);
    let square = xy.map(|xy| xy.map(|x| (x / SQUARE).floor() as i64));
    let asked = |square| {
        let way = &ways.to_working;
        let ask = || way.operation([x, y]).and_then(|operation| operation.accuracy);
        *ways.accuracy.entry(square).or_insert_with(ask)
    };
    let transform_accuracy = square.and_then(asked);
    let note = xy.is_none().then(|| "cannot be taken into the working coordinate system".to_owned());
    Spot { xy, note, transform_accuracy }
}
