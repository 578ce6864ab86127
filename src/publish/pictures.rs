//! The maps of a run: one choropleth for each analyte and benchmark with data, and the wells on an internal one.

use super::hot_spots::side;
use super::maps::{
    Call, Dot, DotState, DotsView, GraticuleLine, InPage, MapArea, MapFault, MapOutline, MapValue, MapView, Marking,
    choropleth_in_page, choropleth_png, choropleth_svg, dots_png, dots_svg, sheet_png, sheet_svg,
};
use super::protect::Public;
use super::stage::{Taken, file_word};
use super::{Protection, Results, Stage};
use crate::dictionary::{Benchmark, BenchmarkKind};
use crate::ids::{AreaId, Interval};
use crate::methods::exceedance::Verdict;
use crate::place::crs::{Crs, Grids, Transformer};
use crate::place::shape::Polygon;
use crate::problem::Problem;
use crate::summarise::{ExceedanceRow, Scope, judge};
use rayon::prelude::*;
use std::collections::BTreeMap;

mod land_use;

/// The maps of the page.
#[derive(Debug, Default)]
pub struct Pictures {
    /// SVG text by (analyte, set, effect).
    pub maps: BTreeMap<(u16, String, String), String>,
    /// The outlines that they are drawn from.
    pub outlines: String,
}

/// More wells than this run into each other on a picture of fixed size; the SVG, which can be enlarged, is then alone.
const MOST_DOTS: usize = 5_000;

/// More maps than this make a sheet too long for a picture.
const MOST_ON_SHEET: usize = 40;

/// One map as up to four files' bytes.
struct Drawn {
    key: (u16, String, String),
    name: String,
    in_page: InPage,
    /// Map of hot spots, where there are some: SVG and PNG.
    hot: Option<(String, Vec<u8>)>,
    view: MapView,
    public_svg: String,
    public_png: Vec<u8>,
    internal_svg: String,
    internal_png: Option<Vec<u8>>,
}

