//! The built-in dictionary against figures published elsewhere, typed in here with their sources, and
//! against itself: everything used is defined, everything defined is used.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use std::collections::BTreeSet;

use chrono::NaiveDate;
use wellreeve::dictionary::{
    Benchmark, BenchmarkKind, Dictionary, Fraction, NameOutcome, NameReading, Topic, UnitFault, lookup,
};

fn dictionary() -> Dictionary {
    Dictionary::built_in().unwrap()
}

fn day(text: &str) -> NaiveDate {
    NaiveDate::parse_from_str(text, "%Y-%m-%d").unwrap()
}

fn known(dictionary: &Dictionary, name: &str) -> NameReading {
    match dictionary.resolve(name) {
        NameOutcome::Known(reading) => reading,
        other => panic!("{name}: {other:?}"),
    }
}

fn any(dictionary: &Dictionary, name: &str) -> NameReading {
    match dictionary.resolve(name) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => reading,
        other @ NameOutcome::Unknown { .. } => panic!("{name}: {other:?}"),
    }
}

/// The value in the preferred unit of what `name` and `unit` say.
fn value(dictionary: &Dictionary, name: &str, unit: &str, value: f64) -> Result<f64, UnitFault> {
    let reading = dictionary.read_unit(unit)?;
    Ok(dictionary.convert(&any(dictionary, name), &reading)?.apply(value))
}

