//! Wells with any health limit exceeded, among wells that were tested for the whole panel.
//!
//! A reader would question that only some wells take part: a well tested for three analytes has fewer chances to exceed than one tested
//! for thirty, so only wells with a value of every analyte of the panel are compared, and only by those. The panel is every analyte
//! that has a health limit and values for at least half of the sampled wells (common practice, no source).

use super::exceedance::judge;
use super::rows::Scope;
use crate::dictionary::{Benchmark, Dictionary, Effect};
use crate::ids::{AnalyteId, AreaId};
use crate::methods::exceedance::{Counts, Verdict};
use crate::per_well::{Survey, WellValue};
use crate::place::Wells;
use crate::plan::Plan;
use std::collections::BTreeSet;

/// How many wells exceed any health limit, in the region or an area.
#[derive(Clone, Debug, PartialEq)]
pub struct AnyHealthRow {
    /// Region or area.
    pub scope: Scope,
    /// Wells with a value of every analyte of the panel.
    pub wells: u32,
    /// Wells of these that exceed at least one health limit.
    pub exceeding: u32,
    /// Wells of these that exceed none for certain but could exceed one.
    pub undetermined: u32,
    /// exceeding / (wells - undetermined), as a share.
    pub rate: Option<f64>,
    /// Wilson interval of the rate.
    pub interval: Option<(f64, f64)>,
    /// Analytes of the panel.
    pub panel: Vec<AnalyteId>,
    /// Names the panel.
    pub note: String,
}

/// The region and then every area.
pub(super) fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    benchmarks: &[Benchmark],
) -> Vec<AnyHealthRow> {
    let health: Vec<&Benchmark> = benchmarks.iter().filter(|b| b.ranks && is_health(b.effect)).collect();
    let places: Vec<Option<AreaId>> = wells.ids().map(|well| wells.area(well)).collect();
    let verdicts = of_wells(&survey.values, &health, &places);
    let names = verdicts.panel.iter().map(|analyte| name(dictionary, *analyte));
    let note = note(&names.collect::<Vec<_>>());
    let areas = u32::try_from(wells.areas().len()).unwrap_or(u32::MAX);
    let scopes = std::iter::once(Scope::Region).chain((0..areas).map(|area| Scope::Area(AreaId(area))));
    let counts = verdicts.by_scope(&places, areas);
    let panel: Vec<AnalyteId> = verdicts.panel.iter().copied().collect();
    let row = |scope, counts| AnyHealthRow { panel: panel.clone(), ..row(scope, counts, plan.summary.interval, &note) };
    scopes.zip(counts).map(|(scope, counts)| row(scope, counts)).collect()
}

fn is_health(effect: Effect) -> bool {
    matches!(effect, Effect::AcuteHealth | Effect::ChronicHealth)
}

fn name(dictionary: &Dictionary, analyte: AnalyteId) -> String {
    let analytes = dictionary.analytes();
    analytes.get(analyte).map_or_else(|| analytes.id(analyte).to_owned(), |entry| entry.display_name.clone())
}

fn note(panel: &[String]) -> String {
    if panel.is_empty() {
        return "no analyte with a health limit has values for half of the sampled wells".to_owned();
    }
    format!("wells with a value of each of: {}", panel.join("; "))
}

fn row(scope: Scope, counts: Counts, level: f64, note: &str) -> AnyHealthRow {
    let small = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
    let rates = counts.rates(level);
    AnyHealthRow {
        scope,
        wells: small(counts.wells()),
        exceeding: small(counts.exceeding),
        undetermined: small(counts.undetermined),
        rate: rates.rate,
        interval: rates.low.zip(rates.high),
        panel: Vec::new(),
        note: note.to_owned(),
    }
}

/// The panel and the verdict on every well that has it whole.
#[derive(Debug, Default)]
struct Verdicts {
    panel: BTreeSet<AnalyteId>,
    /// By well.
    of_well: Vec<Option<Verdict>>,
}

impl Verdicts {
    /// The region and then every area.
    fn by_scope(&self, places: &[Option<AreaId>], areas: u32) -> Vec<Counts> {
        let mut scopes: Vec<Vec<Verdict>> = vec![Vec::new(); areas as usize + 1];
        for (verdict, area) in
            self.of_well.iter().zip(places).filter_map(|(verdict, area)| Some(((*verdict)?, (*area)?)))
        {
            for at in [0, area.index() + 1] {
                if let Some(scope) = scopes.get_mut(at) {
                    scope.push(verdict);
                }
            }
        }
        scopes.into_iter().map(Counts::of).collect()
    }
}

