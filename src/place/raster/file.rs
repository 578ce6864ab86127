//! One GeoTIFF of class codes, read in the pieces it is stored in.
//!
//! What is kept of a piece is a byte a cell: whether its class counts, or is no data. Pieces are kept until `ROOM` is full, the
//! first read going first; whoever asks in the order of the rows reads each piece once or twice.

use super::RasterFault;
use super::georeference::{Georeference, Named, georeference, named};
use super::source::Source;
use crate::files::Inputs;
use rustc_hash::FxHashMap;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::Tag;

/// What is known of a file before any cell is read.
#[derive(Clone, Debug)]
pub(super) struct RasterFile {
    pub path: PathBuf,
    inputs: Inputs,
    pub place: Georeference,
    pub named: Named,
    pub columns: u32,
    pub rows: u32,
    /// Columns and rows of a piece.
    pub piece: (u32, u32),
    no_data: Option<i64>,
    /// Bytes of each piece in the file; one without bytes is not stored at all.
    stored: Vec<u64>,
}

/// A cell of another class, one that counts, one without data.
pub(super) const OTHER: u8 = 0;
pub(super) const COUNTS: u8 = 1;
pub(super) const NO_DATA: u8 = 2;

/// Bytes of pieces kept for each file that a thread is reading.
const ROOM: usize = 48 << 20;

impl RasterFile {
    /// Reads the tags.
    pub fn open(inputs: &Inputs, path: &Path) -> Result<RasterFile, RasterFault> {
        let mut decoder = decoder(inputs, path)?;
        let (columns, rows) = decoder.dimensions()?;
        let samples = decoder.find_tag_unsigned::<u16>(Tag::SamplesPerPixel)?.unwrap_or(1);
        if samples != 1 {
            return Err(RasterFault::Bands(samples));
        }
        let piece = decoder.chunk_dimensions();
        if columns == 0 || rows == 0 || piece.0 == 0 || piece.1 == 0 {
            return Err(RasterFault::Empty);
        }
        let no_data = decoder.find_tag(Tag::GdalNodata)?.map(tiff::decoder::ifd::Value::into_string).transpose()?;
        let no_data = no_data.and_then(|text| text.trim_matches(['\0', ' ']).parse::<f64>().ok());
        let stored = [Tag::TileByteCounts, Tag::StripByteCounts].map(|tag| decoder.find_tag_unsigned_vec(tag));
        let [tiles, strips] = stored;
        Ok(RasterFile {
            path: path.to_path_buf(),
            inputs: inputs.clone(),
            place: georeference(&mut decoder)?,
            named: named(&mut decoder)?,
            columns,
            rows,
            piece,
            no_data: no_data.filter(|x| x.fract() == 0.0).map(|x| x as i64),
            stored: tiles?.or(strips?).unwrap_or_default(),
        })
    }

    /// The box around it: lowest and highest easting and northing.
    pub fn rect(&self) -> crate::place::shape::Rect {
        let Georeference { x0, y0, dx, dy } = self.place;
        let (x1, y1) = (x0 + dx * f64::from(self.columns), y0 + dy * f64::from(self.rows));
        crate::place::shape::Rect { min: [x0.min(x1), y0.min(y1)], max: [x0.max(x1), y0.max(y1)] }
    }

    /// Pieces side by side.
    pub fn pieces_across(&self) -> u32 {
        self.columns.div_ceil(self.piece.0)
    }

    /// Columns that are in a piece of this column of pieces: fewer at the right edge.
    pub fn piece_columns(&self, across: u32) -> u32 {
        self.piece.0.min(self.columns - across * self.piece.0)
    }
}

fn decoder(inputs: &Inputs, path: &Path) -> Result<Decoder<Source>, RasterFault> {
    Ok(Decoder::new(Source::new(inputs.open_again(path)?)?)?.with_limits(limits()))
}

/// A strip may be a whole picture of this many bytes.
fn limits() -> tiff::decoder::Limits {
    const LARGEST: usize = 1 << 30;
    let mut limits = tiff::decoder::Limits::default();
    limits.decoding_buffer_size = LARGEST;
    limits.intermediate_buffer_size = LARGEST;
    limits.ifd_value_size = 64 << 20;
    limits
}

/// A file being read by one thread.
pub(super) struct Reading<'a> {
    pub file: &'a RasterFile,
    decoder: Decoder<Source>,
    classes: &'a [i64],
    kept: FxHashMap<u32, Rc<[u8]>>,
    order: VecDeque<u32>,
    room: usize,
}

impl<'a> Reading<'a> {
    /// Opens it once more; `classes` are in ascending order.
    pub fn new(file: &'a RasterFile, classes: &'a [i64]) -> Result<Reading<'a>, RasterFault> {
        let decoder = decoder(&file.inputs, &file.path)?;
        Ok(Reading { file, decoder, classes, kept: FxHashMap::default(), order: VecDeque::new(), room: ROOM })
    }

    /// A piece's cells, row by row.
    pub fn piece(&mut self, number: u32) -> Result<Rc<[u8]>, RasterFault> {
        if let Some(piece) = self.kept.get(&number) {
            return Ok(Rc::clone(piece));
        }
        let piece: Rc<[u8]> = self.decoded(number)?.into();
        self.room = self.room.saturating_sub(piece.len());
        while self.room == 0 && !self.order.is_empty() {
            let oldest = self.order.pop_front().and_then(|oldest| self.kept.remove(&oldest));
            self.room += oldest.map_or(0, |piece| piece.len());
        }
        self.kept.insert(number, Rc::clone(&piece));
        self.order.push_back(number);
        Ok(piece)
    }

    fn decoded(&mut self, number: u32) -> Result<Vec<u8>, RasterFault> {
        let (width, height) = self.decoder.chunk_data_dimensions(number);
        let cells = width as usize * height as usize;
        if self.file.stored.get(number as usize) == Some(&0) {
            return Ok(vec![self.kind(self.file.no_data.unwrap_or(0)); cells]);
        }
        let kinds = match self.decoder.read_chunk(number)? {
            DecodingResult::U8(codes) => self.short(codes.into_iter().map(u16::from)),
            DecodingResult::U16(codes) => self.short(codes.into_iter()),
            DecodingResult::U32(codes) => codes.into_iter().map(|code| self.kind(i64::from(code))).collect(),
            DecodingResult::I8(codes) => codes.into_iter().map(|code| self.kind(i64::from(code))).collect(),
            DecodingResult::I16(codes) => codes.into_iter().map(|code| self.kind(i64::from(code))).collect(),
            DecodingResult::I32(codes) => codes.into_iter().map(|code| self.kind(i64::from(code))).collect(),
            _ => return Err(RasterFault::NotCodes),
        };
        if kinds.len() == cells { Ok(kinds) } else { Err(RasterFault::Piece { number, cells, found: kinds.len() }) }
    }

    /// Looked up, since there are few codes and many cells.
    fn short(&self, codes: impl Iterator<Item = u16>) -> Vec<u8> {
        let table: Vec<u8> = (0..=u16::MAX).map(|code| self.kind(i64::from(code))).collect();
        codes.map(|code| table.get(usize::from(code)).copied().unwrap_or(OTHER)).collect()
    }

    fn kind(&self, code: i64) -> u8 {
        match code {
            _ if self.file.no_data == Some(code) => NO_DATA,
            _ if self.classes.binary_search(&code).is_ok() => COUNTS,
            _ => OTHER,
        }
    }
}
