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

const WQX: &str = "[[results]]\nfiles = [\"lab.csv\"]\ncolumns = \"wqx\"\n[benchmarks]\nsets = [\"us-mcl\", \"us-action-level\"]\n";
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
    let columns: Vec<Column> = ["line", "analyte", "status", "low", "high", "reason"].iter().map(|n| text(n)).collect();
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
fn show() {
    let (_s, rows, outcome) = wqx(&[
        "Lead,Total,,,20,ug/l,,Final,,",
        "Lead,Dissolved,,,3,ug/l,,Final,,",
        "\"Lead, dissolved\",Total,,,3,ug/l,,Final,,",
        "Lead,Suspended,,,3,ug/l,,Final,,",
        "Lead,Mystery,,,3,ug/l,,Final,,",
        "Nitrate,Dissolved,as NO3,,62.004,mg/l,,Final,,",
        "Arsenic,Total,,Not Detected,,ug/l,,Final,0.002,mg/l",
        "Arsenic,Total,,Not Detected,,,,Final,2,ug/l",
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
        "Nitrat,Total,,,7.1,mg/l as N,,Final,,",
        "Selenium,Total,,,7.1,ug/lq,,Final,,",
        "Cadmium,Total,,,odd,ug/l,ZZ9,Final,,",
    ]);
    for row in rows { println!("{row}"); }
    for w in &outcome.warnings { println!("{}: {} ({}) {:?}", w.subject, w.text, w.count, w.examples); }
    println!("{}", outcome.to_paste);
}