/// Values are sorted by analyte and then well; a well has at most one of an analyte.
fn of_wells(values: &[WellValue], health: &[&Benchmark], places: &[Option<AreaId>]) -> Verdicts {
    let placed = |value: &WellValue| places.get(value.well.index()).copied().flatten().is_some();
    let mut sampled = vec![false; places.len()];
    for value in values.iter().filter(|value| placed(value)) {
        if let Some(seen) = sampled.get_mut(value.well.index()) {
            *seen = true;
        }
    }
    let all = sampled.iter().filter(|seen| **seen).count();
    let groups = values.chunk_by(|a, b| a.analyte == b.analyte);
    let own = |analyte: AnalyteId| health.iter().filter(move |benchmark| benchmark.analyte == analyte);
    let in_panel = |group: &&[WellValue]| {
        let judged = group.first().is_some_and(|value| own(value.analyte).next().is_some());
        judged && 2 * group.iter().filter(|value| placed(value)).count() >= all
    };
    let panel: Vec<&[WellValue]> = groups.filter(in_panel).collect();
    let mut tally: Vec<(usize, Verdict)> = vec![(0, Verdict::Meeting); places.len()];
    for value in panel.iter().copied().flatten() {
        if let Some((tested, verdict)) = tally.get_mut(value.well.index()) {
            *tested += 1;
            *verdict = own(value.analyte).map(|b| judge(value.interval, b.kind)).fold(*verdict, worse);
        }
    }
    let whole = |(tested, verdict): (usize, Verdict)| (tested > 0 && tested == panel.len()).then_some(verdict);
    Verdicts {
        panel: panel.iter().filter_map(|group| Some(group.first()?.analyte)).collect(),
        of_well: tally.into_iter().map(whole).collect(),
    }
}

/// One exceedance is enough; short of that one doubt is enough.
fn worse(a: Verdict, b: Verdict) -> Verdict {
    let rank = |verdict: Verdict| match verdict {
        Verdict::Meeting => 0,
        Verdict::Undetermined => 1,
        Verdict::Exceeding => 2,
    };
    if rank(b) > rank(a) { b } else { a }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dictionary::BenchmarkKind;
    use crate::ids::{Day, Interval, WellId};
    use crate::plan::{Method, SampleKind};

    fn value(analyte: u16, well: u32, interval: Interval) -> WellValue {
        WellValue {
            analyte: AnalyteId(analyte),
            well: WellId(well),
            interval,
            day: Day(0),
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            estimated: false,
            newest: Day(0),
            results: 1,
            row: 0,
        }
    }

    fn limit(analyte: u16, limit: f64) -> Benchmark {
        Benchmark {
            set: "made-up".to_owned(),
            analyte: AnalyteId(analyte),
            lent_by: None,
            effect: Effect::ChronicHealth,
            kind: BenchmarkKind::Max { limit },
            printed: String::new(),
            effective: None,
            source: String::new(),
            checked: String::new(),
            note: String::new(),
            ranks: true,
        }
    }

    /// Six wells in two areas; analytes 0 and 1 are tested widely, 2 in two wells, 3 has no limit.
    fn made_up() -> (Vec<WellValue>, Vec<Benchmark>, Vec<Option<AreaId>>) {
        let mut values: Vec<WellValue> = (0..6).map(|well| value(0, well, Interval::Detect(f64::from(well)))).collect();
        values.extend(
            [0, 1, 2, 5]
                .map(|well| value(1, well, if well == 2 { Interval::Detect(20.0) } else { Interval::Below(1.0) })),
        );
        values.extend([0, 1].map(|well| value(2, well, Interval::Detect(100.0))));
        values.extend((0..6).map(|well| value(3, well, Interval::Detect(1.0))));
        let places = [0, 0, 0, 1, 1, 1].map(|area| Some(AreaId(area))).to_vec();
        (values, vec![limit(0, 4.5), limit(1, 10.0), limit(2, 1.0)], places)
    }

    #[test]
    fn wells_with_the_whole_panel_are_judged_by_it() {
        let (values, limits, places) = made_up();
        let health: Vec<&Benchmark> = limits.iter().collect();
        let found = of_wells(&values, &health, &places);
        assert_eq!(found.panel, BTreeSet::from([AnalyteId(0), AnalyteId(1)]));
        let counts = found.by_scope(&places, 2);
        let told: Vec<(u64, u64)> = counts.iter().map(|c| (c.wells(), c.exceeding)).collect();
        assert_eq!(told, [(4, 2), (3, 1), (1, 1)]);
    }

    #[test]
    fn one_doubt_leaves_a_well_open_and_one_exceedance_closes_it() {
        let (_, limits, places) = made_up();
        let health: Vec<&Benchmark> = limits.iter().take(2).collect();
        let mut values: Vec<WellValue> = (0..2).map(|well| value(0, well, Interval::Below(50.0))).collect();
        values.push(value(1, 0, Interval::Detect(1.0)));
        values.push(value(1, 1, Interval::Detect(11.0)));
        let counts = of_wells(&values, &health, &places).by_scope(&places, 2);
        assert_eq!(counts[0], Counts { exceeding: 1, meeting: 0, undetermined: 1 });
    }

    #[test]
    fn without_a_panel_there_is_a_note_and_no_rate() {
        let found = of_wells(&[], &[], &[Some(AreaId(0))]);
        let counts = found.by_scope(&[Some(AreaId(0))], 1);
        let row = row(Scope::Region, counts[0], 0.95, &note(&[]));
        assert_eq!((row.wells, row.rate), (0, None));
        assert!(row.note.starts_with("no analyte"));
    }
}
