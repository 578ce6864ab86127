//! 18: bootstrap intervals. Ends are random, so a case says where a right program may land with a
//! number of resamples.

use serde_json::{Value, json};
use wellreeve::methods::bootstrap::{Interval, Settings, bca, kaplan_meier_mean_of, mean_of};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::quantiles::averaged_inverse;
use wellreeve::methods::resample::Cells;

use crate::close::{CLOSED_FORM, Tolerance};
use crate::kaplan_meier::group;
use crate::report::{Report, at, cases, number, read, read_list};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        report.count();
        for (stream, resamples) in [(0, 2000), (1, 2000), (2, 20_000)] {
            let got = interval(case, resamples, stream);
            exact_parts(case, &got, report);
            ends(case, &got, resamples, report);
        }
    }
}

fn interval(case: &Value, resamples: usize, stream: u64) -> Interval {
    let sample = &case["data"]["sample"];
    let cells = Cells::of(&if sample.is_object() { group(sample) } else { complete(sample) });
    let level = read(&case["data"]["confidence"]);
    let settings = Settings { level, resamples, seed: 20, stream };
    let statistic = case["data"]["statistic"].as_str().unwrap_or_default();
    match statistic {
        "mean" => bca(&cells, mean_of(&cells), &settings),
        "median" => bca(&cells, |counts| median(&cells, counts), &settings),
        "variance_n" => bca(&cells, |counts| variance(&cells, counts), &settings),
        word if word.starts_with("Kaplan-Meier mean") => bca(&cells, kaplan_meier_mean_of(&cells), &settings),
        other => panic!("{other:?} is no statistic of the bootstrap cases"),
    }
    .expect("the case has an interval")
}

fn complete(sample: &Value) -> Censored {
    let value = read_list(sample);
    Censored::new(&value, &vec![false; value.len()]).unwrap()
}

fn median(cells: &Cells, counts: &[u32]) -> Option<f64> {
    let pairs: Vec<_> =
        cells.value.iter().copied().zip(counts.iter().copied()).filter(|(_, count)| *count > 0).collect();
    averaged_inverse(&pairs, 0.5)
}

fn variance(cells: &Cells, counts: &[u32]) -> Option<f64> {
    let mean = mean_of(cells)(counts)?;
    let n: u32 = counts.iter().sum();
    let squares = cells.value.iter().zip(counts).map(|(x, c)| f64::from(*c) * (x - mean) * (x - mean));
    Some(squares.sum::<f64>() / f64::from(n))
}

/// Estimate and acceleration do not hang on the draws; the bias correction, the error and the
/// dropped share nearly so.
fn exact_parts(case: &Value, got: &Interval, report: &mut Report) {
    let expected = &case["expected"];
    report.compare(case, "estimate", &number(got.estimate), &expected["estimate"], CLOSED_FORM);
    report.compare(case, "acceleration", &number(got.acceleration), &expected["acceleration"], CLOSED_FORM);
    report.compare(case, "z0", &number(got.z0), &expected["z0"], Tolerance { abs: 0.12, rel: 0.0 });
    if expected.get("standard_error").is_some() {
        report.compare(
            case,
            "standard_error",
            &number(got.standard_error),
            &expected["standard_error"],
            Tolerance { abs: 0.0, rel: 0.08 },
        );
    }
}

fn ends(case: &Value, got: &Interval, resamples: usize, report: &mut Report) {
    let ours = json!({"percentile_low": got.percentile[0], "percentile_high": got.percentile[1], "bca_low": got.low, "bca_high": got.high});
    let allowed = &case["expected"][format!("allowed_with_{resamples}_resamples")];
    for (name, range) in allowed.as_object().into_iter().flatten() {
        let (end, low, high) = (read(&ours[name]), read(&range[0]), read(&range[1]));
        report.figures += 1;
        if !(low..=high).contains(&end) {
            report.fail(case, &format!("{name} with {resamples}: {end} is not within {low} to {high}"));
        }
    }
    if let Some(slack) = case["tolerance"][format!("ends_with_{resamples}_resamples")].as_f64() {
        let tree = json!({"percentile": got.percentile, "bca": [got.low, got.high], "estimate": got.estimate, "acceleration": got.acceleration});
        for name in ["percentile", "bca"] {
            report.compare(case, name, &at(&tree, name), &case["expected"][name], Tolerance { abs: slack, rel: 0.0 });
        }
        report.published(case, &tree);
    }
}
