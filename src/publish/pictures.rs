//! The maps of a run: one choropleth for each analyte and benchmark with data, from what may be told; `wells` draws the internal ones.

use super::Stage;
use super::hot_spots::side;
use super::maps::{
    Call, GraticuleLine, InPage, MapArea, MapFault, MapValue, MapView, all_overlap, choropleth_in_page, choropleth_png,
    choropleth_svg, sheet_png, sheet_svg,
};
use super::protect::Public;
use super::report::effect_words;
use super::stage::{Taken, file_word};
use super::words::set_words;
use crate::dictionary::{Benchmark, BenchmarkKind, Dictionary};
use crate::ids::AreaId;
use crate::place::crs::{Crs, Grids, Transformer};
use crate::place::shape::Polygon;
use crate::place::{Areas, Region};
use crate::problem::Problem;
use crate::summarise::{ExceedanceRow, Scope};
use rayon::prelude::*;
use std::collections::BTreeMap;

mod land_use;
mod layer;
mod overview;
mod wells;

pub(super) use layer::write as layer;
pub(super) use wells::write as write_internal;

/// What maps are drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Formats {
    /// SVG and PNG.
    All,
    /// SVG alone.
    Svg,
}

/// The maps of the page.
#[derive(Debug, Default)]
pub struct Pictures {
    /// SVG text by (analyte, set, effect).
    pub maps: BTreeMap<(u16, String, String), String>,
    /// The outlines that they are drawn from.
    pub outlines: String,
    /// Wells above any health limit, by area.
    pub overview: Option<String>,
}

/// More maps than this make a sheet too long for a picture.
const MOST_ON_SHEET: usize = 40;

/// One map as up to four files' bytes.
struct Drawn {
    key: (u16, String, String),
    name: String,
    in_page: InPage,
    /// Map of hot spots, where there are some: SVG and PNG.
    hot: Option<(String, Option<Vec<u8>>)>,
    view: MapView,
    svg: String,
    png: Option<Vec<u8>>,
}

/// Draws and writes every public map.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub fn write(stage: &Stage, public: &Public<'_>, formats: Formats) -> Result<Pictures, Problem> {
    let ground = Ground::new(public.areas, public.region, &public.period);
    let drawn: Result<Vec<Drawn>, MapFault> =
        with_data(public).par_iter().map(|benchmark| draw(public, &ground, benchmark, formats)).collect();
    let drawn = drawn.map_err(undrawable)?;
    sheet(stage, public, formats, &drawn.iter().map(|map| &map.view).collect::<Vec<_>>())?;
    let overview = overview::write(stage, public, &ground, formats)?;
    let mut pictures = Pictures { overview, ..Pictures::default() };
    let mut taken = Taken::default();
    for mut map in drawn {
        map.name = taken.free(&map.name);
        stage.write(&format!("public/maps/{}.svg", map.name), map.svg.as_bytes(), None)?;
        if let Some(png) = &map.png {
            stage.write(&format!("public/maps/{}.png", map.name), png, None)?;
        }
        if let Some((svg, png)) = &map.hot {
            stage.write(&format!("public/maps/{}-hot-spots.svg", map.name), svg.as_bytes(), None)?;
            if let Some(png) = png {
                stage.write(&format!("public/maps/{}-hot-spots.png", map.name), png, None)?;
            }
        }
        pictures.maps.insert(map.key, map.in_page.svg);
        pictures.outlines = map.in_page.outlines;
    }
    Ok(pictures)
}

/// Limits on analytes that have a value.
fn with_data<'p>(public: &'p Public<'_>) -> Vec<&'p Benchmark> {
    let limits = public.told.findings().benchmarks.iter();
    limits.filter(|limit| public.analytes.contains(&limit.analyte)).collect()
}

fn undrawable(fault: MapFault) -> Problem {
    Problem::file(
        std::path::Path::new("maps"),
        "map-undrawable",
        fault.to_string(),
        "look at the area layer's outlines",
    )
}

/// All maps side by side in the same classes, as a picture where that is not too long.
fn sheet(stage: &Stage, public: &Public<'_>, formats: Formats, views: &[&MapView]) -> Result<(), Problem> {
    if views.len() < 2 {
        return Ok(());
    }
    let title = &public.plan.survey.title;
    let svg = sheet_svg(title, views).map_err(undrawable)?;
    stage.write("public/maps/all-tests.svg", svg.as_bytes(), None)?;
    if views.len() <= MOST_ON_SHEET && formats == Formats::All {
        let png = sheet_png(title, views).map_err(undrawable)?;
        stage.write("public/maps/all-tests.png", &png, None)?;
    }
    Ok(())
}

