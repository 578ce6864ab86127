//! From the input to what the template repeats: ranked rows, gathered advice, strips and sentences.
//!
//! Every figure becomes words here, in one place; the template holds no arithmetic.

use serde::Serialize;

use super::amounts::{AmountsView, amounts};
use super::analyte::{AnalyteBenchmark, AnalyteSection, TrendLine};
use super::cautions::cautions_for;
use super::distribution::Distribution;
use super::escape::anchor;
use super::further::{RadiiLine, TestFurther};
use super::input::{AdviceLine, AreaSection, RateLine, ReportInput};
use super::land::{LandView, ModelView, land_uses, models};
use super::parts::{self, AreaParts, PeriodsView};
use super::rows::{Chart, Names, chart, of_wells, ranked, shown};
use super::words::{count, interval, number, percent, wells};

/// Maps stand in the page until their text passes this many bytes; the others stand in the maps folder only.
const MAP_BYTES: usize = 1_800_000;
/// Rows of charts and summaries that the page holds; beyond it each shows its highest rows and counts the rest.
/// With the maps this keeps the page under 5 MB, which a phone still opens.
const ROWS: usize = 2_000;
/// Fewest rows of a chart that is cut.
const FEWEST_ROWS: usize = 5;

/// Lines of advice that may carry their reasons; beyond it these are left to the table.
const REASONS: usize = 3_000;

/// Advice that needs no reason: the names will do.
const NO_REASON: &str = "no local reason";

/// How many rows each chart and summary may have.
fn most_rows(input: &ReportInput) -> usize {
    let areas = input.areas.iter().map(|area| area.rates.len());
    let ranked = input.analytes.iter().flat_map(|test| &test.benchmarks).map(|b| b.ranking.len());
    let summed = input.analytes.iter().map(|test| test.summary.len());
    let sizes: Vec<usize> = areas.chain(ranked).chain(summed).collect();
    if sizes.iter().sum::<usize>() <= ROWS { usize::MAX } else { (ROWS / sizes.len().max(1)).max(FEWEST_ROWS) }
}

/// One area, ready for the template.
#[derive(Debug, Serialize)]
pub(super) struct AreaView<'a> {
    anchor: String,
    name: String,
    coverage: String,
    chart: Chart,
    advice: Vec<AdviceGroup>,
    untested: String,
    parts: AreaParts<'a>,
    /// Whether the reasons were left to the table.
    brief: bool,
    cautions: Vec<&'static str>,
}

/// Lines of advice that ask the same.
#[derive(Debug, Serialize)]
struct AdviceGroup {
    advice: String,
    items: Vec<AdviceItem>,
}

/// Tests advised for the same reason.
#[derive(Debug, Serialize)]
struct AdviceItem {
    tests: Vec<AdviceTest>,
    /// What one says to well owners; empty where the names and the group's heading say it.
    in_words: String,
    because: String,
    evidence: String,
}

#[derive(Debug, Serialize)]
struct AdviceTest {
    name: String,
    price: Option<f64>,
}

/// Areas in the order given.
pub(super) fn areas(input: &ReportInput) -> Vec<AreaView<'_>> {
    let most = most_rows(input);
    let lines: usize = input.areas.iter().map(|area| area.advice.len()).sum();
    let reasons = if lines > REASONS { Reasons::InTheTable } else { Reasons::Told };
    input.areas.iter().map(|area| area_view(input, area, most, reasons)).collect()
}

/// Whether advice carries its reasons.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reasons {
    Told,
    InTheTable,
}

fn area_view<'a>(input: &'a ReportInput, area: &AreaSection, most: usize, reasons: Reasons) -> AreaView<'a> {
    let lines: Vec<&RateLine> = area.rates.iter().collect();
    let rated = area.rates.iter().map(|line| line.analyte_id.as_str());
    let advised = area.advice.iter().map(|line| line.analyte_id.as_str());
    AreaView {
        anchor: anchor("area", &area.id),
        name: area.name.clone(),
        coverage: coverage(area, input.methods.smallest_group),
        parts: parts::area(input.further.areas.get(&area.id), input.further.budget),
        chart: chart(&lines, Names::Analytes, most),
        advice: grouped(&area.advice, reasons),
        untested: area.untested.join(", "),
        brief: reasons == Reasons::InTheTable,
        cautions: cautions_for(rated.chain(advised)),
    }
}

