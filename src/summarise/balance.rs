//! Major-ion analyses of one well and day: do the charges add up, and do dissolved solids agree with ions and conductivity?
//!
//! A reader would question non-detects: an ion that was not found stands once at zero and once at its limit, and a sample fails only
//! if it does so either way. Only samples with all of calcium, magnesium, sodium, alkalinity or bicarbonate, chloride, sulfate
//! and nitrate are tested; potassium, carbonate, fluoride and silica take part where they are known.

use super::quality::{Fact, row};
use super::rows::QualityRow;
use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, Day, Interval};
use crate::methods::chemistry::{Solute, bicarbonate_of_alkalinity, dissolved_solids, ion_balance};
use crate::per_well::{Candidate, better};
use crate::plan::{Choose, Method, SampleKind};
use rayon::prelude::*;

/// Imbalance, in percent of all charges, above which a sample is flagged, and strongly flagged (common practice, no source).
const FLAGGED: f64 = 5.0;
const STRONGLY: f64 = 10.0;
/// Measured solids over the sum of ions in a good analysis (Standard Methods 1030 E, from memory).
const SOLIDS_TO_SUM: [f64; 2] = [1.0, 1.2];
/// Measured solids in mg/L over conductivity in uS/cm in a good analysis (common practice, no source).
const SOLIDS_TO_CONDUCTIVITY: [f64; 2] = [0.55, 0.75];
/// Figures this near to an edge, relatively, are at it.
const AT_IT: f64 = 1e-9;

/// What a result is to a major-ion analysis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Ion(Solute),
    /// As CaCO3; stands for bicarbonate where that is not reported.
    Alkalinity,
    /// As N; stands for nitrate where that is not reported.
    NitrateNitrite,
    Solids,
    Conductivity,
}

/// Dictionary ids; each analyte's preferred unit there is mg/L, that of conductivity uS/cm.
const PARTS: [(&str, Part); 15] = [
    ("calcium", Part::Ion(Solute::Calcium)),
    ("magnesium", Part::Ion(Solute::Magnesium)),
    ("sodium", Part::Ion(Solute::Sodium)),
    ("potassium", Part::Ion(Solute::Potassium)),
    ("bicarbonate", Part::Ion(Solute::Bicarbonate)),
    ("carbonate", Part::Ion(Solute::Carbonate)),
    ("sulfate", Part::Ion(Solute::Sulfate)),
    ("chloride", Part::Ion(Solute::Chloride)),
    ("nitrate_as_n", Part::Ion(Solute::NitrateAsN)),
    ("fluoride", Part::Ion(Solute::Fluoride)),
    ("silica_as_sio2", Part::Ion(Solute::SilicaAsSio2)),
    ("alkalinity_as_caco3", Part::Alkalinity),
    ("nitrate_plus_nitrite_as_n", Part::NitrateNitrite),
    ("total_dissolved_solids", Part::Solids),
    ("conductivity", Part::Conductivity),
];

/// Which analytes are parts of a major-ion analysis.
#[derive(Debug, Default)]
pub(super) struct Ions(Vec<(AnalyteId, Part)>);

impl Ions {
    pub(super) fn of(dictionary: &Dictionary) -> Ions {
        let find = |(id, part): &(&str, Part)| Some((dictionary.analytes().find(id)?, *part));
        Ions(PARTS.iter().filter_map(find).collect())
    }

    /// The reading that a row gives; `None` for other analytes and for water that is not the well's own.
    pub(super) fn reading(&self, fact: &Fact) -> Option<Reading> {
        let (_, part) = self.0.iter().find(|(analyte, _)| *analyte == fact.analyte)?;
        let own = fact.is_sound()
            && matches!(fact.kind, SampleKind::Routine | SampleKind::AfterRepair | SampleKind::NoticedChange);
        own.then_some(Reading { well: fact.well, day: fact.day?, part: *part, interval: fact.interval, row: fact.row })
    }
}

/// One result of a major-ion analysis.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading {
    well: u32,
    day: Day,
    part: Part,
    interval: Interval,
    row: u64,
}

/// Which parts of an analysis there are in a survey at all, as bits in the order of `PARTS`. A nation's results of nitrate and chloride
/// alone would fill a gigabyte, for nothing where no sample has all ions.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Parts(u32);

impl Parts {
    pub(super) fn note(&mut self, reading: Reading) {
        self.0 |= Parts::bit(reading.part);
    }

    pub(super) fn join(&mut self, other: Parts) {
        self.0 |= other.0;
    }

