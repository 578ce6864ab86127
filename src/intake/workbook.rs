//! A sheet of a workbook (xlsx, xlsb, xls, ods) becomes delimited text, row by row.
//!
//! The plan's `sheet` is taken; otherwise the only sheet, or the first that has the wanted columns. A cell that the
//! workbook calls a date becomes ISO text; a number stands as its shortest text, whatever its format shows. Cells come
//! one by one where the format allows it, since a stray cell far out would make a whole sheet of memory.

use super::header::{self, Header, Wanted};
use super::kind::Kind;
use super::lines::LONGEST_RECORD;
use super::made::{DELIMITER, Made, OutOfOrder};
use super::old_workbook;
use super::open::Extent;
use super::open_document;
use super::zip_size;
use crate::caught::caught;
use crate::plan::TextOptions;
use crate::problem::{Problem, nearest};
use calamine::{Data, ExcelDateTime, Ods, Reader, SheetType, SheetVisible, Xls, Xlsb, Xlsx};
use std::io::Cursor;
use std::path::Path;

/// Bytes of the largest workbook that is opened, packed or unpacked.
pub(super) const LARGEST: usize = 2 << 30;
/// Bytes to which any workbook may unpack; a larger one holds at most `PACKED` times the bytes of its file.
const SMALL: usize = 256 << 20;
const PACKED: usize = 100;

/// Bytes that a workbook may hold, unpacked: readers hold most of it in memory, several times.
fn most(bytes: &[u8]) -> usize {
    bytes.len().saturating_mul(PACKED).clamp(SMALL, LARGEST)
}

/// What speaks against opening a workbook.
enum Unfit {
    TooLarge,
    Broken,
}

/// A workbook that unpacks to more than that, or of which it cannot be told though a reader may find a way into it.
fn unfit(bytes: &[u8], kind: Kind) -> Option<Unfit> {
    let most = most(bytes) as u64;
    match kind {
        Kind::ZipWorkbook => match zip_size::unpacked(bytes, most) {
            Some(size) => (size > most).then_some(Unfit::TooLarge),
            None => zip_size::ends(bytes).then_some(Unfit::Broken),
        },
        _ => None,
    }
}

type Bytes<'b> = Cursor<&'b [u8]>;

