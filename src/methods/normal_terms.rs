//! Log-likelihood of a normal distribution for values between two ends, with its first and second
//! derivatives.
//!
//! A reader would question the differences of two nearly equal shares: they are taken in the lower
//! tail and in logarithms, where they keep their digits however far out the interval lies.

use super::solve::Surface;
use super::special::ln_normal_cdf;

/// Ends of one result; equal for a detect, infinite where there is no end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// Low end, not included unless it is also the high end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// ln of the root of 2 pi.
const LN_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// # Computes
/// The log-likelihood at (mu, sigma) with slope and bend over these two: density for equal ends,
/// probability of (low, high] otherwise.
/// # Takes
/// A positive sigma.
/// # Source
/// Definition of the likelihood of interval-censored normal values; common practice, no source.
/// # Checked against
/// Differences of the value itself, below.
pub fn surface(data: &[Observation], mu: f64, sigma: f64) -> Surface {
    let mut sum = Surface { value: 0.0, slope: [0.0; 2], bend: [0.0; 3] };
    for o in data {
        let one = if o.low == o.high {
            detect((o.low - mu) / sigma, sigma)
        } else {
            between((o.low - mu) / sigma, (o.high - mu) / sigma, sigma)
        };
        sum.value += one.value;
        sum.slope.iter_mut().zip(one.slope).for_each(|(s, x)| *s += x);
        sum.bend.iter_mut().zip(one.bend).for_each(|(s, x)| *s += x);
    }
    sum
}

fn detect(z: f64, sigma: f64) -> Surface {
    let s2 = sigma * sigma;
    Surface {
        value: -0.5 * z * z - libm::log(sigma) - LN_ROOT_TWO_PI,
        slope: [z / sigma, (z * z - 1.0) / sigma],
        bend: [-1.0 / s2, -2.0 * z / s2, (1.0 - 3.0 * z * z) / s2],
    }
}

fn between(a: f64, b: f64, sigma: f64) -> Surface {
    let value = ln_share(a, b);
    // Density over the share, and z to the powers 0 to 3 times it, at each end; nothing at an
    // infinite one.
    let weigh =
        |z: f64| if z.is_infinite() { [0.0; 4] } else { powers(z, libm::exp(-0.5 * z * z - LN_ROOT_TWO_PI - value)) };
    let (at_a, at_b) = (weigh(a), weigh(b));
    let [g, h, cross, cube] = [0, 1, 2, 3].map(|i| at_a[i] - at_b[i]);
    let s2 = sigma * sigma;
    Surface {
        value,
        slope: [g / sigma, h / sigma],
        bend: [(h - g * g) / s2, (cross - g * h - g) / s2, (cube - 2.0 * h - h * h) / s2],
    }
}

fn powers(z: f64, ratio: f64) -> [f64; 4] {
    [ratio, z * ratio, z * z * ratio, z * z * z * ratio]
}

/// ln of the share between two values.
fn ln_share(a: f64, b: f64) -> f64 {
    let (low, high) = if a > 0.0 { (-b, -a) } else { (a, b) };
    let top = if high == f64::INFINITY { 0.0 } else { ln_normal_cdf(high) };
    if low == f64::NEG_INFINITY {
        return top;
    }
    top + libm::log(-libm::expm1(ln_normal_cdf(low) - top))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slope_and_bend_are_those_of_the_value() {
        let ends = [(1.0, 1.0), (f64::NEG_INFINITY, 0.5), (2.0, f64::INFINITY), (0.3, 0.4), (7.0, 8.0), (-9.0, -7.5)];
        for (low, high) in ends {
            let at = |mu: f64, sigma: f64| surface(&[Observation { low, high }], mu, sigma);
            let (mu, sigma, d) = (0.7, 1.3, 1e-5);
            let s = at(mu, sigma);
            let by_mu = (at(mu + d, sigma).value - at(mu - d, sigma).value) / (2.0 * d);
            let by_sigma = (at(mu, sigma + d).value - at(mu, sigma - d).value) / (2.0 * d);
            let bends = [
                (at(mu + d, sigma).slope[0] - at(mu - d, sigma).slope[0]) / (2.0 * d),
                (at(mu + d, sigma).slope[1] - at(mu - d, sigma).slope[1]) / (2.0 * d),
                (at(mu, sigma + d).slope[1] - at(mu, sigma - d).slope[1]) / (2.0 * d),
            ];
            for (got, numeric) in s.slope.iter().chain(&s.bend).zip([by_mu, by_sigma].iter().chain(&bends)) {
                assert!((got - numeric).abs() < 1e-6 * numeric.abs().max(1.0), "{low} {high}: {got} {numeric}");
            }
        }
    }
}
