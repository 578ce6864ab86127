//! Logistic regression: a closed form, data without an answer, and what must hold for any wells.

use proptest::prelude::*;

use super::*;

fn binary(exposed: (usize, usize), reference: (usize, usize)) -> (Vec<f64>, Vec<bool>) {
    let mut all = Vec::new();
    for (x, (exceeding, meeting)) in [(1.0, exposed), (0.0, reference)] {
        all.extend((0..exceeding).map(|_| (x, true)));
        all.extend((0..meeting).map(|_| (x, false)));
    }
    all.into_iter().unzip()
}

fn wells<'a>(measures: &'a [f64], terms: usize, exceeds: &'a [bool]) -> Wells<'a> {
    Wells { measures, terms, exceeds }
}

/// With one binary term Firth's estimate is the log odds ratio with one half added to each cell (Firth 1993; from memory).
#[test]
fn one_binary_term_adds_one_half() {
    let (x, y) = binary((9, 11), (3, 17));
    let got = firth(wells(&x, 1, &y), 0.95).unwrap();
    assert!((got.terms[1].odds_ratio - 9.5 * 17.5 / (11.5 * 3.5)).abs() < 1e-8);
    let ml = plain(wells(&x, 1, &y), 0.95).unwrap();
    assert!((ml.terms[1].odds_ratio - 9.0 * 17.0 / (11.0 * 3.0)).abs() < 1e-8);
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let y = [true, false, true, false];
    assert_eq!(plain(wells(&[], 1, &[]), 0.95), Err(NoFit::NoWells));
    assert_eq!(plain(wells(&[1.0], 1, &y), 0.95), Err(NoFit::Lengths));
    assert_eq!(plain(wells(&[1.0, 2.0, f64::INFINITY, 0.0], 1, &y), 0.95), Err(NoFit::NotANumber));
    assert_eq!(firth(wells(&[2.0; 4], 1, &y), 0.95), Err(NoFit::Collinear(1)));
    assert_eq!(firth(wells(&[0.0; 4], 1, &y), 0.95), Err(NoFit::Collinear(1)));
    let twice = [1.0, 2.0, 2.0, 4.0, 3.0, 6.0, 5.0, 10.0];
    assert_eq!(firth(wells(&twice, 2, &y), 0.95), Err(NoFit::Collinear(2)));
    assert_eq!(plain(wells(&[1.0, 2.0, 3.0, 4.0], 1, &[false; 4]), 0.95), Err(NoFit::Separated));
    assert_eq!(is_separated(wells(&[1.0, 2.0, 3.0, 4.0], 1, &[false, false, true, true])), Ok(true));
    assert_eq!(is_separated(wells(&[1.0, 2.0, 2.0, 4.0], 1, &[false, false, true, true])), Ok(true));
    assert_eq!(is_separated(wells(&[1.0, 3.0, 2.0, 4.0], 1, &[false, false, true, true])), Ok(false));
}

#[test]
fn a_constant_alone_is_the_share() {
    let y = [true, false, false, false];
    let got = plain(wells(&[], 0, &y), 0.95).unwrap();
    assert!((got.terms[0].odds_ratio - 1.0 / 3.0).abs() < 1e-9);
    let got = firth(wells(&[], 0, &y), 0.95).unwrap();
    assert!((got.terms[0].odds_ratio - 1.5 / 3.5).abs() < 1e-9);
}

/// Wells with a share of fields, a distance and a year, which exceed the more often the more fields there are.
fn many_wells(n: usize, constant: f64, seed: u64) -> (Vec<f64>, Vec<bool>) {
    let mut stream = crate::methods::random::Stream::new(seed, 0);
    let mut chance = || (f64::from(stream.below(1 << 30)) + 0.5) / f64::from(1 << 30);
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for _ in 0..n {
        let (share, far, year) = (10.0 * (chance() - 0.4).max(0.0), -8.0 * libm::log(chance()), 11.0 * chance());
        let odds = libm::exp(constant + 0.2 * share - 0.02 * far + 0.01 * year);
        x.extend([share, far, year]);
        y.push(chance() < odds / (1.0 + odds));
    }
    (x, y)
}

/// Each end is where the profile, settled with the coefficient held there, has fallen by half the quantile's square: as of few wells
/// as of many, of which one look at each side is enough.
#[test]
fn ends_lie_where_the_profile_says() {
    let z = two_sided_z(0.95).unwrap();
    for (n, constant) in [(400, -2.0), (30_000, -1.0), (30_000, -4.0), (90_000, -6.0)] {
        let (x, y) = many_wells(n, constant, n as u64);
        let rows = Prepared::of(wells(&x, 3, &y)).unwrap();
        let fit = best(&rows).unwrap();
        let highest = fit.point.objective(Penalty::Jeffreys);
        for j in 0..4 {
            let ends = profile::interval(&rows, &fit, j, z).unwrap().ends.map(|end| end * rows.scale[j]);
            for end in ends {
                let mut from = fit.beta.clone();
                from[j] = end;
                let held = newton::fit(&rows, Penalty::Jeffreys, from, Some(j), newton::FINE).unwrap();
                let root = (2.0 * (highest - held.point.objective(Penalty::Jeffreys))).sqrt();
                assert!((root - z).abs() < 2e-7, "{n} wells, term {j}: {root}");
            }
        }
    }
}

