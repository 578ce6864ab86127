//! What laboratories and the open exchange standard say about a result besides its value, read through the whole job:
//! fractions, limits in other units, conditions, statuses, verdicts, counts without a volume; and what cannot be read is
//! named with its file and line.
//!
//! The standard's element names and words: Water Quality Exchange, from memory. The molar mass of nitrate against
//! nitrogen (62.004 / 14.007) is from IUPAC's conventional atomic weights.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

#[path = "support/survey.rs"]
mod support;

use polars::prelude::*;
use support::Survey;

const WELLS: &str = "well,lon,lat\nW1,-93.7,43.0\nW2,-93.3,43.0\n";

const WQX: &str =
    "[[results]]\nfiles = [\"lab.csv\"]\ncolumns = \"wqx\"\n[benchmarks]\nsets = [\"us-mcl\", \"us-action-level\"]\n";
const WQX_HEADER: &str = "MonitoringLocationIdentifier,ActivityIdentifier,ActivityTypeCode,ActivityStartDate,\
CharacteristicName,ResultSampleFractionText,MethodSpecificationName,ResultDetectionConditionText,ResultMeasureValue,\
ResultMeasure/MeasureUnitCode,MeasureQualifierCode,ResultStatusIdentifier,\
DetectionQuantitationLimitMeasure/MeasureValue,DetectionQuantitationLimitMeasure/MeasureUnitCode";

/// Analyte, interval's ends and reason of every source line of a survey, by line.
fn read(plan: &str, lab: &str) -> (Survey, Vec<String>, wellreeve::Outcome) {
    let survey = Survey::new(plan, &[("wells.csv", WELLS), ("lab.csv", lab)]);
    let outcome = survey.run();
    let file = std::fs::File::open(survey.path("out/internal/results.parquet")).unwrap();
    let frame = ParquetReader::new(file).finish().unwrap();
    let text = |name: &str| frame.column(name).unwrap().cast(&DataType::String).unwrap();
    let columns: Vec<Column> =
        ["line", "analyte", "low", "high", "detected", "reason"].iter().map(|n| text(n)).collect();
    let rows = (0..frame.height()).map(|row| {
        let cells = columns.iter().map(|column| column.str().unwrap().get(row).unwrap_or("").to_owned());
        cells.collect::<Vec<_>>().join("|")
    });
    let rows = rows.collect();
    (survey, rows, outcome)
}

fn wqx(lines: &[&str]) -> (Survey, Vec<String>, wellreeve::Outcome) {
    let body: Vec<String> = lines.iter().map(|line| format!("W1,S,Sample-Routine,2024-05-01,{line}")).collect();
    read(WQX, &format!("{WQX_HEADER}\n{}\n", body.join("\n")))
}

