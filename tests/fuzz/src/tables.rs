//! Tables of results: text under a column map that its first bytes choose, Parquet, and what `draft` makes of any file.

use super::{Choices, file, folder, plans, texts::DICTIONARY};
use std::sync::LazyLock;
use wellreeve::files::Inputs;
use wellreeve::intake;
use wellreeve::normalise::{self, Rules};
use wellreeve::plan::{
    CommonColumns, DateOrder, Layout, MoreColumns, Naming, Plan, ResultsPart, TextOptions, WideColumn,
};

static SOUND: LazyLock<Plan> = LazyLock::new(plans::sound);

/// Bytes that choose.
const CHOICES: usize = 24;

/// Text with a column map that picks any of its header's cells for anything.
pub fn csv(data: &[u8]) {
    let (mut choices, text) = Choices::new(data, CHOICES);
    read(part(&mut choices, &headings(text)), "lab.txt", text);
}

/// Parquet with the columns of the fixture; other bytes are text.
pub fn parquet(data: &[u8]) {
    let names = ["Site", "Parameter", "Result", "Units", "RL", "Collected"].map(str::to_owned);
    let (mut choices, _) = Choices::new(&[0, 1, 2, 3, 4, 255, 5, 255, 255, 255, 255, 255], 12);
    let mut part = part(&mut choices, &names);
    part.text = TextOptions::default();
    read(part, "lab.parquet", data);
}

/// Files of any kind that `draft` looks into.
pub fn draft(data: &[u8]) {
    let path = file("something.dat", data);
    if let Ok(drafted) = wellreeve::draft::draft(&[path], &folder().join("drafted")) {
        assert!(!drafted.plan_text.is_empty());
    }
}

/// Reads a file as a run would, up to the rows.
pub fn read(mut part: ResultsPart, name: &str, bytes: &[u8]) {
    let path = file(name, bytes);
    part.files = vec![path];
    let plan = Plan { results: vec![part], ..SOUND.clone() };
    let Ok(rules) = Rules::new(&plan, &DICTIONARY) else { return };
    let Ok(mut intake) = intake::open(&plan, &Inputs::default()) else { return };
    while let Ok(Some(raw)) = intake.next_block() {
        let block = normalise::block(&rules, &raw);
        for row in &block.rows {
            assert!(row.reason.is_some() || row.interval.is_some() && row.analyte.is_some(), "a row without a fate");
            let _ = (block.text(row.well_text), block.text(row.sample), block.text(row.written));
        }
        let mut packed = Vec::new();
        normalise::pack(&block, &mut packed);
        let again = normalise::unpack(block.file.clone(), &packed).expect("what was packed can be unpacked");
        assert_eq!(again.rows.len(), block.rows.len());
    }
}

/// The cells of the first line that has more than one, whatever parts them.
fn headings(text: &[u8]) -> Vec<String> {
    let start = text.get(..4096).unwrap_or(text);
    let start = String::from_utf8_lossy(start);
    let line = start.lines().find(|line| line.contains([',', ';', '\t', '|'])).unwrap_or_default();
    line.split([',', ';', '\t', '|']).map(|cell| cell.trim().trim_matches('"').to_owned()).collect()
}

/// A `[[results]]` of columns and options chosen at random.
pub fn part(choices: &mut Choices<'_>, names: &[String]) -> ResultsPart {
    let (well, analyte, value) = (name(choices, names), name(choices, names), name(choices, names));
    let mut maybe = || maybe(choices, names);
    let (unit, limit, qualifier, date) = (maybe(), maybe(), maybe(), maybe());
    let (received, sample, sample_kind, method) = (maybe(), maybe(), maybe(), maybe());
    let more = MoreColumns {
        second_qualifier: maybe(),
        status: maybe(),
        fraction: maybe(),
        basis: maybe(),
        limit_unit: maybe(),
    };
    let naming = choices.one(&[Naming::Plan, Naming::Standard]).unwrap_or_default();
    let common = CommonColumns { well, date, received, sample, sample_kind, method, naming };
    let layout = if choices.byte() % 3 == 1 {
        let column = WideColumn { column: value, analyte: "arsenic".to_owned(), unit, qualifier, limit };
        let other =
            WideColumn { column: analyte, analyte: "nitrate".to_owned(), unit: None, qualifier: None, limit: None };
        Layout::Wide { common, analytes: vec![column, other] }
    } else {
        Layout::Long { common, analyte, value, unit, qualifier, limit, more: Box::new(more) }
    };
    let text = TextOptions {
        encoding: choices
            .one(&[None, Some("latin1"), Some("utf-16le"), Some("shift_jis"), Some("utf-8")])
            .flatten()
            .map(str::to_owned),
        delimiter: choices.one(&[None, Some(b','), Some(b';'), Some(b'\t'), Some(b'|')]).flatten(),
        header_line: choices.one(&[None, None, Some(1), Some(2), Some(5)]).flatten(),
        decimal: choices.one(&[None, Some('.'), Some(',')]).flatten(),
        thousands: None,
        sheet: None,
    };
    ResultsPart {
        files: Vec::new(),
        layout,
        text,
        date_format: choices.one(&[None, None, Some("%d.%m.%Y"), Some("excel")]).flatten().map(str::to_owned),
        date_order: choices.one(&[None, Some(DateOrder::DayFirst), Some(DateOrder::YearFirst)]).flatten(),
        non_detect_words: vec!["nn".to_owned()],
        sample_kinds: Default::default(),
        methods: Default::default(),
        qualifiers: Default::default(),
        fractions: Default::default(),
        names: Default::default(),
        units: Default::default(),
    }
}

fn name(choices: &mut Choices<'_>, names: &[String]) -> String {
    choices.one(names).unwrap_or_default()
}

/// A column, or none: three bytes in four choose one.
fn maybe(choices: &mut Choices<'_>, names: &[String]) -> Option<String> {
    let at = choices.byte();
    if at >= 192 { None } else { names.get(at % names.len().max(1)).cloned() }
}
