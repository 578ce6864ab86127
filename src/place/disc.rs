//! A well of which only a disc is known: turns the disc into places whose answers are averaged.
//!
//! The disc is that of the well's uncertainty, and the well is taken to be anywhere in it alike (common practice, no source). The
//! places lie on two opposite arms of a spiral that gives each the same part of the disc, the same ones in every run. A plane over the
//! disc is averaged exactly; a measure that jumps at a line across the disc is averaged to 3 hundredths (tests).

use super::shape::Point;

/// Places in a disc.
pub const PLACES: usize = 64;
/// The angle between one place and the next: the golden section of a turn.
const GOLDEN: f64 = 2.399_963_229_728_653_3;

/// A spread below this part of the mean is the noise of sums.
const ROUNDING: f64 = 1e-12;

/// Places in the disc around a centre, each for an equal part of it.
pub fn places(centre: Point, radius: f64) -> impl Iterator<Item = Point> {
    (0..PLACES / 2).flat_map(move |k| {
        let out = radius * ((k as f64 + 0.5) / (PLACES / 2) as f64).sqrt();
        let angle = GOLDEN / 2.0 * k as f64;
        let [east, north] = [out * libm::cos(angle), out * libm::sin(angle)];
        [[centre[0] + east, centre[1] + north], [centre[0] - east, centre[1] - north]]
    })
}

/// Mean and standard deviation; `None` of nothing.
pub fn mean_and_spread(values: &[f64]) -> Option<(f64, f64)> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let spread = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt();
    let spread = if spread <= ROUNDING * mean.abs() { 0.0 } else { spread };
    (!values.is_empty()).then_some((mean, spread))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn average(of: impl Fn(Point) -> f64) -> (f64, f64) {
        mean_and_spread(&places([100.0, -50.0], 30.0).map(of).collect::<Vec<_>>()).unwrap()
    }

    #[test]
    fn a_plane_and_its_spread() {
        let (mean, spread) = average(|[x, _]| x);
        assert!((mean - 100.0).abs() < 1e-9, "{mean}");
        // The standard deviation of a coordinate over a disc is half its radius.
        assert!((spread - 15.0).abs() < 0.2, "{spread}");
    }

    #[test]
    fn a_jump_at_any_line() {
        for (turn, away) in (0..36).flat_map(|turn| (-9..10).map(move |away| (turn, away))) {
            let (angle, h) = (f64::from(turn) * 0.1745, f64::from(away) / 10.0);
            let (u, v) = (libm::cos(angle), libm::sin(angle));
            let share = average(|[x, y]| f64::from(((x - 100.0) * u + (y + 50.0) * v) / 30.0 > h)).0;
            let exact = (libm::acos(h) - h * (1.0 - h * h).sqrt()) / std::f64::consts::PI;
            assert!((share - exact).abs() < 0.03, "{turn} {h} {share} {exact}");
        }
    }
}
