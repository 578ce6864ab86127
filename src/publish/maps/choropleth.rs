//! The map of rates: one scene from a [`MapView`], painted as SVG or as PNG.
//!
//! Larger areas are painted first, so an area that lies inside another is seen even where the outer one has no hole
//! for it. Hidden, no data, low rate and thin evidence differ by pattern, not by colour alone.

use super::classes::Classes;
use super::escape::apart;
use super::fault::MapFault;
use super::frame::{FINE_GRID, Frame, grid_for, points, turning};
use super::furniture::{self, MARGIN, WIDTH};
use super::labels;
use super::legend::{self, Entry, Sample, counted};
use super::palette::{BORDER, PAPER, PATTERN, class_colour, ink_on};
use super::scene::{About, Ends, Fill, Item, Pattern, Point, Scene, Shape, Stroke};
use super::view::{Call, MapArea, MapValue, MapView, THIN_INTERVAL};
use super::{png, svg};
use crate::publish::report::{interval, percent};

/// The map as SVG text. Each area carries a title with its values, shown when the pointer rests on it.
///
/// # Errors
/// A [`MapFault`] where nothing has an outline, a coordinate or rate is unusable, or class limits are.
pub fn choropleth_svg(view: &MapView) -> Result<String, MapFault> {
    Ok(svg::write(&scene(view, text_grid(view), Setting::Alone)?))
}

/// A map as it stands in the report page, which says its title, caption, notes and source in its own words.
#[derive(Clone, Debug)]
pub struct InPage {
    /// The map; its areas are drawn from the outlines.
    pub svg: String,
    /// The outlines as `path` elements: the same for every map of the same areas.
    pub outlines: String,
}

/// The map for the report page.
///
/// # Errors
/// As [`choropleth_svg`].
pub fn choropleth_in_page(view: &MapView) -> Result<InPage, MapFault> {
    let scene = scene(view, text_grid(view), Setting::InPage)?;
    Ok(InPage { svg: svg::write_in_page(&scene), outlines: svg::outlines(&scene) })
}

fn text_grid(view: &MapView) -> f64 {
    grid_for(view.areas.iter().map(|area| points(&area.parts)).sum())
}

/// More areas than this stand without names on a map in the page.
const MOST_LABELLED: usize = 150;

/// Whether a map must say everything itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Setting {
    /// A file of its own.
    Alone,
    /// Inside the page.
    InPage,
}

/// The map as the bytes of a PNG file.
///
/// # Errors
/// As [`choropleth_svg`], and where the picture cannot be encoded.
pub fn choropleth_png(view: &MapView) -> Result<Vec<u8>, MapFault> {
    png::write(&scene(view, FINE_GRID, Setting::Alone)?)
}

fn scene(view: &MapView, grid: f64, setting: Setting) -> Result<Scene, MapFault> {
    let classes = classes_of(view)?;
    let mut items = Vec::new();
    let below = match setting {
        Setting::Alone => furniture::headings(&mut items, &view.title, &view.caption, 12.0)?,
        Setting::InPage => 4.0,
    };
    let named = view.areas.iter().map(|area| (area.name.as_str(), area.parts.as_slice()));
    let frame = Frame::fit(named, [MARGIN, below], WIDTH - 2.0 * MARGIN)?;
    furniture::ground(&mut items, &frame, &view.graticule);
    areas(&mut items, view, &frame, &classes, (grid, setting))?;
    let below = furniture::edge(&mut items, &frame, &view.graticule);
    let below = furniture::scale_and_north(&mut items, &frame, below, view.north);
    let (left, right) = entries(view, &classes);
    let below = legend::columns(&mut items, &left, &right, below)?;
    let below = match setting {
        Setting::Alone => furniture::foot(&mut items, &view.notes, &view.source, &view.date, below)?,
        Setting::InPage => below,
    };
    let description = describe(view, &classes);
    Ok(Scene { width: WIDTH, height: (below + 10.0).ceil(), title: view.title.clone(), description, items })
}

fn classes_of(view: &MapView) -> Result<Classes, MapFault> {
    let mut rates = Vec::new();
    for area in &view.areas {
        if let MapValue::Rate { rate, .. } = area.value {
            if !(0.0..=1.0).contains(&rate) {
                return Err(MapFault::BadRate(area.name.clone()));
            }
            rates.push(rate);
        }
    }
    match &view.breaks {
        Some(limits) => Classes::fixed(limits),
        None => Ok(Classes::of(&rates)),
    }
}

