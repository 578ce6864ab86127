//! Honest ways of writing a result, a day and a place, through the whole job: none is guessed, none is lost.
//!
//! The major-ion analysis is sample 2 of US Geological Survey WRIR 02-4045, table 4; the other figures are made up.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

#[path = "support/survey.rs"]
mod support;

use std::collections::BTreeMap;
use support::{Survey, number};

const WELLS: &str = "well,lon,lat\nW1,-93.7,43.0\nW2,-93.3,43.0\nW3,-93.4,43.1\n";
const PART: &str = r#"[[results]]
files = ["FILES"]
layout = "long"
columns = { well = "Site", analyte = "Test", value = "Found", unit = "Unit", qualifier = "Flag", date = "Day", sample = "No", sample_kind = "Kind" }
"#;
const HEADER: &str = "Site,Test,Found,Unit,Flag,Day,No,Kind\n";
const LIMITS: &str = "[benchmarks]\nsets = [\"us-mcl\"]\n";

fn plan(files: &str) -> String {
    PART.replace("FILES", files)
}

/// What became of every line: `file:line reason`, those used left out.
fn set_aside(survey: &Survey) -> Vec<String> {
    let rows = survey.table("internal/set-aside.csv");
    rows.iter().map(|row| format!("{}:{} {}", row["file"], row["line"], row["reason"])).collect()
}

fn quality(survey: &Survey, check: &str) -> Option<BTreeMap<String, String>> {
    survey.table("internal/tables/quality.csv").into_iter().find(|row| row["check"] == check)
}

#[test]
fn a_line_in_two_files_counts_once_and_two_laboratories_are_two_results() {
    let north = format!("{HEADER}W1,Arsenic,12,ug/L,,2024-05-01,S1,\nW2,Arsenic,3,ug/L,,2024-05-01,S2,\n");
    let again = format!("{HEADER}W2,Arsenic,3,ug/L,,2024-05-01,S2,\nW3,Arsenic,4,ug/L,,2024-05-01,S3,\n");
    let south = "Site,Test,Found,Unit,Day,No\nW1,Arsenic,12,ug/L,2024-05-01,S1\n";
    let other = "[[results]]\nfiles = [\"south.csv\"]\nlayout = \"long\"\ncolumns = { well = \"Site\", analyte = \"Test\", value = \"Found\", unit = \"Unit\", date = \"Day\", sample = \"No\" }\n";
    let survey = Survey::new(
        &format!("{}{other}{LIMITS}", plan("north*.csv")),
        &[("wells.csv", WELLS), ("north-1.csv", &north), ("north-2.csv", &again), ("south.csv", south)],
    );
    let outcome = survey.run();
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (5, 3));
    assert_eq!(set_aside(&survey), ["north-2.csv:2 repeated-line", "south.csv:2 repeat"]);
}

#[test]
fn a_unit_may_stand_behind_its_number_but_not_against_another() {
    let lab = format!(
        "{HEADER}W1,Arsenic,0.012 mg/L,,,2024-05-01,,\nW2,Arsenic,<2 ug/L,,,2024-05-01,,\nW3,Nitrate,44.2664 mg/L as NO3,,,2024-05-01,,\n\
         W1,Lead,3 ug/L,mg/L,,2024-05-01,,\nW2,Lead,3 ug/L,UG/L,,2024-05-01,,\nW3,Lead,3 furlongs,,,2024-05-01,,\n"
    );
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    survey.run();
    assert_eq!(set_aside(&survey), ["lab.csv:5 unreadable-value", "lab.csv:7 unreadable-value"]);
    let rows = survey.table("internal/tables/summary.csv");
    let of = |analyte: &str| rows.iter().find(|row| row["area_id"] == "region" && row["analyte"] == analyte).unwrap();
    assert!((number(of("arsenic"), "highest") - 12.0).abs() < 1e-9);
    assert!((number(of("nitrate_as_n"), "highest") - 10.0).abs() < 1e-3);
}

