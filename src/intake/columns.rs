//! Where in a line each part of a result stands, for one file.

use super::header::{Header, Wanted};
use crate::plan::{CommonColumns, Layout, Naming};

/// Positions of the plan's columns in a file's lines.
#[derive(Clone, Debug)]
pub struct Columns {
    /// Well id.
    pub well: usize,
    /// Day of sampling.
    pub date: Option<usize>,
    /// When the laboratory received it.
    pub received: Option<usize>,
    /// Sample number.
    pub sample: Option<usize>,
    /// Kind of sample.
    pub sample_kind: Option<usize>,
    /// Method.
    pub method: Option<usize>,
    /// One for a long file, one for each analyte of a wide one.
    pub cells: Vec<WideCell>,
    /// Long or wide.
    pub shape: Shape,
    /// Column names of the header.
    pub names: Vec<String>,
    /// Line of the header.
    pub header_line: u64,
    /// Delimiter.
    pub delimiter: u8,
}

/// Whether a line is one result or one sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// One result a line.
    Long,
    /// One sample a line.
    Wide,
}

/// Where one result of a line stands.
#[derive(Clone, Debug)]
pub struct WideCell {
    /// Analyte's name: in a column, or fixed by the plan.
    pub analyte: Source,
    /// Value.
    pub value: usize,
    /// Unit: in a column, or fixed by the plan.
    pub unit: Source,
    /// Qualifier.
    pub qualifier: Option<usize>,
    /// Limit.
    pub limit: Option<usize>,
    /// What only a long file has besides.
    pub more: Option<More>,
}

/// Columns that few files have.
#[derive(Clone, Copy, Debug)]
pub struct More {
    /// Second column of qualifiers.
    pub second_qualifier: Option<usize>,
    /// Status of the result.
    pub status: Option<usize>,
    /// Fraction of the sample.
    pub fraction: Option<usize>,
    /// Basis.
    pub basis: Option<usize>,
    /// Unit of the limit.
    pub limit_unit: Option<usize>,
}

impl More {
    fn any(&self) -> bool {
        let all = [self.second_qualifier, self.status, self.fraction, self.basis, self.limit_unit];
        all.iter().any(Option::is_some)
    }
}

/// Where a text comes from.
#[derive(Clone, Debug)]
pub enum Source {
    /// A column of the file.
    Column(usize),
    /// The plan, or the column's heading; empty if neither says anything.
    Fixed(String),
}

/// The unit in a heading: what stands in its last brackets, or behind a comma if it has a slash in it, such as
/// "Nitrate (mg/L as N)" or "Iron, mg/L". Whether it is a unit is decided where units are known.
fn unit_of(heading: &str) -> &str {
    let heading = heading.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((_, unit)) = heading.strip_suffix(close).and_then(|rest| rest.rsplit_once(open)) {
            return unit.trim();
        }
    }
    heading.rsplit_once(',').map(|(_, unit)| unit.trim()).filter(|unit| unit.contains('/')).unwrap_or_default()
}

/// The columns that a layout needs, with the plan keys that name them.
pub(super) fn wanted(layout: &Layout, part: usize) -> Vec<Wanted> {
    let mut list = Vec::new();
    let CommonColumns { well, date, received, sample, sample_kind, method, naming } = layout.common();
    // A file of a standard need not have all of its elements.
    let needed = |role: &str| *naming == Naming::Plan || ["well", "analyte", "value"].contains(&role);
    let mut want = |column: &Option<String>, role: &str| {
        if let Some(column) = column.as_ref().filter(|_| needed(role)) {
            list.push(Wanted { column: column.clone(), key: format!("results[{part}].columns.{role}") });
        }
    };
    want(&Some(well.clone()), "well");
    want(date, "date");
    want(received, "received");
    want(sample, "sample");
    want(sample_kind, "sample_kind");
    want(method, "method");
    match layout {
        Layout::Long { analyte, value, unit, qualifier, limit, more, .. } => {
            want(&Some(analyte.clone()), "analyte");
            want(&Some(value.clone()), "value");
            want(unit, "unit");
            want(qualifier, "qualifier");
            want(limit, "limit");
            want(&more.second_qualifier, "second_qualifier");
            want(&more.status, "status");
            want(&more.fraction, "fraction");
            want(&more.basis, "basis");
            want(&more.limit_unit, "limit_unit");
        }
        Layout::Wide { analytes, .. } => {
            for cell in analytes {
                let key = format!("results[{part}].analyte_columns.\"{}\"", cell.column);
                list.push(Wanted { column: cell.column.clone(), key: key.clone() });
                for (column, role) in [(&cell.qualifier, "qualifier"), (&cell.limit, "limit")] {
                    if let Some(column) = column {
                        list.push(Wanted { column: column.clone(), key: format!("{key}.{role}") });
                    }
                }
            }
        }
    }
    list
}

impl Columns {
    /// Positions for a header that has every wanted column.
    pub(super) fn new(layout: &Layout, header: &Header) -> Columns {
        let at = |column: &str| header.position(column);
        let maybe = |column: &Option<String>| column.as_deref().map(at);
        let common = layout.common();
        let (cells, shape) = match layout {
            Layout::Long { analyte, value, unit, qualifier, limit, more: few, .. } => {
                let more = More {
                    second_qualifier: maybe(&few.second_qualifier),
                    status: maybe(&few.status),
                    fraction: maybe(&few.fraction),
                    basis: maybe(&few.basis),
                    limit_unit: maybe(&few.limit_unit),
                };
                let unit = unit.as_deref().map_or(Source::Fixed(String::new()), |u| Source::Column(at(u)));
                let cell = WideCell {
                    analyte: Source::Column(at(analyte)),
                    value: at(value),
                    unit,
                    qualifier: maybe(qualifier),
                    limit: maybe(limit),
                    more: more.any().then_some(more),
                };
                (vec![cell], Shape::Long)
            }
            Layout::Wide { analytes, .. } => {
                let cells = analytes.iter().map(|cell| WideCell {
                    analyte: Source::Fixed(cell.analyte.clone()),
                    value: at(&cell.column),
                    unit: Source::Fixed(cell.unit.clone().unwrap_or_else(|| unit_of(&cell.column).to_owned())),
                    qualifier: maybe(&cell.qualifier),
                    limit: maybe(&cell.limit),
                    more: None,
                });
                (cells.collect(), Shape::Wide)
            }
        };
        Columns {
            well: at(&common.well),
            date: maybe(&common.date),
            received: maybe(&common.received),
            sample: maybe(&common.sample),
            sample_kind: maybe(&common.sample_kind),
            method: maybe(&common.method),
            cells,
            shape,
            names: header.names.clone(),
            header_line: header.line,
            delimiter: header.delimiter,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::unit_of;

    #[test]
    fn headings_carry_units() {
        assert_eq!(unit_of("Nitrate (mg/L as N)"), "mg/L as N");
        assert_eq!(unit_of("Arsenic [ppb] "), "ppb");
        assert_eq!(unit_of("Iron, mg/L"), "mg/L");
        assert_eq!(unit_of("pH, field"), "");
        assert_eq!(unit_of("Nitrate (as N) result"), "");
    }
}
