//! Rank tests: a printed example, data without an answer, and what must hold for any groups.

use proptest::prelude::*;

use super::*;

fn peto(values: &[f64], nondetect: &[bool], group: &[usize]) -> RankTest {
    rank_test(values, nondetect, group, Weight::PetoPeto)
}

/// Remission times (Freireich 1963) as textbooks carry them, negated, so that right-censored times become left-censored values:
/// log-rank 16.79, Gehan 13.46, Peto-Peto 14.5 (Kleinbaum and Klein; R survdiff; both from memory).
#[test]
fn remission_times() {
    let drug = [6, 6, 6, 7, 10, 13, 16, 22, 23, -6, -9, -10, -11, -17, -19, -20, -25, -32, -32, -34, -35];
    let control = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23];
    let all: Vec<i32> = drug.into_iter().chain(control).collect();
    let values: Vec<f64> = all.iter().map(|t| -f64::from(t.abs())).collect();
    let limits: Vec<bool> = all.iter().map(|t| *t < 0).collect();
    let group: Vec<usize> = (0..42).map(|i| usize::from(i >= 21)).collect();
    for (weight, printed, within) in
        [(Weight::LogRank, 16.79, 0.005), (Weight::Gehan, 13.46, 0.005), (Weight::PetoPeto, 14.5, 0.05)]
    {
        let got = rank_test(&values, &limits, &group, weight).outcome.unwrap().statistic;
        assert!((got - printed).abs() < within, "{weight:?} {got}");
    }
}

#[test]
fn nothing_to_compare_is_said() {
    let one = peto(&[1.0, 2.0], &[false, false], &[4, 4]);
    assert_eq!((one.df, one.groups, one.outcome), (0, vec![4], Err(NoTest::OneGroup)));
    assert_eq!(peto(&[], &[], &[]).outcome, Err(NoTest::OneGroup));
    assert_eq!(peto(&[1.0], &[], &[]).outcome, Err(NoTest::Lengths));
    assert_eq!(peto(&[f64::NAN, 1.0], &[false; 2], &[0, 1]).outcome, Err(NoTest::NotANumber));
    assert_eq!(peto(&[1.0, 2.0], &[true; 2], &[0, 1]).outcome, Err(NoTest::NothingToCompare));
    assert_eq!(peto(&[3.0, 3.0], &[false; 2], &[0, 1]).outcome, Err(NoTest::NothingToCompare));
    assert_eq!(permutation_of_scores(&[3.0, 3.0], &[false; 2], &[0, 1]), Err(NoTest::NothingToCompare));
    // A group whose limits are all above every detect is never at risk.
    assert_eq!(
        peto(&[1.0, 2.0, 9.0, 9.0], &[false, false, true, true], &[0, 0, 1, 1]).outcome,
        Err(NoTest::NothingToCompare)
    );
    assert_eq!(trend_test(&[1.0, 2.0], &[false; 2], &[0, 1], &[0.0]), Err(NoTest::Lengths));
    assert_eq!(trend_test(&[1.0, 2.0], &[false; 2], &[0, 1], &[1.0, 1.0]), Err(NoTest::NothingToCompare));
}

#[test]
fn infinite_values_are_the_highest() {
    let group = [0, 0, 1, 1, 1];
    let limits = [false, true, false, false, false];
    let a = peto(&[1.0, 2.0, f64::INFINITY, 5.0, f64::INFINITY], &limits, &group);
    let b = peto(&[1.0, 2.0, 99.0, 5.0, 99.0], &limits, &group);
    assert_eq!(a, b);
}

#[test]
fn a_hundred_thousand_values_are_fast() {
    let n = 100_000;
    let values: Vec<f64> = (0..n).map(|i| f64::from((i * 7919) % 100_003)).collect();
    let limits: Vec<bool> = (0..n).map(|i| i % 3 == 0).collect();
    let group: Vec<usize> = (0..n as usize).map(|i| i % 3).collect();
    let start = std::time::Instant::now();
    let got = peto(&values, &limits, &group);
    assert!(got.groups.len() == 3 && start.elapsed().as_secs() < 5, "{:?}", start.elapsed());
}

fn results() -> impl Strategy<Value = Vec<(u8, bool, usize)>> {
    prop::collection::vec((0u8..12, any::<bool>(), 0usize..4), 0..60)
}

fn split(list: &[(u8, bool, usize)]) -> (Vec<f64>, Vec<bool>, Vec<usize>) {
    let values = list.iter().map(|r| f64::from(r.0)).collect();
    (values, list.iter().map(|r| r.1).collect(), list.iter().map(|r| r.2).collect())
}

proptest! {
    #[test]
    fn order_and_scale_change_nothing(list in results()) {
        let (v, c, g) = split(&list);
        let mut back = list.clone();
        back.reverse();
        let (v2, c2, g2) = split(&back);
        let raised: Vec<f64> = v2.iter().map(|x| x * x * 3.0 + 1.0).collect();
        prop_assert_eq!(peto(&v, &c, &g), peto(&raised, &c2, &g2));
    }

    #[test]
    fn sums_add_to_nothing_and_p_is_a_share(list in results()) {
        let (v, c, g) = split(&list);
        for weight in [Weight::PetoPeto, Weight::Gehan, Weight::ModifiedShare, Weight::LogRank] {
            let test = rank_test(&v, &c, &g, weight);
            prop_assert!(test.u.iter().sum::<f64>().abs() < 1e-8);
            if let Ok(chi) = test.outcome {
                prop_assert!(chi.statistic >= 0.0 && chi.p >= 0.0 && chi.p <= 1.0);
            }
        }
        if let Ok(chi) = permutation_of_scores(&v, &c, &g) {
            prop_assert!(chi.statistic >= -1e-9 && chi.p >= 0.0 && chi.p <= 1.0);
        }
    }

    #[test]
    fn complete_data_make_peto_and_gehan_one(list in results()) {
        let (v, _, g) = split(&list);
        let c = vec![false; v.len()];
        if let (Ok(a), Ok(b)) = (peto(&v, &c, &g).outcome, rank_test(&v, &c, &g, Weight::Gehan).outcome) {
            prop_assert!((a.statistic - b.statistic).abs() < 1e-8 * (1.0 + a.statistic));
        }
    }

    /// One order serves every grouping, and results without a group are as if they had not been given.
    #[test]
    fn results_without_a_group_take_no_part(list in results()) {
        let (v, c, g) = split(&list);
        let order = Order::of(&v).unwrap();
        let group = |at: usize| g.get(at).copied().filter(|own| *own != 1);
        let ranked = Ranked::in_order(&order, &c, 4, group).unwrap();
        let kept: Vec<(u8, bool, usize)> = list.iter().copied().filter(|r| r.2 != 1).collect();
        let (v, c, g) = split(&kept);
        prop_assert_eq!(ranked.test(Weight::PetoPeto), peto(&v, &c, &g));
        let places = (0..list.len()).filter(|at| group(*at).is_some());
        let scores: Vec<f64> = places.map(|at| ranked.scores().of(&order, at, list[at].1)).collect();
        prop_assert_eq!(scores, peto_scores(&v, &c).unwrap());
    }

    #[test]
    fn trend_of_two_groups_is_the_test(list in results()) {
        let (v, c, g) = split(&list);
        let g: Vec<usize> = g.iter().map(|g| g % 2).collect();
        if let (Ok(z), Ok(chi)) = (trend_test(&v, &c, &g, &[0.0, 1.0]), peto(&v, &c, &g).outcome) {
            prop_assert!((z.z * z.z - chi.statistic).abs() < 1e-9 * (1.0 + chi.statistic));
        }
    }
}
