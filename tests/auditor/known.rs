//! The outsider's arithmetic: numbers with what is known of them, relations between them, and how far each can be narrowed.
//!
//! Written apart from the program's own protection. Besides passing bounds it adds relations to each other in pairs, so that sums
//! that only together tell something are found.

use std::collections::BTreeMap;

const ANY: i64 = 1_000_000;
/// Passes over all relations.
const PASSES: usize = 40;

/// Sum of factor times number, at least `least`.
#[derive(Clone, PartialEq)]
struct Relation {
    terms: BTreeMap<String, i64>,
    least: i64,
}

#[derive(Default)]
pub struct Known {
    /// Numbers: what a file shows, or nothing.
    pub numbers: BTreeMap<String, Option<i64>>,
    relations: Vec<Relation>,
}

impl Known {
    /// A number as a cell of a file tells it; a second file may tell what the first hides.
    pub fn tell(&mut self, name: &str, cell: &str) {
        let value = cell.parse::<f64>().ok().map(|x| x.round() as i64);
        let entry = self.numbers.entry(name.to_owned()).or_default();
        *entry = entry.or(value);
    }

    pub fn has(&self, name: &str) -> bool {
        self.numbers.contains_key(name)
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

    fn relation<'a>(&mut self, terms: impl Iterator<Item = (&'a str, i64)>, least: i64) {
        let mut all = BTreeMap::new();
        for (name, factor) in terms {
            *all.entry(name.to_owned()).or_default() += factor;
        }
        self.relations.push(Relation { terms: all, least });
    }

    /// Hidden numbers that can be narrowed to less than `smallest`, with how far.
    pub fn narrowed(&self, smallest: i64) -> Vec<String> {
        let open: Vec<Relation> =
            self.relations.iter().map(|r| self.without_known(r)).filter(|r| !r.terms.is_empty()).collect();
        let mut all = open.clone();
        for (at, first) in open.iter().enumerate() {
            all.extend(open.iter().skip(at + 1).flat_map(|second| eliminated(first, second)));
        }
        let mut bounds: BTreeMap<&str, (i64, i64)> =
            self.numbers.iter().filter(|(_, v)| v.is_none()).map(|(name, _)| (name.as_str(), (0, ANY))).collect();
        // Every bound that is passed on is true, so that stopping early only misses something.
        for _ in 0..PASSES {
            if !all.iter().fold(false, |moved, relation| narrow(&mut bounds, relation) || moved) {
                break;
            }
        }
        let told = bounds.into_iter().filter(|(_, (low, high))| high - low < smallest);
        told.map(|(name, (low, high))| format!("{name}: {low} to {high}")).collect()
    }

    fn without_known(&self, relation: &Relation) -> Relation {
        let mut open = Relation { terms: BTreeMap::new(), least: relation.least };
        for (name, factor) in &relation.terms {
            match self.numbers.get(name).copied().flatten() {
                Some(value) => open.least -= factor * value,
                None => {
                    open.terms.insert(name.clone(), *factor);
                }
            }
        }
        open
    }
}

/// Sums of two relations in which a number drops out.
fn eliminated(first: &Relation, second: &Relation) -> Vec<Relation> {
    let shared = first.terms.iter().filter_map(|(name, a)| Some((a, second.terms.get(name)?)));
    let mut found: Vec<Relation> = Vec::new();
    for (a, b) in shared.filter(|(a, b)| a.signum() != b.signum()) {
        let mut sum = Relation { terms: BTreeMap::new(), least: first.least * b.abs() + second.least * a.abs() };
        for (terms, factor) in [(&first.terms, b.abs()), (&second.terms, a.abs())] {
            for (name, own) in terms {
                *sum.terms.entry(name.clone()).or_default() += own * factor;
            }
        }
        sum.terms.retain(|_, factor| *factor != 0);
        if !sum.terms.is_empty() && !found.contains(&sum) {
            found.push(sum);
        }
    }
    found
}

fn narrow(bounds: &mut BTreeMap<&str, (i64, i64)>, relation: &Relation) -> bool {
    let most = |bounds: &BTreeMap<&str, (i64, i64)>, name: &str, factor: i64| {
        let (low, high) = bounds[name];
        if factor > 0 { factor * high } else { factor * low }
    };
    let all: i64 = relation.terms.iter().map(|(name, factor)| most(bounds, name, *factor)).sum();
    let mut moved = false;
    for (name, factor) in &relation.terms {
        let needed = relation.least - (all - most(bounds, name, *factor));
        let known = bounds.get_mut(name.as_str()).unwrap();
        let before = *known;
        if *factor > 0 {
            known.0 = known.0.max((needed + factor - 1).div_euclid(*factor));
        } else {
            known.1 = known.1.min((-needed).div_euclid(-factor));
        }
        moved |= *known != before;
        if *known != before {
            return true; // the sum above is stale
        }
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
}
