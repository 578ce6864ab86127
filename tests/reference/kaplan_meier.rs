//! 01: Kaplan-Meier for left-censored values.

use serde_json::{Map, Value, json};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::kaplan_meier::{KaplanMeier, SureBounds};

use crate::report::{Report, cases, maybe, number, read_flags, read_list};

/// The shares at which the case files ask for quantiles.
pub const SHARES: [&str; 6] = ["0.1", "0.25", "0.5", "0.75", "0.9", "0.95"];

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let group = group(&case["data"]);
        report.check(case, &figures(&group));
    }
}

pub fn group(data: &Value) -> Censored {
    Censored::new(&read_list(&data["value"]), &read_flags(&data["nondetect"])).expect("the case holds a group")
}

/// Quantiles by share, as the files lay them out.
pub fn by_share(of: impl Fn(f64) -> Option<f64>) -> Value {
    SHARES.iter().map(|p| ((*p).to_owned(), maybe(of(p.parse().unwrap())))).collect::<Map<_, _>>().into()
}

pub fn figures(group: &Censored) -> Value {
    let km = KaplanMeier::of(group);
    let figure = |of: fn(&KaplanMeier) -> f64| maybe(km.as_ref().map(of));
    let quantile = |p| km.as_ref().and_then(|km| km.quantile(p));
    let below = |p: &&str| km.is_some() && quantile(p.parse().unwrap()).is_none();
    let withheld: Map<_, _> =
        SHARES.iter().filter(|p| below(p)).map(|p| ((*p).to_owned(), figure(KaplanMeier::lowest_detect))).collect();
    json!({
        "n": group.len(), "detected": group.detected(), "detected_share": maybe(group.detected_share()),
        "sure_bounds": sure_bounds(group),
        "steps": km.as_ref().map_or(json!([]), steps),
        "mass_below_lowest_detect": figure(KaplanMeier::mass_below_lowest_detect),
        "lowest_limit": maybe(group.lowest_limit()),
        "mean": figure(KaplanMeier::mean), "mean_low": figure(KaplanMeier::mean_low), "mean_high": figure(KaplanMeier::mean),
        "sd_population": figure(KaplanMeier::sd_population), "sd": maybe(km.as_ref().and_then(KaplanMeier::sd)),
        "mean_se": figure(KaplanMeier::mean_se),
        "quantiles": by_share(quantile),
        "quantiles_lower": by_share(|p| km.as_ref().and_then(|km| km.quantile_lower(p))),
        "quantile_below": withheld,
    })
}

fn steps(km: &KaplanMeier) -> Value {
    let step = |s: &wellreeve::methods::kaplan_meier::Step| {
        json!({"x": s.x, "at_risk": s.at_risk, "detects": s.detects, "p_below": s.p_below,
               "p_at_or_below": s.p_at_or_below, "p_below_se": s.p_below_se})
    };
    km.steps().iter().map(step).collect()
}

fn sure_bounds(group: &Censored) -> Value {
    let Some(sure) = SureBounds::of(group) else { return Value::Null };
    let pair = |[low, high]: [f64; 2]| json!([number(low), number(high)]);
    let quantiles: Map<_, _> =
        SHARES.iter().map(|p| ((*p).to_owned(), sure.quantile(p.parse().unwrap()).map_or(Value::Null, pair))).collect();
    json!({"mean": pair(sure.mean()), "quantiles": quantiles})
}
