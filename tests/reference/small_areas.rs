//! 11: small-area rates with the spread plugged in.

use serde_json::{Value, json};
use wellreeve::methods::small_area::{Fit, NoFit, Prior, by_likelihood, by_moments, rate};

use crate::integrated::counts;
use crate::report::{Report, cases, maybe, number, read};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        report.check(case, &figures(&case["data"]));
    }
}

/// Figures of both fits, as the cases lay them out.
pub fn figures(data: &Value) -> Value {
    let (exceeding, wells) = if data.get("families_with_k_boys").is_some() {
        families(data)
    } else {
        (counts(&data["exceeding"]), counts(&data["wells"]))
    };
    let (level, concern) = (data["confidence"].as_f64().unwrap_or(0.95), data.get("concern_rate").map_or(0.05, read));
    let pooled = exceeding.iter().sum::<u64>() as f64 / wells.iter().sum::<u64>() as f64;
    let one = |fit: Result<Fit, NoFit>| tree(&fit.expect("the case can be fitted"), &exceeding, &wells, level, concern);
    json!({"pooled_rate": pooled, "moments": one(by_moments(&exceeding, &wells)), "likelihood": one(by_likelihood(&exceeding, &wells))})
}

/// Families of equal size by number of boys: each family is an area.
fn families(data: &Value) -> (Vec<u64>, Vec<u64>) {
    let boys: Vec<u64> = (0..)
        .zip(counts(&data["families_with_k_boys"]))
        .flat_map(|(k, families)| std::iter::repeat_n(k, families as usize))
        .collect();
    let size = data["n"].as_u64().expect("families have a size");
    let wells = vec![size; boys.len()];
    (boys, wells)
}

fn tree(fit: &Fit, exceeding: &[u64], wells: &[u64], level: f64, concern: f64) -> Value {
    let (alpha, beta) = match fit.prior {
        Prior::Beta { alpha, beta } => (number(alpha), number(beta)),
        Prior::Own => (number(0.0), number(0.0)),
        Prior::Pooled => (Value::Null, Value::Null),
    };
    let rates: Vec<_> = exceeding
        .iter()
        .zip(wells)
        .map(|(x, n)| rate(fit, *x, *n, level, concern).expect("quantiles settle"))
        .collect();
    let spread: Option<Vec<_>> = rates.iter().map(|r| r.spread).collect();
    let list = |of: fn(&wellreeve::methods::small_area::Spread) -> f64| {
        spread.as_ref().map_or(Value::Null, |s| s.iter().map(|s| number(of(s))).collect())
    };
    json!({
        "rho": maybe(fit.rho), "alpha": alpha, "beta": beta, "log_likelihood": maybe(fit.ln_likelihood),
        "smoothed": rates.iter().map(|r| number(r.smoothed)).collect::<Value>(),
        "low": list(|s| s.low), "high": list(|s| s.high), "chance_above_concern": list(|s| s.chance_above),
    })
}
