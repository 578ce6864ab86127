//! The codes of the plan stage's problems, each explained in data-dictionary/problems.csv.
//!
//! They stand in one list so that a test can hold the list against the dictionary, both ways.

macro_rules! codes {
    ($($name:ident = $code:literal;)*) => {
        $(pub(super) const $name: &str = $code;)*
        #[cfg(test)]
        const ALL: &[&str] = &[$($code),*];
    };
}

codes! {
    PLAN_NOT_FOUND = "plan-not-found";
    PLAN_UNREADABLE = "plan-unreadable";
    PLAN_NOT_UTF8 = "plan-not-utf8";
    PLAN_EMPTY = "plan-empty";
    PLAN_SYNTAX = "plan-syntax";
    UNKNOWN_KEY = "unknown-key";
    MISSING_KEY = "missing-key";
    WRONG_TYPE = "wrong-type";
    OUT_OF_RANGE = "out-of-range";
    UNKNOWN_WORD = "unknown-word";
    EMPTY_TEXT = "empty-text";
    EMPTY_LIST = "empty-list";
    NOT_A_DATE = "not-a-date";
    BAD_DATE_FORMAT = "bad-date-format";
    BAD_LIMIT = "bad-limit";
    ONE_CHARACTER = "one-character";
    UNKNOWN_ENCODING = "unknown-encoding";
    KEYS_DISAGREE = "keys-disagree";
    FILE_KIND = "file-kind";
    COLUMN_TWICE = "column-twice";
    ANALYTE_TWICE = "analyte-twice";
    NAME_TWICE = "name-twice";
    NAME_TAKEN = "name-taken";
    FILE_TWICE = "file-twice";
    FILE_NOT_FOUND = "file-not-found";
    NOTHING_MATCHES = "nothing-matches";
    BAD_PATTERN = "bad-pattern";
    FOLDER_NOT_FILE = "folder-not-file";
    FILE_NOT_FOLDER = "file-not-folder";
    FILE_UNREADABLE = "file-unreadable";
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    #[test]
    fn every_code_is_in_the_dictionary_and_every_entry_is_used() {
        let text = include_str!("../../data-dictionary/problems.csv");
        let listed: BTreeSet<&str> =
            text.lines().filter_map(|line| line.split_once(",plan,")).map(|(code, _)| code).collect();
        assert_eq!(listed, super::ALL.iter().copied().collect());
        assert_eq!(listed.len(), super::ALL.len(), "a code stands twice");
    }
}
