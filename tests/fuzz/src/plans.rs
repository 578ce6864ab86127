//! A plan's text, beside a few files that it may name.

use super::file;
use std::path::PathBuf;
use std::sync::Once;
use wellreeve::plan::{self, Plan};

const AREAS: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"code":"W"},"geometry":{"type":"Polygon","coordinates":[[[-94,42.8],[-93.5,42.8],[-93.5,43.2],[-94,42.8]]]}}]}"#;
const PLAN: &str = r#"[survey]
title = "An invented survey"
period = { from = 2015-01-01, to = 2025-12-31 }
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result" }
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"
[areas]
files = ["areas.geojson"]
id = "code"
[benchmarks]
sets = ["us-mcl"]
[per_well]
non_detect_limits = { arsenic = "1 ug/L" }
"#;

/// The files that plans name.
fn files() {
    thread_local! { static ONCE: Once = const { Once::new() }; }
    ONCE.with(|once| {
        once.call_once(|| {
            file("lab.csv", b"Site,Parameter,Result\nA1,Arsenic,12\n");
            file("wells.csv", b"well,lon,lat\nA1,-93.7,43\n");
            file("areas.geojson", AREAS.as_bytes());
        });
    });
}

/// The invented survey's plan.
pub fn sound() -> Plan {
    files();
    let loaded = plan::load(&file("sound.toml", PLAN.as_bytes()));
    assert!(loaded.problems.0.is_empty(), "{}", loaded.problems);
    loaded.plan.expect("a plan without problems is there")
}

/// The bytes are a plan. Patterns that look over the machine's folders are left out: they are lawful, and slow.
pub fn plan(data: &[u8]) {
    if data.windows(2).any(|two| two == b"/*" || two == b".." || two == b"**") || data.contains(&b'[') && outside(data)
    {
        return;
    }
    files();
    let path: PathBuf = file("plan.toml", data);
    let loaded = plan::load(&path);
    for problem in &loaded.problems.0 {
        assert!(!problem.to_string().is_empty());
    }
    let Some(plan) = loaded.plan else { return };
    let _ = wellreeve::normalise::Rules::new(&plan, &super::texts::DICTIONARY).map(|_| ());
}

/// Whether a text names the root of the file system.
fn outside(data: &[u8]) -> bool {
    data.windows(2).any(|two| two == b"\"/" || two == b"'/")
}
