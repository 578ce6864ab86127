//! What all marks of a line say together, wherever they stand.

use crate::plan::Qualifier;

/// Whether some mark says so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags {
    /// Not detected.
    pub non_detect: bool,
    /// Above what could be measured.
    pub above: bool,
    /// Found, below what can be measured.
    pub trace: bool,
    /// The value is an estimate.
    pub estimated: bool,
    /// The laboratory withdrew the result.
    pub rejected: bool,
}

impl Flags {
    /// What one mark says.
    pub fn of(mark: Qualifier) -> Flags {
        use Qualifier::{Above, Estimated, NonDetect, NonDetectEstimated, Rejected, Trace};
        Flags {
            non_detect: matches!(mark, NonDetect | NonDetectEstimated),
            above: mark == Above,
            trace: mark == Trace,
            estimated: matches!(mark, Estimated | NonDetectEstimated | Trace),
            rejected: mark == Rejected,
        }
    }

    /// What some marks say together.
    pub fn all(marks: impl IntoIterator<Item = Qualifier>) -> Flags {
        marks.into_iter().map(Flags::of).fold(Flags::default(), Flags::and)
    }

    /// What both say together.
    pub fn and(self, other: Flags) -> Flags {
        Flags {
            non_detect: self.non_detect | other.non_detect,
            above: self.above | other.above,
            trace: self.trace | other.trace,
            estimated: self.estimated | other.estimated,
            rejected: self.rejected | other.rejected,
        }
    }

    /// Whether a mark alone says that something was found.
    pub fn found(self) -> bool {
        self.above || self.trace
    }
}