#[test]
fn the_standards_words_are_understood() {
    let (_survey, rows, outcome) = wqx(&[
        "Lead,Total,,,20,ug/l,,Final,,",
        "Lead,Dissolved,,,3,ug/l,,Final,,",
        "\"Lead, dissolved\",Total,,,3,ug/l,,Final,,",
        "Lead,Suspended,,,3,ug/l,,Final,,",
        "Lead,Mystery,,,3,ug/l,,Final,,",
        "Nitrate,Dissolved,as NO3,,62.004,mg/l,,Final,,",
        "Arsenic,Total,,Not Detected,,ug/l,,Final,0.002,mg/l",
        "Antimony,Total,,Not Detected,,,,Final,2,ug/l",
        "Uranium,Total,,Present Above Quantification Limit,,ug/l,,Final,50,ug/l",
        "Barium,Total,,Present Below Quantification Limit,,mg/l,,Final,1,mg/l",
        "Escherichia coli,,,Present Above Quantification Limit,,MPN/100ml,,Final,,",
        "Iron,Total,,Systematic Contamination,5,mg/l,,Final,,",
        "Iron,Total,,Not Reported,,mg/l,,Final,,",
        "Manganese,Total,,,7,mg/l,,Rejected,,",
        "Zinc,Total,,,7,mg/l,U,Preliminary,,",
        "Copper,Total,,,Present,mg/l,,Final,,",
        "Nickel,Total,,,Absent,mg/l,,Final,,",
        "Total Coliform,,,,23,MPN,,Final,,",
        "Fecal Coliform,,,,0,cfu,,Final,,",
        "pH,,,,7.1,None,,Final,,",
    ]);
    let expected = [
        "2|lead|20.0|20.0|true|",
        "3|lead_dissolved|3.0|3.0|true|",
        "4|||||unknown-analyte",
        "5|||||unknown-analyte",
        "6|||||unknown-analyte",
        "7|nitrate_as_n|14.007|14.007|true|",
        "8|arsenic|0.0|2.0|false|",
        "9|antimony|0.0|2.0|false|",
        "10|uranium|50.0|inf|true|",
        "11|barium|0.0|1000.0|false|",
        "12|e_coli|||true|",
        "13|iron|5.0|5.0|true|rejected-by-laboratory",
        "14|iron||||no-value",
        "15|manganese|7.0|7.0|true|rejected-by-laboratory",
        "16|zinc|0.0|7.0|false|",
        "17|copper||||unreadable-value",
        "18|nickel||||limit-missing",
        "19|total_coliform|||true|",
        "20|fecal_coliform|||false|",
        "21|ph|7.1|7.1|true|",
    ];
    assert_eq!(rows, expected);
    let told = outcome.warnings.iter().map(|warning| (warning.subject.as_str(), warning.count)).collect::<Vec<_>>();
    assert!(told.contains(&("results.columns.status", 1)) && told.contains(&("results.unit", 2)), "{told:?}");
}

#[test]
fn filtered_metals_are_judged_apart_and_never_pooled() {
    let (survey, _, _) = wqx(&["Lead,Total,,,20,ug/l,,Final,,", "Lead,Dissolved,,,3,ug/l,,Final,,"]);
    let table = survey.table("internal/tables/exceedance.csv");
    let of = |analyte: &str| {
        let rows = table.iter().filter(|row| row["area_id"] == "region" && row["analyte"] == analyte);
        rows.map(|row| (row["wells"].clone(), row["exceeding"].clone())).collect::<Vec<_>>()
    };
    // Action level of lead, 15 ug/L (40 CFR 141.80).
    assert_eq!(of("lead"), [("1".to_owned(), "1".to_owned())]);
    assert_eq!(of("lead_dissolved"), [("1".to_owned(), "0".to_owned())]);
}

const OWN: &str = r#"[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Test", value = "Found", unit = "Unit", date = "Day", received = "In", fraction = "Fraction", limit = "RL", limit_unit = "RL unit", second_qualifier = "Remark", status = "State", basis = "As" }
fractions = { "0.45" = "dissolved" }
[benchmarks]
sets = ["us-mcl"]
"#;

#[test]
fn a_plan_may_name_the_same_columns_itself() {
    let header = "Site,Test,Found,Unit,Day,In,Fraction,RL,RL unit,Remark,State,As\n";
    let lines = "W1,Arsenic,12,ug/L,2024-05-01,,0.45,,,,,\nW1,Nitrate,62.004,mg/L,2024-05-01,,,,,,,NO3\n\
                 W1,Selenium,ND,ug/L,2024-05-01,,T,0.001,mg/L,,,\nW1,Barium,3,mg/L,2024-05-01,,T,,,,void,\n";
    let (_survey, rows, _) = read(OWN, &format!("{header}{lines}"));
    let expected = [
        "2|arsenic_dissolved|12.0|12.0|true|",
        "3|nitrate_as_n|14.007|14.007|true|",
        "4|selenium|0.0|1.0|false|",
        "5|barium|3000.0|3000.0|true|rejected-by-laboratory",
    ];
    assert_eq!(rows, expected);
}

