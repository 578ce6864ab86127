//! 05: exceedance with undetermined results.

use serde_json::{Value, json};
use wellreeve::methods::censored::Censored;
use wellreeve::methods::exceedance::{Benchmark, Counts, Reading, Verdict, judge};
use wellreeve::methods::kaplan_meier::share_above;

use crate::report::{Report, cases, maybe, number, read};

pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let data = &case["data"];
        let words: Vec<String> = data["results"].as_array().into_iter().flatten().map(as_word).collect();
        let benchmark = benchmark(data);
        let verdicts: Vec<Verdict> = words.iter().map(|word| judge(reading(word), benchmark)).collect();
        let counts = Counts::of(verdicts.iter().copied());
        let rates = counts.rates(read(&data["confidence"]));
        let mut got = json!({
            "wells": counts.wells(), "exceeding": counts.exceeding, "meeting": counts.meeting, "undetermined": counts.undetermined,
            "each": verdicts.into_iter().map(name).collect::<Vec<_>>(),
            "rate": maybe(rates.rate), "rate_low": maybe(rates.low), "rate_high": maybe(rates.high),
            "rate_floor": maybe(rates.floor), "rate_ceiling": maybe(rates.ceiling),
        });
        add_kaplan_meier(&mut got, &words, benchmark);
        report.check(case, &got);
    }
}

fn add_kaplan_meier(got: &mut Value, words: &[String], benchmark: Benchmark) {
    let (mut rate, mut se, mut bounds) = (None, None, Value::Null);
    if let (Benchmark::Maximum(limit), false) =
        (benchmark, words.is_empty() || words.iter().any(|w| w.starts_with('>')))
    {
        let value: Vec<f64> = words.iter().map(|w| w.trim_start_matches('<').parse().unwrap()).collect();
        let below: Vec<bool> = words.iter().map(|w| w.starts_with('<')).collect();
        let share = share_above(&Censored::new(&value, &below).unwrap(), limit);
        (rate, se, bounds) = (share.rate, share.se, json!(share.bounds.map(number)));
    }
    got["km_rate"] = maybe(rate);
    got["km_rate_se"] = maybe(se);
    got["km_bounds"] = bounds;
}

fn as_word(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn benchmark(data: &Value) -> Benchmark {
    match data["sense"].as_str() {
        Some("maximum") => Benchmark::Maximum(read(&data["limit"])),
        Some("range") => Benchmark::Range { low: read(&data["limit"][0]), high: read(&data["limit"][1]) },
        Some("absent") => Benchmark::Absent,
        other => panic!("{other:?} is no sense of a benchmark"),
    }
}

fn reading(word: &str) -> Reading {
    match (word, word.split_at_checked(1)) {
        ("present", _) => Reading::Present,
        ("absent", _) => Reading::Absent,
        (_, Some(("<", limit))) => Reading::Below(limit.parse().unwrap()),
        (_, Some((">", limit))) => Reading::Above(limit.parse().unwrap()),
        _ => Reading::Exact(word.parse().unwrap()),
    }
}

fn name(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Exceeding => "exceeding",
        Verdict::Meeting => "meeting",
        Verdict::Undetermined => "undetermined",
    }
}
