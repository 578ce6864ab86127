//! Results files of text that cannot be used, or of which nothing counts.

use super::base::{Case, LAB, Spoilt, walk};

const HEAD: &str = "Site,Parameter,Result,Units,RL,Collected\n";

fn rows(s: &Spoilt, rows: &str) {
    s.write("lab.csv", format!("{HEAD}{rows}"));
}

const CASES: &[Case] = &[
    ("missing", |s| s.remove("lab.csv")),
    ("a folder", |s| {
        s.remove("lab.csv");
        std::fs::create_dir(s.path("lab.csv")).unwrap();
    }),
    ("a link to itself", |s| {
        s.remove("lab.csv");
        std::os::unix::fs::symlink("lab.csv", s.path("lab.csv")).unwrap();
    }),
    ("a link to nothing", |s| {
        s.remove("lab.csv");
        std::os::unix::fs::symlink("gone.csv", s.path("lab.csv")).unwrap();
    }),
    ("a pipe (FIFO)", |s| {
        s.remove("lab.csv");
        assert!(std::process::Command::new("mkfifo").arg(s.path("lab.csv")).status().unwrap().success());
    }),
    ("a pattern that meets a pipe", |s| {
        s.plan("lab.csv", "lab*.csv");
        assert!(std::process::Command::new("mkfifo").arg(s.path("lab-2.csv")).status().unwrap().success());
    }),
    ("a pattern that meets a folder, which is passed over", |s| {
        s.plan("lab.csv", "lab*.csv");
        std::fs::create_dir(s.path("lab-2.csv")).unwrap();
    }),
    ("a pattern that meets a link to nothing", |s| {
        s.plan("lab.csv", "lab*.csv");
        std::os::unix::fs::symlink("gone.csv", s.path("lab-2.csv")).unwrap();
    }),
    ("a pattern that meets a link to itself", |s| {
        s.plan("lab.csv", "lab*.csv");
        std::os::unix::fs::symlink("lab-2.csv", s.path("lab-2.csv")).unwrap();
    }),
    ("a pattern that meets a link to the same file, which is read once", |s| {
        s.plan("lab.csv", "lab*.csv");
        std::os::unix::fs::symlink("lab.csv", s.path("lab-2.csv")).unwrap();
    }),
    ("a pattern through folders that link to themselves", |s| {
        s.plan("lab.csv", "**/lab.csv");
        std::fs::create_dir(s.path("north")).unwrap();
        std::os::unix::fs::symlink("..", s.path("north/up")).unwrap();
        std::os::unix::fs::symlink(".", s.path("north/here")).unwrap();
    }),
    ("more files than can be told apart", |s| {
        s.plan("lab.csv", "labs/*.csv");
        (0..65_540).for_each(|n| s.write(&format!("labs/{n:05}.csv"), ""));
    }),
    ("a file where a folder is meant", |s| s.plan("lab.csv", "lab.csv/north.csv")),
    ("empty", |s| s.write("lab.csv", "")),
    ("only blank lines", |s| s.write("lab.csv", "\n\n \n")),
    ("a header and nothing else", |s| s.write("lab.csv", HEAD)),
    ("a header and lines of empty cells", |s| rows(s, ",,,,,\n,,,,,\n")),
    ("another delimiter than the plan says", |s| s.plan("layout = \"long\"", "layout = \"long\"\ndelimiter = \";\"")),
    ("another encoding than the plan says", |s| {
        s.plan("layout = \"long\"", "layout = \"long\"\nencoding = \"utf-16le\"")
    }),
    ("an encoding nobody knows", |s| s.plan("layout = \"long\"", "layout = \"long\"\nencoding = \"latin-nine\"")),
    ("UTF-16 without a mark", |s| {
        s.write("lab.csv", LAB.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>())
    }),
    ("Windows-1252 among UTF-8", |s| {
        s.write("lab.csv", [HEAD.as_bytes(), b"A1,Arsenic,12,\xb5g/L,1,2020-01-05\n"].concat())
    }),
    ("NUL bytes", |s| rows(s, "A1,Arsenic,1\0,ug/L,1,2020-01-05\n")),
    ("a PDF", |s| s.write("lab.csv", "%PDF-1.7\n%%EOF\n")),
    ("a web page", |s| s.write("lab.csv", "<!DOCTYPE html><html><body>No such report</body></html>")),
    ("a column of the plan is doubled", |s| {
        s.edit("lab.csv", "Site,Parameter,Result,Units,RL", "Site,Parameter,Result,Result,RL")
    }),
    ("a column of the plan stands twice", |s| {
        s.write("lab.csv", "Site,Parameter,Result,Result,Units,RL,Collected\nA1,Arsenic,12,13,ug/L,1,2020-01-05\n");
    }),
    ("a column of the plan is missing", |s| s.edit("lab.csv", "Result", "Resutl")),
    ("a header line beyond the end", |s| s.plan("layout = \"long\"", "layout = \"long\"\nheader_line = 9")),
    ("a hundred thousand columns, none of them the plan's", |s| {
        let names: Vec<String> = (0..100_000).map(|n| format!("c{n}")).collect();
        s.write("lab.csv", names.join(",") + "\n");
    }),
    ("a million columns beside the plan's", |s| {
        s.write(
            "lab.csv",
            format!(
                "{}{}\nA1,Arsenic,12,ug/L,1,2020-01-05{}\n",
                HEAD.trim(),
                ",".repeat(1_000_000),
                ",".repeat(1_000_000)
            ),
        );
    }),
    ("no column of the plan, in a workbook's export with another delimiter", |s| {
        s.write("lab.csv", "Site|Parameter|Result\nA1|Arsenic|12\n");
        s.plan("layout = \"long\"", "layout = \"long\"\ndelimiter = \",\"");
    }),
    ("a device", |s| s.plan("lab.csv", "/dev/zero")),
    ("JSON lines nested a hundred thousand deep", |s| {
        s.write("lab.csv", format!("{{\"Site\":{}1{}}}\n", "[".repeat(100_000), "]".repeat(100_000)));
    }),
    ("JSON lines cut off", |s| {
        s.write("lab.csv", "{\"Site\":\"A1\",\"Parameter\":\"Arsenic\"}\n{\"Site\":\"A1\",\"Para")
    }),
    ("a cell of three million letters", |s| {
        rows(s, &format!("A1,Arsenic,{},ug/L,1,2020-01-05\nA2,Arsenic,2,ug/L,1,2020-01-05\n", "x".repeat(3_000_000)))
    }),
    ("seventy thousand names that nobody knows, and one that is known behind them", |s| {
        let many: String = (0..70_000).map(|n| format!("A1,N{n:05},1,ug/L,1,2020-01-05\n")).collect();
        rows(s, &format!("{many}A2,Arsenic,2,ug/L,1,2020-01-05\n"));
    }),
    ("a quote that is never closed", |s| {
        rows(s, "A1,\"Arsenic,12,ug/L,1,2020-01-05\nA2,Arsenic,1,ug/L,1,2020-01-05\n")
    }),
    ("a quote that the quote of a later line closes", |s| {
        rows(
            s,
            "A1,Arsenic,12,ug/L,1,\"2020-01-05\nA2,Arsenic,1,ug/L,1,2020-01-05\nA3,Arsenic,1,ug/L,1,\"2020-01-05\"\n",
        )
    }),
    ("a carriage return alone among line ends", |s| {
        rows(s, "A1,Arsenic,12,ug/L,1,2020-01-05\rA2,Arsenic,1,ug/L,1,2020-01-05\nA3,Arsenic,1,ug/L,1,2020-01-05\n")
    }),
    ("a line of 100 megabytes", |s| rows(s, &format!("A1,{}\n", "x".repeat(100_000_000)))),
    ("lines that are too short and too long", |s| {
        rows(s, "A1,Arsenic\nA2,Arsenic,2,ug/L,1,2020-01-05,extra,extra\nA3,Arsenic,2,ug/L,1,2020-01-05\n")
    }),
    ("unknown analytes and units only", |s| {
        rows(s, "A1,Unobtainium,12,ug/L,1,2020-01-05\nA2,Arsenic,3,spoons,1,2020-01-05\n")
    }),
    ("values that are no values", |s| {
        rows(
            s,
            "A1,Arsenic,NaN,ug/L,1,2020-01-05\nA2,Arsenic,inf,ug/L,1,2020-01-05\nA3,Arsenic,=1+1,ug/L,1,2020-01-05\nA1,Lead,1e400,ug/L,1,2020-01-05\n",
        )
    }),
    ("no result that counts: wells that are not listed", |s| rows(s, "B1,Arsenic,12,ug/L,1,2020-01-05\n")),
    ("nothing detected anywhere", |s| rows(s, "A1,Arsenic,<1,ug/L,1,2020-01-05\nA2,Arsenic,<2,ug/L,2,2020-01-05\n")),
    ("non-detects without any limit", |s| rows(s, "A1,Arsenic,ND,ug/L,,2020-01-05\nA2,Arsenic,U,ug/L,,2020-01-05\n")),
    ("a period with nothing in it", |s| s.plan("title =", "period = { from = 1990-01-01, to = 1991-01-01 }\ntitle =")),
    ("a date in the future that could be one", |s| {
        rows(s, "A1,Arsenic,12,ug/L,1,2091-01-05\nA2,Arsenic,3,ug/L,1,2020-01-05\n")
    }),
    ("all dates after the day that the plan takes for now", |s| s.plan("sets =", "as_of = 2015-06-01\nsets =")),
    ("dates in the far future", |s| rows(s, "A1,Arsenic,12,ug/L,1,2999-01-05\nA2,Arsenic,3,ug/L,1,2020-01-05\n")),
    ("dates that cannot be", |s| {
        rows(s, "A1,Arsenic,12,ug/L,1,2020-02-30\nA2,Arsenic,3,ug/L,1,yesterday\nA3,Arsenic,3,ug/L,1,99999-01-01\n")
    }),
    ("limits of a day before all samples", |s| {
        s.plan("sets = [\"us-mcl\"]", "sets = [\"us-mcl\"]\nas_of = 1900-01-01")
    }),
];

#[test]
fn tables() {
    walk("tables", CASES);
}
