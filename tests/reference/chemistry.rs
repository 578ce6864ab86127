//! 19: major ions. One case is a list of conversions, told apart by their words.

use serde_json::{Map, Value, json};
use wellreeve::methods::chemistry::{
    Solute, bicarbonate_of_alkalinity, dissolved_solids, hardness, hardness_from_masses, ion_balance, nitrate_as_n,
    nitrate_as_no3,
};

use crate::report::{self, Report};

pub fn run(file: &Value, report: &mut Report) {
    for case in report::cases(file) {
        let got = match &case["data"] {
            Value::Array(list) => list.iter().map(converted).collect(),
            sample => figures(sample.as_object().expect("a sample")),
        };
        report.check(case, &got);
    }
}

fn figures(data: &Map<String, Value>) -> Value {
    let sample: Vec<(Solute, f64)> = data.iter().map(|(name, mg)| (solute(name), report::read(mg))).collect();
    let charged = data.iter().filter(|(name, _)| solute(name).mass_and_charge().1 != 0);
    let meq: Map<String, Value> =
        charged.map(|(name, mg)| (name.clone(), json!(solute(name).milliequivalents(report::read(mg))))).collect();
    let of = |name: &str| data.get(name).map_or(0.0, report::read);
    let balance = ion_balance(&sample).expect("a balance");
    json!({
        "meq": meq,
        "cations_meq": balance.cations, "anions_meq": balance.anions, "balance_percent": balance.percent,
        "dissolved_solids_sum": report::maybe(dissolved_solids(&sample)),
        "hardness_as_caco3": hardness(of("calcium"), of("magnesium")),
        "hardness_from_masses": hardness_from_masses(of("calcium"), of("magnesium")),
    })
}

fn solute(name: &str) -> Solute {
    match name {
        "calcium" => Solute::Calcium,
        "magnesium" => Solute::Magnesium,
        "sodium" => Solute::Sodium,
        "potassium" => Solute::Potassium,
        "bicarbonate" => Solute::Bicarbonate,
        "carbonate" => Solute::Carbonate,
        "sulfate" => Solute::Sulfate,
        "chloride" => Solute::Chloride,
        "nitrate_as_no3" => Solute::NitrateAsNo3,
        "nitrate_as_n" => Solute::NitrateAsN,
        "fluoride" => Solute::Fluoride,
        "silica_as_sio2" => Solute::SilicaAsSio2,
        other => panic!("no solute {other}"),
    }
}

fn converted(one: &Value) -> Value {
    let x = report::read(&one["in"]);
    json!(match one["what"].as_str().expect("words") {
        "mg/L NO3 as N" | "mg/L NO3 at the WHO limit as N" => nitrate_as_n(x),
        "mg/L N as NO3" => nitrate_as_no3(x),
        // Hem's printed factor and the grain are held here: the program itself converts by the masses and by its dictionary.
        "mg/L alkalinity as CaCO3 to bicarbonate, Hem factor 0.8202" => x / 0.8202,
        "mg/L alkalinity as CaCO3 to bicarbonate, from masses" => bicarbonate_of_alkalinity(x),
        "grains per US gallon to mg/L" => x * 64.79891 / 3.785411784,
        other => panic!("no conversion {other}"),
    })
}
