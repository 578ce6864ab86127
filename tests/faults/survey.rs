//! A survey that makes every kind of input be read and every kind of output be written, and is small.

use std::path::{Path, PathBuf};

const PLAN: &str = r#"
[survey]
title = "Faulty disk"
[[results]]
files = ["lab.csv", "lab.csv.gz", "lab.csv.zst", "lab.jsonl"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", qualifier = "Flag", date = "Collected" }
[[results]]
files = ["results.xlsx", "results.ods", "results.xls", "results.parquet"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", qualifier = "Flag", date = "Collected" }
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"
[[areas]]
files = ["areas.shp"]
id = "code"
name = "label"
wells_on_record = "wells"
[[areas]]
called = "second"
files = ["areas.gpkg"]
layer = "areas"
id = "code"
[[land_use]]
name = "farming"
measure = "share"
files = ["tiled.tif"]
classes = [21, 22]
radius_m = 500
bands = [0.1, 0.4]
[[land_use]]
name = "plots"
measure = "nearest"
files = ["areas.geojson"]
bands = [250, 1000]
[benchmarks]
sets = ["us-mcl"]
[recommend]
prices = "prices.csv"
budget = 50
[letters]
contact = "County Health Office"
[summary]
resamples = 100
[publish]
smallest_group = 1
[quality]
most_set_aside = 1.0
"#;

const LAB: &str = "Site,Parameter,Result,Units,Flag,Collected\n\
    V-1,Arsenic,12,ug/L,,2019-03-01\nV-2,Arsenic,3,ug/L,,2019-03-02\nV-3,Nitrate as N,14,mg/L,,2019-03-02\n";
const WELLS: &str =
    "well,lon,lat\nV-1,-93.45,44.55\nV-2,-93.35,44.55\nV-3,-93.4,44.65\nW-1,-92.9937,44.5143\nW-2,-93.44,44.52\n";

/// A survey on disk.
pub struct Survey {
    pub home: tempfile::TempDir,
}

impl Survey {
    pub fn new() -> Survey {
        let survey = Survey { home: tempfile::tempdir().unwrap() };
        survey.write("plan.toml", PLAN);
        survey.write("lab.csv", LAB);
        survey.write("lab.csv.gz", gzip(LAB.replace("2019-03", "2018-03").as_bytes()));
        survey.write("lab.csv.zst", zstd::encode_all(LAB.replace("2019-03", "2017-03").as_bytes(), 1).unwrap());
        survey.write("lab.jsonl", json(&LAB.replace("2019-03", "2016-03")));
        survey.write("wells.csv", WELLS);
        survey.write("prices.csv", "analyte or panel,price\narsenic,20\nnitrate_as_n,15\n");
        for name in ["results.xlsx", "results.ods", "results.xls", "results.parquet"] {
            survey.fixture("intake", name);
        }
        for end in ["shp", "shx", "dbf", "prj", "cpg", "gpkg", "geojson"] {
            survey.fixture("place", &format!("areas.{end}"));
        }
        survey.fixture("place", "tiled.tif");
        survey
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        std::fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        std::fs::write(self.path(name), bytes).unwrap();
    }

    fn fixture(&self, folder: &str, name: &str) {
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(folder).join(name);
        std::fs::copy(from, self.path(name)).unwrap();
    }

    /// Whether a folder that a run began still stands beside the output.
    pub fn begun(&self) -> bool {
        let names = std::fs::read_dir(self.home.path()).unwrap().map(|entry| entry.unwrap().file_name());
        names.into_iter().any(|name| name.to_string_lossy().contains("-being-written-"))
    }
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write;
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packed.write_all(bytes).unwrap();
    packed.finish().unwrap()
}

fn json(table: &str) -> String {
    let mut lines = table.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let names = lines.next().unwrap();
    let object = |cells: Vec<&str>| {
        let pairs = names.iter().zip(cells).map(|(name, cell)| (name.to_string(), serde_json::json!(cell)));
        serde_json::Value::Object(pairs.collect()).to_string() + "\n"
    };
    lines.map(object).collect()
}
