//! Where the header stands, how lines are shaped, what a heading says.

use super::{CSV, LONG, Lab, SAME, lines, said};
use wellreeve::dictionary::Dictionary;
use wellreeve::ids::Interval;
use wellreeve::normalise::{self, Rules};

#[test]
fn title_lines_are_passed_or_counted() {
    let titled = format!("Results of the water laboratory\n\"printed 2020,\n by hand\"\n\n{CSV}");
    let results = Lab::new("lab.csv", &titled, LONG).results();
    assert_eq!((said(&results).as_str(), lines(&results)), (SAME, vec![6, 7, 8]));
    let twice = format!("{CSV}\n{CSV}");
    let results = Lab::new("lab.csv", &twice, &format!("header_line = 6\n{LONG}")).results();
    assert_eq!((said(&results).as_str(), lines(&results)), (SAME, vec![7, 8, 9]));
}

#[test]
fn doubled_names_matter_only_where_they_are_wanted() {
    let unwanted = CSV.replace("Collected", "Collected,X,X");
    assert_eq!(said(&Lab::new("lab.csv", unwanted, LONG).results()), SAME);
    let problem =
        Lab::new("lab.csv", CSV.replace("Flag", "Result"), &LONG.replace("qualifier = \"Flag\", ", "")).problem();
    assert_eq!(
        (problem.code, problem.line, problem.key.as_str()),
        ("column-doubled", Some(1), "results[1].columns.value")
    );
}

#[test]
fn newlines_and_delimiters_may_stand_in_quotes() {
    let text = CSV.replace("W-1,Arsenic", "\"W-1\",\"Arsenic,\nby \"\"the\"\" lab\"");
    let results = Lab::new("lab.csv", text, LONG).results();
    assert_eq!(lines(&results), [2, 3, 5]);
    assert!(results[1].contains("|Arsenic,\nby \"the\" lab|"));
}

#[test]
fn ragged_lines_are_read_and_the_surplus_is_told() {
    let text = "Site,Parameter,Result,Units,Flag,Collected\nW-1,Iron,1\nW-2,Iron,2,mg/L,,2019-02-03,,,\nW-3,Iron,3,mg/L,,2019-02-03,7\n\
                W-4,Iron,1,234,mg/L,,2019-02-03\nW-5,Iron,1,234,mg/L,,2019-02-03\nW-6,Iron,1,234,mg/L,,2019-02-03\n,,,\n";
    let lab = Lab::new("lab.csv", text, LONG);
    assert_eq!(lines(&lab.results()), [2, 3, 4, 5, 6, 7]);
    let mut intake = lab.open().unwrap();
    intake.in_order(|block| block.each_result(|_, _| {}).unwrap(), |()| Ok(())).unwrap();
    let told: Vec<(u64, String)> = intake.warnings.iter().map(|w| (w.count, w.examples.join(", "))).collect();
    assert_eq!(told, [(4, "line 4, line 5, line 6".to_owned())]);
}

#[test]
fn a_heading_gives_the_unit_that_the_plan_leaves_out() {
    let part = r#"layout = "wide"
columns = { well = "Site", date = "Day" }
[results.analyte_columns]
"Nitrate (mg/L as NO3)" = { analyte = "nitrate" }
"Arsenic [mg/L]" = { analyte = "arsenic" }
"Iron, mg/L" = { analyte = "iron", unit = "ug/L" }
"Lead (dissolved)" = { analyte = "lead" }"#;
    let text = "Site;Day;\"Nitrate\n(mg/L as NO3)\";Arsenic [mg/L];Iron, mg/L;Lead (dissolved)\nW-1;2019-02-03;44.3;0.005;300;7\nW-2;2019-02-03;;;;\n";
    let lab = Lab::new("lab.csv", text, part);
    let units: Vec<String> = lab.results().iter().map(|text| text.split('|').nth(4).unwrap().to_owned()).collect();
    assert_eq!(units, ["mg/L as NO3", "mg/L", "ug/L", "dissolved"]);
    let dictionary = Dictionary::built_in().unwrap();
    let rules = Rules::new(&lab.plan, &dictionary).unwrap();
    let block = normalise::block(&rules, &lab.open().unwrap().next_block().unwrap().unwrap());
    let value = |at: usize| match block.rows[at].interval {
        Some(Interval::Detect(value)) => value,
        _ => f64::NAN,
    };
    // 62.0049 g of nitrate hold 14.0067 g of nitrogen (IUPAC standard atomic weights, from memory).
    assert!((value(0) - 44.3 * 14.0067 / 62.0049).abs() < 1e-3);
    assert!((value(1) - 5.0).abs() < 1e-9);
    assert_eq!(block.rows[3].reason.map(|reason| reason.name()), Some("unknown-unit"));
}

#[test]
fn blocks_in_order_give_every_line_whatever_the_threads() {
    let lines: String = (0..150_000).map(|n| format!("W-{n},\"Ir\non\",{n},mg/L,,2019-02-03,Marrow\n")).collect();
    let lab = Lab::new("lab.csv", format!("{}{lines}", CSV.split_inclusive('\n').next().unwrap()), LONG);
    let mut seen = Vec::new();
    let mut intake = lab.open().unwrap();
    let count = |block: &wellreeve::intake::RawBlock| {
        let mut list = Vec::new();
        block.each_result(|line, cell| list.push((line.line, cell.value.parse::<u64>().unwrap()))).unwrap();
        list
    };
    let take = |part| {
        seen.extend(part);
        Ok(())
    };
    intake.in_order(count, take).unwrap();
    assert!(seen.iter().copied().eq((0..150_000).map(|n| (2 + 2 * n, n))));
    assert_eq!(intake.warnings[0].count, 150_000);
}
