//! Runs that are ended from outside at any moment: the old output stays whole, and the next run clears up and says so.

use super::base::{Spoilt, digest};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn run(s: &Spoilt) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wellreeve"));
    command.args(["run", "plan.toml", "--out", "out"]).current_dir(s.path("")).stdout(Stdio::null());
    command
}

/// The output's files, without the manifest's one clock reading.
fn whole(s: &Spoilt) -> Vec<(std::path::PathBuf, String)> {
    let without_clock = |bytes: Vec<u8>| {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        text.lines().filter(|line| !line.contains("started_at")).collect::<Vec<_>>().join("\n")
    };
    digest(&s.path("out")).into_iter().map(|(path, bytes)| (path, without_clock(bytes))).collect()
}

fn leftovers(s: &Spoilt) -> usize {
    s.names().iter().filter(|name| name.contains("-being-written-")).count()
}

/// `KILLS` sets how many moments are tried.
#[test]
fn the_old_output_outlives_any_end() {
    let s = Spoilt::new();
    let started = Instant::now();
    assert!(run(&s).stderr(Stdio::null()).status().unwrap().success());
    let (usual, before) = (started.elapsed(), whole(&s));
    let moments: u32 = std::env::var("KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let mut left = 0;
    for moment in 0..moments {
        let mut child = run(&s).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(usual.mul_f64(f64::from(moment) / f64::from(moments)));
        let signal = ["-KILL", "-TERM", "-INT"][moment as usize % 3];
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
        child.wait().unwrap();
        assert_eq!(before, whole(&s), "ended at moment {moment} with {signal}");
        assert!(leftovers(&s) <= 1, "moment {moment}: earlier leftovers were not swept");
        left += leftovers(&s);
    }
    assert!(left > 0, "no run was ended in the midst of its work");
    let output = run(&s).output().unwrap();
    assert!(output.status.success());
    assert_eq!((before, leftovers(&s)), (whole(&s), 0));
}

#[test]
fn what_is_left_is_cleared_and_told() {
    let s = Spoilt::new();
    s.write(".out-being-written-abc123/public/half.csv", "half");
    let output = run(&s).output().unwrap();
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains(".out-being-written-abc123, left by a run that was ended"), "{told}");
    assert_eq!(leftovers(&s), 0);
}

/// Ctrl-C and the system's own request to end.
#[test]
fn a_signal_ends_the_run_at_once_with_a_word() {
    for (signal, status) in [("-INT", 130), ("-TERM", 143)] {
        let s = Spoilt::new();
        let rows: String = (0..400_000).map(|n| format!("A{},Arsenic,{n},ug/L,1,2020-01-05\n", n % 3 + 1)).collect();
        s.write("lab.csv", format!("Site,Parameter,Result,Units,RL,Collected\n{rows}"));
        let child = run(&s).stderr(Stdio::piped()).spawn().unwrap();
        while leftovers(&s) == 0 {
            std::thread::sleep(Duration::from_millis(2));
        }
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
        let asked = Instant::now();
        let output = child.wait_with_output().unwrap();
        assert!(asked.elapsed() < Duration::from_secs(1), "{signal}: {:?}", asked.elapsed());
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(status), "{signal}: {told}");
        assert!(told.contains("Stopped: nothing was written"), "{signal}: {told}");
        assert!(!s.path("out").exists());
    }
}
