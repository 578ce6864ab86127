//! 17: rate by equal-area cells.

use serde_json::{Value, json};
use wellreeve::methods::equal_area::{Grid, rate};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got = figures(&case["data"]);
        report.check(case, &got);
    }
}

fn figures(data: &Value) -> Value {
    let count = |key: &str| data[key].as_u64().expect("a count") as usize;
    let origin = report::read_list(&data["origin"]);
    let grid = Grid {
        origin: (origin[0], origin[1]),
        size: report::read(&data["size"]),
        columns: count("columns"),
        rows: count("rows"),
    };
    let (x, y) = (report::read_list(&data["x"]), report::read_list(&data["y"]));
    let cells: Vec<_> = x.iter().zip(&y).map(|(x, y)| grid.cell(*x, *y)).collect();
    let states: Vec<_> = data["state"].as_array().expect("a list").iter().map(|s| s.as_u64().map(|s| s == 1)).collect();
    let got = rate(&cells, &states, report::read(&data["confidence"]));
    json!({
        "rate_equal_area": report::maybe(got.map(|r| r.rate)),
        "rate": report::maybe(got.map(|r| r.plain_rate)),
        "cells_used": got.map_or(0, |r| r.cells),
        "wells_used": got.map_or(0, |r| r.wells),
        "cell_se": report::maybe(got.and_then(|r| r.cell_error)),
        "effective_n": report::maybe(got.map(|r| r.effective_wells)),
        "interval": got.and_then(|r| r.interval),
        "cell_of_each": cells,
    })
}
