//! The words inside areas: name and rate where both fit, otherwise one of them, otherwise nothing.
//!
//! A label never leaves its area. Over a pattern it gets a ground of its own, so that it can be read.

use super::fault::MapFault;
use super::font;
use super::palette::{INK, PAPER, SOFT, ink_on};
use super::scene::{Anchor, Fill, Item, Point, Rim, Shape, Text, Turn};
use super::spot;
use super::view::{MapArea, MapValue};
use crate::publish::report::percent;

/// Sizes at which a label is tried, in SVG pixels an em.
const SIZES: [f64; 3] = [12.0, 10.5, 9.0];
/// Distance of lines in ems.
const LINE: f64 = 1.2;

/// The label of an area of a choropleth.
pub(super) fn area(area: &MapArea, rings: &[Vec<Point>], fill: Fill) -> Result<Vec<Item>, MapFault> {
    let rate = match area.value {
        MapValue::Rate { rate, .. } => Some(percent(rate)),
        MapValue::Hidden | MapValue::NoData | MapValue::Called(_) => None,
    };
    for lines in choices(&area.name, rate) {
        for size in SIZES {
            if let Some(at) = place(&lines, rings, size)? {
                return stacked(&lines, at, size, fill, &area.id);
            }
        }
    }
    Ok(Vec::new())
}

/// A name inside an outline on paper, where it fits and covers the fewest marks.
pub(super) fn name(name: &str, rings: &[Vec<Point>], marks: &[Point]) -> Result<Option<Item>, MapFault> {
    let lines = [name.to_owned()];
    for size in SIZES {
        let (wide, tall) = (widest(&lines, size)? + 6.0, size * LINE + 4.0);
        if let Some(at) = spot::find_clear(rings, wide, tall, marks) {
            let (text, instead, at) = (name.to_owned(), String::new(), [at[0], at[1] + size * 0.36]);
            let rim = Rim::Of(PAPER);
            return Ok(Some(Item::Text(Text {
                text,
                instead,
                at,
                size,
                anchor: Anchor::Middle,
                turn: Turn::Level,
                colour: SOFT,
                rim,
            })));
        }
    }
    Ok(None)
}

/// What may stand in an area, best first.
fn choices(name: &str, rate: Option<String>) -> Vec<Vec<String>> {
    let names = [Some(vec![name.to_owned()]), halves(name)];
    let names: Vec<Vec<String>> = names.into_iter().flatten().collect();
    let Some(rate) = rate else { return names };
    let with_rate = names.iter().map(|lines| lines.iter().cloned().chain([rate.clone()]).collect());
    with_rate.chain([vec![rate.clone()]]).collect()
}

/// A name in two lines, broken at the space nearest to its middle.
fn halves(name: &str) -> Option<Vec<String>> {
    let spaces = name.char_indices().filter(|(_, c)| *c == ' ').map(|(at, _)| at);
    let at = spaces.min_by_key(|at| (2 * at).abs_diff(name.len()))?;
    let (first, second) = name.split_at_checked(at)?;
    Some(vec![first.to_owned(), second.trim_start().to_owned()])
}

fn place(lines: &[String], rings: &[Vec<Point>], size: f64) -> Result<Option<Point>, MapFault> {
    Ok(spot::find(rings, widest(lines, size)? + 6.0, size * LINE * lines.len() as f64 + 4.0))
}

fn widest(lines: &[String], size: f64) -> Result<f64, MapFault> {
    lines.iter().try_fold(0.0, |widest: f64, line| Ok(widest.max(font::width(line, size)?)))
}

fn stacked(lines: &[String], at: Point, size: f64, fill: Fill, id: &str) -> Result<Vec<Item>, MapFault> {
    let (colour, paper) = match fill {
        Fill::Plain(paper) | Fill::Pattern { paper, .. } => (ink_on(paper), paper),
        Fill::None => (INK, PAPER),
    };
    let mut items = Vec::new();
    if matches!(fill, Fill::Pattern { .. }) {
        let half = [widest(lines, size)? / 2.0 + 3.0, size * LINE * lines.len() as f64 / 2.0 + 1.0];
        let corner = |sign: f64| [at[0] + sign * half[0], at[1] + sign * half[1]];
        items.push(Shape::rectangle(corner(-1.0), corner(1.0), Fill::Plain(paper), None));
    }
    let first = at[1] - size * LINE * (lines.len() as f64 - 1.0) / 2.0 + size * 0.36;
    for (number, line) in lines.iter().enumerate() {
        let at = [at[0], first + size * LINE * number as f64];
        let (text, instead) = (line.clone(), id.to_owned());
        let rim = Rim::Of(paper);
        items.push(Item::Text(Text {
            text,
            instead,
            at,
            size,
            anchor: Anchor::Middle,
            turn: Turn::Level,
            colour,
            rim,
        }));
    }
    Ok(items)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_break_near_their_middle() {
        assert_eq!(halves("Lower Vale of the Two Long Rivers").unwrap(), ["Lower Vale of the", "Two Long Rivers"]);
        assert_eq!(halves("Wend"), None);
    }

    #[test]
    fn a_rate_stands_alone_where_the_name_does_not_fit() {
        assert_eq!(choices("Wend", Some("5%".to_owned())), [vec!["Wend", "5%"], vec!["5%"]]);
        assert_eq!(choices("Wend", None), [vec!["Wend"]]);
    }
}
