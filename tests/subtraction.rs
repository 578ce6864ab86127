//! A subtraction attack that shares nothing with the auditor: no reader, no generator, no bounds.
//!
//! Surveys of wells in the fields of a chessboard, with three layers of areas over them: columns, rows and patches of fields. The attack takes the
//! public tables and tries whole numbers. First, what is left of a total when all that is shown of it is taken off must be nothing or enough wells, in more
//! than one area. Second, every hidden number must be able to be this or that over at least the smallest group. Third, every field with a few wells
//! must be able to hold enough of them without any published total of any layer changing: such a board is looked for by trying.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::Path;
use wellreeve::progress::{Mode, Progress};

const SMALLEST: usize = 5;
const ANALYTES: [&str; 3] = ["arsenic", "lead", "manganese"];

/// Numbers by Lehmer's generator (Park and Miller's constants).
struct Lehmer(u64);

impl Lehmer {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        (self.0 >> 7) as usize % n
    }
}

/// Fields by column and row, the wells in them, the patch of each.
struct Board {
    columns: usize,
    wells: Vec<Field>,
    patches: Vec<usize>,
}

/// Each well's tested analytes.
type Field = Vec<[bool; 3]>;

fn board(seed: u64) -> Board {
    let mut dice = Lehmer(seed * 7_919 + 11);
    dice.below(2);
    let (columns, rows) = (2 + dice.below(3), 2 + dice.below(2));
    let chances = [100, 30 + dice.below(70), 30 + dice.below(70)];
    let field = |dice: &mut Lehmer| {
        let size = [0, dice.below(5), dice.below(9), 4 + dice.below(16)][dice.below(4)];
        (0..size).map(|_| chances.map(|chance| dice.below(100) < chance)).collect()
    };
    let wells = (0..columns * rows).map(|_| field(&mut dice)).collect();
    let patches = (0..columns * rows).map(|_| dice.below(4)).collect();
    Board { columns, wells, patches }
}

impl Board {
    fn place(&self, field: usize) -> [usize; 3] {
        [field % self.columns, field / self.columns, self.patches[field]]
    }

    /// How many wells of each field have any result, or one of an analyte.
    fn counts(&self, topic: Option<usize>) -> Vec<usize> {
        let has = |tests: &&[bool; 3]| topic.map_or(tests.contains(&true), |topic| tests[topic]);
        self.wells.iter().map(|field| field.iter().filter(has).count()).collect()
    }

    fn corner(&self, field: usize) -> [f64; 2] {
        [-94.0 + 0.1 * (field % self.columns) as f64, 42.8 + 0.1 * (field / self.columns) as f64]
    }