/// The map of hot spots; `None` where no shown area is one.
fn hot_view(public: &Public<'_>, rates: &MapView, benchmark: &Benchmark) -> Option<MapView> {
    let spots: BTreeMap<AreaId, Call> = public
        .told
        .comparison()
        .hot_spots
        .iter()
        .filter(|s| s.analyte == benchmark.analyte && s.set == benchmark.set && s.effect == benchmark.effect.as_str())
        .map(|spot| (spot.area, side(spot)))
        .collect();
    let called = |at: usize| {
        let area = AreaId(at as u32);
        match spots.get(&area) {
            _ if public.protection.hides(Scope::Area(area), benchmark.analyte) => MapValue::Hidden,
            Some(call) => MapValue::Called(*call),
            None => MapValue::Called(Call::Untold),
        }
    };
    let areas: Vec<MapArea> =
        rates.areas.iter().enumerate().map(|(at, area)| MapArea { value: called(at), ..area.clone() }).collect();
    let found = |area: &MapArea| matches!(area.value, MapValue::Called(Call::High | Call::Low));
    areas.iter().any(found).then(|| MapView {
        title: format!("{}: hot and cold spots", rates.title),
        caption: format!("neighbouring areas alike in their {}", rates.caption),
        notes: vec![
            "Called where chance would seldom put so many alike areas side by side (adjusted p up to 0.05).".to_owned(),
        ],
        areas,
        breaks: None,
        ..rates.clone()
    })
}

fn is_of(row: &ExceedanceRow, benchmark: &Benchmark) -> bool {
    row.analyte == benchmark.analyte && row.set == benchmark.set && row.effect == benchmark.effect.as_str()
}

/// What all maps of a run share.
struct Ground {
    parts: Vec<Vec<Vec<Vec<[f64; 2]>>>>,
    graticule: Vec<GraticuleLine>,
    north: f64,
    date: String,
}

impl Ground {
    fn new(areas: &Areas, region: &Region, date: &str) -> Ground {
        let rings = |polygon: &Polygon| polygon.rings().iter().map(|ring| ring.to_vec()).collect();
        let parts = areas.polygons.iter().map(|area| area.iter().map(rings).collect()).collect();
        let (graticule, north) = net(region).unwrap_or_default();
        Ground { parts, graticule, north, date: date.to_owned() }
    }

    fn parts_of(&self, area: usize) -> Vec<Vec<Vec<[f64; 2]>>> {
        self.parts.get(area).cloned().unwrap_or_default()
    }
}

/// The degree net over the region, and where true north is; `None` where PROJ cannot say.
fn net(region: &Region) -> Option<(Vec<GraticuleLine>, f64)> {
    let way = Transformer::new(&Crs::wgs84().ok()?, &region.working, &Grids::Inside).ok()?;
    let bounds = region.bounds;
    let (width, height) = (bounds.width(), bounds.north - bounds.south);
    let step = nice_step(width.max(height));
    let mut lines = Vec::new();
    let steps =
        |from: f64, to: f64| ((from / step).floor() as i64..=(to / step).ceil() as i64).map(move |i| i as f64 * step);
    let along = |from: f64, to: f64| (0..=40).map(move |i| from + (to - from) * f64::from(i) / 40.0);
    for lon in steps(bounds.west, bounds.west + width) {
        let points = along(bounds.south - step, bounds.north + step).filter_map(|lat| way.point([lon, lat])).collect();
        lines.push(GraticuleLine { label: degrees(lon, "E", "W"), points });
    }
    for lat in steps(bounds.south, bounds.north).filter(|lat| lat.abs() <= 90.0) {
        let points =
            along(bounds.west - step, bounds.west + width + step).filter_map(|lon| way.point([lon, lat])).collect();
        lines.push(GraticuleLine { label: degrees(lat, "N", "S"), points });
    }
    let [lon, lat] = bounds.centre();
    let (foot, head) = (way.point([lon, lat])?, way.point([lon, lat + 0.01])?);
    let north = libm::atan2(head[0] - foot[0], head[1] - foot[1]).to_degrees();
    Some((lines, (north * 100.0).round() / 100.0))
}

/// About four lines over the width.
fn nice_step(width: f64) -> f64 {
    const STEPS: [f64; 12] = [0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0];
    STEPS.into_iter().find(|step| width / step <= 5.0).unwrap_or(30.0)
}

fn degrees(value: f64, positive: &str, negative: &str) -> String {
    let side = if value < 0.0 { negative } else { positive };
    let text = super::number::text((value.abs() * 1000.0).round() / 1000.0);
    format!("{text}\u{b0} {side}")
}

