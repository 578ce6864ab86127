//! Drafts: ten differently laid out surveys of invention, each looked at and its plan loaded as it stands.
//!
//! A draft may be wrong and say so; what it may not be is a plan that does not load, or a guess that hides itself.
//! Eight of ten have to load without a problem.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use wellreeve::draft::{Drafted, draft, write};
use wellreeve::files::Inputs;
use wellreeve::intake;
use wellreeve::plan::{DateOrder, Layout, Naming, Plan, load};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const LEAST: usize = 8;

/// The folders under tests/draft/, by name.
fn samples() -> Vec<PathBuf> {
    let folder = Path::new(ROOT).join("tests/draft");
    let mut samples: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    samples.sort();
    samples
}

fn files(sample: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(sample).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.push(Path::new(ROOT).join("demo/maps/townships.geojson"));
    files
}

/// The draft of a sample, with its plan written and loaded; problems are those of the plan and of the files' headers.
fn drafted(sample: &Path, out: &Path) -> (Drafted, Option<Plan>, Vec<String>) {
    let drafted = draft(&files(sample), out).unwrap();
    let path = write(&drafted.plan_text, out).unwrap();
    let loaded = load(&path);
    let mut told: Vec<String> = loaded.problems.0.iter().map(ToString::to_string).collect();
    if let Some(Err(problems)) = loaded.plan.as_ref().map(|plan| intake::open(plan, &Inputs::default())) {
        told.extend(problems.0.iter().map(ToString::to_string));
    }
    (drafted, loaded.plan, told)
}

/// The plan of the sample whose name starts so.
fn plan_of(start: &str) -> (Drafted, Plan) {
    let sample =
        samples().into_iter().find(|path| path.file_name().unwrap().to_string_lossy().starts_with(start)).unwrap();
    let out = tempfile::tempdir().unwrap();
    let (drafted, plan, told) = drafted(&sample, out.path());
    assert!(told.is_empty(), "{told:?}\n{}", drafted.plan_text);
    (drafted, plan.unwrap())
}

/// The columns of a long layout that stand in the order well, analyte, value, unit, qualifier, limit, date.
fn long(plan: &Plan) -> [String; 7] {
    let Layout::Long { common, analyte, value, unit, qualifier, limit, .. } = &plan.results[0].layout else {
        panic!("not long")
    };
    let or_none = |column: &Option<String>| column.clone().unwrap_or("-".to_owned());
    let first = [common.well.clone(), analyte.clone(), value.clone()];
    let rest = [unit, qualifier, limit, &common.date].map(or_none);
    let all: Vec<String> = first.into_iter().chain(rest).collect();
    all.try_into().unwrap()
}

#[test]
fn at_least_eight_of_ten_load_as_they_stand() {
    let samples = samples();
    assert_eq!(samples.len(), 10);
    let mut wrong = Vec::new();
    for sample in &samples {
        let out = tempfile::tempdir().unwrap();
        let (drafted, _, told) = drafted(sample, out.path());
        if !told.is_empty() {
            wrong.push(format!("{}: {told:#?}\n{}", sample.display(), drafted.plan_text));
        }
    }
    assert!(samples.len() - wrong.len() >= LEAST, "{}", wrong.join("\n"));
}

#[test]
fn clear_headings_are_taken_without_a_doubt() {
    let (drafted, plan) = plan_of("01");
    assert_eq!(long(&plan), ["Site", "Parameter", "Result", "Units", "Flag", "RL", "Collected"]);
    assert!(
        !drafted.doubts.iter().any(|doubt| doubt.starts_with("results[1].") || doubt.starts_with("wells[1].")),
        "{:?}",
        drafted.doubts
    );
    assert!(drafted.plan_text.contains("# \"Wellhead gas\" = "), "{}", drafted.plan_text);
    assert_eq!(plan.areas.id, "code");
    assert_eq!(plan.areas.wells_on_record.as_deref(), Some("private_wells"));
}

