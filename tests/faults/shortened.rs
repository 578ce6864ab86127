//! A Parquet file that somebody shortens while a run reads it: an error, and nothing is written. A file that is mapped into memory
//! would end the program there without a word.

use super::survey::Survey;
use std::io::{Read, Result, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use wellreeve::disk::{Disk, Input, machine};
use wellreeve::per_well::Keep;
use wellreeve::progress::{Mode, Progress};
use wellreeve::survey as first_half;

/// The machine's disk, on which somebody cuts every Parquet file to a third before the read of that number.
#[derive(Debug)]
struct Shortening {
    disk: Arc<dyn Disk>,
    reads: Arc<AtomicU64>,
    at: u64,
}

struct File {
    inner: Box<dyn Input>,
    path: std::path::PathBuf,
    reads: Arc<AtomicU64>,
    at: u64,
}

impl Read for File {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        if self.reads.fetch_add(1, Ordering::SeqCst) + 1 == self.at {
            let length = std::fs::metadata(&self.path)?.len();
            std::fs::File::options().write(true).open(&self.path)?.set_len(length / 3)?;
        }
        self.inner.read(buffer)
    }
}

impl Seek for File {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.inner.seek(to)
    }
}

impl Disk for Shortening {
    fn open(&self, path: &Path) -> Result<Box<dyn Input>> {
        let inner = self.disk.open(path)?;
        if path.extension().is_none_or(|end| end != "parquet") {
            return Ok(inner);
        }
        Ok(Box::new(File { inner, path: path.to_path_buf(), reads: Arc::clone(&self.reads), at: self.at }))
    }

    fn create(&self, path: &Path) -> Result<Box<dyn Write + Send>> {
        self.disk.create(path)
    }

    fn create_folders(&self, path: &Path) -> Result<()> {
        self.disk.create_folders(path)
    }

    fn link(&self, from: &Path, to: &Path) -> Result<()> {
        self.disk.link(from, to)
    }

    fn copy(&self, from: &Path, to: &Path) -> Result<()> {
        self.disk.copy(from, to)
    }

    fn exchange(&self, one: &Path, other: &Path) -> Result<()> {
        self.disk.exchange(one, other)
    }

    fn rename(&self, from: &Path, to: &Path) -> Result<()> {
        self.disk.rename(from, to)
    }

    fn now(&self) -> chrono::DateTime<chrono::Utc> {
        self.disk.now()
    }

    fn remove_folder(&self, path: &Path) -> Result<()> {
        self.disk.remove_folder(path)
    }
}

fn disk(at: u64) -> (Arc<dyn Disk>, Arc<AtomicU64>) {
    let reads = Arc::new(AtomicU64::new(0));
    (Arc::new(Shortening { disk: machine(), reads: Arc::clone(&reads), at }), reads)
}

/// Reads of the Parquet file, and what the first half of a run says whose file is shortened before the read of a number.
fn read(at: u64) -> (u64, Option<String>) {
    let survey = Survey::new();
    let (disk, reads) = disk(at);
    let came = first_half::prepare_on(&disk, &survey.path("plan.toml")).and_then(|job| {
        let wells = wellreeve::place::wells(&job.plan, &job.inputs)?;
        first_half::read(&job, &wells, Keep::Nothing, &Progress::new(Mode::Quiet)).map(drop)
    });
    (reads.load(Ordering::SeqCst), came.err().map(|problems| problems.to_string()))
}

#[test]
fn a_parquet_file_that_is_shortened_is_an_error_and_nothing_is_written() {
    let (reads, told) = read(0);
    assert_eq!(told, None);
    assert!(reads > 10, "{reads} reads");
    let mut shortened = Vec::new();
    for at in 1..=reads {
        match read(at).1 {
            Some(told) if told.contains("[file-changed]") => shortened.push(at),
            Some(told) => assert!(told.contains("[parquet-damaged]") || told.contains("[not-a-table]"), "{at}: {told}"),
            None => panic!("read {at} of {reads}: nobody saw it"),
        }
    }
    let last = shortened.pop().unwrap();
    let (survey, (disk, _)) = (Survey::new(), disk(last));
    let came = wellreeve::run_on(&disk, &survey.path("plan.toml"), &survey.path("out"), &Progress::new(Mode::Quiet));
    assert!(came.is_err_and(|problems| problems.to_string().contains("it was shortened while the program ran")));
    assert!(!survey.path("out").exists() && !survey.begun());
}
