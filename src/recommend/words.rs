//! Names and numbers as one would say them to well owners.

use crate::dictionary::{BenchmarkKind, Dictionary};
use crate::ids::AnalyteId;
use crate::publish::number::text;

/// A test's name inside a sentence: `arsenic`, `E. coli`, `nitrate`, `lead in first-draw water`.
pub fn spoken(dictionary: &Dictionary, analyte: AnalyteId) -> String {
    let Some(entry) = dictionary.analytes().get(analyte) else { return String::new() };
    if let Some(parent) = entry.first_draw_of {
        return format!("{} in first-draw water (the first from the tap in the morning)", spoken(dictionary, parent));
    }
    if entry.id == "e_coli" {
        return "E. coli".to_owned();
    }
    if entry.id == "mtbe" {
        return "MTBE (a fuel additive)".to_owned();
    }
    if entry.group == "pfas" && entry.id.len() <= 6 {
        return format!("{} (one of the PFAS)", entry.id.to_uppercase());
    }
    let tails = [", as ", ", total", ", mass", ", dissolved"];
    let heads = tails.iter().filter_map(|tail| Some(entry.display_name.split_once(tail)?.0));
    lower(heads.min_by_key(|head| head.len()).unwrap_or(&entry.display_name))
}

/// Small at the start, also behind a chemical prefix (`1,2-Dichloroethane`), unless the first word is an abbreviation.
fn lower(name: &str) -> String {
    let prefix: String = name.chars().take_while(|c| c.is_ascii_digit() || matches!(c, ',' | '-')).collect();
    let mut chars = name.chars().skip(prefix.chars().count());
    match (chars.next(), chars.next()) {
        (Some(first), Some(second)) if second.is_lowercase() => {
            let rest = first.to_lowercase().chain(std::iter::once(second)).chain(chars);
            prefix.chars().chain(rest).collect()
        }
        _ => name.to_owned(),
    }
}

/// Large at the start; `pH` and chemical prefixes stay as they are.
pub fn capitalised(sentence: &str) -> String {
    if sentence.starts_with("pH") {
        return sentence.to_owned();
    }
    let mut chars = sentence.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}

/// A share in words: whole percents.
pub fn percent(share: f64) -> String {
    match share * 100.0 {
        p if p <= 0.0 => "0 %".to_owned(),
        p if p < 1.0 => "under 1 %".to_owned(),
        p if p > 99.0 && p < 100.0 => "over 99 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

/// A chance in words: as a share, but never a certainty.
pub fn chance(chance: f64) -> String {
    percent(chance.clamp(0.001, 0.999))
}

/// How many in a hundred: `about 12 in 100`, `fewer than 1 in 100`.
pub fn in_100(share: f64) -> String {
    match share * 100.0 {
        n if n < 1.0 => "fewer than 1 in 100".to_owned(),
        n => format!("about {n:.0} in 100"),
    }
}

/// What passing a limit is, after "was": `above 10 ug/L`, `outside 6.5 to 8.5`.
pub fn over(dictionary: &Dictionary, analyte: AnalyteId, kind: BenchmarkKind) -> String {
    let unit = dictionary.unit_text(analyte);
    let said = match kind {
        BenchmarkKind::Absent => return "found".to_owned(),
        BenchmarkKind::Max { limit } => format!("above {} {unit}", text(limit)),
        BenchmarkKind::Range { low, high } if low.is_infinite() => format!("above {} {unit}", text(high)),
        BenchmarkKind::Range { low, high } if high.is_infinite() => format!("below {} {unit}", text(low)),
        BenchmarkKind::Range { low, high } if unit == "pH" => format!("outside pH {} to {}", text(low), text(high)),
        BenchmarkKind::Range { low, high } => format!("outside {} to {} {unit}", text(low), text(high)),
    };
    said.trim_end().to_owned()
}

/// `1 well`, `7 wells`.
pub fn wells(count: u32) -> String {
    if count == 1 { "1 well".to_owned() } else { format!("{count} wells") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_as_one_says_them() {
        let dictionary = Dictionary::built_in().unwrap();
        let said = |id: &str| spoken(&dictionary, dictionary.analytes().find(id).unwrap());
        assert_eq!(said("nitrate_as_n"), "nitrate");
        assert_eq!(said("e_coli"), "E. coli");
        assert_eq!(said("ph"), "pH");
        assert_eq!([said("2_4_d"), said("1_2_dichloroethane")], ["2,4-D", "1,2-dichloroethane"]);
        assert_eq!(said("pfoa"), "PFOA (one of the PFAS)");
        assert_eq!([said("uranium"), said("hardness_as_caco3")], ["uranium", "hardness"]);
        assert_eq!(said("xylenes_total"), "xylenes");
        assert_eq!(said("lead_first_draw"), "lead in first-draw water (the first from the tap in the morning)");
        assert_eq!([in_100(0.004), in_100(0.119)], ["fewer than 1 in 100", "about 12 in 100"]);
        assert_eq!([chance(1.0), chance(0.0), percent(0.07)], ["over 99 %", "under 1 %", "7 %"]);
    }
}
