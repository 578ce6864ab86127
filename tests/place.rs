//! Places, seen from outside: map files of every format.

#[path = "place/formats.rs"]
mod formats;