/// A workbook's formats.
enum Book<'b> {
    Xlsx(Xlsx<Bytes<'b>>),
    Xlsb(Xlsb<Bytes<'b>>),
    Xls(Xls<Bytes<'b>>),
    Ods(Ods<Bytes<'b>>),
}

/// Reads the sheet that is meant, its header, and its text as far as asked for.
///
/// # Errors
/// A damaged or huge workbook, no such sheet, an empty sheet, or the columns that the best sheet lacks.
pub(super) fn read(
    bytes: &[u8],
    kind: Kind,
    path: &Path,
    options: &TextOptions,
    wanted: &[Wanted],
    extent: Extent,
) -> Result<(Header, Made), Vec<Problem>> {
    let file = File { path, options, wanted, extent, most: most(bytes) };
    let work = || file.read(bytes, kind);
    // The reader of workbooks is not ours and meets files that were never a workbook.
    caught(work).unwrap_or_else(|| Err(vec![file.damaged("its contents make no sense")]))
}

/// The names of the sheets that are shown; none of a workbook that cannot be read.
pub(super) fn sheet_names(bytes: &[u8], kind: Kind) -> Vec<String> {
    if unfit(bytes, kind).is_some() {
        return Vec::new(); // whoever reads it tells
    }
    let work = || Book::open(bytes, kind).map(|book| book.sheets().0).unwrap_or_default();
    caught(work).unwrap_or_default()
}

struct File<'f> {
    path: &'f Path,
    options: &'f TextOptions,
    wanted: &'f [Wanted],
    extent: Extent,
    /// Bytes that it may hold.
    most: usize,
}

impl File<'_> {
    fn read(&self, bytes: &[u8], kind: Kind) -> Result<(Header, Made), Vec<Problem>> {
        match unfit(bytes, kind) {
            Some(Unfit::TooLarge) => return Err(vec![self.too_large()]),
            Some(Unfit::Broken) => return Err(vec![self.damaged("its directory of contents is broken")]),
            None => {}
        }
        let mut book = Book::open(bytes, kind).map_err(|found| vec![self.damaged(&found)])?;
        let sheets = self.sheets(&book)?;
        let mut worst: Option<Vec<Problem>> = None;
        for sheet in &sheets {
            match self.sheet(&mut book, sheet) {
                Ok(read) => return Ok(read),
                Err(more) if worst.as_ref().is_none_or(|least| more.len() < least.len()) => worst = Some(more),
                Err(_) => {}
            }
        }
        Err(worst.unwrap_or_else(|| vec![self.damaged("it has no sheet with cells")]))
    }

    /// The sheets to be tried, in order.
    fn sheets(&self, book: &Book<'_>) -> Result<Vec<String>, Vec<Problem>> {
        let (shown, all) = book.sheets();
        let Some(named) = &self.options.sheet else { return Ok(shown) };
        if let Some(sheet) = all.iter().find(|sheet| sheet.trim() == named.trim()) {
            return Ok(vec![sheet.clone()]);
        }
        let near = nearest(named, all.iter().map(String::as_str))
            .map(|near| format!("perhaps \"{near}\"; "))
            .unwrap_or_default();
        let listed = all.iter().map(|sheet| format!("\"{sheet}\"")).collect::<Vec<_>>().join(", ");
        let found = format!("there is no sheet \"{named}\"");
        Err(vec![
            Problem::file(self.path, "sheet-missing", found, format!("{near}the sheets are: {listed}"))
                .under(self.key()),
        ])
    }

    fn sheet(&self, book: &mut Book<'_>, sheet: &str) -> Result<(Header, Made), Vec<Problem>> {
        let mut made = Made::new(1, self.options.decimal);
        let enough = match self.extent {
            Extent::Start => header::PEEKED,
            Extent::Whole => self.most,
        };
        book.cells(sheet, &mut made, enough)
            .map_err(|found| vec![self.damaged(&format!("sheet \"{sheet}\": {found}"))])?;
        if made.len() == 0 {
            let found = format!("the sheet \"{sheet}\" is empty");
            return Err(vec![
                Problem::file(self.path, "sheet-empty", found, "name another with sheet = \"...\"").under(self.key()),
            ]);
        }
        if self.extent == Extent::Whole && made.len() >= self.most {
            return Err(vec![self.too_large()]);
        }
        let options = TextOptions { delimiter: Some(DELIMITER), ..self.options.clone() };
        let header = header::find(made.text(), self.path, &options, self.wanted)?;
        Ok((header, made))
    }

    /// The plan key under which the sheet may be named.
    fn key(&self) -> String {
        let table = self.wanted.first().and_then(|wanted| wanted.key.split('.').next()).unwrap_or_default();
        format!("{table}.sheet")
    }

    fn damaged(&self, found: &str) -> Problem {
        let wanted = "open it in a spreadsheet program and save it again, or save the sheet as CSV in UTF-8";
        Problem::file(self.path, "workbook-damaged", format!("cannot be read as a workbook: {found}"), wanted)
    }

    fn too_large(&self) -> Problem {
        let found = if self.most == LARGEST {
            format!("the workbook holds more than {} GiB", LARGEST >> 30)
        } else {
            format!("the workbook holds more than {} MiB and more than {PACKED} times its size", SMALL >> 20)
        };
        Problem::file(self.path, "workbook-too-large", found, "save its sheet as CSV in UTF-8")
    }
}

impl<'b> Book<'b> {
    fn open(bytes: &'b [u8], kind: Kind) -> Result<Book<'b>, String> {
        let cursor = || Cursor::new(bytes);
        if kind == Kind::OldWorkbook {
            // A workbook with a password is a container of this kind; names in it are UTF-16.
            let locked: Vec<u8> = "EncryptedPackage".bytes().flat_map(|letter| [letter, 0]).collect();
            if memchr::memmem::find(bytes, &locked).is_some() {
                return Err("it is locked by a password".to_owned());
            }
            old_workbook::look(bytes)?;
            return Xls::new(cursor()).map(Book::Xls).map_err(|e| e.to_string());
        }
        // Names of an archive's entries are not packed.
        let has = |name: &[u8]| memchr::memmem::find(bytes, name).is_some();
        if has(b"xl/workbook.bin") {
            Xlsb::new(cursor()).map(Book::Xlsb).map_err(|e| e.to_string())
        } else if has(b"xl/workbook.xml") {
            Xlsx::new(cursor()).map(Book::Xlsx).map_err(|e| e.to_string())
        } else if has(b"content.xml") {
            open_document::look(bytes)?;
            Ods::new(cursor()).map(Book::Ods).map_err(|e| e.to_string())
        } else {
            Err("it is an archive of other files, which have to be unpacked first".to_owned())
        }
    }

    /// The sheets that are shown, and all of them.
    fn sheets(&self) -> (Vec<String>, Vec<String>) {
        let sheets = match self {
            Book::Xlsx(book) => book.sheets_metadata(),
            Book::Xlsb(book) => book.sheets_metadata(),
            Book::Xls(book) => book.sheets_metadata(),
            Book::Ods(book) => book.sheets_metadata(),
        };
        let tables = || sheets.iter().filter(|sheet| sheet.typ == SheetType::WorkSheet);
        let shown =
            tables().filter(|sheet| sheet.visible == SheetVisible::Visible).map(|sheet| sheet.name.clone()).collect();
        (shown, tables().map(|sheet| sheet.name.clone()).collect())
    }

    /// Writes a sheet's cells until there is enough text.
    fn cells(&mut self, sheet: &str, made: &mut Made, enough: usize) -> Result<(), String> {
        match self {
            Book::Xlsx(book) => {
                let mut cells = book.worksheet_cells_reader(sheet).map_err(|e| e.to_string())?;
                while let Some(cell) = cells.next_cell().map_err(|e| e.to_string())? {
                    put(made, cell.get_position(), &Data::from(cell.get_value().clone()))?;
                    if made.len() >= enough {
                        break;
                    }
                }
                Ok(())
            }
            Book::Xlsb(book) => {
                let mut cells = book.worksheet_cells_reader(sheet).map_err(|e| e.to_string())?;
                while let Some(cell) = cells.next_cell().map_err(|e| e.to_string())? {
                    put(made, cell.get_position(), &Data::from(cell.get_value().clone()))?;
                    if made.len() >= enough {
                        break;
                    }
                }
                Ok(())
            }
            Book::Xls(book) => whole(&book.worksheet_range(sheet).map_err(|e| e.to_string())?, made),
            Book::Ods(book) => whole(&book.worksheet_range(sheet).map_err(|e| e.to_string())?, made),
        }
    }
}

/// All cells of a sheet that is there at once.
fn whole(range: &calamine::Range<Data>, made: &mut Made) -> Result<(), String> {
    let (top, left) = range.start().unwrap_or_default();
    for (row, column, value) in range.used_cells() {
        let place = (top.saturating_add(row as u32), left.saturating_add(column as u32));
        put(made, place, value)?;
    }
    Ok(())
}

/// Rows and columns of the largest sheet there can be (ECMA-376 leaves it open; common practice of the programs that write them).
const MOST_ROWS: u32 = 1 << 20;
const MOST_COLUMNS: u32 = 1 << 14;

fn put(made: &mut Made, (row, column): (u32, u32), value: &Data) -> Result<(), String> {
    if row >= MOST_ROWS || column >= MOST_COLUMNS {
        // Every row and column on the way there would become text.
        return Err(format!("a cell in row {} and column {}", u64::from(row) + 1, u64::from(column) + 1));
    }
    let text = match value {
        Data::Empty => return Ok(()),
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Int(number) => number.to_string(),
        Data::Float(number) => made.number(number.to_string()),
        Data::Bool(yes) => yes.to_string(),
        Data::DateTime(moment) => date_text(moment),
        Data::Error(error) => error.to_string(),
    };
    let order = |_: OutOfOrder| format!("row {} is out of order", row + 1);
    made.row(u64::from(row) + 1).and_then(|()| made.cell(u64::from(column), &text)).map_err(order)?;
    if made.row_is_too_long() {
        return Err(format!("row {} holds more than {} MiB of text", u64::from(row) + 1, LONGEST_RECORD >> 20));
    }
    Ok(())
}

/// ISO text of a date, a time or both; a length of time stays a number of days.
fn date_text(moment: &ExcelDateTime) -> String {
    let days = moment.as_f64();
    if moment.is_duration() || !(0.0..2_958_466.0).contains(&days) {
        return days.to_string();
    }
    let (year, month, day, hour, minute, second, _) = moment.to_ymd_hms_milli();
    let date = format!("{year:04}-{month:02}-{day:02}");
    let time = format!("{hour:02}:{minute:02}:{second:02}");
    match (days < 1.0, days.fract() == 0.0) {
        (true, _) => time,
        (false, true) => date,
        (false, false) => format!("{date} {time}"),
    }
}
