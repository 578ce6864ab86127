//! The rows of advice: what to recommend where, where to go first, whom to call, whose retest is due.

use super::advice::Advised;
use super::due::Due;
use crate::ids::{AnalyteId, AreaId, Day};
use crate::summarise::Scope;

/// One row of recommend.csv.
#[derive(Clone, Debug)]
pub struct AdviceRow {
    /// Area.
    pub area: AreaId,
    /// Analyte.
    pub analyte: AnalyteId,
    /// What to advise.
    pub advice: Advised,
    /// `certified laboratory` or `kit adequate for screening, laboratory to confirm`.
    pub where_tested: &'static str,
    /// How often, such as `every year`.
    pub how_often: &'static str,
    /// Chance that the area's true rate is above the concern rate.
    pub chance_of_concern: Option<f64>,
    /// Expected exceedances in 100 tests.
    pub expected_per_100: Option<f64>,
    /// Wells with a value in the area.
    pub wells: u32,
    /// How good the evidence is: `none`, `thin`, `fair`, `good`.
    pub evidence: &'static str,
    /// One plain sentence that names the numbers.
    pub because: String,
    /// Price of the test, from the plan's list.
    pub price: Option<f64>,
    /// The advice as one would say it to well owners.
    pub in_words: String,
    /// Benchmark set of the limit spoken of; empty without one.
    pub limit_set: String,
    /// Years of the oldest and newest value.
    pub years: Option<(u32, u32)>,
    /// Parts of the area, of nine, that hold a well with a value.
    pub parts_sampled: Option<u32>,
    /// More wells that halve the interval of the smoothed rate; health limits only.
    pub more_to_halve: Option<u32>,
    /// More wells that settle whether the area is of concern; 0 where it is settled; health limits only.
    pub more_to_settle: Option<u32>,
}

impl AdviceRow {
    /// Advised for the land uses around alone: no well of the survey has a value that a limit judges.
    pub fn never_tested(&self) -> bool {
        self.evidence == "none" && self.limit_set.is_empty() && self.advice == Advised::Once
    }
}

/// One row of outreach.csv.
#[derive(Clone, Debug)]
pub struct OutreachRow {
    /// 1 is where to go first.
    pub rank: u32,
    /// Area.
    pub area: AreaId,
    /// Private wells on record.
    pub wells_on_record: Option<u32>,
    /// Wells with any used result.
    pub wells_sampled: u32,
    /// wells_sampled / wells_on_record.
    pub share_sampled: Option<f64>,
    /// Expected wells over a health benchmark among wells on record.
    pub expected_wells_over: Option<f64>,
    /// Interval of that.
    pub expected_interval: Option<(f64, f64)>,
    /// Analyte that contributes most.
    pub leading: Option<AnalyteId>,
    /// One plain sentence.
    pub because: String,
    /// Lowest and highest rank that the rates allow, at the plan's level.
    pub rank_interval: Option<(u32, u32)>,
    /// Households on private wells, and how many of them are expected over a health limit.
    pub households: (Option<u32>, Option<f64>),
    /// Place in the order of expected households.
    pub household_rank: Option<u32>,
    /// Infants in them, and how many are expected to have nitrate or nitrite above its limit.
    pub infants: (Option<u32>, Option<f64>),
    /// Place in the order of expected infants.
    pub infant_rank: Option<u32>,
}

/// One row of panel.csv.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelRow {
    /// Region or area.
    pub scope: Scope,
    /// 1 is bought first.
    pub step: u32,
    /// Analyte id or panel, as priced.
    pub bought: String,
    /// What it tests for beyond what was bought before.
    pub adds: Vec<AnalyteId>,
    /// Its price.
    pub price: f64,
    /// All prices so far.
    pub spent: f64,
    /// Results above a health limit that it adds in 100 wells.
    pub found: f64,
    /// All of those so far.
    pub found_so_far: f64,
    /// Whether it is within the plan's budget; `None` without one.
    pub in_budget: Option<InBudget>,
}

/// Whether a test is within the budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InBudget {
    /// It fits.
    Yes,
    /// It does not.
    No,
}

/// One row of sample-next.csv (internal).
#[derive(Clone, Debug, PartialEq)]
pub struct SampleNextRow {
    /// Area.
    pub area: AreaId,
    /// 1 is where to sample first.
    pub order: u32,
    /// The part's name, such as `north-west`.
    pub part: &'static str,
    /// Sampled wells in it.
    pub sampled: u32,
    /// Wells of the well lists in it.
    pub listed: u32,
    /// Metres from its loneliest place to the nearest sampled well.
    pub gap_m: Option<f64>,
    /// That place, in the working system.
    pub place: [f64; 2],
    /// One plain sentence.
    pub because: String,
}

/// How soon a well's result calls for action.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    /// At once.
    Now,
    /// With the next round of calls.
    Soon,
    /// A later sample met the limit.
    Cleared,
}

impl Urgency {
    /// As the table writes it.
    pub fn word(self) -> &'static str {
        match self {
            Urgency::Now => "now",
            Urgency::Soon => "soon",
            Urgency::Cleared => "cleared",
        }
    }
}

/// One row of follow-up.csv (internal).
#[derive(Clone, Debug)]
pub struct FollowUpRow<'a> {
    /// Well id; it may be in no well list.
    pub well: &'a str,
    /// Analyte.
    pub analyte: AnalyteId,
    /// The result as text, such as `38 mg/L` or `present`.
    pub result: String,
    /// The limit as text.
    pub limit: &'a str,
    /// Benchmark set.
    pub set: &'a str,
    /// Day of the sample.
    pub date: Day,
    /// Years between it and the newest sample of the survey.
    pub age_years: f64,
    /// `now`, `soon`, or `cleared` by a later sample.
    pub urgency: Urgency,
    /// Why it is listed, such as `above the limit`.
    pub why: &'static str,
    /// What a later sample showed; empty where there is none.
    pub later: String,
    /// The usual caution and whom to ask.
    pub caution: &'a str,
}

/// One row of retest.csv (internal).
#[derive(Clone, Copy, Debug)]
pub struct RetestRow<'a> {
    /// Well id.
    pub well: &'a str,
    /// The rule's name: `yearly basics`, `laboratory panel`, `after flood` ...
    pub due: &'a str,
    /// `due`, or `overdue` where the rule has a second age.
    pub status: &'static str,
    /// What to test for: dictionary ids between semicolons, or `standard panel`.
    pub tests: &'a str,
    /// Why, in one sentence.
    pub because: Due<'a>,
    /// Since when it is due.
    pub since: Day,
    /// Day of the last sample that counts towards it.
    pub last_sampled: Option<Day>,
}
