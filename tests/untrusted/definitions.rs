//! Definitions of coordinate systems come out of data files too, and PROJ opens what some of them name.

use crate::survey::Survey;
use wellreeve::place::crs::{Crs, CrsFault};

#[test]
fn a_definition_that_names_a_file_is_refused() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("own");
    std::fs::write(&file, "<x> +proj=longlat +datum=WGS84 <>\n").unwrap();
    for text in [
        format!("+init={}:x", file.display()),
        format!("+proj=longlat +ellps=WGS84 +nadgrids={}", file.display()),
        format!("+proj=longlat +ellps=WGS84 +nadgrids=@{} +type=crs", file.display()),
        format!("+proj=longlat +datum=WGS84 +geoidgrids={} +type=crs", file.display()),
    ] {
        assert!(matches!(Crs::parse(&text), Err(CrsFault::NamesFile { .. })), "{text}: {:?}", Crs::parse(&text));
    }
    Crs::parse("+proj=longlat +a=6378137 +b=6378137 +nadgrids=@null +no_defs +type=crs").unwrap();
}

/// In a well list's column of datums such a text is one more system that is not known; in a map file it is the file's fault.
#[test]
fn in_data_files_it_is_told() {
    let results = "\n[[results]]\nfiles = [\"lab.csv\"]\nlayout = \"long\"\n\
        columns = { well = \"Site\", analyte = \"Parameter\", value = \"Result\", unit = \"Units\", date = \"Collected\" }\n";
    let lab = "Site,Parameter,Result,Units,Collected\nA1,Arsenic,12,ug/L,2020-01-05\n";
    let survey = Survey::new(results, &[("wells.csv", "well,lon,lat\nA1,-93.7,43\n"), ("lab.csv", lab)]);
    let areas = std::fs::read_to_string(survey.path("areas.geojson")).unwrap();
    let crs = "{\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"+proj=longlat +nadgrids=/etc/hostname\"}},";
    survey.write("areas.geojson", &areas.replacen('{', crs, 1));
    let quiet = wellreeve::progress::Progress::new(wellreeve::progress::Mode::Quiet);
    let told = wellreeve::run(&survey.path("plan.toml"), &survey.path("out"), &quiet).unwrap_err().to_string();
    assert!(told.contains("names a file"), "{told}");
    assert!(!survey.path("out").exists());
}
