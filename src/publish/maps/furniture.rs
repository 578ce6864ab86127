//! What stands around every map: headings, frame, degree net, scale bar, north arrow, notes, source and date.
//!
//! Scale bar and arrow stand below the frame and so never hide an area.

use super::fault::MapFault;
use super::font;
use super::frame::Frame;
use super::palette::{INK, NET, OUTSIDE, PAPER, Rgb, SOFT};
use super::scene::{Anchor, Ends, Fill, Item, Point, Rim, Shape, Stroke, Text, Turn};
use super::view::GraticuleLine;

/// Width of every map in SVG pixels: readable when a phone shrinks it to its own width.
pub(super) const WIDTH: f64 = 520.0;
/// Margin on all sides.
pub(super) const MARGIN: f64 = 16.0;
/// Sizes of text.
pub(super) const TITLE_PX: f64 = 19.0;
/// Caption and legend.
pub(super) const TEXT_PX: f64 = 13.0;
/// Notes and source.
pub(super) const SMALL_PX: f64 = 11.0;
/// Degree labels.
const DEGREE_PX: f64 = SMALL_PX - 1.0;
/// Metres of an international mile.
const MILE_M: f64 = 1609.344;

/// Plain text with the left end at a place.
pub(super) fn text(text: &str, at: Point, size: f64, colour: Rgb) -> Item {
    Item::Text(Text {
        text: text.to_owned(),
        instead: String::new(),
        at,
        size,
        anchor: Anchor::Start,
        turn: Turn::Level,
        colour,
        rim: Rim::None,
    })
}

/// Broken text from `top` down; gives the y below it.
pub(super) fn block(items: &mut Vec<Item>, words: &str, top: f64, size: f64, colour: Rgb) -> Result<f64, MapFault> {
    let mut y = top;
    for line in font::wrap(words, size, WIDTH - 2.0 * MARGIN)? {
        items.push(text(&line, [MARGIN, y + size], size, colour));
        y += size * 1.35;
    }
    Ok(y)
}

/// Title and caption; gives the y below them.
pub(super) fn headings(items: &mut Vec<Item>, title: &str, caption: &str, top: f64) -> Result<f64, MapFault> {
    let below = block(items, title, top, TITLE_PX, INK)?;
    Ok(block(items, caption, below, TEXT_PX, SOFT)? + 8.0)
}

/// The frame's ground and the degree net, which lie under the areas.
pub(super) fn ground(items: &mut Vec<Item>, frame: &Frame, net: &[GraticuleLine]) {
    items.push(Shape::rectangle(frame.low, frame.high, Fill::Plain(OUTSIDE), None));
    for line in net {
        let pieces = frame.inside(&line.points);
        if !pieces.is_empty() {
            items.push(Shape::lines(pieces, NET, 0.8));
        }
    }
}

/// The frame's border, and the degrees outside it, where no area can lie; gives the y below them.
pub(super) fn edge(items: &mut Vec<Item>, frame: &Frame, net: &[GraticuleLine]) -> f64 {
    let border = Stroke { colour: SOFT, width: 1.0 };
    items.push(Shape::rectangle(frame.low, frame.high, Fill::None, Some(border)));
    let mut below = frame.high[1];
    for line in net {
        let pieces = frame.inside(&line.points);
        let mut ends = pieces.iter().flat_map(|piece| [piece.first(), piece.last()]).flatten();
        if let Some((at, turn)) = ends.find_map(|end| degree_place(frame, *end)) {
            let (text, instead, anchor, rim) = (line.label.clone(), String::new(), Anchor::Middle, Rim::None);
            items.push(Item::Text(Text { text, instead, at, size: DEGREE_PX, anchor, turn, colour: SOFT, rim }));
            below = below.max(at[1]);
        }
    }
    below
}

/// A degree stands where its line meets the left or the lower edge, away from the corners: below the frame, or turned
/// to read upwards in the margin at its left.
fn degree_place(frame: &Frame, end: Point) -> Option<(Point, Turn)> {
    let near = |a: f64, b: f64| (a - b).abs() < 0.5;
    let clear = |v: f64, low: f64, high: f64| v > low + 24.0 && v < high - 24.0;
    if near(end[0], frame.low[0]) && clear(end[1], frame.low[1], frame.high[1]) {
        return Some(([frame.low[0] - 4.0, end[1]], Turn::Upwards));
    }
    let lower = near(end[1], frame.high[1]) && clear(end[0], frame.low[0], frame.high[0]);
    lower.then_some(([end[0], frame.high[1] + 1.0 + DEGREE_PX], Turn::Level))
}

