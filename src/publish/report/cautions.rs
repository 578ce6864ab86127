//! The cautions that go with every word about exceedance.
//!
//! The page says all of [`CAUTIONS`] at its head; every section with exceedances repeats [`SHORT_CAUTION`] and what
//! its tests call for, because a section may be printed or quoted alone.

/// All cautions, in plain words.
pub const CAUTIONS: [&str; 5] = [
    "The results describe the wells that were sampled, not every well. A well next door can be quite different.",
    "The limits used here are made for public water supplies. For a private well they are yardsticks, not rules.",
    "Only a certified laboratory result, together with the local health authority or a licensed well or treatment \
     professional, can say what a household should do.",
    "If E. coli is present in the water of a well, do not drink it or bathe in it until that advice is had.",
    "Boiling does not remove nitrate, metals or other chemicals: it concentrates them.",
];

/// The caution of every section with exceedances.
pub const SHORT_CAUTION: &str = "These figures describe sampled wells, not every well, and the limits are yardsticks made for public supplies. \
     Only a certified laboratory result and the local health authority or a licensed well or treatment professional \
     can say what a household should do.";

/// E. coli present.
const GERMS: &str = CAUTIONS[3];
/// Boiling and chemicals.
const BOILING: &str = CAUTIONS[4];
/// Nitrate and infants. Source: health effects language of 40 CFR part 141, subpart Q, appendix B (from memory).
const INFANTS: &str = "Nitrate or nitrite above the limit is most dangerous to infants under six months: do not give them such water or formula made with it, and ask the local health authority at once.";
/// Lead and children. Source: the goal for lead in 40 CFR 141.51 is zero (from memory).
const LEAD: &str =
    "No amount of lead is known to be safe for children. Ask the local health authority about every lead result.";

/// The cautions for a section that speaks of these analytes (dictionary ids): [`SHORT_CAUTION`] first.
pub fn cautions_for<'a>(analytes: impl IntoIterator<Item = &'a str>) -> Vec<&'static str> {
    let mut germs = false;
    let mut others: Vec<&'static str> = Vec::new();
    for id in analytes {
        let here: &[&'static str] = match id {
            "e_coli" | "total_coliform" | "fecal_coliform" | "enterococci" => {
                germs = true;
                &[]
            }
            "nitrate_as_n" | "nitrite_as_n" | "nitrate_plus_nitrite_as_n" | "nitrate_nitrite_ratio_sum" => {
                &[INFANTS, BOILING]
            }
            "lead" | "lead_first_draw" | "lead_dissolved" => &[LEAD, BOILING],
            _ => &[BOILING],
        };
        let new: Vec<&'static str> = here.iter().filter(|text| !others.contains(text)).copied().collect();
        others.extend(new);
    }
    let mut all = vec![SHORT_CAUTION];
    all.extend(germs.then_some(GERMS));
    all.extend(others);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_test_brings_its_cautions_once() {
        assert_eq!(cautions_for(["e_coli"]), [SHORT_CAUTION, GERMS]);
        assert_eq!(cautions_for(["nitrate_as_n", "arsenic", "nitrate_as_n"]), [SHORT_CAUTION, INFANTS, BOILING]);
        assert_eq!(cautions_for(["lead", "e_coli"]), [SHORT_CAUTION, GERMS, LEAD, BOILING]);
        assert_eq!(cautions_for([]), [SHORT_CAUTION]);
    }
}
