//! Numbers of wells and what is known to hold between them become the set of numbers to hide.
//!
//! The file plays the outsider: it knows every shown number and every relation, and narrows each hidden number to an interval
//! by passing bounds from relation to relation until nothing moves. Where an interval comes out narrower than the smallest
//! group, one more number of the relation that narrowed it is hidden, parts before totals and small ones first. A reader would
//! question that bounds are passed relation by relation: sums over areas, bands and analytes meet in few places, so that
//! combining relations gains nothing more; the auditor in tests combines them.

/// A number that may be hidden, by its place in the system.
pub type Cell = usize;

/// No outsider takes a number of wells to be above this.
const ANY: i64 = 1 << 40;
/// Passes over all relations; bounds settle in a few.
const PASSES: usize = 200;

/// In which order numbers are hidden to protect others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rank {
    /// A group among others.
    Part,
    /// An area's number of sampled wells: all of the area goes with it.
    Area,
    /// A total.
    Total,
}

#[derive(Clone, Debug)]
struct Number {
    value: i64,
    rank: Rank,
    hidden: bool,
    /// Told by a table that never hides it.
    constant: bool,
    /// Hidden when this one is.
    follow: Vec<Cell>,
}

/// Sum of coefficient times number, which is at least zero.
type Relation = Vec<(i64, Cell)>;

/// All numbers of wells of a run and what holds between them.
#[derive(Clone, Debug, Default)]
pub struct System {
    numbers: Vec<Number>,
    relations: Vec<Relation>,
}

/// What an outsider knows of a number, and which relation told.
#[derive(Clone, Copy, Debug)]
struct Bounds {
    low: i64,
    high: i64,
    by_low: Option<usize>,
    by_high: Option<usize>,
}

impl System {
    /// Adds a number.
    pub fn number(&mut self, value: u64, rank: Rank) -> Cell {
        let value = i64::try_from(value).unwrap_or(ANY).min(ANY);
        self.numbers.push(Number { value, rank, hidden: false, constant: false, follow: Vec::new() });
        self.numbers.len() - 1
    }

    /// `whole` is at least the sum of the parts.
    pub fn at_least(&mut self, whole: Cell, parts: &[Cell]) {
        self.relations.push(std::iter::once((1, whole)).chain(parts.iter().map(|part| (-1, *part))).collect());
    }

    /// `whole` is at most the sum of the parts.
    pub fn at_most(&mut self, whole: Cell, parts: &[Cell]) {
        self.relations.push(std::iter::once((-1, whole)).chain(parts.iter().map(|part| (1, *part))).collect());
    }

    /// `whole` is at most the sum of the parts and a number that is known and never hidden.
    pub fn at_most_with(&mut self, whole: Cell, parts: &[Cell], known: u64) {
        let mut terms = parts.to_vec();
        if known > 0 {
            terms.push(self.constant(known));
        }
        self.at_most(whole, &terms);
    }

    fn constant(&mut self, value: u64) -> Cell {
        let cell = self.number(value, Rank::Total);
        if let Some(number) = self.numbers.get_mut(cell) {
            number.constant = true;
        }
        cell
    }

    /// Any relation: the sum of coefficient times number is at least zero.
    pub fn relation(&mut self, terms: Vec<(i64, Cell)>) {
        self.relations.push(terms);
    }

    /// `whole` is the sum of the parts.
    pub fn sum(&mut self, whole: Cell, parts: &[Cell]) {
        self.at_least(whole, parts);
        self.at_most(whole, parts);
    }

    /// Whenever `first` is hidden, `then` is.
    pub fn follows(&mut self, first: Cell, then: Cell) {
        if let Some(number) = self.numbers.get_mut(first) {
            number.follow.push(then);
        }
    }

    /// The true number.
    pub fn value(&self, cell: Cell) -> u64 {
        self.numbers.get(cell).map_or(0, |number| number.value.unsigned_abs())
    }

    /// Whether it is hidden.
    pub fn hides(&self, cell: Cell) -> bool {
        self.numbers.get(cell).is_none_or(|number| number.hidden)
    }

    /// Hides a number and all that follow it.
    pub fn hide(&mut self, cell: Cell) {
        let mut next = vec![cell];
        while let Some(cell) = next.pop() {
            if let Some(number) = self.numbers.get_mut(cell).filter(|number| !number.hidden && !number.constant) {
                number.hidden = true;
                next.extend(&number.follow);
            }
        }
    }

    /// Hides everything under `smallest`, then as much as it takes.
    pub fn protect(&mut self, smallest: u32) {
        let smallest = i64::from(smallest);
        for cell in 0..self.numbers.len() {
            if self.numbers.get(cell).is_some_and(|number| number.value < smallest) {
                self.hide(cell);
            }
        }
        loop {
            let bounds = self.attack();
            let narrow = (0..self.numbers.len()).filter(|cell| self.hides(*cell));
            let narrow: Vec<Bounds> =
                narrow.filter_map(|cell| bounds.get(cell).copied()).filter(|b| b.high - b.low < smallest).collect();
            let mut next: Vec<Cell> = narrow.iter().filter_map(|bounds| self.remedy(*bounds)).collect();
            next.sort_unstable();
            next.dedup();
            if next.is_empty() {
                return; // nothing is narrow, or nothing is left to hide
            }
            next.into_iter().for_each(|cell| self.hide(cell));
        }
    }