fn coverage(area: &AreaSection, smallest_group: u32) -> String {
    let Some(known) = area.coverage else {
        return format!(
            "How many wells were sampled is not shown (fewer than {smallest_group}, or it would give away such an area)."
        );
    };
    match known.on_record {
        Some(total) if total > 0 => {
            let share = percent(f64::from(known.sampled) / f64::from(total));
            format!(
                "{} of {} private wells on record were sampled ({share}).",
                count(known.sampled.into()),
                count(total.into())
            )
        }
        _ => format!("{} sampled; how many wells there are is not on record.", wells(known.sampled.into())),
    }
}

fn grouped(lines: &[AdviceLine], reasons: Reasons) -> Vec<AdviceGroup> {
    let mut groups: Vec<AdviceGroup> = Vec::new();
    for line in lines {
        let item = advice_item(line, reasons);
        match groups.iter_mut().find(|group| group.advice == line.advice) {
            Some(group) => add(&mut group.items, item),
            None => groups.push(AdviceGroup { advice: line.advice.clone(), items: vec![item] }),
        }
    }
    groups
}

fn advice_item(line: &AdviceLine, reasons: Reasons) -> AdviceItem {
    let told = reasons == Reasons::Told && !line.advice.starts_with(NO_REASON);
    let why = line.why.as_ref().filter(|_| told);
    AdviceItem {
        tests: vec![AdviceTest { name: line.analyte.clone(), price: line.price }],
        in_words: why.map_or_else(String::new, |why| why.in_words.clone()),
        because: why.map_or_else(String::new, |why| why.because.clone()),
        evidence: why.map_or_else(String::new, |why| why.evidence.clone()),
    }
}

fn add(items: &mut Vec<AdviceItem>, mut item: AdviceItem) {
    match items.iter_mut().find(|old| old.in_words == item.in_words && old.because == item.because) {
        Some(old) => old.tests.append(&mut item.tests),
        None => items.push(item),
    }
}

/// One analyte, ready for the template.
#[derive(Debug, Serialize)]
pub(super) struct TestView<'a> {
    anchor: String,
    name: String,
    benchmarks: Vec<BenchmarkView>,
    land_use: Vec<LandView<'a>>,
    model: Vec<ModelView<'a>>,
    figure: String,
    figure_words: String,
    trend: Vec<TrendView>,
    trend_words: &'a str,
    periods: PeriodsView<'a>,
    radii: &'a [RadiiLine],
    amounts: Option<AmountsView<'a>>,
    cautions: Vec<&'static str>,
}

/// Change over the years, in words.
#[derive(Debug, Serialize)]
struct TrendView {
    area_id: String,
    area: String,
    hidden: bool,
    wells: u32,
    words: String,
    slope: String,
    q: Option<f64>,
}

/// Below this adjusted p a change is called one; common practice, no source.
const RARE: f64 = 0.05;

fn trend_view(line: &TrendLine, test: Option<&TestFurther>) -> TrendView {
    let figures = line.figures;
    let q = figures.and_then(|f| f.q);
    let tau = figures.map_or(0.0, |f| f.tau);
    let words = match q {
        Some(q) if q < RARE && tau > 0.0 => "rising",
        Some(q) if q < RARE && tau < 0.0 => "falling",
        _ => "no clear change",
    };
    let told = test.and_then(|test| test.trend_words.get(&line.area_id));
    let words = told.map_or_else(|| words.to_owned(), String::clone);
    let slope = figures.and_then(|f| f.slope_per_year).map_or_else(String::new, signed);
    let (area_id, area, wells) = (line.area_id.clone(), line.area.clone(), figures.map_or(0, |f| f.wells));
    TrendView { area_id, area, hidden: figures.is_none(), wells, words, slope, q }
}

fn signed(value: f64) -> String {
    format!("{}{}", if value > 0.0 { "+" } else { "" }, number(value))
}