    /// A layer of areas, each of all fields that have it.
    fn layer(&self, number: usize) -> String {
        let mut areas: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for field in 0..self.wells.len() {
            let [x, y] = self.corner(field);
            let [e, n] = [x + 0.1, y + 0.1];
            let ring = format!("[[[{x:.1},{y:.1}],[{e:.1},{y:.1}],[{e:.1},{n:.1}],[{x:.1},{n:.1}],[{x:.1},{y:.1}]]]");
            areas.entry(self.place(field)[number]).or_default().push(ring);
        }
        let feature = |(area, rings): (usize, Vec<String>)| {
            format!(
                r#"{{"type":"Feature","properties":{{"code":"P{area}"}},"geometry":{{"type":"MultiPolygon","coordinates":[{}]}}}}"#,
                rings.join(",")
            )
        };
        let features: Vec<String> = areas.into_iter().map(feature).collect();
        format!(r#"{{"type":"FeatureCollection","features":[{}]}}"#, features.join(","))
    }

    fn write(&self, home: &Path, seed: u64) {
        let mut dice = Lehmer(seed + 3);
        let (mut wells, mut results) = ("id,x,y\n".to_owned(), "id,test,value,unit,date\n".to_owned());
        for (field, tests) in self.wells.iter().enumerate() {
            let [x, y] = self.corner(field);
            for (number, tests) in tests.iter().enumerate() {
                let id = format!("w{field:02}{number:03}");
                let at = |dice: &mut Lehmer| 0.01 + 0.08 * dice.below(1000) as f64 / 1000.0;
                writeln!(wells, "{id},{:.5},{:.5}", x + at(&mut dice), y + at(&mut dice)).unwrap();
                for (name, _) in ANALYTES.iter().zip(tests).filter(|(_, tested)| **tested) {
                    let value = if dice.below(3) == 0 { "<1".to_owned() } else { format!("{}", 1 + dice.below(30)) };
                    writeln!(results, "{id},{name},{value},ug/L,2021-05-0{}", 1 + dice.below(9)).unwrap();
                }
            }
        }
        let put = |name: &str, text: &str| std::fs::write(home.join(name), text).unwrap();
        put("wells.csv", &wells);
        put("lab.csv", &results);
        ["columns", "rows", "patches"]
            .iter()
            .enumerate()
            .for_each(|(number, name)| put(&format!("{name}.geojson"), &self.layer(number)));
        put("limits.csv", LIMITS);
        put("plan.toml", PLAN);
    }
}

const LIMITS: &str = "benchmark_set,analyte,cas,limit,unit,basis,sense,effect,effective,source,checked,note\n\
    board,arsenic,,10,ug/L,,max,chronic-health,2015-01-01,invented,invented,\n\
    board,arsenic,,20,ug/L,,max,acute-health,2015-01-01,invented,invented,\n\
    board,lead,,15,ug/L,,max,chronic-health,2015-01-01,invented,invented,\n";

const PLAN: &str = r#"
[survey]
title = "Board"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "id", analyte = "test", value = "value", unit = "unit", date = "date" }
[[wells]]
files = ["wells.csv"]
columns = { well = "id", x = "x", y = "y" }
crs = "EPSG:4326"
[[areas]]
files = ["columns.geojson"]
id = "code"
[[areas]]
called = "rows"
files = ["rows.geojson"]
id = "code"
[[areas]]
called = "patches"
files = ["patches.geojson"]
id = "code"
[benchmarks]
sets = ["board"]
file = "limits.csv"
[summary]
resamples = 0
[publish]
smallest_group = 5
"#;

/// The public half of a run, without pictures.
fn publish(home: &Path) {
    let stage = wellreeve::publish::Stage::new(&home.join("out")).unwrap();
    let job = wellreeve::survey::prepare(&home.join("plan.toml")).unwrap();
    let wells = wellreeve::place::wells(&job.plan, &job.inputs).unwrap();
    let survey = wellreeve::survey::read(&job, &wells, stage.keep_rows(), &Progress::new(Mode::Quiet)).unwrap();
    let findings = wellreeve::summarise::summarise(&job.plan, &job.dictionary, &wells, &survey).unwrap();
    let comparison = wellreeve::compare::compare(&job.plan, &job.dictionary, &wells, &survey, &findings).unwrap();
    let advice =
        wellreeve::recommend::recommend(&job.plan, &job.dictionary, &job.inputs, &wells, &survey, &findings).unwrap();
    let layers = wellreeve::layers::layers(&job, &wells, &survey).unwrap();
    let (wells, survey, findings) = (&wells, &survey, &findings);
    let (job, comparison, advice, layers) = (&job, &comparison, &advice, &layers[..]);
    let results = wellreeve::publish::Results { job, wells, survey, findings, comparison, advice, layers };
    wellreeve::publish::publish_told(stage, &results, wellreeve::publish::Extent::Tables).unwrap();
}

/// Shown and hidden numbers of a table: by its other keys and then by area.
type Numbers = BTreeMap<String, BTreeMap<String, Option<usize>>>;

fn numbers(path: &Path, keys: &[&str], column: &str) -> Numbers {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let headers = reader.headers().unwrap().clone();
    let at = |name: &str| headers.iter().position(|header| header == name);
    let mut found = Numbers::new();
    let (Some(area), Some(column)) = (at("area_id"), at(column)) else { return found };
    for record in reader.records().map(Result::unwrap) {
        let key: Vec<&str> = keys.iter().filter_map(|key| record.get(at(key)?)).collect();
        found.entry(key.join("/")).or_default().insert(record[area].to_owned(), record[column].parse().ok());
    }
    found
}

