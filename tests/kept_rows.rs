//! Rows that do not fit into memory come back as they were: a survey read with every row put away on disk says the
//! same as one read in memory.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::path::Path;
use wellreeve::per_well::{Keep, Survey};
use wellreeve::progress::Progress;

fn read(in_memory: u64) -> (tempfile::TempDir, Survey) {
    let folder = tempfile::tempdir().unwrap();
    let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plan.toml");
    let job = wellreeve::survey::prepare(&plan).unwrap();
    let wells = wellreeve::place::wells(&job.plan, &job.inputs).unwrap();
    let keep = Keep::Rows { in_memory, folder: folder.path().to_path_buf() };
    let survey = wellreeve::survey::read(&job, &wells, keep, &Progress::new(wellreeve::progress::Mode::Quiet)).unwrap();
    (folder, survey)
}

/// Every row as text, with what it was written with; digests have no meaning after reading.
fn rows(survey: &Survey) -> Vec<String> {
    let blocks = survey.ledger.map(|start, block| {
        let told = block.rows.iter().zip(start..).map(|(row, number)| {
            let texts = [row.well_text, row.sample, row.written].map(|span| block.text(span).to_owned());
            let row = wellreeve::normalise::Row { digest: 0, ..*row };
            format!("{number} {} {row:?} {texts:?} {:?}", block.file.path.display(), block.spellings)
        });
        told.collect::<Vec<String>>()
    });
    blocks.unwrap().concat()
}

#[test]
fn rows_on_disk_are_the_rows_in_memory() {
    let (_, memory) = read(u64::MAX);
    let expected = rows(&memory);
    assert_eq!(expected.len() as u64, memory.accounting.read());
    for in_memory in [0, memory.accounting.read() / 2] {
        let (folder, disk) = read(in_memory);
        assert_eq!(rows(&disk), expected);
        assert_eq!((&disk.values, &disk.accounting), (&memory.values, &memory.accounting));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "the file has no name");
    }
}

#[test]
fn groups_come_in_order_whatever_their_size() {
    let (_folder, survey) = read(0);
    for group in [1, 5_000, u64::MAX] {
        let mut next = 0;
        let count = |blocks: &[wellreeve::per_well::Numbered<'_>]| {
            blocks.iter().map(|(start, block)| (*start, block.rows.len() as u64)).collect::<Vec<_>>()
        };
        let handed = survey.ledger.in_order(group, count, |found| {
            for (start, rows) in found {
                assert_eq!(start, next);
                next += rows;
            }
            Ok(())
        });
        assert!(handed.is_ok());
        assert_eq!(next, survey.accounting.read());
    }
}

#[test]
fn the_reasons_counted_are_the_reasons_of_the_rows() {
    let (_folder, survey) = read(1_000);
    for reason in wellreeve::fate::Reason::ALL {
        let of_block = |_: u64, block: &wellreeve::normalise::Block| {
            block.rows.iter().filter(|row| row.reason == Some(reason)).count() as u64
        };
        let counted: u64 = survey.ledger.map(of_block).unwrap().into_iter().sum();
        assert_eq!(counted, survey.accounting.set_aside(reason), "{reason:?}");
    }
}
