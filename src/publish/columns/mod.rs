//! Parquet files, column by column: what a column holds as it grows (`growing`), and a file of row groups (`file`).
//!
//! Comes in: cells, or codes that stand for texts. Goes out: packed pages. The file's layout, page headers and statistics are
//! polars-parquet's; dictionaries are our own. A reader would question why not all is left to polars: it finds the dictionary of a
//! column by hashing every cell, and here most texts are known by a number before any is written. A text is looked up where it
//! first appears in a row group, and every other cell costs one number.
//!
//! Nothing in here starts threads: who writes long files packs several row groups at once (`in_order`).

mod file;
mod growing;

pub(super) use file::ColumnFile;
pub(super) use growing::{Coded, Figures, Texts};

use polars::prelude::{ArrowField, ArrowSchema, PlSmallStr, PolarsResult, polars_ensure};
use polars_arrow::array::{Array, BooleanArray, PrimitiveArray};
use polars_arrow::datatypes::ArrowDataType;
use polars_parquet::read::ParquetError;
use polars_parquet::write::{
    CompressedPage, CompressionOptions, Compressor, Encoding, ParquetType, StatisticsOptions, Version, WriteOptions,
    array_to_columns, to_parquet_schema,
};

/// Rows of a row group.
pub(super) const GROUP: usize = 250_000;

/// Bytes of a page before it is packed: a row group of numbers is one page. Of a column with a dictionary polars-parquet puts the empty
/// cells of all pages down at each of them, so with two pages the file would say that twice as many are empty.
const PAGE: usize = 16 << 20;

/// Snappy is quick, and read by everything that reads Parquet.
const OPTIONS: WriteOptions = WriteOptions {
    statistics: StatisticsOptions {
        min_value: true,
        max_value: true,
        distinct_count: false,
        null_count: true,
        binary_statistics_truncate_length: None,
    },
    version: Version::V1,
    compression: CompressionOptions::Snappy,
    data_page_size: Some(PAGE),
};

/// What the cells of a column are, each of which may be empty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Text.
    Text,
    /// A number.
    Figure,
    /// A whole number.
    Whole,
    /// A whole number from 0 to 4,294,967,295.
    Count,
    /// A day.
    Day,
    /// Yes or no.
    Truth,
}

impl Kind {
    fn stored(self) -> ArrowDataType {
        match self {
            Kind::Text => ArrowDataType::Utf8View,
            Kind::Figure => ArrowDataType::Float64,
            Kind::Whole => ArrowDataType::Int64,
            Kind::Count => ArrowDataType::UInt32,
            Kind::Day => ArrowDataType::Date32,
            Kind::Truth => ArrowDataType::Boolean,
        }
    }
}

/// The columns of a file.
pub(super) struct Layout {
    schema: ArrowSchema,
    types: Vec<ParquetType>,
}

impl Layout {
    /// Columns of these names.
    pub(super) fn new<'n>(columns: impl IntoIterator<Item = (&'n str, Kind)>) -> PolarsResult<Layout> {
        let field = |(name, kind): (&str, Kind)| ArrowField::new(PlSmallStr::from_str(name), kind.stored(), true);
        let schema = ArrowSchema::from_iter(columns.into_iter().map(field));
        let types = to_parquet_schema(&schema)?.fields().to_vec();
        Ok(Layout { schema, types })
    }

    /// Packs a row group, whose columns are those of the layout.
    pub(super) fn pack(&self, columns: &[Column]) -> PolarsResult<Group> {
        let rows = columns.first().map_or(0, |column| column.array.len());
        let alike = columns.len() == self.types.len() && columns.iter().all(|column| column.array.len() == rows);
        polars_ensure!(alike, ShapeMismatch: "a row group whose columns are not those of its file");
        let packed = columns.iter().zip(&self.types).map(|(column, kind)| column.pack(kind));
        Ok(Group { rows, columns: packed.collect::<PolarsResult<_>>()? })
    }
}

