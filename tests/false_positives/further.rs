//! The tests that take a region, a model or wells judged twice: hot spots, likeness of residuals, penalised model, two periods.
//!
//! A reader would question the lower bounds: an exact test of few wells cannot come nearer to its level from below, and one
//! that calls nothing at all would pass an upper bound alone.

#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use super::{Field, LEVEL, called, draws, held, held_of, hits};
use wellreeve::methods::adjust::benjamini_hochberg;
use wellreeve::methods::clustering::{Weights, global_p, local_p, moran};
use wellreeve::methods::effective;
use wellreeve::methods::fisher;
use wellreeve::methods::groups::peto_scores;
use wellreeve::methods::integrated::{Posterior, Question};
use wellreeve::methods::logistic::{Wells, firth};
use wellreeve::methods::paired::mcnemar;
use wellreeve::methods::random::Stream;
use wellreeve::methods::two_by_two::TwoByTwo;

/// Two measures of land use that go together (correlation 0.7) and the well's depth; none has to do with exceeding.
fn measures(wells: usize, stream: &mut Stream) -> Vec<f64> {
    let one = |stream: &mut Stream| {
        let [a, b, depth] = [stream.normal(), stream.normal(), stream.normal()];
        [a, 0.7 * a + 0.714 * b, depth]
    };
    (0..wells).flat_map(|_| one(stream)).collect()
}

#[test]
fn the_penalised_model_is_near_its_level() {
    for (at, (wells, rate, low, high)) in [(40, 0.1, 0.025, 0.07), (150, 0.1, 0.035, 0.07)].into_iter().enumerate() {
        let share = called(500 + at as u64, |stream| {
            let measures = measures(wells, stream);
            let exceeds: Vec<bool> = (0..wells).map(|_| stream.unit() < rate).collect();
            let fit = firth(Wells { measures: &measures, terms: 3, exceeds: &exceeds }, 0.95).ok()?;
            fit.terms.get(1)?.ratio_test.map(|(_, p)| p)
        });
        held(&format!("penalised model 3 terms {wells} wells at {rate}"), share, low, high);
    }
}

/// A square of areas, each with the up to eight around it.
fn grid(side: usize) -> Vec<Vec<usize>> {
    let apart = |a: usize, b: usize| (a / side).abs_diff(b / side).max((a % side).abs_diff(b % side));
    (0..side * side).map(|at| (0..side * side).filter(|other| apart(at, *other) == 1).collect()).collect()
}

/// Smoothed rates of areas of 5 to 40 wells that all have the rate 0.2, and each area's p.
fn spots(side: usize, rounds: u32, stream: &mut Stream) -> Vec<Option<f64>> {
    let areas = side * side;
    let wells: Vec<u64> = (0..areas).map(|_| 5 + u64::from(stream.below(36))).collect();
    let exceeding: Vec<u64> = wells.iter().map(|n| hits(*n, 0.2, stream)).collect();
    let posterior = Posterior::fit(&exceeding, &wells).unwrap();
    let rates: Vec<f64> =
        posterior.rates(&Question { level: 0.95, concern: 0.1 }).unwrap().iter().map(|rate| rate.mean).collect();
    local_p(&rates, &grid(side), rounds, u64::from(stream.below(u32::MAX))).unwrap()
}

#[test]
fn hot_spots_are_near_their_level_and_seldom_stand_after_adjusting() {
    // A survey is 36 tests, so fewer of them will do.
    let surveys = draws() / 6;
    let (mut areas, mut any) = (0.0, 0.0);
    for number in 0..surveys {
        let p = spots(6, 1_999, &mut Stream::new(20, 510 << 32 | number));
        let called = |p: &[Option<f64>]| p.iter().flatten().filter(|p| **p <= LEVEL).count();
        areas += called(&p) as f64 / p.len() as f64;
        any += f64::from(u8::from(called(&benjamini_hochberg(&p)) > 0));
    }
    held_of(surveys, "hot spots 36 areas each area before adjusting", areas / surveys as f64, 0.035, 0.06);
    held_of(surveys, "hot spots 36 areas any area after adjusting", any / surveys as f64, 0.005, 0.06);
}

/// Each well's eight nearest, both ways.
fn nearest(places: &[[f64; 2]]) -> Vec<Vec<usize>> {
    let mut near = vec![std::collections::BTreeSet::new(); places.len()];
    for (at, p) in places.iter().enumerate() {
        let squared = |q: &[f64; 2]| (p[0] - q[0]) * (p[0] - q[0]) + (p[1] - q[1]) * (p[1] - q[1]);
        let mut others: Vec<usize> = (0..places.len()).filter(|other| *other != at).collect();
        others.sort_by(|a, b| squared(&places[*a]).total_cmp(&squared(&places[*b])));
        for other in others.into_iter().take(8) {
            near[at].insert(other);
            near[other].insert(at);
        }
    }
    near.into_iter().map(|set| set.into_iter().collect()).collect()
}

