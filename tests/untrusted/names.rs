//! Names in the data that become parts of file names: well ids, areas, benchmark sets, land uses.

use crate::listed;
use crate::survey::Survey;
use std::collections::BTreeSet;

const RESULTS: &str = r#"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", date = "Collected" }

[letters]
contact = "The county's health office"
"#;

/// Ids that lead elsewhere, that old systems keep for devices, that differ by case alone, that are longer than a file name may be.
fn ids() -> Vec<String> {
    let mut ids: Vec<String> =
        ["../../../x", "/tmp/x", "..", ".hidden", "CON", "nul.html", "A1", "a1", "a\\b", "C:x", "é\u{301}"]
            .map(str::to_owned)
            .to_vec();
    ids.push("w".repeat(400));
    ids.push("\u{202e}txt".to_owned());
    ids
}

#[test]
fn well_ids_stay_in_the_folder() {
    let (mut lab, mut wells) = ("Site,Parameter,Result,Units,Collected\n".to_owned(), "well,lon,lat\n".to_owned());
    for (at, id) in ids().iter().enumerate() {
        lab.push_str(&format!("{id},Arsenic,12,ug/L,2020-01-05\n"));
        wells.push_str(&format!("{id},{},43\n", -93.7 + 0.01 * at as f64));
    }
    let survey = Survey::new(RESULTS, &[("wells.csv", &wells), ("lab.csv", &lab)]);
    let before = listed(&survey.path(""));
    survey.run();
    let after = listed(&survey.path(""));
    assert!(after.difference(&before).all(|name| name.starts_with("out/")));
    let index = survey.table("internal/letters/index.csv");
    assert_eq!(index.len(), ids().len());
    let names: BTreeSet<String> = index.iter().map(|row| row["file"].to_lowercase()).collect();
    assert_eq!(names.len(), ids().len(), "two letters of one name");
    for name in &names {
        assert!(name.len() < 100 && name.starts_with(|c: char| c.is_ascii_digit()), "{name}");
        assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c)), "{name}");
    }
    let written = after.iter().filter(|name| name.starts_with("out/internal/letters/") && name.ends_with(".html"));
    assert_eq!(written.count(), ids().len());
}

#[test]
fn benchmark_sets_and_land_uses_stay_in_the_folder() {
    let county = "benchmark_set,analyte,limit,unit,sense,effect,effective\n\
        ../../../../escaped,arsenic,5,ug/L,max,chronic-health,2020\n\
        a b,arsenic,6,ug/L,max,chronic-health,2020\na/b,arsenic,7,ug/L,max,chronic-health,2020\nA-B,arsenic,8,ug/L,max,chronic-health,2020\n";
    let layer = "x,y\n-93.7,43\n";
    let uses: String = ["../../up", "a b", "a/b"].map(land_use).concat();
    let wells = "well,lon,lat\nA1,-93.7,43\nA2,-93.4,43\n";
    let lab = "Site,Parameter,Result,Units,Collected\nA1,Arsenic,12,ug/L,2020-01-05\nA2,Arsenic,3,ug/L,2020-01-05\n";
    let files = [("wells.csv", wells), ("lab.csv", lab), ("county.csv", county), ("layer.csv", layer)];
    let sets = "\n[benchmarks]\nfile = \"county.csv\"\nsets = [\"../../../../escaped\", \"a b\", \"a/b\", \"A-B\"]\n";
    let survey = Survey::new(&format!("{RESULTS}{uses}{sets}"), &files);
    let before = listed(&survey.path(""));
    survey.run();
    let after = listed(&survey.path(""));
    let made: Vec<&String> = after.difference(&before).collect();
    assert!(made.iter().all(|name| name.starts_with("out/")), "{made:?}");
    let maps = |start: &str, end: &str| {
        made.iter()
            .filter(|name| name.to_lowercase().starts_with(start) && name.ends_with(end))
            .map(|name| name.to_lowercase())
            .collect::<BTreeSet<_>>()
    };
    assert!(maps("out/public/maps/arsenic-", "chronic-health.svg").len() >= 2, "{made:?}");
    assert_eq!(
        maps("out/public/maps/arsenic-a-b-", ".svg").iter().filter(|name| !name.contains("hot")).count(),
        3,
        "{made:?}"
    );
    assert_eq!(maps("out/internal/maps/land-use-", ".svg").len(), 3, "{made:?}");
}

fn land_use(name: &str) -> String {
    format!(
        "\n[[land_use]]\nname = \"{name}\"\nmeasure = \"nearest\"\nfiles = [\"layer.csv\"]\ncolumns = {{ x = \"x\", y = \"y\" }}\ncrs = \"EPSG:4326\"\nbands = [250, 1000]\n"
    )
}

#[test]
fn area_names_are_no_file_names() {
    let survey = Survey::new(
        RESULTS,
        &[
            ("wells.csv", "well,lon,lat\nA1,-93.7,43\n"),
            ("lab.csv", "Site,Parameter,Result,Units,Collected\nA1,Arsenic,12,ug/L,2020-01-05\n"),
        ],
    );
    let areas = std::fs::read_to_string(survey.path("areas.geojson")).unwrap();
    survey.write(
        "areas.geojson",
        &areas.replacen("\"code\":\"W\"", "\"code\":\"../../../../W\"", 1).replacen(
            "\"code\": \"W\"",
            "\"code\": \"../../../../W\"",
            1,
        ),
    );
    let before = listed(&survey.path(""));
    survey.run();
    assert!(listed(&survey.path("")).difference(&before).all(|name| name.starts_with("out/")));
}
