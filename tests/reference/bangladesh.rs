//! 20: household wells of Bangladesh, real arsenic values, complete and with limits laid over them.

use serde_json::{Map, Value, json};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::exceedance::{Benchmark, Reading, Verdict, judge};
use wellreeve::methods::kaplan_meier::share_above;
use wellreeve::methods::proportions::wilson;
use wellreeve::methods::quantiles::linear;

use crate::report::{Report, cases, maybe, number};
use crate::{kaplan_meier, mle, proportions, ros};

/// Limits laid over the rows in turn, as the cases say.
const LIMITS: [f64; 3] = [60.0, 100.0, 200.0];

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let values = column(report, &case["data"]);
        let (value, below): (Vec<f64>, Vec<bool>) = values
            .iter()
            .zip(LIMITS.iter().cycle())
            .map(|(x, limit)| if x < limit { (*limit, true) } else { (*x, false) })
            .unzip();
        let censored = Censored::new(&value, &below).unwrap();
        let got = match case["id"].as_str() {
            Some("complete") => complete(&values),
            Some("censored-kaplan-meier") => with_shares(&censored),
            Some("censored-ros") => ros::figures(&censored),
            Some("censored-lognormal-mle") => mle::lognormal_of(&value, &below, 0.95, &[100.0, 200.0]),
            other => panic!("{other:?} is no case of this file"),
        };
        report.check(case, &got);
    }
}

/// A column of a comma-separated file of numbers and plain words, by the name in its header.
pub fn column(report: &Report, data: &Value) -> Vec<f64> {
    let (file, name) = (data["file"].as_str().unwrap(), data["column"].as_str().unwrap());
    let text = std::fs::read_to_string(report.folder().join(file)).expect("the data file can be read");
    let mut lines = text.lines();
    let place = lines.next().unwrap().split(',').position(|head| head == name).expect("the column is there");
    lines.map(|line| line.split(',').nth(place).unwrap().parse().unwrap()).collect()
}

fn complete(values: &[f64]) -> Value {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let exceeding = |limit: f64| {
        values.iter().filter(|x| judge(Reading::Exact(**x), Benchmark::Maximum(limit)) == Verdict::Exceeding).count()
    };
    let above: Map<_, _> = ["10", "50", "100", "150", "200", "300", "500"]
        .iter()
        .map(|w| ((*w).to_owned(), exceeding(w.parse().unwrap()).into()))
        .collect();
    let quantiles: Map<_, _> = ["0.05", "0.1", "0.25", "0.5", "0.75", "0.9", "0.95", "0.99"]
        .iter()
        .map(|p| ((*p).to_owned(), maybe(linear(&sorted, p.parse().unwrap()))))
        .collect();
    let km = kaplan_meier::figures(&Censored::new(values, &vec![false; values.len()]).unwrap());
    let (hit, n) = (exceeding(100.0) as u64, values.len() as u64);
    json!({"wells": n, "above": above, "rate_above_100": hit as f64 / n as f64, "wilson_above_100": proportions::pair(wilson(hit, n, 0.95)),
           "mean": km["mean"], "sd": km["sd"], "quantiles_type7": quantiles, "lowest": number(sorted[0]), "highest": number(sorted[sorted.len() - 1])})
}

fn with_shares(group: &Censored) -> Value {
    let mut got = kaplan_meier::figures(group);
    let share = |w: &&str| ((*w).to_owned(), maybe(share_above(group, w.parse().unwrap()).rate));
    got["exceedance_km"] = ["100", "150", "300"].iter().map(share).collect::<Map<_, _>>().into();
    got
}
