//! Value, qualifier, limit and analyte together become an interval, or the reason why not.
//!
//! Rules of the design, section 4: the limit is the number beside the mark; the limit column only where there is
//! none; then the plan's own limit. No result is ever replaced by half its limit.

use super::flags::Flags;
use super::value::Said;
use crate::fate::Reason;
use crate::ids::Interval;

/// What the line says besides its value, and what is special about the analyte.
#[derive(Clone, Copy, Debug, Default)]
pub struct Facts {
    /// What all marks say, those in the value's cell too.
    pub flags: Flags,
    /// The limit column, in the line's unit.
    pub limit: Option<f64>,
    /// The plan's limit for this analyte, already in the line's unit.
    pub plan_limit: Option<f64>,
    /// What numbers at or below zero mean.
    pub sign: Sign,
}

/// What numbers at or below zero mean for an analyte.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sign {
    /// A concentration: zero or less is not detected.
    #[default]
    Positive,
    /// Bacteria: zero is not detected and needs no limit.
    Count,
    /// A net count or a reading that may be negative (radionuclides, temperature, redox potential).
    Any,
}

/// The interval, in the line's unit.
///
/// # Errors
/// `NoValue`, `UnreadableValue`, `QualifiersDisagree` or `LimitMissing`. A rejected flag is the caller's to test,
/// since it goes before these.
pub fn interval(said: Said, facts: &Facts) -> Result<Interval, Reason> {
    let marks = facts.flags;
    match said {
        Said::Unreadable => Err(Reason::UnreadableValue),
        Said::Nothing if marks.non_detect && marks.found() => Err(Reason::QualifiersDisagree),
        Said::Nothing if marks.non_detect => below(None, facts),
        Said::Nothing if marks.found() => found(marks, facts),
        Said::Nothing => Err(Reason::NoValue),
        Said::Less(_) | Said::NotDetected(_) | Said::Absent if marks.above => Err(Reason::QualifiersDisagree),
        Said::Greater(_) | Said::Present if marks.non_detect => Err(Reason::QualifiersDisagree),
        Said::Number(_) if marks.non_detect && marks.above => Err(Reason::QualifiersDisagree),
        Said::Less(x) => below(Some(x), facts),
        Said::NotDetected(x) => below(x, facts),
        // Of bacteria a verdict is a result. Of a substance, "absent" is a non-detect, which needs its limit, and
        // "present" says nothing of how much.
        Said::Absent if facts.sign == Sign::Count => Ok(Interval::Absent),
        Said::Absent => below(None, facts),
        Said::Present if facts.sign == Sign::Count => Ok(Interval::Present),
        Said::Present => Err(Reason::UnreadableValue),
        Said::Greater(x) => Ok(Interval::Above(x)),
        Said::Number(x) if marks.non_detect => below(Some(x), facts),
        Said::Number(x) if marks.above => Ok(Interval::Above(x)),
        Said::Number(x) => number(x, facts),
    }
}

/// Found, by a mark alone: the value's cell is empty.
fn found(marks: Flags, facts: &Facts) -> Result<Interval, Reason> {
    match (facts.sign, facts.limit.filter(|x| *x > 0.0)) {
        (Sign::Count, _) => Ok(Interval::Present),
        (_, Some(limit)) if marks.above && !marks.trace => Ok(Interval::Above(limit)),
        _ if marks.above => Err(Reason::NoValue),
        _ => below(None, facts),
    }
}

/// [0, x], x being the first limit that is one.
fn below(beside: Option<f64>, facts: &Facts) -> Result<Interval, Reason> {
    let usable = |x: &f64| *x > 0.0;
    match beside.filter(usable).or(facts.limit.filter(usable)).or(facts.plan_limit.filter(usable)) {
        Some(limit) => Ok(Interval::Below(limit)),
        None if facts.sign == Sign::Count => Ok(Interval::Absent),
        None => Err(Reason::LimitMissing),
    }
}

