//! 22: small-area rates with mean and concentration integrated out, under the prior these cases are made for. The published
//! one is held to `tests/comparisons/small-areas.json`.

use serde_json::{Value, json};
use wellreeve::methods::integrated::{AreaRate, Posterior, Question, SpreadPrior};

use crate::report::{Report, cases, read};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let question = Question { level: 0.95, concern: read(&case["data"]["concern"]) };
        let [exceeding, wells] = ["exceeding", "wells"].map(|list| counts(&case["data"][list]));
        let posterior =
            Posterior::fit_under(SpreadPrior::UniformShrinkage, &exceeding, &wells).expect("the case has wells");
        let got: Value = posterior.rates(&question).expect("the quadrature settles").iter().map(figures).collect();
        report.check(case, &got);
    }
}

pub fn counts(list: &Value) -> Vec<u64> {
    list.as_array().into_iter().flatten().map(|x| x.as_u64().expect("a count")).collect()
}

fn figures(rate: &AreaRate) -> Value {
    json!({"mean": rate.mean, "low": rate.low, "high": rate.high, "chance_above": rate.chance_above})
}