    fn bit(part: Part) -> u32 {
        PARTS.iter().zip(0..).find(|((_, own), _)| *own == part).map_or(0, |(_, at)| 1 << at)
    }

    /// Whether a sample could have all that a test of it needs: see `complete`.
    pub(super) fn allow_a_test(self) -> bool {
        let any = |parts: &[Part]| parts.iter().any(|part| self.0 & Parts::bit(*part) != 0);
        let ions = [Solute::Calcium, Solute::Magnesium, Solute::Sodium, Solute::Chloride, Solute::Sulfate];
        let complete = ions.iter().all(|solute| any(&[Part::Ion(*solute)]))
            && any(&[Part::Ion(Solute::Bicarbonate), Part::Alkalinity])
            && any(&[Part::Ion(Solute::NitrateAsN), Part::NitrateNitrite]);
        complete || (any(&[Part::Solids]) && any(&[Part::Conductivity]))
    }
}

impl Reading {
    fn candidate(&self) -> Candidate {
        let Reading { row, day, interval, .. } = *self;
        Candidate { row, day, interval, kind: SampleKind::Routine, method: Method::Laboratory, estimated: false }
    }
}

/// What one sample's tests gave; `None` where it cannot be tested.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Outcome {
    flagged: Option<Test>,
    strongly: Option<Test>,
    sum: Option<Test>,
    conductivity: Option<Test>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Test {
    Passed,
    /// Passed or failed, depending on what the non-detects are.
    Either,
    Failed,
}

/// Where a figure that is known to lie from `low` to `high` stands to the edges of what is good.
fn test([low, high]: [f64; 2], good: [f64; 2]) -> Test {
    let below = |x: f64| x < good[0] - AT_IT * good[0].abs();
    let above = |x: f64| x > good[1] + AT_IT * good[1].abs();
    match () {
        () if below(high) || above(low) => Test::Failed,
        () if below(low) || above(high) => Test::Either,
        () => Test::Passed,
    }
}

/// The four checks.
pub(super) fn rows(mut readings: Vec<Reading>) -> Vec<QualityRow> {
    readings.par_sort_unstable_by_key(|reading| (reading.well, reading.day, reading.part, reading.row));
    let samples: Vec<&[Reading]> = readings.chunk_by(|a, b| (a.well, a.day) == (b.well, b.day)).collect();
    let outcomes: Vec<Outcome> = samples.par_iter().map(|sample| outcome(sample)).collect();
    let line = |check, subject, of: fn(&Outcome) -> Option<Test>, note: &str| {
        let tests: Vec<Test> = outcomes.iter().filter_map(of).collect();
        let count = |wanted| tests.iter().filter(|test| **test == wanted).count() as u64;
        let mut note = if tests.is_empty() { "no sample to test".to_owned() } else { note.to_owned() };
        if count(Test::Either) > 0 {
            note.push_str(&format!(
                "; {} could fail depending on their non-detects, and count as passed",
                count(Test::Either)
            ));
        }
        row(check, subject, tests.len() as u64, count(Test::Failed), &note)
    };
    let complete = "samples with all major ions";
    let charges =
        "failed: charges of cations and anions differ by more, in percent of their sum (common practice, no source)";
    vec![
        line("charge balance within 5 %", complete, |o| o.flagged, charges),
        line("charge balance within 10 %", complete, |o| o.strongly, charges),
        line(
            "dissolved solids agree with ions",
            "samples with all major ions and dissolved solids",
            |o| o.sum,
            "good: 1.0 to 1.2 times the sum of ions (Standard Methods 1030 E, from memory); more is usual where silica was not measured",
        ),
        line(
            "dissolved solids agree with conductivity",
            "samples with both",
            |o| o.conductivity,
            "good: 0.55 to 0.75 mg/L for each uS/cm (common practice, no source)",
        ),
    ]
}

