//! What an area's advice on an analyte rests on: how many wells, of which years, in how many parts of the area.
//!
//! The grade goes by the number of wells, and one step down where they lie in fewer than three of nine parts or where the newest
//! of them is more than ten years old (common practice, no source).

use super::parts::Parts;
use crate::ids::{AnalyteId, AreaId, Day};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Wells below which evidence is thin, and from which it is good (common practice, no source).
const THIN: u32 = 10;
/// See `THIN`.
const GOOD: u32 = 30;
/// Parts, of nine, from which wells are well spread (common practice, no source).
const SPREAD: u32 = 3;
/// Days after which the newest value is old: ten years (common practice, no source).
const OLD: i32 = 3652;

/// Grades, worst first.
const GRADES: [&str; 4] = ["none", "thin", "fair", "good"];

/// What is known of an area and analyte.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Wells with a value.
    pub wells: u32,
    /// Days of the oldest and newest value that stands.
    pub days: Option<(Day, Day)>,
    /// Parts of the area, of nine, with such a well; `None` where the area could not be cut.
    pub parts: Option<u32>,
}

impl Evidence {
    /// `none`, `thin`, `fair` or `good`, as of a day.
    pub fn grade(&self, as_of: Option<Day>) -> &'static str {
        let by_wells = match self.wells {
            0 => return "none",
            1..THIN => 1,
            THIN..GOOD => 2,
            _ => 3,
        };
        let gathered = self.parts.is_some_and(|parts| parts < SPREAD);
        let old = self.days.zip(as_of).is_some_and(|((_, newest), as_of)| as_of.0 - newest.0 > OLD);
        let step = usize::from(gathered || old);
        GRADES.get((by_wells - step).max(1)).copied().unwrap_or("thin")
    }
}

/// Of every area and analyte that has a value.
pub fn all(wells: &Wells, survey: &Survey, parts: &[Option<Parts>]) -> BTreeMap<(AreaId, AnalyteId), Evidence> {
    let groups: Vec<(AnalyteId, &[WellValue])> = survey.by_analyte().collect();
    let one = |(analyte, values): &(AnalyteId, &[WellValue])| {
        let areas = (0..).map(AreaId).zip(by_area(wells, values, parts));
        let known = areas.filter(|(_, evidence)| evidence.wells > 0);
        known.map(|(area, evidence)| ((area, *analyte), evidence)).collect::<Vec<_>>()
    };
    groups.par_iter().map(one).collect::<Vec<_>>().into_iter().flatten().collect()
}

/// Of one analyte, by area.
fn by_area(wells: &Wells, values: &[WellValue], parts: &[Option<Parts>]) -> Vec<Evidence> {
    let mut found = vec![(Evidence::default(), 0u16); wells.areas().len()];
    for value in values {
        let Some(area) = wells.area(value.well) else { continue };
        let Some((evidence, mask)) = found.get_mut(area.index()) else { continue };
        evidence.wells += 1;
        let (first, last) = evidence.days.unwrap_or((value.day, value.day));
        evidence.days = Some((first.min(value.day), last.max(value.day)));
        let cut = parts.get(area.index()).and_then(Option::as_ref);
        if let (Some(cut), Some(xy)) = (cut, wells.xy(value.well)) {
            *mask |= 1 << cut.at(xy);
            evidence.parts = Some(mask.count_ones());
        }
    }
    found.into_iter().map(|(evidence, _)| evidence).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gathered_or_old_wells_count_less() {
        let of = |wells, parts, newest| {
            Evidence { wells, days: Some((Day(0), Day(newest))), parts: Some(parts) }.grade(Some(Day(20_000)))
        };
        assert_eq!([of(40, 5, 19_000), of(40, 2, 19_000), of(40, 5, 10_000)], ["good", "fair", "fair"]);
        assert_eq!([of(12, 3, 19_000), of(12, 2, 19_000), of(4, 1, 10_000)], ["fair", "thin", "thin"]);
        assert_eq!(Evidence::default().grade(None), "none");
    }
}
