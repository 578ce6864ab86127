//! What the words of a column of sample fractions mean, and which analyte a name means of which fraction.
//!
//! Limits for drinking water speak of unfiltered ("total recoverable") water. Where `dissolved` in `analytes.csv` says
//! `apart`, filtered results form a stratum of their own; where it says `other`, the filtered thing is no analyte here;
//! elsewhere the two are one. What stayed on a filter is never the water's content, so it is never an analyte.

use rustc_hash::FxHashMap;

use super::analytes::{Analytes, Filtered};
use super::fault::DictionaryFault;
use super::fold::{compact, words};
use super::names::{Fraction, NameReading};
use super::table::Table;

/// What a word of a column of sample fractions says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SampleFraction {
    /// The water as it came, mostly digested.
    Total,
    /// What passed a filter.
    Dissolved,
    /// What stayed on the filter, or lay on the ground.
    Particulate,
    /// Nothing about filtering.
    NotStated,
}

impl SampleFraction {
    /// The words of `fraction-words.csv` and of plans.
    pub const WORDS: &[(&str, SampleFraction)] = &[
        ("total", Self::Total),
        ("dissolved", Self::Dissolved),
        ("particulate", Self::Particulate),
        ("not-stated", Self::NotStated),
    ];
}

/// The words of laboratories and of the open standard.
#[derive(Debug, Clone, Default)]
pub(super) struct Fractions {
    by_key: FxHashMap<String, SampleFraction>,
}

impl Fractions {
    /// Reads `fraction-words.csv`.
    pub(super) fn read(table: &Table) -> Result<Self, DictionaryFault> {
        let mut all = Self::default();
        for row in table.rows() {
            let means = SampleFraction::WORDS.iter().find(|(word, _)| *word == row.cell("means"));
            let (_, means) = means.ok_or_else(|| row.fault("means", "total, dissolved, particulate or not-stated"))?;
            let known = *all.by_key.entry(compact(&words(row.cell("word")))).or_insert(*means);
            if known != *means {
                return Err(row.fault("word", "this word means another fraction already"));
            }
        }
        Ok(all)
    }

    /// What a word means; nothing but signs is a word for nothing.
    pub(super) fn find(&self, text: &str) -> Option<SampleFraction> {
        self.by_key.get(&compact(&words(text))).copied()
    }
}

/// The reading of a name whose line states a fraction besides; `None` where the two contradict each other, or where
/// the dictionary has no analyte for that fraction.
pub(super) fn apply(analytes: &Analytes, name: NameReading, said: SampleFraction) -> Option<NameReading> {
    let entry = analytes.get(name.analyte)?;
    let filtered = entry.dissolved_of.is_some();
    match said {
        SampleFraction::NotStated => Some(name),
        SampleFraction::Total => (!filtered).then_some(name),
        SampleFraction::Particulate => None,
        SampleFraction::Dissolved if filtered => Some(name),
        SampleFraction::Dissolved if name.fraction == Some(Fraction::Total) && entry.filtered != Filtered::Same => None,
        SampleFraction::Dissolved => dissolved(analytes, name),
    }
}

/// The reading of the same substance in filtered water.
pub(super) fn dissolved(analytes: &Analytes, name: NameReading) -> Option<NameReading> {
    let entry = analytes.get(name.analyte)?;
    let analyte = match entry.filtered {
        Filtered::Same => name.analyte,
        Filtered::Other => return None,
        // A first draw that was filtered is neither stratum: the one that is named first stays.
        Filtered::Apart => analytes.dissolved_stratum(name.analyte)?,
    };
    Some(NameReading { analyte, fraction: name.fraction.or(Some(Fraction::Dissolved)), ..name })
}
