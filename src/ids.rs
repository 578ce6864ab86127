//! The small types that every stage shares: dense ids, intervals, calendar days.
//!
//! Ids are dense so that they index their own vectors; an interval is always in its analyte's preferred unit
//! and basis, so no later stage ever sees a laboratory's unit.

/// A well: its place in the run's well list (the listed wells, in file order).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WellId(pub u32);

/// An area: its place in the area layer, in file order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AreaId(pub u32);

/// An analyte: its place in the dictionary.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AnalyteId(pub u16);

impl WellId {
    /// The id as an index.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

impl AreaId {
    /// The id as an index.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

impl AnalyteId {
    /// The id as an index.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }
}

/// A calendar day: days since 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i32);

impl Day {
    /// The day of a chrono date.
    pub fn of(date: chrono::NaiveDate) -> Day {
        let epoch = chrono::NaiveDate::default();
        Day(date.signed_duration_since(epoch).num_days() as i32)
    }

    /// The day as a chrono date; `None` outside chrono's calendar.
    pub fn date(self) -> Option<chrono::NaiveDate> {
        chrono::NaiveDate::default().checked_add_signed(chrono::Duration::days(i64::from(self.0)))
    }
}

impl std::fmt::Display for Day {
    /// ISO 8601, `2025-04-18`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.date() {
            Some(date) => write!(f, "{date}"),
            None => write!(f, "day {}", self.0),
        }
    }
}

/// What a result says of the concentration, in the analyte's preferred unit and basis.
///
/// A presence/absence verdict is a detect or a non-detect without a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Interval {
    /// Detected at this value.
    Detect(f64),
    /// Not detected; somewhere in [0, limit].
    Below(f64),
    /// More than could be counted or measured: in (value, infinity).
    Above(f64),
    /// Detected, no number given.
    Present,
    /// Not detected, no limit needed (bacteria).
    Absent,
}

impl Interval {
    /// Whether the analyte was found.
    pub fn detected(self) -> bool {
        matches!(self, Interval::Detect(_) | Interval::Above(_) | Interval::Present)
    }

    /// Lower end; `None` for a verdict without a number.
    pub fn low(self) -> Option<f64> {
        match self {
            Interval::Detect(x) | Interval::Above(x) => Some(x),
            Interval::Below(_) => Some(0.0),
            Interval::Present | Interval::Absent => None,
        }
    }

    /// Upper end, infinity for `Above`; `None` for a verdict without a number.
    pub fn high(self) -> Option<f64> {
        match self {
            Interval::Detect(x) | Interval::Below(x) => Some(x),
            Interval::Above(_) => Some(f64::INFINITY),
            Interval::Present | Interval::Absent => None,
        }
    }

    /// The number it was written with; `None` for a verdict without a number.
    pub fn number(self) -> Option<f64> {
        match self {
            Interval::Detect(x) | Interval::Below(x) | Interval::Above(x) => Some(x),
            Interval::Present | Interval::Absent => None,
        }
    }
}
