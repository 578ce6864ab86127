//! The program as its user meets it: what it prints, where, and how it exits.
#![allow(clippy::print_stdout, reason = "what a system does not allow is told as skipped")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use std::path::Path;
use std::process::{Command, Output};
use survey::Survey;

fn wellreeve(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wellreeve")).args(arguments).output().unwrap()
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

const RESULTS: &str = r#"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", date = "Collected" }
"#;
const WELLS: &str = "well,lon,lat\nA1,-93.7,43\nA2,-93.4,43\n";
const LAB: &str = "Site,Parameter,Result,Units,Collected\n\
                   A1,Arsenic,12,ug/L,2020-01-05\nA1,Arsenic,<1,ug/L,2019-01-05\nA2,Arsenic,see note,ug/L,2020-01-05\n";

fn small() -> Survey {
    Survey::new(RESULTS, &[("wells.csv", WELLS), ("lab.csv", LAB)])
}

#[test]
fn check_prints_the_accounting_and_writes_nothing() {
    let survey = small();
    let before = survey::files(survey.home.path());
    let output = wellreeve(&["check", survey.path("plan.toml").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    for line in ["read", "unreadable-value", "repeat", "used"] {
        assert!(text.contains(line), "{text}");
    }
    assert_eq!(before, survey::files(survey.home.path()));
}

#[test]
fn a_quality_limit_that_is_passed_ends_with_status_1() {
    let survey = small();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    survey.write("plan.toml", &format!("{plan}\n[quality]\nmost_set_aside = 0.1\n"));
    let output =
        wellreeve(&["run", survey.path("plan.toml").to_str().unwrap(), "--out", survey.path("out").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(survey.path("out/public/report.html").exists());
}

#[test]
fn every_missing_column_is_told_at_once_with_the_nearest() {
    let survey = small();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let wrong =
        plan.replace("value = \"Result\"", "value = \"Reslt\"").replace("date = \"Collected\"", "date = \"Day\"");
    survey.write("plan.toml", &wrong.replace("[survey]", "[survey]\nworking_csr = \"EPSG:32615\""));
    let output =
        wellreeve(&["run", survey.path("plan.toml").to_str().unwrap(), "--out", survey.path("out").to_str().unwrap()]);
    let text = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{text}");
    for part in [
        "working_csr",
        "working_crs",
        "\"Reslt\"",
        "perhaps \"Result\"",
        "\"Day\"",
        "results[1].columns.value",
        "lab.csv, line 1",
    ] {
        assert!(text.contains(part), "{part} in\n{text}");
    }
    assert!(!survey.path("out").exists());
}

#[test]
fn an_unknown_coordinate_system_and_a_missing_file_are_told() {
    let survey = small();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    survey.write("plan.toml", &plan.replace("EPSG:4326", "EPSG:999999").replace("lab.csv", "lost.csv"));
    let output = wellreeve(&["check", survey.path("plan.toml").to_str().unwrap()]);
    let text = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{text}");
    assert!(text.contains("lost.csv") && text.contains("results[1].files"), "{text}");
    survey.write("plan.toml", &plan.replace("EPSG:4326", "EPSG:999999"));
    let text = stderr(&wellreeve(&["check", survey.path("plan.toml").to_str().unwrap()]));
    assert!(text.contains("999999") && text.contains("wells[1].crs"), "{text}");
}

#[test]
fn a_folder_with_other_files_is_left_alone() {
    let survey = small();
    survey.write("out/mine.txt", "keep me");
    let output =
        wellreeve(&["run", survey.path("plan.toml").to_str().unwrap(), "--out", survey.path("out").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("mine.txt"));
    assert_eq!(survey::files(&survey.path("out")).len(), 1);
}

/// `/dev/full` is a disk without room (Linux); a pipe that is closed is the reader's choice.
#[test]
fn an_answer_that_cannot_be_written_is_told() {
    let survey = small();
    let plan = survey.path("plan.toml");
    let answers = [
        &["check", plan.to_str().unwrap()][..],
        &["terms", "units"],
        &["completions", "bash"],
        &["--help"],
        &["run", "--help"],
        &["--version"],
    ];
    for arguments in answers {
        let run = |end: &str| {
            let script = format!("{} {} {end}", env!("CARGO_BIN_EXE_wellreeve"), arguments.join(" "));
            Command::new("sh").args(["-c", &script]).output().unwrap()
        };
        let full = run("> /dev/full");
        assert_eq!(full.status.code(), Some(2), "{arguments:?}");
        assert!(stderr(&full).contains("the answer cannot be written: No space left on device"), "{arguments:?}");
        let closed = run("| true; exit 0");
        assert_eq!((closed.status.code(), stderr(&closed).contains("cannot be written")), (Some(0), false));
    }
}

/// Names from a file are repeated on the screen, and pasted into plans: they must not act on either.
#[test]
fn what_a_file_says_does_not_act_on_the_screen() {
    let survey = small();
    survey.write("lab.csv", "Site,Parameter,Result,Units,Collected\nA1,Ars\u{1b}[2Jenic\u{202e},12,ug/L,2020-01-05\n");
    let output = wellreeve(&["check", survey.path("plan.toml").to_str().unwrap()]);
    let shown = stdout(&output) + &stderr(&output);
    assert!(shown.contains("Ars\\u001B[2Jenic\\u202E"), "{shown}");
    assert!(!shown.contains('\u{1b}') && !shown.contains('\u{202e}'), "{shown}");
}

#[test]
fn terms_answers_like_a_dictionary() {
    let text = stdout(&wellreeve(&["terms", "analytes", "arsenic"]));
    assert!(text.contains("7440-38-2") && text.contains("ug/L"), "{text}");
    let text = stdout(&wellreeve(&["terms", "reasons", "basis-missing"]));
    assert!(text.contains("basis"), "{text}");
}

#[test]
fn trace_shows_every_line_of_a_well_and_its_fate() {
    let survey = small();
    survey.run();
    let out = survey.path("out");
    let text = stdout(&wellreeve(&["trace", out.to_str().unwrap(), "--well", "A1"]));
    assert!(text.starts_with("A1: 2 of 2 results"), "{text}");
    assert!(text.contains("lab.csv, line 2") && text.contains("used:") && text.contains("set aside, repeat"), "{text}");
    assert!(text.contains("arsenic: not detected, at most 1 ug/L"), "{text}");
    let output = wellreeve(&["trace", out.to_str().unwrap(), "--well", "Z9"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("Z9"));
}

/// The answer hangs on the inputs alone: data files of another PROJ on the machine change nothing.
#[test]
fn the_machines_own_map_data_are_not_used() {
    let survey = small();
    survey.write("elsewhere/proj.db", "not a database");
    let status = Command::new(env!("CARGO_BIN_EXE_wellreeve"))
        .args(["check", survey.path("plan.toml").to_str().unwrap()])
        .env("PROJ_DATA", survey.path("elsewhere"))
        .env("PROJ_LIB", Path::new("/"))
        .output()
        .unwrap();
    assert_eq!(status.status.code(), Some(0), "{}", stderr(&status));
}

/// The program speaks to nobody: it works where there is no network at all, and where its calls can be watched (`strace`) it makes no
/// socket.
#[test]
fn no_network_is_asked_for() {
    let survey = small();
    let watched = survey.path("calls.txt");
    let ways: [(&str, &[&str]); 2] = [
        ("unshare", &["--user", "--map-root-user", "--net"]),
        ("strace", &["-f", "-e", "trace=network", "-o", watched.to_str().unwrap()]),
    ];
    for (tool, options) in ways {
        let start = |program: &str, arguments: &[&str]| {
            Command::new(tool).args(options).arg(program).args(arguments).current_dir(survey.home.path()).output()
        };
        if !start("true", &[]).is_ok_and(|output| output.status.success()) {
            println!("skipped: {tool} is not to be had, or not allowed");
            continue;
        }
        let output = start(env!("CARGO_BIN_EXE_wellreeve"), &["run", "plan.toml", "--out", "out"]).unwrap();
        assert_eq!(output.status.code(), Some(0), "{tool}: {}", stderr(&output));
    }
    let calls = std::fs::read_to_string(&watched).unwrap_or_default();
    let sockets: Vec<&str> =
        calls.lines().filter(|line| line.contains("socket(") || line.contains("connect(")).collect();
    assert!(sockets.is_empty(), "{sockets:?}");
}
