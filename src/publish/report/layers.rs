//! A further layer of areas on the page: a map for each of the tests that lead in the region, and a table of its areas.
//!
//! Everything here is already protected. The main layer has the long parts; of the others the page says only how the leading
//! shares lie on them, and where their tables are.

use serde::Serialize;

/// One further layer.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LayerSection {
    /// What the plan calls it; also its folder among tables and maps.
    pub called: String,
    /// How many areas it has.
    pub areas: usize,
    /// The leading tests, one column each.
    pub tests: Vec<LayerTest>,
    /// Its areas, in file order.
    pub rows: Vec<LayerRow>,
    /// Areas that were left to the tables.
    pub more: usize,
    /// Outlines that its maps are drawn from, as `maps::choropleth_in_page` made them.
    pub outlines: String,
}

/// One of the leading tests.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LayerTest {
    /// The analyte's id.
    pub analyte_id: String,
    /// The analyte's display name.
    pub analyte: String,
    /// What counts as exceeding, in words.
    pub benchmark: String,
    /// The set of limits, in words.
    pub set: String,
    /// The map; `None` where it is too large for the page.
    pub map_svg: Option<String>,
}

/// One area of a layer.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LayerRow {
    /// The area's name.
    pub area: String,
    /// Wells with a used result; `None` where hidden.
    pub sampled: Option<u64>,
    /// Private wells on record, where known.
    pub on_record: Option<u64>,
    /// One for each test, in their order.
    pub cells: Vec<LayerCell>,
}

/// What is told of one area and test.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LayerCell {
    /// The estimated share; `None` where hidden or without a well.
    pub share: Option<f64>,
    /// Counts, or why there is no share.
    pub words: String,
}
