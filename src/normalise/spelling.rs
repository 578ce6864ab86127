//! What a (name, unit) spelling, a qualifier, a sample kind, a method or a date means: decided once for each
//! different text of a block, remembered for its other rows.

use super::date::DateText;
use super::flags::Flags;
use super::interval::Sign;
use super::kind::{self, Status};
use super::rules::{PartRules, Rules};
use super::tally::{Place, Tally};
use crate::dictionary::{Analyte, Conversion, Dictionary, Filtered, KitRating, NameReading, UnitFault, UnitReading};
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::plan::{Method, Qualifier, SampleKind};
use rustc_hash::FxHashMap;

/// A name and a unit as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Spelling<'a> {
    /// Analyte's name.
    pub name: &'a str,
    /// Unit.
    pub unit: &'a str,
    /// Sample fraction; empty where no column has it.
    pub fraction: &'a str,
    /// Basis; empty where no column has it.
    pub basis: &'a str,
}

/// What a spelling means.
#[derive(Clone, Copy, Debug)]
pub struct Decision {
    /// Analyte.
    pub analyte: Option<AnalyteId>,
    /// The stratum of its first-draw samples, for lead and copper.
    pub first_draw: Option<AnalyteId>,
    /// No analyte because of the sample fraction.
    pub fraction_fault: bool,
    /// `UnknownAnalyte` or `BasisMissing`.
    pub name_fault: Option<Reason>,
    /// Into the preferred unit and basis.
    conversion: Option<Conversion>,
    unit_fault: Option<Reason>,
    unit_is_empty: bool,
    /// What numbers at or below zero mean.
    pub sign: Sign,
    /// The unit is that of a verdict, present or absent.
    pub presence: bool,
    /// The unit was a mass ratio, taken as mass per litre.
    pub mass_ratio: bool,
    /// The unit is that of counted bacteria, without the volume.
    pub no_volume: bool,
    /// Bacteria.
    pub microbial: bool,
    /// A field kit is adequate.
    pub kit_adequate: bool,
    /// The plan's limit for non-detects without one, in the line's unit.
    pub plan_limit: Option<f64>,
    holding_hours: Option<f64>,
}

impl Decision {
    fn new(rules: &Rules<'_>, part: &PartRules, written: Spelling<'_>) -> Decision {
        let name = part.names.get(written.name).map_or(written.name, String::as_str);
        let unit_text = part.units.get(written.unit).map_or(written.unit, String::as_str);
        let mut decision = Decision::unknown(unit_text.is_empty());
        let Some(named) = rules.dictionary.find_name(name) else { return decision };
        let Some(reading) = of_fraction(rules.dictionary, part, named, written.fraction) else {
            decision.fraction_fault = true;
            return decision;
        };
        if let Some(entry) = rules.dictionary.analytes().get(reading.analyte) {
            decision.describe(rules.dictionary, reading, entry);
            decision.measure(rules, unit_text, written.basis, reading);
        }
        decision
    }

    fn unknown(unit_is_empty: bool) -> Decision {
        Decision {
            analyte: None,
            first_draw: None,
            fraction_fault: false,
            name_fault: Some(Reason::UnknownAnalyte),
            conversion: None,
            unit_fault: None,
            unit_is_empty,
            sign: Sign::Positive,
            presence: false,
            mass_ratio: false,
            no_volume: false,
            microbial: false,
            kit_adequate: true,
            plan_limit: None,
            holding_hours: None,
        }
    }

    fn describe(&mut self, dictionary: &Dictionary, reading: NameReading, entry: &Analyte) {
        self.name_fault = None;
        self.analyte = Some(reading.analyte);
        let stratum = dictionary.analytes().first_draw_stratum(reading.analyte);
        self.first_draw = stratum.or(entry.first_draw_of.map(|_| reading.analyte));
        self.microbial = entry.is_microbial();
        self.sign = match (entry.is_microbial(), entry.keeps_negative()) {
            (true, _) => Sign::Count,
            (false, true) => Sign::Any,
            (false, false) => Sign::Positive,
        };
        self.kit_adequate = entry.kit == KitRating::Yes;
        self.holding_hours = entry.holding_hours;
    }

