//! 13: trend in time with non-detects.

use serde_json::{Value, json};
use wellreeve::methods::trend::{Series, exact_p, kendall};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got = figures(&case["data"]);
        report.check(case, &got);
    }
}

fn figures(data: &Value) -> Value {
    let (times, values) = (report::read_list(&data["x"]), report::read_list(&data["value"]));
    let nondetect = report::read_flags(&data["nondetect"]);
    let series = Series { times: &times, values: &values, nondetect: &nondetect };
    let k = kendall(series).expect("usable series");
    json!({
        "s": k.s, "tied_in_x": k.tied_in_time, "tied_in_y": k.tied_in_value,
        "tau_a": report::maybe(k.tau_a), "tau_b": report::maybe(k.tau_b), "s_variance": k.variance,
        "z": report::maybe(k.test.map(|t| t.z)), "p": report::maybe(k.test.map(|t| t.p)),
        "z_no_continuity": report::maybe(k.test_uncorrected.map(|t| t.z)),
        "p_no_continuity": report::maybe(k.test_uncorrected.map(|t| t.p)),
        "exact_p": report::maybe(exact_p(series)),
        "slope": report::maybe(k.slope.map(|s| s.middle)),
        "slope_zero_stretch": [report::maybe(k.slope.map(|s| s.from)), report::maybe(k.slope.map(|s| s.to))],
    })
}
