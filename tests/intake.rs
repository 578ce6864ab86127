//! Any laboratory's file goes in, through the public stream: the same three results in every format, layout and
//! encoding; what cannot be read is named.
//!
//! Workbooks and Parquet are fixtures written by other programs (`intake/make_fixtures.py`); texts stand here.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;
use wellreeve::files::Inputs;
use wellreeve::intake::{self, Intake};
use wellreeve::plan::{self, Plan, TextOptions};
use wellreeve::problem::Problems;

#[path = "intake/faults.rs"]
mod faults;
#[path = "intake/formats.rs"]
mod formats;
#[path = "intake/layouts.rs"]
mod layouts;
#[path = "intake/readings.rs"]
mod readings;

/// The results that every fixture says, without their lines.
const SAME: &str = "W-1|Nitrate as N|2.5|mg/L||2019-02-03
W-1|Arsenic|<0.5|ug/L|U|2019-02-03
W-2|Arsenic|7.1|ug/L|J|2019-12-31";

/// The same as comma-separated text.
const CSV: &str = "Site,Parameter,Result,Units,Flag,Collected
W-1,Nitrate as N,2.5,mg/L,,2019-02-03
W-1,Arsenic,<0.5,ug/L,U,2019-02-03
W-2,Arsenic,7.1,ug/L,J,2019-12-31
";

const LONG: &str = r#"layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", qualifier = "Flag", date = "Collected" }
"#;

/// A survey's folder with one results file.
struct Lab {
    folder: tempfile::TempDir,
    plan: Plan,
    inputs: Inputs,
}

impl Lab {
    fn new(name: &str, bytes: impl AsRef<[u8]>, part: &str) -> Lab {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(name), bytes).unwrap();
        Lab::in_folder(folder, name, part)
    }

    fn in_folder(folder: tempfile::TempDir, name: &str, part: &str) -> Lab {
        fs::write(folder.path().join("wells.csv"), "Site,X,Y\nW-1,1,2\n").unwrap();
        let text = format!(
            "[survey]\ntitle = \"t\"\n[[results]]\nfiles = [\"{name}\"]\n{part}\n[[wells]]\nfiles = [\"wells.csv\"]\n\
             columns = {{ well = \"Site\", x = \"X\", y = \"Y\" }}\ncrs = \"EPSG:32615\"\n\
             [areas]\ngrid = {{ kind = \"square\", size_m = 5000 }}\n[benchmarks]\nsets = [\"us-mcl\"]\n"
        );
        fs::write(folder.path().join("plan.toml"), text).unwrap();
        let loaded = plan::load(&folder.path().join("plan.toml"));
        assert_eq!(loaded.problems, Problems::default());
        Lab { folder, plan: loaded.plan.unwrap(), inputs: Inputs::default() }
    }

    fn open(&self) -> Result<Intake, Problems> {
        intake::open(&self.plan, &self.inputs)
    }

    /// Every result as `line|well|analyte|value|unit|qualifier|date`.
    fn results(&self) -> Vec<String> {
        let mut intake = self.open().unwrap_or_else(|problems| panic!("{problems}"));
        let mut list = Vec::new();
        while let Some(block) = intake.next_block().unwrap_or_else(|problem| panic!("{problem}")) {
            let walked = block.each_result(|line, cell| {
                let texts = [line.well, cell.analyte, cell.value, cell.unit, cell.qualifier, line.date];
                list.push(format!("{}|{}", line.line, texts.join("|")));
            });
            walked.unwrap();
        }
        list
    }

    /// The first problem, wherever it shows.
    fn problem(&self) -> wellreeve::problem::Problem {
        let mut intake = match self.open() {
            Ok(intake) => intake,
            Err(problems) => return problems.0[0].clone(),
        };
        loop {
            match intake.next_block() {
                Ok(Some(_)) => {}
                Ok(None) => panic!("no problem"),
                Err(problem) => return problem,
            }
        }
    }
}

/// Results without their lines, a line each.
fn said(results: &[String]) -> String {
    results.iter().map(|text| text.split_once('|').unwrap().1).collect::<Vec<_>>().join("\n")
}

/// The lines of results.
fn lines(results: &[String]) -> Vec<u64> {
    results.iter().map(|text| text.split_once('|').unwrap().0.parse().unwrap()).collect()
}

fn fixture(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/intake").join(name)).unwrap()
}
