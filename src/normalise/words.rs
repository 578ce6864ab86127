//! Words that stand where a number is expected, and flags beside numbers.
//!
//! All comparisons fold letter case, spaces and full stops, so `N.D.`, `nd` and `ND` are one word. A plan may add words
//! for a non-detect and flags of its own; the plan's go first.

use crate::plan::Qualifier;
use std::collections::BTreeMap;

/// What a word says in a value's place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Word {
    /// Not detected.
    NotDetected,
    /// Found.
    Present,
    /// Not found.
    Absent,
    /// No value.
    Nothing,
}

const NOT_DETECTED: [&str; 34] = [
    "nd",
    "n/d",
    "bdl",
    "brl",
    "bql",
    "bmdl",
    "bmrl",
    "bloq",
    "blod",
    "lod",
    "loq",
    "u",
    "trace",
    "tr",
    "notdetected",
    "nondetect",
    "non-detect",
    "nondetected",
    "nonedetected",
    "undetected",
    "nodetect",
    "belowdetectionlimit",
    "belowdetection",
    "belowreportinglimit",
    "belowlimit",
    "lessthandetectionlimit",
    "<dl",
    "<mdl",
    "<lod",
    "<loq",
    "<ql",
    "<pql",
    "<rl",
    "<mrl",
];
const PRESENT: [&str; 11] = [
    "present",
    "p",
    "positive",
    "pos",
    "+",
    "detected",
    "tntc",
    "toonumeroustocount",
    "confluent",
    "confluentgrowth",
    "yes",
];
const ABSENT: [&str; 6] = ["absent", "a", "negative", "neg", "nogrowth", "notpresent"];
const NOTHING: [&str; 16] = [
    "-",
    "--",
    "---",
    "—",
    "–",
    "na",
    "n/a",
    "#n/a",
    "null",
    "none",
    "nan",
    "notanalyzed",
    "notanalysed",
    "nottested",
    "?",
    "*",
];

/// The words of one results part.
#[derive(Clone, Debug)]
pub struct Words {
    values: BTreeMap<String, Word>,
    flags: BTreeMap<String, Qualifier>,
}

impl Words {
    /// The built-in words and the plan's further ones for a non-detect.
    pub fn new(non_detect: &[String]) -> Words {
        let built_in = [
            (&NOTHING[..], Word::Nothing),
            (&ABSENT, Word::Absent),
            (&PRESENT, Word::Present),
            (&NOT_DETECTED, Word::NotDetected),
        ];
        let mut values = BTreeMap::new();
        for (words, meaning) in built_in {
            values.extend(words.iter().map(|word| ((*word).to_owned(), meaning)));
        }
        values.extend(non_detect.iter().map(|word| (fold(word), Word::NotDetected)));
        Words { values, flags: built_in_flags() }
    }

    /// The same with a plan's own qualifiers.
    pub fn with_qualifiers(mut self, own: &BTreeMap<String, Qualifier>) -> Words {
        self.flags.extend(own.iter().map(|(text, meaning)| (fold(text), *meaning)));
        self
    }

    /// What the text says in a value's place, if it is one of the words.
    pub fn value(&self, text: &str) -> Option<Word> {
        self.values.get(&fold(text)).copied()
    }

    /// What a flag means; `None` if it is not known.
    pub fn flag(&self, text: &str) -> Option<Qualifier> {
        self.flags.get(&fold(text)).copied()
    }

    /// What several flags together mean; `None` if one is not known, or if they contradict each other.
    pub fn flags(&self, text: &str) -> Option<Qualifier> {
        if let Some(whole) = self.flag(text) {
            return Some(whole);
        }
        let pieces = text.split([',', ';', ' ']).filter(|piece| !piece.is_empty());
        pieces.map(|piece| self.flag(piece)).reduce(|one, other| together(one?, other?)).flatten()
    }
}

/// Two flags of one value: the one that says more.
fn together(one: Qualifier, other: Qualifier) -> Option<Qualifier> {
    use Qualifier::{Above, Estimated, NonDetect, NonDetectEstimated, Note, Rejected, Trace};
    match (one, other) {
        (Rejected, _) | (_, Rejected) => Some(Rejected),
        (Note, said) | (said, Note) => Some(said),
        (Above, NonDetect | NonDetectEstimated) | (NonDetect | NonDetectEstimated, Above) => None,
        (Trace, NonDetect | NonDetectEstimated) | (NonDetect | NonDetectEstimated, Trace) => None,
        (Above, _) | (_, Above) => Some(Above),
        (Trace, _) | (_, Trace) => Some(Trace),
        (NonDetect, NonDetect) => Some(NonDetect),
        (Estimated, Estimated) => Some(Estimated),
        _ => Some(NonDetectEstimated),
    }
}

fn built_in_flags() -> BTreeMap<String, Qualifier> {
    let list: [(&[&str], Qualifier); 7] = [
        (
            &["u", "<", "nd", "bdl", "brl", "<=", "k", "notdetected", "nondetect", "belowdetectionlimit"],
            Qualifier::NonDetect,
        ),
        (&["j", "j+", "j-", "e", "est", "estimated", "~"], Qualifier::Estimated),
        (&["uj", "u,j", "ju"], Qualifier::NonDetectEstimated),
        (
            &[">", ">=", "l", "g", "abovequantitation", "aboverange", "tntc", "toonumeroustocount", "confluent"],
            Qualifier::Above,
        ),
        (&["trace", "tr", "detectednotquantified", "dnq", "presentbelowquantificationlimit"], Qualifier::Trace),
        (&["r", "rejected", "rej", "withdrawn"], Qualifier::Rejected),
        (&["*", "h", "b", "q", "="], Qualifier::Note),
    ];
    list.iter().flat_map(|(texts, meaning)| texts.iter().map(move |text| ((*text).to_owned(), *meaning))).collect()
}

/// Letter case, spaces and full stops folded.
pub(super) fn fold(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '.').flat_map(char::to_lowercase).collect()
}
