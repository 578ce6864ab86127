//! A column by its content, and which column plays which role.
//!
//! Name and content are both weighed: a clear name is believed unless the content contradicts it, a faint one only
//! where the content agrees. The best pair of role and column is taken first, then the best of what is left, so that
//! no column plays two roles.

use super::dates;
use super::headings::{EXACT, Headings};
use crate::dictionary::{Dictionary, NameOutcome};
use crate::normalise::{Marks, Said, Words, read, sample_kind, unit_behind};
use crate::place::angle;
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Different texts of a column that are looked up.
const LOOKED_UP: usize = 100;

/// A column's different texts.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// Its name.
    pub name: String,
    /// Its texts and how often each stands, empty ones left out.
    pub texts: BTreeMap<String, u64>,
    /// How many cells hold something.
    pub filled: u64,
    /// Share of its different texts that are dates.
    pub dates: f64,
    /// Share of its different texts that are plain numbers.
    pub numbers: f64,
}

impl Column {
    /// The columns of rows. Of several alike headings each has its number behind it, as a plan names them; a column
    /// without a heading is left empty, since no plan can name it.
    pub(super) fn all(names: &[String], rows: &[Vec<String>]) -> Vec<Column> {
        let column = |(at, name): (usize, &String)| {
            let name = numbered(names, at, name);
            let rows = if name.is_empty() { &[] } else { rows };
            let mut texts = BTreeMap::new();
            for text in rows.iter().filter_map(|row| row.get(at)).filter(|text| !text.is_empty()) {
                *texts.entry(text.clone()).or_insert(0u64) += 1;
            }
            let filled = texts.values().sum();
            let mut column = Column { name, texts, filled, dates: 0.0, numbers: 0.0 };
            (column.dates, column.numbers) = (column.kinds(dates::is_date), column.kinds(is_number));
            if says_date(&column.name) {
                column.dates = column.dates.max(column.kinds(dates::is_serial));
            }
            column
        };
        names.iter().enumerate().map(column).collect()
    }

    /// The share of filled cells that pass a test; 0 without any.
    pub(super) fn share(&self, test: impl Fn(&str) -> bool) -> f64 {
        let passed: u64 = self.texts.iter().filter(|(text, _)| test(text)).map(|(_, count)| count).sum();
        passed as f64 / self.filled.max(1) as f64
    }

    /// The share of different texts that pass a test; of many texts a hundred or two stand for all.
    pub(super) fn kinds(&self, test: impl Fn(&str) -> bool) -> f64 {
        let every = self.texts.len() / LOOKED_UP + 1;
        let texts = self.texts.keys().step_by(every);
        texts.clone().filter(|text| test(text)).count() as f64 / texts.count().max(1) as f64
    }

    /// The different texts.
    pub(super) fn keys(&self) -> impl Iterator<Item = &str> + Clone {
        self.texts.keys().map(String::as_str)
    }
}

/// Whether a heading speaks of a day, so that plain numbers under it may be a spreadsheet's.
fn says_date(heading: &str) -> bool {
    const WORDS: [&str; 5] = ["date", "sampled", "collected", "received", "taken"];
    super::headings::words(heading).iter().any(|word| WORDS.contains(&word.as_str()))
}

/// A heading as a plan names it: `Flag (2)` for the second of several alike.
fn numbered(names: &[String], at: usize, name: &str) -> String {
    let alike = |names: &[String]| names.iter().filter(|other| *other == name).count();
    match alike(names) {
        _ if name.is_empty() => String::new(),
        0 | 1 => name.to_owned(),
        _ => format!("{name} ({})", alike(names.get(..=at).unwrap_or_default())),
    }
}

/// A column in a role.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pick {
    /// Which column.
    pub at: usize,
    /// Why the guess is unsure; empty where it is not.
    pub doubt: String,
}

/// What columns are weighed with.
pub(super) struct Scales<'d> {
    pub dictionary: &'d Dictionary,
    pub headings: &'d Headings,
    pub words: Words,
    /// Texts already looked up: an unknown one costs a search for its nearest.
    pub known: RefCell<BTreeMap<String, bool>>,
}

/// Less than this is no guess at all.
const LEAST: f64 = 2.0;
const NEVER: f64 = f64::NEG_INFINITY;
/// What laboratories write in a column of statuses (common practice, no source).
const STATUSES: [&str; 14] = [
    "final",
    "preliminary",
    "provisional",
    "rejected",
    "validated",
    "approved",
    "accepted",
    "draft",
    "pending",
    "reviewed",
    "unreviewed",
    "complete",
    "revised",
    "void",
];

