//! One well's letter from what the stages made: its values, the limits, the area's shown rates, its retests, the area's advice.
//!
//! The picture of the neighbours shows what the public tables show and no more, and not where the other wells alone would be fewer than the
//! smallest group: the household knows its own result. A well in no area has no such picture, and the letter says so.

use super::fields::{Letter, NeighbourLine, NextLine, ResultLine};
use crate::dictionary::{Analyte, Benchmark, BenchmarkKind, Dictionary, Effect};
use crate::ids::{AnalyteId, AreaId, Interval, WellId};
use crate::methods::exceedance::Verdict;
use crate::per_well::WellValue;
use crate::plan::Method;
use crate::publish::report::{CAUTIONS, cautions_for};
use crate::publish::{Protection, Results};
use crate::recommend::words::{capitalised, over, spoken};
use crate::recommend::{AdviceRow, Advised, RetestRow, limit_text, result_text, yearly_basics};
use crate::summarise::{ExceedanceRow, Scope, judge};
use std::collections::BTreeMap;

/// Lines of the neighbours' picture.
const MOST_NEIGHBOURS: usize = 6;
/// Days of a year, for ages in whole years.
const DAYS_OF_A_YEAR: i32 = 365;
/// Tests that are named of those that land use speaks for.
const MOST_UNTESTED: usize = 6;
/// Tests in the list of what to test next.
const MOST_NEXT: usize = 8;

/// Everything, sorted by what a letter asks for.
pub struct Desk<'a> {
    results: &'a Results<'a>,
    protection: &'a Protection,
    contact: &'a str,
    values: Vec<Vec<&'a WellValue>>,
    rates: BTreeMap<(AreaId, AnalyteId), Vec<&'a ExceedanceRow>>,
    advice: BTreeMap<AreaId, Vec<&'a AdviceRow>>,
}

