//! Analytes: one each, whatever the basis it is reported in. Turns `analytes.csv` into [`Analyte`]s. A
//! row with `way_of` is no analyte of its own but a way to report another (nitrate as NO3 is a way to
//! report nitrate as N); it lends that analyte its names and its basis.

use rustc_hash::FxHashMap;

use crate::ids::AnalyteId;

use super::bases::{Bases, Basis, bare};
use super::cas;
use super::fault::DictionaryFault;
use super::table::{Row, Table};
use super::units::{Unit, Units};

/// Whether a field kit is good enough for an analyte (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KitRating {
    /// Good enough to be counted beside laboratory results.
    Yes,
    /// Good enough to decide whether to send a sample in, not to be counted.
    Screening,
    /// Not good enough.
    No,
}

impl KitRating {
    /// As the dictionary writes it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::Screening => "screening",
            Self::No => "no",
        }
    }
}

/// What filtering the sample does to an analyte's meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Filtered {
    /// Nothing that matters: what is measured is dissolved in any case.
    Same,
    /// Filtered results are a stratum of their own, never pooled with unfiltered ones (metals).
    Apart,
    /// The filtered thing is another one, which the dictionary does not have.
    Other,
}

/// One analyte, or one way to report it.
#[derive(Debug, Clone)]
pub struct Analyte {
    /// Stable id: lower case and underscores.
    pub id: String,
    /// Name for people.
    pub display_name: String,
    /// CAS registry number, check digit verified; `None` for sums and groups.
    pub cas: Option<String>,
    /// microbial, nutrient, major-ion, metal, radionuclide, pesticide, fuel-voc, solvent-voc, pfas,
    /// physical or field.
    pub group: String,
    /// Molar mass of the reported form, g/mol (nitrate as N: 14.007).
    pub molar_mass: Option<f64>,
    /// Charge of the ion.
    pub charge: Option<f64>,
    /// Unit in which everything downstream stands.
    pub preferred_unit: Unit,
    /// Basis of the preferred unit: the stated one ("as N") or the substance itself ("Ca").
    pub own_basis: Option<Basis>,
    /// The basis as printed beside the unit ("as N"); empty when none needs printing.
    pub basis_text: String,
    /// Without a stated basis a result means nothing (nitrate, nitrite, ammonia, orthophosphate).
    pub basis_must_be_stated: bool,
    /// Names of laboratories' making.
    pub synonyms: Vec<String>,
    /// Names that look like a fraction of this analyte and are another thing ("total phosphate").
    pub lookalikes: Vec<String>,
    /// Longest time between sampling and analysis, hours; source in [`Analyte::checked`].
    pub holding_hours: Option<f64>,
    /// How the sample is kept.
    pub preservation: String,
    /// Whether a field kit is good enough.
    pub kit: KitRating,
    /// What a household is usually told; empty for most.
    pub caution: String,
    /// `published-text` or `memory`, of the holding time.
    pub checked: String,
    /// What to know besides.
    pub note: String,
    /// The analyte of which this is the first-draw stratum.
    pub first_draw_of: Option<AnalyteId>,
    /// The analyte of which this is the stratum of filtered samples.
    pub dissolved_of: Option<AnalyteId>,
    /// What filtering does to its meaning.
    pub filtered: Filtered,
    /// The analyte whose limits judge this one too.
    pub judged_by: Option<AnalyteId>,
    /// Whether the preferred unit is one of activity.
    activity: bool,
    /// Kinds of conversion that hold for this substance alone.
    pub(super) families: Vec<String>,
}

impl Analyte {
    /// Counted or found-or-not bacteria.
    #[must_use]
    pub fn is_microbial(&self) -> bool {
        self.group == "microbial"
    }

    /// Measured as activity, whose counts may be negative and are kept. Uranium is listed with the
    /// radionuclides but measured as mass, so it is not.
    #[must_use]
    pub fn keeps_negative(&self) -> bool {
        self.activity
    }
}

