//! The sound survey that each case spoils, and the walk over the cases.

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const PLAN: &str = r#"[survey]
title = "Spoilt survey"

[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", limit = "RL", date = "Collected" }

[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"

[areas]
files = ["areas.geojson"]
id = "code"
name = "label"

[benchmarks]
sets = ["us-mcl"]

[summary]
resamples = 100
"#;
const AREAS: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"code":"W","label":"West"},"geometry":{"type":"Polygon","coordinates":[[[-94,42.8],[-93.5,42.8],[-93.5,43.2],[-94,43.2],[-94,42.8]]]}},
{"type":"Feature","properties":{"code":"E","label":"East"},"geometry":{"type":"Polygon","coordinates":[[[-93.5,42.8],[-93,42.8],[-93,43.2],[-93.5,43.2],[-93.5,42.8]]]}}]}
"#;
pub const LAB: &str = "Site,Parameter,Result,Units,RL,Collected\n\
    A1,Arsenic,12,ug/L,1,2020-01-05\nA2,Arsenic,<1,ug/L,1,2020-01-05\nA3,Nitrate,4.1,mg/L as N,0.1,2020-01-06\n";
pub const WELLS: &str = "well,lon,lat\nA1,-93.7,43\nA2,-93.4,43\nA3,-93.3,42.9\n";

/// One case: what is wrong, in words, and how to make it so.
pub type Case = (&'static str, fn(&Spoilt));

/// A sound survey in a folder of its own, to be spoilt.
pub struct Spoilt {
    home: tempfile::TempDir,
}

impl Spoilt {
    pub fn new() -> Spoilt {
        let spoilt = Spoilt { home: tempfile::tempdir().unwrap() };
        for (name, text) in [("plan.toml", PLAN), ("areas.geojson", AREAS), ("lab.csv", LAB), ("wells.csv", WELLS)] {
            spoilt.write(name, text);
        }
        spoilt
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    pub fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap()
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        std::fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        std::fs::write(self.path(name), bytes).unwrap();
    }

    pub fn remove(&self, name: &str) {
        std::fs::remove_file(self.path(name)).unwrap();
    }

    /// Replaces a text that must be there.
    pub fn edit(&self, name: &str, from: &str, to: &str) {
        let text = String::from_utf8(self.read(name)).unwrap();
        assert!(text.contains(from), "{name} does not hold {from}");
        self.write(name, text.replace(from, to));
    }

    /// Edits the plan.
    pub fn plan(&self, from: &str, to: &str) {
        self.edit("plan.toml", from, to);
    }

    /// Adds to the plan's end.
    pub fn add(&self, text: &str) {
        let plan = String::from_utf8(self.read("plan.toml")).unwrap();
        self.write("plan.toml", plan + "\n" + text + "\n");
    }

    /// Copies a sound file that tests elsewhere use.
    pub fn copy(&self, fixture: &str, name: &str) {
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(fixture);
        self.write(name, std::fs::read(from).unwrap());
    }

    /// Runs the program in the survey's folder.
    pub fn wellreeve(&self, arguments: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_wellreeve"));
        command.args(arguments).current_dir(self.home.path()).output().unwrap()
    }

    /// Names in the survey's folder.
    pub fn names(&self) -> BTreeSet<String> {
        let entries = std::fs::read_dir(self.home.path()).unwrap();
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect()
    }

    /// What a user sees: exit status and the words on both outputs, without times and temporary names.
    pub fn told(&self, output: &Output) -> String {
        let mut text = format!("exit status {}\n", output.status.code().map_or("none".to_owned(), |n| n.to_string()));
        for bytes in [&output.stdout, &output.stderr] {
            let words = String::from_utf8_lossy(bytes).replace(&*self.home.path().to_string_lossy(), "HOME");
            // The clock's day, which is told and in no file.
            let words = words.split_once("clock is at most ").map_or(words.clone(), |(before, after)| {
                format!("{before}clock is at most TODAY{}", after.get(10..).unwrap_or_default())
            });
            let words = masked(&words, "-being-written-");
            for line in words.lines().filter(|line| !is_progress(line)) {
                let _ = writeln!(text, "{}", line.trim_end());
            }
        }
        text
    }
}

/// The text with `XXXXXX` for the six letters that a temporary name ends in, after each `mark`.
fn masked(text: &str, mark: &str) -> String {
    let mut parts = text.split(mark);
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |text, part| text + mark + "XXXXXX" + part.get(6..).unwrap_or_default())
}

/// A line such as `   0.1 s  Placing the wells`.
fn is_progress(line: &str) -> bool {
    line.trim_start().split_once(" s  ").is_some_and(|(seconds, _)| seconds.parse::<f64>().is_ok())
}

pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-inputs")
}

/// Makes every case, and compares the words with the file of that name.
pub fn walk(name: &str, cases: &[Case]) {
    compare(name, &cases.iter().map(|(what, spoil)| format!("== {what}\n{}\n", one(what, *spoil))).collect::<String>());
}

/// Compares a text with its file, or writes the file where asked.
pub fn compare(name: &str, found: &str) {
    let path = folder().join(name).with_extension("txt");
    if std::env::var_os("WELLREEVE_BLESS").is_some() {
        std::fs::write(&path, found).unwrap();
        return;
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_default();
    for (found, wanted) in found.split("== ").zip(wanted.split("== ")) {
        assert_eq!(found, wanted, "{} (WELLREEVE_BLESS=1 writes it anew)", path.display());
    }
    assert_eq!(found.matches("== ").count(), wanted.matches("== ").count(), "cases of {}", path.display());
}

fn one(what: &str, spoil: fn(&Spoilt)) -> String {
    let spoilt = Spoilt::new();
    spoil(&spoilt);
    let before = spoilt.names();
    let check = spoilt.wellreeve(&["check", "plan.toml"]);
    assert!(check.status.code().is_some(), "{what}: ended by a signal");
    assert_eq!(before, spoilt.names(), "{what}: check wrote something");
    let text = spoilt.told(&check);
    let run = spoilt.wellreeve(&["run", "plan.toml", "--out", "out", "--quiet"]);
    if check.status.code() == Some(2) {
        assert_eq!(text, spoilt.told(&run), "{what}: run tells something else than check");
        assert_eq!(before, spoilt.names(), "{what}: run left something");
        return text;
    }
    if run.status.code() == Some(2) {
        assert_eq!(before, spoilt.names(), "{what}: run left something");
        return format!("{text}-- then run:\n{}", spoilt.told(&run));
    }
    assert!(spoilt.path("out/manifest.json").exists(), "{what}");
    assert_eq!(run.status.code(), check.status.code(), "{what}: {}", spoilt.told(&run));
    text
}

/// Every file under a folder with its bytes.
pub fn digest(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { folders.push(path) } else { found.push((path.clone(), std::fs::read(&path).unwrap())) }
        }
    }
    found.sort();
    found
}
