//! quality.csv: checks of the survey's own data, each with how many failed.
//!
//! The table is published as it stands, so a subject is an analyte, a land use or a whole, never a well, sample or file.
//! Two walks over the ledger feed the checks of the laboratories' work: the first takes what is rare, the second the results that those
//! are held against, and the major-ion analyses if the survey has any.

use super::rows::{QualityRow, Scope};
use super::{Findings, balance, blanks, duplicates};
use crate::dictionary::Dictionary;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::normalise::Row;
use crate::per_well::{Candidate, Ledger, Survey};
use crate::place::Wells;
use crate::plan::{CoarseWells, Method, Plan, SampleKind};
use crate::problem::Problem;

/// Every check, in a fixed order.
///
/// # Errors
/// A disk that fails.
pub fn quality(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> Result<Vec<QualityRow>, Problem> {
    let located = wells.ids().filter(|well| wells.xy(*well).is_some()).count() as u64;
    let placed = wells.ids().filter(|well| wells.area(*well).is_some()).count() as u64;
    let listed = wells.len() as u64;
    let accounting = &survey.accounting;
    let mut rows = vec![
        row(
            "results usable",
            "results that are no repeats",
            accounting.first_results(),
            accounting.first_results().saturating_sub(accounting.used()),
            "set aside: see the accounting; repeats left out",
        ),
        row(
            "location usable",
            "listed wells",
            listed,
            listed - located,
            "missing, impossible or contradictory coordinates",
        ),
        row("inside an area", "wells with a location", located, located - placed, "no area holds them"),
    ];
    for (number, land_use) in plan.land_use.iter().enumerate() {
        let note = match land_use.coarse_wells {
            CoarseWells::LeaveOut => "location too coarse for this measure: left out of its comparison",
            CoarseWells::Average => "location too coarse for this measure: the average over its disc is compared",
        };
        rows.push(row("location fine enough", &land_use.name, located, wells.coarse(number), note));
    }
    rows.extend(limits_low_enough(plan, dictionary, findings));
    rows.extend(laboratory_checks(plan, dictionary, &survey.ledger)?);
    Ok(rows)
}

pub(super) fn row(check: &'static str, subject: &str, tested: u64, failed: u64, note: &str) -> QualityRow {
    QualityRow { check, subject: subject.to_owned(), analyte: None, tested, failed, note: note.to_owned() }
}

/// Wells whose result allows both: their laboratory could not see as low as the limit.
fn limits_low_enough(plan: &Plan, dictionary: &Dictionary, findings: &Findings) -> Vec<QualityRow> {
    let region = findings.exceedance.iter().filter(|row| row.scope == Scope::Region && row.undetermined > 0);
    region
        .filter(|r| r.wells >= plan.smallest_group)
        .map(|r| {
            let subject = format!("{} against {} ({})", dictionary.analytes().id(r.analyte), r.set, r.effect);
            let note = "the result allows both: detection limit above the benchmark, or no number";
            QualityRow {
                analyte: Some(r.analyte),
                ..row("result tells the side of the limit", &subject, r.wells.into(), r.undetermined.into(), note)
            }
        })
        .collect()
}

/// What the checks of the laboratories' work need of a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fact {
    /// Number in the ledger.
    pub(super) row: u64,
    /// The laboratory: the `[[results]]` of the plan.
    pub(super) part: usize,
    /// Place in the well list; `u32::MAX` where the well is unknown.
    pub(super) well: u32,
    pub(super) analyte: AnalyteId,
    pub(super) interval: Interval,
    pub(super) day: Option<Day>,
    pub(super) kind: SampleKind,
    pub(super) method: Method,
    pub(super) estimated: bool,
    pub(super) reason: Option<Reason>,
}

impl Fact {
    fn of(row: &Row, number: u64, part: usize) -> Option<Fact> {
        Some(Fact {
            row: number,
            part,
            well: row.well,
            analyte: row.analyte?,
            interval: row.interval?,
            day: row.day,
            kind: row.kind,
            method: row.method,
            estimated: row.estimated,
            reason: row.reason,
        })
    }

    /// Whether it is a laboratory's good result for water of a listed well, wherever the well lies.
    pub(super) fn is_sound(&self) -> bool {
        let sound = matches!(self.reason, None | Some(Reason::Repeat | Reason::NoLocation | Reason::OutsideAreas));
        sound && self.well != u32::MAX && self.method == Method::Laboratory
    }

    /// The same as one that could stand for its well; `None` without a day.
    pub(super) fn candidate(&self) -> Option<Candidate> {
        let Fact { row, interval, kind, method, estimated, .. } = *self;
        Some(Candidate { row, day: self.day?, interval, kind, method, estimated })
    }
}

/// How an analyte's results may be held against each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scale {
    /// Found or not.
    Bacteria,
    /// An amount.
    Amount,
    /// A reading such as pH or temperature: no share of it means anything, and clean water has one too.
    Reading,
}

/// The scales of all analytes.
#[derive(Debug)]
pub(super) struct Scales(pub(super) Vec<Scale>);