    fn measure(&mut self, rules: &Rules<'_>, unit_text: &str, basis: &str, name: NameReading) {
        let unit = if unit_text.is_empty() {
            rules.dictionary.unit_when_empty(name.analyte).ok_or(UnitFault::Unknown)
        } else {
            rules.dictionary.read_unit(unit_text)
        };
        let stated = rules.dictionary.bases().find(basis);
        let unit = unit.map(|unit| UnitReading { basis: unit.basis.or(stated), ..unit });
        let converted = unit.and_then(|unit| self.convert_from(rules.dictionary, name, unit));
        match converted {
            Ok(conversion) => self.conversion = Some(conversion),
            Err(UnitFault::BasisMissing) => self.name_fault = Some(Reason::BasisMissing),
            Err(UnitFault::Unknown) if self.needs_basis(rules.dictionary, name) => {
                self.name_fault = Some(Reason::BasisMissing)
            }
            Err(UnitFault::Unknown) => self.unit_fault = Some(Reason::UnknownUnit),
            Err(UnitFault::DoesNotFit) => self.unit_fault = Some(Reason::UnitDoesNotFit),
        }
        let whole = rules.dictionary.analytes().whole(name.analyte);
        let limit = rules.plan_limits.get(&name.analyte).or_else(|| rules.plan_limits.get(&whole)).copied();
        self.plan_limit = limit.map(|limit| self.conversion.map_or(limit, |c| c.inverse().apply(limit)));
    }

    fn convert_from(
        &mut self,
        dictionary: &Dictionary,
        name: NameReading,
        unit: UnitReading,
    ) -> Result<Conversion, UnitFault> {
        self.presence = unit.presence && !self.unit_is_empty;
        if unit.presence && self.unit_is_empty {
            // A verdict needs no unit; a bare number of bacteria does.
            self.unit_fault = Some(Reason::UnknownUnit);
        }
        self.mass_ratio = unit.mass_ratio;
        self.no_volume = self.presence && self.microbial && dictionary.is_count(unit.unit);
        dictionary.convert(&name, &unit)
    }

    fn needs_basis(&self, dictionary: &Dictionary, name: NameReading) -> bool {
        name.basis.is_none() && dictionary.analytes().get(name.analyte).is_some_and(|entry| entry.basis_must_be_stated)
    }

    /// A limit that stands in another spelling's unit, in this one's; `None` where the two cannot be compared.
    pub fn taken_from(&self, limit: f64, other: &Decision) -> Option<f64> {
        let (here, there) = (self.conversion?, other.conversion?);
        Some(here.inverse().apply(there.apply(limit)))
    }

    /// The interval in the preferred unit; `None` where the unit is at fault.
    pub fn convert(&self, interval: Interval) -> Option<Interval> {
        match interval {
            Interval::Present | Interval::Absent => Some(interval),
            Interval::Detect(x) => self.conversion.map(|c| Interval::Detect(c.apply(x))),
            Interval::Below(x) => self.conversion.map(|c| Interval::Below(c.apply(x))),
            Interval::Above(x) => self.conversion.map(|c| Interval::Above(c.apply(x))),
        }
    }

    /// Why the unit is at fault. A verdict without a number needs no unit, and an empty unit of bacteria only fits a
    /// verdict.
    pub fn unit_fault(&self, interval: Interval) -> Option<Reason> {
        match interval {
            Interval::Present | Interval::Absent if self.unit_is_empty => None,
            _ => self.unit_fault,
        }
    }

