//! What the report page is made from: plain figures and words, already protected.
//!
//! Where a row is hidden its figures are `None` and only its keys stand here. Shares are shares of 1, unrounded; the
//! page alone turns them into percent. `Option` numbers inside shown figures mean "not known".

use serde::Serialize;

use super::analyte::AnalyteSection;
use super::further::Further;
use super::layers::LayerSection;

/// A figure with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// The figure.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end; may be infinite for an odds ratio.
    pub high: f64,
}

impl Spread {
    /// A figure with its interval, where both are known.
    pub fn of(value: Option<f64>, interval: Option<(f64, f64)>) -> Option<Spread> {
        let (low, high) = interval?;
        Some(Spread { value: value?, low, high })
    }
}

/// The whole page.
#[derive(Clone, Debug, Serialize)]
pub struct ReportInput {
    /// The survey's title.
    pub title: String,
    /// Program and version, such as `wellreeve 0.1.0`.
    pub program: String,
    /// What time the results speak of, such as `samples of 2015-01-01 to 2025-12-31`. Never the clock.
    pub period: String,
    /// The figures at the head of the page.
    pub glance: Glance,
    /// The outlines that maps are drawn from, as `maps::choropleth_in_page` made them. Put into the page as they are.
    pub outlines: String,
    /// The map of wells above any health limit, as `maps::choropleth_in_page` made it; `None` where nothing can be shown.
    pub overview: Option<String>,
    /// The region's rates against health benchmarks, in the order to be shown (highest first).
    pub leading: Vec<RateLine>,
    /// What is told beyond rates.
    pub further: Further,
    /// Where to go first, best first; the page shows ten.
    pub outreach: Vec<OutreachLine>,
    /// Areas, in file order.
    pub areas: Vec<AreaSection>,
    /// The further layers of areas.
    pub layers: Vec<LayerSection>,
    /// Analytes that have a benchmark, in the order to be shown.
    pub analytes: Vec<AnalyteSection>,
    /// Settings named in the methods.
    pub methods: MethodFacts,
    /// Where every result went, from `read` to `used`.
    pub accounting: Vec<AccountingLine>,
    /// Checks of data quality.
    pub quality: Vec<QualityLine>,
    /// Warnings; without examples, which may name wells.
    pub warnings: Vec<WarningLine>,
    /// Sources of limits, maps and methods, as text.
    pub sources: Vec<SourceLine>,
    /// Terms beyond the page's own glossary, such as benchmark sets.
    pub glossary: Vec<GlossaryLine>,
}

/// The figures at the head of the page; `None` is left out.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Glance {
    /// Results read from all files.
    pub results_read: Option<u64>,
    /// Results that stand for a well and analyte.
    pub results_used: Option<u64>,
    /// Wells with a used result.
    pub wells_sampled: Option<u64>,
    /// Private wells on record.
    pub wells_on_record: Option<u64>,
    /// Areas of the map.
    pub areas: Option<u64>,
    /// Areas with a used result.
    pub areas_with_results: Option<u64>,
    /// Analytes with a used result.
    pub analytes: Option<u64>,
    /// Wells above at least one health benchmark.
    pub any_health: Option<AnyHealth>,
}

/// Wells above at least one health limit, among those tested for a whole panel.
#[derive(Clone, Debug, Serialize)]
pub struct AnyHealth {
    /// Wells tested for all of the panel.
    pub wells: u64,
    /// Wells of these above at least one health limit.
    pub exceeding: u64,
    /// Wells of these that could not be judged.
    pub undetermined: u64,
    /// The share and its interval.
    pub rate: Option<Spread>,
    /// Names the panel.
    pub note: String,
}

/// A rate of one area, or of the region, for one analyte and benchmark.
#[derive(Clone, Debug, Serialize)]
pub struct RateLine {
    /// The area's id, or `region`.
    pub area_id: String,
    /// The area's name.
    pub area: String,
    /// The analyte's dictionary id.
    pub analyte_id: String,
    /// The analyte's display name.
    pub analyte: String,
    /// The benchmark set's id.
    pub set: String,
    /// What counts as exceeding, in words that follow "wells": `above 10 mg/L as N`, `outside 6.5 to 8.5`,
    /// `with any found`.
    pub benchmark: String,
    /// `acute-health`, `chronic-health`, `aesthetic` or `infrastructure`.
    pub effect: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<RateFigures>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

/// The figures of a shown rate.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct RateFigures {
    /// Wells with a value.
    pub wells: u32,
    /// Wells that exceed.
    pub exceeding: u32,
    /// Wells that meet.
    pub meeting: u32,
    /// Wells whose result allows both.
    pub undetermined: u32,
    /// exceeding / (exceeding + meeting) and its interval.
    pub rate: Option<Spread>,
    /// The small-area estimate and its interval; `None` for the region.
    pub smoothed: Option<Spread>,
}

