//! What may not be read or written. Permissions do not bind the system's administrator, so where the tests run as one the program runs
//! as nobody (user 65534, by `setpriv`).

use super::base::{Spoilt, compare, digest};
use std::fmt::Write;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const NOBODY: &str = "65534";

fn mode(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
}

/// The program where nobody may run it: the build folder may be the administrator's own.
fn program(s: &Spoilt) -> PathBuf {
    let copy = s.path("program");
    let from = env!("CARGO_BIN_EXE_wellreeve");
    if !copy.exists() && std::fs::hard_link(from, &copy).is_err() {
        std::fs::copy(from, &copy).unwrap();
    }
    copy
}

/// A survey that everybody may read, in a folder that everybody may write; `None` where the tests cannot give up their rights.
fn open_to_all() -> Option<(Spoilt, bool)> {
    let s = Spoilt::new();
    let administrator = s.path("").metadata().unwrap().uid() == 0;
    if administrator {
        let can = Command::new("setpriv").args(["--reuid", NOBODY, "--clear-groups", "true"]).status();
        if !can.is_ok_and(|status| status.success()) {
            println!("skipped: the tests run as administrator, and setpriv is not to be had");
            return None;
        }
    }
    mode(&s.path(""), 0o777);
    Some((s, administrator))
}

fn run(s: &Spoilt, administrator: bool, arguments: &[&str]) -> Output {
    let mut command = if administrator {
        let mut command = Command::new("setpriv");
        command.args(["--reuid", NOBODY, "--clear-groups"]).arg(program(s));
        command
    } else {
        Command::new(program(s))
    };
    command.args(arguments).current_dir(s.path("")).output().unwrap()
}

/// A name, what is done to the survey, what the program is told to do.
type Case = (&'static str, fn(&Spoilt), &'static [&'static str]);

#[test]
fn permissions() {
    let mut text = String::new();
    let mut case = |what: &str, spoil: fn(&Spoilt), arguments: &[&str]| {
        let Some((s, administrator)) = open_to_all() else { return false };
        program(&s);
        spoil(&s);
        let names = s.names();
        let told = s.told(&run(&s, administrator, arguments));
        assert_eq!(names, s.names(), "{what}");
        let _ = writeln!(text, "== {what}\n{told}");
        true
    };
    let (check, into): (&[&str], &[&str]) =
        (&["check", "plan.toml"], &["run", "plan.toml", "--quiet", "--out", "place/out"]);
    let cases: [Case; 9] = [
        ("a plan that may not be read", |s| mode(&s.path("plan.toml"), 0), check),
        ("a results file that may not be read", |s| mode(&s.path("lab.csv"), 0), check),
        ("a wells file that may not be read", |s| mode(&s.path("wells.csv"), 0), check),
        ("an area layer that may not be read", |s| mode(&s.path("areas.geojson"), 0), check),
        (
            "a folder of results that may not be looked into",
            |s| {
                s.write("labs/lab.csv", super::base::LAB);
                s.plan("lab.csv", "labs/*.csv");
                mode(&s.path("labs"), 0);
            },
            check,
        ),
        (
            "a place that may not be written to",
            |s| {
                s.write("place/other", "mine");
                mode(&s.path("place"), 0o555);
            },
            into,
        ),
        (
            "an old output in a place that may not be written to",
            |s| {
                s.write("place/out/manifest.json", "{\"outputs\":{}}");
                mode(&s.path("place"), 0o555);
            },
            into,
        ),
        (
            "an old output with a folder that cannot be looked into",
            |s| {
                s.write("place/out/manifest.json", "{\"outputs\":{}}");
                s.write("place/out/mine/letter.txt", "mine");
                mode(&s.path("place/out/mine"), 0);
                mode(&s.path("place"), 0o777);
            },
            into,
        ),
        (
            "a draft into a place that may not be written to",
            |s| {
                s.write("place/other", "mine");
                mode(&s.path("place"), 0o555);
            },
            &["draft", "lab.csv", "wells.csv", "areas.geojson", "--out", "place"],
        ),
    ];
    if cases.into_iter().all(|(what, spoil, arguments)| case(what, spoil, arguments)) {
        compare("permissions", &text);
    }
}

/// Nobody's run replaces nobody's output, and leaves the folder of another who may not be written to.
#[test]
fn an_output_that_belongs_to_another_stays() {
    let Some((s, administrator)) = open_to_all() else { return };
    if !administrator {
        println!("skipped: only the administrator can make files of another");
        return;
    }
    let arguments = ["run", "plan.toml", "--quiet", "--out", "place/out"];
    s.write("place/out/manifest.json", "{\"outputs\":{}}");
    mode(&s.path("place"), 0o1777); // as /tmp: whoever may write, but nobody may rename what is another's
    let before = digest(&s.path("place/out"));
    let told = s.told(&run(&s, administrator, &arguments));
    assert!(told.starts_with("exit status 2") && told.contains("no permission to write here"), "{told}");
    assert_eq!(before, digest(&s.path("place/out")));
    assert_eq!(std::fs::read_dir(s.path("place")).unwrap().count(), 1, "something is left");
}
