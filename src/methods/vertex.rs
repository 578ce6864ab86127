//! Whether one of several numbers of which only sums are known could be as large as wanted.
//!
//! Small systems only: a dense tableau. A reader would question floating point: entries are 0 and 1 and sums are counts, so that a tableau of a few
//! hundred rows stays within a millionth.

/// Below this a number is taken for nothing.
const TINY: f64 = 1e-7;

/// Sums of numbers that are at least zero.
#[derive(Clone, Debug)]
pub struct Sums {
    /// One row a sum, in terms of the numbers that are not basic; the last column is its value.
    rows: Vec<Vec<f64>>,
    /// Which number each row gives.
    basis: Vec<usize>,
    numbers: usize,
}

/// How a climb ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    /// Nothing raises the goal, or it is high enough.
    Top,
    /// It can be raised without end.
    Open,
}

impl Sums {
    /// # Computes
    /// A corner of all lists of numbers that have the same sums as `known`.
    /// # Takes
    /// For each sum the numbers in it, by their places; the numbers as they are.
    /// # Gives
    /// `None` if the pivots do not come to an end (not seen).
    /// # Source
    /// The simplex method of Dantzig with Bland's rule, first phase with an artificial number a row. From memory.
    /// # Checked against
    /// Trying all lists of whole numbers (`as_by_trying_all`).
    pub fn of(sums: &[Vec<usize>], known: &[u64]) -> Option<Sums> {
        let numbers = known.len();
        let width = numbers + sums.len() + 1;
        let mut rows = Vec::with_capacity(sums.len());
        for (at, members) in sums.iter().enumerate() {
            let mut row = vec![0.0; width];
            members.iter().filter(|member| **member < numbers).for_each(|member| row[*member] = 1.0);
            row[numbers + at] = 1.0;
            row[width - 1] = members.iter().filter_map(|member| known.get(*member)).map(|n| *n as f64).sum();
            rows.push(row);
        }
        let mut made = Sums { rows, basis: (numbers..numbers + sums.len()).collect(), numbers };
        // Artificial numbers are driven out: their sum is brought to nothing.
        let mut goal = vec![0.0; width];
        for row in &made.rows {
            goal.iter_mut().zip(row).take(numbers).for_each(|(goal, x)| *goal += x);
            goal[width - 1] += row[width - 1];
        }
        made.climb(&mut goal, |_| false)?;
        made.drop_artificial();
        Some(made)
    }

    /// # Computes
    /// Whether number `at` can be `wanted` or more.
    /// # Gives
    /// `true` at a corner where all numbers are whole, or where it can be twice as much in fractions; `false` otherwise, and where pivots do
    /// not come to an end: to say so is on the safe side.
    pub fn reaches(&mut self, at: usize, wanted: u64) -> bool {
        let wanted = wanted as f64 - TINY;
        if self.rows.is_empty() {
            return true; // nothing is known of it
        }
        let width = self.width();
        let mut goal = vec![0.0; width];
        match self.basis.iter().position(|basic| *basic == at) {
            Some(row) => goal.iter_mut().zip(&self.rows[row]).for_each(|(goal, x)| *goal = -x),
            None => goal[at] = 1.0,
        }
        goal[at] = if self.basis.contains(&at) { 0.0 } else { goal[at] };
        goal[width - 1] = 0.0;
        let reached = |sums: &Sums| sums.value(at) >= wanted && sums.is_whole();
        match self.climb(&mut goal, reached) {
            Some(End::Open) => true,
            Some(End::Top) => self.value(at) >= if self.is_whole() { wanted } else { 2.0 * wanted },
            None => false,
        }
    }

    fn width(&self) -> usize {
        self.rows.first().map_or(1, Vec::len)
    }

    fn value(&self, at: usize) -> f64 {
        let row = self.basis.iter().position(|basic| *basic == at);
        row.and_then(|row| self.rows.get(row)?.last().copied()).unwrap_or(0.0)
    }

    fn is_whole(&self) -> bool {
        self.rows.iter().filter_map(|row| row.last()).all(|x| (x - x.round()).abs() < 1e-5)
    }

    /// Raises the goal by pivots until nothing raises it or `enough`; `None` where there are too many.
    fn climb(&mut self, goal: &mut [f64], enough: impl Fn(&Sums) -> bool) -> Option<End> {
        let most = 50 * (self.rows.len() + self.numbers) + 100;
        for pivots in 0..most {
            if enough(self) {
                return Some(End::Top);
            }
            let Some(enters) = self.entering(goal, pivots) else { return Some(End::Top) };
            let Some(leaves) = self.leaving(enters) else { return Some(End::Open) };
            self.pivot(leaves, enters, goal);
        }
        None
    }

