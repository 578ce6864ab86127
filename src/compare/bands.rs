//! Which band of exposure each well is in.
//!
//! Bands are numbered by exposure: 0 is the lowest. For a share or a density that is the order of the measure; for a
//! distance it is the other way round, since near is high.

use crate::ids::WellId;
use crate::place::Wells;
use crate::plan::{LandUse, Measure, Plan};

/// One land use's bands and every well's band.
#[derive(Debug)]
pub struct Banding {
    /// Land use's name.
    pub land_use: String,
    /// Bands, the lowest exposure first.
    pub bands: Vec<Band>,
    /// Each well's band by exposure; `None` where it is not known.
    pub of_well: Vec<Option<u8>>,
}

impl Banding {
    /// A well's band by exposure.
    pub(super) fn band(&self, well: WellId) -> Option<u8> {
        self.of_well.get(well.index()).copied().flatten()
    }

    /// Whether the same wells have a band.
    pub(super) fn has_wells_of(&self, other: &Banding) -> bool {
        self.of_well.iter().map(Option::is_some).eq(other.of_well.iter().map(Option::is_some))
    }
}

/// One band.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// low, middle, high; low, high; or 1 to k.
    pub name: String,
    /// Lower edge of the measure.
    pub from: Option<f64>,
    /// Upper edge of the measure.
    pub to: Option<f64>,
}

/// The bands of every land use of the plan.
pub fn bandings(plan: &Plan, wells: &Wells) -> Vec<Banding> {
    plan.land_use
        .iter()
        .enumerate()
        .map(|(number, land_use)| banding(number, land_use, wells, Coarse::AsPlanned))
        .collect()
}

/// What becomes of wells whose location is too coarse for the measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Coarse {
    /// As the plan says.
    AsPlanned,
    /// They are left out.
    Without,
    /// They count with their average.
    With,
}

pub(super) fn banding(number: usize, land_use: &LandUse, wells: &Wells, coarse: Coarse) -> Banding {
    let measure = |(well, measure): (WellId, Option<f64>)| match (coarse, wells.average(well, number)) {
        (Coarse::Without, Some(_)) => None,
        (Coarse::With, Some((mean, _))) => Some(mean),
        _ => measure,
    };
    let measures = wells.ids().zip(wells.measures(number)).map(measure);
    let of_well = measures.map(|measure| measure.map(|x| band_of(land_use, x))).collect();
    Banding { land_use: land_use.name.clone(), bands: bands(land_use), of_well }
}

/// Edges belong to the band above them: low < 0.1 <= middle < 0.4 <= high.
fn band_of(land_use: &LandUse, measure: f64) -> u8 {
    let ascending = land_use.bands.iter().filter(|edge| measure >= **edge).count();
    let by_exposure = if is_distance(land_use) { land_use.bands.len() - ascending } else { ascending };
    u8::try_from(by_exposure).unwrap_or(u8::MAX)
}

fn is_distance(land_use: &LandUse) -> bool {
    matches!(land_use.measure, Measure::Nearest { .. })
}

fn bands(land_use: &LandUse) -> Vec<Band> {
    let edges = &land_use.bands;
    let count = edges.len() + 1;
    let mut bands: Vec<Band> = (0..count)
        .map(|at| Band {
            name: String::new(),
            from: at.checked_sub(1).and_then(|below| edges.get(below).copied()),
            to: edges.get(at).copied(),
        })
        .collect();
    if is_distance(land_use) {
        bands.reverse();
    }
    for (number, band) in bands.iter_mut().enumerate() {
        band.name = band_name(number, count);
    }
    bands
}

fn band_name(number: usize, count: usize) -> String {
    let name = match (count, number) {
        (2 | 3, 0) => "low",
        (2, 1) | (3, 2) => "high",
        (3, 1) => "middle",
        _ => return (number + 1).to_string(),
    };
    name.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn land_use(measure: Measure) -> LandUse {
        LandUse {
            key: "land_use[1]".to_owned(),
            family: "x".to_owned(),
            of_kind: None,
            coarse_wells: crate::plan::CoarseWells::LeaveOut,
            name: "x".to_owned(),
            files: Vec::new(),
            measure,
            bands: vec![250.0, 1000.0],
            crs: None,
            layer: None,
            text: crate::plan::TextOptions::default(),
        }
    }

    #[test]
    fn near_is_the_high_band() {
        let near = land_use(Measure::Nearest { columns: None });
        assert_eq!([100.0, 250.0, 999.0, 1000.0].map(|x| band_of(&near, x)), [2, 1, 1, 0]);
        let bands = bands(&near);
        assert_eq!((bands[2].name.as_str(), bands[2].from, bands[2].to), ("high", None, Some(250.0)));
        let dense = land_use(Measure::Density { radius_m: 500.0, columns: None, count: None, mapped: Vec::new() });
        assert_eq!([100.0, 250.0, 1000.0].map(|x| band_of(&dense, x)), [0, 1, 2]);
    }
}
