//! The dictionary, built from the embedded files, and the questions put to it. Files are read in the order
//! in which they lean on each other: units, bases, analytes, names, conversions, limits. Every look-up
//! afterwards is a hash or a short walk; callers keep one answer for each spelling.

use super::analytes::Analytes;
use super::bases::Bases;
use super::benchmarks::{self, Benchmark};
use super::columns::Columns;
use super::conversion::Conversion;
use super::fault::DictionaryFault;
use super::fractions::{self, Fractions, SampleFraction};
use super::in_force::Benchmarks;
use super::links::{self, Links};
use super::names::{NameOutcome, NameReading, Names};
use super::reach::{Reach, UnitFault};
use super::reasons::Reasons;
use super::sum_rules::{self, SumRule};
use super::table::Table;
use super::tables::Tables;
use super::unit_text;
use super::units::{Unit, UnitReading, Units};
use crate::ids::AnalyteId;

const UNITS: &str = include_str!("../../data-dictionary/units.csv");
const SPELLINGS: &str = include_str!("../../data-dictionary/unit-spellings.csv");
const ANALYTES: &str = include_str!("../../data-dictionary/analytes.csv");
const CONVERSIONS: &str = include_str!("../../data-dictionary/conversions.csv");
const SETS: &str = include_str!("../../data-dictionary/benchmark-sets.csv");
const SUM_RULES: &str = include_str!("../../data-dictionary/sum-rules.csv");
const BENCHMARKS: &str = include_str!("../../data-dictionary/benchmarks.csv");
const COLUMNS: &str = include_str!("../../data-dictionary/columns.csv");
const LINKS: &str = include_str!("../../data-dictionary/landuse-links.csv");
const FRACTIONS: &str = include_str!("../../data-dictionary/fraction-words.csv");
const REASONS: &str = include_str!("../../data-dictionary/reasons.csv");
const TABLES: &str = include_str!("../../data-dictionary/tables.csv");

/// Everything the program knows beforehand.
#[derive(Debug, Clone, Default)]
pub struct Dictionary {
    units: Units,
    bases: Bases,
    analytes: Analytes,
    names: Names,
    fractions: Fractions,
    reach: Reach,
    benchmarks: Benchmarks,
    links: Links,
    columns: Columns,
    reasons: Reasons,
    sum_rules: Vec<SumRule>,
    tables: Tables,
}

impl Dictionary {
    /// Reads the embedded files.
    ///
    /// # Errors
    /// The first fault, which only a mistake in `data-dictionary/` can cause.
    pub fn built_in() -> Result<Self, DictionaryFault> {
        let spellings = Table::read("unit-spellings.csv", SPELLINGS, &["spelling", "kind", "means"])?;
        let analytes = Table::read("analytes.csv", ANALYTES, &["analyte", "way_of", "synonyms"])?;
        let units = Table::read("units.csv", UNITS, &["unit", "kind", "mass_ratio"])?;
        let conversions = Table::read("conversions.csv", CONVERSIONS, &["from_unit", "to_unit", "factor", "family"])?;
        let columns = Table::read("columns.csv", COLUMNS, &["table", "column", "type", "unit", "meaning"])?;
        let reasons = Table::read("reasons.csv", REASONS, &["reason", "stage", "meaning", "what_would_help"])?;
        let tables = Table::read("tables.csv", TABLES, &["table", "title", "key", "meaning"])?;
        let fractions = Table::read("fraction-words.csv", FRACTIONS, &["word", "means"])?;
        let sets =
            Table::read("benchmark-sets.csv", SETS, &["benchmark_set", "name", "short_name", "issued_by", "meaning"])?;
        let units = Units::read(&units, &spellings)?;
        let bases = Bases::read(&spellings, &analytes)?;
        let analytes = Analytes::read(&analytes, &units, &bases)?;
        let mut dictionary = Self {
            names: Names::gather(&analytes, &bases),
            reach: Reach::read(&conversions, &units, &bases, &analytes)?,
            benchmarks: Benchmarks::of_sets(&sets),
            fractions: Fractions::read(&fractions)?,
            columns: Columns::read(&columns),
            reasons: Reasons::read(&reasons),
            tables: Tables::read(&tables),
            units,
            bases,
            analytes,
            links: Links::default(),
            sum_rules: Vec::new(),
        };
        dictionary.sum_rules = sum_rules::read(&dictionary, "sum-rules.csv", SUM_RULES)?;
        match dictionary.parse_benchmarks("benchmarks.csv", BENCHMARKS) {
            Ok(limits) => dictionary.add_benchmarks(limits),
            Err(faults) => faults.into_iter().next().map_or(Ok(()), Err)?,
        }
        match dictionary.parse_links("landuse-links.csv", LINKS) {
            Ok(links) => dictionary.set_links(links),
            Err(faults) => faults.into_iter().next().map_or(Ok(()), Err)?,
        }
        Ok(dictionary)
    }