#[test]
fn every_unreadable_thing_is_named_with_its_file_and_line() {
    let header = "Site,Test,Found,Unit,Day,In,Fraction,RL,RL unit,Remark,State,As\n";
    let lines = [
        "W1,Nitrat,12,mg/L,2024-05-01,,,,,,,",
        "W1,Arsenick,12,ug/L,2024-05-01,,,,,,,",
        "W1,Arsenick,13,ug/L,2024-05-02,,,,,,,",
        "W1,Odour panel,3,ug/L,2024-05-01,,,,,,,",
        "W1,Nitrate,12,mg/L,2024-05-01,,,,,,,",
        "W1,Selenium,7.1,ug/lq,2024-05-01,,,,,,,",
        "W1,Selenium,7.1,pCi/L,2024-05-01,,,,,,,",
        "W1,Selenium,7.1,ug/L,soon,,,,,,,",
        "W1,Selenium,7.1,ug/L,03/04/2024,,,,,,,",
        "W1,Selenium,odd,ug/L,2024-05-01,yesterday,,,,,,",
        "W1,Selenium,ND,ug/L,2024-05-01,,,about one,,,,",
        "W1,Selenium,5,ug/L,2024-05-01,,,,,J Q9,,",
        "W1,Selenium,>5,ug/L,2024-05-01,,,,,U,,",
        "W1,Selenium,5,ug/L,2024-05-01,,mist,,,,,",
    ];
    let (_survey, _, outcome) = read(OWN, &format!("{header}{}\n", lines.join("\n")));
    let told: Vec<String> = outcome.warnings.iter().flat_map(|warning| warning.examples.clone()).collect();
    for wanted in [
        "\"Arsenick\" (2), lab.csv:3",
        "\"Odour panel\" (1), lab.csv:5",
        "\"Nitrate\" (1), lab.csv:6",
        "\"ug/lq\" for \"Selenium\" (1), lab.csv:7",
        "\"pCi/L\" for \"Selenium\" (1), lab.csv:8",
        "\"soon\" (1), lab.csv:9",
        "\"03/04/2024\" (1), lab.csv:10",
        "\"odd\" (1), lab.csv:11",
        "\"yesterday\" (1), lab.csv:11",
        "\"about one\" (1), lab.csv:12",
        "\"J Q9\" (1), lab.csv:13",
        "\">5  U\" (1), lab.csv:14",
        "\"mist\" for \"Selenium\" (1), lab.csv:15",
    ] {
        assert!(told.iter().any(|example| example == wanted), "{wanted} not in {told:#?}");
    }
    let expected = "# To paste into the plan. Look at each line first: a wrong word moves results.\n\
        # results[1]\n[results.names]\n\
        \"Arsenick\" = \"arsenic\"   # 2 results, first lab.csv:3\n";
    assert!(outcome.to_paste.starts_with(expected), "{}", outcome.to_paste);
    for line in [
        "# \"Odour panel\" = \"...\"   # 1 result, first lab.csv:5; nothing in the dictionary is near\n",
        "# \"Nitrate\" = \"...\"   # 1 result, first lab.csv:6; ask the laboratory: nitrate_as_n or nitrate_as_no3\n",
        "\n# \"Nitrat\" = \"...\"   # 1 result, first lab.csv:2; ",
        "[results.units]\n\"ug/lq\" = \"ug/L\"   # 1 result of \"Selenium\", first lab.csv:7\n",
        "[results.fractions]\n# \"mist\" = \"...\"   # 1 result of \"Selenium\", first lab.csv:15; ",
    ] {
        assert!(outcome.to_paste.contains(line), "{line} not in {}", outcome.to_paste);
    }
    // What is offered is TOML as it stands.
    assert!(outcome.to_paste.parse::<toml::Table>().is_ok(), "{}", outcome.to_paste);
}