#[test]
fn a_day_that_may_be_two_days_waits_for_the_plan() {
    let lab = format!("{HEADER}W1,Iron,1,mg/L,,03/04/2024,,\nW2,Iron,1,mg/L,,25/04/2024,,\n");
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    let outcome = survey.run();
    assert_eq!(set_aside(&survey), ["lab.csv:2 unreadable-date"]);
    let told = outcome.warnings.iter().find(|warning| warning.subject.contains("date_order")).unwrap();
    assert!(told.examples[0].contains("03/04/2024") && told.examples[0].contains("lab.csv:2"), "{told:?}");
    let ordered = plan("lab.csv").replace("layout", "date_order = \"day-first\"\nlayout");
    let survey = Survey::new(&format!("{ordered}{LIMITS}"), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    assert_eq!(survey.run().accounting.used(), 2);
}

#[test]
fn day_numbers_of_a_spreadsheet_are_read_where_the_plan_says_so() {
    let lab = format!("{HEADER}W1,Iron,1,mg/L,,43499,,\nW2,Iron,1,mg/L,,43499.6,,\nW3,Iron,1,mg/L,,2019-02-03,,\n");
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    survey.run();
    assert_eq!(set_aside(&survey), ["lab.csv:2 unreadable-date", "lab.csv:3 unreadable-date"]);
    let serial = plan("lab.csv").replace("layout", "date_format = \"excel\"\nlayout");
    let survey = Survey::new(&format!("{serial}{LIMITS}"), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    assert_eq!(survey.run().accounting.used(), 3);
}

/// Each slip, what is proposed for it, and nothing moved unless the plan says so. Zone 16 is one zone east of the ground.
#[test]
fn slips_of_coordinates_are_proposed_and_applied_only_on_request() {
    let slips = [
        ("swapped", "43.0,-93.7,NAD83", "x and y look swapped: (-93.7, 43)"),
        ("sign", "93.7,43.0,NAD83", "a sign looks lost: (-93.7, 43)"),
        ("dms", "\"93° 42' 00\"\" W\",43-00-00N,NAD83", "written in degrees, minutes and seconds: (-93.7, 43)"),
        ("both", "\"93 42 0\",43 00 00,NAD83", "a sign looks lost: (-93.7, 43)"),
        ("zone", "442955,4761067,NAD83 UTM 16N", "the zone looks wrong: NAD83 / UTM zone 15N"),
    ];
    let mut wells = "well,lon,lat,datum\nfine,-93.7,43.0,NAD83\nlost,nowhere,43,NAD83\n".to_owned();
    let mut lab = format!("{HEADER}fine,Iron,1,mg/L,,2024-05-01,,\nlost,Iron,1,mg/L,,2024-05-01,,\n");
    for (well, place, _) in slips {
        wells.push_str(&format!("{well},{place}\n"));
        lab.push_str(&format!("{well},Iron,1,mg/L,,2024-05-01,,\n"));
    }
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", &wells), ("lab.csv", &lab)]);
    let text = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let text = text.replace("crs = \"EPSG:4326\"\n", "").replace("y = \"lat\" }", "y = \"lat\", crs = \"datum\" }");
    for (repair, used, word) in [("false", 1, ""), ("true", 6, "repaired, ")] {
        let switched = text.replace("[survey]\n", &format!("[survey]\nrepair_locations = {repair}\n"));
        survey.write("plan.toml", &format!("{switched}\n[quality]\nmost_set_aside = 1.0\n"));
        let outcome = survey.run();
        let notes: BTreeMap<String, String> =
            survey.table("internal/wells.csv").iter().map(|row| (row["well"].clone(), row["notes"].clone())).collect();
        for (well, _, told) in slips {
            assert!(notes[well].starts_with(&format!("{word}{told}")), "{well}: {}", notes[well]);
        }
        assert_eq!(notes["fine"], "");
        assert_eq!(notes["lost"], "no coordinates that can be read");
        assert_eq!(outcome.accounting.used(), used, "{notes:?}");
    }
}

/// One sample is given to each of three wells, the
/// second with 300 mg/L of sulfate too little (5.3 % of all charges), the third with 800 (15 %) and with solids lost.
#[test]
fn ion_balances_and_solids_are_judged_sample_by_sample() {
    let mut lab = HEADER.to_owned();
    for (well, sulfate, solids) in [("W1", 2700.0, 4020.0), ("W2", 2400.0, 3720.0), ("W3", 1900.0, 900.0)] {
        let ions = [
            ("Calcium", 550.0),
            ("Magnesium", 280.0),
            ("Sodium", 270.0),
            ("Potassium", 14.0),
            ("Bicarbonate", 326.0),
            ("Chloride", 18.0),
            ("Sulfate", sulfate),
            ("Fluoride", 0.3),
            ("Nitrate as N", 0.05),
            ("Silica as SiO2", 17.0),
            ("Total Dissolved Solids", solids),
        ];
        for (name, value) in ions {
            lab.push_str(&format!("{well},{name},{value},mg/L,,2024-05-01,S,\n"));
        }
        lab.push_str(&format!("{well},Specific Conductance,6000,uS/cm,,2024-05-01,S,\n"));
    }
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    survey.run();
    let counts =
        |check: &str| quality(&survey, check).map(|row| (row["tested"].clone(), row["failed"].clone())).unwrap();
    let said = |tested: &str, failed: &str| (tested.to_owned(), failed.to_owned());
    assert_eq!(counts("charge balance within 5 %"), said("3", "2"));
    assert_eq!(counts("charge balance within 10 %"), said("3", "1"));
    assert_eq!(counts("dissolved solids agree with ions"), said("3", "1"));
    assert_eq!(counts("dissolved solids agree with conductivity"), said("3", "1"));
}

#[test]
fn a_detect_within_five_times_its_blank_is_flagged() {
    let lab = format!(
        "{HEADER},Iron,0.1,mg/L,,2024-05-01,B1,Field blank\nW1,Iron,0.4,mg/L,,2024-05-01,S1,\nW2,Iron,0.6,mg/L,,2024-05-01,S2,\n\
         W3,Iron,0.4,mg/L,,2024-05-02,S3,\n"
    );
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    survey.run();
    let clear = quality(&survey, "results clear of their blank").unwrap();
    assert_eq!((clear["tested"].as_str(), clear["failed"].as_str()), ("2", "1"));
    let clean = quality(&survey, "blanks are clean").unwrap();
    assert_eq!((clean["tested"].as_str(), clean["failed"].as_str()), ("1", "1"));
}

#[test]
fn footers_notes_and_second_headers_are_counted_and_name_no_well() {
    let lab = format!(
        "Report of a laboratory\n\n{HEADER}W1,Iron,1,mg/L,,2024-05-01,,\nPage 1 of 2\n{HEADER}W2,Iron,1,mg/L,,2024-05-01,,\nTotal samples: 2\n* resampled,,,,,,,\n"
    );
    let survey = Survey::new(&format!("{}{LIMITS}", plan("lab.csv")), &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    let text = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    survey.write("plan.toml", &format!("{text}\n[quality]\nmost_set_aside = 1.0\n"));
    let outcome = survey.run();
    assert_eq!((outcome.accounting.read(), outcome.accounting.used()), (6, 2), "{:?}", set_aside(&survey));
    assert_eq!(set_aside(&survey).len(), 4);
    assert!(!outcome.to_paste.contains("\"\""), "{}", outcome.to_paste);
}

#[test]
fn wells_go_by_the_id_as_written_and_by_their_other_ids() {
    let wells = "well,lon,lat\n007,-93.7,43.0\n7,-93.3,43.0\nA-1,-93.4,43.1\nB-1,-93.4,43.1\nB-1,-93.4,43.102\n";
    let lab = format!(
        "{HEADER} 007 ,Iron,1,mg/L,,2024-05-01,,\n7,Iron,2,mg/L,,2024-05-01,,\na-1,Iron,3,mg/L,,2024-05-01,,\n\
         OLD 9,Iron,4,mg/L,,2024-05-01,,\nB-1,Iron,5,mg/L,,2024-05-01,,\n"
    );
    let survey = Survey::new(
        &format!("{}{LIMITS}", plan("lab.csv")),
        &[("wells.csv", wells), ("lab.csv", &lab), ("other.csv", "other_id,well\nOLD 9,A-1\n")],
    );
    let text = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let named = text.replace("files = [\"wells.csv\"]", "files = [\"wells.csv\"]\naliases = \"other.csv\"");
    survey.write("plan.toml", &format!("{named}\n[quality]\nmost_set_aside = 1.0\n"));
    survey.run();
    assert_eq!(set_aside(&survey), ["lab.csv:4 unknown-well", "lab.csv:6 no-location"]);
    let values: BTreeMap<String, String> =
        survey.table("internal/wells.csv").iter().map(|row| (row["well"].clone(), row["notes"].clone())).collect();
    assert_eq!(values["B-1"], "listed at places more than 50 m apart");
    assert_eq!(values.len(), 4);
}
