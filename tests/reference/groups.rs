//! 07: rank tests over groups with non-detects.

use serde_json::{Map, Value, json};
use wellreeve::methods::groups::{ChiSquared, NoTest, RankTest, Weight, permutation_of_scores, rank_test};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got = figures(&case["data"]);
        report.check(case, &got);
    }
}

fn figures(data: &Value) -> Value {
    let mut values = report::read_list(&data["value"]);
    if data["note"].as_str().is_some_and(|note| note.contains("right-censored")) {
        // Times that are right-censored are values that are left-censored when their sign is turned.
        values.iter_mut().for_each(|v| *v = -*v);
    }
    let limits = report::read_flags(&data["nondetect"]);
    let words: Vec<String> =
        data["group"].as_array().expect("a list").iter().map(|g| g.as_str().expect("a word").to_owned()).collect();
    let mut names = words.clone();
    names.sort();
    names.dedup();
    let group: Vec<usize> = words.iter().map(|w| names.binary_search(w).expect("a name")).collect();
    let test = |weight| rank_test(&values, &limits, &group, weight);
    let peto = test(Weight::PetoPeto);
    let mut main = outcome(peto.outcome, peto.df);
    main["u"] = names.iter().cloned().zip(peto.u.iter().map(|u| report::number(*u))).collect::<Map<_, _>>().into();
    main["variance"] = json!(peto.variance);
    let plain = |test: RankTest| outcome(test.outcome, test.df);
    json!({
        "peto_peto": main,
        "gehan": plain(test(Weight::Gehan)),
        "peto_peto_modified_survival": plain(test(Weight::ModifiedShare)),
        "logrank": plain(test(Weight::LogRank)),
        "peto_scores_permutation": outcome(permutation_of_scores(&values, &limits, &group), names.len() - 1),
    })
}

fn outcome(test: Result<ChiSquared, NoTest>, df: usize) -> Value {
    let test = test.ok();
    json!({ "chi2": report::maybe(test.map(|t| t.statistic)), "df": df, "p": report::maybe(test.map(|t| t.p)) })
}
