//! Runs that are ended from outside at any moment: the old output stays whole, and the next run clears up and says so.

use super::base::{Spoilt, digest};
use std::io::{BufRead, BufReader, Write};
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

/// `KILLS` sets at how many moments each signal is tried. They are spread over a run's usual time, and a little beyond, as multiples of
/// the golden section are: no two near each other, and in no order.
#[test]
fn the_old_output_outlives_any_end() {
    let s = Spoilt::new();
    let started = Instant::now();
    assert!(run(&s).stderr(Stdio::null()).status().unwrap().success());
    let (usual, before) = (started.elapsed(), whole(&s));
    let moments: u32 = std::env::var("KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let (mut left, mut ended) = (0, 0);
    for (moment, signal) in (1..=moments).flat_map(|moment| ["-KILL", "-TERM"].map(|signal| (moment, signal))) {
        let mut child = run(&s).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(usual.mul_f64(1.1 * (f64::from(moment) * 0.618_033_988_75).fract()));
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
        ended += u32::from(!child.wait().unwrap().success());
        assert_eq!(before, whole(&s), "ended at moment {moment} with {signal}");
        assert!(leftovers(&s) <= 1, "moment {moment}: earlier leftovers were not swept");
        left += leftovers(&s);
    }
    println!("{} runs: {ended} ended by a signal, {left} with a folder begun", 2 * moments);
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

/// Asks a run to end as soon as it says that it is at a step, and holds it to its word, its status and a second's time.
fn ended_at(s: &Spoilt, step: &str, signal: &str, status: i32) {
    let mut child = run(s).stderr(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let reached = lines.by_ref().map(|line| line.unwrap()).any(|line| line.contains(step));
    assert!(reached, "the run never came to: {step}");
    std::thread::sleep(Duration::from_millis(20));
    assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
    let asked = Instant::now();
    let code = child.wait().unwrap().code();
    let took = asked.elapsed();
    let told: Vec<String> = lines.map(|line| line.unwrap()).collect();
    assert_eq!(code, Some(status), "{step}, {signal}: {told:?}");
    assert!(
        told.last().is_some_and(|last| last.contains("Stopped: nothing was written")),
        "{step}, {signal}: {told:?}"
    );
    assert!(took < Duration::from_secs(1), "{step}, {signal}: {took:?}");
    assert!(!s.path("out").exists(), "{step}");
    println!("{step}: {signal} ended it after {} ms", took.as_millis());
}

const ENDS: [(&str, i32); 2] = [("-INT", 130), ("-TERM", 143)];

/// Ctrl-C and the system's own request to end, while a large packed file is read.
#[test]
fn a_signal_ends_the_reading_at_once_with_a_word() {
    let s = Spoilt::new();
    let rows: String = (0..400_000).map(|n| format!("A{},Arsenic,{n},ug/L,1,2020-01-05\n", n % 3 + 1)).collect();
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    write!(packed, "Site,Parameter,Result,Units,RL,Collected\n{rows}").unwrap();
    s.write("lab.csv", packed.finish().unwrap());
    for (signal, status) in ENDS {
        ended_at(&s, "Reading the results", signal, status);
    }
}

/// The same in the midst of the resampling.
#[test]
fn a_signal_ends_the_summaries_at_once_with_a_word() {
    let s = Spoilt::new();
    many_wells(&s, 400);
    s.plan("resamples = 100", "resamples = 1000000");
    for (signal, status) in ENDS {
        ended_at(&s, "Summarising", signal, status);
    }
}

/// The same while tables are written and maps are drawn, of many areas.
#[test]
fn a_signal_ends_the_writing_at_once_with_a_word() {
    let s = Spoilt::new();
    many_wells(&s, 1500);
    let areas = "files = [\"areas.geojson\"]\nid = \"code\"\nname = \"label\"";
    s.plan(areas, "grid = { kind = \"square\", size_m = 2000 }");
    for (signal, status) in ENDS {
        ended_at(&s, "Writing tables", signal, status);
    }
}

fn many_wells(s: &Spoilt, count: u32) {
    let place =
        |n: u32| (-93.9 + 0.8 * (f64::from(n) * 0.618_034).fract(), 42.85 + 0.3 * f64::from(n) / f64::from(count));
    let wells: String = (0..count).map(|n| format!("W{n},{},{}\n", place(n).0, place(n).1)).collect();
    s.write("wells.csv", format!("well,lon,lat\n{wells}"));
    let rows: String = (0..count)
        .map(|n| format!("W{n},Arsenic,{},ug/L,1,2020-01-05\nW{n},Lead,{},ug/L,1,2020-01-05\n", n % 37 + 1, n % 29 + 1))
        .collect();
    s.write("lab.csv", format!("Site,Parameter,Result,Units,RL,Collected\n{rows}"));
}