/// The model knows the one measure there is, which is alike among neighbours and does raise the rate; nothing else does.
fn residuals(stream: &mut Stream) -> Option<(Vec<f64>, Vec<Vec<usize>>)> {
    let places: Vec<[f64; 2]> = (0..100).map(|_| [stream.unit(), stream.unit()]).collect();
    let field = Field::new(0.1, stream);
    let land: Vec<f64> = places.iter().map(|p| field.at(*p).clamp(-2.0, 2.0)).collect();
    let chance = |constant: f64, slope: f64, x: f64| 1.0 / (1.0 + libm::exp(-constant - slope * x));
    let exceeds: Vec<bool> = land.iter().map(|x| stream.unit() < chance(-1.5, 0.5, *x)).collect();
    let fit = firth(Wells { measures: &land, terms: 1, exceeds: &exceeds }, 0.95).ok()?;
    let [constant, slope] = [0, 1].map(|at| fit.terms.get(at).map_or(0.0, |term| term.estimate));
    let residual = |(x, exceeds): (&f64, &bool)| {
        let p = chance(constant, slope, *x);
        (f64::from(u8::from(*exceeds)) - p) / (p * (1.0 - p)).sqrt()
    };
    Some((land.iter().zip(&exceeds).map(residual).collect(), nearest(&places)))
}

#[test]
fn likeness_of_residuals_is_near_its_level() {
    let by_moments = called(520, |stream| {
        let (values, near) = residuals(stream)?;
        moran(&values, &near, Weights::Binary).ok()?.p
    });
    held("Moran's I of residuals 100 wells", by_moments, 0.025, 0.07);
    let dealt = called(520, |stream| {
        let (values, near) = residuals(stream)?;
        global_p(&values, &near, Weights::Binary, 199, 7).ok()
    });
    held("Moran's I of residuals 100 wells dealt out", dealt, 0.02, 0.07);
}

/// Other wells in the second period than in the first; then the same wells, of which one in six changes side.
#[test]
fn two_periods_are_careful_and_not_blind() {
    let of = |mid: bool| {
        called(530, |stream| {
            let [before, after] = [hits(80, 0.15, stream), hits(120, 0.15, stream)];
            let table = TwoByTwo {
                exposed_exceeding: after,
                exposed_meeting: 120 - after,
                reference_exceeding: before,
                reference_meeting: 80 - before,
            };
            let found = fisher::test(table);
            Some(if mid { found.mid_p } else { found.p })
        })
    };
    held("two periods other wells exact 80 and 120 at 0.15", of(false), 0.02, LEVEL);
    held("two periods other wells mid-p 80 and 120 at 0.15", of(true), 0.03, 0.065);
    for (at, (wells, low)) in [(60, 0.01), (300, 0.025)].into_iter().enumerate() {
        let share = called(532 + at as u64, |stream| {
            let changed = hits(wells, 1.0 / 6.0, stream);
            let up = hits(changed, 0.5, stream);
            mcnemar(up, changed - up)
        });
        held(&format!("two periods same {wells} wells"), share, low, LEVEL);
    }
}

/// Concentrations, a third below limits, and land use, both alike over `width` and drawn apart.
#[test]
fn ranks_of_alike_neighbours_are_near_their_level() {
    for (at, (width, low)) in [(0.04, 0.03), (0.10, 0.03)].into_iter().enumerate() {
        let share = called(540 + at as u64, |stream| {
            let places: Vec<[f64; 2]> = (0..300).map(|_| [stream.unit(), stream.unit()]).collect();
            let [land, rock] = [Field::new(width, stream), Field::new(width, stream)];
            let mut sorted: Vec<f64> = places.iter().map(|p| land.at(*p)).collect();
            let heights = sorted.clone();
            sorted.sort_by(f64::total_cmp);
            let band = |x: f64| f64::from(u8::from(x > sorted[150])) + f64::from(u8::from(x > sorted[225]));
            let bands: Vec<f64> = heights.iter().map(|x| band(*x)).collect();
            let values: Vec<f64> = places.iter().map(|p| libm::exp(rock.at(*p) + 0.5 * stream.normal())).collect();
            let limit = if stream.unit() < 0.5 { 0.7 } else { 0.5 };
            let below: Vec<bool> = values.iter().map(|x| *x < limit).collect();
            let told: Vec<f64> = values.iter().map(|x| x.max(limit)).collect();
            effective::test(&places, &peto_scores(&told, &below).ok()?, &bands).ok().map(|found| found.p)
        });
        held(&format!("ranks with neighbours alike 300 wells alike over {width}"), share, low, 0.07);
    }
}