/// Six wells whose heights, before the other terms have settled, tell of a bracket that does not hold the end.
#[test]
fn a_bracket_that_was_wrong_is_given_up() {
    let x = [
        [4.0, 1.0213640741633316],
        [0.0, -2.238702334301784],
        [1.0, 0.4173606336953079],
        [4.0, -2.486576447893719],
        [4.0, -2.274244726142354],
        [3.0, 0.8123070265982539],
    ];
    let y = [false, true, true, false, false, true];
    let rows = Prepared::of(wells(x.as_flattened(), 2, &y)).unwrap();
    let (fit, z) = (best(&rows).unwrap(), two_sided_z(0.95).unwrap());
    let [_, high] = profile::interval(&rows, &fit, 2, z).unwrap().ends.map(|end| end * rows.scale[2]);
    let mut from = fit.beta.clone();
    from[2] = high;
    let held = newton::fit(&rows, Penalty::Jeffreys, from, Some(2), newton::FINE).unwrap();
    let fallen = fit.point.objective(Penalty::Jeffreys) - held.point.objective(Penalty::Jeffreys);
    assert!(((2.0 * fallen).sqrt() - z).abs() < 1e-7);
}

/// Many alike wells, the two zeros, and an order of their own for numbers below zero.
#[test]
fn alike_wells_are_one_row() {
    let x = [0.0, -0.0, -2.0, 3.0, -2.0, -1.0, 0.0];
    let y = [true, false, true, false, false, true, true];
    let rows = Prepared::of(wells(&x, 1, &y)).unwrap();
    let along: Vec<(f64, f64, f64)> = rows.blocks[0].along(&[0.0, 3.0]).collect();
    assert_eq!(along, [(-2.0, 2.0, 1.0), (-1.0, 1.0, 1.0), (0.0, 3.0, 2.0), (3.0, 1.0, 0.0)]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn figures_are_numbers_and_order_changes_no_digit(list in prop::collection::vec((0u8..6, -3.0..3.0f64, any::<bool>()), 4..40)) {
        let lay = |list: &[(u8, f64, bool)]| {
            let x: Vec<f64> = list.iter().flat_map(|r| [f64::from(r.0), r.1]).collect();
            (x, list.iter().map(|r| r.2).collect::<Vec<bool>>())
        };
        let (x, y) = lay(&list);
        let got = firth(wells(&x, 2, &y), 0.95);
        let mut back = list.clone();
        back.reverse();
        let (x2, y2) = lay(&back);
        prop_assert_eq!(&got, &firth(wells(&x2, 2, &y2), 0.95));
        if let Ok(fit) = got {
            for t in fit.terms {
                prop_assert!(t.estimate.is_finite() && t.std_error > 0.0 && t.wald_p >= 0.0);
                let [low, high] = t.profile_interval.expect("a profile that settles");
                prop_assert!(low < t.estimate && t.estimate < high);
                let (chi, p) = t.ratio_test.expect("a restricted fit that settles");
                prop_assert!(chi >= 0.0 && (0.0..=1.0).contains(&p));
                // Interval and test are of one likelihood, so they agree about no effect.
                prop_assert!((p - 0.05).abs() < 1e-6 || (p < 0.05) == (low > 0.0 || high < 0.0));
            }
        }
        if let Ok(fit) = plain(wells(&x, 2, &y), 0.95) {
            prop_assert!(fit.terms.iter().all(|t| t.estimate.is_finite() && t.std_error.is_finite()));
        }
    }

    #[test]
    fn units_do_not_matter(list in prop::collection::vec((-3.0..3.0f64, any::<bool>()), 8..30), unit in 1e-6..1e6f64) {
        let x: Vec<f64> = list.iter().map(|r| r.0).collect();
        let y: Vec<bool> = list.iter().map(|r| r.1).collect();
        let scaled: Vec<f64> = x.iter().map(|x| x * unit).collect();
        let (a, b) = (firth(wells(&x, 1, &y), 0.95).unwrap(), firth(wells(&scaled, 1, &y), 0.95).unwrap());
        prop_assert!((a.terms[1].estimate - b.terms[1].estimate * unit).abs() < 1e-6 * (1.0 + a.terms[1].estimate.abs()));
    }
}
