//! Marks as SVG text: one by one where each can be pointed at, otherwise one path that carries its mark to every place.
//!
//! The path takes about nine bytes a place. Places are whole tenths of a pixel, sorted from above to below, and marks
//! that fall on the same place are written once; where there are very many, one stands for each half pixel.

use super::escape::xml;
use super::palette::PAPER;
use super::scene::{MarkForm, Marks, Point};
use super::stamp::{LINE, RIM};

/// More marks than this, none with words, share one path.
const MOST_SINGLE: usize = 50;
/// More marks than this share half pixels.
const MOST_PLACED: usize = 20_000;
/// Sides of the cells in which one mark is enough, in tenths of a pixel.
const CELLS: [i64; 2] = [1, 5];

/// Marks of one form; `picture` tells the names of one picture from another's.
pub(super) fn write(marks: &Marks, picture: &str) -> String {
    if marks.at.is_empty() {
        String::new()
    } else if marks.at.len() > MOST_SINGLE && marks.at.iter().all(|(_, words)| words.is_empty()) {
        crowd(marks, picture)
    } else {
        singles(marks)
    }
}

fn singles(marks: &Marks) -> String {
    let mut out = format!("<g {}>", look(marks));
    for (at, words) in &marks.at {
        out.push_str("<path d=\"");
        out.push_str(&path(marks.form, *at, marks.radius));
        if words.is_empty() {
            out.push_str("\"/>");
        } else {
            out.push_str("\"><title>");
            out.push_str(&xml(words));
            out.push_str("</title></path>");
        }
    }
    out.push_str("</g>");
    out
}

/// One path without a line of its own whose every corner carries the mark.
fn crowd(marks: &Marks, picture: &str) -> String {
    let kind = format!("{:?}", marks.form).to_lowercase();
    let name = format!("{kind}-{}-{picture}", marks.colour.hex().trim_start_matches('#'));
    let half = (marks.radius + LINE).ceil();
    let (from, across) = (tenth(-half), tenth(2.0 * half));
    let mark = path(marks.form, [0.0, 0.0], marks.radius);
    let each = ["start", "mid", "end"].map(|place| format!("marker-{place}=\"url(#{name})\""));
    format!(
        "<marker id=\"{name}\" markerUnits=\"userSpaceOnUse\" markerWidth=\"{across}\" markerHeight=\"{across}\" \
         viewBox=\"{from} {from} {across} {across}\"><path d=\"{mark}\" {}/></marker>\
         <path d=\"{}\" fill=\"none\" stroke=\"none\" {}/>",
        look(marks),
        route(&places(marks)),
        each.join(" ")
    )
}

/// Places in tenths of a pixel, from above to below, one for each cell.
fn places(marks: &Marks) -> Vec<[i64; 2]> {
    let cell = if marks.at.len() > MOST_PLACED { CELLS[1] } else { CELLS[0] };
    let tenths = |at: Point| at.map(|v| (v * 10.0).round() as i64);
    let of = |at: [i64; 2]| [at[1].div_euclid(cell), at[0].div_euclid(cell)];
    // Cells are worked out once, not at every comparison.
    let celled = marks.at.iter().map(|(at, _)| tenths(*at)).map(|at| (of(at), at[1], at[0]));
    let mut places: Vec<([i64; 2], i64, i64)> = celled.collect();
    places.sort_unstable();
    places.dedup_by_key(|(cell, ..)| *cell);
    places.into_iter().map(|(_, y, x)| [x, y]).collect()
}

/// A path through all places, each written as its distance from the one before.
fn route(places: &[[i64; 2]]) -> String {
    let mut out = String::with_capacity(9 * places.len() + 16);
    let mut last = [0, 0];
    for (number, at) in places.iter().enumerate() {
        match number {
            0 => out.push('M'),
            1 => out.push('l'),
            _ => {}
        }
        for axis in 0..2 {
            push(&mut out, at[axis] - last[axis]);
        }
        last = *at;
    }
    out
}

/// A number of tenths, set apart from a number before it.
fn push(out: &mut String, tenths: i64) {
    if tenths < 0 {
        out.push('-');
    } else if out.ends_with(|c: char| c.is_ascii_digit()) {
        out.push(' ');
    }
    let (whole, part) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    if whole > 0 || part == 0 {
        digits(out, whole);
    }
    if part > 0 {
        out.push('.');
        digits(out, part);
    }
}

