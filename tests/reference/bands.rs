//! 08: trend of shares over ordered bands.

use serde_json::{Value, json};
use wellreeve::methods::cochran_armitage::{exact_p, trend};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let data = &case["data"];
        let counts = |key: &str| {
            data[key].as_array().expect("a list").iter().map(|n| n.as_u64().expect("a count")).collect::<Vec<u64>>()
        };
        let (exceeding, wells, scores) = (counts("exceeding"), counts("wells"), report::read_list(&data["scores"]));
        let test = trend(&exceeding, &wells, &scores).ok();
        let got = json!({
            "z": report::maybe(test.map(|t| t.z)),
            "chi2": report::maybe(test.map(|t| t.chi_squared)),
            "p": report::maybe(test.map(|t| t.p)),
            "exact_p": report::maybe(exact_p(&exceeding, &wells, &scores)),
        });
        report.check(case, &got);
    }
}
