//! Ways between coordinate systems, without grids: places, and the accuracy that is told for them.

use serde_json::{Value, json};
use wellreeve::place::crs::{Crs, CrsKind, Grids, Transformer};

use crate::close::{EXACT, Tolerance};
use crate::report::{Report, cases, maybe, read};

/// Runs the cases of file 16.
pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let data = &case["data"];
        let crs = |key: &str| Crs::parse(data[key].as_str().expect("a code")).expect("a known system");
        let (from, to) = (crs("from"), crs("to"));
        let way = Transformer::new(&from, &to, &Grids::Inside).expect("a way");
        let place = [read(&data["x"]), read(&data["y"])];
        let mut many = vec![place; 3];
        let lost = way.points(&mut many);
        let accuracy = way.operation(place).and_then(|operation| operation.accuracy);
        let [x, y] = many[1];
        let unit = if to.kind() == CrsKind::Geographic { "degrees" } else { "metres" };
        let tolerance = Tolerance { abs: read(&case["tolerance"][unit]), rel: 0.0 };
        let expected = &case["expected"];
        report.count();
        report.compare(case, "lost", &json!(lost), &json!(0), EXACT);
        report.compare(case, "x", &json!(x), &expected["x"], tolerance);
        report.compare(case, "y", &json!(y), &expected["y"], tolerance);
        report.compare(case, "accuracy_m", &maybe(accuracy), &expected["accuracy_m"], EXACT);
        report.published(case, &json!({"xy": [x, y], "x": x, "y": y}));
    }
}
