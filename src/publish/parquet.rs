//! results.parquet (one row a source result) and well-values.parquet (one row a well and analyte).
//!
//! Written block by block. An interval's ends stand in `low` and `high`, infinity where a result is only known to lie
//! above; both are null for a verdict without a number.

use super::{Results, Stage};
use crate::fate::Fate;
use crate::ids::{AnalyteId, Day, Interval};
use crate::normalise::{Block, Row};
use crate::per_well::{WellValue, fate};
use crate::plan::{Method, SampleKind, shown_path};
use crate::problem::Problem;
use polars::prelude::*;

/// Rows of a row group.
const GROUP: usize = 250_000;

/// Writes both files.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &mut Stage, results: &Results<'_>) -> Result<(), Problem> {
    results_file(stage, results)?;
    let values = &results.survey.values;
    write_frames(stage, "internal/well-values.parquet", values.chunks(GROUP).map(|part| value_frame(results, part)), || {
        value_frame(results, &[])
    })
}

fn results_file(stage: &mut Stage, results: &Results<'_>) -> Result<(), Problem> {
    let blocks = results.survey.ledger.blocks();
    let mut groups: Vec<&[Block]> = Vec::new();
    let (mut start, mut rows) = (0, 0);
    for (at, block) in blocks.iter().enumerate() {
        rows += block.rows.len();
        if rows >= GROUP {
            groups.extend(blocks.get(start..=at));
            (start, rows) = (at + 1, 0);
        }
    }
    groups.extend(blocks.get(start..).filter(|rest| !rest.is_empty()));
    write_frames(stage, "internal/results.parquet", groups.into_iter().map(|group| result_frame(results, group)), || {
        result_frame(results, &[])
    })
}

/// Writes frames one after another; `empty` gives the columns where there is none.
fn write_frames(
    stage: &mut Stage,
    name: &str,
    frames: impl Iterator<Item = PolarsResult<DataFrame>>,
    empty: impl Fn() -> PolarsResult<DataFrame>,
) -> Result<(), Problem> {
    let fault = |e: PolarsError| {
        Problem::file(std::path::Path::new(name), "out-unwritable", e.to_string(), "name a folder with room that you may write to")
    };
    let mut out = stage.create(name)?;
    let schema = empty().map_err(fault)?.schema().clone();
    let writer = ParquetWriter::new(&mut out).with_compression(ParquetCompression::Zstd(None));
    let mut batched = writer.batched(&schema).map_err(fault)?;
    let mut rows = 0u64;
    for frame in frames {
        let frame = frame.map_err(fault)?;
        rows += frame.height() as u64;
        batched.write_batch(&frame).map_err(fault)?;
    }
    batched.finish().map_err(fault)?;
    drop(batched);
    stage.keep(name, out, Some(rows))
}

/// Columns that results and values share.
#[derive(Default)]
struct Common {
    well: Vec<Option<String>>,
    area: Vec<Option<String>>,
    analyte: Vec<Option<String>>,
    unit: Vec<Option<String>>,
    low: Vec<Option<f64>>,
    high: Vec<Option<f64>>,
    detected: Vec<Option<bool>>,
    date: Vec<Option<i32>>,
    kind: Vec<&'static str>,
    method: Vec<&'static str>,
    estimated: Vec<bool>,
}

impl Common {
    fn push(&mut self, results: &Results<'_>, analyte: Option<AnalyteId>, interval: Option<Interval>, day: Option<Day>) {
        let dictionary = &results.job.dictionary;
        self.analyte.push(analyte.map(|a| dictionary.analytes().id(a).to_owned()));
        self.unit.push(analyte.map(|a| dictionary.unit_text(a)));
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

fn area_id(results: &Results<'_>, well: u32) -> Option<String> {
    let area = results.wells.area(crate::ids::WellId(well))?;
    Some(results.wells.areas().id(area).to_owned())
}

fn result_frame(results: &Results<'_>, blocks: &[Block]) -> PolarsResult<DataFrame> {
    let mut common = Common::default();
    let (mut file, mut line, mut sample, mut name, mut unit, mut written) = (vec![], vec![], vec![], vec![], vec![], vec![]);
    let (mut used, mut reason) = (vec![], vec![]);
    for block in blocks {
        let path = shown_path(&results.job.plan.base, &block.file.path);
        for row in &block.rows {
            let well = results.wells.id_at(row.well).unwrap_or_else(|| block.text(row.well_text));
            common.well.push(Some(well.to_owned()));
            common.area.push(area_id(results, row.well));
            common.push(results, row.analyte, row.interval, row.day);
            push_kind(&mut common, row);
            let spelling = block.spellings.get(usize::from(row.spelling));
            file.push(path.clone());
            line.push(row.line);
            sample.push(block.text(row.sample).to_owned());
            name.push(spelling.map(|(name, _)| name.clone()));
            unit.push(spelling.map(|(_, unit)| unit.clone()));
            written.push(block.text(row.written).to_owned());
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

fn push_kind(common: &mut Common, row: &Row) {
    common.kind.push(kind_word(row.kind));
    common.method.push(method_word(row.method));
    common.estimated.push(row.estimated);
}

fn value_frame(results: &Results<'_>, values: &[WellValue]) -> PolarsResult<DataFrame> {
    let mut common = Common::default();
    let mut tests: Vec<u32> = Vec::new();
    for value in values {
        common.well.push(Some(results.wells.id(value.well).to_owned()));
        common.area.push(area_id(results, value.well.0));
        common.push(results, Some(value.analyte), Some(value.interval), Some(value.day));
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
        SampleKind::Rejected => "rejected",
    }
}

fn method_word(method: Method) -> &'static str {
    match method {
        Method::Laboratory => "laboratory",
        Method::Kit => "kit",
    }
}
