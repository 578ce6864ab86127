//! The two editions: where each lies and what it says of itself.

/// For whom research files are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edition {
    /// With well ids and places.
    Internal,
    /// Protected tables only.
    Public,
}

impl Edition {
    /// A file of this edition, as the output folder sees it.
    pub fn path(self, file: &str) -> String {
        match self {
            Edition::Internal => format!("internal/research/{file}"),
            Edition::Public => format!("research/{file}"),
        }
    }

    /// Id of the data package.
    pub fn id(self) -> &'static str {
        match self {
            Edition::Internal => "well-survey-internal",
            Edition::Public => "well-survey-public",
        }
    }

    /// What a reader must know first.
    pub fn about(self) -> &'static str {
        match self {
            Edition::Internal => {
                "INTERNAL: holds well ids and places of wells. Do not publish or pass on. Nothing in it is hidden."
            }
            Edition::Public => {
                "Protected tables: what could tell of few households is empty, and the note of the row says so. \
                 Values of single wells are in the internal edition only."
            }
        }
    }
}

/// The cautions that belong to every figure.
pub const CAUTIONS: [&str; 5] = [
    "Results describe the wells that were sampled, not every well.",
    "Limits are made for public water supplies; for a private well they are yardsticks.",
    "Only a certified laboratory result, with the local health authority or a licensed well or treatment professional, \
     can say what a household should do.",
    "Where E. coli is present, do not drink or bathe in the water until that advice is had.",
    "Boiling does not remove nitrate, metals or other chemicals; it concentrates them.",
];
