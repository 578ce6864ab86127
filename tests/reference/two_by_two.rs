//! 06: two by two tables.

use serde_json::{Value, json};
use wellreeve::methods::fisher;
use wellreeve::methods::two_by_two::{
    Estimate, TwoByTwo, conditional_odds_ratio, half_added_odds_ratio, risk_difference, risk_ratio, sample_odds_ratio,
};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got = figures(&case["data"]);
        report.check(case, &got);
    }
}

fn figures(data: &Value) -> Value {
    let count = |i: usize, j: usize| data["table"][i][j].as_u64().expect("a count");
    let table = TwoByTwo {
        exposed_exceeding: count(0, 0),
        exposed_meeting: count(0, 1),
        reference_exceeding: count(1, 0),
        reference_meeting: count(1, 1),
    };
    let level = report::read(&data["confidence"]);
    let sample = sample_odds_ratio(table, level);
    let half = Some(half_added_odds_ratio(table, level));
    let conditional = conditional_odds_ratio(table, level);
    let (ratio, difference) = (risk_ratio(table, level), risk_difference(table, level));
    json!({
        "fisher_p": fisher::test(table).p,
        "or_sample": value(sample), "or_sample_ci": ends(sample),
        "or_half_added": value(half), "or_half_added_ci": ends(half),
        "or_conditional": value(conditional), "or_conditional_ci": ends(conditional),
        "risk_exposed": share(count(0, 0) as f64, table.exposed()),
        "risk_reference": share(count(1, 0) as f64, table.reference()),
        "rr": value(ratio), "rr_ci": ends(ratio),
        "rd": value(difference), "rd_ci": ends(difference),
    })
}

fn share(x: f64, n: f64) -> Value {
    report::maybe((n > 0.0).then(|| x / n))
}

fn value(estimate: Option<Estimate>) -> Value {
    report::maybe(estimate.map(|e| e.value))
}

fn ends(estimate: Option<Estimate>) -> Value {
    match estimate.and_then(|e| e.interval) {
        Some([low, high]) => json!([report::number(low), report::number(high)]),
        None => json!([null, null]),
    }
}
