//! 12: clustering of areas.

use serde_json::{Value, json};
use wellreeve::methods::clustering::{Local, Quadrant, Weights, local, moran};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let values = report::read_list(&case["data"]["value"]);
        let index = |v: &Value| v.as_u64().expect("a place") as usize;
        let list = |v: &Value| v.as_array().expect("a list").iter().map(index).collect::<Vec<usize>>();
        let near: Vec<Vec<usize>> = case["data"]["neighbours"].as_array().expect("lists").iter().map(list).collect();
        let areas = local(&values, &near).ok();
        let each =
            |figure: fn(&Local) -> Value| areas.as_ref().map(|areas| areas.iter().map(figure).collect::<Vec<Value>>());
        let got = json!({
            "row_standardised": global(&values, &near, Weights::RowStandardised),
            "binary": global(&values, &near, Weights::Binary),
            "local_moran": each(|area| report::number(area.local_moran)),
            "quadrant": each(|area| json!(word(area.quadrant))),
            "g_star_z": each(|area| report::maybe(area.g_star)),
            "g_star_p": each(|area| report::maybe(area.g_star_p)),
        });
        report.check(case, &got);
    }
}

fn global(values: &[f64], near: &[Vec<usize>], weights: Weights) -> Value {
    match moran(values, near, weights) {
        Ok(m) => json!({
            "I": m.i, "expected": m.expected, "variance_normal": m.variance_normal,
            "variance_randomised": report::maybe(m.variance_randomised), "z": report::maybe(m.z), "p": report::maybe(m.p),
        }),
        // The expectation is a matter of the number of areas alone; the method withholds it together with the rest.
        Err(_) => {
            json!({ "I": null, "expected": -1.0 / (values.len() as f64 - 1.0), "z": null, "p": null })
        }
    }
}

fn word(quadrant: Option<Quadrant>) -> &'static str {
    match quadrant {
        Some(Quadrant::HighHigh) => "high-high",
        Some(Quadrant::HighLow) => "high-low",
        Some(Quadrant::LowHigh) => "low-high",
        Some(Quadrant::LowLow) => "low-low",
        None => "",
    }
}
