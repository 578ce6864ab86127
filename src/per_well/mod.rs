//! The stream of located rows becomes one value a well and analyte, and every row gets its fate.
//!
//! Comes in: located blocks, in file order. Goes out: `Survey`: the ledger of all rows with their fates, and the
//! values that stand. Nothing can go wrong with a row here but that another stands for its well (`repeat`) or that
//! the very same line came before (`repeated-line`).

mod accounting;
mod ledger;
mod lines;
mod order;
mod pairs;
mod reduce;
mod spill;

pub use accounting::{Accounting, StageCount};
pub use ledger::{Keep, Ledger, Numbered, fate};
pub use order::{Candidate, better, middle};
pub use reduce::{InBoth, Reducer, Survey, WellValue, reduce};
