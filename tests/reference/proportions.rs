//! 04: intervals for one proportion.

use serde_json::{Value, json};
use wellreeve::methods::proportions::{NoProportion, clopper_pearson, jeffreys, jeffreys_edge_adjusted, wilson};

use crate::report::{Report, cases, number, read};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let count = |key: &str| case["data"][key].as_u64().expect("a case counts in whole numbers");
        let (x, n, level) = (count("x"), count("n"), read(&case["data"]["confidence"]));
        let got = json!({
            "rate": number(x as f64 / n as f64), "wilson": pair(wilson(x, n, level)), "clopper_pearson": pair(clopper_pearson(x, n, level)),
            "jeffreys": pair(jeffreys(x, n, level)), "jeffreys_edge_adjusted": pair(jeffreys_edge_adjusted(x, n, level)),
        });
        report.check(case, &got);
    }
}

pub fn pair(ends: Result<[f64; 2], NoProportion>) -> Value {
    ends.map_or(Value::Null, |[low, high]| json!([number(low), number(high)]))
}
