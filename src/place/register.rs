//! The ids of the wells, each with a number by which it goes in a run, and their other names.

use crate::numbered::Numbered;
use rustc_hash::FxHashMap;

/// Ids by number, and numbers by id or other name.
#[derive(Debug, Default)]
pub(super) struct Register {
    ids: Numbered,
    others: FxHashMap<String, u32>,
}

impl Register {
    /// How many ids there are.
    pub(super) fn len(&self) -> usize {
        self.ids.len()
    }

    /// The id of a number; `None` past the last.
    pub(super) fn get(&self, number: usize) -> Option<&str> {
        self.ids.get(number)
    }

    /// Every id, by number.
    pub(super) fn ids(&self) -> impl Iterator<Item = &str> {
        self.ids.texts()
    }

    /// The number of an id.
    pub(super) fn listed(&self, id: &str) -> Option<u32> {
        self.ids.find(id)
    }

    /// The number that an id or another name stands for.
    pub(super) fn find(&self, name: &str) -> Option<u32> {
        self.listed(name).or_else(|| self.others.get(name).copied())
    }

    /// Makes `find` of these names quicker, asked for right after.
    pub(super) fn fetch<'n>(&self, names: impl Iterator<Item = &'n str>) {
        self.ids.fetch(names);
    }

    /// The number of an id, which is given one if it has none.
    pub(super) fn number(&mut self, id: &str) -> u32 {
        self.ids.number(id)
    }

    /// Lets another name stand for a number.
    pub(super) fn also(&mut self, name: &str, number: u32) {
        self.others.insert(name.to_owned(), number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_name_is_no_id() {
        let mut register = Register::default();
        let number = register.number("QM-1");
        register.also("QM 1", number);
        assert_eq!((register.find("QM 1"), register.listed("QM 1")), (Some(0), None));
        assert_eq!(register.len(), 1);
    }
}
