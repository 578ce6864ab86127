//! Statistics: slices of numbers in, numbers out.
//!
//! Nothing here knows of wells, columns, tables or the dictionary. A figure that the data cannot
//! give is `None` or an error that says why; no function panics, and none returns a NaN. The
//! conventions (which mean, which quantile, which plotting position) are set out beside the known
//! answers in `tests/reference/statistics/SOURCE.md`.

#![allow(
    clippy::indexing_slicing,
    reason = "matrices and samples made here: every index comes from a loop over the very length"
)]

pub mod adjust;
pub mod bootstrap;
pub mod censored;
pub mod chemistry;
pub mod choose;
pub mod clustering;
pub mod cochran_armitage;
pub mod effective;
pub mod equal_area;
pub mod equal_cells;
pub mod exceedance;
pub mod fisher;
pub mod gamma;
pub mod goodness;
pub mod groups;
pub mod integrated;
pub mod kaplan_meier;
pub mod logistic;
pub mod mle;
pub mod normal_terms;
pub mod paired;
pub mod proportions;
pub mod quantile_interval;
pub mod quantiles;
pub mod random;
pub mod rate_censored;
pub mod resample;
pub mod ros;
pub mod ros_mean;
pub mod small_area;
pub mod solve;
pub mod special;
pub mod summary;
pub mod trend;
pub mod two_by_two;
pub mod vertex;
