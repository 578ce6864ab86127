//! Turns the text of a CSV file into rows that are asked by heading. Every cell is trimmed; a heading
//! that is required and absent, or a row of another length, is a fault with its line. Reading is strict
//! because a silently shifted row would put one limit in place of another.

use super::fault::DictionaryFault;

/// A CSV file, read.
pub(super) struct Table {
    file: String,
    headings: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
}

/// One row of a [`Table`].
#[derive(Clone, Copy)]
pub(super) struct Row<'t> {
    table: &'t Table,
    record: &'t csv::StringRecord,
    /// Line of the file, the heading being 1.
    pub(super) line: u64,
}

impl Table {
    /// Reads `text`, which must have the headings `required`.
    pub(super) fn read(file: &str, text: &str, required: &[&str]) -> Result<Self, DictionaryFault> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
        let headings =
            reader.headers().map_err(|fault| unreadable(file, &fault))?.iter().map(str::to_owned).collect::<Vec<_>>();
        for need in required {
            if !headings.iter().any(|heading| heading == need) {
                return Err(heading_missing(file, need, &headings));
            }
        }
        let rows = reader
            .records()
            .map(|record| {
                let record = record.map_err(|fault| unreadable(file, &fault))?;
                Ok((record.position().map_or(0, csv::Position::line), record))
            })
            .collect::<Result<_, _>>()?;
        Ok(Self { file: file.to_owned(), headings, rows })
    }

    /// The fault of a table that must have a row and has none.
    pub(super) fn empty(&self, would_do: &str) -> DictionaryFault {
        DictionaryFault {
            file: self.file.clone(),
            line: 1,
            column: "all".to_owned(),
            found: "no line below the headings".to_owned(),
            would_do: would_do.to_owned(),
        }
    }

    /// The rows in file order.
    pub(super) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { table: self, record, line: *line })
    }
}

impl<'t> Row<'t> {
    /// The cell under `heading`; empty when the file has no such column.
    pub(super) fn cell(&self, heading: &str) -> &'t str {
        let place = self.table.headings.iter().position(|h| h == heading);
        place.and_then(|i| self.record.get(i)).unwrap_or("")
    }

    /// As [`Row::cell`], owned.
    pub(super) fn owned(&self, heading: &str) -> String {
        self.cell(heading).to_owned()
    }

    /// The cell under `heading`, `None` when empty.
    pub(super) fn optional(&self, heading: &str) -> Option<String> {
        Some(self.owned(heading)).filter(|text| !text.is_empty())
    }

    /// The parts of a cell between semicolons, empty ones left out.
    pub(super) fn list(&self, heading: &str) -> Vec<String> {
        let parts = self.cell(heading).split(';').map(str::trim);
        parts.filter(|p| !p.is_empty()).map(str::to_owned).collect()
    }

    /// A finite number, `None` when the cell is empty.
    pub(super) fn number(&self, heading: &str) -> Result<Option<f64>, DictionaryFault> {
        let text = self.cell(heading);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ => Err(self.fault(heading, "a number such as 0.010")),
        }
    }

    /// `true` for yes, `false` for no or empty.
    pub(super) fn yes(&self, heading: &str) -> Result<bool, DictionaryFault> {
        match self.cell(heading) {
            "yes" => Ok(true),
            "no" | "" => Ok(false),
            _ => Err(self.fault(heading, "write yes or no")),
        }
    }

    /// A fault of the cell under `heading`.
    pub(super) fn fault(&self, heading: &str, would_do: &str) -> DictionaryFault {
        DictionaryFault {
            file: self.table.file.clone(),
            line: self.line,
            column: heading.to_owned(),
            found: format!("\"{}\"", self.cell(heading)),
            would_do: would_do.to_owned(),
        }
    }
}

fn unreadable(file: &str, fault: &csv::Error) -> DictionaryFault {
    DictionaryFault {
        file: file.to_owned(),
        line: fault.position().map_or(0, csv::Position::line),
        column: "all".to_owned(),
        found: fault.to_string(),
        would_do: "give every line as many cells as the heading, in UTF-8, quoting cells that hold a comma".to_owned(),
    }
}

fn heading_missing(file: &str, need: &str, headings: &[String]) -> DictionaryFault {
    DictionaryFault {
        file: file.to_owned(),
        line: 1,
        column: need.to_owned(),
        found: format!("the headings {}", headings.join(", ")),
        would_do: format!("add a column headed {need}"),
    }
}

#[cfg(test)]
mod tests {
    use super::Table;

    #[test]
    fn a_short_row_is_told_with_its_line() {
        let fault = Table::read("own.csv", "a,b\n1,2\n3\n", &["a"]).err().unwrap();
        assert_eq!((fault.file.as_str(), fault.line), ("own.csv", 3));
    }

    #[test]
    fn a_missing_heading_is_named() {
        let fault = Table::read("own.csv", "a,b\n1,2\n", &["limit"]).err().unwrap();
        assert_eq!(fault.column, "limit");
        assert!(fault.to_string().contains("a, b"));
    }

    #[test]
    fn a_number_that_is_none_is_a_fault() {
        let table = Table::read("own.csv", "a\nten\n", &["a"]).unwrap();
        let row = table.rows().next().unwrap();
        assert_eq!(row.number("a").unwrap_err().found, "\"ten\"");
    }
}