/// What a limit says of filtered water.
const DISSOLVED_NOTE: &str = "Filtered water holds at most what the unfiltered water holds: a result above the limit \
                              is above it unfiltered as well; one below it says nothing certain.";

/// All analytes, and the ways to report them.
#[derive(Debug, Clone, Default)]
pub struct Analytes {
    list: Vec<Analyte>,
    ways: Vec<(AnalyteId, Analyte)>,
    by_id: FxHashMap<String, AnalyteId>,
}

impl Analytes {
    /// Reads `analytes.csv`.
    pub(super) fn read(table: &Table, units: &Units, bases: &Bases) -> Result<Self, DictionaryFault> {
        let mut all = Self::default();
        for row in table.rows().filter(|row| row.cell("way_of").is_empty()) {
            let place = u16::try_from(all.list.len());
            let id = place.map(AnalyteId).map_err(|_| row.fault("analyte", "at most 65536 analytes"))?;
            all.list.push(analyte(row, units, bases)?);
            if all.by_id.insert(row.owned("analyte"), id).is_some() {
                return Err(row.fault("analyte", "list each analyte once"));
            }
        }
        for row in table.rows() {
            let way_of = all.reference(row, "way_of")?;
            let (first_draw_of, judged_by) = (all.reference(row, "first_draw_of")?, all.reference(row, "judged_by")?);
            let own = all.find(row.cell("analyte"));
            if let Some(main) = way_of {
                all.ways.push((main, analyte(row, units, bases)?));
            } else if let Some(entry) = own.and_then(|id| all.list.get_mut(usize::from(id.0))) {
                entry.first_draw_of = first_draw_of;
                entry.judged_by = judged_by.or(first_draw_of);
            }
        }
        all.add_dissolved();
        Ok(all)
    }

    /// One stratum for each analyte whose filtered results stand apart, behind all others.
    fn add_dissolved(&mut self) {
        let apart: Vec<AnalyteId> =
            self.iter().filter(|(_, entry)| entry.filtered == Filtered::Apart).map(|(id, _)| id).collect();
        for of in apart {
            let Some(stratum) = self.get(of).map(|entry| dissolved(of, entry)) else { continue };
            let Ok(place) = u16::try_from(self.list.len()) else { continue };
            self.by_id.insert(stratum.id.clone(), AnalyteId(place));
            self.list.push(stratum);
        }
    }

    /// The analyte of this exact id; a way to report (`nitrate_as_no3`) has none.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<AnalyteId> {
        self.by_id.get(id).copied()
    }

    /// The entry of an analyte; `None` only for a number that is not this dictionary's.
    #[must_use]
    pub fn get(&self, id: AnalyteId) -> Option<&Analyte> {
        self.list.get(usize::from(id.0))
    }

    /// The id as outputs print it.
    #[must_use]
    pub fn id(&self, id: AnalyteId) -> &str {
        self.get(id).map_or("", |entry| entry.id.as_str())
    }

    /// How many there are; ids run from 0 to one less.
    #[must_use]
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// All, in the order of the file.
    pub fn iter(&self) -> impl Iterator<Item = (AnalyteId, &Analyte)> {
        (0u16..).map(AnalyteId).zip(&self.list)
    }

    /// The ways to report analytes, each with its analyte, in the order of the file.
    pub fn ways(&self) -> impl Iterator<Item = (AnalyteId, &Analyte)> {
        self.ways.iter().map(|(main, way)| (*main, way))
    }

    /// The analyte that holds the first-draw results of `id` (lead, copper), if it has one.
    #[must_use]
    pub fn first_draw_stratum(&self, id: AnalyteId) -> Option<AnalyteId> {
        self.iter().find(|(_, entry)| entry.first_draw_of == Some(id)).map(|(stratum, _)| stratum)
    }

    /// The analyte that holds the filtered results of `id`, if they stand apart.
    #[must_use]
    pub fn dissolved_stratum(&self, id: AnalyteId) -> Option<AnalyteId> {
        self.iter().find(|(_, entry)| entry.dissolved_of == Some(id)).map(|(stratum, _)| stratum)
    }

    /// The substance itself, whatever stratum of it is meant.
    #[must_use]
    pub fn whole(&self, id: AnalyteId) -> AnalyteId {
        self.get(id).and_then(|entry| entry.first_draw_of.or(entry.dissolved_of)).unwrap_or(id)
    }

    fn reference(&self, row: Row<'_>, heading: &str) -> Result<Option<AnalyteId>, DictionaryFault> {
        let name = row.cell(heading);
        match (name.is_empty(), self.find(name)) {
            (true, _) => Ok(None),
            (false, Some(id)) => Ok(Some(id)),
            (false, None) => Err(row.fault(heading, "name an analyte of this file, or nothing")),
        }
    }
}

