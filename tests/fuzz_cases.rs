//! The fuzzer's interesting cases, kept small, on stable Rust: whatever the bytes are, nothing panics.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

#[path = "fuzz/src/lib.rs"]
#[allow(dead_code, reason = "the fuzzer uses the rest")]
mod fuzz;