fn digits(out: &mut String, number: u64) {
    if number >= 10 {
        digits(out, number / 10);
    }
    out.push(char::from(b'0' + (number % 10) as u8));
}

/// A number with at most one decimal.
fn tenth(value: f64) -> String {
    let mut out = String::new();
    push(&mut out, (value * 10.0).round() as i64);
    out
}

fn look(marks: &Marks) -> String {
    let (colour, paper) = (marks.colour.hex(), PAPER.hex());
    match marks.form {
        MarkForm::Ring | MarkForm::Cross => format!("fill=\"{paper}\" stroke=\"{colour}\" stroke-width=\"{LINE}\""),
        MarkForm::Diamond | MarkForm::Disc => format!("fill=\"{colour}\" stroke=\"{paper}\" stroke-width=\"{RIM}\""),
    }
}

fn path(form: MarkForm, at: Point, radius: f64) -> String {
    let (x, y, r, across) = (tenth(at[0]), tenth(at[1]), tenth(radius), tenth(2.0 * radius));
    let (left, top) = (tenth(at[0] - radius), tenth(at[1] - radius));
    match form {
        MarkForm::Diamond => format!("M{x} {top}l{r} {r}-{r} {r}-{r}-{r}Z"),
        MarkForm::Disc | MarkForm::Ring => format!("M{left} {y}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0-{across} 0Z"),
        MarkForm::Cross => format!("M{left} {y}h{across}M{x} {top}v{across}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::publish::maps::palette::Rgb;

    fn of(at: Vec<(Point, String)>) -> Marks {
        Marks { form: MarkForm::Disc, colour: Rgb(0, 0, 0), radius: 2.0, at }
    }

    /// Reads a route back: signed decimals after one M and one l (W3C SVG 2, section 9.3.9, the grammar of paths).
    fn read(route: &str) -> Vec<[f64; 2]> {
        let apart = route.replace(['M', 'l'], " ").replace('-', " -");
        let numbers: Vec<f64> = apart.split_ascii_whitespace().map(|n| n.parse().unwrap()).collect();
        let step = |at: &mut [f64; 2], by: &[f64]| {
            *at = [at[0] + by[0], at[1] + by[1]];
            Some(*at)
        };
        numbers.chunks(2).scan([0.0, 0.0], step).collect()
    }

    #[test]
    fn texts_of_data_cannot_become_markup() {
        let text = write(&of(vec![([1.0, 1.0], "<script>\"&".to_owned())]), "x");
        assert!(text.contains("<title>&lt;script&gt;&quot;&amp;</title>"));
    }

    #[test]
    fn numbers_are_short_and_kept_apart() {
        assert_eq!(route(&[[125, 40], [124, 42], [224, 42], [0, 0]]), "M12.5 4l-.1 .2 10 0-22.4-4.2");
    }

    #[test]
    fn every_place_is_on_the_route_to_a_twentieth_of_a_pixel() {
        let at: Vec<Point> =
            (0..3000).map(|n| [f64::from(n * 7919 % 4999) * 0.0973, f64::from(n * 104_729 % 4993) * 0.0911]).collect();
        let text = write(&of(at.iter().map(|at| (*at, String::new())).collect()), "x");
        let route = text.split("</marker><path d=\"").nth(1).unwrap().split('"').next().unwrap();
        let read = read(route);
        let near = |a: &Point, b: &Point| (a[0] - b[0]).abs() < 0.051 && (a[1] - b[1]).abs() < 0.051;
        assert!(read.len() <= at.len() && at.iter().all(|at| read.iter().any(|found| near(at, found))));
    }

    #[test]
    fn a_hundred_thousand_marks_take_less_than_a_megabyte_and_none_is_half_a_pixel_from_a_written_one() {
        let at: Vec<(Point, String)> = (0..100_000_u64)
            .map(|n| ([(n * 7919 % 99_991) as f64 * 0.0049, (n * 104_729 % 99_989) as f64 * 0.0049], String::new()))
            .collect();
        let marks = of(at);
        assert!(write(&marks, "x").len() < 1_000_000);
        let kept: std::collections::BTreeSet<[i64; 2]> =
            places(&marks).iter().map(|at| at.map(|v| v.div_euclid(5))).collect();
        let cell = |at: &Point| at.map(|v| ((v * 10.0).round() as i64).div_euclid(5));
        assert!(marks.at.iter().all(|(at, _)| kept.contains(&cell(at))));
    }
}
