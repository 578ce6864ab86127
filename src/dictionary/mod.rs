//! What the program knows before it reads anything: analytes, the ways laboratories spell them, units
//! and their conversions, limits, the meaning of every output column and of every reason.
//!
//! In come the files of `data-dictionary/`, embedded at build time; out goes one [`Dictionary`], read
//! once and only looked up afterwards. A fault in a file is a [`DictionaryFault`] naming file, line and
//! column. No stage of the job may state such a fact itself.

mod analytes;
mod bases;
mod benchmarks;
mod built_in;
mod cas;
mod columns;
mod conversion;
mod fault;
mod fold;
mod fractions;
mod in_force;
mod links;
mod name_parts;
mod names;
mod reach;
mod reasons;
mod sum_rules;
mod table;
mod tables;
mod terms;
mod terms_entries;
mod unit_text;
mod units;

pub use analytes::{Analyte, Analytes, Filtered, KitRating};
pub use bases::{Bases, Basis};
pub use benchmarks::{Benchmark, BenchmarkKind, Effect};
pub use built_in::Dictionary;
pub use columns::{Column, Columns};
pub use conversion::Conversion;
pub use fault::DictionaryFault;
pub use fractions::SampleFraction;
pub use in_force::{BenchmarkSet, Benchmarks};
pub use links::{Advise, LandUseLink, Links, is_same_land_use};
pub use names::{Fraction, NameOutcome, NameReading};
pub use reach::UnitFault;
pub use reasons::{ReasonText, Reasons};
pub use sum_rules::{Part, SumRule};
pub use tables::{TableText, Tables};
pub use terms::{Topic, lookup};
pub use units::{Unit, UnitReading, Units};