    /// One more number to hide: of the relation that gave the lower bound, else of the one that gave the upper.
    fn remedy(&self, bounds: Bounds) -> Option<Cell> {
        let of = |relation: Option<usize>| {
            let terms = relation.and_then(|at| self.relations.get(at))?;
            let shown = terms.iter().filter_map(|(_, cell)| Some((*cell, self.numbers.get(*cell)?)));
            let shown = shown.filter(|(_, number)| !number.hidden && !number.constant);
            shown.map(|(cell, number)| (number.rank, number.value, cell)).min()
        };
        let low = of(bounds.by_low.filter(|_| bounds.low > 0));
        let high = of(bounds.by_high);
        let chosen = match (low, high) {
            (Some(low), Some(high)) => Some(if low.0 <= high.0 { low } else { high }),
            (low, high) => low.or(high),
        };
        chosen.or_else(|| self.any_shown()).map(|(_, _, cell)| cell)
    }

    /// A bound may come from hidden numbers alone that others bound: then the smallest shown number of all goes.
    fn any_shown(&self) -> Option<(Rank, i64, Cell)> {
        let shown = self.numbers.iter().enumerate().filter(|(_, number)| !number.hidden && !number.constant);
        shown.map(|(cell, number)| (number.rank, number.value, cell)).min()
    }

    /// Passes bounds over the relations until none moves.
    fn attack(&self) -> Vec<Bounds> {
        let start = |number: &Number| {
            let (low, high) = if number.hidden { (0, ANY) } else { (number.value, number.value) };
            Bounds { low, high, by_low: None, by_high: None }
        };
        let mut bounds: Vec<Bounds> = self.numbers.iter().map(start).collect();
        let open: Vec<(usize, &Relation)> = self
            .relations
            .iter()
            .enumerate()
            .filter(|(_, terms)| terms.iter().any(|(_, cell)| self.hides(*cell)) && self.holds(terms))
            .collect();
        for _ in 0..PASSES {
            let moves = open.iter().filter(|(at, terms)| narrow(&mut bounds, *at, terms)).count();
            if moves == 0 {
                break;
            }
        }
        bounds
    }

    /// A relation that the true numbers break would be a fault of `counts`; it must not lead the attack astray.
    fn holds(&self, terms: &Relation) -> bool {
        let value = |cell: Cell| self.numbers.get(cell).map_or(0, |number| number.value);
        terms.iter().map(|(factor, cell)| factor * value(*cell)).sum::<i64>() >= 0
    }
}

/// Uses one relation once.
fn narrow(bounds: &mut [Bounds], at: usize, terms: &Relation) -> bool {
    let most = |bounds: &[Bounds], (factor, cell): (i64, Cell)| {
        let Some(known) = bounds.get(cell) else { return 0 };
        if factor > 0 { factor * known.high } else { factor * known.low }
    };
    let all: i64 = terms.iter().map(|term| most(bounds, *term)).sum();
    let mut moved = false;
    for term in terms {
        let others = all - most(bounds, *term);
        let Some(known) = bounds.get_mut(term.1).filter(|known| known.low < known.high) else { continue };
        if term.0 > 0 {
            let low = (-others + term.0 - 1).div_euclid(term.0).min(known.high);
            if low > known.low {
                (known.low, known.by_low, moved) = (low, Some(at), true);
            }
        } else {
            let high = others.div_euclid(-term.0).max(known.low);
            if high < known.high {
                (known.high, known.by_high, moved) = (high, Some(at), true);
            }
        }
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hidden(sizes: &[u64]) -> Vec<usize> {
        let mut system = System::default();
        let parts: Vec<Cell> = sizes.iter().map(|size| system.number(*size, Rank::Part)).collect();
        let whole = system.number(sizes.iter().sum(), Rank::Total);
        system.sum(whole, &parts);
        system.protect(5);
        (0..=sizes.len()).filter(|cell| system.hides(*cell)).collect()
    }

    #[test]
    fn a_lone_small_group_takes_another_with_it() {
        assert_eq!(hidden(&[20, 3, 9, 30]), [1, 2]);
        assert_eq!(hidden(&[20, 30]), Vec::<usize>::new());
        assert_eq!(hidden(&[3, 4, 30]), [0, 1]);
    }

    #[test]
    fn two_groups_of_one_are_not_enough_and_the_total_goes_last() {
        assert_eq!(hidden(&[1, 1, 30, 8]), [0, 1, 3]);
        assert_eq!(hidden(&[4]), [0, 1]);
    }

    proptest::proptest! {
        #[test]
        fn nothing_hidden_is_narrowed(sizes in proptest::collection::vec(0u64..40, 1..12)) {
            let mut system = System::default();
            let parts: Vec<Cell> = sizes.iter().map(|size| system.number(*size, Rank::Part)).collect();
            let whole = system.number(sizes.iter().sum(), Rank::Total);
            system.sum(whole, &parts);
            system.protect(5);
            for (cell, known) in system.attack().iter().enumerate() {
                proptest::prop_assert!(system.value(cell) >= 5 || system.hides(cell));
                proptest::prop_assert!(!system.hides(cell) || known.high - known.low >= 5);
            }
        }
    }
}
