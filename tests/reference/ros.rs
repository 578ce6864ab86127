//! 02: robust regression on order statistics.

use serde_json::{Map, Value, json};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::ros::{Ros, Threshold};

use crate::kaplan_meier::{by_share, group};
use crate::report::{Report, cases, maybe, number};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let mut got = figures(&group(&case["data"]));
        // What other programs give with the non-detects above every detect kept: noted in the case,
        // not a figure of ours.
        if let Some(theirs) = case["expected"].get("if_high_nondetects_are_kept") {
            got["if_high_nondetects_are_kept"] = theirs.clone();
        }
        report.check(case, &got);
    }
}

pub fn figures(group: &Censored) -> Value {
    let ros = Ros::of(group).ok();
    let line = ros.as_ref().and_then(|r| r.line);
    let list = |of: fn(&Ros) -> &Vec<f64>| {
        line.and(ros.as_ref()).map_or(Value::Null, |r| of(r).iter().map(|x| number(*x)).collect())
    };
    let mut figures = Map::new();
    figures.insert("n".into(), group.len().into());
    figures.insert("detected".into(), group.detected().into());
    figures.insert("n_used".into(), ros.as_ref().map_or(Value::Null, |r| r.n_used().into()));
    figures
        .insert("thresholds".into(), ros.as_ref().map_or(json!([]), |r| r.thresholds.iter().map(threshold).collect()));
    figures.insert("intercept".into(), maybe(line.map(|l| l.intercept)));
    figures.insert("slope".into(), maybe(line.map(|l| l.slope)));
    figures.insert("detect_positions".into(), list(|r| &r.detect_positions));
    figures.insert("nondetect_positions".into(), list(|r| &r.nondetect_positions));
    figures
        .insert("imputed".into(), ros.as_ref().map_or(Value::Null, |r| r.imputed.iter().map(|x| number(*x)).collect()));
    figures.insert("mean".into(), maybe(ros.as_ref().map(Ros::mean)));
    figures.insert("sd".into(), maybe(ros.as_ref().map(Ros::sd)));
    figures.insert("quantiles".into(), by_share(|p| ros.as_ref().and_then(|r| r.quantile(p)).map(|q| q.value)));
    figures.into()
}

fn threshold(t: &Threshold) -> Value {
    json!({"limit": maybe(t.limit), "detects_from_here_to_next": t.detects, "all_below": t.all_below, "nondetects_here": t.nondetects,
           "exceedance": t.exceedance, "next_exceedance": t.next_exceedance})
}