impl Scales {
    fn of(dictionary: &Dictionary) -> Scales {
        let scale = |entry: &crate::dictionary::Analyte| match entry.group.as_str() {
            _ if entry.is_microbial() => Scale::Bacteria,
            "field" => Scale::Reading,
            _ => Scale::Amount,
        };
        Scales(dictionary.analytes().iter().map(|(_, entry)| scale(entry)).collect())
    }

    pub(super) fn get(&self, analyte: AnalyteId) -> Scale {
        self.0.get(analyte.index()).copied().unwrap_or(Scale::Reading)
    }
}

/// Duplicates, blanks and major-ion analyses.
fn laboratory_checks(plan: &Plan, dictionary: &Dictionary, ledger: &Ledger) -> Result<Vec<QualityRow>, Problem> {
    let scales = Scales::of(dictionary);
    let ions = balance::Ions::of(dictionary);
    let rare = walk(ledger, |facts| Rare::of(facts, &scales, &ions), Rare::join)?;
    let (keys, tainted) = (duplicates::keys(&rare.duplicates), blanks::Tainted::of(&rare.blanks));
    let analyses = rare.parts.allow_a_test();
    let held = walk(
        ledger,
        |facts| {
            let mut held = Held::default();
            for fact in facts {
                if duplicates::is_partner(&fact, &keys) {
                    held.partners.push(fact);
                }
                tainted.judge(&fact, &scales, &mut held.near_blanks);
                held.readings.extend(ions.reading(&fact).filter(|_| analyses));
            }
            held
        },
        Held::join,
    )?;
    let name = |analyte| dictionary.analytes().id(analyte).to_owned();
    let mut rows = duplicates::rows(&rare.duplicates, &held.partners, &scales, plan.smallest_group, &name);
    rows.extend(blanks::rows(&rare.blanks, &held.near_blanks, plan.smallest_group, &name));
    rows.extend(balance::rows(held.readings));
    Ok(rows)
}

/// What the first walk keeps.
#[derive(Debug, Default)]
struct Rare {
    duplicates: Vec<Fact>,
    blanks: Vec<Fact>,
    /// Of major-ion analyses: what there is of them at all.
    parts: balance::Parts,
}

impl Rare {
    fn of(facts: impl Iterator<Item = Fact>, scales: &Scales, ions: &balance::Ions) -> Rare {
        let mut rare = Rare::default();
        for fact in facts {
            ions.reading(&fact).into_iter().for_each(|reading| rare.parts.note(reading));
            match fact.kind {
                SampleKind::Duplicate if duplicates::is_duplicate(&fact, scales) => rare.duplicates.push(fact),
                SampleKind::Blank if blanks::is_blank(&fact, scales) => rare.blanks.push(fact),
                _ => {}
            }
        }
        rare
    }

    fn join(mut self, other: Rare) -> Rare {
        self.duplicates.extend(other.duplicates);
        self.blanks.extend(other.blanks);
        self.parts.join(other.parts);
        self
    }
}

/// What the second walk keeps.
#[derive(Debug, Default)]
struct Held {
    partners: Vec<Fact>,
    near_blanks: blanks::Counts,
    /// Of major-ion analyses.
    readings: Vec<balance::Reading>,
}

impl Held {
    fn join(mut self, other: Held) -> Held {
        self.partners.extend(other.partners);
        blanks::add(&mut self.near_blanks, &other.near_blanks);
        self.readings.extend(other.readings);
        self
    }
}

/// Walks the blocks in parallel and puts what they gave together in their order.
fn walk<T: Default + Send>(
    ledger: &Ledger,
    take: impl Fn(&mut dyn Iterator<Item = Fact>) -> T + Sync,
    join: impl Fn(T, T) -> T,
) -> Result<T, Problem> {
    let parts = ledger.map(|start, block| {
        let numbered = block.rows.iter().zip(start..);
        take(&mut numbered.filter_map(|(row, number)| Fact::of(row, number, block.file.part)))
    })?;
    Ok(parts.into_iter().fold(T::default(), join))
}

#[cfg(test)]
pub(super) mod made_up {
    use super::*;

    /// A laboratory's routine result of well 1 on day 0.
    pub(in crate::summarise) fn routine(analyte: u16, interval: Interval) -> Fact {
        Fact {
            row: 0,
            part: 0,
            well: 1,
            analyte: AnalyteId(analyte),
            interval,
            day: Some(Day(0)),
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            estimated: false,
            reason: None,
        }
    }

    /// Its duplicate.
    pub(in crate::summarise) fn duplicate(analyte: u16, interval: Interval) -> Fact {
        Fact { kind: SampleKind::Duplicate, reason: Some(Reason::Repeat), ..routine(analyte, interval) }
    }

    /// A blank of the same day and laboratory.
    pub(in crate::summarise) fn blank(analyte: u16, interval: Interval) -> Fact {
        Fact { kind: SampleKind::Blank, reason: Some(Reason::Blank), well: u32::MAX, ..routine(analyte, interval) }
    }

    /// Analyte 0 is a kind of bacteria, 1 and 2 are amounts, 3 is a reading.
    pub(in crate::summarise) fn scales() -> Scales {
        Scales(vec![Scale::Bacteria, Scale::Amount, Scale::Amount, Scale::Reading])
    }
}