impl<'a> Desk<'a> {
    /// Sorts everything.
    pub fn new(
        results: &'a Results<'a>,
        protection: &'a Protection,
        contact: &'a str,
        unplaced: &'a [WellValue],
    ) -> Desk<'a> {
        let mut desk = Desk {
            results,
            protection,
            contact,
            values: vec![Vec::new(); results.wells.len()],
            rates: BTreeMap::new(),
            advice: BTreeMap::new(),
        };
        for value in results.survey.values.iter().chain(unplaced) {
            desk.values.get_mut(value.well.index()).into_iter().for_each(|list| list.push(value));
        }
        for row in &results.findings.exceedance {
            if let Scope::Area(area) = row.scope {
                desk.rates.entry((area, row.analyte)).or_default().push(row);
            }
        }
        for row in &results.advice.areas {
            desk.advice.entry(row.area).or_default().push(row);
        }
        desk
    }

    /// A well's letter; `None` of one without a result.
    pub fn letter(&self, well: WellId) -> Option<Letter> {
        let values = self.values.get(well.index()).filter(|values| !values.is_empty())?;
        let area = self.results.wells.area(well);
        let mut judged: Vec<Judged<'_>> = values.iter().map(|value| self.judged(value)).collect();
        judged.sort_by_key(|one| (!one.above_health(), !one.above(), one.about(), one.value.analyte));
        let dictionary = &self.results.job.dictionary;
        let above: Vec<AnalyteId> =
            judged.iter().filter(|one| one.above_health()).map(|one| one.value.analyte).collect();
        let named: Vec<String> = above.iter().map(|analyte| spoken(dictionary, *analyte)).collect();
        let as_of = self.results.findings.as_of;
        let newest = values.iter().map(|value| value.day).max();
        let days = as_of.zip(newest).map_or(0, |(as_of, newest)| as_of.0 - newest.0);
        Some(Letter {
            title: self.results.job.plan.survey.title.clone(),
            well: self.results.wells.id(well).to_owned(),
            area: area.map(|area| self.results.wells.areas().name(area).to_owned()).unwrap_or_default(),
            date: as_of.map(|day| day.to_string()).unwrap_or_default(),
            contact: self.contact.to_owned(),
            program: format!("wellreeve {}", env!("CARGO_PKG_VERSION")),
            above_health: above.len(),
            above_tests: named.join(", "),
            newest_years: u32::try_from(days / DAYS_OF_A_YEAR).unwrap_or(0),
            unplaced: area.is_none(),
            cautions: cautions(dictionary, &above, &self.with_lead(&judged)),
            neighbours: area.map(|area| self.neighbours(area, &judged)).unwrap_or_default(),
            next_tests: self.next_tests(well, area, values),
            results: judged.iter().map(|one| self.line(one)).collect(),
        })
    }

    /// Tests that found any lead: no amount of it is known to be safe.
    fn with_lead(&self, judged: &[Judged<'_>]) -> Vec<AnalyteId> {
        let analytes = self.results.job.dictionary.analytes();
        let is_find = |one: &&Judged<'_>| matches!(one.value.interval, Interval::Detect(_) | Interval::Above(_));
        let found = judged.iter().filter(is_find).map(|one| one.value.analyte);
        found.filter(|analyte| analytes.id(analytes.whole(*analyte)) == "lead").collect()
    }

    fn judged(&self, value: &'a WellValue) -> Judged<'a> {
        let own = self.results.findings.benchmarks.iter().filter(|limit| limit.analyte == value.analyte);
        let limits = own.map(|limit| (limit, judge(value.interval, limit.kind)));
        // The limit to speak of: one that is passed before one that is met, about health before others; of those passed the graver one,
        // of others the lowest.
        let order = |(limit, verdict): &(&Benchmark, Verdict)| {
            let passed = *verdict == Verdict::Exceeding;
            let open = u8::from(*verdict == Verdict::Meeting);
            (!(is_health(limit) && passed), !passed, open, !is_health(limit), passed.then_some(limit.effect))
        };
        let lowest = |(limit, _): &(&Benchmark, Verdict)| limit.kind.limit().unwrap_or(f64::INFINITY);
        let limit = limits.min_by(|a, b| order(a).cmp(&order(b)).then(lowest(a).total_cmp(&lowest(b))));
        Judged { value, limit }
    }

    fn line(&self, one: &Judged<'_>) -> ResultLine {
        let dictionary = &self.results.job.dictionary;
        let unit = dictionary.unit_text(one.value.analyte);
        ResultLine {
            test: capitalised(&spoken(dictionary, one.value.analyte)),
            result: result_text(plain(one), &unit),
            date: one.value.day.to_string(),
            limit: one.limit.map(|(limit, _)| limit_text(limit.kind, &unit)).unwrap_or_default(),
            meaning: one.limit.map(|(limit, _)| meaning(limit)).unwrap_or_default().to_owned(),
            verdict: one.verdict().to_owned(),
            above_health: one.above_health(),
            method: if one.value.method == Method::Kit { "field kit".to_owned() } else { String::new() },
        }
    }

    /// Shown rates of the area for the tests of this well, those above first.
    fn neighbours(&self, area: AreaId, judged: &[Judged<'_>]) -> Vec<NeighbourLine> {
        let mut rows: Vec<(bool, &ExceedanceRow)> =
            judged.iter().filter_map(|one| Some((one.above_health(), self.rate(area, one)?))).collect();
        rows.sort_by(|a, b| (b.0.cmp(&a.0)).then(b.1.rate.unwrap_or(0.0).total_cmp(&a.1.rate.unwrap_or(0.0))));
        rows.into_iter().take(MOST_NEIGHBOURS).map(|(_, row)| self.neighbour(area, row)).collect()
    }

    fn rate(&self, area: AreaId, one: &Judged<'_>) -> Option<&'a ExceedanceRow> {
        let (limit, _) = one.limit.filter(|(limit, _)| is_health(limit))?;
        let shown = !self.protection.hides(Scope::Area(area), limit.analyte);
        let rows = self.rates.get(&(area, limit.analyte)).filter(|_| shown)?;
        let row = rows.iter().find(|row| row.set == limit.set && row.effect == limit.effect.as_str())?;
        let known = row.exceeding + row.meeting;
        (known > self.protection.smallest_group()).then_some(*row)
    }

    fn neighbour(&self, area: AreaId, row: &ExceedanceRow) -> NeighbourLine {
        let dictionary = &self.results.job.dictionary;
        let known = row.exceeding + row.meeting;
        let tenths = row.rate.map_or(0, |rate| (rate * 10.0).round() as usize).min(10);
        let tenths = if row.exceeding > 0 { tenths.max(1) } else { 0 };
        let limit = over(dictionary, row.analyte, row.kind);
        let was = match (limit.as_str(), row.exceeding) {
            ("found", _) => "had it".to_owned(),
            (limit, 0 | 1) => format!("was {limit}"),
            (limit, _) => format!("were {limit}"),
        };
        let count = if row.exceeding == 0 { "None".to_owned() } else { row.exceeding.to_string() };
        let name = self.results.wells.areas().name(area);
        NeighbourLine {
            test: capitalised(&spoken(dictionary, row.analyte)),
            sentence: format!("{count} of {known} tested wells of {name}, yours among them, {was}."),
            filled: "●".repeat(tenths),
            open: "○".repeat(10 - tenths),
        }
    }

    /// What is due for this well, and then what the area's advice adds that the well was never tested for.
    fn next_tests(&self, well: WellId, area: Option<AreaId>, values: &[&WellValue]) -> Vec<NextLine> {
        let dictionary = &self.results.job.dictionary;
        let due = self.results.advice.retest.of_well(dictionary, self.results.wells, well);
        let mut lines: Vec<NextLine> = due
            .iter()
            .map(|row| NextLine {
                test: self.tests(row),
                when: if row.status == "overdue" { "overdue".to_owned() } else { format!("due since {}", row.since) },
                why: row.because.to_string(),
            })
            .collect();
        let named = |analyte: AnalyteId| {
            let id = dictionary.analytes().id(analyte);
            due.iter().any(|row| row.tests.split(';').any(|test| test == id))
        };
        let known = |analyte: AnalyteId| named(analyte) || values.iter().any(|value| value.analyte == analyte);
        if area.is_none() {
            let basics = yearly_basics(dictionary).into_iter().filter(|analyte| !named(*analyte));
            lines.extend(basics.map(|analyte| NextLine {
                test: spoken(dictionary, analyte),
                when: "every year".to_owned(),
                why: "Every private well should be tested for this each year (common practice).".to_owned(),
            }));
        }
        let advice = area.and_then(|area| self.advice.get(&area)).into_iter().flatten();
        let wanted = advice.filter(|row| matches!(row.advice, Advised::Now | Advised::Yearly | Advised::Once));
        let new = wanted.filter(|row| !known(row.analyte));
        let shown = new.filter(|row| !self.protection.hides(Scope::Area(row.area), row.analyte));
        let (untested, mut tested): (Vec<&AdviceRow>, Vec<&AdviceRow>) = shown.partition(|row| row.never_tested());
        let chance = |row: &AdviceRow| row.chance_of_concern.unwrap_or(-1.0);
        tested.sort_by(|a, b| a.advice.cmp(&b.advice).then(chance(b).total_cmp(&chance(a))));
        lines.extend(tested.into_iter().map(|row| NextLine {
            test: spoken(dictionary, row.analyte),
            when: row.how_often.to_owned(),
            why: "There is no result of your well yet.".to_owned(),
        }));
        lines.truncate(MOST_NEXT);
        lines.extend(self.land_use_line(&untested));
        together(lines)
    }

    /// What the land use around speaks for and nobody was tested for, in one line: a laboratory sells such tests as panels.
    fn land_use_line(&self, untested: &[&AdviceRow]) -> Option<NextLine> {
        let dictionary = &self.results.job.dictionary;
        let when = untested.first()?.how_often.to_owned();
        let mut names: Vec<String> =
            untested.iter().take(MOST_UNTESTED).map(|row| spoken(dictionary, row.analyte)).collect();
        match untested.len().saturating_sub(MOST_UNTESTED) {
            0 => {}
            1 => names.push("and one more".to_owned()),
            more => names.push(format!("and {more} more")),
        }
        let why = "Land use in your area speaks for these, and no well of the survey has had them yet: ask a certified laboratory which of its panels \
                   cover them.";
        Some(NextLine { test: names.join(", "), when, why: why.to_owned() })
    }

    /// Names of a retest's tests.
    fn tests(&self, row: &RetestRow<'_>) -> String {
        let dictionary = &self.results.job.dictionary;
        let named = |id: &str| dictionary.analytes().find(id).map_or(id.to_owned(), |a| spoken(dictionary, a));
        row.tests.split(';').map(named).collect::<Vec<_>>().join(", ")
    }
}

/// Lines of the same time and reason become one.
fn together(lines: Vec<NextLine>) -> Vec<NextLine> {
    let mut all: Vec<NextLine> = Vec::new();
    for line in lines {
        match all.iter_mut().find(|old| old.when == line.when && old.why == line.why) {
            Some(old) => old.test = format!("{}, {}", old.test, line.test),
            None => all.push(line),
        }
    }
    all.iter_mut().for_each(|line| line.test = capitalised(&line.test));
    all
}

struct Judged<'a> {
    value: &'a WellValue,
    limit: Option<(&'a Benchmark, Verdict)>,
}

impl Judged<'_> {
    fn above(&self) -> bool {
        self.limit.is_some_and(|(_, verdict)| verdict == Verdict::Exceeding)
    }

    /// Puts limits of one meaning side by side, those about health first, results without a limit last.
    fn about(&self) -> (bool, Option<Effect>, bool) {
        let limit = self.limit.map(|(limit, _)| limit);
        (limit.is_none(), limit.map(|limit| limit.effect), limit.is_some_and(|limit| !limit.ranks))
    }

    fn above_health(&self) -> bool {
        self.above() && self.limit.is_some_and(|(limit, _)| is_health(limit))
    }

    fn verdict(&self) -> &'static str {
        match self.limit.map(|(limit, verdict)| (verdict, limit.kind)) {
            None => "no limit",
            Some((Verdict::Exceeding, BenchmarkKind::Max { .. })) => "above",
            Some((Verdict::Exceeding, BenchmarkKind::Range { .. })) => "outside",
            Some((Verdict::Exceeding, BenchmarkKind::Absent)) => "found",
            Some((Verdict::Meeting, BenchmarkKind::Absent)) => "not found",
            Some((Verdict::Meeting, _)) => "within",
            Some((Verdict::Undetermined, _)) => "cannot tell",
        }
    }
}

fn is_health(limit: &Benchmark) -> bool {
    limit.ranks && matches!(limit.effect, Effect::AcuteHealth | Effect::ChronicHealth)
}

fn meaning(limit: &Benchmark) -> &'static str {
    match limit.effect {
        Effect::AcuteHealth | Effect::ChronicHealth if !limit.ranks => {
            "Meant for some people only, such as those on a low-salt diet: ask your doctor."
        }
        Effect::AcuteHealth => "Guards health: more than this can make people ill within days or weeks.",
        Effect::ChronicHealth => "Guards health: more than this, drunk over many years, may do harm.",
        Effect::Aesthetic => "Not about health: taste, smell, colour or stains.",
        Effect::Infrastructure => "Not about health: pipes, boilers and scale.",
    }
}

