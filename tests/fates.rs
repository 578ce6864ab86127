//! A model of the truth: every line of a made file states the fate it must get, and the whole column is compared.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

#[path = "support/survey.rs"]
mod survey;

use survey::Survey;

const RESULTS: &str = r#"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", qualifier = "Flag", limit = "RL", date = "Collected", received = "Received", sample = "No", sample_kind = "Type", method = "Method" }
sample_kinds = { "FB" = "blank", "DUP" = "duplicate", "1st" = "first-draw", "Softened" = "treated", "MS" = "spike" }
"#;

/// `fate | Site,Parameter,Result,Units,Flag,RL,Collected,Received,No,Type,Method`
const LINES: &str = "\
used | A1,Arsenic,12,ug/L,,,2020-01-05,,1,,
no-well | ,Arsenic,12,ug/L,,,2020-01-05,,2,,
repeated-line | A1,Arsenic,12,ug/L,,,2020-01-05,,1,,
blank | A1,Arsenic,<1,ug/L,,,2020-01-05,,3,FB,
spike | A1,Arsenic,50,ug/L,,,2020-01-05,,4,MS,
rejected-by-laboratory | A1,Arsenic,50,ug/L,R,,2020-01-06,,5,,
rejected-by-laboratory | A1,Arsenic,50 R,ug/L,,,2020-01-06,,6,,
treated-water | A1,Arsenic,1,ug/L,,,2020-01-06,,7,Softened,
unknown-analyte | A1,Odour panel,3,ug/L,,,2020-01-06,,8,,
basis-missing | A1,Nitrate,3,mg/L,,,2020-01-06,,9,,
used | A1,Nitrate,3,mg/L as N,,,2020-01-06,,10,,
used | A2,Nitrate as NO3,44.2664,mg/L,,,2020-01-06,,11,,
no-value | A2,Arsenic,,ug/L,,,2020-01-06,,12,,
no-value | A2,Arsenic,N/A,ug/L,,,2020-01-06,,13,,
unreadable-value | A2,Arsenic,see note,ug/L,,,2020-01-06,,14,,
qualifiers-disagree | A2,Arsenic,>5,ug/L,U,,2020-01-06,,15,,
limit-missing | A2,Arsenic,ND,ug/L,,,2020-01-06,,16,,
limit-missing | A2,Arsenic,0,ug/L,,,2020-01-06,,17,,
used | A2,Arsenic,ND,ug/L,,0.5,2020-01-06,,18,,
unknown-unit | A3,Arsenic,5,,,,2020-01-06,,19,,
unknown-unit | A3,Arsenic,5,furlongs,,,2020-01-06,,20,,
unit-does-not-fit | A3,Arsenic,5,pCi/L,,,2020-01-06,,21,,
no-date | A3,Arsenic,5,ug/L,,,,,22,,
unreadable-date | A3,Arsenic,5,ug/L,,,2019-02-31,,23,,
unreadable-date | A3,Arsenic,5,ug/L,,,03/04/2019,,24,,
outside-period | A3,Arsenic,5,ug/L,,,1999-01-01,,25,,
first-draw | A3,Arsenic,5,ug/L,,,2020-01-06,,26,1st,
used | A3,Lead,5,ug/L,,,2020-01-06,,27,1st,
used | A3,Lead,1,ug/L,,,2020-01-06,,28,,
kit-not-adequate | A3,Arsenic,5,ug/L,,,2020-01-06,,29,,Home strip kit
held-too-long | A3,E. coli,Present,P/A,,,2020-01-06,2020-01-09,30,,
used | A3,E. coli,Absent,,,,2020-01-06,2020-01-08,31,,
used | A3,Arsenic,5,ug/L,J,,2020-01-06,2020-03-09,32,,
unknown-well | Z9,Arsenic,5,ug/L,,,2020-01-06,,33,,
no-location | A4,Arsenic,5,ug/L,,,2020-01-06,,34,,
outside-areas | A5,Arsenic,5,ug/L,,,2020-01-06,,35,,
repeat | A6,Arsenic,5,ug/L,,,2020-01-06,,36,,
repeat | A6,Arsenic,6,ug/L,,,2020-02-06,,37,DUP,
used | A6,Arsenic,5.5,ug/L,,,2020-02-06,,38,,
used | A6,Gross Alpha,-0.4,pCi/L,,2,2020-02-06,,39,,
used | A6,pH,7.1,,,,2020-02-06,,40,,
used | A6,Total Coliform,0,CFU/100 mL,,,2020-02-06,,41,,
unknown-unit | A6,E. coli,5,,,,2020-02-06,,42,,
";

const WELLS: &str = "well,lon,lat\nA1,-93.7,43\nA2,-93.6,43\nA3,-93.4,43\nA4,0,0\nA5,-92.9,43\nA6,-93.2,43\n";

#[test]
fn every_line_gets_the_fate_it_states() {
    let (mut fates, mut lab) =
        (Vec::new(), "Site,Parameter,Result,Units,Flag,RL,Collected,Received,No,Type,Method\n".to_owned());
    for line in LINES.lines() {
        let (fate, text) = line.split_once(" | ").unwrap();
        fates.push(fate);
        lab.push_str(text);
        lab.push('\n');
    }
    let survey = Survey::new(RESULTS, &[("wells.csv", WELLS), ("lab.csv", &lab)]);
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let period = "[survey]\nperiod = { from = 2015-01-01, to = 2025-12-31 }\n";
    survey.write("plan.toml", &format!("{}\n[quality]\nmost_set_aside = 1.0\n", plan.replace("[survey]\n", period)));
    survey.run();
    let set_aside = survey.table("internal/set-aside.csv");
    for (at, expected) in fates.iter().enumerate() {
        let line = (at + 2).to_string();
        let got = set_aside.iter().find(|row| row["line"] == line).map_or("used", |row| row["reason"].as_str());
        assert_eq!(got, *expected, "line {line}: {}", LINES.lines().nth(at).unwrap());
    }
    assert_eq!(set_aside.len(), fates.iter().filter(|fate| **fate != "used").count());
}

/// 44.2664 mg/L as NO3 is 10 mg/L as N to the last printed digit, which meets a limit of 10 (40 CFR 141.62(b)); a hair more does not.
#[test]
fn a_value_at_the_limit_meets_it_in_any_unit() {
    let lab = "Site,Parameter,Result,Units,Flag,RL,Collected,Received,No,Type,Method\n\
               A1,Nitrate as NO3,44.2664,mg/L,,,2020-01-05,,1,,\n\
               A2,Nitrate as N,10,mg/L,,,2020-01-05,,2,,\n\
               A3,Nitrate as N,10.001,mg/L,,,2020-01-05,,3,,\n\
               A6,Nitrate as N,<20,mg/L,,,2020-01-05,,4,,\n";
    let survey = Survey::new(RESULTS, &[("wells.csv", WELLS), ("lab.csv", lab)]);
    survey.run();
    let rows = survey.table("internal/tables/exceedance.csv");
    let region = rows.iter().find(|row| row["area_id"] == "region" && row["analyte"] == "nitrate_as_n").unwrap();
    assert_eq!(
        (region["exceeding"].as_str(), region["meeting"].as_str(), region["undetermined"].as_str()),
        ("1", "2", "1")
    );
}
