//! The plan: a TOML file as written becomes a checked `Plan`, or every problem in it.
//!
//! Comes in: the plan's path. Goes out: `Plan`, in which files are found, words are enums and numbers are in
//! range. Can go wrong: unknown keys, missing files, wrong types, contradictions; all are told together.
//! No later stage reads plan text again.

mod checked;
mod checked_results;
mod codes;
mod files;
mod near;
mod notes;
mod numbers;
mod paths;
mod patterns;
mod read;
mod resolve;
mod sections;
mod source;
mod standard;
mod written;

pub use checked::*;
pub use resolve::{Loaded, load};
pub use sections::SMALLEST_GROUP;
pub(crate) use standard::{MAPS, elements, names as standard_names, units as standard_units};
