//! 21: homes of Minnesota, real radon values by county.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::exceedance::{Benchmark, Counts, Reading, judge};
use wellreeve::methods::kaplan_meier::KaplanMeier;
use wellreeve::methods::proportions::wilson;

use crate::report::{Report, cases, maybe};
use crate::{bangladesh, proportions, small_areas};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let got = match case["id"].as_str() {
            Some("share-above-4") => small_areas::figures(&case["data"]),
            Some("all-homes") => all_homes(report, &case["data"]),
            other => panic!("{other:?} is no case of this file"),
        };
        report.check(case, &got);
    }
}

fn all_homes(report: &Report, data: &Value) -> Value {
    let radon = bangladesh::column(report, &json!({"file": data["file"], "column": "radon_pCi_L"}));
    let text = std::fs::read_to_string(report.folder().join(data["file"].as_str().unwrap()))
        .expect("the data file can be read");
    let counties: BTreeSet<&str> = text.lines().skip(1).filter_map(|line| line.split(',').nth(1)).collect();
    let counts = Counts::of(radon.iter().map(|x| judge(Reading::Exact(*x), Benchmark::Maximum(4.0))));
    let km = KaplanMeier::of(&Censored::new(&radon, &vec![false; radon.len()]).unwrap()).unwrap();
    json!({"homes": radon.len(), "above_4": counts.exceeding, "wilson": proportions::pair(wilson(counts.exceeding, counts.wells(), 0.95)),
           "mean": km.mean(), "median": maybe(km.quantile(0.5)), "counties": counties.len()})
}