impl Scales<'_> {
    /// Which columns play the roles; `taken` columns play none.
    pub(super) fn assign(
        &self,
        columns: &[Column],
        roles: &[&'static str],
        taken: &[usize],
    ) -> BTreeMap<&'static str, Pick> {
        let mut scores: Vec<(f64, usize, usize)> = Vec::new();
        for (at, column) in columns.iter().enumerate().filter(|(at, _)| !taken.contains(at)) {
            for (place, role) in roles.iter().enumerate() {
                let score = self.score(role, column);
                if score >= LEAST {
                    scores.push((score, place, at));
                }
            }
        }
        scores.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        let mut picks: BTreeMap<&'static str, Pick> = BTreeMap::new();
        let mut used: Vec<usize> = Vec::new();
        for (score, place, at) in &scores {
            let Some(role) = roles.get(*place).copied().filter(|role| !used.contains(at) && !picks.contains_key(role))
            else {
                continue;
            };
            used.push(*at);
            // Columns of no use are taken out of the way, however many there are.
            if role != "other" {
                picks.insert(role, Pick { at: *at, doubt: self.doubt(role, *score, columns.get(*at)) });
            }
        }
        self.rivals(columns, &scores, roles, &used, &mut picks);
        picks
    }

    /// A second column that would do nearly as well makes the first one unsure.
    fn rivals(
        &self,
        columns: &[Column],
        scores: &[(f64, usize, usize)],
        roles: &[&'static str],
        used: &[usize],
        picks: &mut BTreeMap<&'static str, Pick>,
    ) {
        for (role, pick) in picks.iter_mut() {
            let of_role = scores.iter().filter(|(_, place, _)| roles.get(*place) == Some(role));
            let own = of_role.clone().find(|(_, _, at)| *at == pick.at).map_or(0.0, |(score, _, _)| *score);
            let rival = of_role.clone().find(|(score, _, at)| !used.contains(at) && own - score < 0.5);
            if let (Some(rival), true) = (rival.and_then(|(_, _, at)| columns.get(*at)), pick.doubt.is_empty()) {
                pick.doubt = format!("it could also be {:?}", rival.name);
            }
        }
    }

    fn doubt(&self, role: &str, score: f64, column: Option<&Column>) -> String {
        let Some(column) = column else { return String::new() };
        let named = self.headings.fit(role, &column.name);
        match (named >= EXACT, named > 0.0 && score - named >= 2.5) {
            (true, _) | (_, true) => String::new(),
            _ if named > 0.0 => "guessed from part of the heading".to_owned(),
            _ => "guessed from the cells, not from the heading".to_owned(),
        }
    }

    fn score(&self, role: &str, column: &Column) -> f64 {
        let named = self.headings.fit(role, &column.name);
        let body = self.body(role, column);
        // A column of no use is so only by its whole name.
        if role == "other" {
            return if named >= EXACT { 2.0 * EXACT } else { NEVER };
        }
        if named > 0.0 || body >= LEAST { named + body } else { NEVER }
    }

    /// What the cells say: `NEVER` against the role, above 0 for it.
    fn body(&self, role: &str, column: &Column) -> f64 {
        if column.filled == 0 {
            return if ["well", "analyte", "value", "date", "x", "y", "crs"].contains(&role) { NEVER } else { 0.0 };
        }
        let dates = column.dates;
        match role {
            "date" => {
                if dates >= 0.8 {
                    3.0
                } else {
                    NEVER
                }
            }
            "received" => {
                if dates >= 0.8 {
                    1.0
                } else {
                    NEVER
                }
            }
            _ if dates >= 0.8 && !["value", "limit"].contains(&role) => NEVER,
            // U is a flag and uranium; a column of nothing but flags holds no names.
            "analyte" => step(
                column.kinds(|text| self.words.flag(text).is_none() && self.is_analyte(text)),
                &[(0.5, 3.0), (0.2, 1.5), (1e-9, 0.5)],
                -1.0,
            ),
            "unit" => step(column.kinds(|text| self.is_unit(text)), &[(0.6, 3.0), (0.3, 1.5), (1e-9, 0.5)], NEVER),
            "value" => step(self.values(column), &[(0.9, 1.5), (0.6, 0.5)], NEVER),
            "limit" => step(column.numbers, &[(0.8, 1.0)], NEVER),
            "x" | "y" => step(column.kinds(|text| angle::read(text).is_some()), &[(0.8, 0.5)], NEVER),
            "fraction" => step(
                column.kinds(|text| self.dictionary.read_fraction(text).is_some()),
                &[(0.5, 1.9), (0.3, 1.0)],
                NEVER,
            ),
            "basis" => step(column.kinds(|text| self.dictionary.bases().find(text).is_some()), &[(0.5, 1.5)], NEVER),
            "limit_unit" => step(column.kinds(|text| self.is_unit(text)), &[(0.6, 1.0)], NEVER),
            "status" => {
                step(column.kinds(|text| STATUSES.contains(&text.to_lowercase().as_str())), &[(0.5, 1.9)], NEVER)
            }
            "second_qualifier" => self.flags(column),
            "accuracy_m" | "depth_m" | "count" => step(column.numbers, &[(0.8, 0.5)], NEVER),
            "qualifier" => self.flags(column),
            "sample_kind" => self.sample_kinds(column),
            "crs" => step(column.kinds(is_crs), &[(0.5, 2.0)], NEVER),
            "method" => {
                if column.texts.len() > 60 {
                    NEVER
                } else {
                    0.0
                }
            }
            "well" => self.ids(column),
            _ => 0.5,
        }
    }

    /// Whether a text is the name of an analyte.
    pub(super) fn is_analyte(&self, text: &str) -> bool {
        if is_number(text) {
            return false;
        }
        if let Some(known) = self.known.borrow().get(text) {
            return *known;
        }
        let known = !matches!(self.dictionary.resolve(text), NameOutcome::Unknown { .. });
        self.known.borrow_mut().insert(text.to_owned(), known);
        known
    }

    /// Whether a text is a unit.
    pub(super) fn is_unit(&self, text: &str) -> bool {
        self.dictionary.read_unit(text).is_ok()
    }

    /// The share of different texts that read as values, with one decimal mark or the other.
    pub(super) fn values(&self, column: &Column) -> f64 {
        let readable = |marks: Marks| column.kinds(|text| self.is_value(text, marks));
        readable(Marks::default()).max(readable(Marks::new(Some(','), None)))
    }

    /// Whether a text says something in a value's place.
    pub(super) fn is_value(&self, text: &str, marks: Marks) -> bool {
        let reads = |text: &str| !matches!(read(text, marks, &self.words).said, Said::Unreadable);
        reads(text) || unit_behind(text).is_some_and(|(value, unit)| self.is_unit(unit) && reads(value))
    }

    /// Whether a text is a value with its unit behind it.
    pub(super) fn has_unit(&self, text: &str) -> bool {
        let alone = matches!(read(text, Marks::default(), &self.words).said, Said::Unreadable);
        alone && unit_behind(text).is_some_and(|(_, unit)| self.is_unit(unit))
    }

    /// Whether some part of a text is a known flag.
    pub(super) fn is_flag(&self, text: &str) -> bool {
        self.words.flag(text).is_some() || text.split([',', ';', '/', ' ']).any(|part| self.words.flag(part).is_some())
    }

    fn flags(&self, column: &Column) -> f64 {
        if column.numbers > 0.5 || column.share(|text| text.chars().count() > 30) > 0.5 {
            return NEVER;
        }
        step(column.share(|text| self.is_flag(text)), &[(0.5, 1.5), (1e-9, 0.5)], 0.0)
    }

    fn sample_kinds(&self, column: &Column) -> f64 {
        if column.texts.len() > 40 || column.numbers > 0.5 {
            return NEVER;
        }
        step(column.kinds(|text| sample_kind(text, &BTreeMap::new()).is_some()), &[(0.5, 1.5)], 0.0)
    }

    fn ids(&self, column: &Column) -> f64 {
        let broken = column.kinds(|text| is_number(text) && text.contains(['.', ',']));
        let names = column.kinds(|text| self.is_analyte(text) || self.is_unit(text));
        if broken > 0.5 || names > 0.5 {
            NEVER
        } else if column.texts.len() < 2 {
            -1.0
        } else {
            0.5
        }
    }
}

/// The points of the first step that a share reaches.
fn step(share: f64, steps: &[(f64, f64)], below: f64) -> f64 {
    steps.iter().find(|(least, _)| share >= *least).map_or(below, |(_, points)| *points)
}

/// Whether a text is a plain number, with either decimal mark.
pub(super) fn is_number(text: &str) -> bool {
    number(text).is_some()
}

/// A plain number, with either decimal mark.
pub(super) fn number(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").parse::<f64>().ok().filter(|x| x.is_finite())
}

/// Whether a text names a coordinate system or datum.
pub(super) fn is_crs(text: &str) -> bool {
    let plain: String = text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_ascii_uppercase();
    let known =
        ["EPSG", "NAD83", "NAD27", "NAD1983", "NAD1927", "WGS84", "WGS1984", "ETRS89", "OSGB36", "GDA94", "GDA2020"];
    known.iter().any(|word| plain.contains(word)) || plain.starts_with("UTM")
}
