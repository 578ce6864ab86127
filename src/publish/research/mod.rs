//! Research files: the tables as Parquet, a data package that describes them, a codebook and a notebook.
//!
//! Two editions. `internal/research/` holds what the tables are made from: one value a well, places. `research/` holds
//! protected tables only. It has no row about a single well: beside the published means and quantiles of the areas,
//! exact values could be matched and subtracted until those of hidden groups are left over, so there is no safe half-way.

mod codebook;
mod edition;
mod fields;
mod frame;
mod notebook;
mod package;

pub use edition::Edition;
pub(super) use frame::metadata;

use super::{Protected, Results, Stage, internal};
use crate::place::shape::Point;
use crate::problem::Problem;
use crate::table::Table;
use fields::Resource;
use rayon::prelude::*;

/// Writes both editions. `internal/well-values.parquet` and `public/areas.geojson` must have been written; `places` are the
/// wells' longitudes and latitudes.
///
/// # Errors
/// A folder that cannot be written.
pub(super) fn write(
    stage: &Stage,
    results: &Results<'_>,
    tables: &[(Table, Protected<Table>)],
    places: &[Option<Point>],
) -> Result<(), Problem> {
    let whole: Vec<&Table> = tables.iter().map(|(whole, _)| whole).collect();
    let public: Vec<&Table> = tables.iter().map(|(_, public)| public.get()).collect();
    let (internal, public) = rayon::join(
        || edition(stage, results, Edition::Internal, &whole, places),
        || edition(stage, results, Edition::Public, &public, &[]),
    );
    internal.and(public)
}

/// Writes the public edition alone, for tests of what is hidden.
///
/// # Errors
/// As `write`.
pub(super) fn write_public(
    stage: &Stage,
    results: &Results<'_>,
    tables: &[(Table, Protected<Table>)],
) -> Result<(), Problem> {
    let public: Vec<&Table> = tables.iter().map(|(_, public)| public.get()).collect();
    edition(stage, results, Edition::Public, &public, &[])
}

/// `places` are the wells' longitudes and latitudes, which the internal edition tells.
fn edition(
    stage: &Stage,
    results: &Results<'_>,
    edition: Edition,
    tables: &[&Table],
    places: &[Option<Point>],
) -> Result<(), Problem> {
    let whole = edition == Edition::Internal;
    let wells = || whole.then(|| frame::write_listing(stage, results, edition, &internal::wells(results, places)));
    let tables = || tables.par_iter().map(|table| frame::write(stage, results, edition, table)).collect();
    let (wells, tables): (_, Result<Vec<Resource>, Problem>) = rayon::join(wells, tables);
    let mut resources = tables?;
    if let Some(wells) = wells {
        resources.push(wells?);
        stage.link("internal/well-values.parquet", &edition.path("well-values.parquet"))?;
        resources.push(Resource::of_dictionary(results, "well-values"));
    }
    stage.link("public/areas.geojson", &edition.path("areas.geojson"))?;
    let codebook = codebook::text(results, edition, &resources);
    stage.write(&edition.path("codebook.md"), codebook.as_bytes(), None)?;
    let notebook = notebook::text(&results.job.plan.survey.title, edition);
    stage.write(&edition.path("analysis.ipynb"), notebook.as_bytes(), None)?;
    let package = package::text(stage, results, edition, &resources);
    stage.write(&edition.path("datapackage.json"), package.as_bytes(), None)
}