/// A row group as it stands in the file.
pub(super) struct Group {
    rows: usize,
    columns: Vec<Vec<CompressedPage>>,
}

/// A column of a row group, with all its cells.
pub(super) struct Column {
    array: Box<dyn Array>,
    encoding: Encoding,
}

impl Column {
    /// Whole numbers.
    pub(super) fn whole(cells: Vec<Option<i64>>) -> Column {
        Column { array: Box::new(PrimitiveArray::from(cells)), encoding: Encoding::RleDictionary }
    }

    /// Counts that differ from row to row in no order.
    pub(super) fn counts(cells: Vec<u32>) -> Column {
        Column { array: Box::new(PrimitiveArray::from_vec(cells)), encoding: Encoding::RleDictionary }
    }

    /// Counts that mostly go up, such as lines of a file: what is kept is how much each is above the one before.
    pub(super) fn rising(cells: Vec<u32>) -> Column {
        Column { array: Box::new(PrimitiveArray::from_vec(cells)), encoding: Encoding::DeltaBinaryPacked }
    }

    /// Days after 1970-01-01.
    pub(super) fn days(cells: Vec<Option<i32>>) -> Column {
        let array = PrimitiveArray::from(cells).to(ArrowDataType::Date32);
        Column { array: Box::new(array), encoding: Encoding::RleDictionary }
    }

    /// Yes or no.
    pub(super) fn truths(cells: Vec<Option<bool>>) -> Column {
        Column { array: Box::new(BooleanArray::from(cells)), encoding: Encoding::Plain }
    }

