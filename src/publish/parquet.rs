//! results.parquet (one row a source result) and well-values.parquet (one row a well and analyte).
//!
//! Written block by block, packed with Snappy: quick, and read by everything that reads Parquet. The ends of an
//! interval stand in `low` and `high`, infinity where a result is only known to lie
//! above; both are null for a verdict without a number.

use super::internal::{SetAside, set_aside};
use super::research::{Edition, metadata};
use super::{Results, Stage};
use crate::fate::{Fate, Reason};
use crate::ids::{AnalyteId, Day, Interval};
use crate::in_order::in_order;
use crate::normalise::{Block, Row};
use crate::per_well::{Numbered, WellValue, fate};
use crate::plan::{Method, SampleKind, shown_path};
use crate::problem::Problem;
use polars::prelude::*;

/// Rows of a row group.
const GROUP: u64 = 250_000;

/// Writes both files, and set-aside.csv beside them: one walk over all rows makes it and results.parquet, since rows are long in
/// being taken from where they were put away.
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
    let mut aside = SetAside::new(stage)?;
    write_frames(stage, name, result_frame(results, &words, &[]), about, |take| {
        let lines = |blocks: &[Numbered<'_>]| blocks.iter().map(|(_, b)| set_aside(b, results)).collect::<Vec<_>>();
        let made = |blocks: &[Numbered<'_>]| (result_frame(results, &words, blocks), lines(blocks));
        results.survey.ledger.in_order(GROUP, made, |(frame, lines)| {
            lines.iter().try_for_each(|lines| aside.put(lines))?;
            take(frame)
        })
    })?;
    aside.keep()
}

fn values_file(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let words = Words::new(results);
    let name = "internal/well-values.parquet";
    let about = metadata(results, Edition::Internal, "well-values");
    write_frames(stage, name, value_frame(results, &words, &[]), about, |take| {
        let groups: Vec<&[WellValue]> = results.survey.values.chunks(GROUP as usize).collect();
        in_order(&groups, |part| Ok(value_frame(results, &words, part)), take)
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

/// Columns that results and values share, in their order.
struct Common {
    well: StringChunkedBuilder,
    area: StringChunkedBuilder,
    analyte: StringChunkedBuilder,
    unit: StringChunkedBuilder,
    low: PrimitiveChunkedBuilder<Float64Type>,
    high: PrimitiveChunkedBuilder<Float64Type>,
    detected: BooleanChunkedBuilder,
    date: PrimitiveChunkedBuilder<Int32Type>,
    kind: StringChunkedBuilder,
    method: StringChunkedBuilder,
    estimated: BooleanChunkedBuilder,
}

/// A column of text for this many rows.
fn texts(name: &str, rows: usize) -> StringChunkedBuilder {
    StringChunkedBuilder::new(name.into(), rows)
}

impl Common {
    fn new(rows: usize) -> Common {
        Common {
            well: texts("well", rows),
            area: texts("area_id", rows),
            analyte: texts("analyte", rows),
            unit: texts("unit", rows),
            low: PrimitiveChunkedBuilder::new("low".into(), rows),
            high: PrimitiveChunkedBuilder::new("high".into(), rows),
            detected: BooleanChunkedBuilder::new("detected".into(), rows),
            date: PrimitiveChunkedBuilder::new("date".into(), rows),
            kind: texts("sample_kind", rows),
            method: texts("method", rows),
            estimated: BooleanChunkedBuilder::new("estimated".into(), rows),
        }
    }

    fn push_place(&mut self, results: &Results<'_>, well: u32, id: &str) {
        self.well.append_value(id);
        self.area.append_option(area_id(results, well));
    }

    fn push(&mut self, words: &Words, analyte: Option<AnalyteId>, interval: Option<Interval>, day: Option<Day>) {
        self.analyte.append_option(words.of(|w| &w.ids, analyte));
        self.unit.append_option(words.of(|w| &w.units, analyte));
        self.low.append_option(interval.and_then(Interval::low));
        self.high.append_option(interval.and_then(Interval::high));
        self.detected.append_option(interval.map(Interval::detected));
        self.date.append_option(day.map(|day| day.0));
    }

    fn push_kind(&mut self, kind: SampleKind, method: Method, estimated: bool) {
        self.kind.append_value(kind_word(kind));
        self.method.append_value(method_word(method));
        self.estimated.append_value(estimated);
    }

    fn columns(self) -> PolarsResult<Vec<Column>> {
        Ok(vec![
            self.well.finish().into_column(),
            self.area.finish().into_column(),
            self.analyte.finish().into_column(),
            self.unit.finish().into_column(),
            self.low.finish().into_column(),
            self.high.finish().into_column(),
            self.detected.finish().into_column(),
            self.date.finish().into_column().cast(&DataType::Date)?,
            self.kind.finish().into_column(),
            self.method.finish().into_column(),
            self.estimated.finish().into_column(),
        ])
    }
}

fn area_id<'a>(results: &Results<'a>, well: u32) -> Option<&'a str> {
    let area = results.wells.area(crate::ids::WellId(well))?;
    Some(results.wells.areas().id(area))
}

/// Columns of results as they were written.
struct Written {
    file: StringChunkedBuilder,
    line: PrimitiveChunkedBuilder<UInt32Type>,
    sample: StringChunkedBuilder,
    name: StringChunkedBuilder,
    unit: StringChunkedBuilder,
    value: StringChunkedBuilder,
}

impl Written {
    fn new(rows: usize) -> Written {
        Written {
            file: texts("file", rows),
            line: PrimitiveChunkedBuilder::new("line".into(), rows),
            sample: texts("sample", rows),
            name: texts("analyte_as_written", rows),
            unit: texts("unit_as_written", rows),
            value: texts("value_as_written", rows),
        }
    }

    fn push(&mut self, path: &str, block: &Block, row: &Row) {
        let spelling = block.spellings.get(usize::from(row.spelling));
        self.file.append_value(path);
        self.line.append_value(row.line);
        self.sample.append_value(block.text(row.sample));
        self.name.append_option(spelling.map(|(name, _)| name));
        self.unit.append_option(spelling.map(|(_, unit)| unit));
        self.value.append_value(block.text(row.written));
    }

    fn columns(self) -> Vec<Column> {
        let texts = [self.sample, self.name, self.unit, self.value].map(|texts| texts.finish().into_column());
        [self.file.finish().into_column(), self.line.finish().into_column()].into_iter().chain(texts).collect()
    }
}

fn result_frame(results: &Results<'_>, words: &Words, blocks: &[Numbered<'_>]) -> PolarsResult<DataFrame> {
    let rows = blocks.iter().map(|(_, block)| block.rows.len()).sum();
    let (mut written, mut common) = (Written::new(rows), Common::new(rows));
    let (mut used, mut reason) = (BooleanChunkedBuilder::new("used".into(), rows), texts("reason", rows));
    for (_, block) in blocks {
        let path = shown_path(&results.job.plan.base, &block.file.path);
        for row in &block.rows {
            written.push(&path, block, row);
            common.push_place(
                results,
                row.well,
                results.wells.id_at(row.well).unwrap_or_else(|| block.text(row.well_text)),
            );
            common.push(words, row.analyte, row.interval, row.day);
            common.push_kind(row.kind, row.method, row.estimated);
            used.append_value(fate(row) == Fate::Used);
            reason.append_option(row.reason.map(Reason::name));
        }
    }
    let mut columns = written.columns();
    columns.extend(common.columns()?);
    columns.extend([used.finish().into_column(), reason.finish().into_column()]);
    DataFrame::new_infer_height(columns)
}

fn value_frame(results: &Results<'_>, words: &Words, values: &[WellValue]) -> PolarsResult<DataFrame> {
    let mut common = Common::new(values.len());
    for value in values {
        common.push_place(results, value.well.0, results.wells.id(value.well));
        common.push(words, Some(value.analyte), Some(value.interval), Some(value.day));
        common.push_kind(value.kind, value.method, value.estimated);
    }
    let mut columns = common.columns()?;
    columns.push(Column::new("results".into(), values.iter().map(|value| value.results).collect::<Vec<u32>>()));
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
