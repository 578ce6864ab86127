//! Shares of circles: closed forms, and counties whose cities are holes. Each is taken both from one polygon and from the index.

use serde_json::{Value, json};
use wellreeve::place::circle::{CoverIndex, shared_area};
use wellreeve::place::shape::{Point, Polygon};

use crate::close::Tolerance;
use crate::report::{Report, cases, number, read, read_list};

/// Runs the cases of file 14.
pub fn run(file: &Value, report: &mut Report) {
    for case in cases(file) {
        let data = &case["data"];
        let polygons = polygons(&data["polygons"]);
        let centre = point(&data["centre"]);
        let radius = read(&data["radius"]);
        let circle = std::f64::consts::PI * radius * radius;
        let tolerance = Tolerance { abs: read(&case["tolerance"]["share_abs"]), rel: 0.0 };
        let summed: f64 = polygons.iter().map(|polygon| shared_area(polygon, centre, radius)).sum();
        let cover = CoverIndex::new(&polygons, None).cover(centre, radius);
        report.count();
        for (share, area) in [(summed / circle, summed), (cover.share, cover.area)] {
            report.compare(case, "share", &number(share), &case["expected"]["share"], tolerance);
            let as_area = Tolerance { abs: tolerance.abs * circle, rel: 0.0 };
            report.compare(case, "area", &number(area), &case["expected"]["area"], as_area);
        }
        report.published(case, &json!({"share": cover.share, "area": cover.area}));
    }
}

fn polygons(value: &Value) -> Vec<Polygon> {
    let list = |value: &Value| value.as_array().expect("a list").clone();
    let ring = |value: &Value| list(value).iter().map(point).collect::<Vec<Point>>();
    let polygon = |value: &Value| Polygon::new(list(value).iter().map(ring).collect()).expect("a polygon");
    list(value).iter().map(polygon).collect()
}

fn point(value: &Value) -> Point {
    let numbers = read_list(value);
    [numbers[0], numbers[1]]
}
