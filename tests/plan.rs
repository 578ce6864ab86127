//! Plans, sound and faulty: what `load` makes of them, and the exact words for whatever is wrong.
//!
//! `plan/cases.txt` holds the faulty ones, each as the piece of `plan/sound.toml` that is replaced, what replaces it, and
//! the problems in full: the message is what the user has to work with, so its words are the thing tested.

#![allow(clippy::string_slice, reason = "the sound plan is cut at every byte that may be cut")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;
use wellreeve::ids::Day;
use wellreeve::plan::{AreaSource, Layout, Loaded, Measure, Naming, Qualifier, SampleKind, load};

#[path = "plan/files.rs"]
mod files;

const SOUND: &str = include_str!("plan/sound.toml");
const CASES: &str = include_str!("plan/cases.txt");
const FILES: &[&str] = &[
    "lab/b.csv",
    "lab/a.csv",
    "lab/notes.txt",
    "lab/.hidden.csv",
    "tarn.csv",
    "wells.csv",
    "aliases.csv",
    "townships.geojson",
    "cover.geojson",
    "cover.tif",
    "fuel.csv",
    "prices.csv",
    "flood.geojson",
    "grids/readme.txt",
];

fn survey(files: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in files {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, "x\n").unwrap();
    }
    folder
}

fn load_text(folder: &Path, text: impl AsRef<[u8]>) -> Loaded {
    let plan = folder.join("plan.toml");
    fs::write(&plan, text).unwrap();
    load(&plan)
}

/// The problems as shown, without the folder's name.
fn told(folder: &Path, loaded: &Loaded) -> String {
    let all: Vec<String> = loaded.problems.0.iter().map(ToString::to_string).collect();
    all.join("\n").replace(&format!("{}/", folder.display()), "").replace(&folder.display().to_string(), "FOLDER")
}

fn names(folder: &Path, files: &[std::path::PathBuf]) -> Vec<String> {
    files.iter().map(|file| wellreeve::plan::shown_path(folder, file)).collect()
}

struct Case<'a> {
    from: &'a str,
    to: &'a str,
    told: &'a str,
}

/// `==== piece`, `---- what replaces it`, `---- problems`.
fn cases() -> Vec<Case<'static>> {
    let case = |block: &'static str| {
        let mut parts = block.split("----").map(|part| part.trim_matches('\n'));
        let mut next = || parts.next().unwrap_or_else(|| panic!("three parts: {block}"));
        Case { from: next(), to: next(), told: next() }
    };
    CASES.split("====\n").skip(1).map(case).collect()
}

#[test]
fn faulty_plans_are_told_in_these_words() {
    let folder = survey(FILES);
    let mut wrong = String::new();
    for case in cases() {
        assert!(SOUND.contains(case.from), "not in the sound plan: {}", case.from);
        let loaded = load_text(folder.path(), SOUND.replacen(case.from, case.to, 1));
        let found = told(folder.path(), &loaded);
        if found != case.told {
            wrong += &format!("====\n{}\n----\n{}\n----\n{found}\n", case.from, case.to);
        }
    }
    assert!(wrong.is_empty(), "these differ; as found:\n{wrong}");
}

#[test]
fn there_are_enough_faulty_plans() {
    assert!(cases().len() >= 70, "{} cases", cases().len());
}

#[test]
fn a_sound_plan_has_no_problem_and_means_what_it_says() {
    let folder = survey(FILES);
    let loaded = load_text(folder.path(), SOUND);
    assert_eq!(told(folder.path(), &loaded), "");
    let plan = loaded.plan.unwrap();
    let day = |y, m, d| Day::of(chrono::NaiveDate::from_ymd_opt(y, m, d).unwrap());
    assert_eq!(plan.survey.period, Some((day(2015, 1, 1), day(2025, 12, 31))));
    assert_eq!(plan.survey.proj_grids.as_deref(), Some(folder.path().join("grids").as_path()));
    let north = &plan.results[0];
    assert_eq!(names(folder.path(), &north.files), ["lab/a.csv", "lab/b.csv"]);
    assert_eq!((north.text.delimiter, north.text.decimal, north.text.thousands), (Some(b';'), Some(','), Some('.')));
    assert_eq!(north.sample_kinds.get(""), Some(&SampleKind::Routine));
    assert_eq!(north.qualifiers.get("Q7"), Some(&Qualifier::Rejected));
    let Layout::Wide { common, analytes } = &plan.results[1].layout else { panic!("a wide layout") };
    assert_eq!((common.well.as_str(), common.date.as_deref()), ("Well", Some("Date")));
    assert_eq!(analytes.iter().map(|one| one.column.as_str()).collect::<Vec<_>>(), ["As", "E. coli"]);
    let Measure::Share { classes, .. } = &plan.land_use[0].measure else { panic!("a share") };
    assert_eq!(classes, &["row crop", "21"]);
    assert_eq!(plan.per_well.non_detect_limits, [("arsenic".to_string(), 1.0, "ug/L".to_string())]);
    assert_eq!(plan.summary.seed, u64::MAX);
    assert_eq!(plan.recommend.confidence, 0.8);
    let said = plan.problem("results[2].analyte_columns.\"E. coli\".unit", "unknown-unit", "found", "wanted");
    assert_eq!(said.line, Some(32));
    assert_eq!(plan.line_of("land_use[2].columns.x"), Some(58));
}

