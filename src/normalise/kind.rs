//! Words of the trade for sample kinds and methods, where the plan has none of its own.
//!
//! An empty sample kind is a routine sample. An unknown word is a routine sample too, and is told in a warning.

use crate::plan::{Method, SampleKind};
use std::collections::BTreeMap;

/// The kind that a text names; `None` if it is not known. The plan's own words go first.
pub fn sample_kind(text: &str, own: &BTreeMap<String, SampleKind>) -> Option<SampleKind> {
    let text = text.trim();
    if let Some(kind) =
        own.get(text).or_else(|| own.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)).map(|(_, kind)| kind))
    {
        return Some(*kind);
    }
    let folded: String = text.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    match folded.as_str() {
        "" | "routine" | "sample" | "regular" | "normal" | "grab" | "n" | "primary" | "raw" | "untreated"
        | "flushed" | "resample" => Some(SampleKind::Routine),
        "duplicate" | "dup" | "replicate" | "fieldduplicate" | "fielddup" | "fd" | "split" | "labduplicate" => {
            Some(SampleKind::Duplicate)
        }
        "blank" | "fieldblank" | "tripblank" | "fb" | "tb" | "methodblank" | "equipmentblank" | "labblank"
        | "reagentblank" => Some(SampleKind::Blank),
        "spike" | "matrixspike" | "ms" | "msd" | "spiked" | "matrixspikeduplicate" | "labcontrolsample" | "lcs" => {
            Some(SampleKind::Spike)
        }
        "firstdraw" | "1stdraw" | "firstflush" | "stagnant" => Some(SampleKind::FirstDraw),
        "treated" | "aftertreatment" | "posttreatment" | "softened" | "filtered" => Some(SampleKind::Treated),
        "afterrepair" | "postrepair" => Some(SampleKind::AfterRepair),
        "noticedchange" | "changenoticed" => Some(SampleKind::NoticedChange),
        "rejected" | "void" | "cancelled" => Some(SampleKind::Rejected),
        _ => None,
    }
}

/// How far a laboratory got with a result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// As far as it goes, or nothing is said.
    Settled,
    /// It may still change: counted, and told.
    Preliminary,
    /// Withdrawn.
    Rejected,
}

/// What a status column says (words of the open exchange standard, from memory, and of laboratories).
pub fn status(text: &str) -> Status {
    let folded: String = text.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    match folded.as_str() {
        "rejected" | "reject" | "r" | "void" | "voided" | "cancelled" | "canceled" | "withdrawn" | "invalid" => {
            Status::Rejected
        }
        "preliminary" | "prelim" | "provisional" | "raw" | "unreviewed" | "inreview" | "unvalidated" | "pending"
        | "draft" | "p" => Status::Preliminary,
        _ => Status::Settled,
    }
}

/// The method that a text names: the plan's own words, then any text with the word kit or strip.
pub fn method(text: &str, own: &BTreeMap<String, Method>) -> Method {
    let text = text.trim();
    if let Some(method) =
        own.get(text).or_else(|| own.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)).map(|(_, m)| m))
    {
        return *method;
    }
    let kit = text
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .any(|word| matches!(word, "kit" | "kits" | "strip" | "strips"));
    if kit { Method::Kit } else { Method::Laboratory }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_the_trade() {
        let own = BTreeMap::from([("1st".to_owned(), SampleKind::FirstDraw)]);
        assert_eq!(sample_kind("1st", &own), Some(SampleKind::FirstDraw));
        assert_eq!(sample_kind("Field Blank", &own), Some(SampleKind::Blank));
        assert_eq!(sample_kind("", &own), Some(SampleKind::Routine));
        assert_eq!(sample_kind("odd", &own), None);
        assert_eq!(method("Home strip kit", &BTreeMap::new()), Method::Kit);
        assert_eq!(method("kitchen tap", &BTreeMap::new()), Method::Laboratory);
    }
}