/// A result with three digits, as a household reads it, unless that would move it to another side of its limit.
fn plain(one: &Judged<'_>) -> Interval {
    let digits = |x: f64| {
        let scale = libm::pow(10.0, 2.0 - libm::floor(libm::log10(x.abs())));
        if x == 0.0 || !scale.is_finite() || x.abs() >= 1000.0 { x } else { (x * scale).round() / scale }
    };
    let own = one.value.interval;
    let plain = match own {
        Interval::Detect(x) => Interval::Detect(digits(x)),
        Interval::Below(x) => Interval::Below(digits(x)),
        Interval::Above(x) => Interval::Above(digits(x)),
        other => other,
    };
    let same = |(limit, verdict): &(&Benchmark, Verdict)| judge(plain, limit.kind) == *verdict;
    if one.limit.as_ref().is_none_or(same) { plain } else { own }
}

/// What the results call for first, then all cautions; none twice.
fn cautions(dictionary: &Dictionary, above: &[AnalyteId], lead: &[AnalyteId]) -> Vec<String> {
    let analytes = dictionary.analytes();
    let mut all: Vec<String> = above.iter().filter_map(|analyte| own_caution(dictionary, *analyte)).collect();
    // Of bacteria the dictionary's own caution says more than the general one, which comes with the others.
    let is_chemical = |analyte: &&AnalyteId| !analytes.get(**analyte).is_some_and(Analyte::is_microbial);
    let ids = above.iter().filter(is_chemical).chain(lead).map(|analyte| analytes.id(*analyte));
    // The first of them is the short form of what follows whole.
    for text in cautions_for(ids).into_iter().skip(1).chain(CAUTIONS) {
        if !all.iter().any(|known| known == text) {
            all.push(text.to_owned());
        }
    }
    all
}

/// What the dictionary says of a test, where the cautions of its kind do not say it already.
fn own_caution(dictionary: &Dictionary, analyte: AnalyteId) -> Option<String> {
    let entry = dictionary.analytes().get(analyte)?;
    let said = cautions_for([entry.id.as_str()]).len() > 2 || entry.caution.is_empty();
    (!said).then(|| format!("{}: {}", capitalised(&spoken(dictionary, analyte)), entry.caution))
}
