//! recommend.csv: for each area and analyte, what an extension agent can advise, and why.
//!
//! The rule, in order: an analyte of which the area is of concern is to be tested now; the yearly basics are advised everywhere; an
//! analyte of which thin evidence can say neither yes nor no is to be sampled more first; one that the dictionary links to a land
//! use around the area's wells, or of which concern is more likely than not, is to be tested once and then every 3 to 5 years, and
//! so is one whose rate is likely above a limit that is not about health; for the rest there is no local reason beyond the
//! standard panel. What is standard is common practice, no source.

use super::because::{Besides, More, sentence};
use super::evidence::Evidence;
use super::links::{self, Link};
use super::more_wells::{Concern, Known};
use super::prices::Prices;
use super::rows::AdviceRow;
use super::words::spoken;
use super::yearly_basics;
use crate::dictionary::{Dictionary, KitRating};
use crate::ids::{AnalyteId, AreaId, Day};
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{ExceedanceRow, Findings, Scope};
use std::collections::{BTreeMap, BTreeSet};

/// Everything that advice is made from.
pub struct Ground<'a> {
    /// Plan.
    pub plan: &'a Plan,
    /// Dictionary.
    pub dictionary: &'a Dictionary,
    /// Price list.
    pub prices: &'a Prices,
    /// Findings.
    pub findings: &'a Findings,
    /// Evidence by area and analyte.
    pub evidence: &'a BTreeMap<(AreaId, AnalyteId), Evidence>,
    /// Wells above each limit in the whole region.
    pub in_region: BTreeMap<LimitKey<'a>, u32>,
}

/// Analyte, set and effect of a limit.
pub type LimitKey<'a> = (AnalyteId, &'a str, &'a str);

fn limit_key(row: &ExceedanceRow) -> LimitKey<'_> {
    (row.analyte, &row.set, &row.effect)
}

/// Wells above each limit in the whole region, where that may be told.
pub fn in_region(findings: &Findings) -> BTreeMap<LimitKey<'_>, u32> {
    let rows = findings.exceedance.iter().filter(|row| row.scope == Scope::Region && row.wells > 0);
    rows.map(|row| (limit_key(row), row.exceeding)).collect()
}

/// Rows by area and then analyte.
pub fn rows(ground: &Ground<'_>, wells: &Wells) -> Vec<AdviceRow> {
    let basics: BTreeSet<AnalyteId> = yearly_basics(ground.dictionary).into_iter().collect();
    let judged = strictest(ground.findings);
    let mut analytes: BTreeSet<AnalyteId> = judged.keys().map(|(_, analyte)| *analyte).collect();
    analytes.extend(&basics);
    let present = links::present(ground.plan, wells);
    let areas = (0..wells.areas().len() as u32).map(AreaId);
    areas
        .flat_map(|area| {
            let here = present.get(area.index()).map_or(&[][..], Vec::as_slice);
            let mut wanted = links::wanted(ground.dictionary, &ground.findings.benchmarks, here);
            wanted.extend(&analytes);
            wanted.into_iter().map(move |analyte| (area, analyte))
        })
        .map(|(area, analyte)| {
            let links = links::of(ground.dictionary, analyte, present.get(area.index()));
            let row = judged.get(&(area, analyte)).copied();
            one(ground, basics.contains(&analyte), area, analyte, row, &links)
        })
        .collect()
}

/// For each area and analyte the limit that gives most cause for concern: a health limit where there is one, the one
/// with the highest chance among those.
fn strictest(findings: &Findings) -> BTreeMap<(AreaId, AnalyteId), &ExceedanceRow> {
    let mut best: BTreeMap<(AreaId, AnalyteId), &ExceedanceRow> = BTreeMap::new();
    for row in &findings.exceedance {
        let Scope::Area(area) = row.scope else { continue };
        let weight = |r: &ExceedanceRow| (r.is_health(), r.chance_of_concern.unwrap_or(-1.0));
        let entry = best.entry((area, row.analyte)).or_insert(row);
        if weight(row) > weight(entry) {
            *entry = row;
        }
    }
    best
}

fn one(
    ground: &Ground<'_>,
    basic: bool,
    area: AreaId,
    analyte: AnalyteId,
    row: Option<&ExceedanceRow>,
    links: &[Link],
) -> AdviceRow {
    let Ground { plan, dictionary, .. } = *ground;
    let evidence = ground.evidence.get(&(area, analyte)).copied().unwrap_or_default();
    let grade = evidence.grade(ground.findings.as_of);
    let advice = decide(plan, basic, row, grade, links);
    let (to_halve, to_settle) = more_wells(plan, area, row);
    let basic = basic.then_some("every private well should be tested for it each year (common practice)");
    let more = (advice == Advised::SampleMore).then_some(More { to_settle, to_halve });
    let in_region = row.and_then(|row| ground.in_region.get(&limit_key(row)).copied());
    let besides = Besides { basic, links, more, in_region, wells: evidence.wells };
    AdviceRow {
        area,
        analyte,
        advice,
        where_tested: where_tested(dictionary, analyte),
        how_often: how_often(advice, basic.is_some()),
        chance_of_concern: row.and_then(|r| r.chance_of_concern),
        expected_per_100: row.and_then(|r| r.smoothed).map(|rate| rate * 100.0),
        wells: row.map_or(evidence.wells, |r| r.wells),
        evidence: grade,
        because: sentence(plan, dictionary, analyte, row, &besides),
        price: ground.prices.analytes.get(&analyte).copied(),
        in_words: in_words(dictionary, analyte, advice, basic.is_some()),
        limit_set: row.map(|r| r.set.clone()).unwrap_or_default(),
        years: evidence.days.map(|(first, last)| (year(first), year(last))),
        parts_sampled: evidence.parts,
        more_to_halve: to_halve,
        more_to_settle: to_settle,
    }
}

