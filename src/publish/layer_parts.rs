//! From a further layer's protected tables to its part of the page: the tests that lead in the region, and its areas.

use super::Stage;
use super::page_parts::Line;
use super::pictures::{self, Formats, kind_words};
use super::protect::{Protected, Public};
use super::report::{LayerCell, LayerRow, LayerSection, LayerTest, count};
use super::words::set_words;
use crate::dictionary::Benchmark;
use crate::problem::Problem;
use crate::summarise::{ExceedanceRow, Scope};
use crate::table::Table;
use std::collections::BTreeMap;

/// Tests that the page shows by further areas.
const LEADING: usize = 6;
/// Areas in the page's table; the others stand in the layer's tables.
const MOST_ROWS: usize = 100;
/// Maps of one layer stand in the page until their text passes this many bytes.
const MAP_BYTES: usize = 400_000;

/// Writes the layer's maps and gives its part of the page. `named`: what it is called, and its number from 1.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub(super) fn section(
    stage: &Stage,
    public: &Public<'_>,
    named: (&str, usize),
    tables: &[(Table, Protected<Table>)],
    formats: Formats,
) -> Result<LayerSection, Problem> {
    let leading = leading(public);
    let limits: Vec<&Benchmark> = leading.iter().map(|(_, limit)| *limit).collect();
    let (maps, outlines) = pictures::layer(stage, public, named, &limits, formats)?;
    let mut room = MAP_BYTES.saturating_sub(outlines.len());
    let tests: Vec<LayerTest> =
        leading.iter().zip(maps).map(|((row, _), map)| test(public, row, within(&mut room, map))).collect();
    let areas = public.areas.len();
    let keys: Vec<Key> = leading.iter().map(|(row, _)| key(public, row)).collect();
    let rows = rows(tables, &keys);
    Ok(LayerSection {
        called: named.0.to_owned(),
        areas,
        tests,
        more: areas.saturating_sub(rows.len()),
        rows,
        outlines,
    })
}

/// Analyte, set and effect, as tables write them.
type Key = [String; 3];

fn key(public: &Public<'_>, row: &ExceedanceRow) -> Key {
    [public.names().analyte(row.analyte), row.set.clone(), row.effect.clone()]
}

fn within(room: &mut usize, map: String) -> Option<String> {
    let left = room.checked_sub(map.len())?;
    *room = left;
    Some(map)
}

/// The region's rates above zero against health limits, highest first, with their limits.
fn leading<'p>(public: &'p Public<'_>) -> Vec<(&'p ExceedanceRow, &'p Benchmark)> {
    let (findings, protection) = (public.told.findings(), public.protection);
    let of_region = findings.exceedance.iter().filter(|row| row.scope == Scope::Region && row.is_health());
    let mut rows: Vec<(&ExceedanceRow, &Benchmark)> = of_region
        .filter(|row| row.exceeding > 0 && !protection.hides(row.scope, row.analyte))
        .filter(|row| some_area(public, row))
        .filter_map(|row| {
            let own = |b: &&Benchmark| b.analyte == row.analyte && b.set == row.set && b.effect.as_str() == row.effect;
            Some((row, findings.benchmarks.iter().find(own)?))
        })
        .collect();
    let rate = |row: &ExceedanceRow| row.rate.unwrap_or(0.0);
    rows.sort_by(|a, b| rate(b.0).total_cmp(&rate(a.0)).then(a.0.analyte.cmp(&b.0.analyte)));
    rows.truncate(LEADING);
    rows
}

/// Whether some area's share can be shown: a map of nothing but hidden areas tells nothing.
fn some_area(public: &Public<'_>, of: &ExceedanceRow) -> bool {
    public.told.findings().exceedance.iter().any(|row| {
        let own = row.analyte == of.analyte && row.set == of.set && row.effect == of.effect;
        own && row.scope != Scope::Region && row.wells > 0 && !public.protection.hides(row.scope, row.analyte)
    })
}

fn test(public: &Public<'_>, row: &ExceedanceRow, map_svg: Option<String>) -> LayerTest {
    let entry = public.dictionary.analytes().get(row.analyte);
    let analyte_id = public.names().analyte(row.analyte);
    LayerTest {
        analyte: entry.map_or_else(|| analyte_id.clone(), |entry| entry.display_name.clone()),
        analyte_id,
        benchmark: kind_words(public.dictionary, row.analyte, row.kind),
        set: set_words(public.dictionary, &row.set),
        map_svg,
    }
}

/// The first areas in the order of their names, read from the protected tables alone.
fn rows(tables: &[(Table, Protected<Table>)], tests: &[Key]) -> Vec<LayerRow> {
    let mut known: BTreeMap<String, LayerRow> = BTreeMap::new();
    for line in lines(tables, "outreach") {
        let (sampled, on_record) = (line.count("wells_sampled"), line.count("wells_on_record"));
        let cells = vec![LayerCell { share: None, words: "no well".to_owned() }; tests.len()];
        known.insert(line.text("area_id"), LayerRow { area: line.text("area_name"), sampled, on_record, cells });
    }
    for line in lines(tables, "exceedance") {
        let key = ["analyte", "benchmark_set", "effect"].map(|column| line.text(column));
        let Some(at) = tests.iter().position(|test| *test == key) else { continue };
        let row = known.get_mut(&line.text("area_id"));
        if let Some(place) = row.and_then(|row| row.cells.get_mut(at)) {
            *place = cell(line);
        }
    }
    let mut rows: Vec<LayerRow> = known.into_values().collect();
    rows.sort_by(|a, b| a.area.cmp(&b.area));
    rows.truncate(MOST_ROWS);
    rows
}

fn lines<'a>(tables: &'a [(Table, Protected<Table>)], name: &str) -> Vec<Line<'a>> {
    let found = tables.iter().map(|(_, public)| public.get()).find(|table| table.name == name);
    found.map(|table| table.rows.iter().map(|cells| Line { table, cells }).collect()).unwrap_or_default()
}

fn cell(line: Line<'_>) -> LayerCell {
    let share = line.number("rate_smoothed");
    let words = match (line.count("wells"), line.count("exceeding"), line.count("meeting")) {
        (Some(0), ..) => "no well".to_owned(),
        (Some(_), Some(0), Some(0)) => "none could be judged".to_owned(),
        (Some(_), Some(exceeding), Some(meeting)) => format!("{} of {}", count(exceeding), count(exceeding + meeting)),
        _ => "not shown".to_owned(),
    };
    LayerCell { share, words }
}