#[test]
fn a_plan_of_the_least_takes_the_defaults() {
    let folder = survey(FILES);
    let text = r#"
survey.title = "Larkmoor"
areas.grid = { kind = "hexagon", size_m = 2500.5 }
[[results]]
files = ["lab/a.csv"]
layout = "long"
columns = { well = "W", analyte = "A", value = "V" }
[[wells]]
files = ["lab/a.csv"]
columns = { well = "W", x = "X", y = "Y", crs = "C" }
"#;
    let loaded = load_text(folder.path(), text);
    assert_eq!(told(folder.path(), &loaded), "");
    let plan = loaded.plan.unwrap();
    assert!(matches!(plan.areas.source, AreaSource::Grid { size_m: 2500.5, .. }));
    assert_eq!(plan.benchmarks.sets, ["us-mcl", "us-action-level", "us-health-advisory"]);
    let summary = &plan.summary;
    assert_eq!((summary.interval, summary.fewest_detects, summary.resamples), (0.95, 3, 2000));
    assert_eq!((summary.seed, summary.equal_area_cells), (1, 0));
    assert_eq!((plan.recommend.concern_rate, plan.recommend.confidence), (0.05, 0.8));
    assert_eq!((plan.most_set_aside, plan.smallest_group), (0.5, 5));
    assert!(plan.land_use.is_empty() && plan.events.is_empty());
}

#[test]
fn the_plan_of_three_laboratories_loads() {
    let folder = survey(&[
        "lab-north/1.csv",
        "lab-vale/1.csv",
        "lab-tarn/1.csv",
        "wells.csv",
        "wells-grid.csv",
        "well-aliases.csv",
        "townships.geojson",
        "cover.geojson",
        "fuel-sites.csv",
        "septic.csv",
        "prices.csv",
        "flood.geojson",
    ]);
    let loaded = load_text(folder.path(), include_str!("plan/three-laboratories.toml"));
    assert_eq!(told(folder.path(), &loaded), "");
    let plan = loaded.plan.unwrap();
    assert_eq!((plan.results.len(), plan.wells.len(), plan.land_use.len(), plan.events.len()), (3, 2, 3, 1));
}

#[test]
fn a_faulty_plan_is_still_there_to_be_checked_further() {
    let folder = survey(FILES);
    let text =
        SOUND.replace("layout = \"long\"", "layout = \"lnog\"").replace("measure = \"nearest\"", "measure = \"far\"");
    let loaded = load_text(folder.path(), text);
    assert_eq!(loaded.problems.0.len(), 2);
    let plan = loaded.plan.unwrap();
    assert!(matches!(plan.results[0].layout, Layout::Long { .. }));
    assert_eq!(plan.land_use.len(), 1, "a land use without a measure is left out");
}

#[test]
fn a_plan_that_cannot_be_read_gives_one_problem() {
    let folder = survey(&["survey.toml"]);
    let missing = load(&folder.path().join("plan.toml"));
    assert!(missing.plan.is_none());
    assert_eq!(
        told(folder.path(), &missing),
        "plan.toml: there is no such plan\n    plans in that folder: survey.toml\n    [plan-not-found]"
    );
    assert_eq!(
        told(folder.path(), &load(folder.path())),
        "FOLDER: this is a folder, not a plan\n    give the plan file itself: survey.toml\n    [plan-unreadable]"
    );
    let utf8 = "save the plan as plain text in UTF-8\n    [plan-not-utf8]";
    let empty = "write at least [survey], [[results]], [[wells]] and [areas]; `wellreeve draft` makes a first plan from your files\n    [plan-empty]";
    for (text, expected) in [
        (&b"\xff\xfe[\0"[..], format!("plan.toml, line 1: the plan is UTF-16 text, not UTF-8\n    {utf8}")),
        (
            b"[survey]\ntitle = \"L\xe4rkmoor\"\n",
            format!("plan.toml, line 2: the plan is not UTF-8 text (byte 20)\n    {utf8}"),
        ),
        (b"", format!("plan.toml: the plan is empty\n    {empty}")),
        (b"\xef\xbb\xbf# nothing yet\r\n\r\n", format!("plan.toml: the plan is empty\n    {empty}")),
    ] {
        let loaded = load_text(folder.path(), text);
        assert!(loaded.plan.is_none());
        assert_eq!(told(folder.path(), &loaded), expected);
    }
}

#[test]
fn a_plan_with_nothing_needed_says_what_is_needed() {
    let folder = survey(&[]);
    let loaded = load_text(folder.path(), "[quality]\n");
    let found: Vec<&str> = loaded.problems.0.iter().map(|problem| problem.found.as_str()).collect();
    assert_eq!(
        found,
        ["there is no [areas]", "there is no [[results]]", "there is no [survey]", "there is no [[wells]]"]
    );
}

