//! Limits. Turns rows of `benchmarks.csv`, or of a county's own file with the same columns, into
//! [`Benchmark`]s whose limit stands in the analyte's preferred unit and basis. A limit printed as NO3
//! becomes one of nitrate as N; the printed figure is kept beside it, digit for digit.

use chrono::NaiveDate;

use crate::ids::AnalyteId;

use super::built_in::Dictionary;
use super::fault::DictionaryFault;
use super::names::{NameOutcome, NameReading};
use super::table::{Row, Table};
use super::units::UnitReading;

/// What a limit guards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effect {
    /// Harm after days.
    AcuteHealth,
    /// Harm after years.
    ChronicHealth,
    /// Taste, smell, stains.
    Aesthetic,
    /// Pipes and fittings.
    Infrastructure,
}

impl Effect {
    /// As files print it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::AcuteHealth => "acute-health",
            Self::ChronicHealth => "chronic-health",
            Self::Aesthetic => "aesthetic",
            Self::Infrastructure => "infrastructure",
        }
    }
}

/// What a limit asks, in the analyte's preferred unit and basis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BenchmarkKind {
    /// At most this.
    Max {
        /// The limit.
        limit: f64,
    },
    /// From low to high; an open side is infinite.
    Range {
        /// The lower limit.
        low: f64,
        /// The upper limit.
        high: f64,
    },
    /// Not to be found at all.
    Absent,
}

impl BenchmarkKind {
    /// The upper limit: 0 for absent, `None` for a range without one.
    #[must_use]
    pub fn limit(self) -> Option<f64> {
        match self {
            Self::Max { limit } => Some(limit),
            Self::Range { high, .. } => Some(high).filter(|high| high.is_finite()),
            Self::Absent => Some(0.0),
        }
    }

    /// The lower limit of a range.
    #[must_use]
    pub fn limit_low(self) -> Option<f64> {
        match self {
            Self::Range { low, .. } => Some(low).filter(|low| low.is_finite()),
            Self::Max { .. } | Self::Absent => None,
        }
    }