fn draw(public: &Public<'_>, ground: &Ground, benchmark: &Benchmark, formats: Formats) -> Result<Drawn, MapFault> {
    let png = |view: &MapView| if formats == Formats::All { choropleth_png(view).map(Some) } else { Ok(None) };
    let view = rates_view(public, ground, benchmark);
    let hot = hot_view(public, &view, benchmark);
    Ok(Drawn {
        key: (benchmark.analyte.0, benchmark.set.clone(), benchmark.effect.as_str().to_owned()),
        name: file_name(public, benchmark),
        in_page: choropleth_in_page(&view)?,
        hot: hot.map(|hot| Ok::<_, MapFault>((choropleth_svg(&hot)?, png(&hot)?))).transpose()?,
        svg: choropleth_svg(&view)?,
        png: png(&view)?,
        view,
    })
}

/// The name of a limit's files.
fn file_name(public: &Public<'_>, benchmark: &Benchmark) -> String {
    let id = public.dictionary.analytes().id(benchmark.analyte);
    format!("{id}-{}-{}", file_word(&benchmark.set), benchmark.effect.as_str())
}

/// The map of the areas' rates against one limit, as far as they may be shown.
fn rates_view(public: &Public<'_>, ground: &Ground, benchmark: &Benchmark) -> MapView {
    let entry = public.dictionary.analytes().get(benchmark.analyte);
    let id = public.dictionary.analytes().id(benchmark.analyte);
    let over = exceeding_words(public.dictionary, benchmark);
    let (set, effect) = (set_words(public.dictionary, &benchmark.set), effect_words(benchmark.effect.as_str()));
    let areas = map_areas(public, ground, benchmark);
    let mut notes = vec!["Area rates are smoothed: areas with few wells lean on the others.".to_owned()];
    let spreads = areas.iter().filter_map(|area| match area.value {
        MapValue::Rate { low, high, .. } => Some((low, high)),
        _ => None,
    });
    if all_overlap(spreads) {
        notes.push("The intervals of all areas overlap: these differences may be chance.".to_owned());
    }
    MapView {
        title: entry.map_or_else(|| id.to_owned(), |entry| entry.display_name.clone()),
        caption: format!("share of wells {over} ({set}; {effect})"),
        notes,
        source: public.plan.survey.title.clone(),
        date: ground.date.clone(),
        smallest_group: public.protection.smallest_group(),
        areas,
        graticule: ground.graticule.clone(),
        north: ground.north,
        breaks: public.plan.map_classes.clone(),
    }
}

/// What counts as exceeding, in words that follow "wells".
pub(super) fn exceeding_words(dictionary: &Dictionary, benchmark: &Benchmark) -> String {
    kind_words(dictionary, benchmark.analyte, benchmark.kind)
}

/// As `exceeding_words`, of an analyte and a kind.
pub(super) fn kind_words(dictionary: &Dictionary, analyte: crate::ids::AnalyteId, kind: BenchmarkKind) -> String {
    let unit = dictionary.unit_text(analyte);
    let number = super::number::text;
    match kind {
        BenchmarkKind::Max { limit } => format!("above {} {unit}", number(limit)),
        BenchmarkKind::Range { low, high } if low.is_infinite() => format!("above {} {unit}", number(high)),
        BenchmarkKind::Range { low, high } if high.is_infinite() => format!("below {} {unit}", number(low)),
        BenchmarkKind::Range { low, high } => format!("outside {} to {} {unit}", number(low), number(high)),
        BenchmarkKind::Absent => "with any found".to_owned(),
    }
}

fn map_areas(public: &Public<'_>, ground: &Ground, benchmark: &Benchmark) -> Vec<MapArea> {
    let rows = public.told.findings().exceedance.iter().filter(|row| is_of(row, benchmark));
    let of_area: BTreeMap<AreaId, &ExceedanceRow> = rows
        .filter_map(|row| match row.scope {
            Scope::Area(area) => Some((area, row)),
            Scope::Region => None,
        })
        .collect();
    (0..public.areas.len())
        .map(|at| {
            let area = AreaId(at as u32);
            let value = match of_area.get(&area) {
                _ if public.protection.hides(Scope::Area(area), benchmark.analyte) => MapValue::Hidden,
                Some(row) => value_of(row),
                None => MapValue::NoData,
            };
            let names = public.names();
            MapArea { id: names.area_id(area), name: names.area_name(area), parts: ground.parts_of(at), value }
        })
        .collect()
}

fn value_of(row: &ExceedanceRow) -> MapValue {
    match (row.smoothed, row.smoothed_interval) {
        (Some(rate), Some((low, high))) if row.wells > 0 => MapValue::Rate { rate, low, high, wells: row.wells },
        _ => MapValue::NoData,
    }
}