    /// Which land uses speak for which tests.
    #[must_use]
    pub fn links(&self) -> &Links {
        &self.links
    }

    /// Reads a table of links with the columns of `landuse-links.csv`; `file` is its name in messages.
    ///
    /// # Errors
    /// Every fault, each with its line.
    pub fn parse_links(&self, file: &str, text: &str) -> Result<Links, Vec<DictionaryFault>> {
        links::read(self, file, text)
    }

    /// Puts a county's own links in the place of all that were known.
    pub fn set_links(&mut self, links: Links) {
        self.links = links;
    }

    /// Limits on sums and on sums of ratios: how each is computed.
    #[must_use]
    pub fn sum_rules(&self) -> &[SumRule] {
        &self.sum_rules
    }

    /// Which analyte a name means: id, display name, synonym or CAS number.
    #[must_use]
    pub fn resolve(&self, name: &str) -> NameOutcome {
        self.names.resolve(name, &self.analytes, &self.bases)
    }

    /// How like a name that is not known is to the spellings of the analyte with this id: 1 is the same, 0 nothing alike.
    #[must_use]
    pub fn likeness(&self, name: &str, id: &str) -> f64 {
        self.analytes.find(id).map_or(0.0, |id| self.names.likeness(name, id))
    }

    /// As [`Dictionary::resolve`], without looking for names like one that is not known; the basis may be missing.
    #[must_use]
    pub fn find_name(&self, name: &str) -> Option<NameReading> {
        self.names.find(name, &self.analytes, &self.bases)
    }

    /// As [`Dictionary::resolve`], of a heading that may end in its unit: "Arsenic (ug/L)", "Iron, mg/L".
    #[must_use]
    pub fn resolve_heading(&self, heading: &str) -> (NameOutcome, Option<UnitReading>) {
        let whole = self.resolve(heading);
        let cut = heading.rfind(['(', '[', ',']).and_then(|at| heading.split_at_checked(at));
        let (NameOutcome::Unknown { .. }, Some((name, rest))) = (&whole, cut) else {
            return (whole, None);
        };
        let unit = self.read_unit(rest.trim_matches(['(', '[', ',', ']', ')', ' ']));
        match (unit, self.resolve(name)) {
            (Err(_), _) | (_, NameOutcome::Unknown { .. }) => (whole, None),
            (Ok(unit), known) => (known, Some(unit)),
        }
    }

    /// What a unit text says.
    ///
    /// # Errors
    /// [`UnitFault::Unknown`], also for an empty text.
    pub fn read_unit(&self, text: &str) -> Result<UnitReading, UnitFault> {
        unit_text::read(&self.units, &self.bases, text).ok_or(UnitFault::Unknown)
    }

    /// From a reported unit and basis to the preferred unit and basis of `analyte`.
    ///
    /// # Errors
    /// [`UnitFault::DoesNotFit`] or [`UnitFault::BasisMissing`].
    pub fn factor(&self, analyte: AnalyteId, unit: &UnitReading) -> Result<Conversion, UnitFault> {
        let entry = self.analytes.get(analyte).ok_or(UnitFault::DoesNotFit)?;
        self.reach.find(analyte, entry, unit.unit, unit.basis)
    }

