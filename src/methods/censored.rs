//! Left-censored values: a list of values and a list of marks turned into counts at each different
//! value, lowest first.
//!
//! Laboratories round, so a group of thousands of results holds few different values; every method
//! here works on these counts, and resampling changes counts without sorting again. A reader would
//! question the order at one value: `<5` lies strictly below a detected 5, so non-detects come
//! first.

use thiserror::Error;

/// Why a list of values cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NotUsable {
    /// The two lists belong together, item by item.
    #[error("{values} values but {marks} non-detect marks")]
    LengthsDiffer {
        /// Length of the list of values.
        values: usize,
        /// Length of the list of marks.
        marks: usize,
    },
    /// A value or limit must be a finite number.
    #[error("the value at position {position} is not a finite number")]
    NotFinite {
        /// Position in the list, from 0.
        position: usize,
    },
}

/// How many results stand at one value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tie {
    /// The value detected, and the limit of the non-detects.
    pub value: f64,
    /// Results that were detected at this value.
    pub detects: u32,
    /// Results known only to lie below this value.
    pub nondetects: u32,
}

/// Values of which some are known only to lie below a limit; one unit throughout, which no method
/// needs to know.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Censored {
    ties: Vec<Tie>,
    n: usize,
    detected: usize,
}

impl Censored {
    /// # Computes
    /// Detects and non-detects at each different value, lowest first.
    /// # Takes
    /// Values in any one unit; where `nondetect` is true the value is a limit.
    /// # Errors
    /// Lists of different length, or a value that is not finite. An infinite upper end has to be
    /// entered as its lower end.
    /// # Conventions
    /// `<5` lies strictly below a detected 5.
    /// # Source
    /// Helsel 2005, chapter 2 (from memory).
    /// # Checked against
    /// Every case of the left-censored methods in `tests/reference`.
    pub fn new(value: &[f64], nondetect: &[bool]) -> Result<Self, NotUsable> {
        if value.len() != nondetect.len() {
            return Err(NotUsable::LengthsDiffer { values: value.len(), marks: nondetect.len() });
        }
        if let Some(position) = value.iter().position(|v| !v.is_finite()) {
            return Err(NotUsable::NotFinite { position });
        }
        // Adding zero turns -0.0 into 0.0, so that the two are one value.
        let mut pairs: Vec<(f64, bool)> = value.iter().map(|v| v + 0.0).zip(nondetect.iter().copied()).collect();
        pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut ties: Vec<Tie> = Vec::new();
        for (value, below) in pairs {
            let (detects, nondetects) = if below { (0, 1) } else { (1, 0) };
            match ties.last_mut() {
                Some(last) if last.value == value => {
                    last.detects += detects;
                    last.nondetects += nondetects;
                }
                _ => ties.push(Tie { value, detects, nondetects }),
            }
        }
        let detected = nondetect.iter().filter(|below| !**below).count();
        Ok(Censored { ties, n: value.len(), detected })
    }

    /// Counts at each different value, lowest first.
    pub fn ties(&self) -> &[Tie] {
        &self.ties
    }

    /// Number of results.
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether there is no result at all.
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// Number of results that were detected.
    pub fn detected(&self) -> usize {
        self.detected
    }

    /// Number of results known only to lie below a limit.
    pub fn nondetects(&self) -> usize {
        self.n - self.detected
    }

    /// Share detected, `None` without results.
    pub fn detected_share(&self) -> Option<f64> {
        (self.n > 0).then(|| self.detected as f64 / self.n as f64)
    }

    /// Values that were detected, each once, with their counts, lowest first.
    pub fn detects(&self) -> impl DoubleEndedIterator<Item = (f64, u32)> + '_ {
        self.ties.iter().filter(|tie| tie.detects > 0).map(|tie| (tie.value, tie.detects))
    }

    /// Limits of the non-detects, each once, with their counts, lowest first.
    pub fn limits(&self) -> impl DoubleEndedIterator<Item = (f64, u32)> + '_ {
        self.ties.iter().filter(|tie| tie.nondetects > 0).map(|tie| (tie.value, tie.nondetects))
    }

    /// Lowest value detected.
    pub fn lowest_detect(&self) -> Option<f64> {
        self.detects().next().map(|(value, _)| value)
    }

    /// Highest value detected.
    pub fn highest_detect(&self) -> Option<f64> {
        self.detects().next_back().map(|(value, _)| value)
    }

    /// Lowest limit of a non-detect.
    pub fn lowest_limit(&self) -> Option<f64> {
        self.limits().next().map(|(value, _)| value)
    }

    /// Highest limit of a non-detect.
    pub fn highest_limit(&self) -> Option<f64> {
        self.limits().next_back().map(|(value, _)| value)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Reads `"<5 5 7.2"`.
    pub(crate) fn words(text: &str) -> Censored {
        let (value, below): (Vec<f64>, Vec<bool>) = text
            .split_whitespace()
            .map(|w| (w.trim_start_matches('<').parse::<f64>().unwrap(), w.starts_with('<')))
            .unzip();
        Censored::new(&value, &below).unwrap()
    }

    /// Groups as they come: none to forty results, few different values and limits, some all
    /// detected, some not at all.
    pub(crate) fn groups() -> impl Strategy<Value = Censored> {
        let result =
            (prop::sample::select(vec![0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 5.0, 7.7, 10.0, 1e4, 1e-6]), any::<bool>());
        let marks = prop::sample::select(vec![0u8, 1, 2]);
        (prop::collection::vec(result, 0..40), marks).prop_map(|(list, marks)| {
            let value: Vec<f64> = list.iter().map(|(v, _)| *v).collect();
            let below: Vec<bool> = list.iter().map(|(_, b)| (*b || marks == 1) && marks != 2).collect();
            Censored::new(&value, &below).unwrap()
        })
    }

    #[test]
    fn counts_at_each_value_lowest_first() {
        let got = words("5 <5 1 <0.5 5");
        let tie = |value, detects, nondetects| Tie { value, detects, nondetects };
        assert_eq!(got.ties(), [tie(0.5, 0, 1), tie(1.0, 1, 0), tie(5.0, 2, 1)]);
        assert_eq!((got.len(), got.detected(), got.lowest_limit(), got.highest_detect()), (5, 3, Some(0.5), Some(5.0)));
    }

    #[test]
    fn what_cannot_be_used_is_said() {
        assert_eq!(Censored::new(&[1.0], &[]), Err(NotUsable::LengthsDiffer { values: 1, marks: 0 }));
        assert_eq!(Censored::new(&[1.0, f64::INFINITY], &[false; 2]), Err(NotUsable::NotFinite { position: 1 }));
    }

    #[test]
    fn negative_zero_is_zero() {
        assert_eq!(Censored::new(&[-0.0, 0.0], &[false; 2]).unwrap().ties().len(), 1);
    }

    proptest! {
        #[test]
        fn order_of_the_results_does_not_matter(list in prop::collection::vec((0u8..9, any::<bool>()), 0..30)) {
            let of = |list: &[(u8, bool)]| {
                let value: Vec<f64> = list.iter().map(|(v, _)| f64::from(*v)).collect();
                let below: Vec<bool> = list.iter().map(|(_, b)| *b).collect();
                Censored::new(&value, &below).unwrap()
            };
            let back: Vec<_> = list.iter().rev().copied().collect();
            prop_assert_eq!(of(&list), of(&back));
        }
    }
}