#[test]
fn a_file_that_is_no_plan_is_not_told_line_by_line() {
    let folder = survey(&[]);
    let loaded = load_text(folder.path(), "Site,Result\n".repeat(1000));
    assert_eq!(loaded.problems.0.len(), 21);
    assert!(told(folder.path(), &loaded).contains("980 more lines are not readable as TOML"));
}

#[test]
fn a_plan_saved_with_a_mark_and_long_line_ends_is_the_same_plan() {
    let folder = survey(FILES);
    let text = format!("\u{feff}{}", SOUND.replace('\n', "\r\n").replace("choose = \"latest\"", "choose = \"last\""));
    let loaded = load_text(folder.path(), text);
    assert_eq!(loaded.problems.0.iter().map(|problem| problem.line).collect::<Vec<_>>(), [Some(67)]);
}

#[test]
fn a_plan_cut_off_anywhere_is_told_and_never_breaks() {
    let folder = survey(FILES);
    for end in 0..SOUND.len() {
        let loaded = load_text(folder.path(), &SOUND[..end]);
        let lines = SOUND[..end].lines().count().max(1) as u64;
        assert!(loaded.plan.is_some() || !loaded.problems.0.is_empty());
        assert!(
            loaded.problems.0.iter().all(|problem| { problem.line.is_none_or(|line| (1..=lines + 1).contains(&line)) })
        );
    }
}

#[test]
fn a_plan_without_any_one_line_is_told_or_sound() {
    let folder = survey(FILES);
    let lines: Vec<&str> = SOUND.lines().collect();
    for left_out in 0..lines.len() {
        let text: Vec<&str> = lines.iter().enumerate().filter(|(i, _)| *i != left_out).map(|(_, line)| *line).collect();
        let loaded = load_text(folder.path(), text.join("\n"));
        assert!(loaded.plan.is_some() || !loaded.problems.0.is_empty(), "{}", lines[left_out]);
    }
}

/// Element names and words of the Water Quality Exchange schema, from memory.
#[test]
fn a_ready_map_stands_for_the_columns_of_the_exchange_standard() {
    let folder = survey(&["lab.csv", "newer.csv", "stations.csv", "townships.geojson"]);
    let plan = "[survey]\ntitle = \"x\"\n\
        [[results]]\nfiles = [\"lab.csv\"]\ncolumns = \"wqx\"\nsample_kinds = { \"Sample-Other\" = \"rejected\" }\n\
        [[results]]\nfiles = [\"newer.csv\"]\nlayout = \"long\"\ncolumns = \"wqx-3\"\n\
        [[wells]]\nfiles = [\"stations.csv\"]\ncolumns = \"wqx\"\n\
        [areas]\nfiles = [\"townships.geojson\"]\nid = \"code\"\n";
    let loaded = load_text(folder.path(), plan);
    assert_eq!(told(folder.path(), &loaded), "");
    let plan = loaded.plan.unwrap();
    let Layout::Long { common, analyte, value, limit, more, .. } = &plan.results[0].layout else { panic!() };
    assert_eq!((analyte.as_str(), value.as_str()), ("CharacteristicName", "ResultMeasureValue"));
    assert_eq!((common.well.as_str(), common.naming), ("MonitoringLocationIdentifier", Naming::Standard));
    assert_eq!(limit.as_deref(), Some("DetectionQuantitationLimitMeasure/MeasureValue"));
    assert_eq!(more.limit_unit.as_deref(), Some("DetectionQuantitationLimitMeasure/MeasureUnitCode"));
    assert_eq!(more.basis.as_deref(), Some("MethodSpecificationName"));
    let kinds = &plan.results[0].sample_kinds;
    assert_eq!(kinds["Quality Control Sample-Field Blank"], SampleKind::Blank);
    assert_eq!(kinds["Quality Control Sample-Field Replicate"], SampleKind::Duplicate);
    assert_eq!(kinds["Sample-Other"], SampleKind::Rejected, "the plan's own word goes first");
    assert_eq!(plan.results[0].qualifiers["Not Detected"], Qualifier::NonDetect);
    assert_eq!(plan.results[0].qualifiers["Present Above Quantification Limit"], Qualifier::Above);
    let Layout::Long { analyte, .. } = &plan.results[1].layout else { panic!() };
    assert_eq!(analyte, "Result_Characteristic");
    assert_eq!(plan.wells[0].crs_column.as_deref(), Some("HorizontalCoordinateReferenceSystemDatumName"));
    assert_eq!((plan.wells[0].x.as_str(), plan.wells[0].y.as_str()), ("LongitudeMeasure", "LatitudeMeasure"));
}

#[test]
fn a_ready_map_is_of_a_long_file() {
    let folder = survey(FILES);
    let columns = "columns = { well = \"Site\", analyte = \"Parameter\", value = \"Result\", qualifier = \"Flag\", date = \"Collected\" }";
    let plan = SOUND.replacen("layout = \"long\"", "layout = \"wide\"", 1).replacen(columns, "columns = \"wqx\"", 1);
    let found = told(folder.path(), &load_text(folder.path(), plan));
    assert!(found.contains("results[1].layout: does not go with columns = \"wqx\""), "{found}");
}