#[test]
fn units_are_found_in_headings_and_in_a_row_of_units() {
    let units = |plan: &Plan| -> Vec<(String, String, Option<String>)> {
        let Layout::Wide { analytes, .. } = &plan.results[0].layout else { panic!("not wide") };
        analytes.iter().map(|w| (w.column.clone(), w.analyte.clone(), w.unit.clone())).collect()
    };
    let three = |a: &str, b: &str, c: Option<&str>| (a.to_owned(), b.to_owned(), c.map(str::to_owned));
    let (_, plan) = plan_of("02");
    assert_eq!(
        units(&plan),
        [
            three("Arsenic (ug/L)", "arsenic", Some("ug/L")),
            three("Nitrate-N (mg/L)", "nitrate_as_n", Some("mg/L")),
            three("Iron, mg/L", "iron", Some("mg/L")),
            three("pH", "ph", None),
            three("Total Coliform", "total_coliform", None),
        ]
    );
    let (_, plan) = plan_of("04");
    assert_eq!(units(&plan)[0], three("As", "arsenic", Some("ug/L")));
    assert_eq!(plan.results[0].date_format.as_deref(), Some("%d-%b-%Y"));
    assert_eq!(units(&plan)[4], three("E. coli", "e_coli", Some("CFU/100 mL")));
}

#[test]
fn decimal_commas_and_days_before_months_are_seen() {
    let (_, plan) = plan_of("03");
    assert_eq!(long(&plan), ["Bore", "Determinand", "Concentration", "Unit", "-", "Detection limit", "Sampling date"]);
    assert_eq!(plan.results[0].text.decimal, Some(','));
    assert_eq!(plan.results[0].date_order, Some(DateOrder::DayFirst));
    assert_eq!((plan.wells[0].x.as_str(), plan.wells[0].crs.as_deref()), ("Easting", Some("EPSG:32615")));
}

#[test]
fn what_nobody_knows_is_offered_and_told() {
    let (drafted, plan) = plan_of("05");
    assert_eq!(long(&plan), ["WELL NO", "ANALYSIS", "FOUND", "UNITS", "REMARK", "-", "DATE TAKEN"]);
    assert_eq!(plan.results[0].layout.common().received.as_deref(), Some("DATE IN"));
    assert_eq!(plan.results[0].date_order, Some(DateOrder::MonthFirst));
    for line in [
        "# \"gr/USG\" = ",
        "# \"XR\" = \"note\"",
        "\"TREATED TAP\" = \"treated\"  # unsure",
        "# depth_m = \"DEPTH FT\"",
    ] {
        assert!(drafted.plan_text.contains(line), "{line}\n{}", drafted.plan_text);
    }
}

#[test]
fn files_of_the_exchange_standard_take_its_ready_columns() {
    let (drafted, plan) = plan_of("06");
    assert!(drafted.plan_text.contains("columns = \"wqx\""));
    assert_eq!(plan.results[0].layout.common().naming, Naming::Standard);
    assert_eq!(plan.wells[0].crs_column.as_deref(), Some("HorizontalCoordinateReferenceSystemDatumName"));
}

#[test]
fn kits_coordinates_and_flags_are_recognised() {
    let (drafted, plan) = plan_of("07");
    assert_eq!(plan.results[0].methods.len(), 1, "{}", drafted.plan_text);
    let (_, plan) = plan_of("08");
    assert_eq!(plan.wells[0].files, plan.results[0].files);
    assert_eq!((plan.wells[0].x.as_str(), plan.wells[0].y.as_str()), ("Longitude", "Latitude"));
    let (_, plan) = plan_of("09");
    let Layout::Wide { analytes, .. } = &plan.results[0].layout else { panic!("not wide") };
    let arsenic = &analytes[0];
    assert_eq!(
        [&arsenic.unit, &arsenic.qualifier, &arsenic.limit].map(|column| column.as_deref().unwrap()),
        ["ug/L", "Arsenic_flag", "Arsenic_RL"]
    );
}

#[test]
fn odd_headings_are_guessed_by_their_cells_and_marked() {
    let (drafted, plan) = plan_of("10");
    assert_eq!(long(&plan), ["Whose", "What", "How much", "Per", "-", "-", "Came on"]);
    for key in ["well", "analyte", "value", "unit", "date"] {
        let start = format!("results[1].{key}: ");
        assert!(drafted.doubts.iter().any(|doubt| doubt.starts_with(&start)), "{key}: {:?}", drafted.doubts);
    }
}

