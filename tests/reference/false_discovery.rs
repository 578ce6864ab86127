//! 10: Benjamini-Hochberg.

use serde_json::{Value, json};
use wellreeve::methods::adjust::benjamini_hochberg;

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let p: Vec<Option<f64>> = case["data"]["p"].as_array().expect("a list").iter().map(Value::as_f64).collect();
        let level = report::read(&case["data"]["level"]);
        let q = benjamini_hochberg(&p);
        let rejected: Vec<Option<bool>> = q.iter().map(|q| q.map(|q| q <= level)).collect();
        report.check(case, &json!({ "q": q, "rejected": rejected }));
    }
}
