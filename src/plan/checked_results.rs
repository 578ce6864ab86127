//! `[[results]]` as understood: files, layout, and the words of one laboratory.

use super::checked::{DateOrder, TextOptions};
use crate::dictionary::SampleFraction;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// One `[[results]]`.
#[derive(Clone, Debug)]
pub struct ResultsPart {
    /// Files, found and sorted by path; a file named twice stands once.
    pub files: Vec<PathBuf>,
    /// How the files are laid out.
    pub layout: Layout,
    /// How their text is read.
    pub text: TextOptions,
    /// chrono format of the dates.
    pub date_format: Option<String>,
    /// Order of day and month.
    pub date_order: Option<DateOrder>,
    /// Words for a non-detect, besides the built-in ones.
    pub non_detect_words: Vec<String>,
    /// This file's own words for sample kinds.
    pub sample_kinds: BTreeMap<String, SampleKind>,
    /// This file's own words for methods.
    pub methods: BTreeMap<String, Method>,
    /// This file's own qualifiers.
    pub qualifiers: BTreeMap<String, Qualifier>,
    /// This file's own words for sample fractions.
    pub fractions: BTreeMap<String, SampleFraction>,
    /// This file's own names of analytes: name to dictionary name.
    pub names: BTreeMap<String, String>,
    /// This file's own units: text to dictionary unit.
    pub units: BTreeMap<String, String>,
}

/// Which columns hold what; each value is a column's name in the file's header.
#[derive(Clone, Debug)]
pub enum Layout {
    /// One result a line.
    Long {
        /// Columns that every layout has.
        common: CommonColumns,
        /// Analyte's name.
        analyte: String,
        /// Value.
        value: String,
        /// Unit.
        unit: Option<String>,
        /// Qualifier.
        qualifier: Option<String>,
        /// Detection or reporting limit.
        limit: Option<String>,
        /// What few files have besides.
        more: Box<MoreColumns>,
    },
    /// One sample a line, one column an analyte.
    Wide {
        /// Columns that every layout has.
        common: CommonColumns,
        /// The analytes' columns, in the order of the plan.
        analytes: Vec<WideColumn>,
    },
}

/// Columns of a long file that few laboratories have.
#[derive(Clone, Debug, Default)]
pub struct MoreColumns {
    /// A second column of qualifiers, read with the first.
    pub second_qualifier: Option<String>,
    /// How far the laboratory got with the result: rejected, preliminary.
    pub status: Option<String>,
    /// Fraction of the sample: total, dissolved.
    pub fraction: Option<String>,
    /// Basis (`as N`), added to a unit that states none.
    pub basis: Option<String>,
    /// Unit of the limit; the line's unit where the unit's own cell is empty.
    pub limit_unit: Option<String>,
}

impl Layout {
    /// The columns that every layout has.
    pub fn common(&self) -> &CommonColumns {
        match self {
            Layout::Long { common, .. } | Layout::Wide { common, .. } => common,
        }
    }
}

/// Columns that long and wide files share.
#[derive(Clone, Debug, Default)]
pub struct CommonColumns {
    /// Well id.
    pub well: String,
    /// Day of sampling.
    pub date: Option<String>,
    /// Day or time the laboratory received the sample.
    pub received: Option<String>,
    /// Sample number.
    pub sample: Option<String>,
    /// Kind of sample.
    pub sample_kind: Option<String>,
    /// Method.
    pub method: Option<String>,
    /// Who named the columns, and so which of them must exist.
    pub naming: Naming,
}

/// Who named a file's columns.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Naming {
    /// The plan: every column it names must exist.
    #[default]
    Plan,
    /// A ready map of an open standard: only the well, the analyte and the value must exist, whatever else is there
    /// is read.
    Standard,
}

/// One analyte's column of a wide file.
#[derive(Clone, Debug)]
pub struct WideColumn {
    /// Column name in the header.
    pub column: String,
    /// Analyte, as a dictionary name or spelling.
    pub analyte: String,
    /// Unit of the column.
    pub unit: Option<String>,
    /// Column with the qualifier.
    pub qualifier: Option<String>,
    /// Column with the limit.
    pub limit: Option<String>,
}

/// Kind of sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum SampleKind {
    /// An ordinary sample.
    Routine,
    /// A second sample taken with a routine one.
    Duplicate,
    /// Clean water carried along.
    Blank,
    /// A sample with a known amount added.
    Spike,
    /// Water that stood in the plumbing.
    FirstDraw,
    /// Water after a treatment device.
    Treated,
    /// Taken after the well was repaired.
    AfterRepair,
    /// Taken because the household noticed a change of the water.
    NoticedChange,
    /// Withdrawn.
    Rejected,
}

impl SampleKind {
    /// Every kind, in order.
    pub const ALL: [SampleKind; 9] = [
        SampleKind::Routine,
        SampleKind::Duplicate,
        SampleKind::Blank,
        SampleKind::Spike,
        SampleKind::FirstDraw,
        SampleKind::Treated,
        SampleKind::AfterRepair,
        SampleKind::NoticedChange,
        SampleKind::Rejected,
    ];
}

/// How a result was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Method {
    /// By a laboratory.
    Laboratory,
    /// By a field or home kit.
    Kit,
}

impl Method {
    /// Both, in order.
    pub const ALL: [Method; 2] = [Method::Laboratory, Method::Kit];
}

/// What a qualifier means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Qualifier {
    /// `U`, `<`, ND: not detected.
    NonDetect,
    /// `J`: detected, the value is an estimate.
    Estimated,
    /// `UJ`: not detected, the limit is an estimate.
    NonDetectEstimated,
    /// `>`: above what could be measured.
    Above,
    /// `R`: withdrawn by the laboratory.
    Rejected,
    /// Found, but below what can be measured: a verdict, or an interval up to the limit.
    Trace,
    /// Says nothing about the value.
    Note,
}
