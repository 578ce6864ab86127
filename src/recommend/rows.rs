//! The rows of advice: what to recommend where, where to go first, whom to call, whose retest is due.

use crate::ids::{AnalyteId, AreaId, Day};

/// One row of recommend.csv.
#[derive(Clone, Debug)]
pub struct AdviceRow {
    /// Area.
    pub area: AreaId,
    /// Analyte.
    pub analyte: AnalyteId,
    /// What to advise, such as `test yearly`.
    pub advice: &'static str,
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
}

/// One row of follow-up.csv (internal).
#[derive(Clone, Debug)]
pub struct FollowUpRow {
    /// Well id; it may be in no well list.
    pub well: String,
    /// Analyte.
    pub analyte: AnalyteId,
    /// The result as text, such as `38 mg/L` or `present`.
    pub result: String,
    /// The limit as text.
    pub limit: String,
    /// Benchmark set.
    pub set: String,
    /// Day of the sample.
    pub date: Day,
    /// Years between it and the newest sample of the survey.
    pub age_years: f64,
    /// `now` or `soon`.
    pub urgency: &'static str,
    /// The usual caution and whom to ask.
    pub caution: String,
}

/// One row of retest.csv (internal).
#[derive(Clone, Debug)]
pub struct RetestRow {
    /// Well id.
    pub well: String,
    /// What is due: `yearly basics`, `laboratory panel`, `after flood` ...
    pub due: String,
    /// Why, in one sentence.
    pub because: String,
    /// Since when it is due.
    pub since: Day,
    /// Day of the last sample that counts towards it.
    pub last_sampled: Option<Day>,
}
