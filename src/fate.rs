//! What became of a source result: used, or set aside for exactly one named reason.
//!
//! The order of the reasons is the contract: a result takes the first that applies, so every row has one fate
//! and the accounting adds up whatever else is wrong with it.

/// Why a result is not used; in the order in which they are tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Reason {
    /// No well id on the line.
    NoWell,
    /// The very same line was read before.
    RepeatedLine,
    /// A field, trip or laboratory blank.
    Blank,
    /// A spiked sample.
    Spike,
    /// The laboratory withdrew the result.
    RejectedByLaboratory,
    /// Water taken after a treatment device.
    TreatedWater,
    /// The analyte's name is not in the dictionary or the plan.
    UnknownAnalyte,
    /// Nitrate as what? Neither name nor unit says.
    BasisMissing,
    /// No value on the line.
    NoValue,
    /// The value's text is not a result.
    UnreadableValue,
    /// Marks on the line contradict each other.
    QualifiersDisagree,
    /// Not detected, but at what limit?
    LimitMissing,
    /// The unit is empty or not in the dictionary or the plan.
    UnknownUnit,
    /// The unit does not measure this analyte.
    UnitDoesNotFit,
    /// No sample date on the line.
    NoDate,
    /// The date's text is not a date.
    UnreadableDate,
    /// The sample date is outside the plan's period.
    OutsidePeriod,
    /// First-draw water, for an analyte other than lead and copper.
    FirstDraw,
    /// A kit result of an analyte for which kits are not adequate.
    KitNotAdequate,
    /// Bacteria sample received after its holding time.
    HeldTooLong,
    /// The well is in no well list.
    UnknownWell,
    /// The well has no usable location.
    NoLocation,
    /// The well lies in none of the areas.
    OutsideAreas,
    /// Another result of this well and analyte stands for it.
    Repeat,
}

impl Reason {
    /// Every reason, in order.
    pub const ALL: [Reason; 24] = [
        Reason::NoWell,
        Reason::RepeatedLine,
        Reason::Blank,
        Reason::Spike,
        Reason::RejectedByLaboratory,
        Reason::TreatedWater,
        Reason::UnknownAnalyte,
        Reason::BasisMissing,
        Reason::NoValue,
        Reason::UnreadableValue,
        Reason::QualifiersDisagree,
        Reason::LimitMissing,
        Reason::UnknownUnit,
        Reason::UnitDoesNotFit,
        Reason::NoDate,
        Reason::UnreadableDate,
        Reason::OutsidePeriod,
        Reason::FirstDraw,
        Reason::KitNotAdequate,
        Reason::HeldTooLong,
        Reason::UnknownWell,
        Reason::NoLocation,
        Reason::OutsideAreas,
        Reason::Repeat,
    ];

    /// The name used in every output and in the dictionary's reasons.
    pub fn name(self) -> &'static str {
        match self {
            Reason::NoWell => "no-well",
            Reason::RepeatedLine => "repeated-line",
            Reason::Blank => "blank",
            Reason::Spike => "spike",
            Reason::RejectedByLaboratory => "rejected-by-laboratory",
            Reason::TreatedWater => "treated-water",
            Reason::UnknownAnalyte => "unknown-analyte",
            Reason::BasisMissing => "basis-missing",
            Reason::NoValue => "no-value",
            Reason::UnreadableValue => "unreadable-value",
            Reason::QualifiersDisagree => "qualifiers-disagree",
            Reason::LimitMissing => "limit-missing",
            Reason::UnknownUnit => "unknown-unit",
            Reason::UnitDoesNotFit => "unit-does-not-fit",
            Reason::NoDate => "no-date",
            Reason::UnreadableDate => "unreadable-date",
            Reason::OutsidePeriod => "outside-period",
            Reason::FirstDraw => "first-draw",
            Reason::KitNotAdequate => "kit-not-adequate",
            Reason::HeldTooLong => "held-too-long",
            Reason::UnknownWell => "unknown-well",
            Reason::NoLocation => "no-location",
            Reason::OutsideAreas => "outside-areas",
            Reason::Repeat => "repeat",
        }
    }

    /// The stage that decides it, as `accounting.csv` names it.
    pub fn stage(self) -> &'static str {
        match self {
            Reason::NoWell | Reason::RepeatedLine => "intake",
            Reason::UnknownWell | Reason::NoLocation | Reason::OutsideAreas => "place",
            Reason::Repeat => "per-well",
            _ => "normalise",
        }
    }
}

/// What became of a result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It stands for its well and analyte.
    Used,
    /// It does not, and why.
    SetAside(Reason),
}

impl Fate {
    /// `used` or the reason's name.
    pub fn name(self) -> &'static str {
        match self {
            Fate::Used => "used",
            Fate::SetAside(reason) => reason.name(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_stand_in_their_declared_order_and_have_distinct_names() {
        assert!(Reason::ALL.windows(2).all(|pair| pair[0] < pair[1]));
        let names: std::collections::BTreeSet<_> = Reason::ALL.iter().map(|r| r.name()).collect();
        assert_eq!(names.len(), Reason::ALL.len());
    }
}
