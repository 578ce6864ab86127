//! Which land uses speak for which tests. Turns `landuse-links.csv`, or the county's own table that takes its place
//! (`recommend.links`), into [`Links`]: the only place that holds them.
//!
//! A word of the table is what a plan calls its land use by, in `name` or in `kind`; letter case does not count. A stratum (filtered, first
//! draw) that the table does not name goes by what the table says of the substance.

use super::analytes::Analytes;
use super::benchmarks::analyte;
use super::built_in::Dictionary;
use super::fault::DictionaryFault;
use super::table::{Row, Table};
use crate::ids::AnalyteId;

/// Columns the table must have.
const REQUIRED: [&str; 2] = ["land_use", "analyte"];

/// When a linked analyte is advised on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advise {
    /// Where the survey has results of it: the land use is then one more reason.
    WhereTested,
    /// Also where nobody was tested, if a limit about health is in force for it.
    WithLimit,
    /// Wherever the land use lies around enough wells.
    Always,
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LandUseLink {
    /// Land use, in small letters.
    pub land_use: String,
    /// What it speaks for.
    pub analyte: AnalyteId,
    /// When that is advised on.
    pub advise: Advise,
}

/// All links, in the order of the table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Links(Vec<LandUseLink>);

impl Links {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> &[LandUseLink] {
        &self.0
    }

    /// Every land use that the table knows, each once.
    #[must_use]
    pub fn land_uses(&self) -> Vec<&str> {
        let mut words: Vec<&str> = Vec::new();
        for link in &self.0 {
            if !words.contains(&link.land_use.as_str()) {
                words.push(&link.land_use);
            }
        }
        words
    }

    /// The land uses that speak for an analyte.
    #[must_use]
    pub fn of(&self, analytes: &Analytes, analyte: AnalyteId) -> Vec<&str> {
        let named = |wanted: AnalyteId| self.0.iter().filter(move |link| link.analyte == wanted);
        let own: Vec<&str> = named(analyte).map(|link| link.land_use.as_str()).collect();
        if own.is_empty() { named(analytes.whole(analyte)).map(|link| link.land_use.as_str()).collect() } else { own }
    }
}

/// Whether a word of the plan is this land use of the table.
#[must_use]
pub fn is_same_land_use(word: &str, land_use: &str) -> bool {
    word.trim().to_lowercase() == land_use
}

/// Reads a table of links: every row, or every fault.
pub(super) fn read(dictionary: &Dictionary, file: &str, text: &str) -> Result<Links, Vec<DictionaryFault>> {
    let table = Table::read(file, text, &REQUIRED).map_err(|fault| vec![fault])?;
    let (mut links, mut faults) = (Links::default(), Vec::new());
    for row in table.rows() {
        match link(dictionary, row) {
            Ok(link) if links.0.contains(&link) => {}
            Ok(link) => links.0.push(link),
            Err(fault) => faults.push(fault),
        }
    }
    if links.0.is_empty() && faults.is_empty() {
        faults.push(table.empty("write a land use and an analyte a line, or leave the key out"));
    }
    if faults.is_empty() { Ok(links) } else { Err(faults) }
}

fn link(dictionary: &Dictionary, row: Row<'_>) -> Result<LandUseLink, DictionaryFault> {
    let land_use = row.cell("land_use").to_lowercase();
    if land_use.is_empty() {
        return Err(row.fault("land_use", "a word for the land use, such as farming"));
    }
    let advise = match row.cell("advise") {
        "" => Advise::WithLimit,
        "always" => Advise::Always,
        "where-tested" => Advise::WhereTested,
        _ => return Err(row.fault("advise", "write always, where-tested or nothing")),
    };
    Ok(LandUseLink { land_use, analyte: analyte(dictionary, row)?.analyte, advise })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> Vec<String> {
        let dictionary = Dictionary::built_in().unwrap();
        let told = dictionary.parse_links("own.csv", text).unwrap_err();
        told.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_stratum_that_is_not_named_goes_by_its_substance() {
        let dictionary = Dictionary::built_in().unwrap();
        let own = dictionary.parse_links("own.csv", "land_use,analyte\nOld Houses,Lead\nmine,lead\nmine,Pb\n").unwrap();
        let of = |id: &str| own.of(dictionary.analytes(), dictionary.analytes().find(id).unwrap());
        assert_eq!(own.land_uses(), ["old houses", "mine"]);
        for id in ["lead", "lead_first_draw", "lead_dissolved"] {
            assert_eq!(of(id), ["old houses", "mine"], "{id}");
        }
        assert!(of("arsenic").is_empty() && is_same_land_use(" Old houses ", "old houses"));
    }

    #[test]
    fn faults_are_told_with_line_and_column() {
        let told = faults("land_use,analyte,advise\n,nitrate,\nfarming,nitrat,\nfarming,atrazine,often\n");
        assert_eq!(told.len(), 3);
        assert!(told[0].starts_with("own.csv, line 2, column land_use: found \"\""), "{}", told[0]);
        assert!(told[1].starts_with("own.csv, line 3, column analyte: found \"nitrat\"; perhaps "), "{}", told[1]);
        assert!(told[1].contains("nitrate_as_n"), "{}", told[1]);
        assert!(
            told[2].contains("line 4, column advise: found \"often\"; write always, where-tested or nothing"),
            "{}",
            told[2]
        );
        assert!(faults("land_use,test\nfarming,nitrate\n")[0].contains("column analyte"));
        assert!(faults("land_use,analyte\n")[0].contains("no line"));
    }
}
