//! Heading words: which role a column's name speaks for, and how clearly.
//!
//! The words stand in data-dictionary/heading-words.csv (common practice, no source). A name that is one of them says
//! it clearly; one that only holds one of them says it faintly, and its content has to agree.

use std::collections::BTreeSet;

const WORDS: &str = include_str!("../../data-dictionary/heading-words.csv");

/// How much a name counts that is exactly one of the words.
pub(super) const EXACT: f64 = 3.0;

/// All heading words.
#[derive(Debug)]
pub(super) struct Headings {
    list: Vec<(String, Vec<String>)>,
    exact: BTreeSet<String>,
}

impl Headings {
    /// Reads the embedded table; rows that cannot be read are held against it by a test.
    pub(super) fn built_in() -> Headings {
        let rows = csv::Reader::from_reader(WORDS.as_bytes()).into_records().filter_map(Result::ok);
        let list: Vec<(String, Vec<String>)> = rows
            .map(|row| (row.get(0).unwrap_or_default().to_owned(), words(row.get(1).unwrap_or_default())))
            .collect();
        let exact = list.iter().map(|(_, words)| words.concat()).collect();
        Headings { list, exact }
    }

    /// Whether a name is exactly a heading word, of whatever role.
    pub(super) fn is_exact(&self, name: &str) -> bool {
        self.exact.contains(&words(name).concat())
    }

    /// How clearly a name speaks for a role: 0 not at all, `EXACT` clearly.
    pub(super) fn fit(&self, role: &str, name: &str) -> f64 {
        let name = words(name);
        let joined = name.concat();
        self.list
            .iter()
            .filter(|(known, _)| known == role)
            .map(|(_, word)| if word.concat() == joined { EXACT } else { partly(word, &name) })
            .fold(0.0, f64::max)
    }
}

/// A word that stands whole inside a longer name.
fn partly(word: &[String], name: &[String]) -> f64 {
    let stands = !word.is_empty() && name.windows(word.len()).any(|part| part == word);
    // A single letter inside a name says nothing.
    if !stands || word.concat().len() < 2 {
        return 0.0;
    }
    let extra = name.len().saturating_sub(word.len()) as f64;
    (1.2 + 0.4 * word.len() as f64 - 0.1 * extra).max(1.0)
}

/// The lower-case words of a name; a step from small to capital letter parts words too.
pub(super) fn words(name: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut before = ' ';
    for c in name.chars() {
        let steps = before.is_lowercase() && c.is_uppercase();
        if steps || !c.is_alphanumeric() {
            parts.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(part) = parts.last_mut()
        {
            part.extend(c.to_lowercase());
        }
        before = c;
    }
    parts.retain(|part| !part.is_empty());
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_no_role_says_a_word_twice() {
        let all = Headings::built_in();
        assert_eq!(all.list.len(), WORDS.lines().count() - 1);
        let different: BTreeSet<_> = all.list.iter().map(|(role, words)| (role, words.concat())).collect();
        assert_eq!(different.len(), all.list.len());
    }

    #[test]
    fn names_are_compared_by_their_words() {
        let all = Headings::built_in();
        for name in ["WELL NO", "WellNo", "well_no.", "Well-No"] {
            assert_eq!(all.fit("well", name), EXACT, "{name}");
        }
        assert!(all.fit("date", "Analysis date") < all.fit("other", "Analysis date"));
        assert_eq!(all.fit("x", "Max"), 0.0);
    }
}
