//! One analyte's values, by area and for the region.

use super::rows::Scope;
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::WellValue;
use crate::place::Wells;

/// A value and where its well lies.
#[derive(Clone, Copy, Debug)]
pub struct Member<'a> {
    /// The value.
    pub value: &'a WellValue,
    /// The well's area.
    pub area: AreaId,
}

/// One analyte's values, sorted by area and then well.
#[derive(Debug)]
pub struct Groups<'a> {
    /// Analyte.
    pub analyte: AnalyteId,
    members: Vec<Member<'a>>,
    /// Where each area's members start; one more than there are areas.
    starts: Vec<usize>,
}

impl<'a> Groups<'a> {
    /// Groups an analyte's values, which come by well. A value whose well lies in no area is not among them (there is none: such
    /// rows were set aside).
    pub fn new(analyte: AnalyteId, values: &'a [WellValue], wells: &Wells) -> Groups<'a> {
        let mut by_area: Vec<Vec<Member<'a>>> = vec![Vec::new(); wells.areas().len()];
        for value in values {
            let Some(area) = wells.area(value.well) else { continue };
            by_area.get_mut(area.index()).into_iter().for_each(|own| own.push(Member { value, area }));
        }
        let mut starts = vec![0];
        for own in &by_area {
            starts.push(starts.last().map_or(0, |start| start + own.len()));
        }
        Groups { analyte, members: by_area.concat(), starts }
    }

    /// How many areas there are, with or without members.
    pub fn area_count(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// The members of an area, or all of them.
    pub fn members(&self, scope: Scope) -> &[Member<'a>] {
        let Scope::Area(area) = scope else { return &self.members };
        let bounds = self.starts.get(area.index()).zip(self.starts.get(area.index() + 1));
        bounds.and_then(|(from, to)| self.members.get(*from..*to)).unwrap_or_default()
    }

    /// The region and then every area, in file order.
    pub fn scopes(&self) -> impl Iterator<Item = Scope> + use<> {
        let areas = u32::try_from(self.area_count()).unwrap_or(u32::MAX);
        std::iter::once(Scope::Region).chain((0..areas).map(|area| Scope::Area(AreaId(area))))
    }
}