/// One line of the outreach list.
#[derive(Clone, Debug, Serialize)]
pub struct OutreachLine {
    /// 1 is where to go first.
    pub rank: u32,
    /// The area's id.
    pub area_id: String,
    /// The area's name.
    pub area: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<OutreachFigures>,
}

/// The figures of a shown outreach line.
#[derive(Clone, Debug, Serialize)]
pub struct OutreachFigures {
    /// Private wells on record.
    pub wells_on_record: Option<u32>,
    /// Wells with a used result.
    pub wells_sampled: u32,
    /// sampled / on record.
    pub share_sampled: Option<f64>,
    /// Expected wells over a health benchmark among those on record.
    pub expected: Option<Spread>,
    /// Display name of the analyte that contributes most.
    pub leading: Option<String>,
    /// One plain sentence.
    pub because: String,
}

/// One area's section.
#[derive(Clone, Debug, Serialize)]
pub struct AreaSection {
    /// The area's id.
    pub id: String,
    /// The area's name.
    pub name: String,
    /// How many wells were sampled; `None` where that is hidden.
    pub coverage: Option<Coverage>,
    /// Its rates, in the order to be shown.
    pub rates: Vec<RateLine>,
    /// Its advice, in the order to be shown; the page gathers alike lines.
    pub advice: Vec<AdviceLine>,
    /// Tests that land uses around its wells speak for and that no well of the survey has had.
    pub untested: Vec<String>,
}

/// How much of an area was sampled.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Coverage {
    /// Wells with a used result.
    pub sampled: u32,
    /// Private wells on record, where known.
    pub on_record: Option<u32>,
}

/// One line of advice.
#[derive(Clone, Debug, Serialize)]
pub struct AdviceLine {
    /// The analyte's display name.
    pub analyte: String,
    /// The analyte's dictionary id.
    pub analyte_id: String,
    /// What to advise.
    pub advice: String,
    /// Where to have it tested.
    pub where_tested: String,
    /// How often.
    pub how_often: String,
    /// Price of the test from the plan's list.
    pub price: Option<f64>,
    /// The numbers behind it; `None` where they are hidden.
    pub why: Option<AdviceWhy>,
}

/// The numbers behind a line of advice.
#[derive(Clone, Debug, Serialize)]
pub struct AdviceWhy {
    /// The advice as one says it to well owners.
    pub in_words: String,
    /// One plain sentence.
    pub because: String,
    /// `none`, `thin`, `fair` or `good`.
    pub evidence: String,
    /// Expected exceedances in 100 tests.
    pub expected_per_100: Option<f64>,
}

/// Settings that the methods name.
#[derive(Clone, Debug, Serialize)]
pub struct MethodFacts {
    /// Confidence of the intervals, such as 0.95.
    pub interval: f64,
    /// Fewest wells of a public row.
    pub smallest_group: u32,
    /// The plan's concern rate.
    pub concern_rate: f64,
    /// The plan's confidence for a concern.
    pub confidence: f64,
    /// `latest`, `highest` or `median`.
    pub choose: String,
    /// Bootstrap resamples.
    pub resamples: u32,
    /// The seed.
    pub seed: u64,
    /// Further plain paragraphs, such as how ppm was taken.
    pub notes: Vec<String>,
}

/// One line of the accounting.
#[derive(Clone, Debug, Serialize)]
pub struct AccountingLine {
    /// Stage.
    pub stage: String,
    /// Reason's name; empty for `read` and `used`.
    pub reason: String,
    /// What the reason means, in plain words.
    pub meaning: String,
    /// Results.
    pub results: Option<u64>,
    /// Wells; `None` where hidden or not known.
    pub wells: Option<u64>,
}

/// One check of data quality.
#[derive(Clone, Debug, Serialize)]
pub struct QualityLine {
    /// The check's name.
    pub check: String,
    /// What it looked at.
    pub subject: String,
    /// How many were tested.
    pub tested: Option<u64>,
    /// How many failed.
    pub failed: Option<u64>,
    /// failed / tested.
    pub share: Option<f64>,
    /// One plain phrase.
    pub note: String,
}

/// One warning.
#[derive(Clone, Debug, Serialize)]
pub struct WarningLine {
    /// What it concerns.
    pub subject: String,
    /// One sentence.
    pub text: String,
    /// How many times.
    pub count: u64,
}

/// One source.
#[derive(Clone, Debug, Serialize)]
pub struct SourceLine {
    /// What it is a source of.
    pub subject: String,
    /// The source, as text.
    pub source: String,
}

/// One term and its meaning.
#[derive(Clone, Debug, Serialize)]
pub struct GlossaryLine {
    /// The term.
    pub term: String,
    /// Its meaning.
    pub meaning: String,
}
