//! Different texts, each with a number: a text finds its number again, and a number its text.
//!
//! All texts lie in one, and a table of places finds one again by its digest. A reader would question why no hash map of the
//! library stands here: with a `String` each, once in a list and once in a map, a short text costs 150 bytes and two blocks of
//! memory; here it is 25 bytes and none of its own, and a look-up meets no more places in memory.

use xxhash_rust::xxh3::xxh3_64;

/// Places of the first table; always a power of two.
const FIRST: usize = 16;

/// Texts by number, and numbers by text.
#[derive(Debug, Default)]
pub(crate) struct Numbered {
    text: String,
    /// Where each text ends.
    ends: Vec<usize>,
    /// Number of a text, plus one; 0 is empty, and half the places are.
    table: Vec<u32>,
}

impl Numbered {
    /// How many texts there are.
    pub(crate) fn len(&self) -> usize {
        self.ends.len()
    }

    /// The text of a number; `None` past the last.
    pub(crate) fn get(&self, number: usize) -> Option<&str> {
        let start = number.checked_sub(1).map_or(Some(0), |before| self.ends.get(before).copied())?;
        self.text.get(start..*self.ends.get(number)?)
    }

    /// Every text, by number.
    pub(crate) fn texts(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).filter_map(|number| self.get(number))
    }

    /// The number of a text.
    pub(crate) fn find(&self, text: &str) -> Option<u32> {
        let at = self.place(text)?;
        self.table.get(at)?.checked_sub(1)
    }

    /// Meets what tells the numbers of texts that are looked for next, step by step for all of them, so that memory brings it side
    /// by side and not each in its turn.
    pub(crate) fn fetch<'n>(&self, texts: impl Iterator<Item = &'n str>) {
        let number = |text: &str| self.table.get(self.start(text)?)?.checked_sub(1);
        let numbers: Vec<u32> = texts.filter_map(number).collect();
        let ends = numbers.iter().filter_map(|number| self.ends.get(*number as usize));
        let last = |end: &usize| self.text.as_bytes().get(end.checked_sub(1)?);
        std::hint::black_box(ends.filter_map(last).fold(0, |met, byte| met ^ byte));
    }

    /// The number of a text, which is given one if it has none.
    pub(crate) fn number(&mut self, text: &str) -> u32 {
        if let Some(known) = self.find(text) {
            return known;
        }
        self.text.push_str(text);
        self.ends.push(self.text.len());
        if self.len() * 2 > self.table.len() {
            self.grow();
        } else {
            self.enter(self.len() - 1);
        }
        u32::try_from(self.len() - 1).unwrap_or(u32::MAX)
    }

    /// A table of twice the size.
    fn grow(&mut self) {
        self.table = vec![0; (self.table.len() * 2).max(FIRST)];
        (0..self.len()).for_each(|number| self.enter(number));
    }

    fn enter(&mut self, number: usize) {
        let at = self.get(number).and_then(|text| self.place(text));
        if let Some(place) = at.and_then(|at| self.table.get_mut(at)) {
            *place = u32::try_from(number + 1).unwrap_or(0);
        }
    }

    /// Where the search for a text starts; `None` of an empty table.
    fn start(&self, text: &str) -> Option<usize> {
        Some(xxh3_64(text.as_bytes()) as usize & self.table.len().checked_sub(1)?)
    }

    /// Where a text stands in the table, or the empty place where it would; `None` of an empty table.
    fn place(&self, text: &str) -> Option<usize> {
        let mut at = self.start(text)?;
        while let Some(number) = self.table.get(at)?.checked_sub(1) {
            if self.get(number as usize) == Some(text) {
                break;
            }
            at = (at + 1) & (self.table.len() - 1);
        }
        Some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_given_once_and_found_again() {
        let mut numbered = Numbered::default();
        assert_eq!((numbered.find(""), numbered.get(0)), (None, None));
        let text = |n: u32| format!("W{}", n % 1500);
        for n in 0..4000 {
            assert_eq!(numbered.number(&text(n)), n % 1500);
        }
        assert_eq!(numbered.len(), 1500);
        numbered.fetch((1400..1600).map(text).collect::<Vec<_>>().iter().map(String::as_str));
        assert!((0..1500).all(|n| numbered.find(&text(n)) == Some(n) && numbered.get(n as usize) == Some(&text(n))));
        assert!(numbered.texts().zip(0..).all(|(of_number, n)| of_number == text(n)));
        assert_eq!((numbered.find("W1500"), numbered.get(1500)), (None, None));
        assert_eq!((numbered.number(""), numbered.find(""), numbered.get(1500)), (1500, Some(1500), Some("")));
    }
}
