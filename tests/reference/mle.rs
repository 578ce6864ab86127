//! 03: maximum likelihood for censored values.

use serde_json::{Map, Value, json};
use wellreeve::methods::mle::{Distribution, Estimate, Mle};

use crate::kaplan_meier::by_share;
use crate::report::{Report, cases, number, read, read_list};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let data = &case["data"];
        let (low, high) = (read_list(&data["low"]), read_list(&data["high"]));
        let distribution = match data["distribution"].as_str() {
            Some("lognormal") => Distribution::Lognormal,
            Some("normal") => Distribution::Normal,
            other => panic!("{other:?} is no distribution of these cases"),
        };
        let limits: Vec<(String, f64)> =
            data["exceedance_limits"].as_array().into_iter().flatten().map(|l| (l.to_string(), read(l))).collect();
        report.check(case, &figures(distribution, &low, &high, read(&data["confidence"]), &limits));
    }
}

/// Figures of a left-censored lognormal group.
pub fn lognormal_of(value: &[f64], below: &[bool], level: f64, limits: &[f64]) -> Value {
    let low: Vec<f64> = value.iter().zip(below).map(|(x, below)| if *below { 0.0 } else { *x }).collect();
    let limits: Vec<(String, f64)> = limits.iter().map(|l| (l.to_string(), *l)).collect();
    figures(Distribution::Lognormal, &low, value, level, &limits)
}

fn figures(distribution: Distribution, low: &[f64], high: &[f64], level: f64, limits: &[(String, f64)]) -> Value {
    let detected = low.iter().zip(high).filter(|(a, b)| a == b).count();
    let Ok(fit) = Mle::of(distribution, low, high) else {
        return json!({"n": low.len(), "detected": detected, "mu": null, "sigma": null, "mean": null, "exists": false});
    };
    let above = |(name, limit): &(String, f64)| {
        let share = fit.above(*limit, level);
        (name.clone(), json!([share.value, share.low, share.high]))
    };
    let mut got = json!({
        "n": low.len(), "detected": fit.detected, "exists": true, "mu": fit.mu, "sigma": fit.sigma, "mu_se": fit.mu_se, "sigma_se": fit.sigma_se,
        "covariance": fit.covariance, "log_likelihood": fit.ln_likelihood, "sd": fit.sd(), "quantiles": by_share(|p| Some(fit.quantile(p))),
        "exceedance": limits.iter().map(above).collect::<Map<_, _>>(),
    });
    put(&mut got, "mean", &fit.mean(level));
    put(&mut got, "median", &fit.median(level));
    got
}

fn put(got: &mut Value, name: &str, e: &Estimate) {
    for (end, x) in [("", e.value), ("_se", e.se), ("_low", e.low), ("_high", e.high)] {
        got[format!("{name}{end}")] = number(x);
    }
}