fn areas(
    items: &mut Vec<Item>,
    view: &MapView,
    frame: &Frame,
    classes: &Classes,
    (grid, setting): (f64, Setting),
) -> Result<(), MapFault> {
    let mut placed: Vec<(usize, &MapArea, Vec<Vec<Point>>)> =
        view.areas.iter().enumerate().map(|(number, area)| (number, area, frame.rings(&area.parts, grid))).collect();
    let size = |rings: &[Vec<Point>]| rings.iter().map(|ring| turning(ring)).sum::<f64>();
    placed.sort_by(|a, b| size(&b.2).total_cmp(&size(&a.2)));
    let labels: Vec<Vec<Item>> = placed
        .iter()
        .map(|(_, area, rings)| labels::area(area, rings, fill(area.value, classes)))
        .collect::<Result<_, _>>()?;
    // Names in the page would be most of its bytes where there are very many; the file of the map has them.
    let labels = if setting == Setting::InPage && placed.len() > MOST_LABELLED { Vec::new() } else { labels };
    for (number, area, rings) in placed {
        let stroke = Some(Stroke { colour: BORDER, width: 0.8 });
        let about = Some(About { number, id: area.id.clone(), words: about(area, view.smallest_group) });
        let fill = fill(area.value, classes);
        items.push(Item::Shape(Shape { lines: rings, ends: Ends::Closed, fill, stroke, about }));
    }
    items.extend(labels.into_iter().flatten());
    Ok(())
}

fn thin(value: MapValue) -> bool {
    matches!(value, MapValue::Rate { low, high, .. } if high - low > THIN_INTERVAL)
}

pub(super) fn fill(value: MapValue, classes: &Classes) -> Fill {
    match value {
        MapValue::Hidden => Fill::Pattern { paper: PAPER, ink: PATTERN, kind: Pattern::Hatch },
        MapValue::NoData => Fill::Pattern { paper: PAPER, ink: PATTERN, kind: Pattern::Crosses },
        MapValue::Called(Call::High) => Fill::Plain(class_colour(4, 5)),
        MapValue::Called(Call::Low) => Fill::Plain(class_colour(0, 5)),
        MapValue::Called(Call::Neither) => Fill::Plain(PAPER),
        MapValue::Called(Call::Untold) => Fill::Pattern { paper: PAPER, ink: PATTERN, kind: Pattern::Crosses },
        MapValue::Rate { rate, .. } => {
            let paper = class_colour(classes.class(rate), classes.count());
            if thin(value) {
                Fill::Pattern { paper, ink: ink_on(paper), kind: Pattern::Dots }
            } else {
                Fill::Plain(paper)
            }
        }
    }
}

/// The words of one area: its name, then its values as far as they may be shown.
fn about(area: &MapArea, smallest_group: u32) -> String {
    let name = apart(&area.name);
    match area.value {
        MapValue::Hidden => format!("{name}: {}", hidden_words(smallest_group)),
        MapValue::NoData => format!("{name}: no well with a result"),
        MapValue::Called(call) => format!("{name}: {}", call.words()),
        MapValue::Rate { rate, low, high, wells } => {
            let few = if thin(area.value) { ", thin evidence" } else { "" };
            let wells = counted(wells as usize, "well");
            format!("{name}: {} ({}), {wells}{few}", percent(rate), interval(low, high))
        }
    }
}

fn hidden_words(smallest_group: u32) -> String {
    format!("not shown (fewer than {smallest_group} wells, or it would give away such an area)")
}

pub(super) fn entries(view: &MapView, classes: &Classes) -> (Vec<Entry>, Vec<Entry>) {
    let count = |wanted: &dyn Fn(MapValue) -> bool| view.areas.iter().filter(|area| wanted(area.value)).count();
    let in_class =
        |class: usize| count(&|value| matches!(value, MapValue::Rate { rate, .. } if classes.class(rate) == class));
    let shown = count(&|value| matches!(value, MapValue::Rate { .. }));
    let mut left = Vec::new();
    for class in (0..classes.count()).filter(|_| shown > 0) {
        let sample = Sample::Box(Fill::Plain(class_colour(class, classes.count())));
        left.push(Entry { sample, words: classes.range(class), count: counted(in_class(class), "area") });
    }
    for call in [Call::High, Call::Neither, Call::Low, Call::Untold] {
        let number = count(&|value| value == MapValue::Called(call));
        if number > 0 {
            let sample = Sample::Box(fill(MapValue::Called(call), classes));
            left.push(Entry { sample, words: call.words().to_owned(), count: counted(number, "area") });
        }
    }
    let pattern = |kind| Sample::Box(Fill::Pattern { paper: PAPER, ink: PATTERN, kind });
    let wide = format!("dotted: thin evidence, interval wider than {} points", 100.0 * THIN_INTERVAL);
    let others = [
        (Pattern::Dots, wide, count(&thin)),
        (Pattern::Hatch, hidden_words(view.smallest_group), count(&|value| value == MapValue::Hidden)),
        (Pattern::Crosses, "no well with a result".to_owned(), count(&|value| value == MapValue::NoData)),
    ];
    let other = |(kind, words, number): (Pattern, String, usize)| {
        (number > 0).then(|| Entry { sample: pattern(kind), words, count: counted(number, "area") })
    };
    (left, others.into_iter().filter_map(other).collect())
}

