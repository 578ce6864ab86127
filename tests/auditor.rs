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
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use wellreeve::publish::Extent;

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
            if let Err(problems) = light::run(&survey, Extent::Tables) {
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
    light::run(&survey, Extent::Tables).unwrap();
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
        light::run(&survey, Extent::Tables).unwrap();
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

type Row = BTreeMap<String, String>;

/// Pairs that tables tell, those of further layers of areas too: so many of so many.
fn pairs(public: &Path) -> BTreeSet<(u64, u64)> {
    let tables = public.join("tables");
    let further = std::fs::read_dir(&tables).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_dir());
    further.chain([tables.clone()]).flat_map(|folder| pairs_of(&folder)).collect()
}

fn pairs_of(folder: &Path) -> BTreeSet<(u64, u64)> {
    let mut found = BTreeSet::new();
    let mut tell = |name: &str, some: &[&str], less: &[&str], all: &str| {
        let path = folder.join(format!("{name}.csv"));
        for row in if path.exists() { survey::table(&path) } else { Vec::new() } {
            let number = |column: &str| row[column].parse::<u64>().ok();
            let Some(whole) = number(all) else { continue };
            for part in some.iter().filter_map(|column| number(column)) {
                found.insert((part, whole));
                found.extend(less.iter().filter_map(|column| Some((part, whole.checked_sub(number(column)?)?))));
            }
        }
    };
    tell("exceedance", &["exceeding"], &["undetermined"], "wells");
    tell("any-health", &["exceeding"], &["undetermined"], "wells");
    tell("land-use", &["exceeding"], &["undetermined"], "wells");
    tell("summary", &["detected"], &[], "wells");
    tell("period", &["exceeding_first"], &[], "wells_first");
    tell("period", &["exceeding_second"], &[], "wells_second");
    tell("coverage", &["wells_sampled"], &[], "wells_on_record");
    found.extend(parts(&folder.join("recommend.csv")));
    found
}

/// In how many of an area's nine equal parts wells were tested.
fn parts(path: &Path) -> Vec<(u64, u64)> {
    let rows = if path.exists() { survey::table(path) } else { Vec::new() };
    rows.iter().filter_map(|row| Some((row["parts_sampled"].parse().ok()?, 9))).collect()
}

/// Every `12 of 34` of a text.
fn told(text: &str) -> Vec<(u64, u64)> {
    let number = |text: &str| text.replace(',', "").parse::<u64>().ok();
    let tail = |text: &str| text.rsplit(|c: char| !c.is_ascii_digit() && c != ',').next().and_then(number);
    let head = |text: &str| text.split(|c: char| !c.is_ascii_digit() && c != ',').next().and_then(number);
    let ends: Vec<&str> = text.split(" of ").collect();
    ends.windows(2).filter_map(|two| tail(two[0]).zip(head(two[1]))).collect()
}

/// What a page says without its marks, scripts and styles; attributes stay.
fn spoken(page: &str) -> String {
    let without = |text: String, from: &str, to: &str| {
        let parts = text.split(from).enumerate();
        parts.map(|(at, part)| if at == 0 { part } else { part.split_once(to).map_or("", |(_, rest)| rest) }).collect()
    };
    let text: String = without(page.to_owned(), "<script", "</script>");
    let text: String = without(text, "<style", "</style>");
    text.replace("<small>", " ").replace("<b>", "").replace("</b>", "").replace("<bdi>", "").replace("</bdi>", "")
}

/// A map's words on each area against the table of rates.
fn map_of(name: &str, svg: &str, rates: &[Row], found: &mut Vec<String>) -> usize {
    let mut seen = 0;
    let stem = name.trim_end_matches(".svg");
    let own = |row: &&Row| stem == format!("{}-{}-{}", row["analyte"], row["benchmark_set"], row["effect"]);
    for part in svg.split("data-area=\"").skip(1) {
        let (area, rest) = part.split_once('"').unwrap();
        let words = rest.split_once("<title>").and_then(|(_, rest)| rest.split_once("</title>")).unwrap().0;
        let Some(row) = rates.iter().filter(own).find(|row| row["area_id"] == area) else { continue };
        let words = words.split_once(": ").map_or(words, |(_, words)| words);
        let numbers: Vec<f64> = words
            .split(|c: char| !c.is_ascii_digit() && c != '.')
            .filter_map(|word| word.trim_matches('.').parse().ok())
            .collect();
        seen += 1;
        let figure = |column: &str| row[column].parse::<f64>().ok();
        if row["wells"].is_empty() {
            if numbers.len() > 1 || !words.starts_with("not shown") {
                found.push(format!("{name}: {area} is hidden, and the map says {words}"));
            }
            continue;
        }
        let wells = numbers.last().copied();
        let shown = numbers.first().zip(figure("rate_smoothed"));
        let near = shown.is_some_and(|(percent, rate)| (percent - 100.0 * rate).abs() <= 0.5001 || rate > 0.99);
        if wells != figure("wells") || !near {
            found.push(format!("{name}: {area}: {words} where the table has {row:?}"));
        }
    }
    seen
}

/// Page and maps say what the tables say, and nothing of what they hide. That they tell no more in any other way, `moved_wells` shows.
#[test]
fn page_and_maps_tell_what_the_tables_tell() {
    let found: Vec<String> = (0..16)
        .into_par_iter()
        .flat_map_iter(|seed| {
            let survey = random::survey(seed, 5);
            let mut found = Vec::new();
            if light::run(&survey, Extent::All).is_err() {
                return found; // a survey without a result
            }
            let public = survey.path("out/public");
            let page = std::fs::read_to_string(public.join("report.html")).unwrap();
            let known = pairs(&public);
            let of: Vec<(u64, u64)> = told(&spoken(&page));
            assert!(of.len() > 5, "the page is read");
            let unknown = of.into_iter().filter(|pair| !known.contains(pair));
            found.extend(unknown.map(|pair| format!("page: {pair:?} is in no table")));
            let rates = survey::table(&public.join("tables/exceedance.csv"));
            let mut seen = 0;
            for (name, bytes) in survey::files(&public.join("maps")) {
                seen += map_of(&name, &String::from_utf8(bytes).unwrap(), &rates, &mut found);
            }
            assert!(seen > 1, "the maps are read");
            found.into_iter().map(|told| format!("survey {seed}: {told}")).collect()
        })
        .collect();
    assert!(found.is_empty(), "{found:#?}");
}