/// A plain number, no mark saying otherwise.
fn number(x: f64, facts: &Facts) -> Result<Interval, Reason> {
    match facts.sign {
        Sign::Any => Ok(Interval::Detect(x)),
        Sign::Count if x == 0.0 => Ok(Interval::Absent),
        Sign::Count if x < 0.0 => Err(Reason::UnreadableValue),
        Sign::Positive if x <= 0.0 => below(None, facts),
        Sign::Count | Sign::Positive => Ok(Interval::Detect(x)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::normalise::{Marks, Words, read};
    use crate::plan::Qualifier;

    fn of(text: &str, qualifiers: &[Qualifier], limit: Option<f64>, sign: Sign) -> Result<Interval, Reason> {
        let reading = read(text, Marks::default(), &Words::new(&[]));
        let flags = Flags::all(qualifiers.iter().copied().chain(reading.flag));
        interval(reading.said, &Facts { flags, limit, plan_limit: None, sign })
    }

    #[test]
    fn the_limit_is_the_number_beside_the_mark() {
        use Qualifier::*;
        assert_eq!(of("<0.5", &[], Some(2.0), Sign::Positive), Ok(Interval::Below(0.5)));
        assert_eq!(of("0.5", &[NonDetect], Some(2.0), Sign::Positive), Ok(Interval::Below(0.5)));
        assert_eq!(of("ND", &[], Some(2.0), Sign::Positive), Ok(Interval::Below(2.0)));
        assert_eq!(of("", &[NonDetect], Some(2.0), Sign::Positive), Ok(Interval::Below(2.0)));
        assert_eq!(of("ND", &[], None, Sign::Positive), Err(Reason::LimitMissing));
        assert_eq!(of("<0.5", &[Estimated], None, Sign::Positive), Ok(Interval::Below(0.5)));
    }

    #[test]
    fn contradictions_are_named() {
        use Qualifier::*;
        assert_eq!(of(">5", &[NonDetect], None, Sign::Positive), Err(Reason::QualifiersDisagree));
        assert_eq!(of("<5", &[Above], None, Sign::Positive), Err(Reason::QualifiersDisagree));
        assert_eq!(of("Present", &[NonDetect], None, Sign::Count), Err(Reason::QualifiersDisagree));
    }

    #[test]
    fn found_by_a_mark_alone() {
        use Qualifier::*;
        assert_eq!(of("", &[Above], Some(5.0), Sign::Positive), Ok(Interval::Above(5.0)));
        assert_eq!(of("", &[Above], None, Sign::Positive), Err(Reason::NoValue));
        assert_eq!(of("", &[Above], Some(5.0), Sign::Count), Ok(Interval::Present));
        assert_eq!(of("", &[Trace], None, Sign::Count), Ok(Interval::Present));
        assert_eq!(of("", &[Trace], Some(5.0), Sign::Positive), Ok(Interval::Below(5.0)));
        assert_eq!(of("", &[Trace], None, Sign::Positive), Err(Reason::LimitMissing));
        assert_eq!(of("0.3", &[Trace], Some(5.0), Sign::Positive), Ok(Interval::Detect(0.3)));
        assert_eq!(of("", &[Trace, NonDetect], Some(5.0), Sign::Count), Err(Reason::QualifiersDisagree));
    }

    #[test]
    fn a_verdict_is_no_amount_of_a_substance() {
        assert_eq!(of("Absent", &[], None, Sign::Count), Ok(Interval::Absent));
        assert_eq!(of("Absent", &[], None, Sign::Positive), Err(Reason::LimitMissing));
        assert_eq!(of("negative", &[], Some(5.0), Sign::Positive), Ok(Interval::Below(5.0)));
        assert_eq!(of("P", &[], Some(5.0), Sign::Positive), Err(Reason::UnreadableValue));
        assert_eq!(of("TNTC", &[], None, Sign::Count), Ok(Interval::Present));
    }

    #[test]
    fn zero_depends_on_the_analyte() {
        assert_eq!(of("0", &[], None, Sign::Positive), Err(Reason::LimitMissing));
        assert_eq!(of("0", &[], Some(0.1), Sign::Positive), Ok(Interval::Below(0.1)));
        assert_eq!(of("0", &[], None, Sign::Count), Ok(Interval::Absent));
        assert_eq!(of("-0.4", &[], None, Sign::Any), Ok(Interval::Detect(-0.4)));
    }
}
