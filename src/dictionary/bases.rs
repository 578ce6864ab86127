//! Bases: what a mass is counted as (nitrate *as N* or *as NO3*), and at which temperature a conductance
//! stands. Turns spellings into a [`Basis`]. The list is gathered from the files themselves, so a basis
//! that nothing uses cannot be read.

use rustc_hash::FxHashMap;

use super::fault::DictionaryFault;
use super::fold::{compact, words};
use super::table::{Row, Table};

/// A basis, as a number in [`Bases`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Basis(pub(super) u16);

/// All bases and their spellings.
#[derive(Debug, Clone, Default)]
pub struct Bases {
    names: Vec<String>,
    spellings: FxHashMap<String, Basis>,
}

impl Bases {
    /// Reads the spellings of kind `basis`, adding the formulas and bases that analytes use.
    pub(super) fn read(spellings: &Table, analytes: &Table) -> Result<Self, DictionaryFault> {
        let mut bases = Self::default();
        for row in spellings.rows().filter(|row| row.cell("kind") == "basis") {
            let basis = bases.add(row.cell("means"))?;
            bases.spell(row, basis)?;
        }
        for row in analytes.rows() {
            for text in [bare(row.cell("basis")), row.cell("formula")] {
                if !text.is_empty() {
                    bases.add(text)?;
                }
            }
        }
        Ok(bases)
    }

    /// The basis `text` names: "N", "as N", "(as CaCO3)", "nitrogen", "NO3-N", "at 25 C".
    #[must_use]
    pub fn find(&self, text: &str) -> Option<Basis> {
        self.find_words(&words(text))
    }

    /// As [`Bases::find`], of words already folded.
    pub(super) fn find_words(&self, words: &[String]) -> Option<Basis> {
        let rest = match words {
            [lead, rest @ ..] if !rest.is_empty() && (lead == "as" || lead == "at") => rest,
            all => all,
        };
        self.spellings.get(&compact(rest)).copied()
    }

    /// The name of a basis, without "as": "N", "25 C".
    #[must_use]
    pub fn name(&self, basis: Basis) -> &str {
        self.names.get(usize::from(basis.0)).map_or("", String::as_str)
    }

    /// The name with its little word: "as N", "at 25 C".
    #[must_use]
    pub fn phrase(&self, basis: Basis) -> String {
        let little = if self.is_temperature(basis) { "at" } else { "as" };
        format!("{little} {}", self.name(basis))
    }

    /// Whether a basis is a temperature ("25 C") and not a substance.
    #[must_use]
    pub fn is_temperature(&self, basis: Basis) -> bool {
        let name = self.name(basis);
        name.ends_with(" C") && name.starts_with(|c: char| c.is_ascii_digit())
    }

    fn add(&mut self, name: &str) -> Result<Basis, DictionaryFault> {
        if let Some(known) = self.names.iter().position(|known| known == name) {
            return number(known, name);
        }
        let basis = number(self.names.len(), name)?;
        self.names.push(name.to_owned());
        self.spellings.entry(compact(&words(name))).or_insert(basis);
        Ok(basis)
    }

    fn spell(&mut self, row: Row<'_>, basis: Basis) -> Result<(), DictionaryFault> {
        let key = compact(&words(row.cell("spelling")));
        let known = *self.spellings.entry(key).or_insert(basis);
        let agrees = known == basis;
        agrees.then_some(()).ok_or_else(|| row.fault("spelling", "this spelling stands for another basis already"))
    }
}

/// A basis without its little word.
pub(super) fn bare(text: &str) -> &str {
    let text = text.trim();
    text.strip_prefix("as ").or_else(|| text.strip_prefix("at ")).unwrap_or(text)
}

fn number(place: usize, name: &str) -> Result<Basis, DictionaryFault> {
    u16::try_from(place).map(Basis).map_err(|_| DictionaryFault {
        file: "unit-spellings.csv".to_owned(),
        line: 0,
        column: "means".to_owned(),
        found: format!("\"{name}\""),
        would_do: "at most 65536 bases can be told apart".to_owned(),
    })
}