    /// Whether even the shortest time between sampling and receipt is longer than the holding time.
    ///
    /// A date without a time may be any minute of its day.
    pub fn held_too_long(&self, sampled: DateText, received: DateText) -> bool {
        let (Some(hours), DateText::Read(sampled), DateText::Read(received)) = (self.holding_hours, sampled, received)
        else {
            return false;
        };
        let days = f64::from(received.day.0) - f64::from(sampled.day.0);
        let latest_start = sampled.minute.map_or(24.0, |m| f64::from(m) / 60.0);
        let earliest_end = received.minute.map_or(0.0, |m| f64::from(m) / 60.0);
        days * 24.0 + earliest_end - latest_start > hours
    }
}

/// What stands between a name and its fraction, a unit and its basis.
const BETWEEN: &str = ", ";

/// The analyte that a name means of a sample fraction; `None` where there is none, or where it cannot be told: a word
/// that is not known may mean a filtered sample, so it counts only where filtering does not matter.
fn of_fraction(dictionary: &Dictionary, part: &PartRules, name: NameReading, text: &str) -> Option<NameReading> {
    if text.is_empty() {
        return Some(name);
    }
    let own = part.fractions.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)).map(|(_, means)| *means);
    match own.or_else(|| dictionary.read_fraction(text)) {
        Some(said) => dictionary.of_fraction(name, said),
        None => {
            let entry = dictionary.analytes().get(name.analyte)?;
            (entry.filtered == Filtered::Same && entry.dissolved_of.is_none()).then_some(name)
        }
    }
}

/// The block's memory of texts already decided.
pub struct Memo<'r> {
    rules: &'r Rules<'r>,
    part: &'r PartRules,
    spellings: FxHashMap<String, FxHashMap<String, u16>>,
    statuses: Known<Status>,
    keys: (String, String),
    decisions: Vec<Decision>,
    written: Vec<(String, String)>,
    /// What marks say, and whether all of them are known.
    flags: Known<(Flags, bool)>,
    kinds: Known<Option<SampleKind>>,
    methods: Known<Method>,
    dates: Known<DateText>,
    received: Known<DateText>,
    units: Known<bool>,
}

