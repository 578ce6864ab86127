//! results.parquet (one row a source result) and well-values.parquet (one row a well and analyte).
//!
//! Row groups are made and packed on all threads, and written in order. The ends of an interval stand in `low` and `high`,
//! infinity where a result is only known to lie above; both are null for a verdict without a number.

use super::columns::{Coded, Column, ColumnFile, Figures, GROUP, Group, Kind, Layout, Texts};
use super::internal::{SetAside, set_aside};
use super::research::{Edition, metadata};
use super::{Results, Stage};
use crate::fate::{Fate, Reason};
use crate::ids::{AnalyteId, Day, Interval, WellId};
use crate::in_order::in_order;
use crate::normalise::{Block, Row};
use crate::per_well::{Numbered, WellValue, fate};
use crate::plan::{Method, SampleKind, shown_path};
use crate::problem::Problem;
use polars::prelude::PolarsResult;

/// Writes results.parquet, and set-aside.csv beside it: one walk over all rows makes both, since rows are long in being taken from
/// where they were put away.
///
/// # Errors
/// A folder that cannot be written.
pub fn write_results(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let words = Words::new(results);
    let name = "internal/results.parquet";
    let layout = layout(stage, name, Written::COLUMNS.into_iter().chain(Common::COLUMNS).chain(Fates::COLUMNS))?;
    let mut file = ColumnFile::new(stage, name, &layout, metadata(results, Edition::Internal, "results"))?;
    let mut aside = SetAside::new(stage)?;
    let made = |blocks: &[Numbered<'_>]| {
        let lines: Vec<_> = blocks.iter().map(|(_, block)| set_aside(block, results)).collect();
        (result_columns(results, &words, blocks).and_then(|columns| layout.pack(&columns)), lines)
    };
    results.survey.ledger.in_order(GROUP as u64, made, |(group, lines)| {
        lines.iter().try_for_each(|lines| aside.put(lines))?;
        file.put(group)
    })?;
    file.keep()?;
    aside.keep()
}

/// Writes well-values.parquet.
///
/// # Errors
/// A folder that cannot be written.
pub fn write_values(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let words = Words::new(results);
    let name = "internal/well-values.parquet";
    let layout = layout(stage, name, Common::COLUMNS.into_iter().chain([("results", Kind::Count)]))?;
    let mut file = ColumnFile::new(stage, name, &layout, metadata(results, Edition::Internal, "well-values"))?;
    let groups: Vec<&[WellValue]> = results.survey.values.chunks(GROUP).collect();
    let made = |part: &&[WellValue]| -> Result<PolarsResult<Group>, Problem> {
        Ok(value_columns(results, &words, part).and_then(|columns| layout.pack(&columns)))
    };
    in_order(&groups, made, |group| file.put(group))?;
    file.keep()
}

fn layout<'n>(
    stage: &Stage,
    name: &str,
    columns: impl IntoIterator<Item = (&'n str, Kind)>,
) -> Result<Layout, Problem> {
    Layout::new(columns).map_err(|error| stage.unwritable(name, &std::io::Error::other(error.to_string())))
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
}

/// Columns that results and values share.
#[derive(Default)]
struct Common {
    well: Coded,
    area: Coded,
    analyte: Coded,
    unit: Coded,
    low: Figures,
    high: Figures,
    detected: Vec<Option<bool>>,
    date: Vec<Option<i32>>,
    kind: Coded,
    method: Coded,
    estimated: Vec<Option<bool>>,
}

impl Common {
    const COLUMNS: [(&str, Kind); 11] = [
        ("well", Kind::Text),
        ("area_id", Kind::Text),
        ("analyte", Kind::Text),
        ("unit", Kind::Text),
        ("low", Kind::Figure),
        ("high", Kind::Figure),
        ("detected", Kind::Truth),
        ("date", Kind::Day),
        ("sample_kind", Kind::Text),
        ("method", Kind::Text),
        ("estimated", Kind::Truth),
    ];

    /// A well of the list, or one that is known by its text alone.
    fn push_place(&mut self, results: &Results<'_>, well: u32, text: &str) {
        match results.wells.id_at(well) {
            Some(id) => self.well.push(well as usize, || Some(id)),
            None => self.well.push_text(Some(text)),
        }
        let areas = results.wells.areas();
        match results.wells.area(WellId(well)) {
            Some(area) => self.area.push(area.index(), || Some(areas.id(area))),
            None => self.area.push_text(None),
        }
    }

    fn push(&mut self, words: &Words, analyte: Option<AnalyteId>, interval: Option<Interval>, day: Option<Day>) {
        push_analyte(&mut self.analyte, &words.ids, analyte);
        push_analyte(&mut self.unit, &words.units, analyte);
        self.low.push(interval.and_then(Interval::low));
        self.high.push(interval.and_then(Interval::high));
        self.detected.push(interval.map(Interval::detected));
        self.date.push(day.map(|day| day.0));
    }

