//! 09: logistic regression, plain and Firth's. One case names columns of a data file instead of listing them.

use serde_json::{Value, json};
use wellreeve::methods::logistic::{FirthTerm, PlainTerm, Wells, firth, is_separated, plain};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got =
            if case["data"]["file"].is_string() { of_file(&case["data"], report) } else { of_lists(&case["data"]) };
        report.check(case, &got);
    }
}

fn of_lists(data: &Value) -> Value {
    let exceeds = report::read_flags(&data["y"]);
    let measures: Vec<f64> = data["x"].as_array().expect("rows").iter().flat_map(report::read_list).collect();
    let wells = Wells { measures: &measures, terms: measures.len() / exceeds.len(), exceeds: &exceeds };
    let level = report::read(&data["confidence"]);
    let ml = plain(wells, level).ok();
    let penalised = firth(wells, level).expect("a Firth fit");
    json!({
        "separated": is_separated(wells).expect("an answer"),
        "ml": ml.as_ref().map(|fit| named(data, fit.terms.iter().map(plain_term))),
        "ml_log_likelihood": report::maybe(ml.map(|fit| fit.log_likelihood)),
        "firth": named(data, penalised.terms.iter().map(firth_term)),
        "firth_penalised_log_likelihood": penalised.penalised_log_likelihood,
    })
}

fn named(data: &Value, terms: impl Iterator<Item = Value>) -> Value {
    let names = std::iter::once(json!("(constant)")).chain(data["terms"].as_array().expect("names").iter().cloned());
    names
        .zip(terms)
        .map(|(name, mut term)| {
            term["term"] = name;
            term
        })
        .collect()
}

fn plain_term(term: &PlainTerm) -> Value {
    let [low, high] = term.odds_interval.expect("an interval");
    json!({
        "estimate": term.estimate, "std_error": term.std_error, "odds_ratio": term.odds_ratio,
        "odds_low": report::number(low), "odds_high": report::number(high), "wald_p": term.wald_p,
    })
}

fn firth_term(term: &FirthTerm) -> Value {
    let ([wald_low, wald_high], [low, high]) =
        (term.wald_interval.expect("an interval"), term.profile_interval.expect("a profile"));
    let (statistic, p) = term.ratio_test.expect("a test");
    json!({
        "estimate": term.estimate, "std_error": term.std_error, "odds_ratio": term.odds_ratio,
        "wald_low": wald_low, "wald_high": wald_high, "wald_p": term.wald_p,
        "profile_low": low, "profile_high": high, "penalised_lr_chi2": statistic, "penalised_lr_p": p,
    })
}

/// Terms are written as `column / divisor`.
fn of_file(data: &Value, report: &Report) -> Value {
    let path = report.folder().join(data["file"].as_str().expect("a file name"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let place = |name: &str| header.iter().position(|h| *h == name).unwrap_or_else(|| panic!("no column {name}"));
    let terms: Vec<(usize, f64)> = data["x"]
        .as_array()
        .expect("terms")
        .iter()
        .map(|t| {
            let (name, unit) = t.as_str().expect("a word").split_once(" / ").expect("column / divisor");
            (place(name), unit.parse().expect("a number"))
        })
        .collect();
    let outcome = place(data["outcome"].as_str().expect("a word"));
    let (mut measures, mut exceeds) = (Vec::new(), Vec::new());
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        measures.extend(terms.iter().map(|(i, unit)| cells[*i].parse::<f64>().expect("a number") / unit));
        exceeds.push(matches!(cells[outcome], "1" | "yes" | "true"));
    }
    let fit = plain(Wells { measures: &measures, terms: terms.len(), exceeds: &exceeds }, 0.95).expect("a fit");
    json!({
        "estimates": fit.terms.iter().map(|t| t.estimate).collect::<Vec<_>>(),
        "std_errors": fit.terms.iter().map(|t| t.std_error).collect::<Vec<_>>(),
        "log_likelihood": fit.log_likelihood,
    })
}
