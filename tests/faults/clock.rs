//! A clock that stands before the data: whoever runs it is told, and no file but the manifest's one line hangs on it.

use super::disk::{Behaviour, Calls, Faulty};
use super::survey::Survey;
use super::writes::files;
use wellreeve::problem::Warning;
use wellreeve::progress::{Mode, Progress};

fn run(survey: &Survey, hours: i64) -> (Vec<Warning>, super::writes::Files, String) {
    let disk = Faulty::new(Behaviour { clock: Some(hours), ..Behaviour::sound(Calls::Writing) });
    let out = survey.path(&format!("out-{hours}"));
    let progress = Progress::new(Mode::Quiet);
    let outcome = wellreeve::run_on(&disk.shared(), &survey.path("plan.toml"), &out, &progress).unwrap();
    let late = outcome.warnings.into_iter().filter(|warning| warning.text.starts_with("dates after today")).collect();
    let manifest = std::fs::read_to_string(out.join("manifest.json")).unwrap();
    let started = manifest.lines().find(|line| line.contains("started_at")).unwrap().trim().to_owned();
    (late, files(&out), started)
}

#[test]
fn dates_after_today_are_told_and_stand_in_no_file() {
    let survey = Survey::new();
    let lab = std::fs::read_to_string(survey.path("lab.csv")).unwrap();
    survey.write("lab.csv", lab.replace("2019-03-01", "2091-03-01"));
    // Midnights of 2026-11-25, of 2018-06-01 and of the first day of 1970.
    let [(now, wanted, _), (early, found, _), (dead, first, started)] =
        [20_782, 17_683, 0].map(|day| run(&survey, day * 24));
    assert_eq!((now.len(), now[0].count), (1, 1));
    assert_eq!(now[0].examples, ["\"2091-03-01\" (1), lab.csv:2"]);
    assert!(now[0].text.contains("at most 2026-11-25"), "{}", now[0].text);
    // Of the survey's 24 lines, those of 2019 and 2091.
    assert_eq!((early[0].count, dead[0].count), (15, 24));
    assert!(wanted == found && wanted == first, "the clock shows in the files");
    assert_eq!(started, "\"started_at\": \"1970-01-01T00:00:00Z\",");
}

/// At the date line it is tomorrow already.
#[test]
fn a_day_that_has_begun_anywhere_is_not_late() {
    let survey = Survey::new();
    let lab = std::fs::read_to_string(survey.path("lab.csv")).unwrap();
    survey.write("lab.csv", lab.replace("2019-03-01", "2026-11-26"));
    // Noon of the 25th, in hours since 1970: at the date line it is 2 in the morning of the 26th. And four hours before.
    assert_eq!(run(&survey, 20_782 * 24 + 12).0.len(), 0);
    assert_eq!(run(&survey, 20_782 * 24 + 8).0.len(), 1);
}
