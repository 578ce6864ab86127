//! Displaced points: beside their wells and inside their areas, none of hidden areas, none unless asked for.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use survey::{files, number, run, table};

/// The demo with a ring, few resamples and no letters; where it lies and the points it gave, by area.
fn demo(publish: &str) -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    for part in ["laboratories", "wells", "maps"] {
        for (name, bytes) in files(&demo.join(part)) {
            let path = home.path().join(part).join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, bytes).unwrap();
        }
    }
    for name in ["county-benchmarks.csv", "prices.csv"] {
        std::fs::copy(demo.join(name), home.path().join(name)).unwrap();
    }
    let plan = std::fs::read_to_string(demo.join("plan.toml")).unwrap();
    let plan = plan.replace("resamples = 2000", "resamples = 100");
    assert_eq!(plan.matches("[publish]\n").count(), 1);
    let plan = plan.replace("[publish]\n", &format!("[publish]\n{publish}\n"));
    std::fs::write(home.path().join("plan.toml"), plan).unwrap();
    let out = home.path().join("out");
    run(&home.path().join("plan.toml"), &out);
    (home, out)
}

fn points(out: &Path) -> Vec<(String, [f64; 2])> {
    let text = std::fs::read(out.join("public/points.geojson")).unwrap();
    let parsed: serde_json::Value = serde_json::from_slice(&text).unwrap();
    let one = |feature: &serde_json::Value| {
        let at = &feature["geometry"]["coordinates"];
        let properties = feature["properties"].as_object().unwrap();
        assert_eq!(properties.len(), 1, "an area and nothing else");
        (properties["area_id"].as_str().unwrap().to_owned(), [at[0].as_f64().unwrap(), at[1].as_f64().unwrap()])
    };
    parsed["features"].as_array().unwrap().iter().map(one).collect()
}

/// Metres between two places on a sphere; good to half a percent, as the ring is tried with a percent of slack.
fn metres(a: [f64; 2], b: [f64; 2]) -> f64 {
    let [dx, dy] = [(a[0] - b[0]) * libm::cos((0.5 * (a[1] + b[1])).to_radians()), a[1] - b[1]];
    libm::hypot(dx, dy).to_radians() * 6_371_000.0
}

#[test]
fn points_lie_in_the_ring_and_in_their_area() {
    const RING: &str = "displaced_points = { ring_m = [300, 900], secret = \"nobody guesses this\" }";
    let (_home, out) = demo(RING);
    let points = points(&out);
    let mut wells: BTreeMap<String, Vec<[f64; 2]>> = BTreeMap::new();
    for well in table(&out.join("internal/wells.csv")).iter().filter(|well| !well["longitude"].is_empty()) {
        let at = [number(well, "longitude"), number(well, "latitude")];
        wells.entry(well["area_id"].clone()).or_default().push(at);
    }
    for (area, at) in &points {
        let near = wells[area].iter().filter(|well| (295.0..=920.0).contains(&metres(**well, *at))).count();
        assert!(near > 0, "{area} {at:?}: no well of the area is that far");
    }
    let shown = table(&out.join("public/tables/coverage.csv"));
    let mut hidden = 0;
    for row in &shown {
        let count = points.iter().filter(|(area, _)| *area == row["area_id"]).count();
        match row["wells_sampled"].as_str() {
            "" => {
                assert_eq!(count, 0, "{row:?}");
                hidden += 1;
            }
            sampled => {
                let sampled: usize = sampled.parse().unwrap();
                assert!(count <= sampled && count * 10 >= sampled * 9, "{count} of {sampled}");
            }
        }
    }
    assert!(hidden > 0, "the demo hides an area");
    let (_home, again) = demo(&RING.replace("nobody guesses this", "nobody guesses that"));
    assert_ne!(points, self::points(&again), "another secret, other places");
}

#[test]
fn no_points_unless_asked_for() {
    let (_home, out) = demo("");
    assert!(!out.join("public/points.geojson").exists());
}
