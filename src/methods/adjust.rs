//! p-values of several tests into q-values: the share of false discoveries among those called at that level.
//!
//! A reader would question that a test without a p does not count: it was not made, so it does not dilute the others.

/// Benjamini-Hochberg adjusted p-values.
///
/// # Computes
/// q of the i-th smallest of m p-values = the least of p(j) m / j over j >= i, not above 1. It holds the expected share of false
/// discoveries, not the chance of a single one.
/// # Takes
/// p-values in any order; `None` where there was no test. Values that are no number or lie outside [0, 1] count as no test.
/// # Gives
/// q in the order given, `None` where there was no test. Equal p have equal q. Reject where q <= level.
/// # Errors
/// None.
/// # Conventions
/// Missing tests are left out of m.
/// # Source
/// Benjamini and Hochberg 1995, J. Royal Statistical Society B 57, 289-300.
/// # Checked against
/// `10-false-discovery.json`.
pub fn benjamini_hochberg(p: &[Option<f64>]) -> Vec<Option<f64>> {
    let valid = |p: &Option<f64>| p.filter(|x| (0.0..=1.0).contains(x));
    let mut made: Vec<(usize, f64)> = p.iter().enumerate().filter_map(|(i, p)| valid(p).map(|x| (i, x))).collect();
    made.sort_by(|a, b| b.1.total_cmp(&a.1).then(b.0.cmp(&a.0)));
    let m = made.len();
    let mut q = vec![None; p.len()];
    let mut least = 1.0_f64;
    for (from_top, (i, x)) in made.into_iter().enumerate() {
        least = least.min(x * m as f64 / (m - from_top) as f64);
        if let Some(slot) = q.get_mut(i) {
            *slot = Some(least);
        }
    }
    q
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The fifteen tests of Benjamini and Hochberg 1995, section 3.2: four are rejected at 0.05.
    #[test]
    fn fifteen_tests_four_rejected() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528,
            0.759, 1.0,
        ];
        let q = benjamini_hochberg(&p.map(Some));
        let rejected: Vec<usize> = (0..15).filter(|i| q[*i].unwrap() <= 0.05).collect();
        assert_eq!(rejected, [0, 1, 2, 3]);
    }

    #[test]
    fn what_is_not_a_p_is_no_test() {
        let q = benjamini_hochberg(&[Some(0.01), None, Some(f64::NAN), Some(-1.0), Some(0.03), Some(2.0)]);
        assert_eq!(q, [Some(0.02), None, None, None, Some(0.03), None]);
        assert!(benjamini_hochberg(&[]).is_empty());
    }

    proptest! {
        #[test]
        fn q_is_between_p_and_one_and_keeps_the_order(p in prop::collection::vec(prop::option::of(0.0..=1.0f64), 0..40)) {
            let q = benjamini_hochberg(&p);
            for i in 0..p.len() {
                prop_assert_eq!(p[i].is_some(), q[i].is_some());
                for j in 0..p.len() {
                    if let (Some(a), Some(b), Some(c), Some(d)) = (p[i], q[i], p[j], q[j]) {
                        prop_assert!(a <= b * (1.0 + 1e-14) && b <= 1.0);
                        prop_assert!(a > c || b <= d);
                    }
                }
            }
        }
    }
}
