//! Output folders that may not or cannot be written: the old one stays whole, nothing half made is left, and it is said.

use super::base::{Spoilt, compare};
use std::fmt::Write;

fn run(s: &Spoilt, out: &str) -> String {
    s.told(&s.wellreeve(&["run", "plan.toml", "--quiet", "--out", out]))
}

#[test]
fn writing() {
    let mut text = String::new();
    let mut case = |what: &str, spoil: fn(&Spoilt), out: &str| {
        let s = Spoilt::new();
        spoil(&s);
        let before = s.names();
        let told = run(&s, out);
        assert_eq!(before, s.names(), "{what}");
        let _ = writeln!(text, "== {what}\n{told}");
    };
    case("out is a file", |s| s.write("out", "mine"), "out");
    case("out is below a file", |s| s.write("file", "mine"), "file/out");
    case("out is a link to nothing", |s| std::os::unix::fs::symlink("nowhere", s.path("out")).unwrap(), "out");
    case("out holds a stray file", |s| s.write("out/mine.txt", "mine"), "out");
    case("out holds a stray folder with files", |s| s.write("out/notes/a/b.txt", "mine"), "out");
    case(
        "out holds a pipe (FIFO) in the place of its list",
        |s| {
            std::fs::create_dir(s.path("out")).unwrap();
            let pipe = s.path("out/manifest.json");
            assert!(std::process::Command::new("mkfifo").arg(pipe).status().unwrap().success());
        },
        "out",
    );
    case("out is the plan's own folder", |_| {}, ".");
    case("out cannot be written at all", |_| {}, "/proc/out");
    case("out is a name of 250 letters", |_| {}, &"x".repeat(250));
    compare("writing", &text);
}

/// A stray file in the folder of an earlier run stops the next run, and both stay.
#[test]
fn a_stray_file_beside_an_earlier_run_stays() {
    let s = Spoilt::new();
    assert!(run(&s, "out").starts_with("exit status 0"));
    s.write("out/public/my-notes.txt", "mine");
    let before = s.read("out/manifest.json");
    let told = run(&s, "out");
    assert!(told.starts_with("exit status 2") && told.contains("public/my-notes.txt"), "{told}");
    assert_eq!(s.read("out/public/my-notes.txt"), b"mine");
    assert_eq!(s.read("out/manifest.json"), before);
}

/// Files may not grow beyond so many bytes (`ulimit -f`), as on a disk that fills up at one file after the other.
#[test]
fn a_write_that_fails_leaves_the_old_folder_whole() {
    let s = Spoilt::new();
    assert!(run(&s, "out").starts_with("exit status 0"));
    let (before, names) = (super::base::digest(&s.path("out")), s.names());
    for blocks in [0, 1, 2, 4, 8, 16, 32, 48] {
        let script =
            format!("ulimit -f {blocks}; exec {} run plan.toml --quiet --out out", env!("CARGO_BIN_EXE_wellreeve"));
        let output = std::process::Command::new("sh").args(["-c", &script]).current_dir(s.path("")).output().unwrap();
        let told = s.told(&output);
        assert!(told.starts_with("exit status 2") && told.contains("[out-unwritable]"), "{blocks}: {told}");
        assert!(told.to_lowercase().contains("file too large"), "{blocks}: {told}");
        assert_eq!((&before, &names), (&super::base::digest(&s.path("out")), &s.names()), "{blocks}");
    }
}