fn near(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

fn in_force(dictionary: &Dictionary, set: &str, id: &str, as_of: &str) -> Vec<Benchmark> {
    let analyte = dictionary.analytes().find(id).unwrap();
    let all = dictionary.benchmarks().in_force(&[set.to_owned()], day(as_of));
    all.into_iter().filter(|b| b.analyte == analyte).collect()
}

fn max(dictionary: &Dictionary, set: &str, id: &str, as_of: &str) -> f64 {
    let found = in_force(dictionary, set, id, as_of);
    match found.as_slice() {
        [Benchmark { kind: BenchmarkKind::Max { limit }, .. }] => *limit,
        other => panic!("{set} {id}: {other:?}"),
    }
}

/// 40 CFR 141.62(b), 141.66, 141.80(c) and 141.61(a), (c).
#[test]
fn limits_of_the_federal_rules() {
    let d = dictionary();
    let at = "2025-12-31";
    assert_eq!(max(&d, "us-mcl", "arsenic", at), 10.0, "0.010 mg/L in ug/L");
    assert_eq!(max(&d, "us-mcl", "nitrate_as_n", at), 10.0);
    assert_eq!(max(&d, "us-mcl", "nitrite_as_n", at), 1.0);
    assert_eq!(max(&d, "us-mcl", "fluoride", at), 4.0);
    assert_eq!(max(&d, "us-mcl", "uranium", at), 30.0);
    assert_eq!(max(&d, "us-mcl", "radium_226_228", at), 5.0);
    assert_eq!(max(&d, "us-mcl", "benzene", at), 5.0);
    assert_eq!(max(&d, "us-mcl", "atrazine", at), 3.0);
    assert_eq!(max(&d, "us-mcl", "pfoa", at), 4.0);
    assert_eq!(max(&d, "us-action-level", "copper", at), 1.3);
}

/// 40 CFR 141.80(c): 0.015 mg/L; 0.010 mg/L from 2027-11-01 (89 FR 86418).
#[test]
fn the_lead_action_level_changes_on_its_day() {
    let d = dictionary();
    for id in ["lead", "lead_first_draw"] {
        assert_eq!(max(&d, "us-action-level", id, "2027-10-31"), 15.0);
        assert_eq!(max(&d, "us-action-level", id, "2027-11-01"), 10.0);
        assert!(in_force(&d, "us-action-level", id, "1990-01-01").is_empty());
    }
}

/// WHO guideline for nitrate: 50 mg/L as NO3, 11.3 mg/L as N (fact sheet of the guidelines, from memory).
/// Directive (EU) 2020/2184: nitrite 0.50 mg/L as NO2.
#[test]
fn limits_on_another_basis_judge_the_main_analyte() {
    let d = dictionary();
    near(max(&d, "who-guideline", "nitrate_as_n", "2025-12-31"), 11.3, 0.001);
    near(max(&d, "eu-parametric", "nitrite_as_n", "2025-12-31"), 0.50 * 14.007 / 46.005, 1e-12);
}

#[test]
fn ranges_absence_proposals_and_lent_limits() {
    let d = dictionary();
    let ph = in_force(&d, "us-secondary", "ph", "2025-12-31");
    assert_eq!(ph.len(), 1, "40 CFR 143.3: 6.5 to 8.5");
    assert_eq!(ph[0].kind, BenchmarkKind::Range { low: 6.5, high: 8.5 });
    let coliform = in_force(&d, "us-mcl", "total_coliform", "2025-12-31");
    assert_eq!(coliform[0].kind, BenchmarkKind::Absent);
    assert!(in_force(&d, "us-health-advisory", "radon_222", "2025-12-31").is_empty(), "a proposal");
    assert_eq!(in_force(&d, "us-health-advisory", "manganese", "2025-12-31").len(), 2);
    // 40 CFR 141.66(c): 15 pCi/L, of gross alpha less uranium and radon; the plain figure is an upper bound.
    let alpha = in_force(&d, "us-mcl", "gross_alpha", "2025-12-31");
    assert_eq!(alpha[0].kind, BenchmarkKind::Max { limit: 15.0 });
    assert!(alpha[0].lent_by.is_some() && alpha[0].note.contains("upper bound"));
    // WHO has a screening value for gross alpha itself, 0.5 Bq/L.
    near(max(&d, "who-guideline", "gross_alpha", "2025-12-31"), 0.5 / 0.037, 1e-12);
}

/// Every name of the table leads back to its own analyte, ways to report to the main one.
#[test]
fn every_name_means_its_own_analyte() {
    let d = dictionary();
    for (id, entry) in d.analytes().iter().chain(d.analytes().ways()) {
        for name in [&entry.id, &entry.display_name].into_iter().chain(&entry.synonyms) {
            assert_eq!(any(&d, name).analyte, id, "{name} of {}", entry.id);
        }
    }
}

#[test]
fn laboratories_spell_as_they_like() {
    let d = dictionary();
    let same = [
        ("COLIFORMS TOTAL", "total_coliform"),
        ("total coliform", "total_coliform"),
        ("Coliform", "total_coliform"),
        ("E COLI", "e_coli"),
        ("Ecoli", "e_coli"),
        ("Escherichia coli (E. coli)", "e_coli"),
        ("HARDNESS (AS CACO3)", "hardness_as_caco3"),
        ("Hardness", "hardness_as_caco3"),
        ("SOLIDS DISSOLVED", "total_dissolved_solids"),
        ("Solids, Total Dissolved (TDS)", "total_dissolved_solids"),
        ("ARSENIC TOTAL", "arsenic"),
        ("Arsenic (As)", "arsenic"),
        ("As", "arsenic"),
        ("As, dissolved", "arsenic_dissolved"),
        ("URANIUM TOTAL", "uranium"),
        ("lead", "lead"),
        ("LEAD TOTAL", "lead"),
        ("Total Lead", "lead"),
        ("COPPER TOTAL", "copper"),
        ("MANGANESE TOTAL", "manganese"),
        ("IRON TOTAL", "iron"),
        ("PH", "ph"),
        ("Gross Alpha", "gross_alpha"),
        ("GROSS ALPHA", "gross_alpha"),
        ("7440-38-2", "arsenic"),
        ("Trichloroethylene (TCE)", "trichloroethylene"),
        ("1,2,4 trimethylbenzene", "1_2_4_trimethylbenzene"),
        ("Ra226", "radium_226"),
        ("Oxygen, Dissolved", "dissolved_oxygen"),
        ("Lead (first draw)", "lead_first_draw"),
        ("Copper, total (first draw)", "copper_first_draw"),
        ("Silicon", "silica_as_sio2"),
    ];
    for (name, id) in same {
        assert_eq!(d.analytes().id(known(&d, name).analyte), id, "{name}");
    }
    for (name, id) in [("NITRITE-N", "nitrite_as_n"), ("NO3-N", "nitrate_as_n"), ("N, Nitrate", "nitrate_as_n")] {
        let reading = known(&d, name);
        assert_eq!((d.analytes().id(reading.analyte), d.bases().name(reading.basis.unwrap())), (id, "N"), "{name}");
    }
    assert_eq!(known(&d, "Arsenic, dissolved").fraction, Some(Fraction::Dissolved));
    assert_eq!(known(&d, "Iron, total").fraction, Some(Fraction::Total));
}

#[test]
fn names_without_a_basis_need_one() {
    let d = dictionary();
    for name in [
        "NITRATE",
        "Nitrate",
        "NO3",
        "Nitrite",
        "NO2",
        "Ammonia",
        "NH3",
        "NH4",
        "Ammonium",
        "PO4",
        "Phosphate",
        "Nitrate (NO3)",
        "14797-55-8",
    ] {
        assert!(matches!(d.resolve(name), NameOutcome::NeedsBasis(_)), "{name}: {:?}", d.resolve(name));
        assert_eq!(value(&d, name, "mg/L", 1.0), Err(UnitFault::BasisMissing), "{name}");
    }
    assert_eq!(value(&d, "Nitrate as N", "mg/L as NO3", 1.0), Err(UnitFault::BasisMissing), "they disagree");
    assert_eq!(value(&d, "Nitrate as N", "mg/L as N", 3.0), Ok(3.0));
}

#[test]
fn ambiguous_or_strange_names_stay_unknown() {
    let d = dictionary();
    for name in [
        "",
        "Cyanide",
        "57-12-5",
        "Dissolved organic carbon",
        "Total solids",
        "Phosphorus, dissolved",
        "Total chlorine",
        "7440-38-3",
        "Total phosphate",
        "Phosphates, total as PO4",
        "TH",
    ] {
        assert!(matches!(d.resolve(name), NameOutcome::Unknown { .. }), "{name}: {:?}", d.resolve(name));
    }
    let NameOutcome::Unknown { nearest } = d.resolve("Arsnic") else { panic!() };
    assert_eq!(nearest[0], "arsenic");
}

/// 10 mg/L as N is 44.3 mg/L as NO3 (40 CFR 141.62 in the wording of most state pages; from memory); the
/// digits from IUPAC conventional atomic weights N 14.007, O 15.999.
#[test]
fn nitrate_as_no3_is_44_3() {
    let d = dictionary();
    near(value(&d, "Nitrate", "mg/L as NO3", 44.266_438_209_466_69).unwrap(), 10.0, 1e-9);
    near(value(&d, "NITRATE (AS NO3)", "mg/L", 44.3).unwrap(), 10.0, 0.001);
    near(value(&d, "Nitrite", "mg/L as NO2", 1.0).unwrap(), 14.007 / 46.005, 1e-12);
    near(value(&d, "Ammonium as NH4", "mg/L", 1.0).unwrap(), 14.007 / 18.039, 1e-12);
    near(value(&d, "Nitrate", "mmol/L", 1.0).unwrap(), 14.007, 1e-12);
}

/// Grain 64.79891 mg and US gallon 3.785411784 L are exact by definition (NIST SP 811, appendix B); hence
/// 17.118 mg/L in a grain per gallon. Curie 3.7e10 Bq exactly (same table).
#[test]
fn grains_curies_and_siemens() {
    let d = dictionary();
    near(value(&d, "Hardness", "grains/gal", 1.0).unwrap(), 17.118, 1e-5);
    near(value(&d, "Hardness", "grains/gal", 10.0).unwrap(), 171.180_610_452_709_5, 1e-12);
    near(value(&d, "Gross alpha", "Bq/L", 0.037).unwrap(), 1.0, 1e-12);
    near(value(&d, "Radon", "Bq/m3", 37.0).unwrap(), 1.0, 1e-12);
    near(value(&d, "Conductivity", "umhos/cm", 512.0).unwrap(), 512.0, 1e-12);
    near(value(&d, "Conductivity", "mS/m", 51.2).unwrap(), 512.0, 1e-12);
    near(value(&d, "Temperature", "°F", 50.0).unwrap(), 10.0, 1e-12);
}

/// Milliequivalents in a milligram: USGS Water-Supply Paper 2254 (Hem 1985), table 9 (from memory).
#[test]
fn milliequivalents_of_the_ions() {
    let d = dictionary();
    for (name, meq) in [
        ("Calcium", 0.04990),
        ("Magnesium", 0.08229),
        ("Sodium", 0.04350),
        ("Potassium", 0.02558),
        ("Bicarbonate", 0.01639),
        ("Carbonate", 0.03333),
        ("Sulfate", 0.02082),
        ("Chloride", 0.02821),
        ("Fluoride", 0.05264),
    ] {
        near(value(&d, name, "meq/L", meq).unwrap(), 1.0, 1e-3);
    }
    near(value(&d, "Nitrate as N", "meq/L", 0.01613).unwrap() * 62.004 / 14.007, 1.0, 1e-3);
}

/// Hardness = 2.497 Ca + 4.118 Mg (Standard Methods 2340 B, from memory); bicarbonate x 0.8202 as CaCO3
/// (Hem 1985, page 57, as cited in USGS WRIR 02-4045); 1.116 from 20 to 25 C (ISO 7888, from memory).
#[test]
fn carbonates_and_conductance() {
    let d = dictionary();
    near(value(&d, "Calcium hardness", "mg/L", 2.497).unwrap(), 1.0, 2e-4);
    near(value(&d, "Magnesium as CaCO3", "mg/L", 4.118).unwrap(), 1.0, 2e-4);
    near(value(&d, "Alkalinity", "mg/L as HCO3", 1.0).unwrap(), 0.8202, 1e-4);
    near(value(&d, "Alkalinity", "meq/L", 2.0).unwrap(), 100.086, 1e-9);
    near(value(&d, "Hardness", "°dH", 1.0).unwrap(), 17.848, 1e-4);
    near(max(&d, "eu-parametric", "conductivity", "2025-12-31"), 2790.0, 1e-3);
}

/// Every unit that fits an analyte leads back to where it came from.
#[test]
fn there_and_back_again() {
    let d = dictionary();
    let mut chains = 0;
    for (id, entry) in d.analytes().iter() {
        for (unit, _) in d.units().iter() {
            let reading = d.units().reading(unit, entry.own_basis);
            let Ok(change) = d.factor(id, &reading) else {
                continue;
            };
            near(change.inverse().apply(change.apply(7.3)), 7.3, 1e-12);
            chains += 1;
        }
    }
    assert!(chains > 1500, "{chains}");
}

/// No text, however strange, does anything but be read or not.
#[test]
fn strange_text_is_only_unknown() {
    let d = dictionary();
    for text in [
        "µ",
        "as",
        "as as as",
        "(",
        ")(",
        "[µ]/",
        "/",
        "é",
        "\u{0}",
        "as N",
        "total",
        "first draw",
        "%",
        "mg/",
        "/L",
        "−",
        "ug/L as",
        "💧/L as N",
    ] {
        let _ = (
            d.resolve(text),
            d.read_unit(text),
            lookup(&d, Topic::Analytes, Some(text)),
            lookup(&d, Topic::Units, Some(text)),
        );
    }
}

#[test]
fn what_does_not_fit_is_never_bent() {
    let d = dictionary();
    for (name, unit) in [
        ("Uranium", "pCi/L"),
        ("Arsenic", "pCi/L"),
        ("Gross Alpha", "mg/L"),
        ("pH", "mg/L"),
        ("Lead", "NTU"),
        ("E. coli", "mg/L"),
        ("Chloride", "pCi/L"),
        ("Atrazine", "mg/L as N"),
        ("Nitrate as N", "gpg"),
        ("Nitrate", "pCi/L"),
    ] {
        assert_eq!(value(&d, name, unit, 1.0), Err(UnitFault::DoesNotFit), "{name} in {unit}");
    }
    for unit in ["", "furlongs", "mg", "L", "as N", "parts"] {
        assert_eq!(d.read_unit(unit), Err(UnitFault::Unknown), "{unit}");
    }
}

#[test]
fn units_in_many_spellings() {
    let d = dictionary();
    let with_basis = [
        "mg/L as N",
        "mg/L-N",
        "mg N/L",
        "mg-N/L",
        "mgN/L",
        "mg{N}/L",
        "mg/L (as N)",
        "MG/L AS N",
        "mg/L N",
        "mg/L NO3-N",
        "mg NO3-N/L",
        "mg/l as nitrogen",
    ];
    for text in with_basis {
        let reading = d.read_unit(text).unwrap();
        assert_eq!(
            (d.units().name(reading.unit), reading.basis.map(|b| d.bases().name(b))),
            ("mg/L", Some("N")),
            "{text}"
        );
    }
    for (text, unit) in [
        ("MG/L", "mg/L"),
        ("milligrams per liter", "mg/L"),
        ("\u{b5}g/L", "ug/L"),
        ("\u{3bc}g/L", "ug/L"),
        ("mcg/L", "ug/L"),
        ("UG/L", "ug/L"),
        ("mg L\u{207b}\u{b9}", "mg/L"),
        ("CFU/100ml", "CFU/100mL"),
        ("MPN/100 mL", "MPN/100mL"),
        ("P/A", "present"),
        ("Presence/Absence", "present"),
        ("SU", "pH"),
        ("pH units", "pH"),
        ("s.u.", "pH"),
        ("grains/gal", "gpg"),
        ("PCI/L", "pCi/L"),
        ("mBq/L", "mBq/L"),
        ("MBq/L", "MBq/L"),
        ("mgs/L", "mg/L"),
        ("umhos/cm", "umho/cm"),
        ("\u{b5}S/cm @ 25 °C", "uS/cm"),
        ("mg/l (as CaCO3)", "mg/L"),
        ("mg/L CaCO3", "mg/L"),
        ("mg CaCO3/L", "mg/L"),
        ("[ppb]", "ppb"),
    ] {
        assert_eq!(d.units().name(d.read_unit(text).unwrap().unit), unit, "{text}");
    }
    assert!(d.read_unit("ppm").unwrap().mass_ratio && !d.read_unit("mg/L").unwrap().mass_ratio);
    assert!(d.read_unit("P/A").unwrap().presence);
    assert_eq!(value(&d, "Arsenic", "ppb", 3.0), Ok(3.0));
    assert_eq!(value(&d, "Arsenic", "ug/L as As", 3.0), Ok(3.0));
    assert_eq!(value(&d, "Iron", "ug/L", 3.0), Ok(0.003));
    assert_eq!(value(&d, "PFOA", "ug/L", 0.004), Ok(4.0));
    assert_eq!(value(&d, "E. coli", "P/A", 1.0), Ok(1.0));
}

#[test]
fn ph_and_bacteria_may_leave_the_unit_empty() {
    let d = dictionary();
    let id = |name| known(&d, name).analyte;
    assert!(d.unit_optional(id("pH")) && d.unit_optional(id("E. coli")) && !d.unit_optional(id("lead")));
    assert!(d.unit_when_empty(id("E. coli")).unwrap().presence);
    assert!(d.unit_when_empty(id("lead")).is_none());
    assert!(d.factor(id("pH"), &d.unit_when_empty(id("pH")).unwrap()).is_ok());
}

/// IUPAC conventional atomic weights (2021 table; from memory): the masses of the reported forms.
#[test]
fn molar_masses() {
    let d = dictionary();
    for (id, mass) in [
        ("nitrate_as_n", 14.007),
        ("arsenic", 74.922),
        ("lead", 207.2),
        ("copper", 63.546),
        ("iron", 55.845),
        ("manganese", 54.938),
        ("uranium", 238.029),
        ("calcium", 40.078),
        ("magnesium", 24.305),
        ("sodium", 22.990),
        ("chloride", 35.45),
        ("fluoride", 18.998),
        ("sulfate", 32.06 + 4.0 * 15.999),
        ("hardness_as_caco3", 40.078 + 12.011 + 3.0 * 15.999),
        ("bicarbonate", 1.008 + 12.011 + 3.0 * 15.999),
        ("benzene", 6.0 * 12.011 + 6.0 * 1.008),
        ("perchlorate", 35.45 + 4.0 * 15.999),
    ] {
        let analyte = d.analytes().find(id).unwrap();
        near(d.analytes().get(analyte).unwrap().molar_mass.unwrap(), mass, 1e-4);
    }
}

#[test]
fn bacteria_and_radionuclides_are_told_apart() {
    let d = dictionary();
    let entry = |id: &str| d.analytes().get(d.analytes().find(id).unwrap()).unwrap().clone();
    assert!(entry("e_coli").is_microbial() && !entry("lead").is_microbial());
    assert!(entry("gross_alpha").keeps_negative() && !entry("uranium").keeps_negative());
    assert_eq!(entry("e_coli").holding_hours, Some(30.0), "40 CFR 141.852(a)(3)");
    assert_eq!(entry("iron").kit.as_str(), "yes");
}

#[test]
fn a_county_file_is_read_or_told_line_by_line() {
    let mut d = dictionary();
    let good = "benchmark_set,analyte,limit,unit,basis,sense,effect,effective\n\
        larkmoor,Manganese,80,ug/L,,max,chronic-health,2020\n\
        larkmoor,Nitrate,22,mg/L,as NO3,max,acute-health,2021-05-01\n\
        larkmoor,Lead,5,ug/L,,max,chronic-health,2021\n";
    let limits = d.parse_benchmarks("county.csv", good).unwrap();
    d.add_benchmarks(limits);
    near(max(&d, "larkmoor", "manganese", "2025-01-01"), 0.08, 1e-12);
    near(max(&d, "larkmoor", "nitrate_as_n", "2025-01-01"), 22.0 * 14.007 / 62.004, 1e-12);
    assert_eq!(max(&d, "larkmoor", "lead_first_draw", "2025-01-01"), 5.0);
    let bad = "benchmark_set,analyte,limit,unit,sense,effect,effective\n\
        larkmoor,Manganse,80,ug/L,max,chronic-health,2020\n\
        larkmoor,Nitrate,10,mg/L,max,acute-health,2021\n\
        larkmoor,Iron,x,mg/L,max,aesthetic,2021\n";
    let faults = d.parse_benchmarks("county.csv", bad).unwrap_err();
    let told: Vec<(u64, &str)> = faults.iter().map(|f| (f.line, f.column.as_str())).collect();
    assert_eq!(told, [(2, "analyte"), (3, "unit"), (4, "limit")]);
    assert!(faults[0].would_do.contains("manganese"));
}

#[test]
fn what_is_used_is_defined() {
    let d = dictionary();
    let sets: BTreeSet<&str> = d.benchmarks().sets().iter().map(|set| set.id.as_str()).collect();
    let used: BTreeSet<&str> = d.benchmarks().all().iter().map(|b| b.set.as_str()).collect();
    assert_eq!(sets, used);
    for (id, entry) in d.analytes().iter() {
        let own = d.units().reading(entry.preferred_unit, entry.own_basis);
        assert_eq!(d.factor(id, &own).unwrap().apply(7.0), 7.0, "{}", entry.id);
        assert!(d.read_unit(&d.unit_text(id)).is_ok() || entry.group == "nutrient", "{}", d.unit_text(id));
    }
}

/// The columns of the exceedance and summary tables, and that every table has some.
/// What README.md says of how much is built in, and of how much of it was checked.
#[test]
fn the_readme_counts_what_is_there() {
    let rows = |name: &str| -> Vec<csv::StringRecord> {
        let text = std::fs::read_to_string(format!("data-dictionary/{name}")).unwrap();
        csv::Reader::from_reader(text.as_bytes()).records().map(Result::unwrap).collect()
    };
    let analytes = rows("analytes.csv").iter().filter(|row| row[10].is_empty()).count();
    let (limits, header) = (rows("benchmarks.csv"), std::fs::read_to_string("data-dictionary/benchmarks.csv").unwrap());
    let checked = header.lines().next().unwrap().split(',').position(|name| name == "checked").unwrap();
    let memory = limits.iter().filter(|row| &row[checked] == "memory").count();
    let words = |file: &str| std::fs::read_to_string(file).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    let readme = words("README.md");
    for said in [
        format!("Built-in: {analytes} analytes"),
        format!("{} limits in six sets", limits.len()),
        format!("**{memory} of those limits have not been checked"),
    ] {
        assert!(readme.contains(&said), "README.md should say: {said}");
    }
    let said =
        format!("Of the {} limits, {} are `published-text` and {memory} `memory`", limits.len(), limits.len() - memory);
    assert!(words("data-dictionary/README.md").contains(&said), "data-dictionary/README.md should say: {said}");
    assert!(words("DEVELOPERS.md").contains(&format!("{memory} of {} limits", limits.len())));
}

#[test]
fn columns_stand_in_their_order() {
    let d = dictionary();
    let names = |table| d.columns().of(table).map(|column| column.name.clone()).collect::<Vec<_>>().join(", ");
    assert_eq!(
        names("exceedance"),
        "area_id, area_name, analyte, benchmark_set, effect, limit, limit_low, unit, wells, exceeding, meeting, undetermined, rate, rate_low, rate_high, rate_floor, rate_ceiling, rate_smoothed, smoothed_low, smoothed_high, rate_equal_area, equal_area_low, equal_area_high, equal_area_wells, rate_censored, censored_low, censored_high, chance_worst_fifth, note"
    );
    assert_eq!(
        names("summary"),
        "area_id, area_name, analyte, unit, wells, detected, detected_share, limits, lowest_limit, highest_limit, lowest_detect, highest, mean, mean_low, mean_high, sd, p25, median, p75, p90, p95, mean_upper, median_low, median_high, p90_low, p90_high, p95_upper, lognormal_gap, gamma_gap, method, note"
    );
    assert_eq!(
        names("land-use"),
        "land_use, band, band_from, band_to, analyte, benchmark_set, effect, wells, exceeding, undetermined, rate, rate_low, rate_high, odds_ratio, odds_low, odds_high, fisher_p, fisher_q, trend_p, rank_p, rank_q, risk_ratio, risk_ratio_low, risk_ratio_high, risk_difference, risk_difference_low, risk_difference_high, fisher_mid_p, rank_trend_p, neighbour_p, neighbour_q, rank_neighbour_p, note"
    );
    assert_eq!(
        names("land-use-model"),
        "analyte, benchmark_set, effect, term, estimate, std_error, odds_ratio, odds_low, odds_high, p, q, wells, fit"
    );
    assert_eq!(
        names("recommend"),
        "area_id, area_name, analyte, advice, where_tested, how_often, chance_of_concern, expected_per_100, wells, evidence, because, price, in_words, limit_set, first_year, last_year, parts_sampled, more_wells_to_halve, more_wells_to_settle"
    );
    assert_eq!(
        names("outreach"),
        "rank, area_id, area_name, wells_on_record, wells_sampled, share_sampled, expected_wells_over, expected_low, expected_high, leading_analyte, because, rank_low, rank_high, households, expected_households_over, household_rank, infants, expected_infants_over, infant_rank"
    );
    assert_eq!(names("trend"), "area_id, analyte, wells, tau, slope_per_year, p, q, note, in_words");
    assert_eq!(
        names("period"),
        "area_id, area_name, analyte, benchmark_set, effect, wells_first, exceeding_first, rate_first, wells_second, exceeding_second, rate_second, difference, difference_low, difference_high, p, q, both, rose, fell, paired_p, paired_q, note"
    );
    assert_eq!(names("quality"), "check, subject, tested, failed, share, note");
    assert_eq!(names("set-aside"), "file, line, well, sample, analyte, value, reason");
    assert_eq!(names("accounting"), "stage, reason, results, wells");
    assert_eq!(d.reasons().all().len(), 24);
    assert_eq!(d.reasons().all()[0].reason, "no-well");
    assert_eq!(d.reasons().all()[23].reason, "repeat");
}

#[test]
fn terms_answer_like_a_dictionary() {
    let d = dictionary();
    let lead = lookup(&d, Topic::Analytes, Some("Pb"));
    for part in ["7439-92-1", "0.015 mg/L", "40 CFR 141.80(c)", "local health authority", "180 days"] {
        assert!(lead.contains(part), "{part} in {lead}");
    }
    assert!(lookup(&d, Topic::Units, Some("grains per gallon")).contains("gpg"));
    assert!(lookup(&d, Topic::Reasons, Some("basis")).contains("4.4 times"));
    assert!(lookup(&d, Topic::Columns, Some("rate_floor")).contains("exceeding / wells"));
    assert!(lookup(&d, Topic::Benchmarks, Some("arsenic")).contains("0.010 mg/L"));
    assert!(lookup(&d, Topic::Analytes, Some("arsnic")).contains("Nearest"));
    for topic in [Topic::Analytes, Topic::Units, Topic::Benchmarks, Topic::Columns, Topic::Reasons] {
        assert!(lookup(&d, topic, None).lines().count() > 20);
    }
}

/// What a survey's advice must know of land uses: the built-in table has it, and owns up to having no source.
#[test]
fn land_uses_speak_for_what_they_must() {
    let dictionary = dictionary();
    let links = |id: &str| dictionary.links().of(dictionary.analytes(), dictionary.analytes().find(id).unwrap());
    let wanted: [(&str, &[&str]); 5] = [
        ("farming", &["nitrate_as_n", "atrazine", "alachlor", "glyphosate", "2_4_d", "pesticides_total"]),
        ("fuel", &["benzene", "toluene", "ethylbenzene", "xylenes_total", "mtbe", "tert_butyl_alcohol"]),
        ("septic", &["total_coliform", "e_coli", "nitrate_as_n", "chloride", "boron"]),
        (
            "industry",
            &["trichloroethylene", "tetrachloroethylene", "1_1_1_trichloroethane", "pfoa", "pfos", "pfas_hazard_index"],
        ),
        ("plumbing", &["lead", "lead_first_draw", "copper", "copper_first_draw"]),
    ];
    for (land_use, analytes) in wanted {
        for analyte in analytes {
            assert!(links(analyte).contains(&land_use), "{land_use}: {analyte}");
        }
    }
    for (id, entry) in dictionary.analytes().iter().filter(|(_, entry)| entry.group == "pfas") {
        assert!(dictionary.links().of(dictionary.analytes(), id).contains(&"industry"), "{}", entry.id);
    }
    let table =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/data-dictionary/landuse-links.csv")).unwrap();
    assert!(table.lines().skip(1).all(|line| line.contains("common practice, no source")));
}
