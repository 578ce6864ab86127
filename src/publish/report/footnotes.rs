//! Notes of many rows, each said once under the table and only numbered in it.
//!
//! Figures that differ from row to row (how many resamples were dropped) would make every note another one; the page says the
//! kind of note, the tables say its figure.

use serde::Serialize;

/// The notes of one table, in the order in which rows first need them.
#[derive(Debug, Default, PartialEq, Serialize)]
#[serde(transparent)]
pub(super) struct Footnotes {
    texts: Vec<String>,
}

impl Footnotes {
    /// The numbers, from 1, by which a row's notes go; sorted, each once.
    pub(super) fn numbers(&mut self, notes: &[String]) -> Vec<usize> {
        let mut numbers: Vec<usize> = notes.iter().map(|note| self.number(plain(note))).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }

    fn number(&mut self, text: String) -> usize {
        if let Some(at) = self.texts.iter().position(|known| *known == text) {
            return at + 1;
        }
        self.texts.push(text);
        self.texts.len()
    }
}

/// A note without what differs from row to row.
fn plain(note: &str) -> String {
    const KINDS: [(&str, &str); 5] = [
        (
            " lies below the lowest detect",
            "some results lie below the lowest amount found; the mean counts them at the lowest limit",
        ),
        (" resamples could not be summarised", "some of the repeated draws could not be summarised and were dropped"),
        (
            " non-detects lie above every detect",
            "results below a limit that is higher than every amount found tell nothing and are not used",
        ),
        (
            " above what could be measured",
            "some amounts were above what could be measured: upper figures are lower bounds",
        ),
        ("judged by a limit made for a close relative", "no limit of its own: judged by the limit of a close relative"),
    ];
    let kind = KINDS.iter().find(|(part, _)| note.contains(part));
    kind.map_or_else(|| note.replace(" %", "%"), |(_, words)| (*words).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alike_notes_are_said_once() {
        let mut notes = Footnotes::default();
        let text = |text: &str| text.to_owned();
        assert_eq!(notes.numbers(&[text("a"), text("12 resamples could not be summarised and were dropped")]), [1, 2]);
        assert_eq!(notes.numbers(&[text("3 resamples could not be summarised and were dropped"), text("a")]), [1, 2]);
        assert_eq!(notes.numbers(&[text("up to 70 % are modelled")]), [3]);
        assert_eq!(notes.texts.len(), 3);
        assert!(notes.texts[2].contains("70%"));
    }
}
