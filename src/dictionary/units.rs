//! Units without their basis, and what one spelling of a unit says. Turns unit text into a
//! [`UnitReading`]; how the text is cut is in `unit_text`. Spellings are compared first as written, then
//! folded: only the first can tell MBq/L from mBq/L.

use rustc_hash::FxHashMap;

use super::bases::Basis;
use super::fault::DictionaryFault;
use super::fold::unit_key;
use super::table::Table;

/// A unit, as a number in [`Units`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Unit(pub(super) u16);

/// What a unit text says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct UnitReading {
    /// The unit, without basis.
    pub unit: Unit,
    /// The basis the text states ("mg/L as N"), if any.
    pub basis: Option<Basis>,
    /// A mass ratio (ppm, ppb, mg/kg) taken as mass in a litre; the report says so.
    pub mass_ratio: bool,
    /// Only present or absent was reported: the value is no number.
    pub presence: bool,
}

/// One unit, described.
#[derive(Debug, Clone)]
pub(super) struct UnitEntry {
    pub(super) name: String,
    pub(super) kind: String,
    pub(super) mass_ratio: bool,
    pub(super) meaning: String,
    pub(super) spellings: Vec<String>,
}

/// All units and their spellings.
#[derive(Debug, Clone, Default)]
pub struct Units {
    pub(super) entries: Vec<UnitEntry>,
    by_name: FxHashMap<String, Unit>,
    as_written: FxHashMap<String, Unit>,
    folded: FxHashMap<String, Unit>,
}

impl Units {
    /// Reads `units.csv` and the spellings of kind `unit`.
    pub(super) fn read(units: &Table, spellings: &Table) -> Result<Self, DictionaryFault> {
        let mut all = Self::default();
        for row in units.rows() {
            let place = u16::try_from(all.entries.len());
            let unit = place.map(Unit).map_err(|_| row.fault("unit", "at most 65536 units can be told apart"))?;
            all.entries.push(UnitEntry {
                name: row.owned("unit"),
                kind: row.owned("kind"),
                mass_ratio: row.yes("mass_ratio")?,
                meaning: row.owned("meaning"),
                spellings: Vec::new(),
            });
            if all.by_name.insert(row.owned("unit"), unit).is_some() {
                return Err(row.fault("unit", "list each unit once"));
            }
        }
        for row in spellings.rows().filter(|row| row.cell("kind") == "unit") {
            let unit = all.by_name.get(row.cell("means")).copied();
            let unit = unit.ok_or_else(|| row.fault("means", "name a unit of units.csv"))?;
            all.spell(row.cell("spelling"), unit)
                .map_err(|_| row.fault("spelling", "this spelling stands for another unit already"))?;
        }
        Ok(all)
    }

    /// The unit of this exact name.
    #[must_use]
    pub fn named(&self, name: &str) -> Option<Unit> {
        self.by_name.get(name).copied()
    }

    /// The name of a unit, as outputs print it.
    #[must_use]
    pub fn name(&self, unit: Unit) -> &str {
        self.entry(unit).map_or("", |entry| entry.name.as_str())
    }

    /// What a unit measures: mass, activity, count, presence, ph, conductivity, ...
    #[must_use]
    pub fn kind(&self, unit: Unit) -> &str {
        self.entry(unit).map_or("", |entry| entry.kind.as_str())
    }

    /// All units with their names, in the order of the file.
    pub fn iter(&self) -> impl Iterator<Item = (Unit, &str)> {
        let names = self.entries.iter().map(|entry| entry.name.as_str());
        (0u16..).map(Unit).zip(names)
    }

    /// The reading of a unit with the given basis.
    #[must_use]
    pub fn reading(&self, unit: Unit, basis: Option<Basis>) -> UnitReading {
        UnitReading {
            unit,
            basis,
            mass_ratio: self.entry(unit).is_some_and(|entry| entry.mass_ratio),
            presence: self.kind(unit) == "presence",
        }
    }

    /// The unit a text without basis spells.
    pub(super) fn spelled(&self, text: &str) -> Option<Unit> {
        let trimmed = text.trim();
        let exact = self.as_written.get(trimmed);
        exact.or_else(|| self.folded.get(&unit_key(trimmed))).copied()
    }

    fn entry(&self, unit: Unit) -> Option<&UnitEntry> {
        self.entries.get(usize::from(unit.0))
    }

    /// Two units may fold alike when they differ in capitals; then each is found only as written.
    fn spell(&mut self, spelling: &str, unit: Unit) -> Result<(), ()> {
        if let Some(entry) = self.entries.get_mut(usize::from(unit.0)) {
            entry.spellings.push(spelling.to_owned());
        }
        let known = self.as_written.insert(spelling.to_owned(), unit);
        if known.is_some_and(|known| known != unit) {
            return Err(());
        }
        self.folded.entry(unit_key(spelling)).or_insert(unit);
        Ok(())
    }
}
