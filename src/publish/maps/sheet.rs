//! Small multiples: all maps of a run on one sheet, in the same classes, so that tests can be compared at a glance.
//!
//! A reader would question the common classes: a rare test is then pale all over, which is what the sheet is for; its
//! own map shows where within the region it is less rare.

use super::choropleth::{entries, fill};
use super::classes::Classes;
use super::fault::MapFault;
use super::font;
use super::frame::{Frame, points};
use super::furniture::{MARGIN, SMALL_PX, TEXT_PX, TITLE_PX, text};
use super::legend;
use super::palette::{BORDER, INK, OUTSIDE, SOFT};
use super::scene::{Ends, Fill, Item, Point, Scene, Shape, Stroke};
use super::view::{MapValue, MapView};
use super::{png, svg};

/// Maps side by side, the width of one, and the space between.
const COLUMNS: usize = 4;
const WIDE: f64 = 248.0;
const GAP: f64 = 18.0;
/// Points of an outline are moved to this grid: the maps are small.
const GRID: f64 = 0.5;
/// Above this many points on the sheet, to this one.
const COARSE: (usize, f64) = (60_000, 1.0);

/// The sheet as SVG text.
///
/// # Errors
/// A [`MapFault`] where nothing has an outline, or a coordinate, rate or class limit is unusable.
pub fn sheet_svg(title: &str, views: &[&MapView]) -> Result<String, MapFault> {
    Ok(svg::write(&scene(title, views)?))
}

/// The sheet as the bytes of a PNG file.
///
/// # Errors
/// As [`sheet_svg`], and where the picture cannot be encoded.
pub fn sheet_png(title: &str, views: &[&MapView]) -> Result<Vec<u8>, MapFault> {
    png::write(&scene(title, views)?)
}

fn scene(title: &str, views: &[&MapView]) -> Result<Scene, MapFault> {
    let width = MARGIN * 2.0 + WIDE * COLUMNS as f64 + GAP * (COLUMNS - 1) as f64;
    let classes = classes(views)?;
    let mut items = vec![
        text(title, [MARGIN, 12.0 + TITLE_PX], TITLE_PX, INK),
        text("share of wells beyond each limit, all tests in the same classes", [MARGIN, 54.0], TEXT_PX, SOFT),
    ];
    let mut top = 70.0;
    for row in views.chunks(COLUMNS) {
        let mut below: f64 = top;
        for (column, view) in row.iter().enumerate() {
            let left = MARGIN + (WIDE + GAP) * column as f64;
            below = below.max(small(&mut items, view, &classes, [left, top], grid(views))?);
        }
        top = below + GAP;
    }
    let Some(first) = views.first() else { return Err(MapFault::NoOutline) };
    let whole = MapView { areas: views.iter().flat_map(|view| view.areas.clone()).collect(), ..(*first).clone() };
    let (left, right) = entries(&whole, &classes);
    let mut below = legend::columns(&mut items, &left, &right, top)?;
    for words in
        ["Counts are of areas on all maps together. Shares of areas with few wells lean on the others.", &first.date]
    {
        items.push(text(words, [MARGIN, below + SMALL_PX], SMALL_PX, SOFT));
        below += SMALL_PX * 1.5;
    }
    let description = format!("{} small maps: share of wells beyond each limit, by area.", views.len());
    Ok(Scene { width, height: (below + 10.0).ceil(), title: title.to_owned(), description, items })
}

fn grid(views: &[&MapView]) -> f64 {
    let all: usize = views.iter().flat_map(|view| &view.areas).map(|area| points(&area.parts)).sum();
    if all > COARSE.0 { COARSE.1 } else { GRID }
}

/// Classes of the rates of all maps.
fn classes(views: &[&MapView]) -> Result<Classes, MapFault> {
    if let Some(limits) = views.iter().find_map(|view| view.breaks.as_ref()) {
        return Classes::fixed(limits);
    }
    let rate = |value: MapValue| if let MapValue::Rate { rate, .. } = value { Some(rate) } else { None };
    let rates: Vec<f64> = views.iter().flat_map(|view| &view.areas).filter_map(|area| rate(area.value)).collect();
    Ok(Classes::of(&rates))
}

/// One small map; gives the y below it.
fn small(items: &mut Vec<Item>, view: &MapView, classes: &Classes, at: Point, grid: f64) -> Result<f64, MapFault> {
    let mut y = at[1];
    for line in font::wrap(&view.title, TEXT_PX, WIDE)?.iter().take(2) {
        y += TEXT_PX * 1.25;
        items.push(text(line, [at[0], y], TEXT_PX, INK));
    }
    let caption = view.caption.trim_start_matches("share of ");
    // Two lines each, used or not, so that the maps of a row stand level.
    let captions = font::wrap(caption, SMALL_PX, WIDE)?;
    for line in 0..2 {
        y += SMALL_PX * 1.3;
        items.extend(captions.get(line).map(|words| text(words, [at[0], y], SMALL_PX, SOFT)));
    }
    let named = view.areas.iter().map(|area| (area.name.as_str(), area.parts.as_slice()));
    let frame = Frame::fit(named, [at[0], y + 6.0], WIDE)?;
    items.push(Shape::rectangle(frame.low, frame.high, Fill::Plain(OUTSIDE), None));
    for area in &view.areas {
        let (lines, fill) = (frame.rings(&area.parts, grid), fill(area.value, classes));
        let stroke = Some(Stroke { colour: BORDER, width: 0.5 });
        items.push(Item::Shape(Shape { lines, ends: Ends::Closed, fill, stroke, about: None }));
    }
    Ok(frame.high[1])
}
