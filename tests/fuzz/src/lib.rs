//! What a fuzz target does with its bytes, shared by the fuzzer and by `tests/fuzz_cases.rs`, which runs the kept cases on stable Rust.
//!
//! Whatever the bytes are, the program may refuse them but not panic, hang or take memory out of proportion. Where something that
//! holds for every answer is known, it is asserted. The places and the plan are those of an invented survey.

pub mod archive;
pub mod maps;
pub mod plans;
pub mod rasters;
pub mod tables;
pub mod texts;
pub mod workbooks;

use std::path::PathBuf;

/// A target: its name, which is that of its folder of cases, and what it does.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 13] = [
    ("value", texts::value),
    ("unit", texts::unit),
    ("date", texts::date),
    ("csv", tables::csv),
    ("workbook", workbooks::workbook),
    ("parquet", tables::parquet),
    ("plan", plans::plan),
    ("geojson", maps::geojson),
    ("shapefile", maps::shapefile),
    ("geopackage", maps::geopackage),
    ("wkb", maps::wkb),
    ("geotiff", rasters::geotiff),
    ("draft", tables::draft),
];

/// Runs one target by its name, once the fuzzer's process is ready for it.
///
/// The readers of workbooks and of Parquet are not ours and may panic, which the program catches; so a panic as such is no
/// finding, one that comes through is.
pub fn fuzz(name: &str, data: &[u8]) {
    static READY: std::sync::Once = std::sync::Once::new();
    READY.call_once(|| std::panic::set_hook(Box::new(|told| remember(told.to_string()))));
    let Some((_, target)) = TARGETS.iter().find(|(known, _)| *known == name) else { return };
    if std::panic::catch_unwind(|| target(data)).is_err() {
        say(&LAST.lock().map(|last| last.clone()).unwrap_or_default());
        std::process::abort();
    }
}

static LAST: std::sync::Mutex<String> = std::sync::Mutex::new(String::new());

fn remember(told: String) {
    if let Ok(mut last) = LAST.lock() {
        *last = told;
    }
}

#[allow(clippy::print_stderr, reason = "the fuzzer's report stands there")]
fn say(told: &str) {
    eprintln!("{told}");
}

/// A file of this process and thread with these bytes; the folder is in `TMPDIR`.
pub fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder().join(name);
    std::fs::write(&path, bytes).expect("the temporary folder can be written to");
    path
}

/// The folder of such files.
pub fn folder() -> PathBuf {
    thread_local! {
        static FOLDER: PathBuf = {
            static NEXT: std::sync::atomic::AtomicU32 = std::sync::atomic::AtomicU32::new(0);
            let number = NEXT.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            let folder = std::env::temp_dir().join(format!("wellreeve-fuzz-{}-{number}", std::process::id()));
            std::fs::create_dir_all(&folder).expect("the temporary folder can be written to");
            folder
        };
    }
    FOLDER.with(Clone::clone)
}

/// Choices taken from the first bytes.
pub struct Choices<'a> {
    bytes: &'a [u8],
}

impl<'a> Choices<'a> {
    /// The first `count` bytes are for choices, the rest is the file.
    pub fn new(data: &'a [u8], count: usize) -> (Choices<'a>, &'a [u8]) {
        let (bytes, rest) = data.split_at(count.min(data.len()));
        (Choices { bytes }, rest)
    }

    /// The next byte; 0 after the last.
    pub fn byte(&mut self) -> usize {
        let Some((first, rest)) = self.bytes.split_first() else { return 0 };
        self.bytes = rest;
        usize::from(*first)
    }

    /// One of a list.
    pub fn one<T: Clone>(&mut self, list: &[T]) -> Option<T> {
        let at = self.byte();
        list.get(at % list.len().max(1)).cloned()
    }
}
