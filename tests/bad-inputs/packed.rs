//! Packed files, workbooks and Parquet that are cut off, damaged, or unpack to monsters.

use super::base::{Case, LAB, Spoilt, walk};
use super::hostile_parquet::{Struct, about, different, file, group, page, plain, row_group, text_column};
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

/// The columns of the plan.
const NAMES: [&str; 6] = ["Site", "Parameter", "Result", "Units", "RL", "Collected"];

fn schema() -> Vec<Struct> {
    let columns = NAMES.iter().map(|name| text_column(name));
    std::iter::once(group("schema", NAMES.len() as i32)).chain(columns).collect()
}

/// Columns that all have the same pages, in one row group of so many rows.
fn parquet(pages: &[u8], rows: i64) -> Vec<u8> {
    let end = 4 + pages.len() as i64;
    file(pages, about(&schema(), rows).list(4, &[row_group(&NAMES, rows, 4..end)]))
}

/// A Parquet file in the place of the results, made of a page that is sound.
fn hostile(s: &Spoilt, make: fn(&[u8]) -> Vec<u8>) {
    let text = plain(&["A1"]);
    instead(s, "lab.parquet", make(&page(1, text.len() as i32, &text)));
}

/// A workbook whose sheet unpacks to so many GiB, and says that it is small.
fn bomb(gigabytes: usize) -> Vec<u8> {
    let mut packer = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::best());
    let chunk = vec![b' '; 1 << 20];
    (0..gigabytes << 10).for_each(|_| packer.write_all(&chunk).unwrap());
    let packed = packer.finish().unwrap();
    let entries = [("xl/workbook.xml", b"<workbook/>".to_vec()), ("xl/worksheets/sheet1.xml", packed)];
    let mut archive = super::archive::archive(&entries);
    // Both places that tell of an entry say that it is packed, and small once it is unpacked.
    for (mark, facts) in [(b"PK\x03\x04", 4), (b"PK\x01\x02", 6)] {
        let at = archive.windows(4).rposition(|window| window == mark).unwrap() + facts;
        archive[at + 4] = 8;
        archive[at + 18..at + 22].copy_from_slice(&10_u32.to_le_bytes());
    }
    archive
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
    ("old workbook whose sectors follow each other in a circle", |s| {
        fixture(s, "results.xls", |mut bytes| {
            let number = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
            let (table, directory) = (number(76), number(48));
            let place = (table as usize + 1) * 512 + directory as usize * 4;
            bytes[place..place + 4].copy_from_slice(&directory.to_le_bytes());
            bytes
        });
    }),
    ("old workbook that says its sheet has four thousand million rows", |s| {
        fixture(s, "results.xls", |mut bytes| {
            let at = bytes.windows(4).position(|record| record == [0x00, 0x02, 14, 0]).unwrap() + 8;
            bytes[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
            bytes
        });
    }),
    ("open-document workbook with cells that are repeated far to the right", |s| {
        let row = "<table:table-row><table:table-cell table:number-columns-repeated=\"16383\"/>\
             <table:table-cell office:value-type=\"string\"><text:p>a</text:p></table:table-cell></table:table-row>";
        let content =
            format!("<office:body><table:table table:name=\"a\">{}</table:table></office:body>", row.repeat(20_000));
        instead(s, "results.ods", super::archive::archive(&[("content.xml", content.into_bytes())]));
    }),
    ("a workbook of one megabyte that unpacks to 1 GiB", |s| {
        s.plan("limit = \"RL\", ", "");
        instead(s, "results.xlsx", bomb(1));
    }),
    ("open-document workbook cut off", |s| fixture(s, "results.ods", half)),
    ("a workbook with a password", |s| {
        let name: Vec<u8> = "EncryptedPackage".encode_utf16().flat_map(u16::to_le_bytes).collect();
        instead(
            s,
            "results.xlsx",
            [b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1".as_slice(), &[0; 504], &name, &[0; 512]].concat(),
        );
    }),
    ("gzip within gzip", |s| {
        let text = s.read("lab.csv");
        instead(s, "lab.csv.gz", gzip(&gzip(&text)));
    }),
    ("gzip of a tar archive", |s| {
        let text = s.read("lab.csv");
        let head = [b"lab.csv".as_slice(), &[0; 250], b"ustar\0", &[0; 249]].concat();
        instead(s, "lab.tar.gz", gzip(&[head, text].concat()));
    }),
    ("bzip2", |s| instead(s, "lab.csv.bz2", b"BZh91AY&SY\x12\x34")),
    ("xz", |s| instead(s, "lab.csv.xz", b"\xfd7zXZ\0\0\x04")),
    ("a database", |s| instead(s, "lab.mdb", b"\0\x01\0\0Standard Jet DB\0")),
    ("two gzip streams in one file, which are read", |s| {
        let text = s.read("lab.csv");
        let more = gzip(b"A1,Arsenic,11,ug/L,1,2021-06-01\n");
        instead(s, "lab.csv.gz", [gzip(&text), more].concat());
    }),
    ("gzip with something behind it", |s| {
        let text = s.read("lab.csv");
        instead(s, "lab.csv.gz", [gzip(&text), b"and so on".to_vec()].concat());
    }),
    ("Parquet cut off", |s| fixture(s, "results.parquet", half)),
    ("Parquet with its description changed", |s| {
        fixture(s, "results.parquet", |b| {
            let at = b.len() - 40;
            changed(b, at)
        })
    }),
    ("Parquet of texts that is sound", |s| hostile(s, |pages| parquet(pages, 1))),
    ("Parquet that says it has two thousand million columns", |s| {
        hostile(s, |_| file(&[], Struct::default().small(1, 1).list_of(2, 0x7fff_ffff, &[group("x", 1)])))
    }),
    ("Parquet that says it has two thousand million row groups", |s| {
        hostile(s, |_| file(&[], about(&schema(), 1).list_of(4, 0x7fff_ffff, &[row_group(&NAMES, 1, 4..4)])))
    }),
    ("Parquet of more rows than there are grains of sand", |s| hostile(s, |pages| parquet(pages, i64::MAX))),
    ("Parquet of fewer rows than none", |s| hostile(s, |pages| parquet(pages, -1))),
    ("Parquet with columns in columns, a hundred thousand deep", |s| {
        hostile(s, |_| {
            let mut deep = vec![group("x", 1); 100_000];
            deep.push(text_column("Site"));
            file(&[], about(&deep, 0).list(4, &[]))
        });
    }),
    ("Parquet with structures in structures, a thousand deep", |s| {
        hostile(s, |_| {
            let deep = (0..1000).fold(Struct::default(), |inner, _| Struct::default().inner(1, inner));
            file(&[], about(&schema(), 0).list(4, &[]).inner(9, deep))
        });
    }),
    ("Parquet whose page says it holds two thousand million different values", |s| {
        hostile(s, |pages| parquet(&[different(i32::MAX, 8, &[0; 8]), pages.to_vec()].concat(), 1))
    }),
    ("Parquet whose page says it unpacks to 2 GiB", |s| {
        hostile(s, |_| parquet(&page(1, i32::MAX, &plain(&["A1"])), 1))
    }),
    ("Parquet whose page says it holds more values than its column", |s| {
        hostile(s, |_| parquet(&page(i32::MAX, 6, &plain(&["A1"])), 1))
    }),
    ("Parquet whose page is longer than its column", |s| hostile(s, |pages| parquet(&pages[..pages.len() - 1], 1))),
    ("Parquet whose column lies behind the end", |s| {
        hostile(s, |pages| {
            let end = 4 + pages.len() as i64;
            file(pages, about(&schema(), 1).list(4, &[row_group(&NAMES, 1, 4..end + 1_000_000)]))
        });
    }),
    ("Parquet whose column lies before the start", |s| {
        hostile(s, |pages| file(pages, about(&schema(), 1).list(4, &[row_group(&NAMES, 1, -9..4)])))
    }),
    ("Parquet whose description is longer than the file", |s| {
        hostile(s, |pages| {
            let mut bytes = parquet(pages, 1);
            let at = bytes.len() - 8;
            bytes[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
            bytes
        });
    }),
    ("Parquet of texts that all have a million bytes", |s| {
        hostile(s, |pages| {
            let mut schema = schema();
            schema[1] = Struct::default().small(1, 7).small(2, 1_000_000).small(3, 0).text(4, "Site");
            let end = 4 + pages.len() as i64;
            file(pages, about(&schema, 1).list(4, &[row_group(&NAMES, 1, 4..end)]))
        });
    }),
    ("Parquet with a column name that stands twice", |s| {
        hostile(s, |pages| {
            let mut schema = schema();
            schema[2] = text_column("Site");
            let end = 4 + pages.len() as i64;
            file(pages, about(&schema, 1).list(4, &[row_group(&NAMES, 1, 4..end)]))
        });
    }),
    ("a workbook of entries that unpack to more than they say", |s| {
        s.plan("limit = \"RL\", ", "");
        instead(s, "results.xlsx", bomb(3));
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
