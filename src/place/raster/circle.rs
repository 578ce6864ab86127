//! The cells of a raster that a circle covers, each with its exact part.
//!
//! In each row the cells between the two places where the circle is narrowest are whole; those further out, as far as it reaches,
//! are cut, and their part is that of a rectangle and a circle in closed form.

use super::RasterFault;
use super::file::{COUNTS, NO_DATA, Reading};
use crate::place::arc::Arcs;
use crate::place::shape::Point;
use std::ops::Range;
use std::rc::Rc;

/// Square units of a circle by what the cells say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sums {
    /// In cells whose class counts.
    pub counts: f64,
    /// In all cells with data.
    pub known: f64,
}

/// Adds up the cells of one file.
pub(super) fn sums(reading: &mut Reading<'_>, centre: Point, radius: f64) -> Result<Sums, RasterFault> {
    let place = reading.file.place;
    let columns = span(place.x0 - centre[0], place.dx, radius, reading.file.columns);
    let rows = span(place.y0 - centre[1], place.dy, radius, reading.file.rows);
    let mut sums = Sums::default();
    if columns.is_empty() || rows.is_empty() {
        return Ok(sums);
    }
    let window = Window::read(reading, &columns, &rows)?;
    let cell = (place.dx * place.dy).abs();
    for row in rows {
        let (low, high) = edges(place.y0 - centre[1], place.dy, row);
        let far = low.abs().max(high.abs());
        let near = if low <= 0.0 && high >= 0.0 { 0.0 } else { low.abs().min(high.abs()) };
        let reach = (radius * radius - near * near).max(0.0).sqrt();
        let touched = span(place.x0 - centre[0], place.dx, reach, reading.file.columns);
        let whole = if far < radius { (radius * radius - far * far).sqrt() } else { 0.0 };
        let inside = inside(place.x0 - centre[0], place.dx, whole, &touched);
        let (counts, missing) = window.count(row, inside.clone());
        sums.counts += counts as f64 * cell;
        sums.known += (inside.len() - missing) as f64 * cell;
        for column in (touched.start..inside.start).chain(inside.end..touched.end) {
            let kind = window.kind(row, column);
            if kind == NO_DATA {
                continue;
            }
            let (left, right) = edges(place.x0 - centre[0], place.dx, column);
            let part = part([left, low], [right, high], radius);
            sums.known += part;
            sums.counts += if kind == COUNTS { part } else { 0.0 };
        }
    }
    Ok(sums)
}

/// The lower and the upper edge of a row or column, seen from the centre.
fn edges(start: f64, step: f64, number: u32) -> (f64, f64) {
    let (a, b) = (start + step * f64::from(number), start + step * (f64::from(number) + 1.0));
    (a.min(b), a.max(b))
}

/// Rows or columns that may lie within `reach` of the centre.
fn span(start: f64, step: f64, reach: f64, count: u32) -> Range<u32> {
    let (a, b) = ((-reach - start) / step, (reach - start) / step);
    let first = a.min(b).floor().clamp(0.0, f64::from(count));
    let end = a.max(b).ceil().clamp(first, f64::from(count));
    first as u32..end as u32
}

/// Those of `touched` that lie wholly within `reach`; an empty range in the middle where there is none.
fn inside(start: f64, step: f64, reach: f64, touched: &Range<u32>) -> Range<u32> {
    let (a, b) = ((-reach - start) / step, (reach - start) / step);
    let limit = |x: f64| x.clamp(f64::from(touched.start), f64::from(touched.end)) as u32;
    let (first, end) = (limit(a.min(b).ceil()), limit(a.max(b).floor()));
    if first < end { first..end } else { touched.end..touched.end }
}

/// The part of a rectangle, given by its corners as seen from the centre, that lies in the circle.
fn part(min: Point, max: Point, radius: f64) -> f64 {
    let mut arcs = Arcs::new(radius);
    arcs.ring([0.0; 2], &[min, [max[0], min[1]], max, [min[0], max[1]], min]);
    arcs.area().max(0.0)
}

/// Whether the pieces under a circle can be held at once. A file's own numbers decide how many there are, so a cell of a millionth of
/// a metre would otherwise take all memory.
fn few_enough(across: usize, down: usize, piece: (u32, u32)) -> Result<(), RasterFault> {
    const MOST: u128 = 1 << 30;
    let cells = [across as u128, down as u128, u128::from(piece.0), u128::from(piece.1)];
    let cells = cells.into_iter().fold(1, u128::saturating_mul);
    if cells > MOST { Err(RasterFault::TooFine { cells, most: MOST }) } else { Ok(()) }
}

/// The pieces under a circle.
struct Window {
    pieces: Vec<Rc<[u8]>>,
    widths: Vec<u32>,
    first: (u32, u32),
    piece: (u32, u32),
}

impl Window {
    fn read(reading: &mut Reading<'_>, columns: &Range<u32>, rows: &Range<u32>) -> Result<Window, RasterFault> {
        let piece = reading.file.piece;
        let across = columns.start / piece.0..(columns.end - 1) / piece.0 + 1;
        let down = rows.start / piece.1..(rows.end - 1) / piece.1 + 1;
        let row_of_pieces = reading.file.pieces_across();
        let widths = across.clone().map(|i| reading.file.piece_columns(i)).collect();
        let first = (across.start, down.start);
        few_enough(across.len(), down.len(), piece)?;
        let mut pieces = Vec::new();
        for j in down {
            for i in across.clone() {
                let number = j.checked_mul(row_of_pieces).and_then(|before| before.checked_add(i));
                pieces.push(reading.piece(number.ok_or(RasterFault::Empty)?)?);
            }
        }
        Ok(Window { pieces, widths, first, piece })
    }

    /// A stretch of a row inside one column of pieces.
    fn stretch(&self, row: u32, across: usize, columns: Range<u32>) -> &[u8] {
        let down = (row / self.piece.1 - self.first.1) as usize;
        let width = self.widths.get(across).copied().unwrap_or(0) as usize;
        let start = (row % self.piece.1) as usize * width;
        let piece = self.pieces.get(down * self.widths.len() + across);
        piece
            .and_then(|piece| piece.get(start + columns.start as usize..start + columns.end as usize))
            .unwrap_or_default()
    }

    fn kind(&self, row: u32, column: u32) -> u8 {
        let across = (column / self.piece.0 - self.first.0) as usize;
        let column = column % self.piece.0;
        self.stretch(row, across, column..column + 1).first().copied().unwrap_or(NO_DATA)
    }

    /// Cells that count and cells without data in a stretch of a row.
    fn count(&self, row: u32, columns: Range<u32>) -> (usize, usize) {
        let mut found = (0, 0);
        for across in 0..self.widths.len() {
            let start = (self.first.0 + across as u32) * self.piece.0;
            let from = columns.start.max(start);
            let to = columns.end.min(start.saturating_add(self.piece.0));
            if from < to {
                let kinds = self.stretch(row, across, from - start..to - start);
                found.0 += kinds.iter().filter(|kind| **kind == COUNTS).count();
                found.1 += kinds.iter().filter(|kind| **kind == NO_DATA).count();
            }
        }
        found
    }
}
