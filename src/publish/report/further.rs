//! What the page tells beyond rates: panels, ranks, changes, coverage, neighbours. Plain figures and words, already protected.
//!
//! Kept by the ids of areas and analytes, so that a part that is hidden or was not asked for is simply not there.

use serde::Serialize;
use std::collections::BTreeMap;

use super::input::{AnyHealth, Spread};

/// All of it.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Further {
    /// By area id.
    pub areas: BTreeMap<String, AreaFurther>,
    /// By analyte id.
    pub tests: BTreeMap<String, TestFurther>,
    /// Places in the order of where to go first, by area id.
    pub ranks: BTreeMap<String, Ranks>,
    /// Which tests to buy, for the whole region.
    pub panel: Vec<PanelLine>,
    /// What a household's tests may cost together.
    pub budget: Option<f64>,
    /// The two periods that are compared, in words.
    pub periods: Option<[String; 2]>,
}

/// Of one area.
#[derive(Clone, Debug, Default, Serialize)]
pub struct AreaFurther {
    /// Wells above any health limit.
    pub any_health: Option<AnyHealth>,
    /// Kilometres from the loneliest place to the nearest sampled well.
    pub gap_km: Option<f64>,
    /// Which tests to buy, best for the money first.
    pub panel: Vec<PanelLine>,
    /// Changes over the years that are clear or perhaps there, a sentence each.
    pub trends: Vec<String>,
    /// Changes between the periods, a sentence each.
    pub changes: Vec<String>,
    /// Tests of which the area lies amid unusually high shares.
    pub amid_high: Vec<String>,
    /// As `amid_high`, of low shares.
    pub amid_low: Vec<String>,
}

/// Of one analyte.
#[derive(Clone, Debug, Default, Serialize)]
pub struct TestFurther {
    /// Change over the years in the whole region, in words.
    pub trend: String,
    /// The same by area id, in a word or two.
    pub trend_words: BTreeMap<String, String>,
    /// The two periods.
    pub periods: Vec<PeriodLine>,
    /// What is told of several radii, by land use (the name that all its radii share), a sentence each.
    pub radii: Vec<RadiiLine>,
    /// The check that lets neighbours be alike, one for each of the test's land-use lines, in their order.
    pub neighbours: Vec<NeighbourCheck>,
}

/// What becomes of a land use's finding when neighbours are allowed to be alike.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct NeighbourCheck {
    /// Adjusted p for shares above the limit.
    pub shares: Option<f64>,
    /// p for concentrations.
    pub amounts: Option<f64>,
}

/// A place in the order of where to go first.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Ranks {
    /// Best and last place that the figures allow.
    pub range: Option<(u64, u64)>,
    /// Households expected above a health limit, and the place by it.
    pub households: Option<(f64, u64)>,
    /// Infants expected to have nitrate or nitrite above its limit, and the place by it.
    pub infants: Option<(f64, u64)>,
}

/// One step of a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PanelLine {
    /// What is bought.
    pub bought: String,
    /// What it tests for beyond earlier steps; empty where that is its name.
    pub adds: Vec<String>,
    /// Its price.
    pub price: f64,
    /// All prices so far.
    pub spent: f64,
    /// Results above a health limit found in 100 wells by all steps so far.
    pub found_so_far: f64,
    /// Whether it is within the budget; `None` without one.
    pub in_budget: Option<WithinBudget>,
}

/// Whether a step is within the budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum WithinBudget {
    /// It is.
    Yes,
    /// It is not.
    No,
}

/// One area (or the region) in two periods.
#[derive(Clone, Debug, Serialize)]
pub struct PeriodLine {
    /// The area's id, or `region`.
    pub area_id: String,
    /// Its name.
    pub area: String,
    /// The benchmark set's id.
    pub set: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<PeriodFigures>,
}

/// The figures of two periods.
#[derive(Clone, Debug, Serialize)]
pub struct PeriodFigures {
    /// Wells above the limit, in the earlier and in the later period.
    pub exceeding: [u64; 2],
    /// Wells with a value.
    pub wells: [u64; 2],
    /// Wells above the limit out of those that could be judged.
    pub rate: [Option<f64>; 2],
    /// Later share less the earlier one.
    pub difference: Option<Spread>,
    /// In plain words.
    pub words: String,
}

/// What is told of several radii.
#[derive(Clone, Debug, Serialize)]
pub struct RadiiLine {
    /// The land use.
    pub land_use: String,
    /// The benchmark set's id.
    pub set: String,
    /// Radii compared, metres, with blanks between.
    pub radii: String,
    /// One plain phrase.
    pub words: String,
}
