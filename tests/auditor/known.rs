//! The outsider's arithmetic: numbers with what is known of them, relations between them, and how far each can be narrowed.
//!
//! Written apart from the program's own protection. Besides passing bounds it adds relations to each other in pairs, so that sums
//! that only together tell something are found.

use std::collections::{BTreeMap, BTreeSet};

const ANY: i64 = 1_000_000;
/// Passes over all relations.
const PASSES: usize = 40;

/// Sum of factor times number, at least `least`; terms by number.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Relation {
    terms: Vec<(usize, i64)>,
    least: i64,
}

#[derive(Default)]
pub struct Known {
    names: BTreeMap<String, usize>,
    /// What a file shows, or nothing.
    shown: Vec<Option<i64>>,
    relations: Vec<Relation>,
    /// Two files that tell one number differently.
    pub contradictions: Vec<String>,
}

impl Known {
    fn number(&mut self, name: &str) -> usize {
        if let Some(at) = self.names.get(name) {
            return *at;
        }
        self.names.insert(name.to_owned(), self.shown.len());
        self.shown.push(None);
        self.shown.len() - 1
    }

    /// A number as a cell of a file tells it; a second file may tell what the first hides.
    pub fn tell(&mut self, name: &str, cell: &str) {
        let value = cell.parse::<f64>().ok().map(|x| x.round() as i64);
        let at = self.number(name);
        if let (Some(old), Some(new)) = (self.shown[at], value)
            && old != new
        {
            self.contradictions.push(format!("{name} is {old} and {new}"));
        }
        self.shown[at] = self.shown[at].or(value);
    }

    /// What is left of a number without its parts, where all of them are shown.
    pub fn left(&self, whole: &str, parts: &[String]) -> Option<i64> {
        let shown = |name: &str| self.shown.get(*self.names.get(name)?).copied().flatten();
        parts.iter().try_fold(shown(whole)?, |left, part| Some(left - shown(part)?))
    }

    pub fn has(&self, name: &str) -> bool {
        self.names.contains_key(name)
    }

    /// whole >= sum of parts
    pub fn at_least(&mut self, whole: &str, parts: &[String]) {
        self.relation(parts.iter().map(|part| (part.as_str(), -1)).chain([(whole, 1)]), 0);
    }

    /// whole <= sum of parts + extra
    pub fn at_most(&mut self, whole: &str, parts: &[String], extra: i64) {
        self.relation(parts.iter().map(|part| (part.as_str(), 1)).chain([(whole, -1)]), -extra);
    }

    pub fn sum(&mut self, whole: &str, parts: &[String]) {
        self.at_least(whole, parts);
        self.at_most(whole, parts, 0);
    }

    /// `some` are those with all of `parts`, out of `all`: no more than any of the parts, no fewer than must be in each.
    pub fn overlap(&mut self, some: &str, all: &str, parts: &[String]) {
        parts.iter().for_each(|part| self.at_least(part, &[some.to_owned()]));
        let lacking = parts.len() as i64 - 1;
        self.relation(parts.iter().map(|part| (part.as_str(), -1)).chain([(some, 1), (all, lacking)]), 0);
    }

