//! The texts of the reasons for which a result is set aside. Turns `reasons.csv` into texts found by the
//! reason's name; which reason applies is decided by the stages, never here.

use super::table::Table;

/// What a reason means and what would help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReasonText {
    /// Name, as in `accounting.csv`.
    pub reason: String,
    /// Stage that sets aside for it.
    pub stage: String,
    /// What it means.
    pub meaning: String,
    /// What would bring such results back.
    pub what_would_help: String,
}

/// All reasons, in the order in which they are tried.
#[derive(Debug, Clone, Default)]
pub struct Reasons {
    list: Vec<ReasonText>,
}

impl Reasons {
    pub(super) fn read(table: &Table) -> Self {
        let list = table.rows().map(|row| ReasonText {
            reason: row.owned("reason"),
            stage: row.owned("stage"),
            meaning: row.owned("meaning"),
            what_would_help: row.owned("what_would_help"),
        });
        Self { list: list.collect() }
    }

    /// The text of one reason.
    #[must_use]
    pub fn find(&self, reason: &str) -> Option<&ReasonText> {
        self.list.iter().find(|text| text.reason == reason)
    }

    /// All reasons, in order.
    #[must_use]
    pub fn all(&self) -> &[ReasonText] {
        &self.list
    }
}

#[cfg(test)]
mod tests {
    use crate::dictionary::Dictionary;
    use crate::fate::Reason;

    /// The texts and the code name the same reasons, in the same order, at the same stages.
    #[test]
    fn every_reason_of_the_code_has_its_text() {
        let dictionary = Dictionary::built_in().unwrap();
        let texts = dictionary.reasons().all().iter();
        let told: Vec<(&str, &str)> = texts.map(|t| (t.reason.as_str(), t.stage.as_str())).collect();
        let used: Vec<(&str, &str)> = Reason::ALL.iter().map(|r| (r.name(), r.stage())).collect();
        assert_eq!(told, used);
    }
}