impl<'r> Memo<'r> {
    /// An empty memory.
    pub fn new(rules: &'r Rules<'r>, part: &'r PartRules) -> Memo<'r> {
        Memo {
            rules,
            part,
            spellings: FxHashMap::default(),
            statuses: Known::new(),
            keys: (String::new(), String::new()),
            decisions: Vec::new(),
            written: Vec::new(),
            flags: Known::new(),
            kinds: Known::new(),
            methods: Known::new(),
            dates: Known::new(),
            received: Known::new(),
            units: Known::new(),
        }
    }

    /// The number and meaning of a spelling. Past 65,535 spellings in a block all share the last number; each is still
    /// decided by itself.
    pub fn spelling(&mut self, written: Spelling<'_>) -> (u16, Decision) {
        if written.fraction.is_empty() && written.basis.is_empty() {
            return self.decided(written.name, written.unit, written);
        }
        let mut keys = std::mem::take(&mut self.keys);
        for (key, text, more) in
            [(&mut keys.0, written.name, written.fraction), (&mut keys.1, written.unit, written.basis)]
        {
            key.clear();
            key.push_str(text);
            if !more.is_empty() {
                key.push_str(BETWEEN);
                key.push_str(more);
            }
        }
        let decided = self.decided(&keys.0, &keys.1, written);
        self.keys = keys;
        decided
    }

    fn decided(&mut self, name: &str, unit: &str, written: Spelling<'_>) -> (u16, Decision) {
        if let Some(number) = self.spellings.get(name).and_then(|units| units.get(unit))
            && let Some(decision) = self.decisions.get(usize::from(*number))
        {
            return (*number, *decision);
        }
        let decision = Decision::new(self.rules, self.part, written);
        let Ok(number) = u16::try_from(self.decisions.len()) else { return (u16::MAX, decision) };
        self.decisions.push(decision);
        self.written.push((name.to_owned(), unit.to_owned()));
        self.spellings.entry(name.to_owned()).or_default().insert(unit.to_owned(), number);
        (number, decision)
    }

    /// What a qualifier column says. Unknown parts are notes, and counted.
    pub fn flags(&mut self, text: &str, place: Place, tally: &mut Tally) -> Flags {
        if text.is_empty() {
            return Flags::default();
        }
        let part = self.part;
        let (flags, all_known) = self.flags.of(text, || read_flags(part, text));
        if !all_known {
            tally.qualifiers.note(text, place);
        }
        flags
    }

    /// How far the laboratory got with the result.
    pub fn status(&mut self, text: &str) -> Status {
        if text.is_empty() {
            return Status::Settled;
        }
        self.statuses.of(text, || kind::status(text))
    }

    /// What a sample kind's text means; `None` if it is not known.
    pub fn kind(&mut self, text: &str) -> Option<SampleKind> {
        self.kinds.of(text, || kind::sample_kind(text, &self.part.sample_kinds))
    }

    /// What a method's text means.
    pub fn method(&mut self, text: &str) -> Method {
        self.methods.of(text, || kind::method(text, &self.part.methods))
    }

    /// Whether a text is a unit, by the plan or the dictionary.
    pub fn is_unit(&mut self, text: &str) -> bool {
        let (rules, part) = (self.rules, self.part);
        self.units.of(text, || part.units.contains_key(text) || rules.dictionary.read_unit(text).is_ok())
    }

    /// What the text of a day of sampling says.
    pub fn date(&mut self, text: &str) -> DateText {
        self.dates.of(text, || self.part.dates.read(text))
    }

    /// What the text of a day of receipt says.
    pub fn received(&mut self, text: &str) -> DateText {
        self.received.of(text, || self.part.dates.read(text))
    }

    /// Whether a day is after the one on which the run is made.
    pub fn is_late(&self, day: Day) -> bool {
        self.rules.today.is_some_and(|today| day > today)
    }

    /// (name, unit) as written, by number.
    pub fn into_spellings(self) -> Vec<(String, String)> {
        self.written
    }
}

/// What a qualifier's text says, and whether every part of it is known.
fn read_flags(part: &PartRules, text: &str) -> (Flags, bool) {
    let own = part.qualifiers.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)).map(|(_, meaning)| *meaning);
    if let Some(whole) = own.or_else(|| part.words.flag(text)) {
        return (Flags::of(whole), true);
    }
    let pieces = text.split([',', ';', '/', ' ']).filter(|piece| !piece.is_empty());
    let read: Vec<Option<Qualifier>> = pieces.map(|piece| part.words.flag(piece)).collect();
    let all_known = !read.is_empty() && !read.contains(&None);
    (Flags::all(read.into_iter().flatten()), all_known)
}

/// What texts of one column mean. The last one is kept apart, since lines behind one another often say the same, and the empty one,
/// since comparing two texts of no length is slow (the C library's instructions stumble over their addresses).
struct Known<T> {
    all: FxHashMap<String, T>,
    last: Option<(String, T)>,
    empty: Option<T>,
}

impl<T: Copy> Known<T> {
    fn new() -> Known<T> {
        Known { all: FxHashMap::default(), last: None, empty: None }
    }

    fn of(&mut self, text: &str, decide: impl FnOnce() -> T) -> T {
        if text.is_empty() {
            return *self.empty.get_or_insert_with(decide);
        }
        if let Some((last, meaning)) = &self.last
            && last == text
        {
            return *meaning;
        }
        let meaning = match self.all.get(text) {
            Some(meaning) => *meaning,
            None => {
                let meaning = decide();
                self.all.insert(text.to_owned(), meaning);
                meaning
            }
        };
        let (last, of_last) = self.last.get_or_insert_with(|| (String::new(), meaning));
        last.clear();
        last.push_str(text);
        *of_last = meaning;
        meaning
    }
}
