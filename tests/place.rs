//! Places, seen from outside: map files of every format, rasters, made areas.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "place/formats.rs"]
mod formats;
#[path = "place/ground.rs"]
mod ground;
#[path = "place/raster.rs"]
mod raster;
#[path = "place/survey.rs"]
mod survey;