    fn pack(&self, kind: &ParquetType) -> PolarsResult<Vec<CompressedPage>> {
        let mut packed = Vec::new();
        for pages in array_to_columns(&self.array, kind.clone(), OPTIONS, &[self.encoding])? {
            let pages = pages.map(|page| page.map_err(|fault| ParquetError::FeatureNotSupported(fault.to_string())));
            for page in Compressor::new(pages, OPTIONS.compression, Vec::new()) {
                packed.push(page?);
            }
        }
        Ok(packed)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Stage;
    use super::*;
    use crate::disk::machine;
    use crate::parquet::ParquetFile;
    use polars::prelude::DataFrame;
    use polars_parquet::parquet::statistics::Statistics;
    use polars_parquet::read::ColumnChunkMetadata;
    use proptest::prelude::*;

    const COLUMNS: [(&str, Kind); 9] = [
        ("text", Kind::Text),
        ("coded", Kind::Text),
        ("figure", Kind::Figure),
        ("whole", Kind::Whole),
        ("count", Kind::Count),
        ("rising", Kind::Count),
        ("day", Kind::Day),
        ("truth", Kind::Truth),
        ("nothing", Kind::Text),
    ];
    const WORDS: [&str; 4] = ["", "lead", "a word that is longer than twelve bytes", "Åå"];

    #[derive(Clone, Debug, PartialEq)]
    struct Row {
        text: Option<String>,
        coded: Option<usize>,
        figure: Option<f64>,
        whole: Option<i64>,
        count: u32,
        rising: u32,
        day: Option<i32>,
        truth: Option<bool>,
    }

    fn columns(rows: &[Row]) -> Vec<Column> {
        let (mut text, mut coded, mut figure, mut nothing) =
            (Texts::default(), Coded::default(), Figures::default(), Texts::default());
        for row in rows {
            text.push(row.text.as_deref());
            match row.coded {
                Some(code) => coded.push(code, || WORDS.get(code).copied()),
                None => coded.push_text(None),
            }
            figure.push(row.figure);
            nothing.push(None);
        }
        vec![
            text.finish().unwrap(),
            coded.finish().unwrap(),
            figure.finish().unwrap(),
            Column::whole(rows.iter().map(|row| row.whole).collect()),
            Column::counts(rows.iter().map(|row| row.count).collect()),
            Column::rising(rows.iter().map(|row| row.rising).collect()),
            Column::days(rows.iter().map(|row| row.day).collect()),
            Column::truths(rows.iter().map(|row| row.truth).collect()),
            nothing.finish().unwrap(),
        ]
    }

    /// What polars reads of a file with these row groups.
    fn read_back(groups: &[Vec<Row>]) -> Vec<Vec<Row>> {
        let home = tempfile::tempdir().unwrap();
        let stage = Stage::new(&home.path().join("out")).unwrap();
        let layout = Layout::new(COLUMNS).unwrap();
        let mut file = ColumnFile::new(&stage, "a.parquet", &layout, vec![("key".into(), "value".into())]).unwrap();
        groups.iter().for_each(|rows| file.put(layout.pack(&columns(rows))).unwrap());
        file.keep().unwrap();
        let rows: usize = groups.iter().map(Vec::len).sum();
        assert_eq!(stage.facts()["a.parquet"].rows, Some(rows as u64));
        drop(stage.finish().unwrap());
        assert_eq!(empty_cells(&home.path().join("out/a.parquet")), counted(groups));
        let mut file = ParquetFile::open(machine().open(&home.path().join("out/a.parquet")).unwrap()).unwrap();
        assert_eq!(file.names(), COLUMNS.map(|(name, _)| name));
        let all: Vec<usize> = (0..COLUMNS.len()).collect();
        (0..file.groups().len())
            .map(|number| {
                let group = file.group(number, &all).unwrap();
                rows_of(&group.frame(0..group.rows()).unwrap())
            })
            .collect()
    }

    /// How many cells of each column the file says are empty, by row group.
    fn empty_cells(path: &std::path::Path) -> Vec<Vec<Option<i64>>> {
        let about = polars_parquet::read::read_metadata(&mut std::fs::File::open(path).unwrap()).unwrap();
        let told = |column: &ColumnChunkMetadata| match column.statistics(&about.footer_buf)?.unwrap() {
            Statistics::Binary(told) => told.null_count,
            Statistics::Boolean(told) => told.null_count,
            Statistics::Int32(told) => told.null_count,
            Statistics::Int64(told) => told.null_count,
            Statistics::Double(told) => told.null_count,
            other => panic!("{other:?}"),
        };
        about.row_groups.iter().map(|group| group.parquet_columns().iter().map(told).collect()).collect()
    }

    fn counted(groups: &[Vec<Row>]) -> Vec<Vec<Option<i64>>> {
        let empty = |rows: &[Row], is: fn(&Row) -> bool| Some(rows.iter().filter(|row| is(row)).count() as i64);
        let of = |rows: &Vec<Row>| {
            vec![
                empty(rows, |row| row.text.is_none()),
                empty(rows, |row| row.coded.is_none()),
                empty(rows, |row| row.figure.is_none()),
                empty(rows, |row| row.whole.is_none()),
                Some(0),
                Some(0),
                empty(rows, |row| row.day.is_none()),
                empty(rows, |row| row.truth.is_none()),
                empty(rows, |_| true),
            ]
        };
        groups.iter().filter(|rows| !rows.is_empty()).map(of).collect()
    }

    fn rows_of(frame: &DataFrame) -> Vec<Row> {
        let column = |name: &str| frame.column(name).unwrap();
        let text = |name: &str, at: usize| column(name).str().unwrap().get(at).map(str::to_owned);
        assert_eq!(column("nothing").null_count(), frame.height());
        (0..frame.height())
            .map(|at| Row {
                text: text("text", at),
                coded: text("coded", at).map(|text| WORDS.iter().position(|word| *word == text).unwrap()),
                figure: column("figure").f64().unwrap().get(at),
                whole: column("whole").i64().unwrap().get(at),
                count: column("count").u32().unwrap().get(at).unwrap(),
                rising: column("rising").u32().unwrap().get(at).unwrap(),
                day: column("day").date().unwrap().physical().get(at),
                truth: column("truth").bool().unwrap().get(at),
            })
            .collect()
    }

    fn row() -> impl Strategy<Value = Row> {
        let text = prop::option::of("[a-c\u{e9}]{0,2}|[a-z]{14}");
        let figure = prop::option::of(prop_oneof![Just(0.0), Just(-0.0), Just(f64::INFINITY), -9.0..9.0f64]);
        let numbers = (prop::option::of(any::<i64>()), any::<u32>(), any::<u32>(), prop::option::of(any::<i32>()));
        (text, prop::option::of(0..WORDS.len()), figure, numbers, any::<Option<bool>>()).prop_map(
            |(text, coded, figure, (whole, count, rising, day), truth)| Row {
                text,
                coded,
                figure,
                whole,
                count,
                rising,
                day,
                truth,
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]

        #[test]
        fn what_is_written_is_read_back(groups in prop::collection::vec(prop::collection::vec(row(), 1..400), 0..4)) {
            prop_assert_eq!(read_back(&groups), groups);
        }
    }

    fn empty() -> Row {
        Row { text: None, coded: None, figure: None, whole: None, count: 0, rising: 7, day: None, truth: None }
    }

    #[test]
    fn files_without_rows_or_with_one_kind_of_them() {
        assert!(read_back(&[]).is_empty());
        assert!(read_back(&[Vec::new()]).is_empty());
        let full = Row {
            text: Some(String::new()),
            coded: Some(2),
            figure: Some(f64::INFINITY),
            whole: Some(i64::MIN),
            count: u32::MAX,
            rising: u32::MAX,
            day: Some(-1),
            truth: Some(true),
        };
        for one in [empty(), full] {
            for rows in [1, 2, 300, 9_000] {
                let groups = [vec![one.clone(); rows]];
                assert_eq!(read_back(&groups), groups);
            }
        }
    }

    /// More rows than a page holds; many different texts and figures, few, and none.
    #[test]
    fn long_columns_of_every_kind() {
        let rows = |different: u32| -> Vec<Row> {
            (0..300_000u32)
                .map(|at| Row {
                    text: (at % 7 != 0).then(|| format!("text {}", at % different)),
                    coded: (at % 5 != 0).then_some(at as usize % WORDS.len()),
                    figure: (at % 3 != 0).then(|| f64::from(at % different)),
                    whole: Some(i64::from(at % different)),
                    count: at % different,
                    rising: at / 9,
                    day: (at % different != 0).then_some(at as i32 % 4_000),
                    truth: (at % 4 != 0).then_some(at % different > different / 2),
                })
                .collect()
        };
        let groups = [rows(300_000), rows(1), vec![empty(); 300_000], rows(1_000)];
        let read = read_back(&groups);
        assert!(read == groups, "rows differ");
    }

    #[test]
    fn a_code_stands_for_its_text_until_it_is_forgotten() {
        let told = |texts: &[Option<&str>]| {
            let mut column = Texts::default();
            texts.iter().for_each(|text| column.push(*text));
            column.finish().unwrap().array
        };
        let mut column = Coded::default();
        column.push(3, || Some("one"));
        column.push(3, || Some("not looked at"));
        column.push(1, || None);
        column.push(1, || Some("not looked at"));
        column.forget();
        column.push(3, || Some("two"));
        column.push_text(Some("one"));
        let texts = told(&[Some("one"), Some("one"), None, None, Some("two"), Some("one")]);
        assert_eq!(column.finish().unwrap().array, texts);
    }

    #[test]
    fn columns_that_are_not_those_of_the_file_are_told() {
        let layout = Layout::new([("a", Kind::Count), ("b", Kind::Count)]).unwrap();
        let count = |rows: u32| Column::counts((0..rows).collect());
        assert!(layout.pack(&[count(3), count(3)]).is_ok());
        assert!(layout.pack(&[count(3), count(2)]).is_err());
        assert!(layout.pack(&[count(3)]).is_err());
    }
}
