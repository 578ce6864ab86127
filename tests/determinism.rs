//! The same bytes whatever the threads, the language, the time zone, the working folder, the umask, the order in which files are listed
//! and the order of rows.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use survey::{Survey, files};

const RESULTS: &str = r#"
[[results]]
files = ["labs/*.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", date = "Collected" }
[benchmarks]
sets = ["us-mcl"]
"#;
const HEAD: &str = "Site,Parameter,Result,Units,Collected\n";

/// Rows of 60 wells, two analytes, no two of a well and analyte on one day.
fn rows() -> Vec<String> {
    let well = |n: u32| {
        let (arsenic, mark) = (1 + (n * 37) % 23, if n.is_multiple_of(4) { "<" } else { "" });
        let day = |shift: u32| format!("20{:02}-{:02}-{:02}", 10 + (n + shift) % 12, 1 + n % 12, 1 + (n * 7) % 28);
        [
            format!("W{n},Arsenic,{mark}{arsenic},ug/L,{}\n", day(0)),
            format!("W{n},Arsenic,{},ug/L,{}\n", arsenic + 1, day(5)),
            format!("W{n},Nitrate,{}.{},mg/L as N,{}\n", n % 14, n % 10, day(0)),
            format!("W{n},Lead,see note,ug/L,{}{}\n", day(0), if n == 7 { ",a cell too many" } else { "" }),
        ]
    };
    (0..60).flat_map(well).collect()
}

fn small(rows: &[String]) -> Survey {
    let wells: String = (0..60)
        .map(|n| format!("W{n},{},{}\n", -93.95 + 0.9 * f64::from(n) / 60.0, 42.85 + 0.3 * f64::from(n % 7) / 7.0))
        .collect();
    let (first, second) = rows.split_at(rows.len() / 2);
    let [first, second] = [first, second].map(|part| format!("{HEAD}{}", part.concat()));
    let wells = format!("well,lon,lat\n{wells}");
    Survey::new(RESULTS, &[("wells.csv", &wells), ("labs/a.csv", &first), ("labs/b.csv", &second)])
}

/// The output's bytes, the manifest without its one clock reading.
fn bytes(out: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = files(out);
    let manifest = String::from_utf8(all.remove("manifest.json").unwrap()).unwrap();
    let clockless: Vec<&str> = manifest.lines().filter(|line| !line.contains("started_at")).collect();
    all.insert("manifest.json".to_owned(), clockless.join("\n").into_bytes());
    all
}

fn same(wanted: &BTreeMap<String, Vec<u8>>, found: &BTreeMap<String, Vec<u8>>, what: &str) {
    assert_eq!(wanted.keys().collect::<Vec<_>>(), found.keys().collect::<Vec<_>>(), "{what}");
    for (name, bytes) in wanted {
        assert!(*bytes == found[name], "{what}: {name} differs");
    }
}

/// Runs the survey as a shell would, with something set up before.
fn run(survey: &Survey, before: &str, folder: &str, plan: &str, rest: &str) -> BTreeMap<String, Vec<u8>> {
    let out = survey.path("out");
    let _ = std::fs::remove_dir_all(&out);
    let program = env!("CARGO_BIN_EXE_wellreeve");
    let script = format!("{before} exec '{program}' run '{plan}' --quiet --out '{}' {rest}", out.display());
    let status = Command::new("sh").args(["-c", &script]).current_dir(survey.path(folder)).status().unwrap();
    assert!(status.success(), "{script}");
    bytes(&out)
}

#[test]
fn surroundings_do_not_show() {
    let survey = small(&rows());
    let wanted = run(&survey, "", "", "plan.toml", "--threads 1");
    assert!(wanted.len() > 30);
    let plan = survey.path("plan.toml").to_string_lossy().into_owned();
    for (what, before, folder, plan, rest) in [
        ("two threads", "", "", "plan.toml", "--threads 2"),
        ("eight threads", "", "", "plan.toml", "--threads 8"),
        ("another language", "LC_ALL=de_DE.UTF-8 LANG=tr_TR.UTF-8", "", "plan.toml", ""),
        ("another time zone", "TZ=Pacific/Kiritimati", "", "plan.toml", ""),
        ("another working folder, plan below", "", "labs", "../plan.toml", ""),
        ("another working folder, whole path", "cd /;", "", &plan, ""),
        ("another umask", "umask 077;", "", "plan.toml", ""),
        ("no home", "unset HOME;", "", "plan.toml", ""),
    ] {
        same(&wanted, &run(&survey, before, folder, plan, rest), what);
    }
}

/// Line numbers and the order of the list of rows follow the file; every table and picture does not.
#[test]
fn the_order_of_rows_does_not_show_in_figures() {
    let sorted = rows();
    let mut shuffled = sorted.clone();
    let mut state = 12_345_u64;
    for at in (1..shuffled.len()).rev() {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        shuffled.swap(at, (state >> 33) as usize % (at + 1));
    }
    assert_ne!(sorted, shuffled);
    let [wanted, found] = [sorted, shuffled].map(|rows| {
        let mut all = run(&small(&rows), "", "", "plan.toml", "");
        all.retain(|name, _| {
            !["manifest.json", "internal/results.parquet", "internal/set-aside.csv"].contains(&&**name)
        });
        all
    });
    same(&wanted, &found, "shuffled rows");
}

/// A pattern's files come in the order of their names, whatever order the file system lists them in. In a folder of memory
/// (`/dev/shm`, where there is one) the newest is listed first, so that the two folders are listed in opposite orders.
#[test]
fn the_order_of_listing_does_not_show() {
    let shared = Path::new("/dev/shm");
    let parts: Vec<(String, String)> = (0..12)
        .zip(rows().chunks(20))
        .map(|(n, rows)| (format!("labs/{n:02}.csv"), format!("{HEAD}{}", rows.concat())))
        .collect();
    let listed = |survey: &Survey| -> Vec<_> {
        std::fs::read_dir(survey.path("labs")).unwrap().map(|entry| entry.unwrap().file_name()).collect()
    };
    let [one, other] = [false, true].map(|turned| {
        let mut survey = small(&rows());
        if shared.is_dir() {
            survey.home = tempfile::tempdir_in(shared).unwrap();
            let sound = small(&rows());
            for name in ["plan.toml", "wells.csv", "areas.geojson"] {
                survey.write(name, &std::fs::read_to_string(sound.path(name)).unwrap());
            }
        } else {
            std::fs::remove_dir_all(survey.path("labs")).unwrap();
        }
        let in_turn: Vec<_> = if turned { parts.iter().rev().collect() } else { parts.iter().collect() };
        in_turn.into_iter().for_each(|(name, text)| survey.write(name, text));
        survey
    });
    if shared.is_dir() {
        assert_ne!(listed(&one), listed(&other), "the file system lists both in one order: nothing was tried");
    }
    let [wanted, found] = [one, other].map(|survey| run(&survey, "", "", "plan.toml", ""));
    same(&wanted, &found, "order of listing");
}