/// One benchmark of an analyte.
#[derive(Debug, Serialize)]
struct BenchmarkView {
    set: String,
    benchmark: String,
    effect: String,
    map: Option<String>,
    map_elsewhere: bool,
    region: String,
    chart: Chart,
    amid_high: Vec<String>,
    amid_low: Vec<String>,
    /// Whether one share would fit the intervals of all areas.
    overlap: Overlap,
}

/// Analytes in the order given; maps as far as their size allows.
pub(super) fn tests(input: &ReportInput) -> Vec<TestView<'_>> {
    let (mut room, most) = (MAP_BYTES, most_rows(input));
    input
        .analytes
        .iter()
        .map(|section| test_view(section, input.further.tests.get(&section.id), &mut room, most))
        .collect()
}

fn test_view<'a>(
    section: &'a AnalyteSection,
    further: Option<&'a TestFurther>,
    room: &mut usize,
    most: usize,
) -> TestView<'a> {
    TestView {
        anchor: anchor("test", &section.id),
        name: section.name.clone(),
        benchmarks: section.benchmarks.iter().map(|benchmark| benchmark_view(benchmark, room, most)).collect(),
        land_use: land_uses(&section.land_use, further),
        model: models(&section.model),
        figure: section.distribution.as_ref().map_or_else(String::new, Distribution::figure),
        figure_words: section.distribution.as_ref().map_or_else(String::new, Distribution::words),
        trend: section.trend.iter().take(most).map(|line| trend_view(line, further)).collect(),
        trend_words: further.map_or("", |test| test.trend.as_str()),
        periods: parts::periods(further, most),
        radii: further.map(|test| test.radii.as_slice()).unwrap_or_default(),
        amounts: amounts(&section.summary, most),
        cautions: cautions_for([section.id.as_str()]),
    }
}

fn benchmark_view(benchmark: &AnalyteBenchmark, room: &mut usize, most: usize) -> BenchmarkView {
    let lines: Vec<&RateLine> = benchmark.ranking.iter().collect();
    let map = benchmark.map_svg.clone().filter(|svg| svg.len() <= *room);
    *room -= map.as_ref().map_or(0, String::len);
    BenchmarkView {
        set: benchmark.set.clone(),
        benchmark: benchmark.benchmark.clone(),
        effect: effect_words(&benchmark.effect).to_owned(),
        map_elsewhere: map.is_none() && benchmark.map_svg.is_some(),
        map,
        region: region_words(benchmark.region.as_ref()),
        chart: chart(&ranked(&lines), Names::Areas, most),
        overlap: overlap(&lines),
        amid_high: benchmark.amid_high.clone(),
        amid_low: benchmark.amid_low.clone(),
    }
}

/// The intervals of all areas, seen together.
#[derive(Debug, PartialEq, Eq, Serialize)]
#[serde(transparent)]
struct Overlap {
    of_all: bool,
}

fn overlap(lines: &[&RateLine]) -> Overlap {
    let spreads = lines.iter().filter_map(|line| shown(line.figures.as_ref()?)).map(|spread| (spread.low, spread.high));
    Overlap { of_all: crate::publish::maps::all_overlap(spreads) }
}

fn region_words(line: Option<&RateLine>) -> String {
    let Some(line) = line else {
        return String::new();
    };
    match line.figures.as_ref() {
        None => "The figures of the whole region are not shown.".to_owned(),
        Some(figures) => match shown(figures) {
            None => format!("In the whole region: {}.", of_wells(figures)),
            Some(s) => format!(
                "In the whole region: {} {} ({}, interval {}).",
                of_wells(figures),
                line.benchmark,
                percent(s.value),
                interval(s.low, s.high)
            ),
        },
    }
}

/// What kind of harm a benchmark is about, in plain words.
pub fn effect_words(effect: &str) -> &str {
    match effect {
        "acute-health" => "health, within days",
        "chronic-health" => "health, over years",
        "aesthetic" => "taste, smell, colour or staining",
        "infrastructure" => "pipes and fixtures",
        other => other,
    }
}
