//! Drafts that run: the plans of the ten sample surveys go through the first half of the job as they stand.
//!
//! Ten surveys of invention lie under `draft/`; the townships are the demo's. That a plan is understood is not enough:
//! its results have to be read, its wells placed, and some of the rows used.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use wellreeve::draft::{draft, write};
use wellreeve::progress::{Mode, Progress};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const LEAST: usize = 8;

fn listed(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

/// How many results were used, or why the plan did not run.
fn used(sample: &Path) -> Result<u64, String> {
    let out = tempfile::tempdir().unwrap();
    let mut files = listed(sample);
    files.push(Path::new(ROOT).join("demo/maps/townships.geojson"));
    let drafted = draft(&files, out.path()).map_err(|problems| problems.to_string())?;
    let plan = write(&drafted.plan_text, out.path()).map_err(|problems| problems.to_string())?;
    let outcome = wellreeve::check(&plan, &Progress::new(Mode::Quiet)).map_err(|problems| problems.to_string())?;
    match outcome.accounting.used() {
        0 => Err("no row was used".to_owned()),
        rows => Ok(rows),
    }
}

#[test]
fn at_least_eight_of_ten_drafts_run_as_they_stand() {
    let samples = listed(&Path::new(ROOT).join("tests/draft"));
    assert_eq!(samples.len(), 10);
    let failed: Vec<String> = samples
        .iter()
        .filter_map(|sample| used(sample).err().map(|why| format!("{}: {why}", sample.display())))
        .collect();
    assert!(samples.len() - failed.len() >= LEAST, "{}", failed.join("\n"));
}

/// One survey as workbooks, as Parquet and as a list of other ids: each drafts a plan that runs.
#[test]
fn workbooks_parquet_and_other_ids_draft_plans_that_run() {
    let fixtures = Path::new(ROOT).join("tests/intake");
    for name in ["results.xlsx", "results.ods", "results.xls", "results.parquet"] {
        let (home, out) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let write_here = |name: &str, text: &str| fs::write(home.path().join(name), text).unwrap();
        write_here(
            "wells.csv",
            "Site,Lon,Lat\nW-1,-93.803523,43.296508\nW-2,-93.756981,43.320724\nW-3,-93.719282,43.348657\n",
        );
        write_here("other-ids.csv", "other_id,well\nOLD-9,W-3\n");
        let mut files: Vec<PathBuf> = ["wells.csv", "other-ids.csv"].map(|name| home.path().join(name)).to_vec();
        files.push(fixtures.join(name));
        files.push(Path::new(ROOT).join("demo/maps/townships.geojson"));
        let drafted = draft(&files, out.path()).unwrap_or_else(|problems| panic!("{name}: {problems}"));
        assert!(drafted.plan_text.contains("\naliases = "), "{name}: {}", drafted.plan_text);
        let plan = write(&drafted.plan_text, out.path()).unwrap();
        let checked = wellreeve::check(&plan, &Progress::new(Mode::Quiet));
        let outcome = checked.unwrap_or_else(|problems| panic!("{name}: {problems}\n{}", drafted.plan_text));
        assert!(outcome.accounting.used() >= 2, "{name}: {:?}\n{}", outcome.accounting, drafted.plan_text);
    }
}

const WELLS: &str = "Site,Lon,Lat\n007,-93.803523,43.296508\n008,-93.756981,43.320724\n009,-93.719282,43.348657\n";

/// The plan that is drafted for one file of results beside three wells, and what `check` makes of it.
fn drafted(name: &str, text: &str, map: &Path) -> (String, wellreeve::Outcome) {
    let (home, out) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    fs::write(home.path().join("wells.csv"), WELLS).unwrap();
    fs::write(home.path().join(name), text).unwrap();
    let files = [home.path().join("wells.csv"), home.path().join(name), map.to_path_buf()];
    let drafted = draft(&files, out.path()).unwrap_or_else(|problems| panic!("{name}: {problems}"));
    let plan = write(&drafted.plan_text, out.path()).unwrap();
    let checked = wellreeve::check(&plan, &Progress::new(Mode::Quiet));
    let outcome = checked.unwrap_or_else(|problems| panic!("{name}: {problems}\n{}", drafted.plan_text));
    (drafted.plan_text, outcome)
}

fn townships() -> PathBuf {
    Path::new(ROOT).join("demo/maps/townships.geojson")
}

#[test]
fn json_lines_are_looked_into() {
    let line = |well: &str, value: &str| {
        format!(
            "{{\"well\": \"{well}\", \"test\": \"Arsenic\", \"result\": {value}, \"units\": \"ug/L\", \"sampled\": \"2023-05-11 08:15\"}}\n"
        )
    };
    let text = [line("007", "2.5"), line("008", "\"<0.2\""), line("009", "3")].concat();
    let (plan, outcome) = drafted("app.jsonl", &text, &townships());
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (3, 3), "{plan}");
}

