//! results.parquet (one row a source result) and well-values.parquet (one row a well and analyte).
//!
//! Written block by block, packed with Snappy: quick, and read by everything that reads Parquet. The ends of an
//! interval stand in `low` and `high`, infinity where a result is only known to lie
//! above; both are null for a verdict without a number.

use super::research::{Edition, metadata};
use super::{Results, Stage};
use crate::fate::Fate;
use crate::ids::{AnalyteId, Day, Interval};
use crate::normalise::Row;
use crate::per_well::{Numbered, WellValue, fate};
use crate::plan::{Method, SampleKind, shown_path};
use crate::problem::Problem;
use polars::prelude::*;
use rayon::prelude::*;

/// Rows of a row group.
const GROUP: u64 = 250_000;

/// Writes both files.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    results_file(stage, results)?;
    values_file(stage, results)
}

fn results_file(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let words = Words::new(results);
    let name = "internal/results.parquet";
    let about = metadata(results, Edition::Internal, "results");
    write_frames(stage, name, result_frame(results, &words, &[]), about, |take| {
        results.survey.ledger.in_order(GROUP, |group| result_frame(results, &words, group), take)
    })
}

fn values_file(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let words = Words::new(results);
    let name = "internal/well-values.parquet";
    let about = metadata(results, Edition::Internal, "well-values");
    write_frames(stage, name, value_frame(results, &words, &[]), about, |take| {
        let groups: Vec<&[WellValue]> = results.survey.values.chunks(GROUP as usize).collect();
        groups.chunks(rayon::current_num_threads().max(1)).try_for_each(|ahead| {
            let frames: Vec<_> = ahead.par_iter().map(|part| value_frame(results, &words, part)).collect();
            frames.into_iter().try_for_each(&mut *take)
        })
    })
}

/// Analytes' ids and units, made once.
struct Words {
    ids: Vec<String>,
    units: Vec<String>,
}

impl Words {
    fn new(results: &Results<'_>) -> Words {
        let dictionary = &results.job.dictionary;
        let ids = dictionary.analytes().iter().map(|(_, entry)| entry.id.clone()).collect();
        let units = dictionary.analytes().iter().map(|(id, _)| dictionary.unit_text(id)).collect();
        Words { ids, units }
    }

    fn of(&self, list: fn(&Words) -> &Vec<String>, analyte: Option<AnalyteId>) -> Option<&str> {
        analyte.and_then(|analyte| list(self).get(analyte.index())).map(String::as_str)
    }
}

/// Takes a frame, or what was wrong in making it, and writes it.
type Take<'t> = dyn FnMut(PolarsResult<DataFrame>) -> Result<(), Problem> + Send + 't;

/// Writes frames one after another as `give` hands them out; `empty` has their columns, `about` is the file's metadata.
fn write_frames(
    stage: &Stage,
    name: &str,
    empty: PolarsResult<DataFrame>,
    about: KeyValueMetadata,
    give: impl FnOnce(&mut Take<'_>) -> Result<(), Problem>,
) -> Result<(), Problem> {
    let mut out = stage.create(name)?;
    let failed = out.failed();
    let fault = |error: PolarsError| stage.unwritable(name, &failed.or(error));
    let schema = empty.map_err(fault)?.schema().clone();
    let writer =
        ParquetWriter::new(&mut out).with_compression(ParquetCompression::Snappy).with_key_value_metadata(Some(about));
    let mut batched = writer.batched(&schema).map_err(fault)?;
    let mut rows = 0u64;
    give(&mut |frame| {
        let frame = frame.map_err(fault)?;
        rows += frame.height() as u64;
        batched.write_batch(&frame).map_err(fault)
    })?;
    batched.finish().map_err(fault)?;
    drop(batched);
    stage.keep(name, out, Some(rows))
}

/// Columns that results and values share.
#[derive(Default)]
struct Common<'a> {
    well: Vec<Option<&'a str>>,
    area: Vec<Option<&'a str>>,
    analyte: Vec<Option<&'a str>>,
    unit: Vec<Option<&'a str>>,
    low: Vec<Option<f64>>,
    high: Vec<Option<f64>>,
    detected: Vec<Option<bool>>,
    date: Vec<Option<i32>>,
    kind: Vec<&'static str>,
    method: Vec<&'static str>,
    estimated: Vec<bool>,
}

