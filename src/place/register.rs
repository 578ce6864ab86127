//! The ids of the wells, each with a number by which it goes in a run, and their other names.
//!
//! All ids lie in one text, and a table of places finds one again by its digest. A reader would question why no hash map
//! of the library stands here: with a `String` each, once in a list and once in a map, an id costs 150 bytes; here it is
//! 25, and a look-up meets no more places in memory.

use rustc_hash::FxHashMap;
use xxhash_rust::xxh3::xxh3_64;

/// Places of the first table; always a power of two.
const FIRST: usize = 16;

/// Ids by number, and numbers by id.
#[derive(Debug, Default)]
pub(super) struct Register {
    text: String,
    /// Where each id ends in the text.
    ends: Vec<usize>,
    /// Number of an id, plus one; 0 is empty, and half the places are.
    table: Vec<u32>,
    others: FxHashMap<String, u32>,
}

impl Register {
    /// How many ids there are.
    pub(super) fn len(&self) -> usize {
        self.ends.len()
    }

    /// The id of a number; `None` past the last.
    pub(super) fn get(&self, number: usize) -> Option<&str> {
        let start = number.checked_sub(1).map_or(Some(0), |before| self.ends.get(before).copied())?;
        self.text.get(start..*self.ends.get(number)?)
    }

    /// Every id, by number.
    pub(super) fn ids(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).filter_map(|number| self.get(number))
    }

    /// The number of an id.
    pub(super) fn listed(&self, id: &str) -> Option<u32> {
        let at = self.place(id)?;
        self.table.get(at)?.checked_sub(1)
    }

    /// The number that an id or another name stands for.
    pub(super) fn find(&self, name: &str) -> Option<u32> {
        self.listed(name).or_else(|| self.others.get(name).copied())
    }

    /// The number of an id, which is given one if it has none.
    pub(super) fn number(&mut self, id: &str) -> u32 {
        if let Some(known) = self.listed(id) {
            return known;
        }
        self.text.push_str(id);
        self.ends.push(self.text.len());
        if self.len() * 2 > self.table.len() {
            self.grow();
        } else {
            self.enter(self.len() - 1);
        }
        u32::try_from(self.len() - 1).unwrap_or(u32::MAX)
    }

    /// Lets another name stand for a number.
    pub(super) fn also(&mut self, name: &str, number: u32) {
        self.others.insert(name.to_owned(), number);
    }

    /// A table of twice the size.
    fn grow(&mut self) {
        self.table = vec![0; (self.table.len() * 2).max(FIRST)];
        (0..self.len()).for_each(|number| self.enter(number));
    }

    fn enter(&mut self, number: usize) {
        let at = self.get(number).and_then(|id| self.place(id));
        if let Some(place) = at.and_then(|at| self.table.get_mut(at)) {
            *place = u32::try_from(number + 1).unwrap_or(0);
        }
    }

    /// Where an id stands in the table, or the empty place where it would; `None` of an empty table.
    fn place(&self, id: &str) -> Option<usize> {
        let last = self.table.len().checked_sub(1)?;
        let mut at = xxh3_64(id.as_bytes()) as usize & last;
        while let Some(number) = self.table.get(at)?.checked_sub(1) {
            if self.get(number as usize) == Some(id) {
                break;
            }
            at = (at + 1) & last;
        }
        Some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_given_once_and_found_again() {
        let mut register = Register::default();
        assert_eq!((register.find(""), register.get(0)), (None, None));
        let id = |n: u32| format!("W{}", n % 1500);
        for n in 0..4000 {
            assert_eq!(register.number(&id(n)), n % 1500);
        }
        assert_eq!(register.len(), 1500);
        assert!((0..1500).all(|n| register.find(&id(n)) == Some(n) && register.get(n as usize) == Some(&id(n))));
        assert!(register.ids().zip(0..).all(|(of_number, n)| of_number == id(n)));
        assert_eq!((register.find("W1500"), register.get(1500)), (None, None));
    }

    #[test]
    fn another_name_is_no_id() {
        let mut register = Register::default();
        let number = register.number("QM-1");
        register.also("QM 1", number);
        assert_eq!((register.find("QM 1"), register.listed("QM 1")), (Some(0), None));
        assert_eq!(register.len(), 1);
    }
}