/// Draws and writes every map.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub fn write(
    stage: &Stage,
    results: &Results<'_>,
    public: &Public<'_>,
    protection: &Protection,
) -> Result<Pictures, Problem> {
    let ground = Ground::new(results);
    let with_data: Vec<&Benchmark> = results
        .findings
        .benchmarks
        .iter()
        .filter(|b| results.findings.exceedance.iter().any(|r| is_of(r, b) && r.scope == Scope::Region && r.wells > 0))
        .collect();
    let drawn: Result<Vec<Drawn>, MapFault> =
        with_data.par_iter().map(|benchmark| draw(results, public, protection, &ground, benchmark)).collect();
    let drawn = drawn.map_err(undrawable)?;
    land_use::write(stage, results, &ground)?;
    sheet(stage, results, &drawn.iter().map(|map| &map.view).collect::<Vec<_>>())?;
    let mut pictures = Pictures::default();
    let mut taken = Taken::default();
    for mut map in drawn {
        map.name = taken.free(&map.name);
        stage.write(&format!("public/maps/{}.svg", map.name), map.public_svg.as_bytes(), None)?;
        stage.write(&format!("public/maps/{}.png", map.name), &map.public_png, None)?;
        stage.write(&format!("internal/maps/{}-wells.svg", map.name), map.internal_svg.as_bytes(), None)?;
        if let Some(png) = &map.internal_png {
            stage.write(&format!("internal/maps/{}-wells.png", map.name), png, None)?;
        }
        if let Some((svg, png)) = &map.hot {
            stage.write(&format!("public/maps/{}-hot-spots.svg", map.name), svg.as_bytes(), None)?;
            stage.write(&format!("public/maps/{}-hot-spots.png", map.name), png, None)?;
        }
        pictures.maps.insert(map.key, map.in_page.svg);
        pictures.outlines = map.in_page.outlines;
    }
    Ok(pictures)
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
fn sheet(stage: &Stage, results: &Results<'_>, views: &[&MapView]) -> Result<(), Problem> {
    if views.len() < 2 {
        return Ok(());
    }
    let title = &results.job.plan.survey.title;
    let svg = sheet_svg(title, views).map_err(undrawable)?;
    stage.write("public/maps/all-tests.svg", svg.as_bytes(), None)?;
    if views.len() <= MOST_ON_SHEET {
        let png = sheet_png(title, views).map_err(undrawable)?;
        stage.write("public/maps/all-tests.png", &png, None)?;
    }
    Ok(())
}

/// The map of hot spots; `None` where no shown area is one.
fn hot_view(public: &Public<'_>, protection: &Protection, rates: &MapView, benchmark: &Benchmark) -> Option<MapView> {
    let spots: BTreeMap<AreaId, Call> = public
        .get()
        .comparison
        .hot_spots
        .iter()
        .filter(|s| s.analyte == benchmark.analyte && s.set == benchmark.set && s.effect == benchmark.effect.as_str())
        .map(|spot| (spot.area, side(spot)))
        .collect();
    let called = |at: usize| {
        let area = AreaId(at as u32);
        match spots.get(&area) {
            _ if protection.hides(Scope::Area(area), benchmark.analyte) => MapValue::Hidden,
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
    fn new(results: &Results<'_>) -> Ground {
        let rings = |polygon: &Polygon| polygon.rings().iter().map(|ring| ring.to_vec()).collect();
        let parts = results.wells.areas().polygons.iter().map(|area| area.iter().map(rings).collect()).collect();
        let (graticule, north) = net(results).unwrap_or_default();
        Ground { parts, graticule, north, date: super::page::period(results) }
    }

    fn parts_of(&self, area: usize) -> Vec<Vec<Vec<[f64; 2]>>> {
        self.parts.get(area).cloned().unwrap_or_default()
    }
}

/// The degree net over the region, and where true north is; `None` where PROJ cannot say.
fn net(results: &Results<'_>) -> Option<(Vec<GraticuleLine>, f64)> {
    let region = results.wells.region();
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

fn draw(
    results: &Results<'_>,
    public: &Public<'_>,
    protection: &Protection,
    ground: &Ground,
    benchmark: &Benchmark,
) -> Result<Drawn, MapFault> {
    let entry = results.job.dictionary.analytes().get(benchmark.analyte);
    let id = results.job.dictionary.analytes().id(benchmark.analyte);
    let title = entry.map_or_else(|| id.to_owned(), |entry| entry.display_name.clone());
    let over = exceeding_words(results, benchmark);
    let view = MapView {
        title: title.clone(),
        caption: format!("share of wells {over} ({}, {})", benchmark.set, benchmark.effect.as_str()),
        notes: vec!["Area rates are smoothed: areas with few wells lean on the others.".to_owned()],
        source: results.job.plan.survey.title.clone(),
        date: ground.date.clone(),
        smallest_group: protection.smallest_group(),
        areas: map_areas(public, protection, ground, benchmark),
        graticule: ground.graticule.clone(),
        north: ground.north,
        breaks: results.job.plan.map_classes.clone(),
    };
    let hot = hot_view(public, protection, &view, benchmark);
    let dots = dots_view(results, ground, benchmark, title, &over);
    Ok(Drawn {
        key: (benchmark.analyte.0, benchmark.set.clone(), benchmark.effect.as_str().to_owned()),
        name: format!("{id}-{}-{}", file_word(&benchmark.set), benchmark.effect.as_str()),
        in_page: choropleth_in_page(&view)?,
        hot: hot.map(|hot| Ok::<_, MapFault>((choropleth_svg(&hot)?, choropleth_png(&hot)?))).transpose()?,
        public_svg: choropleth_svg(&view)?,
        public_png: choropleth_png(&view)?,
        internal_svg: dots_svg(&dots)?,
        internal_png: if dots.dots.len() <= MOST_DOTS { Some(dots_png(&dots)?) } else { None },
        view,
    })
}

/// What counts as exceeding, in words that follow "wells".
pub(super) fn exceeding_words(results: &Results<'_>, benchmark: &Benchmark) -> String {
    kind_words(results, benchmark.analyte, benchmark.kind)
}

/// As `exceeding_words`, of an analyte and a kind.
pub(super) fn kind_words(results: &Results<'_>, analyte: crate::ids::AnalyteId, kind: BenchmarkKind) -> String {
    let unit = results.job.dictionary.unit_text(analyte);
    let number = super::number::text;
    match kind {
        BenchmarkKind::Max { limit } => format!("above {} {unit}", number(limit)),
        BenchmarkKind::Range { low, high } if low.is_infinite() => format!("above {} {unit}", number(high)),
        BenchmarkKind::Range { low, high } if high.is_infinite() => format!("below {} {unit}", number(low)),
        BenchmarkKind::Range { low, high } => format!("outside {} to {} {unit}", number(low), number(high)),
        BenchmarkKind::Absent => "with any found".to_owned(),
    }
}

fn map_areas(public: &Public<'_>, protection: &Protection, ground: &Ground, benchmark: &Benchmark) -> Vec<MapArea> {
    let results = public.get();
    let rows = results.findings.exceedance.iter().filter(|row| is_of(row, benchmark));
    let of_area: BTreeMap<AreaId, &ExceedanceRow> = rows
        .filter_map(|row| match row.scope {
            Scope::Area(area) => Some((area, row)),
            Scope::Region => None,
        })
        .collect();
    (0..results.wells.areas().len())
        .map(|at| {
            let area = AreaId(at as u32);
            let value = match of_area.get(&area) {
                _ if protection.hides(Scope::Area(area), benchmark.analyte) => MapValue::Hidden,
                Some(row) => value_of(row),
                None => MapValue::NoData,
            };
            let names = results.names();
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

fn dots_view(results: &Results<'_>, ground: &Ground, benchmark: &Benchmark, title: String, over: &str) -> DotsView {
    let areas = results.wells.areas();
    let outlines = (0..areas.len())
        .map(|at| MapOutline { name: results.names().area_name(AreaId(at as u32)), parts: ground.parts_of(at) })
        .collect();
    let values = results
        .survey
        .by_analyte()
        .find(|(analyte, _)| *analyte == benchmark.analyte)
        .map(|(_, v)| v)
        .unwrap_or_default();
    let dots = values.iter().filter_map(|value| {
        let state = match judge(value.interval, benchmark.kind) {
            Verdict::Exceeding => DotState::Exceeds,
            Verdict::Undetermined => DotState::Undetermined,
            Verdict::Meeting if value.interval.detected() => DotState::DetectedBelow,
            Verdict::Meeting => DotState::NotDetected,
        };
        let label = format!("{}: {}", results.wells.id(value.well), interval_words(value.interval));
        Some(Dot { at: results.wells.xy(value.well)?, state, label })
    });
    DotsView {
        title,
        caption: format!("wells {over} ({})", benchmark.set),
        marking: Marking::Results,
        notes: Vec::new(),
        source: results.job.plan.survey.title.clone(),
        date: ground.date.clone(),
        outlines,
        dots: dots.collect(),
        graticule: ground.graticule.clone(),
        north: ground.north,
    }
}

fn interval_words(interval: Interval) -> String {
    let number = super::number::text;
    match interval {
        Interval::Detect(x) => number(x),
        Interval::Below(x) => format!("<{}", number(x)),
        Interval::Above(x) => format!(">{}", number(x)),
        Interval::Present => "present".to_owned(),
        Interval::Absent => "absent".to_owned(),
    }
}
