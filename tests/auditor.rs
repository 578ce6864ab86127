//! An outsider reads public folders of random surveys and tries to work out what they hide.
//!
//! The attack itself is tested too: on a folder in which nothing is hidden but one cell it must find that cell.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "auditor/attack.rs"]
mod attack;
#[path = "auditor/known.rs"]
mod known;
#[path = "auditor/light.rs"]
mod light;
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
            if let Err(problems) = light::run(&survey) {
                let told = problems.to_string();
                assert!(told.contains("file-without-results") || told.contains("no results"), "{told}");
                return Vec::new();
            }
            let found = attack(&survey.path("out/public"), smallest as i64);
            found.into_iter().map(|text| format!("survey {seed}: {text}")).collect()
        })
        .collect();
    let shown = found.iter().take(20).cloned().collect::<Vec<_>>().join("\n");
    assert!(found.is_empty(), "{} leaks:\n{shown}", found.len());
}

/// The internal tables in the place of the public ones hide nothing: the attack must say so.
#[test]
fn an_unprotected_folder_is_found_out() {
    let survey = random::survey(1, 5);
    light::run(&survey).unwrap();
    std::fs::rename(survey.path("out/public/tables"), survey.path("out/public/kept")).unwrap();
    std::fs::rename(survey.path("out/internal/tables"), survey.path("out/public/tables")).unwrap();
    assert!(attack(&survey.path("out/public"), 5).iter().any(|text| text.contains("wells shown")));
}

/// Groups that were hidden to protect others, told again one at a time: the others are worked out.
#[test]
fn a_group_told_again_gives_another_away() {
    let mut found = Vec::new();
    for seed in [1, 2, 3, 4] {
        let survey = random::survey(seed, 5);
        light::run(&survey).unwrap();
        let public = survey.path("out/public/tables/summary.csv");
        let whole = std::fs::read_to_string(survey.path("out/internal/tables/summary.csv")).unwrap();
        let told = std::fs::read_to_string(&public).unwrap();
        let hidden = told
            .lines()
            .zip(whole.lines())
            .enumerate()
            .filter(|(_, (told, whole))| told != whole && !told.starts_with("region") && wells(whole) >= 5);
        for (at, (_, line)) in hidden {
            let lines: Vec<&str> = told.lines().enumerate().map(|(n, own)| if n == at { line } else { own }).collect();
            std::fs::write(&public, lines.join("\n")).unwrap();
            found.push(!attack(&survey.path("out/public"), 5).is_empty());
        }
    }
    let given_away = found.iter().filter(|found| **found).count();
    assert!(given_away >= 3, "{given_away} of {} groups told again", found.len());
}

fn wells(line: &str) -> u64 {
    line.split(',').nth(4).and_then(|cell| cell.parse().ok()).unwrap_or(0)
}