    pub(super) fn same_sense(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Benchmark {
    /// Id of the set it belongs to.
    pub set: String,
    /// What it judges.
    pub analyte: AnalyteId,
    /// The analyte whose limit this is, where it is lent to a close relative.
    pub lent_by: Option<AnalyteId>,
    /// What it guards.
    pub effect: Effect,
    /// What it asks.
    pub kind: BenchmarkKind,
    /// Limit, unit and basis as its source prints them; both ends of a range.
    pub printed: String,
    /// First day in force; `None` for one that never was (a proposal).
    pub effective: Option<NaiveDate>,
    /// Where it is published.
    pub source: String,
    /// `published-text` or `memory`.
    pub checked: String,
    /// What to know besides.
    pub note: String,
    /// Whether passing it makes a well one "over a health limit" in rankings and advice. Not so for limits made for
    /// some people only (sodium-restricted diets) or not for health at all (the EU's one figure for all pesticides).
    pub ranks: bool,
}

/// Columns a benchmark file must have.
const REQUIRED: [&str; 7] = ["benchmark_set", "analyte", "limit", "unit", "sense", "effect", "effective"];

/// Reads a benchmark file: every row, or every fault.
pub(super) fn read(dictionary: &Dictionary, file: &str, text: &str) -> Result<Vec<Benchmark>, Vec<DictionaryFault>> {
    let table = Table::read(file, text, &REQUIRED).map_err(|fault| vec![fault])?;
    let (mut all, mut faults) = (Vec::new(), Vec::new());
    for row in table.rows() {
        match benchmark(dictionary, row) {
            Ok(benchmark) => merge(&mut all, benchmark),
            Err(fault) => faults.push(fault),
        }
    }
    if faults.is_empty() { Ok(all) } else { Err(faults) }
}

fn benchmark(dictionary: &Dictionary, row: Row<'_>) -> Result<Benchmark, DictionaryFault> {
    let name = analyte(dictionary, row)?;
    let unit = unit(dictionary, row, &name)?;
    let fault = || row.fault("unit", "a unit that fits the analyte, with its basis where it needs one");
    let change = dictionary.convert(&name, &unit).map_err(|_| fault())?;
    let printed = row.number("limit")?.ok_or_else(|| row.fault("limit", "a number"))?;
    Ok(Benchmark {
        set: row.optional("benchmark_set").ok_or_else(|| row.fault("benchmark_set", "an id such as county"))?,
        analyte: name.analyte,
        lent_by: None,
        effect: effect(row)?,
        kind: kind(row, change.apply(printed))?,
        printed: printed_text(row),
        effective: effective(row)?,
        source: row.owned("source"),
        checked: row.owned("checked"),
        note: row.owned("note"),
        ranks: row.cell("in_health_ranking") != "no",
    })
}

pub(super) fn analyte(dictionary: &Dictionary, row: Row<'_>) -> Result<NameReading, DictionaryFault> {
    match dictionary.resolve(row.cell("analyte")) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => Ok(reading),
        NameOutcome::Unknown { nearest } if nearest.is_empty() => {
            Err(row.fault("analyte", "an analyte of the dictionary"))
        }
        NameOutcome::Unknown { nearest } => Err(row.fault("analyte", &format!("perhaps {}", nearest.join(", ")))),
    }
}

/// The unit with the basis of its own column, if that states one.
pub(super) fn unit(dictionary: &Dictionary, row: Row<'_>, name: &NameReading) -> Result<UnitReading, DictionaryFault> {
    let unit = dictionary.read_unit(row.cell("unit")).map_err(|_| row.fault("unit", "a unit of the dictionary"))?;
    let text = row.cell("basis");
    if text.is_empty() {
        return Ok(UnitReading { basis: unit.basis.or(name.basis), ..unit });
    }
    let basis = dictionary.bases().find(text).ok_or_else(|| row.fault("basis", "a basis such as \"as N\""))?;
    Ok(UnitReading { basis: Some(basis), ..unit })
}

fn effect(row: Row<'_>) -> Result<Effect, DictionaryFault> {
    let all = [Effect::AcuteHealth, Effect::ChronicHealth, Effect::Aesthetic, Effect::Infrastructure];
    let found = all.into_iter().find(|effect| effect.as_str() == row.cell("effect"));
    found.ok_or_else(|| row.fault("effect", "acute-health, chronic-health, aesthetic or infrastructure"))
}

fn kind(row: Row<'_>, limit: f64) -> Result<BenchmarkKind, DictionaryFault> {
    match row.cell("sense") {
        "max" => Ok(BenchmarkKind::Max { limit }),
        "range-low" => Ok(BenchmarkKind::Range { low: limit, high: f64::INFINITY }),
        "range-high" => Ok(BenchmarkKind::Range { low: f64::NEG_INFINITY, high: limit }),
        "absent" if limit == 0.0 => Ok(BenchmarkKind::Absent),
        "absent" => Err(row.fault("limit", "0 where the sense is absent")),
        _ => Err(row.fault("sense", "max, range-low, range-high or absent")),
    }
}

fn printed_text(row: Row<'_>) -> String {
    let parts = [row.cell("limit"), row.cell("unit"), row.cell("basis")];
    let filled: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    filled.join(" ")
}

/// A day, or a year standing for its first day, or nothing.
fn effective(row: Row<'_>) -> Result<Option<NaiveDate>, DictionaryFault> {
    let text = row.cell("effective");
    if text.is_empty() {
        return Ok(None);
    }
    let whole = if text.len() == 4 { format!("{text}-01-01") } else { text.to_owned() };
    match NaiveDate::parse_from_str(&whole, "%Y-%m-%d") {
        Ok(day) => Ok(Some(day)),
        Err(_) => Err(row.fault("effective", "a day as 2027-11-01, a year as 2027, or nothing while not in force")),
    }
}

/// The two ends of a range stand on two rows and are one benchmark.
fn merge(all: &mut Vec<Benchmark>, new: Benchmark) {
    let partner = all.iter_mut().find(|old| same_range(old, &new));
    match (partner, new.kind) {
        (Some(old), BenchmarkKind::Range { low, high }) => {
            let (was_low, was_high) = (old.kind.limit_low(), old.kind.limit());
            old.kind = BenchmarkKind::Range { low: was_low.unwrap_or(low), high: was_high.unwrap_or(high) };
            old.printed = format!("{} to {}", old.printed, new.printed);
            old.note =
                [old.note.as_str(), if old.note == new.note { "" } else { &new.note }].join(" ").trim().to_owned();
        }
        _ => all.push(new),
    }
}

fn same_range(old: &Benchmark, new: &Benchmark) -> bool {
    let key = |b: &Benchmark| (b.set.clone(), b.analyte, b.effect, b.effective);
    let (BenchmarkKind::Range { low, high }, BenchmarkKind::Range { low: new_low, high: new_high }) =
        (old.kind, new.kind)
    else {
        return false;
    };
    let complete = (low.is_finite() && new_high.is_finite() && high.is_infinite())
        || (high.is_finite() && new_low.is_finite() && low.is_infinite());
    complete && key(old) == key(new)
}