fn describe(view: &MapView, classes: &Classes) -> String {
    let (left, right) = entries(view, classes);
    let lines: Vec<String> =
        left.iter().chain(&right).map(|entry| format!("{}: {}", entry.words, entry.count)).collect();
    format!("Map: {}. {}.", view.caption, lines.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(low: f64, high: f64) -> Vec<Point> {
        vec![[low, low], [high, low], [high, high], [low, high]]
    }

    fn area(id: &str, rings: Vec<Vec<Point>>, value: MapValue) -> MapArea {
        MapArea { id: id.to_owned(), name: format!("{id} <&>"), parts: vec![rings], value }
    }

    fn view() -> MapView {
        let rate = |rate: f64, half: f64| MapValue::Rate { rate, low: rate - half, high: rate + half, wells: 1234 };
        MapView {
            title: "<Nitrate> & \"co\"".to_owned(),
            caption: "share of wells above 10 mg/L as N".to_owned(),
            notes: Vec::new(),
            source: "a survey".to_owned(),
            date: "2025".to_owned(),
            smallest_group: 5,
            areas: vec![
                area("inner", vec![ring(400.0, 600.0)], rate(0.5, 0.3)),
                area("outer", vec![ring(0.0, 1000.0), ring(400.0, 600.0)], rate(0.06, 0.02)),
                area("west", vec![ring(-1000.0, -10.0)], MapValue::Hidden),
                area("east", vec![ring(1010.0, 2000.0)], MapValue::NoData),
            ],
            graticule: Vec::new(),
            north: 2.0,
            breaks: None,
        }
    }

    fn title_of(svg: &str, id: &str) -> String {
        let path = svg.split(&format!("data-area=\"{id}\"")).nth(1).unwrap();
        path.split("<title>").nth(1).unwrap().split("</title>").next().unwrap().to_owned()
    }

    #[test]
    fn each_area_says_its_values_and_a_hidden_one_none() {
        let svg = choropleth_svg(&view()).unwrap();
        assert_eq!(title_of(&svg, "outer"), "outer &lt;&amp;&gt;: 6% (4% to 8%), 1234\u{a0}wells");
        assert!(title_of(&svg, "inner").ends_with("thin evidence"));
        assert!(title_of(&svg, "west").contains("not shown (fewer than 5 wells"));
        assert!(title_of(&svg, "east").contains("no well with a result"));
    }

    #[test]
    fn a_map_in_the_page_draws_every_area_from_the_shared_outlines() {
        let map = choropleth_in_page(&view()).unwrap();
        for number in 0..4 {
            assert_eq!(map.svg.matches(&format!("href=\"#o{number}\"")).count(), 1);
            assert_eq!(map.outlines.matches(&format!("id=\"o{number}\"")).count(), 1);
        }
        let other = MapView { title: "A title of two lines ".repeat(9), ..view() };
        assert_eq!(choropleth_in_page(&other).unwrap().outlines, map.outlines);
        assert!(!map.svg.contains("<Nitrate>") && map.svg.contains("role=\"img\""));
    }

    #[test]
    fn names_and_titles_are_escaped() {
        let svg = choropleth_svg(&view()).unwrap();
        assert!(svg.contains("<title>&lt;Nitrate&gt; &amp; &quot;co&quot;</title>") && !svg.contains("<Nitrate>"));
    }

    #[test]
    fn hidden_no_data_and_thin_evidence_have_their_own_patterns() {
        let svg = choropleth_svg(&view()).unwrap();
        let fill =
            |id: &str| svg.lines().find(|line| line.contains(&format!("data-area=\"{id}\""))).unwrap().to_owned();
        assert!(fill("west").contains("url(#hatch-") && fill("east").contains("url(#crosses-"));
        assert!(fill("inner").contains("url(#dots-") && fill("outer").contains("fill=\"#"));
    }

    #[test]
    fn an_area_in_a_hole_is_painted_after_its_surroundings() {
        let svg = choropleth_svg(&view()).unwrap();
        assert!(svg.find("data-area=\"outer\"") < svg.find("data-area=\"inner\""));
    }

    #[test]
    fn the_same_view_gives_the_same_bytes_and_png_is_png() {
        assert_eq!(choropleth_svg(&view()).unwrap(), choropleth_svg(&view()).unwrap());
        let png = choropleth_png(&view()).unwrap();
        // The eight bytes that open every PNG file: W3C PNG specification, section 5.2.
        assert!(png.starts_with(&[137, 80, 78, 71, 13, 10, 26, 10]) && png == choropleth_png(&view()).unwrap());
    }

    #[test]
    fn a_rate_that_is_no_share_is_a_fault() {
        let mut view = view();
        view.areas[0].value = MapValue::Rate { rate: 12.0, low: 0.0, high: 1.0, wells: 9 };
        assert!(matches!(choropleth_svg(&view), Err(MapFault::BadRate(_))));
    }
}
