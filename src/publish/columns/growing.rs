//! Columns of texts and figures as they grow: each different one is kept once, and each row has its number.

use super::Column;
use crate::numbered::Numbered;
use polars::prelude::PolarsResult;
use polars_arrow::array::{Array, DictionaryArray, MutableBinaryViewArray, PrimitiveArray, Utf8ViewArray};
use polars_arrow::bitmap::Bitmap;
use polars_arrow::datatypes::ArrowDataType;
use polars_parquet::write::Encoding;
use rustc_hash::FxHashMap;

/// The number of an empty cell.
const EMPTY: u32 = u32::MAX;
/// Stands where a code's text was not looked for yet.
const UNSEEN: u32 = u32::MAX - 1;

/// A column of texts.
#[derive(Default)]
pub(in super::super) struct Texts {
    words: Numbered,
    rows: Vec<u32>,
}

impl Texts {
    /// Adds a row.
    pub(in super::super) fn push(&mut self, text: Option<&str>) {
        // `EMPTY` is no number: rows of a group are fewer.
        let number = text.map_or(EMPTY, |text| self.words.number(text));
        self.rows.push(number);
    }

    /// The column.
    pub(in super::super) fn finish(self) -> PolarsResult<Column> {
        let Texts { words, rows } = self;
        if is_worth_it(words.len(), rows.len()) {
            return keyed(rows, Box::new(array(words.len(), words.texts().map(Some))));
        }
        let plain = array(rows.len(), rows.iter().map(|row| words.get(*row as usize)));
        Ok(Column { array: Box::new(plain), encoding: Encoding::Plain })
    }
}

fn array<'t>(rows: usize, texts: impl Iterator<Item = Option<&'t str>>) -> Utf8ViewArray {
    let mut array = MutableBinaryViewArray::with_capacity(rows);
    texts.for_each(|text| array.push(text));
    array.freeze()
}

/// A column of texts that are known by codes: a code's text is looked for once.
#[derive(Default)]
pub(in super::super) struct Coded {
    /// By code, the number of its text.
    known: Vec<u32>,
    texts: Texts,
}

impl Coded {
    /// Adds a row: the text that `of` gives for a code.
    pub(in super::super) fn push<'t>(&mut self, code: usize, of: impl FnOnce() -> Option<&'t str>) {
        if code >= self.known.len() {
            self.known.resize(code + 1, UNSEEN);
        }
        if let Some(known) = self.known.get_mut(code) {
            if *known == UNSEEN {
                *known = of().map_or(EMPTY, |text| self.texts.words.number(text));
            }
            self.texts.rows.push(*known);
        }
    }

    /// Adds a row without a code.
    pub(in super::super) fn push_text(&mut self, text: Option<&str>) {
        self.texts.push(text);
    }

    /// From here on codes stand for other texts.
    pub(in super::super) fn forget(&mut self) {
        self.known.clear();
    }

    /// The column.
    pub(in super::super) fn finish(self) -> PolarsResult<Column> {
        self.texts.finish()
    }
}

/// A column of numbers, which are told apart by their bits.
#[derive(Default)]
pub(in super::super) struct Figures {
    numbers: FxHashMap<u64, u32>,
    figures: Vec<f64>,
    rows: Vec<u32>,
}

impl Figures {
    /// Adds a row.
    pub(in super::super) fn push(&mut self, figure: Option<f64>) {
        let number = figure.map_or(EMPTY, |figure| self.number(figure));
        self.rows.push(number);
    }

    fn number(&mut self, figure: f64) -> u32 {
        let next = self.figures.len() as u32; // rows of a group are fewer
        let number = *self.numbers.entry(figure.to_bits()).or_insert(next);
        if number == next {
            self.figures.push(figure);
        }
        number
    }

    /// The column.
    pub(in super::super) fn finish(self) -> PolarsResult<Column> {
        // Beyond that Snappy makes as much of the figures themselves.
        if !self.figures.is_empty() && self.figures.len() <= self.rows.len() / 2 {
            return keyed(self.rows, Box::new(PrimitiveArray::from_vec(self.figures)));
        }
        let plain: PrimitiveArray<f64> = self.rows.iter().map(|row| self.figures.get(*row as usize).copied()).collect();
        Ok(Column { array: Box::new(plain), encoding: Encoding::Plain })
    }
}

/// Texts of a column as short as this are written as a dictionary, however many differ.
const FEW: usize = 128;

/// Whether a dictionary of so many different texts is shorter than the texts. Of none, a dictionary cannot be written.
fn is_worth_it(different: usize, rows: usize) -> bool {
    different > 0 && (rows <= FEW || different <= rows / 4 * 3)
}

/// A column whose rows are numbers of `values`.
fn keyed(mut rows: Vec<u32>, values: Box<dyn Array>) -> PolarsResult<Column> {
    let full = rows.contains(&EMPTY).then(|| rows.iter().map(|row| *row != EMPTY).collect::<Bitmap>());
    // The number of an empty cell is not looked at, and must be one of the dictionary all the same.
    rows.iter_mut().filter(|row| **row == EMPTY).for_each(|row| *row = 0);
    let rows = PrimitiveArray::new(ArrowDataType::UInt32, rows.into(), full);
    Ok(Column {
        array: Box::new(DictionaryArray::try_from_keys(rows, values, false)?),
        encoding: Encoding::RleDictionary,
    })
}
