//! File systems of their own: one that is full, one that is read-only, one that is another than the plan's. They are mounted in a
//! name space of the test's own (`unshare`), where the system lets it; where it does not, that is printed, and what is left are the limits
//! on file size of `writing.rs` and the faulty disk of `tests/faults.rs`.

use super::base::Spoilt;
use std::process::{Command, Output};

/// Runs a script in which things may be mounted; `None` where the system does not allow that.
fn mounting(folder: &std::path::Path, script: &str) -> Option<Output> {
    let run = |script: &str| {
        let mut command = Command::new("unshare");
        command.args(["--user", "--map-root-user", "--mount", "sh", "-c", script]).current_dir(folder);
        command.env("PROGRAM", env!("CARGO_BIN_EXE_wellreeve")).env("TEST", std::env::current_exe().unwrap());
        command.output()
    };
    std::fs::create_dir_all(folder.join("trial")).unwrap();
    let possible = run("mount -t tmpfs tmpfs trial").is_ok_and(|output| output.status.success());
    if !possible {
        println!("skipped: this system lets nobody mount a file system in a name space of their own");
        return None;
    }
    Some(run(script).unwrap())
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// A disk on which ever more is free, and never enough: the old output stays, and nothing is left that takes room.
#[test]
fn a_full_disk_leaves_the_old_output_whole() {
    let s = Spoilt::new();
    let script = r#"
        mkdir small && mount -t tmpfs -o size=64m tmpfs small &&
        $PROGRAM run plan.toml --quiet --out small/out && cp -r small/out kept || exit 9
        used=$(df --output=used -k small | tail -1)
        for more in 0 4 100 300 500 700; do
            mount -o remount,size=$((used + more))k small || exit 8
            $PROGRAM run plan.toml --quiet --out small/out 2> told
            echo "$more: status $?, left $(ls -A small | tr '\n' ' ')"
            cat told
            diff -r small/out kept && echo "$more: whole"
        done
        mount -o remount,size=64m small
        $PROGRAM run plan.toml --quiet --out small/out && echo "at last: status $?, left $(ls -A small | tr '\n' ' ')"
    "#;
    let Some(output) = mounting(&s.path(""), script) else { return };
    let told = told(&output);
    assert!(output.status.success(), "{told}");
    for more in [0, 4, 100, 300, 500, 700] {
        assert!(told.contains(&format!("{more}: status 2, left out \n")), "{told}");
        assert!(told.contains(&format!("{more}: whole")), "{told}");
    }
    assert_eq!(told.matches("the disk is full").count(), 6, "{told}");
    assert!(told.contains("at last: status 0, left out"), "{told}");
}

/// Inputs on one file system, output on another.
#[test]
fn the_output_may_be_on_another_file_system() {
    let s = Spoilt::new();
    let script = r#"
        mkdir other && mount -t tmpfs tmpfs other || exit 9
        for round in 1 2; do
            $PROGRAM run plan.toml --quiet --out other/out; echo "round $round: status $?, left $(ls -A other | tr '\n' ' ')"
        done
        ln -s other/out link
        $PROGRAM run plan.toml --quiet --out link; echo "link: status $?, $(readlink link), $(ls other/out | tr '\n' ' ')"
        $PROGRAM run plan.toml --quiet --out other; echo "mount: status $?"
        mkdir other/empty && mount -t tmpfs tmpfs other/empty
        $PROGRAM run plan.toml --quiet --out other/empty; echo "empty mount: status $?"
        mount -o remount,ro other
        $PROGRAM run plan.toml --quiet --out other/out; echo "read-only: status $?, left $(ls -A other | tr '\n' ' ')"
    "#;
    let Some(output) = mounting(&s.path(""), script) else { return };
    let told = told(&output);
    for line in [
        "round 1: status 0, left out",
        "round 2: status 0, left out",
        "link: status 0, other/out, internal manifest.json public research",
        "mount: status 2",
        "empty mount: status 2",
        "a file system of its own begins here\n    name a folder in it, such as other/empty/out",
        "read-only: status 2, left empty out",
        "read-only filesystem",
    ] {
        assert!(told.to_lowercase().contains(&line.to_lowercase()), "{line} in\n{told}");
    }
}

/// Rows that wait on the disk, on one that is full.
#[test]
fn rows_that_find_no_room_are_told() {
    let s = Spoilt::new();
    let rows: String = (0..20_000).map(|n| format!("A{},Arsenic,{n},ug/L,1,2020-01-05\n", n % 3 + 1)).collect();
    s.write("lab.csv", format!("Site,Parameter,Result,Units,RL,Collected\n{rows}"));
    let script = r#"
        mkdir small && mount -t tmpfs -o size=100k tmpfs small || exit 9
        $TEST --exact mounts::the_reader_of_that_test --ignored --nocapture
    "#;
    let Some(output) = mounting(&s.path(""), script) else { return };
    let told = told(&output);
    assert!(told.contains("small: the disk is full") && told.contains("[rows-not-kept]"), "{told}");
}

/// Run by the test above, where `small` is full soon.
#[test]
#[ignore = "part of another test"]
fn the_reader_of_that_test() {
    use wellreeve::{per_well::Keep, place, progress, survey};
    let job = survey::prepare(std::path::Path::new("plan.toml")).unwrap();
    let wells = place::wells(&job.plan, &job.inputs).unwrap();
    let keep = Keep::Rows { in_memory: 0, folder: "small".into() };
    match survey::read(&job, &wells, keep, &progress::Progress::new(progress::Mode::Quiet)) {
        Ok(_) => println!("all rows found room"),
        Err(problems) => println!("{problems}"),
    }
}