/// One sample, whose readings are sorted by part.
fn outcome(sample: &[Reading]) -> Outcome {
    let best = |own: &[Reading]| {
        let standing = own.iter().map(Reading::candidate).reduce(|a, b| better(Choose::Latest, a, b))?;
        Some((own.first()?.part, standing.interval))
    };
    let parts: Vec<(Part, Interval)> = sample.chunk_by(|a, b| a.part == b.part).filter_map(best).collect();
    let find = |part: Part| parts.iter().find(|(own, _)| *own == part).map(|(_, interval)| *interval);
    let mut outcome = Outcome::default();
    let solids = find(Part::Solids).and_then(detected);
    if let Some((solids, conductivity)) = solids.zip(find(Part::Conductivity).and_then(detected)) {
        outcome.conductivity = Some(test([solids / conductivity; 2], SOLIDS_TO_CONDUCTIVITY));
    }
    let Some(ions) = complete(&find) else { return outcome };
    if let Some(percent) = imbalance(&ions) {
        outcome.flagged = Some(test(percent, [-FLAGGED, FLAGGED]));
        outcome.strongly = Some(test(percent, [-STRONGLY, STRONGLY]));
    }
    let sum = |at: fn(&Ion) -> f64| dissolved_solids(&at_end(&ions, at)).filter(|sum| *sum > 0.0);
    if let (Some(solids), Some(least), Some(most)) = (solids, sum(|ion| ion.low), sum(|ion| ion.high)) {
        outcome.sum = Some(test([solids / most, solids / least], SOLIDS_TO_SUM));
    }
    outcome
}

fn detected(interval: Interval) -> Option<f64> {
    match interval {
        Interval::Detect(x) if x > 0.0 => Some(x),
        _ => None,
    }
}

/// An ion between two concentrations, mg/L.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ion {
    solute: Solute,
    low: f64,
    high: f64,
}

impl Ion {
    /// `None` where the result has no upper end or is below zero.
    fn of(solute: Solute, interval: Interval) -> Option<Ion> {
        let (low, high) = (interval.low()?, interval.high()?);
        (low >= 0.0 && high.is_finite()).then_some(Ion { solute, low, high })
    }
}

/// All ions of a complete sample.
fn complete(find: &impl Fn(Part) -> Option<Interval>) -> Option<Vec<Ion>> {
    let ion = |solute: Solute| find(Part::Ion(solute)).and_then(|interval| Ion::of(solute, interval));
    let mut ions = Vec::with_capacity(11);
    for solute in [Solute::Calcium, Solute::Magnesium, Solute::Sodium, Solute::Chloride, Solute::Sulfate] {
        ions.push(ion(solute)?);
    }
    match ion(Solute::Bicarbonate) {
        Some(bicarbonate) => ions.extend([Some(bicarbonate), ion(Solute::Carbonate)].into_iter().flatten()),
        None => ions.push(of_alkalinity(find(Part::Alkalinity)?)?),
    }
    let nitrate = ion(Solute::NitrateAsN);
    ions.push(nitrate.or_else(|| Ion::of(Solute::NitrateAsN, find(Part::NitrateNitrite)?))?);
    ions.extend([Solute::Potassium, Solute::Fluoride, Solute::SilicaAsSio2].into_iter().filter_map(ion));
    Some(ions)
}

/// Alkalinity as bicarbonate: the charge is the same whatever its share of carbonate.
fn of_alkalinity(interval: Interval) -> Option<Ion> {
    let ion = Ion::of(Solute::Bicarbonate, interval)?;
    Some(Ion { low: bicarbonate_of_alkalinity(ion.low), high: bicarbonate_of_alkalinity(ion.high), ..ion })
}

fn at_end(ions: &[Ion], at: impl Fn(&Ion) -> f64) -> Vec<(Solute, f64)> {
    ions.iter().map(|ion| (ion.solute, at(ion))).collect()
}