    fn push_kind(&mut self, kind: SampleKind, method: Method, estimated: bool) {
        self.kind.push(kind as usize, || Some(kind_word(kind)));
        self.method.push(method as usize, || Some(method_word(method)));
        self.estimated.push(Some(estimated));
    }

    fn finish(self) -> PolarsResult<[Column; 11]> {
        Ok([
            self.well.finish()?,
            self.area.finish()?,
            self.analyte.finish()?,
            self.unit.finish()?,
            self.low.finish()?,
            self.high.finish()?,
            Column::truths(self.detected),
            Column::days(self.date),
            self.kind.finish()?,
            self.method.finish()?,
            Column::truths(self.estimated),
        ])
    }
}

fn push_analyte(column: &mut Coded, list: &[String], analyte: Option<AnalyteId>) {
    match analyte {
        Some(analyte) => column.push(analyte.index(), || list.get(analyte.index()).map(String::as_str)),
        None => column.push_text(None),
    }
}

/// Columns of results as they were written.
#[derive(Default)]
struct Written {
    file: Coded,
    line: Vec<u32>,
    sample: Texts,
    name: Coded,
    unit: Coded,
    value: Texts,
}

impl Written {
    const COLUMNS: [(&str, Kind); 6] = [
        ("file", Kind::Text),
        ("line", Kind::Count),
        ("sample", Kind::Text),
        ("analyte_as_written", Kind::Text),
        ("unit_as_written", Kind::Text),
        ("value_as_written", Kind::Text),
    ];

    /// The rows to come are of another block, which may be of another file, and whose spellings have numbers of their own.
    fn begin(&mut self) {
        self.file.forget();
        self.name.forget();
        self.unit.forget();
    }

    fn push(&mut self, path: &str, block: &Block, row: &Row) {
        let number = usize::from(row.spelling);
        let spelling = || block.spellings.get(number);
        self.file.push(0, || Some(path));
        self.line.push(row.line);
        self.sample.push(Some(block.text(row.sample)));
        self.name.push(number, || spelling().map(|(name, _)| name.as_str()));
        self.unit.push(number, || spelling().map(|(_, unit)| unit.as_str()));
        self.value.push(Some(block.text(row.written)));
    }

    fn finish(self) -> PolarsResult<[Column; 6]> {
        Ok([
            self.file.finish()?,
            Column::rising(self.line),
            self.sample.finish()?,
            self.name.finish()?,
            self.unit.finish()?,
            self.value.finish()?,
        ])
    }
}

/// What became of results.
#[derive(Default)]
struct Fates {
    used: Vec<Option<bool>>,
    reason: Coded,
}

impl Fates {
    const COLUMNS: [(&str, Kind); 2] = [("used", Kind::Truth), ("reason", Kind::Text)];

    fn push(&mut self, row: &Row) {
        let fate = fate(row);
        self.used.push(Some(fate == Fate::Used));
        match fate {
            Fate::Used => self.reason.push_text(None),
            Fate::SetAside(reason) => self.reason.push(reason as usize, || Some(Reason::name(reason))),
        }
    }

    fn finish(self) -> PolarsResult<[Column; 2]> {
        Ok([Column::truths(self.used), self.reason.finish()?])
    }
}

fn result_columns(results: &Results<'_>, words: &Words, blocks: &[Numbered<'_>]) -> PolarsResult<Vec<Column>> {
    let (mut written, mut common, mut fates) = (Written::default(), Common::default(), Fates::default());
    for (_, block) in blocks {
        let path = shown_path(&results.job.plan.base, &block.file.path);
        written.begin();
        for row in &block.rows {
            written.push(&path, block, row);
            common.push_place(results, row.well, block.text(row.well_text));
            common.push(words, row.analyte, row.interval, row.day);
            common.push_kind(row.kind, row.method, row.estimated);
            fates.push(row);
        }
    }
    Ok(written.finish()?.into_iter().chain(common.finish()?).chain(fates.finish()?).collect())
}

fn value_columns(results: &Results<'_>, words: &Words, values: &[WellValue]) -> PolarsResult<Vec<Column>> {
    let mut common = Common::default();
    for value in values {
        common.push_place(results, value.well.0, "");
        common.push(words, Some(value.analyte), Some(value.interval), Some(value.day));
        common.push_kind(value.kind, value.method, value.estimated);
    }
    let counts = Column::counts(values.iter().map(|value| value.results).collect());
    Ok(common.finish()?.into_iter().chain([counts]).collect())
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