/// Tables of which the region's number is that of all areas.
const SUMMED: [(&str, &[&str], &str); 6] = [
    ("exceedance", &["analyte", "benchmark_set", "effect"], "wells"),
    ("summary", &["analyte"], "wells"),
    ("trend", &["analyte"], "wells"),
    ("any-health", &[], "wells"),
    ("period", &["analyte", "benchmark_set", "effect"], "wells_first"),
    ("period", &["analyte", "benchmark_set", "effect"], "wells_second"),
];

/// What is left of totals, and what hidden numbers can be.
fn totals(tables: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for (name, keys, column) in SUMMED {
        for (key, of) in numbers(&tables.join(format!("{name}.csv")), keys, column) {
            let Some(Some(total)) = of.get("region").copied() else { continue };
            let parts: Vec<(&String, Option<usize>)> =
                of.iter().filter(|(area, _)| *area != "region").map(|(area, n)| (area, *n)).collect();
            let shown: usize = parts.iter().filter_map(|(_, n)| *n).sum();
            let (left, hidden) = (total.checked_sub(shown), parts.iter().filter(|(_, n)| n.is_none()).count());
            let told = format!("{name} {key} {column}: {left:?} wells left in {hidden} hidden areas");
            match left {
                Some(0) => {} // nothing is hidden, or areas without a well
                Some(left) if left >= SMALLEST && hidden > 1 => {}
                _ => found.push(told),
            }
            if left == Some(0) && hidden > 0 {
                found.push(format!("{name} {key} {column}: hidden areas are known to be empty"));
            }
        }
    }
    found
}

/// Published totals of all layers: the fields of each, and its number.
fn published(board: &Board, tables: &Path, topic: Option<usize>) -> Vec<(BTreeSet<usize>, usize)> {
    let mut found = Vec::new();
    for (number, layer) in ["", "rows", "patches"].iter().enumerate() {
        let table = |name: &str| tables.join(layer).join(format!("{name}.csv"));
        let told = match topic {
            None => numbers(&table("coverage"), &[], "wells_sampled").remove(""),
            Some(topic) => numbers(&table("summary"), &["analyte"], "wells").remove(ANALYTES[topic]),
        };
        for (area, n) in told.into_iter().flatten() {
            let Some(n) = n else { continue };
            let all = area == "region";
            let own: Option<usize> = area.strip_prefix('P').and_then(|id| id.parse().ok());
            let fields = (0..board.wells.len()).filter(|field| all || Some(board.place(*field)[number]) == own);
            found.push((fields.collect(), n));
        }
    }
    // The accounting tells how many wells have a result.
    let text = std::fs::read_to_string(tables.join("accounting.csv")).unwrap();
    let used =
        text.lines().find(|line| line.starts_with("used,")).and_then(|line| line.rsplit(',').next()?.parse().ok());
    if let (None, Some(used)) = (topic, used) {
        found.push(((0..board.wells.len()).collect(), used));
    }
    found
}

/// Looks for whole numbers in the fields with the same published totals and at least `SMALLEST` in one field. Fields without a well are known.
struct Search<'s> {
    fields: &'s [usize],
    truth: &'s [usize],
    /// Totals that a field is in.
    of_field: Vec<Vec<usize>>,
    left: Vec<usize>,
    /// Fields of a total that have no number yet.
    open: Vec<usize>,
    wanted: usize,
    steps: usize,
}