#[test]
fn the_demo_is_sorted_into_its_parts() {
    let demo = Path::new(ROOT).join("demo");
    let names = [
        "laboratories/oxbow/2015-2018.csv",
        "laboratories/oxbow/2019-2021.csv",
        "laboratories/quillfeather/to-2019.csv",
        "laboratories/threeways/all-years.tsv",
        "wells/county-wells.csv",
        "wells/drillers-log.csv",
        "wells/other-ids.csv",
        "maps/townships.geojson",
        "maps/land-cover.geojson",
        "maps/fuel-sites.csv",
        "maps/septic-systems.csv",
        "maps/april-flood.geojson",
        "prices.csv",
    ];
    let files: Vec<PathBuf> = names.iter().map(|name| demo.join(name)).collect();
    let out = tempfile::tempdir().unwrap();
    let drafted = draft(&files, out.path()).unwrap();
    let path = write(&drafted.plan_text, out.path()).unwrap();
    let loaded = load(&path);
    assert!(loaded.problems.0.is_empty(), "{}\n{}", loaded.problems, drafted.plan_text);
    let plan = loaded.plan.unwrap();
    assert_eq!((plan.results.len(), plan.results[0].files.len(), plan.wells.len()), (3, 2, 2));
    let land_use: Vec<&str> = plan.land_use.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(land_use, ["farming", "fuel-sites", "septic-systems"]);
    assert!(drafted.plan_text.contains("# kind = \"flood\""));
}

#[test]
fn a_plan_is_never_replaced() {
    let out = tempfile::tempdir().unwrap();
    fs::write(out.path().join("plan.toml"), "mine").unwrap();
    let problems = draft(&files(&samples()[0]), out.path()).unwrap_err();
    assert_eq!(problems.0[0].code, "plan-exists");
    assert_eq!(write("x", out.path()).unwrap_err().0[0].code, "plan-exists");
    assert_eq!(fs::read_to_string(out.path().join("plan.toml")).unwrap(), "mine");
}

#[test]
fn what_keeps_a_plan_from_running_is_told_first() {
    let out = tempfile::tempdir().unwrap();
    let sample = samples()[0].join("results.csv");
    let drafted = draft(&[sample], out.path()).unwrap();
    assert!(drafted.doubts[0].contains("no file gives the wells' coordinates"), "{:?}", drafted.doubts);
    assert!(drafted.doubts[1].contains("no layer of areas"), "{:?}", drafted.doubts);
    assert!(drafted.plan_text.contains("# [areas]"));
}

#[test]
fn every_missing_file_is_told() {
    let out = tempfile::tempdir().unwrap();
    let problems = draft(&[PathBuf::from("no-such.csv"), PathBuf::from("nor-this.geojson")], out.path()).unwrap_err();
    assert_eq!(problems.0.len(), 2);
}

#[test]
fn a_file_cut_off_anywhere_or_full_of_noise_still_makes_toml() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("lab.csv");
    let wide = fs::read(samples()[8].join("lab.csv")).unwrap();
    let long = fs::read(samples()[2].join("export.csv")).unwrap();
    let noise: Vec<u8> = (0..4000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    let doubled = b"Site,Parameter,Result,Result,\nA,Lead,1,2,x\nB,Lead,3,4,y\n".to_vec();
    let mut inputs = vec![noise, doubled, b"a\n".to_vec(), b"\"\n\n".to_vec(), b",,,\n,,,\n".to_vec()];
    for bytes in [wide, long] {
        inputs.extend((1..6).map(|part| bytes[..bytes.len() * part / 6].to_vec()));
    }
    for bytes in inputs {
        fs::write(&file, &bytes).unwrap();
        let drafted = draft(std::slice::from_ref(&file), &folder.path().join("out")).unwrap();
        let parsed = drafted.plan_text.parse::<toml::Table>();
        assert!(parsed.is_ok(), "{parsed:?}\n{}", drafted.plan_text);
        assert!(!drafted.plan_text.contains("= \"\""), "{}", drafted.plan_text);
    }
}
