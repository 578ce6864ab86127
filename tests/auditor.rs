//! An outsider reads public folders of random surveys and tries to work out what they hide.
//!
//! The attack itself is tested too: on a folder in which nothing is hidden but one cell it must find that cell.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "auditor/attack.rs"]
mod attack;
#[path = "auditor/known.rs"]
mod known;
#[path = "auditor/random.rs"]
mod random;
#[path = "support/survey.rs"]
mod survey;

use attack::attack;
use rayon::prelude::*;

const SURVEYS: u64 = 200;

/// `AUDIT_SURVEYS` takes another number of them.
fn surveys() -> u64 {
    std::env::var("AUDIT_SURVEYS").ok().and_then(|text| text.parse().ok()).unwrap_or(SURVEYS)
}

#[test]
fn nothing_hidden_can_be_worked_out() {
    let found: Vec<String> = (0..surveys())
        .into_par_iter()
        .flat_map_iter(|seed| {
            let smallest = [5, 5, 5, 3, 10][(seed % 5) as usize];
            let survey = random::survey(seed, smallest);
            if let Err(problems) = wellreeve::run(
                &survey.path("plan.toml"),
                &survey.path("out"),
                &wellreeve::progress::Progress::new(wellreeve::progress::Mode::Quiet),
            ) {
                let told = problems.to_string();
                assert!(told.contains("file-without-results") || told.contains("no results"), "{told}");
                return Vec::new();
            }
            let found = attack(&survey.path("out/public"), smallest as i64);
            found.into_iter().map(|text| format!("survey {seed}: {text}")).collect()
        })
        .collect();
    assert!(
        found.is_empty(),
        "{} leaks:\n{}",
        found.len(),
        found.iter().take(20).cloned().collect::<Vec<_>>().join("\n")
    );
}

/// The internal tables in the place of the public ones hide nothing: the attack must say so.
#[test]
fn an_unprotected_folder_is_found_out() {
    let survey = random::survey(1, 5);
    survey.run();
    std::fs::rename(survey.path("out/public/tables"), survey.path("out/public/kept")).unwrap();
    std::fs::rename(survey.path("out/internal/tables"), survey.path("out/public/tables")).unwrap();
    assert!(attack(&survey.path("out/public"), 5).iter().any(|text| text.contains("wells shown")));
}

/// One group that was hidden to protect another, told again: the other one is worked out.
#[test]
fn a_group_told_again_gives_another_away() {
    let mut found = 0;
    for seed in 0..12 {
        let survey = random::survey(seed, 5);
        survey.run();
        let public = survey.path("out/public/tables/summary.csv");
        let whole = std::fs::read_to_string(survey.path("out/internal/tables/summary.csv")).unwrap();
        let told = std::fs::read_to_string(&public).unwrap();
        let hidden: Vec<(usize, &str)> = told
            .lines()
            .zip(whole.lines())
            .enumerate()
            .filter(|(_, (told, whole))| told != whole && !told.starts_with("region") && wells(whole) >= 5)
            .map(|(at, (_, whole))| (at, whole))
            .collect();
        let Some((at, line)) = hidden.first() else { continue };
        let lines: Vec<&str> = told.lines().enumerate().map(|(n, own)| if n == *at { *line } else { own }).collect();
        std::fs::write(&public, lines.join("\n")).unwrap();
        found += usize::from(!attack(&survey.path("out/public"), 5).is_empty());
    }
    assert!(found >= 3, "only {found} of the folders with a group told again were found out");
}

fn wells(line: &str) -> u64 {
    line.split(',').nth(4).and_then(|cell| cell.parse().ok()).unwrap_or(0)
}