/// A lost "<" would make a detect of a non-detect: each flag goes with the analyte before it.
#[test]
fn alike_flags_go_with_the_analyte_before_them() {
    let text = "Well no\tSampled\tArsenic (ppb)\tq\tNitrate-N (ppm)\tq\n007\t12-Jan-1992\t5\t<\t.2\t\n008\t12-Jan-1992\t2\t\t5\t<\n009\t13-Jan-1992\t2\t\t4\t\n";
    let (plan, outcome) = drafted("mill.tsv", text, &townships());
    for wanted in ["ppb\", qualifier = \"q (1)\"", "ppm\", qualifier = \"q (2)\""] {
        assert!(plan.contains(wanted), "{plan}");
    }
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (6, 6), "{plan}");
}

#[test]
fn units_behind_the_numbers_need_no_column() {
    let text = "Tollgate Labs\nReport printed 1/5/2006\n\nSite ID,Client,Analyte,Result,Collected\n\
                007,\"Smith, J.\",Arsenic,2.4 ug/L,01/25/05 9:00 AM\n008,\"Smith, J.\",Nitrate-N,<0.5 mg/L,01/26/05 2:00 PM\n\
                009,X,E. coli,31.5 MPN/100 mL,01/26/05 2:00 PM\n";
    let (plan, outcome) = drafted("tollgate.csv", text, &townships());
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (3, 3), "{plan}");
}

#[test]
fn a_portals_columns_are_found_by_their_words() {
    let text = "LOC_ID,SAMPLE_DATE,CHEMICAL_NAME,RESULT_VALUE,RESULT_UNIT,DETECT_FLAG,REPORTING_DETECTION_LIMIT,RDL_UNIT,FRACTION,LAB_QUALIFIERS,VALIDATOR_QUALIFIERS,STATUS,BASIS\n\
                007,2016-01-10,LEAD,4,ug/l,Y,1,ug/l,T,,J,Final,\n008,2016-01-11,LEAD,,ug/l,N,1,ug/l,D,U,,Final,\n\
                009,2016-01-12,NITRATE,5,mg/l,Y,0.1,mg/l,T,,,Final,as N\n009,2016-02-12,URANIUM,5,ug/l,Y,1,ug/l,T,,R,Final,\n";
    let text = text.replace("RDL_UNIT", "Reporting limit unit");
    let (plan, outcome) = drafted("portal.csv", &text, &townships());
    for wanted in [
        "qualifier = \"LAB_QUALIFIERS\"",
        "second_qualifier = \"VALIDATOR_QUALIFIERS\"",
        "limit_unit = \"Reporting limit unit\"",
        "fraction = \"FRACTION\"",
        "status = \"STATUS\"",
        "basis = \"BASIS\"",
    ] {
        assert!(plan.contains(wanted), "{wanted}: {plan}");
    }
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (4, 3), "{plan}");
}

#[test]
fn whether_it_was_detected_is_asked_in_a_column() {
    let text =
        "Well,Date,Test,Result,Unit,Detected,RL\n007,2016-01-10,Lead,4,ug/l,Y,1\n008,2016-01-10,Lead,1,ug/l,N,1\n";
    let (plan, outcome) = drafted("yes-no.csv", text, &townships());
    assert!(plan.contains("\"N\" = \"non-detect\""), "{plan}");
    assert_eq!(outcome.accounting.used(), 2, "{plan}");
}

/// A column that cannot be taken is told: a county would not miss a result that it never sees.
#[test]
fn no_column_of_values_is_passed_over_in_silence() {
    let text = "Well,Date,Arsenic (ug/L),Glimmer (xyz),Lead (ug/L)\n007,2016-01-10,4,1.5,see note\n008,2016-01-11,1,2.5,see note\n";
    let (plan, _) = drafted("odd.csv", text, &townships());
    assert!(
        plan.contains("unsure: column \"Glimmer (xyz)\"") && plan.contains("unsure: column \"Lead (ug/L)\""),
        "{plan}"
    );
}

#[test]
fn shapefiles_and_geopackages_are_looked_into() {
    for ending in ["shp", "gpkg"] {
        let (plan, _) = drafted(
            "app.csv",
            "Well,Date,Arsenic (ug/L),Lead (ug/L)\n007,2016-01-10,4,2\n008,2016-01-10,4,2\n",
            &Path::new(ROOT).join(format!("tests/place/areas.{ending}")),
        );
        assert!(plan.contains("\n[areas]\n") && plan.contains(&format!("areas.{ending}\"]\n")), "{plan}");
    }
}