    fn relation<'a>(&mut self, terms: impl Iterator<Item = (&'a str, i64)>, least: i64) {
        let mut all: BTreeMap<usize, i64> = BTreeMap::new();
        for (name, factor) in terms {
            *all.entry(self.number(name)).or_default() += factor;
        }
        let terms = all.into_iter().filter(|(_, factor)| *factor != 0).collect();
        self.relations.push(Relation { terms, least });
    }

    /// `3 of 17 wells tested were above` (none of 17, all 17, both, the one) in the sentence of a row tells of at least so many wells of its group.
    pub fn sentence(&mut self, row: &BTreeMap<String, String>) {
        let because = &row["because"];
        let counted = because.split_once(" wells tested ").and_then(|(before, _)| before.rsplit(' ').next());
        let tested = counted.and_then(|number| if number == "Both" { Some(2) } else { number.parse::<i64>().ok() });
        if let Some(tested) = tested.or(because.starts_with("The one well tested ").then_some(1)) {
            let group = format!("{}/{}", row["area_id"], row["analyte"]);
            self.relation([(group.as_str(), 1)].into_iter(), tested);
        }
    }

    /// Hidden numbers that can be narrowed to less than `smallest`, with how far.
    pub fn narrowed(&self, smallest: i64) -> Vec<String> {
        let open = self.relations.iter().map(|r| self.without_known(r)).filter(|r| !r.terms.is_empty());
        let open: Vec<Relation> = open.collect::<BTreeSet<_>>().into_iter().collect();
        let mut all: BTreeSet<Relation> = open.iter().cloned().collect();
        let mut by_number: BTreeMap<usize, Vec<(usize, i64)>> = BTreeMap::new();
        for (at, relation) in open.iter().enumerate() {
            relation
                .terms
                .iter()
                .for_each(|(number, factor)| by_number.entry(*number).or_default().push((at, *factor)));
        }
        for (number, uses) in by_number {
            for (first, _) in uses.iter().filter(|(_, factor)| *factor > 0) {
                for (second, _) in uses.iter().filter(|(_, factor)| *factor < 0) {
                    all.extend(eliminated(&open[*first], &open[*second], number));
                }
            }
        }
        let mut bounds: Vec<(i64, i64)> =
            self.shown.iter().map(|shown| shown.map_or((0, ANY), |value| (value, value))).collect();
        // Every bound that is passed on is true, so that stopping early only misses something.
        for _ in 0..PASSES {
            if all.iter().filter(|relation| narrow(&mut bounds, relation)).count() == 0 {
                break;
            }
        }
        let told = self.names.iter().filter(|(_, at)| self.shown[**at].is_none()).map(|(name, at)| (name, bounds[*at]));
        let told = told.filter(|(_, (low, high))| high - low < smallest);
        told.map(|(name, (low, high))| format!("{name}: {low} to {high}")).collect()
    }

    fn without_known(&self, relation: &Relation) -> Relation {
        let mut open = Relation { terms: Vec::new(), least: relation.least };
        for (number, factor) in &relation.terms {
            match self.shown[*number] {
                Some(value) => open.least -= factor * value,
                None => open.terms.push((*number, *factor)),
            }
        }
        open
    }
}

/// The sum of two relations in which a number drops out; `None` where nothing is left.
fn eliminated(first: &Relation, second: &Relation, number: usize) -> Option<Relation> {
    let factor = |relation: &Relation| relation.terms.iter().find(|(at, _)| *at == number).map_or(0, |(_, f)| f.abs());
    let (a, b) = (factor(first), factor(second));
    let mut terms: BTreeMap<usize, i64> = BTreeMap::new();
    for (relation, times) in [(first, b), (second, a)] {
        relation.terms.iter().for_each(|(at, own)| *terms.entry(*at).or_default() += own * times);
    }
    let terms: Vec<(usize, i64)> = terms.into_iter().filter(|(_, factor)| *factor != 0).collect();
    (!terms.is_empty()).then_some(Relation { terms, least: first.least * b + second.least * a })
}

fn narrow(bounds: &mut [(i64, i64)], relation: &Relation) -> bool {
    let most = |bounds: &[(i64, i64)], number: usize, factor: i64| {
        let (low, high) = bounds[number];
        if factor > 0 { factor * high } else { factor * low }
    };
    let mut all: i64 = relation.terms.iter().map(|(number, factor)| most(bounds, *number, *factor)).sum();
    let mut moved = false;
    for (number, factor) in &relation.terms {
        let own = most(bounds, *number, *factor);
        let needed = relation.least - (all - own);
        let before = bounds[*number];
        if *factor > 0 {
            bounds[*number].0 = before.0.max((needed + factor - 1).div_euclid(*factor));
        } else {
            bounds[*number].1 = before.1.min((-needed).div_euclid(-factor));
        }
        moved |= bounds[*number] != before;
        all += most(bounds, *number, *factor) - own;
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lone_gap_in_a_sum_is_found() {
        let mut known = Known::default();
        for (name, cell) in [("all", "30"), ("a", "12"), ("b", ""), ("c", "15")] {
            known.tell(name, cell);
        }
        known.sum("all", &["a", "b", "c"].map(str::to_owned));
        assert_eq!(known.narrowed(5), ["b: 3 to 3"]);
    }

    #[test]
    fn two_sums_that_tell_together_are_found() {
        let mut known = Known::default();
        for (name, cell) in [("first", "20"), ("second", "17"), ("a", ""), ("b", ""), ("c", "")] {
            known.tell(name, cell);
        }
        known.sum("first", &["a", "b", "c"].map(str::to_owned));
        known.sum("second", &["a", "b"].map(str::to_owned));
        assert!(known.narrowed(5).contains(&"c: 3 to 3".to_owned()));
    }

    /// By hand: of 20 wells 18 and 17 have one analyte each, so 15 to 17 have both.
    #[test]
    fn an_overlap_is_bounded_from_both_sides() {
        let mut known = Known::default();
        for (name, cell) in [("all", "20"), ("a", "18"), ("b", "17"), ("both", "")] {
            known.tell(name, cell);
        }
        known.overlap("both", "all", &["a", "b"].map(str::to_owned));
        assert_eq!(known.narrowed(5), ["both: 15 to 17"]);
    }
}
