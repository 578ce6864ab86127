//! A disk that fails at every call in turn, gives and takes one byte at a time, and is interrupted: whatever it does, the earlier output
//! is whole, nothing half made stands under its name, and a read that failed is an error, never a file that is taken for shorter. And a
//! clock that is wrong.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "faults/clock.rs"]
mod clock;
#[path = "faults/disk.rs"]
mod disk;
#[path = "faults/reads.rs"]
mod reads;
#[path = "faults/shortened.rs"]
mod shortened;
#[path = "faults/survey.rs"]
mod survey;
#[path = "faults/writes.rs"]
mod writes;
