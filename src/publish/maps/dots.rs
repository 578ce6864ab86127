//! The internal map of wells: four states that differ by shape as well as colour, over the outlines of the areas.
//!
//! It shows where wells are, so it says at its head that it must not be published. What exceeds is painted last and
//! is never hidden beneath a well that meets the benchmark.

use super::fault::MapFault;
use super::frame::{FINE_GRID, Frame, grid_for, points};
use super::furniture::{self, MARGIN, WIDTH};
use super::labels;
use super::legend::{self, Entry, Sample, counted};
use super::palette::{BORDER, PAPER, Rgb, class_colour, states};
use super::scene::{Ends, Fill, Item, MarkForm, Marks, Point, Scene, Shape, Stroke};
use super::view::{DotState, DotsView, Marking};
use super::{png, svg};

/// What stands at the head of every internal map.
const INTERNAL: &str = "Internal: shows where wells are. Not to be published or passed on.";

/// More wells than this show no labels: each would need an element of its own, and the text would grow tenfold.
pub const MOST_LABELLED: usize = 5_000;

/// The map as SVG text. A well with a label shows it when the pointer rests on it, unless there are more than 5,000
/// wells; the notes then say so.
///
/// # Errors
/// A [`MapFault`] where nothing has an outline or a coordinate is unusable.
pub fn dots_svg(view: &DotsView) -> Result<String, MapFault> {
    let points = view.outlines.iter().map(|outline| points(&outline.parts)).sum();
    Ok(svg::write(&scene(view, grid_for(points), Labels::Shown)?))
}

/// The map as the bytes of a PNG file.
///
/// # Errors
/// As [`dots_svg`], and where the picture cannot be encoded.
pub fn dots_png(view: &DotsView) -> Result<Vec<u8>, MapFault> {
    png::write(&scene(view, FINE_GRID, Labels::Dropped)?)
}

/// Form, colour, size and meaning of a state, in the order of painting.
const LOOKS: [(DotState, MarkForm, Rgb, f64, &str); 4] = [
    (DotState::NotDetected, MarkForm::Ring, states::ABSENT, 3.2, "not detected"),
    (DotState::DetectedBelow, MarkForm::Disc, states::BELOW, 3.4, "detected, meets the benchmark"),
    (DotState::Undetermined, MarkForm::Cross, states::EITHER, 4.2, "result allows both"),
    (DotState::Exceeds, MarkForm::Diamond, states::EXCEEDS, 5.0, "exceeds the benchmark"),
];

/// How one state looks.
type Look = (DotState, MarkForm, Rgb, f64, String);

/// The looks of a map, in the order of painting.
fn looks(view: &DotsView) -> Vec<Look> {
    match &view.marking {
        Marking::Results => {
            LOOKS.iter().map(|(s, form, colour, r, words)| (*s, *form, *colour, *r, (*words).to_owned())).collect()
        }
        Marking::Bands(names) => {
            let unknown = (DotState::NoBand, MarkForm::Cross, states::EITHER, 3.6, "not known".to_owned());
            let bands = names.iter().enumerate().map(|(at, words)| band(at, names.len(), words));
            std::iter::once(unknown).chain(bands).collect()
        }
    }
}

/// The highest band is a dark diamond, the lowest an open ring, those between are discs that darken.
fn band(at: usize, bands: usize, words: &str) -> Look {
    let state = DotState::Band(u8::try_from(at).unwrap_or(u8::MAX));
    let (form, colour, radius) = match at {
        _ if at + 1 == bands => (MarkForm::Diamond, states::EXCEEDS, 5.0),
        0 => (MarkForm::Ring, states::ABSENT, 3.2),
        _ => (MarkForm::Disc, class_colour(at, bands), 3.4),
    };
    (state, form, colour, radius, words.to_owned())
}

/// Whether marks carry their wells' labels.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Labels {
    /// As long as there are not too many wells.
    Shown,
    /// A picture in pixels cannot show them.
    Dropped,
}

fn scene(view: &DotsView, grid: f64, labels: Labels) -> Result<Scene, MapFault> {
    let mut items = Vec::new();
    let below = furniture::block(&mut items, INTERNAL, 10.0, furniture::SMALL_PX, states::EITHER)?;
    let below = furniture::headings(&mut items, &view.title, &view.caption, below + 2.0)?;
    let named = view.outlines.iter().map(|outline| (outline.name.as_str(), outline.parts.as_slice()));
    let frame = Frame::fit(named, [MARGIN, below], WIDTH - 2.0 * MARGIN)?;
    furniture::ground(&mut items, &frame, &view.graticule);
    outlines(&mut items, view, &frame, grid)?;
    let many = view.dots.len() > MOST_LABELLED;
    let outside = marks(&mut items, view, &frame, if many { Labels::Dropped } else { labels })?;
    let below = furniture::edge(&mut items, &frame, &view.graticule);
    let below = furniture::scale_and_north(&mut items, &frame, below, view.north);
    let entries: Vec<Entry> = looks(view).iter().rev().map(|look| entry(view, look)).collect();
    let (left, right) = entries.split_at(entries.len().div_ceil(2));
    let below = legend::columns(&mut items, left, right, below)?;
    let mut notes = view.notes.clone();
    if outside > 0 {
        notes.push(format!("{} outside the frame.", counted(outside, "well")));
    }
    if many {
        notes.push("More than 5,000 wells: the marks do not name them.".to_owned());
    }
    let below = furniture::foot(&mut items, &notes, &view.source, &view.date, below)?;
    let description = format!("{INTERNAL} Map of wells: {}.", view.caption);
    Ok(Scene { width: WIDTH, height: (below + 10.0).ceil(), title: view.title.clone(), description, items })
}

