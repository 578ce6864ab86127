//! Packed files, workbooks and Parquet that are cut off, damaged, or unpack to monsters.

use super::base::{Case, LAB, Spoilt, walk};
use std::io::Write;

fn gzip(text: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(text).unwrap();
    packer.finish().unwrap()
}

fn zst(text: &[u8]) -> Vec<u8> {
    zstd::encode_all(text, 3).unwrap()
}

/// Puts bytes in the place of the results file.
fn instead(s: &Spoilt, name: &str, bytes: impl AsRef<[u8]>) {
    s.plan("lab.csv", name);
    s.write(name, bytes);
}

fn changed(mut bytes: Vec<u8>, at: usize) -> Vec<u8> {
    bytes[at] ^= 0xff;
    bytes
}

/// A fixture of the intake tests, changed, in the place of the results file.
fn fixture(s: &Spoilt, name: &str, change: fn(Vec<u8>) -> Vec<u8>) {
    s.copy(&format!("intake/{name}"), "whole");
    s.plan("limit = \"RL\", ", "");
    let bytes = change(s.read("whole"));
    instead(s, name, bytes);
}

fn half(bytes: Vec<u8>) -> Vec<u8> {
    bytes[..bytes.len() / 2].to_vec()
}

const CASES: &[Case] = &[
    ("gzip cut off", |s| instead(s, "lab.csv.gz", &gzip(LAB.as_bytes())[..60])),
    ("gzip with a changed byte", |s| instead(s, "lab.csv.gz", changed(gzip(LAB.as_bytes()), 40))),
    ("gzip with a wrong check sum", |s| {
        let bytes = gzip(LAB.as_bytes());
        let at = bytes.len() - 6;
        instead(s, "lab.csv.gz", changed(bytes, at));
    }),
    ("gzip of nothing", |s| instead(s, "lab.csv.gz", gzip(b""))),
    ("gzip that unpacks to one endless line", |s| instead(s, "lab.csv.gz", gzip(&vec![b'x'; 100_000_000]))),
    ("Zstandard cut off", |s| {
        let bytes = zst(LAB.as_bytes());
        instead(s, "lab.csv.zst", &bytes[..bytes.len() - 9]);
    }),
    ("Zstandard with a changed byte", |s| instead(s, "lab.csv.zst", changed(zst(LAB.as_bytes()), 5))),
    ("text named as if packed", |s| {
        instead(s, "lab.csv.gz", LAB);
    }),
    ("workbook cut off", |s| fixture(s, "results.xlsx", half)),
    ("workbook with its list of parts changed", |s| {
        fixture(s, "results.xlsx", |b| {
            let at = b.len() - 30;
            changed(b, at)
        })
    }),
    ("workbook that says it unpacks to 4 GiB", |s| {
        fixture(s, "results.xlsx", |mut bytes| {
            let entry = bytes.windows(4).position(|mark| mark == b"PK\x01\x02").unwrap();
            bytes[entry + 24..entry + 28].copy_from_slice(&u32::MAX.to_le_bytes());
            bytes
        });
    }),
    ("workbook without the sheet", |s| {
        fixture(s, "results.xlsx", |bytes| bytes);
        s.plan("layout = \"long\"", "layout = \"long\"\nsheet = \"Result\"");
    }),
    ("old workbook cut off", |s| fixture(s, "results.xls", half)),
    ("open-document workbook cut off", |s| fixture(s, "results.ods", half)),
    ("Parquet cut off", |s| fixture(s, "results.parquet", half)),
    ("Parquet with its description changed", |s| {
        fixture(s, "results.parquet", |b| {
            let at = b.len() - 40;
            changed(b, at)
        })
    }),
    ("Parquet without a column", |s| {
        fixture(s, "results.parquet", |bytes| bytes);
        s.plan("value = \"Result\"", "value = \"Reslt\"");
    }),
];

#[test]
fn packed() {
    walk("packed", CASES);
}