/// Scale bar (left) and north arrow (right) below `above`; gives the y below them.
pub(super) fn scale_and_north(items: &mut Vec<Item>, frame: &Frame, above: f64, north: f64) -> f64 {
    let top = above + 8.0;
    let metres = bar_metres((frame.high[0] - frame.low[0]) / 3.5 / frame.scale);
    let length = metres * frame.scale;
    let (left, y) = (frame.low[0], top + 6.0);
    let line = vec![[left, y - 4.0], [left, y + 3.0], [left + length, y + 3.0], [left + length, y - 4.0]];
    items.push(Shape::lines(vec![line], INK, 1.6));
    items.push(text(&bar_words(metres), [left + length + 8.0, y + 5.0], SMALL_PX, INK));
    arrow(items, [frame.high[0] - 16.0, top + 13.0], north);
    top + 32.0
}

/// The largest 1, 2 or 5 times a power of ten that is not above the room.
fn bar_metres(room: f64) -> f64 {
    let power = libm::pow(10.0, libm::log10(room.max(1.0)).floor());
    [5.0, 2.0].into_iter().map(|step| step * power).find(|length| *length <= room).unwrap_or(power)
}

fn bar_words(metres: f64) -> String {
    let miles = metres / MILE_M;
    let miles = if miles < 10.0 { format!("{miles:.1}") } else { format!("{miles:.0}") };
    if metres >= 1000.0 { format!("{} km ({miles} mi)", metres / 1000.0) } else { format!("{metres} m ({miles} mi)") }
}

/// An arrow head around a middle, turned clockwise by degrees, with its N beside it.
fn arrow(items: &mut Vec<Item>, middle: Point, degrees: f64) {
    let (sin, cos) = if degrees.is_finite() { libm::sincos(degrees.to_radians()) } else { (0.0, 1.0) };
    let turn = |x: f64, y: f64| [middle[0] + x * cos - y * sin, middle[1] + x * sin + y * cos];
    let half = |x: f64| vec![turn(0.0, -13.0), turn(x, 11.0), turn(0.0, 6.0)];
    let stroke = Some(Stroke { colour: INK, width: 1.0 });
    for (side, paint) in [(-7.0, INK), (7.0, PAPER)] {
        let shape =
            Shape { lines: vec![half(side)], ends: Ends::Closed, fill: Fill::Plain(paint), stroke, about: None };
        items.push(Item::Shape(shape));
    }
    let label = Text {
        text: "N".to_owned(),
        instead: String::new(),
        at: [middle[0] - 14.0, middle[1] + 5.0],
        size: TEXT_PX,
        anchor: Anchor::End,
        turn: Turn::Level,
        colour: INK,
        rim: Rim::None,
    };
    items.push(Item::Text(label));
}

/// Notes, source and date; gives the y below them.
pub(super) fn foot(
    items: &mut Vec<Item>,
    notes: &[String],
    source: &str,
    date: &str,
    top: f64,
) -> Result<f64, MapFault> {
    let mut y = top;
    for note in notes {
        y = block(items, note, y, SMALL_PX, INK)? + 2.0;
    }
    let last: Vec<&str> = [source, date].into_iter().filter(|words| !words.is_empty()).collect();
    block(items, &last.join(" · "), y, SMALL_PX, SOFT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_bar_is_a_round_length_that_fits() {
        for (room, length) in [(14_000.0, 10_000.0), (21_000.0, 20_000.0), (60_000.0, 50_000.0), (999.0, 500.0)] {
            assert_eq!(bar_metres(room), length);
        }
        // An international mile is 1609.344 m (NIST Handbook 44, Appendix C).
        assert_eq!(bar_words(20_000.0), "20 km (12 mi)");
        assert_eq!(bar_words(500.0), "500 m (0.3 mi)");
    }

    #[test]
    fn degrees_stand_outside_the_frame_where_no_area_can_lie() {
        let parts = [vec![vec![[0.0, 0.0], [9e4, 0.0], [9e4, 9e4], [0.0, 9e4]]]];
        let frame = Frame::fit([("a", parts.as_slice())].into_iter(), [MARGIN, 40.0], 400.0).unwrap();
        let line = |label: &str, points| GraticuleLine { label: label.to_owned(), points };
        let net = [line("43.4° N", vec![[-9e6, 4e4], [9e6, 4e4]]), line("93.5° W", vec![[5e4, -9e6], [5e4, 9e6]])];
        let mut items = Vec::new();
        let below = edge(&mut items, &frame, &net);
        let texts: Vec<&Text> =
            items.iter().filter_map(|item| if let Item::Text(text) = item { Some(text) } else { None }).collect();
        let [north, west] = texts.as_slice() else { panic!("{texts:?}") };
        assert!(north.turn == Turn::Upwards && north.at[0] < frame.low[0] && north.at[0] - north.size > 0.0);
        assert!(west.turn == Turn::Level && west.at[1] - west.size > frame.high[1] && west.at[1] <= below);
        assert_eq!(edge(&mut items, &frame, &[]), frame.high[1]);
    }
}