fn year(day: Day) -> u32 {
    use chrono::Datelike;
    day.date().map_or(0, |date| u32::try_from(date.year()).unwrap_or(0))
}

/// The advice, most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Advised {
    /// Of concern.
    Now,
    /// One of the yearly basics.
    Yearly,
    /// Too little is known.
    SampleMore,
    /// A local reason, short of concern.
    Once,
    /// No local reason.
    PanelOnly,
}

impl Advised {
    /// As the tables write it.
    pub fn words(self) -> &'static str {
        match self {
            Advised::Now => "test now",
            Advised::Yearly => "test yearly",
            Advised::SampleMore => "sample more first",
            Advised::Once => "test once, then every 3 to 5 years",
            Advised::PanelOnly => "no local reason beyond the standard panel",
        }
    }
}

fn decide(plan: &Plan, basic: bool, row: Option<&ExceedanceRow>, grade: &str, links: &[Link]) -> Advised {
    let chance = row.and_then(|r| r.chance_of_concern).unwrap_or(0.0);
    let health = row.is_some_and(ExceedanceRow::is_health);
    let likely = chance >= plan.recommend.confidence;
    let thin = matches!(grade, "none" | "thin");
    match () {
        () if likely && health => Advised::Now,
        () if basic => Advised::Yearly,
        () if health && thin && chance > 1.0 - plan.recommend.confidence => Advised::SampleMore,
        () if !links.is_empty() || likely || (health && chance >= 0.5) => Advised::Once,
        () => Advised::PanelOnly,
    }
}

fn how_often(advice: Advised, basic: bool) -> &'static str {
    match advice {
        Advised::Now if basic => "now, then every year",
        Advised::Now => "now, then every 3 to 5 years",
        Advised::Yearly => "every year",
        Advised::SampleMore => "once, with the next panel; then as the area's results say",
        Advised::Once => "once, then every 3 to 5 years",
        Advised::PanelOnly => "with the panel, every 3 to 5 years",
    }
}

fn rating(dictionary: &Dictionary, analyte: AnalyteId) -> KitRating {
    dictionary.analytes().get(analyte).map_or(KitRating::No, |entry| entry.kit)
}

fn where_tested(dictionary: &Dictionary, analyte: AnalyteId) -> &'static str {
    match rating(dictionary, analyte) {
        KitRating::Yes => "kit adequate; certified laboratory to confirm",
        KitRating::Screening => "certified laboratory; a kit only screens",
        KitRating::No => "certified laboratory",
    }
}

/// What one would say to a roomful of well owners.
fn in_words(dictionary: &Dictionary, analyte: AnalyteId, advice: Advised, basic: bool) -> String {
    let name = spoken(dictionary, analyte);
    let what = match advice {
        Advised::Now if basic => format!("Have your water tested for {name} now, and then every year."),
        Advised::Now => format!("Have your water tested for {name} now, and then every 3 to 5 years."),
        Advised::Yearly => format!("Have your water tested for {name} every year."),
        Advised::SampleMore => {
            format!(
                "Too few wells here have been tested for {name} to say. Add it to your next test: each result helps."
            )
        }
        Advised::Once => format!("Have your water tested for {name} once, and then every 3 to 5 years."),
        Advised::PanelOnly => {
            return format!(
                "No local reason to test for {name} beyond what the standard laboratory panel covers every 3 to 5 years."
            );
        }
    };
    let place = match rating(dictionary, analyte) {
        KitRating::Yes => "A field kit will do; have a certified laboratory confirm what it finds.",
        KitRating::Screening => "Use a certified laboratory; a kit can only give a first idea.",
        KitRating::No => "Use a certified laboratory.",
    };
    format!("{what} {place}")
}

/// Numbers of further wells, for limits about health.
fn more_wells(plan: &Plan, area: AreaId, row: Option<&ExceedanceRow>) -> (Option<u32>, Option<u32>) {
    let concern = Concern { rate: plan.recommend.concern_rate, confidence: plan.recommend.confidence };
    let posterior = row.filter(|row| row.is_health()).and_then(|row| row.posterior.as_ref());
    let known = posterior.and_then(|p| p.moments(area.index())).and_then(|(mean, variance)| Known::of(mean, variance));
    // The published chance decides whether there is anything to settle; it is not quite that of the Beta distribution.
    let settled = row
        .and_then(|row| row.chance_of_concern)
        .is_some_and(|chance| chance >= plan.recommend.confidence || chance <= 1.0 - plan.recommend.confidence);
    let to_settle = known.and_then(|known| if settled { Some(0) } else { known.to_settle(concern).map(|n| n.max(1)) });
    (known.map(Known::to_halve), to_settle)
}