/// The least and the most that the imbalance can be, in percent.
fn imbalance(ions: &[Ion]) -> Option<[f64; 2]> {
    let cation = |ion: &Ion| ion.solute.mass_and_charge().1 > 0;
    let least = at_end(ions, |ion| if cation(ion) { ion.low } else { ion.high });
    let most = at_end(ions, |ion| if cation(ion) { ion.high } else { ion.low });
    Some([ion_balance(&least)?.percent, ion_balance(&most)?.percent])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(part: Part, interval: Interval) -> Reading {
        Reading { well: 1, day: Day(0), part, interval, row: 0 }
    }

    /// Sample 2 of US Geological Survey WRIR 02-4045, Table 4: dissolved solids 4020 mg/L; nitrate is not in the table.
    fn printed() -> Vec<Reading> {
        let ions = [
            (Solute::Calcium, 550.0),
            (Solute::Magnesium, 280.0),
            (Solute::Sodium, 270.0),
            (Solute::Potassium, 14.0),
            (Solute::Bicarbonate, 326.0),
            (Solute::Chloride, 18.0),
            (Solute::Sulfate, 2700.0),
            (Solute::Fluoride, 0.3),
            (Solute::SilicaAsSio2, 17.0),
        ];
        let mut all: Vec<Reading> = ions.map(|(solute, mg)| reading(Part::Ion(solute), Interval::Detect(mg))).to_vec();
        all.push(reading(Part::Ion(Solute::NitrateAsN), Interval::Below(0.05)));
        all
    }

    fn with(changes: &[(Part, Interval)]) -> Outcome {
        let mut all = printed();
        for (part, interval) in changes {
            all.retain(|reading| reading.part != *part);
            all.push(reading(*part, *interval));
        }
        all.sort_unstable_by_key(|reading| reading.part);
        outcome(&all)
    }

    #[test]
    fn a_printed_analysis_balances() {
        let found = with(&[(Part::Solids, Interval::Detect(4020.0))]);
        assert_eq!((found.flagged, found.strongly), (Some(Test::Passed), Some(Test::Passed)));
        assert_eq!((found.sum, found.conductivity), (Some(Test::Passed), None));
        assert_eq!(with(&[]).sum, None);
    }

    /// Parts are enough for a test just where an analysis of them has an outcome.
    #[test]
    fn what_no_sample_can_have_is_not_gathered() {
        let allowed = |all: &[Reading]| {
            let mut parts = Parts::default();
            all.iter().for_each(|reading| parts.note(*reading));
            parts.allow_a_test()
        };
        let mut all = printed();
        all.sort_unstable_by_key(|reading| reading.part);
        assert!(allowed(&all) && !allowed(&[]));
        for left_out in 0..all.len() {
            let mut rest = all.clone();
            rest.remove(left_out);
            assert_eq!(allowed(&rest), outcome(&rest).flagged.is_some(), "without {:?}", all[left_out].part);
        }
        let solids = reading(Part::Solids, Interval::Detect(400.0));
        let both = [solids, reading(Part::Conductivity, Interval::Detect(600.0))];
        assert!(!allowed(&[solids]) && allowed(&both) && outcome(&both).conductivity.is_some());
    }

    #[test]
    fn a_lost_ion_is_flagged_and_a_missing_one_not_tested() {
        // Of some 119 meq/L, 6.2 are lost with 300 mg/L of sulfate (5.3 %) and 16.7 with 800 mg/L (15 %).
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Detect(2400.0))]).flagged, Some(Test::Failed));
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Detect(2400.0))]).strongly, Some(Test::Passed));
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Detect(1900.0))]).strongly, Some(Test::Failed));
        let few: Vec<Reading> = printed().into_iter().filter(|r| r.part != Part::Ion(Solute::Sodium)).collect();
        assert_eq!(outcome(&few), Outcome::default());
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Above(100.0))]), Outcome::default());
    }

    #[test]
    fn a_high_limit_can_go_either_way() {
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Below(2700.0))]).flagged, Some(Test::Either));
        assert_eq!(with(&[(Part::Ion(Solute::Sulfate), Interval::Below(500.0))]).flagged, Some(Test::Failed));
    }

    #[test]
    fn alkalinity_stands_for_bicarbonate() {
        let mut all: Vec<Reading> =
            printed().into_iter().filter(|r| r.part != Part::Ion(Solute::Bicarbonate)).collect();
        // 326 mg/L of HCO3 are 267.4 of CaCO3.
        all.push(reading(Part::Alkalinity, Interval::Detect(267.4)));
        all.sort_unstable_by_key(|reading| reading.part);
        assert_eq!(outcome(&all).flagged, Some(Test::Passed));
    }

    #[test]
    fn solids_against_conductivity() {
        let at = |solids| {
            let sample = [
                reading(Part::Solids, Interval::Detect(solids)),
                reading(Part::Conductivity, Interval::Detect(1000.0)),
            ];
            outcome(&sample).conductivity
        };
        assert_eq!([550.0, 750.0].map(at), [Some(Test::Passed); 2]);
        assert_eq!([540.0, 760.0].map(at), [Some(Test::Failed); 2]);
    }

    #[test]
    fn samples_are_kept_apart_by_well_and_day() {
        let other = |well, day| printed().into_iter().map(move |r| Reading { well, day: Day(day), ..r });
        let mut all = printed();
        all.extend(other(1, 1));
        all.extend(other(2, 0));
        all.extend(other(3, 0).filter(|r| r.part != Part::Ion(Solute::Calcium)));
        let rows = rows(all);
        assert_eq!(
            rows.iter().map(|row| (row.tested, row.failed)).collect::<Vec<_>>(),
            [(3, 0), (3, 0), (0, 0), (0, 0)]
        );
    }
}