    /// As [`Dictionary::factor`], with the basis that the name states.
    ///
    /// # Errors
    /// As there; a name and a unit that state different bases are [`UnitFault::BasisMissing`].
    pub fn convert(&self, name: &NameReading, unit: &UnitReading) -> Result<Conversion, UnitFault> {
        let basis = unit.basis.or(name.basis);
        let change = self.factor(name.analyte, &UnitReading { basis, ..*unit })?;
        if unit.basis.is_some() && name.basis.is_some() && unit.basis != name.basis {
            return Err(UnitFault::BasisMissing);
        }
        Ok(change)
    }

    /// What the word of a column of sample fractions means.
    #[must_use]
    pub fn read_fraction(&self, text: &str) -> Option<SampleFraction> {
        self.fractions.find(text)
    }

    /// What a name means where the line states the sample fraction besides; `None` where the two contradict each
    /// other, or where the dictionary has no analyte for that fraction.
    #[must_use]
    pub fn of_fraction(&self, name: NameReading, said: SampleFraction) -> Option<NameReading> {
        fractions::apply(&self.analytes, name, said)
    }

    /// Whether an empty unit is no fault: pH has none, and bacteria may be plainly present or absent.
    #[must_use]
    pub fn unit_optional(&self, analyte: AnalyteId) -> bool {
        let entry = self.analytes.get(analyte);
        entry.is_some_and(|entry| entry.is_microbial() || self.units.kind(entry.preferred_unit) == "ph")
    }

    /// Whether a presence unit is written as a count without its volume.
    #[must_use]
    pub fn is_count(&self, unit: Unit) -> bool {
        self.units.name(unit) == "count"
    }

    /// The reading that stands for an empty unit where [`Dictionary::unit_optional`] holds: pH units, or
    /// presence alone for bacteria (so a bare number of bacteria is still of unknown unit).
    #[must_use]
    pub fn unit_when_empty(&self, analyte: AnalyteId) -> Option<UnitReading> {
        let entry = self.analytes.get(analyte).filter(|_| self.unit_optional(analyte))?;
        let unit = if entry.is_microbial() { self.units.named("present")? } else { entry.preferred_unit };
        Some(self.units.reading(unit, None))
    }

    /// The preferred unit with its basis, as a table prints it: "mg/L as N"; "mg/L" where the substance
    /// itself is meant.
    #[must_use]
    pub fn unit_text(&self, analyte: AnalyteId) -> String {
        let Some(entry) = self.analytes.get(analyte) else {
            return String::new();
        };
        format!("{} {}", self.units.name(entry.preferred_unit), entry.basis_text).trim().to_owned()
    }

    /// Reads a benchmark file with the columns of `benchmarks.csv`; `file` is its name in messages.
    ///
    /// # Errors
    /// Every fault, each with its line.
    pub fn parse_benchmarks(&self, file: &str, text: &str) -> Result<Vec<Benchmark>, Vec<DictionaryFault>> {
        benchmarks::read(self, file, text)
    }

    /// Takes limits in, a county's own for instance.
    pub fn add_benchmarks(&mut self, limits: Vec<Benchmark>) {
        self.benchmarks.add(limits, &self.analytes);
    }

    /// Analytes.
    #[must_use]
    pub fn analytes(&self) -> &Analytes {
        &self.analytes
    }

    /// Units.
    #[must_use]
    pub fn units(&self) -> &Units {
        &self.units
    }

    /// Bases.
    #[must_use]
    pub fn bases(&self) -> &Bases {
        &self.bases
    }

    /// Limits.
    #[must_use]
    pub fn benchmarks(&self) -> &Benchmarks {
        &self.benchmarks
    }

    /// Output columns.
    #[must_use]
    pub fn columns(&self) -> &Columns {
        &self.columns
    }

    /// Reasons.
    #[must_use]
    pub fn reasons(&self) -> &Reasons {
        &self.reasons
    }

    /// The texts of all output tables.
    #[must_use]
    pub fn tables(&self) -> &Tables {
        &self.tables
    }
}
