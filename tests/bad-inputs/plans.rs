//! Plans that cannot be used, and plans that contradict themselves. Single keys: `tests/plan/cases.txt`.

use super::base::{Case, Spoilt, walk};

const FARMING: &str = "[[land_use]]\nname = \"farming\"\nmeasure = \"share\"\nfiles = [\"areas.geojson\"]\nclass = \"code\"\nclasses = [\"W\"]\nradius_m = 500\nbands = [0.1, 0.4]";

const CASES: &[Case] = &[
    ("the plan is missing", |s| s.remove("plan.toml")),
    ("the plan is a folder", |s| {
        s.remove("plan.toml");
        std::fs::create_dir(s.path("plan.toml")).unwrap();
    }),
    ("the plan is empty", |s| s.write("plan.toml", "")),
    ("the plan is not UTF-8", |s| s.write("plan.toml", b"[survey]\ntitle = \"Gr\xfcn\"\n")),
    ("the plan is not TOML", |s| s.plan("layout = \"long\"", "layout = long")),
    ("the plan holds a NUL byte", |s| s.plan("Spoilt", "Spo\0ilt")),
    ("the plan is larger than a plan can be", |s| s.add(&"# \n".repeat(6_000_000))),
    ("the plan is a device that never ends", |s| {
        s.remove("plan.toml");
        std::os::unix::fs::symlink("/dev/zero", s.path("plan.toml")).unwrap();
    }),
    ("lists in the plan nested a hundred thousand deep", |s| {
        s.add(&format!("[publish]\nmap_classes = {}{}", "[".repeat(100_000), "]".repeat(100_000)))
    }),
    ("a table opened twice", |s| s.add("[survey]\ntitle = \"again\"")),
    ("several unknown keys at once", |s| {
        s.plan("title", "titel");
        s.plan("layout", "layuot");
        s.plan("resamples", "resample");
    }),
    ("a key of another type", |s| s.plan("resamples = 100", "resamples = \"many\"")),
    ("long with analyte_columns", |s| {
        s.plan(
            "[[wells]]",
            "[results.analyte_columns]\n\"As\" = { analyte = \"arsenic\", unit = \"ug/L\" }\n\n[[wells]]",
        );
    }),
    ("wide with an analyte column", |s| s.plan("\"long\"", "\"wide\"")),
    ("areas from files and a grid", |s| {
        s.plan("id = \"code\"", "id = \"code\"\ngrid = { kind = \"square\", size_m = 5000 }")
    }),
    ("both date_format and date_order", |s| {
        s.plan("layout = \"long\"", "layout = \"long\"\ndate_format = \"%d.%m.%Y\"\ndate_order = \"day-first\"");
    }),
    ("one mark for decimals and thousands", |s| {
        s.plan("layout = \"long\"", "layout = \"long\"\ndecimal = \",\"\nthousands = \",\"")
    }),
    ("a period that ends before it begins", |s| {
        s.plan("title =", "period = { from = 2021-01-01, to = 2020-01-01 }\ntitle =")
    }),
    ("a day that does not exist", |s| s.plan("title =", "period = { from = 2021-02-30, to = 2022-01-01 }\ntitle =")),
    ("an interval above 1", |s| s.plan("resamples = 100", "interval = 95")),
    ("a smallest group of nothing", |s| s.add("[publish]\nsmallest_group = 0")),
    ("bands that fall", |s| s.add(&FARMING.replace("[0.1, 0.4]", "[0.4, 0.1]"))),
    ("a band that is no number", |s| s.add(&FARMING.replace("[0.1, 0.4]", "[nan, inf]"))),
    ("a radius with nearest", |s| s.add(&FARMING.replace("share", "nearest"))),
    ("one land use twice", |s| s.add(&format!("{FARMING}\n\n{FARMING}"))),
    ("an unknown benchmark set", |s| s.plan("us-mcl", "us-mlc")),
    ("a limit in an unknown unit", |s| s.add("[per_well]\nnon_detect_limits = { arsenic = \"1 spoonful\" }")),
    ("a limit for an unknown analyte", |s| s.add("[per_well]\nnon_detect_limits = { arsnic = \"1 ug/L\" }")),
    ("a name mapped to an unknown analyte", |s| {
        s.plan("layout = \"long\"", "layout = \"long\"\nnames = { \"As-T\" = \"arsenik\" }")
    }),
    ("a unit mapped to an unknown unit", |s| {
        s.plan("layout = \"long\"", "layout = \"long\"\nunits = { \"spoon\" = \"ug per barrel\" }")
    }),
    ("an unknown working system", |s| s.plan("title =", "working_crs = \"EPSG:123456\"\ntitle =")),
    ("a working system in degrees", |s| s.plan("title =", "working_crs = \"EPSG:4326\"\ntitle =")),
    ("a file named twice", |s| s.plan("[\"lab.csv\"]", "[\"lab.csv\", \"lab.csv\"]")),
    ("a pattern that matches nothing", |s| s.plan("lab.csv", "lab-*/*.csv")),
    ("a pattern that cannot be read", |s| s.plan("lab.csv", "lab[.csv")),
    ("a county's limits with three faults", |s| {
        s.plan("sets = [\"us-mcl\"]", "sets = [\"us-mcl\", \"county\"]\nfile = \"limits.csv\"");
        s.write(
            "limits.csv",
            "benchmark_set,analyte,limit,unit,sense,effect,effective\ncounty,arsnic,5,ug/L,max,chronic-health,2020\n\
             county,arsenic,5,hours,max,chronic-health,2020\ncounty,lead,much,ug/L,max,chronic-health,2020\n",
        );
    }),
    ("a kind of land use that no table of links knows", |s| {
        s.write("pumps.csv", "lon,lat\n-93.7,43\n");
        s.add("[[land_use]]\nname = \"pumps\"\nkind = \"feul\"\nmeasure = \"nearest\"\nfiles = [\"pumps.csv\"]\ncolumns = { x = \"lon\", y = \"lat\" }\ncrs = \"EPSG:4326\"\nbands = [250, 1000]");
    }),
    ("links that cannot be used", |s| {
        s.add("[recommend]\nlinks = \"links.csv\"");
        s.write("links.csv", "land_use,analyte,advise\nvineyard,coper,\n,nitrate,\nvineyard,zinc,sometimes\n");
    }),
    ("links without their columns", |s| {
        s.add("[recommend]\nlinks = \"links.csv\"");
        s.write("links.csv", "land use,test\nvineyard,copper\n");
    }),
    ("links without a line", |s| {
        s.add("[recommend]\nlinks = \"links.csv\"");
        s.write("links.csv", "land_use,analyte\n");
    }),
    ("prices that are no prices", |s| {
        s.add("[recommend]\nprices = \"prices.csv\"");
        s.write("prices.csv", "analyte,price\narsenic,cheap\n");
    }),
    ("a folder that is not there", |s| s.plan("lab.csv", "no/such/lab.csv")),
    ("a radius wider than the Earth", |s| s.add(&FARMING.replace("500", "1e300"))),
    ("a thousand bands", |s| {
        let edges: Vec<String> = (1..1000).map(|edge| format!("0.{edge:03}")).collect();
        s.add(&FARMING.replace("[0.1, 0.4]", &format!("[{}]", edges.join(", "))));
    }),
    ("squares wider than the Earth", |s| {
        s.plan(
            "files = [\"areas.geojson\"]\nid = \"code\"\nname = \"label\"",
            "grid = { kind = \"square\", size_m = 1e300 }",
        )
    }),
    ("hexagons of less than nothing", |s| {
        s.plan(
            "files = [\"areas.geojson\"]\nid = \"code\"\nname = \"label\"",
            "grid = { kind = \"hexagon\", size_m = 1e-300 }",
        )
    }),
    ("points moved farther than the Earth is wide", |s| {
        s.add("[publish]\ndisplaced_points = { ring_m = [250, 1e300], secret = \"a secret of invention\" }")
    }),
    ("a title of a million letters", |s| s.plan("Spoilt survey", &"x".repeat(1_000_000))),
    ("a land use whose name has ten thousand letters", |s| s.add(&FARMING.replace("farming", &"x".repeat(10_000)))),
    ("more wells in the smallest group than can be", |s| s.add("[publish]\nsmallest_group = 4294967296")),
    ("a key that would clear the screen", |s| s.add("[publish]\n\"\\u001B[2J\\u202E\" = 1")),
    ("a plan whose lines end in carriage returns alone", |s| {
        let text = String::from_utf8(s.read("plan.toml")).unwrap();
        s.write("plan.toml", text.replace('\n', "\r"));
    }),
    ("the same plan as UTF-16", |s| {
        let text = String::from_utf8(s.read("plan.toml")).unwrap();
        let bytes: Vec<u8> = std::iter::once(0xfeff).chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect();
        s.write("plan.toml", bytes);
    }),
    ("an address on the internet", |s| s.plan("lab.csv", "https://example.org/lab.csv")),
    ("a coordinate system with a grid from the internet", |s| {
        s.plan("EPSG:4326", "+proj=longlat +nadgrids=https://example.org/x.gsb")
    }),
    ("a layer called as a way out of the folder", |s| {
        s.plan("[areas]", "[[areas]]");
        s.add("[[areas]]\ncalled = \"../../else\"\nfiles = [\"areas.geojson\"]\nid = \"code\"");
    }),
];

#[test]
fn plans() {
    walk("plans", CASES);
}

/// The plan is named on the command line; a name that is not there is told like any other file.
#[test]
fn a_folder_for_the_plan_is_told() {
    let spoilt = Spoilt::new();
    let output = spoilt.wellreeve(&["check", "."]);
    assert_eq!(output.status.code(), Some(2), "{}", spoilt.told(&output));
}