impl Search<'_> {
    fn try_from(&mut self, at: usize) -> bool {
        self.steps += 1;
        let Some(field) = self.fields.get(at).copied() else { return self.left.iter().all(|left| *left == 0) };
        if self.steps > 100_000 {
            return false;
        }
        let mine = self.of_field[field].clone();
        let top = mine.iter().map(|total| self.left[*total]).min().unwrap_or(SMALLEST + self.truth[field]);
        let alone = mine.iter().find(|total| self.open[**total] == 1).map(|total| self.left[*total]);
        let low = if field == self.wanted { SMALLEST } else { 0 };
        let mut values: Vec<usize> = match alone {
            Some(value) => vec![value],
            None => (low..=top).collect(),
        };
        values.retain(|value| (low..=top).contains(value));
        values.sort_by_key(|value| value.abs_diff(self.truth[field]));
        for value in values {
            mine.iter().for_each(|total| {
                self.left[*total] -= value;
                self.open[*total] -= 1;
            });
            let dead = mine.iter().any(|total| self.open[*total] == 0 && self.left[*total] > 0);
            let found = !dead && self.try_from(at + 1);
            mine.iter().for_each(|total| {
                self.left[*total] += value;
                self.open[*total] += 1;
            });
            if found {
                return true;
            }
        }
        false
    }
}

fn fields(board: &Board, tables: &Path, topic: Option<usize>) -> Vec<String> {
    let truth = board.counts(topic);
    let totals = published(board, tables, topic);
    for (fields, n) in &totals {
        assert_eq!(fields.iter().map(|field| truth[*field]).sum::<usize>(), *n, "the tables say what is so");
    }
    let few = (0..truth.len()).filter(|field| (1..SMALLEST).contains(&truth[*field]));
    let mut found = Vec::new();
    for wanted in few {
        let mut order: Vec<usize> = (0..truth.len()).filter(|field| truth[*field] > 0).collect();
        order.sort_by_key(|field| (*field != wanted, board.place(*field)[0].abs_diff(board.place(wanted)[0]), *field));
        let of_field =
            (0..truth.len()).map(|field| (0..totals.len()).filter(|t| totals[*t].0.contains(&field)).collect());
        let open = totals.iter().map(|(fields, _)| order.iter().filter(|field| fields.contains(field)).count());
        let mut search = Search {
            fields: &order,
            truth: &truth,
            of_field: of_field.collect(),
            left: totals.iter().map(|(_, n)| *n).collect(),
            open: open.collect(),
            wanted,
            steps: 0,
        };
        if !search.try_from(0) {
            let topic = topic.map_or("any result", |topic| ANALYTES[topic]);
            let tried = search.steps;
            found.push(format!(
                "{topic}: {} wells of field {:?} are told ({tried} tried)",
                truth[wanted],
                board.place(wanted)
            ));
        }
    }
    found
}

fn surveys() -> u64 {
    std::env::var("BOARDS").ok().and_then(|text| text.parse().ok()).unwrap_or(25)
}

#[test]
fn no_few_wells_are_left_by_subtraction_of_three_layers() {
    let found: Vec<String> = (1..=surveys())
        .into_par_iter()
        .flat_map_iter(|seed| {
            let board = board(seed);
            if board.counts(None).iter().sum::<usize>() == 0 {
                return Vec::new();
            }
            let home = tempfile::tempdir().unwrap();
            board.write(home.path(), seed);
            publish(home.path());
            let tables = home.path().join("out/public/tables");
            let mut found: Vec<String> = ["", "rows", "patches"]
                .iter()
                .flat_map(|layer| totals(&tables.join(layer)).into_iter().map(move |told| format!("{layer} {told}")))
                .collect();
            found.extend([None, Some(0), Some(1), Some(2)].iter().flat_map(|topic| fields(&board, &tables, *topic)));
            found.into_iter().map(|told| format!("board {seed}: {told}")).collect()
        })
        .collect();
    let first: Vec<&String> = found.iter().take(30).collect();
    assert!(found.is_empty(), "{} leaks: {first:#?}", found.len());
}

/// With nothing hidden the attack finds what is told.
#[test]
fn whole_tables_are_found_out() {
    let mut found = 0;
    for seed in 1..=6 {
        let board = board(seed);
        let home = tempfile::tempdir().unwrap();
        board.write(home.path(), seed);
        publish(home.path());
        let tables = home.path().join("out/internal/tables");
        found += [None, Some(0)].iter().map(|topic| fields(&board, &tables, *topic).len()).sum::<usize>();
    }
    assert!(found > 0);
}