fn entry(view: &DotsView, look: &Look) -> Entry {
    let (state, form, colour, radius, words) = (look.0, look.1, look.2, look.3, &look.4);
    let count = view.dots.iter().filter(|dot| dot.state == state).count();
    Entry { sample: Sample::Mark(form, colour, radius), words: words.clone(), count: counted(count, "well") }
}

fn outlines(items: &mut Vec<Item>, view: &DotsView, frame: &Frame, grid: f64) -> Result<(), MapFault> {
    let mut names = Vec::new();
    // Among very many wells no place is clear, and looking for one takes long.
    let clear = if view.dots.len() > MOST_LABELLED { &[] } else { view.dots.as_slice() };
    let marks: Vec<Point> = clear.iter().map(|dot| frame.place(dot.at)).collect();
    for outline in &view.outlines {
        let lines: Vec<Vec<Point>> = frame.rings(&outline.parts, grid);
        names.extend(labels::name(&outline.name, &lines, &marks)?);
        let stroke = Some(Stroke { colour: BORDER, width: 0.8 });
        items.push(Item::Shape(Shape { lines, ends: Ends::Closed, fill: Fill::Plain(PAPER), stroke, about: None }));
    }
    items.extend(names);
    Ok(())
}

/// Paints the wells inside the frame; gives how many are outside it.
fn marks(items: &mut Vec<Item>, view: &DotsView, frame: &Frame, labels: Labels) -> Result<usize, MapFault> {
    let inside = |p: Point| (0..2).all(|axis| p[axis] >= frame.low[axis] && p[axis] <= frame.high[axis]);
    let mut shown = 0;
    for (state, form, colour, radius, _) in looks(view) {
        let mut at = Vec::new();
        for dot in view.dots.iter().filter(|dot| dot.state == state) {
            if !(dot.at[0].is_finite() && dot.at[1].is_finite()) {
                return Err(MapFault::BadCoordinate(dot.label.clone()));
            }
            let place = frame.place(dot.at);
            if inside(place) {
                at.push((place, if labels == Labels::Shown { dot.label.clone() } else { String::new() }));
            }
        }
        shown += at.len();
        items.push(Item::Marks(Marks { form, colour, radius, at }));
    }
    Ok(view.dots.len() - shown)
}

#[cfg(test)]
mod tests {
    use super::super::view::{Dot, MapOutline};
    use super::*;

    fn view() -> DotsView {
        let states = [DotState::NotDetected, DotState::DetectedBelow, DotState::Undetermined, DotState::Exceeds];
        let dot = |(n, state): (usize, &DotState)| Dot {
            at: [n as f64 * 100.0, 500.0],
            state: *state,
            label: format!("W<{n}>"),
        };
        let ring = vec![[0.0, 0.0], [1000.0, 0.0], [1000.0, 1000.0], [0.0, 1000.0]];
        DotsView {
            title: "Nitrate".to_owned(),
            caption: "10 mg/L as N".to_owned(),
            marking: Marking::Results,
            notes: Vec::new(),
            source: String::new(),
            date: String::new(),
            outlines: vec![MapOutline { name: "Elm Rise".to_owned(), parts: vec![vec![ring]] }],
            dots: states.iter().enumerate().map(dot).collect(),
            graticule: Vec::new(),
            north: 0.0,
        }
    }

    #[test]
    fn the_map_says_that_it_is_internal_and_escapes_its_labels() {
        let svg = dots_svg(&view()).unwrap();
        assert!(svg.contains("Not to be published") && svg.contains("<title>W&lt;3&gt;</title>"));
    }

    #[test]
    fn states_differ_by_shape() {
        let forms: std::collections::BTreeSet<String> = LOOKS.iter().map(|look| format!("{:?}", look.1)).collect();
        assert_eq!(forms.len(), LOOKS.len());
    }

    #[test]
    fn labels_are_dropped_where_there_are_too_many_and_the_map_says_so() {
        let mut view = view();
        let dot = view.dots[3].clone();
        view.dots.resize(MOST_LABELLED, dot.clone());
        let svg = dots_svg(&view).unwrap();
        assert!(svg.contains("<title>W&lt;3&gt;</title>") && !svg.contains("do not name them"));
        view.dots.push(dot);
        let svg = dots_svg(&view).unwrap();
        assert!(
            !svg.contains("<title>W&lt;3&gt;</title>")
                && svg.contains("More than 5,000 wells: the marks do not name them.")
        );
    }

    #[test]
    fn what_exceeds_is_painted_after_every_other_state() {
        let scene = scene(&view(), FINE_GRID, Labels::Dropped).unwrap();
        let forms: Vec<MarkForm> = scene
            .items
            .iter()
            .filter_map(|item| if let Item::Marks(marks) = item { Some(marks.form) } else { None })
            .take(4)
            .collect();
        assert_eq!(forms.last(), Some(&MarkForm::Diamond));
    }

    #[test]
    fn wells_outside_the_frame_are_counted() {
        let mut view = view();
        view.dots[0].at = [1e7, 0.0];
        assert!(dots_svg(&view).unwrap().contains("1\u{a0}well outside the frame"));
        assert!(dots_png(&view).is_ok());
    }
}