impl<'a> Common<'a> {
    fn push(&mut self, words: &'a Words, analyte: Option<AnalyteId>, interval: Option<Interval>, day: Option<Day>) {
        self.analyte.push(words.of(|w| &w.ids, analyte));
        self.unit.push(words.of(|w| &w.units, analyte));
        self.low.push(interval.and_then(Interval::low));
        self.high.push(interval.and_then(Interval::high));
        self.detected.push(interval.map(Interval::detected));
        self.date.push(day.map(|day| day.0));
    }

    fn columns(self) -> PolarsResult<Vec<Column>> {
        Ok(vec![
            Column::new("well".into(), self.well),
            Column::new("area_id".into(), self.area),
            Column::new("analyte".into(), self.analyte),
            Column::new("unit".into(), self.unit),
            Column::new("low".into(), self.low),
            Column::new("high".into(), self.high),
            Column::new("detected".into(), self.detected),
            Column::new("date".into(), self.date).cast(&DataType::Date)?,
            Column::new("sample_kind".into(), self.kind),
            Column::new("method".into(), self.method),
            Column::new("estimated".into(), self.estimated),
        ])
    }
}

fn area_id<'a>(results: &Results<'a>, well: u32) -> Option<&'a str> {
    let area = results.wells.area(crate::ids::WellId(well))?;
    Some(results.wells.areas().id(area))
}

fn result_frame(results: &Results<'_>, words: &Words, blocks: &[Numbered<'_>]) -> PolarsResult<DataFrame> {
    let mut common = Common::default();
    let (mut file, mut line, mut sample, mut name, mut unit, mut written) =
        (vec![], vec![], vec![], vec![], vec![], vec![]);
    let (mut used, mut reason) = (vec![], vec![]);
    let paths: Vec<String> = blocks.iter().map(|(_, b)| shown_path(&results.job.plan.base, &b.file.path)).collect();
    for ((_, block), path) in blocks.iter().zip(&paths) {
        for row in &block.rows {
            let well = results.wells.id_at(row.well).unwrap_or_else(|| block.text(row.well_text));
            common.well.push(Some(well));
            common.area.push(area_id(results, row.well));
            common.push(words, row.analyte, row.interval, row.day);
            push_kind(&mut common, row);
            let spelling = block.spellings.get(usize::from(row.spelling));
            file.push(path.as_str());
            line.push(row.line);
            sample.push(block.text(row.sample));
            name.push(spelling.map(|(name, _)| name.as_str()));
            unit.push(spelling.map(|(_, unit)| unit.as_str()));
            written.push(block.text(row.written));
            used.push(fate(row) == Fate::Used);
            reason.push(row.reason.map(crate::fate::Reason::name));
        }
    }
    let mut columns = vec![
        Column::new("file".into(), file),
        Column::new("line".into(), line),
        Column::new("sample".into(), sample),
        Column::new("analyte_as_written".into(), name),
        Column::new("unit_as_written".into(), unit),
        Column::new("value_as_written".into(), written),
    ];
    columns.extend(common.columns()?);
    columns.push(Column::new("used".into(), used));
    columns.push(Column::new("reason".into(), reason));
    DataFrame::new_infer_height(columns)
}

fn push_kind(common: &mut Common<'_>, row: &Row) {
    common.kind.push(kind_word(row.kind));
    common.method.push(method_word(row.method));
    common.estimated.push(row.estimated);
}

fn value_frame(results: &Results<'_>, words: &Words, values: &[WellValue]) -> PolarsResult<DataFrame> {
    let mut common = Common::default();
    let mut tests: Vec<u32> = Vec::new();
    for value in values {
        common.well.push(Some(results.wells.id(value.well)));
        common.area.push(area_id(results, value.well.0));
        common.push(words, Some(value.analyte), Some(value.interval), Some(value.day));
        common.kind.push(kind_word(value.kind));
        common.method.push(method_word(value.method));
        common.estimated.push(value.estimated);
        tests.push(value.results);
    }
    let mut columns = common.columns()?;
    columns.push(Column::new("results".into(), tests));
    DataFrame::new_infer_height(columns)
}

fn kind_word(kind: SampleKind) -> &'static str {
    match kind {
        SampleKind::Routine => "routine",
        SampleKind::Duplicate => "duplicate",
        SampleKind::Blank => "blank",
        SampleKind::Spike => "spike",
        SampleKind::FirstDraw => "first-draw",
        SampleKind::Treated => "treated",
        SampleKind::AfterRepair => "after-repair",
        SampleKind::NoticedChange => "noticed-change",
        SampleKind::Rejected => "rejected",
    }
}

fn method_word(method: Method) -> &'static str {
    match method {
        Method::Laboratory => "laboratory",
        Method::Kit => "kit",
    }
}