    /// The steepest column at first, the first one (Bland) once it might go in circles.
    fn entering(&self, goal: &[f64], pivots: usize) -> Option<usize> {
        let mut open = goal.iter().take(self.numbers).enumerate().filter(|(_, slope)| **slope > TINY);
        if pivots < 4 * self.rows.len() {
            return open.max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0))).map(|(at, _)| at);
        }
        open.next().map(|(at, _)| at)
    }

    fn leaving(&self, enters: usize) -> Option<usize> {
        let ratio = |row: &Vec<f64>| Some(row.last()? / row.get(enters).filter(|x| **x > TINY)?);
        let able = self.rows.iter().enumerate().filter_map(|(at, row)| Some((ratio(row)?, self.basis[at], at)));
        able.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map(|(_, _, at)| at)
    }

    fn pivot(&mut self, leaves: usize, enters: usize, goal: &mut [f64]) {
        let mut row = std::mem::take(&mut self.rows[leaves]);
        let by = row[enters];
        row.iter_mut().for_each(|x| *x /= by);
        let clear = |other: &mut [f64]| {
            let by = other[enters];
            if by != 0.0 {
                other.iter_mut().zip(&row).for_each(|(x, own)| *x -= by * own);
            }
        };
        self.rows.iter_mut().filter(|other| !other.is_empty()).for_each(|other| clear(other));
        clear(goal);
        self.rows[leaves] = row;
        self.basis[leaves] = enters;
    }

    /// Sums that follow from others keep an artificial number at nothing: they are left out, or another number takes its place.
    fn drop_artificial(&mut self) {
        let mut at = 0;
        while at < self.rows.len() {
            if self.basis[at] < self.numbers {
                at += 1;
                continue;
            }
            let other = (0..self.numbers).find(|column| self.rows[at][*column].abs() > TINY);
            match other {
                Some(column) => {
                    let mut none = vec![0.0; self.width()];
                    self.pivot(at, column, &mut none);
                }
                None => {
                    self.rows.swap_remove(at);
                    self.basis.swap_remove(at);
                }
            }
        }
        for row in &mut self.rows {
            let value = row.last().copied().unwrap_or(0.0);
            row.truncate(self.numbers);
            row.push(value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_numbers_with_a_sum() {
        let mut sums = Sums::of(&[vec![0, 1]], &[3, 4]).unwrap();
        assert!(sums.reaches(0, 7) && sums.reaches(1, 7) && !sums.reaches(0, 8));
    }

    #[test]
    fn a_number_alone_in_its_sum_is_known() {
        let mut sums = Sums::of(&[vec![0, 1], vec![1], vec![0, 1]], &[3, 4]).unwrap();
        assert!(sums.reaches(0, 3) && !sums.reaches(0, 4));
    }

    /// The largest that a number can be in whole numbers, by trying.
    fn largest(sums: &[Vec<usize>], known: &[u64], at: usize) -> u64 {
        let top = known.iter().sum::<u64>();
        let mut best = 0;
        let mut list = vec![0; known.len()];
        loop {
            let same = |members: &Vec<usize>| {
                members.iter().map(|m| list[*m]).sum::<u64>() == members.iter().map(|m| known[*m]).sum::<u64>()
            };
            if sums.iter().all(same) {
                best = best.max(list[at]);
            }
            let Some(place) = list.iter().position(|n| *n < top) else { return best };
            list[place] += 1;
            list.iter_mut().take(place).for_each(|n| *n = 0);
        }
    }

    proptest::proptest! {
        #[test]
        fn as_by_trying_all(
            known in proptest::collection::vec(0_u64..2, 5),
            sums in proptest::collection::vec(proptest::collection::btree_set(0_usize..5, 1..5), 1..4),
        ) {
            // Sums over all keep the numbers within bounds.
            let mut sums: Vec<Vec<usize>> = sums.into_iter().map(|set| set.into_iter().collect()).collect();
            sums.push((0..5).collect());
            let mut made = Sums::of(&sums, &known).unwrap();
            for at in 0..5 {
                let most = largest(&sums, &known, at);
                proptest::prop_assert!(!made.reaches(at, most + 1));
            }
        }
    }
}
