//! Wells whose places cannot be, and wells and areas that do not meet.

use super::base::{Case, Spoilt, WELLS, walk};

fn wells(s: &Spoilt, rows: &str) {
    s.write("wells.csv", format!("well,lon,lat\n{rows}"));
}

const CASES: &[Case] = &[
    ("an unknown coordinate system", |s| s.plan("EPSG:4326", "EPSG:999999")),
    ("a coordinate system that is no code", |s| s.plan("EPSG:4326", "the usual one")),
    ("no coordinate system", |s| s.plan("crs = \"EPSG:4326\"\n", "")),
    ("a column of systems with unknown ones", |s| {
        s.plan("y = \"lat\"", "y = \"lat\", crs = \"datum\"");
        s.plan("crs = \"EPSG:4326\"\n", "");
        s.write("wells.csv", "well,lon,lat,datum\nA1,-93.7,43,WGS84\nA2,-93.4,43,Mars 2000\nA3,-93.3,42.9,\n");
    }),
    ("latitude 91, longitude 181", |s| wells(s, "A1,-93.7,91\nA2,181,43\nA3,-93.3,42.9\n")),
    ("coordinates that are not finite", |s| wells(s, "A1,NaN,43\nA2,-93.4,inf\nA3,1e400,42.9\n")),
    ("coordinates that are no numbers", |s| wells(s, "A1,west,43\nA2,,\nA3,-93.3,42.9\n")),
    ("all at (0, 0)", |s| wells(s, "A1,0,0\nA2,0,0\nA3,0,0\n")),
    ("swapped, and with a lost sign", |s| wells(s, "A1,43,-93.7\nA2,93.4,43\nA3,-93.3,42.9\n")),
    ("one well at two places", |s| wells(s, &format!("{}A1,-93.2,43.1\n", WELLS.trim_start_matches("well,lon,lat\n")))),
    ("wells without areas: all far away", |s| wells(s, "A1,-80,30\nA2,-80.1,30\nA3,-80.2,30\n")),
    ("areas without wells: all in one", |s| wells(s, "A1,-93.7,43\nA2,-93.71,43\nA3,-93.72,43\n")),
    ("no wells listed", |s| wells(s, "")),
    ("an empty wells file", |s| s.write("wells.csv", "")),
    ("wells without ids", |s| wells(s, ",-93.7,43\n,-93.4,43\n")),
    ("a wells column that is not there", |s| s.plan("x = \"lon\"", "x = \"longitude\"")),
    ("another id that is itself a listed well", |s| {
        s.plan("crs = \"EPSG:4326\"", "crs = \"EPSG:4326\"\naliases = \"other.csv\"");
        s.write("other.csv", "other_id,well\nA1,A2\n");
    }),
    ("another id of two wells", |s| {
        s.plan("crs = \"EPSG:4326\"", "crs = \"EPSG:4326\"\naliases = \"other.csv\"");
        s.write("other.csv", "other_id,well\nB1,A1\nB1,A2\n");
    }),
    ("other ids without their columns", |s| {
        s.plan("crs = \"EPSG:4326\"", "crs = \"EPSG:4326\"\naliases = \"other.csv\"");
        s.write("other.csv", "old,new\nB1,A1\n");
    }),
];

#[test]
fn places() {
    walk("places", CASES);
}
