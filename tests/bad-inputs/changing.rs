//! Inputs and output folders that change while a run is at work. The library is called step by step, so that the change falls
//! at a known moment.

use super::base::{LAB, Spoilt, compare, digest};
use std::fmt::Write;
use wellreeve::per_well::Keep;
use wellreeve::progress::{Mode, Progress};
use wellreeve::{place, publish, survey};

/// What the second half says when a file changes after the plan and the headers were read.
fn after_headers(s: &Spoilt, change: impl Fn(&Spoilt)) -> String {
    let job = survey::prepare(&s.path("plan.toml")).unwrap();
    let wells = place::wells(&job.plan, &job.inputs).unwrap();
    change(s);
    let told = match survey::read(&job, &wells, Keep::Nothing, &Progress::new(Mode::Quiet)) {
        Ok(survey) => format!("{} results read\n", survey.accounting.read()),
        Err(problems) => format!("{problems}\n"),
    };
    told.replace(&*s.path("").to_string_lossy(), "")
}

#[test]
fn inputs_that_change_during_a_run() {
    let mut text = String::new();
    let mut case = |what: &str, change: fn(&Spoilt)| {
        let s = Spoilt::new();
        let _ = writeln!(text, "== {what}\n{}", after_headers(&s, change));
    };
    case("a results file vanishes after its header was read", |s| s.remove("lab.csv"));
    case("a results file grows after its header was read", |s| {
        s.write("lab.csv", format!("{LAB}A1,Lead,3,ug/L,1,2020-01-07\n"));
    });
    case("a results file is cut to its header", |s| s.write("lab.csv", LAB.lines().next().unwrap()));
    case("a results file becomes a folder", |s| {
        s.remove("lab.csv");
        std::fs::create_dir(s.path("lab.csv")).unwrap();
    });
    case("a results file gets other columns", |s| s.edit("lab.csv", "Result", "Amount"));
    compare("changing", &text);
}

/// The folder being filled is taken away: an error, no panic, and the old output whole.
#[test]
fn a_folder_removed_midway_is_told() {
    let s = Spoilt::new();
    s.write("out/manifest.json", r#"{"outputs":{}}"#);
    let before = digest(&s.path("out"));
    let stage = publish::Stage::new(&s.path("out")).unwrap();
    stage.write("public/a.csv", b"a\n", None).unwrap();
    let begun = s.names().into_iter().find(|name| name.contains("-being-written-")).unwrap();
    std::fs::remove_dir_all(s.path(&begun)).unwrap();
    assert!(stage.finish().is_err_and(|problems| problems.to_string().contains("[out-unwritable]")));
    assert_eq!(before, digest(&s.path("out")));
}

/// What is written after that makes the folder anew, with half of the files: that is no output.
#[test]
fn a_folder_removed_midway_and_made_anew_is_no_output() {
    let s = Spoilt::new();
    let stage = publish::Stage::new(&s.path("out")).unwrap();
    stage.write("public/a.csv", b"a\n", None).unwrap();
    let begun = s.names().into_iter().find(|name| name.contains("-being-written-")).unwrap();
    std::fs::remove_dir_all(s.path(&begun)).unwrap();
    stage.write("public/b.csv", b"b\n", None).unwrap();
    let told = stage.finish().unwrap_err().to_string();
    assert!(told.contains("out/public/a.csv: it was removed while the run was at work"), "{told}");
    assert!(!s.path("out").exists() && !s.path(&begun).exists());
}

/// The old output, or the folder that it stands in, is taken away during the run.
#[test]
fn an_output_removed_midway_is_made_anew() {
    let s = Spoilt::new();
    s.write("out/manifest.json", r#"{"outputs":{}}"#);
    let stage = publish::Stage::new(&s.path("out")).unwrap();
    stage.write("public/a.csv", b"a\n", None).unwrap();
    std::fs::remove_dir_all(s.path("out")).unwrap();
    drop(stage.finish().unwrap());
    assert_eq!(s.read("out/public/a.csv"), b"a\n");
    let stage = publish::Stage::new(&s.path("in/out")).unwrap();
    stage.write("public/a.csv", b"a\n", None).unwrap();
    std::fs::remove_dir_all(s.path("in")).unwrap();
    assert!(stage.finish().is_err_and(|problems| problems.to_string().contains("[out-unwritable]")));
    assert!(!s.path("in").exists());
}

/// A stray file that arrives during the run stops the swap; it is never deleted.
#[test]
fn a_stray_file_that_arrives_midway_stays() {
    let s = Spoilt::new();
    s.write("out/manifest.json", r#"{"outputs":{}}"#);
    let stage = publish::Stage::new(&s.path("out")).unwrap();
    stage.write("public/a.csv", b"a\n", None).unwrap();
    s.write("out/mine.txt", "mine");
    assert!(stage.finish().is_err_and(|problems| problems.to_string().contains("mine.txt")));
    assert_eq!(s.read("out/mine.txt"), b"mine");
    assert!(!s.names().iter().any(|name| name.contains("-being-written-")));
}