fn analyte(row: Row<'_>, units: &Units, bases: &Bases) -> Result<Analyte, DictionaryFault> {
    let unit = units.named(row.cell("preferred_unit"));
    let preferred_unit = unit.ok_or_else(|| row.fault("preferred_unit", "name a unit of units.csv"))?;
    Ok(Analyte {
        id: row.owned("analyte"),
        display_name: row.owned("display_name"),
        cas: checked_cas(row)?,
        group: row.owned("group"),
        molar_mass: row.number("molar_mass_g_mol")?,
        charge: row.number("charge")?,
        preferred_unit,
        own_basis: own_basis(row, bases)?,
        basis_text: row.owned("basis"),
        basis_must_be_stated: row.yes("basis_must_be_stated")?,
        synonyms: row.list("synonyms"),
        lookalikes: row.list("lookalikes"),
        holding_hours: row.number("holding_time_hours")?,
        preservation: row.owned("preservation"),
        kit: kit(row)?,
        caution: row.owned("caution"),
        checked: row.owned("checked"),
        note: row.owned("note"),
        first_draw_of: None,
        dissolved_of: None,
        filtered: filtered(row)?,
        judged_by: None,
        activity: units.kind(preferred_unit) == "activity",
        families: row.list("conversion_families"),
    })
}

fn checked_cas(row: Row<'_>) -> Result<Option<String>, DictionaryFault> {
    let Some(text) = row.optional("cas") else {
        return Ok(None);
    };
    match cas::verified(&text) {
        Some(number) => Ok(Some(number.to_owned())),
        None => Err(row.fault("cas", "a CAS number whose check digit holds, such as 7440-38-2")),
    }
}

fn own_basis(row: Row<'_>, bases: &Bases) -> Result<Option<Basis>, DictionaryFault> {
    let heading = if row.cell("basis").is_empty() { "formula" } else { "basis" };
    let text = bare(row.cell(heading));
    match (text.is_empty(), bases.find(text)) {
        (true, _) => Ok(None),
        (false, Some(basis)) => Ok(Some(basis)),
        (false, None) => Err(row.fault(heading, "a basis such as \"as N\"")),
    }
}

fn filtered(row: Row<'_>) -> Result<Filtered, DictionaryFault> {
    match row.cell("dissolved") {
        "" => Ok(Filtered::Same),
        "apart" => Ok(Filtered::Apart),
        "other" => Ok(Filtered::Other),
        _ => Err(row.fault("dissolved", "write apart, other or nothing")),
    }
}

/// The stratum of filtered samples of an analyte.
fn dissolved(of: AnalyteId, entry: &Analyte) -> Analyte {
    Analyte {
        id: format!("{}_dissolved", entry.id),
        display_name: format!("{}, dissolved", entry.display_name),
        synonyms: Vec::new(),
        lookalikes: Vec::new(),
        dissolved_of: Some(of),
        filtered: Filtered::Same,
        judged_by: Some(of),
        note: DISSOLVED_NOTE.to_owned(),
        ..entry.clone()
    }
}

fn kit(row: Row<'_>) -> Result<KitRating, DictionaryFault> {
    match row.cell("field_kit_adequate") {
        "yes" => Ok(KitRating::Yes),
        "screening" => Ok(KitRating::Screening),
        "no" => Ok(KitRating::No),
        _ => Err(row.fault("field_kit_adequate", "write yes, screening or no")),
    }
}
