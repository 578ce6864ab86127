//! Major ions of one water sample into charge balance, hardness and the sum of dissolved solids: checks on the analysis itself.
//!
//! A reader would question a balance made of few ions. It is still given, since hiding it would hide the gap, but with the list of
//! major ions that were missing. A non-detect has no single value: give the limit once and zero once to see what it can change.

/// What a sample was analysed for, in mg/L of the named form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Solute {
    /// Ca, charge +2.
    Calcium,
    /// Mg, charge +2.
    Magnesium,
    /// Na, charge +1.
    Sodium,
    /// K, charge +1.
    Potassium,
    /// HCO3, charge -1.
    Bicarbonate,
    /// CO3, charge -2.
    Carbonate,
    /// SO4, charge -2.
    Sulfate,
    /// Cl, charge -1.
    Chloride,
    /// NO3 reported as NO3, charge -1.
    NitrateAsNo3,
    /// NO3 reported as N, charge -1.
    NitrateAsN,
    /// F, charge -1.
    Fluoride,
    /// SiO2, without charge.
    SilicaAsSio2,
}

/// Molar masses in g/mol, of IUPAC standard atomic weights rounded to three decimals.
const MASS_NITROGEN: f64 = 14.007;
const MASS_NITRATE: f64 = 62.004;
const MASS_BICARBONATE: f64 = 61.016;
const MASS_CARBONATE: f64 = 60.008;
const MASS_CALCIUM: f64 = 40.078;
const MASS_MAGNESIUM: f64 = 24.305;
const MASS_CALCIUM_CARBONATE: f64 = 100.086;

/// mg/L of CaCO3 for one mg/L of calcium and of magnesium, as laboratories use them (common practice; Hem 1985).
const HARDNESS_CALCIUM: f64 = 2.497;
const HARDNESS_MAGNESIUM: f64 = 4.118;

/// Ions without which a balance says little (common practice, no source).
const MAJOR: [Solute; 6] =
    [Solute::Calcium, Solute::Magnesium, Solute::Sodium, Solute::Bicarbonate, Solute::Sulfate, Solute::Chloride];

impl Solute {
    /// Molar mass of the reported form, g/mol, and its charge.
    pub fn mass_and_charge(self) -> (f64, i8) {
        match self {
            Solute::Calcium => (MASS_CALCIUM, 2),
            Solute::Magnesium => (MASS_MAGNESIUM, 2),
            Solute::Sodium => (22.990, 1),
            Solute::Potassium => (39.098, 1),
            Solute::Bicarbonate => (MASS_BICARBONATE, -1),
            Solute::Carbonate => (MASS_CARBONATE, -2),
            Solute::Sulfate => (96.056, -2),
            Solute::Chloride => (35.450, -1),
            Solute::NitrateAsNo3 => (MASS_NITRATE, -1),
            Solute::NitrateAsN => (MASS_NITROGEN, -1),
            Solute::Fluoride => (18.998, -1),
            Solute::SilicaAsSio2 => (60.083, 0),
        }
    }

    /// Milliequivalents a litre of `mg_per_l`, above 0 for cations and anions alike.
    pub fn milliequivalents(self, mg_per_l: f64) -> f64 {
        let (mass, charge) = self.mass_and_charge();
        mg_per_l / mass * f64::from(charge.abs())
    }
}

/// Charges of a sample.
#[derive(Clone, Debug, PartialEq)]
pub struct IonBalance {
    /// Sum over cations, meq/L.
    pub cations: f64,
    /// Sum over anions, meq/L.
    pub anions: f64,
    /// 100 (cations - anions) / (cations + anions), -100 to 100.
    pub percent: f64,
    /// Major ions that were not given: with any of these the balance says little.
    pub missing: Vec<Solute>,
}

/// Charge balance.
///
/// # Computes
/// 100 (cations - anions) / (cations + anions), both in meq/L.
/// # Takes
/// mg/L by solute, each once and in any order; absent solutes count as nothing and are listed. Nitrate once, either way.
/// # Gives
/// The balance; `None` without any charge, or where a concentration is below 0 or no finite number.
/// # Errors
/// None.
/// # Conventions
/// The difference over the sum, not over half the sum.
/// # Source
/// Hem 1985, US Geological Survey Water-Supply Paper 2254, page 164 (from memory).
/// # Checked against
/// `19-water-chemistry.json`.
pub fn ion_balance(sample: &[(Solute, f64)]) -> Option<IonBalance> {
    if !usable(sample) {
        return None;
    }
    let sum = |sign: i8| -> f64 {
        let charged = sample.iter().filter(|(s, _)| s.mass_and_charge().1.signum() == sign);
        charged.map(|(s, mg)| s.milliequivalents(*mg)).sum()
    };
    let (cations, anions) = (sum(1), sum(-1));
    let missing = MAJOR.into_iter().filter(|m| sample.iter().all(|(s, _)| s != m)).collect();
    let percent = 100.0 * (cations - anions) / (cations + anions);
    percent.is_finite().then_some(IonBalance { cations, anions, percent, missing })
}

/// Sum of dissolved solids, mg/L.
///
/// # Computes
/// The sum of the solutes as they stay behind on drying: bicarbonate as half a carbonate (0.4917 of it), nitrate as the ion.
/// # Takes
/// As [`ion_balance`].
/// # Gives
/// mg/L, a lower figure the fewer solutes were analysed; `None` for an empty sample or one that is no number.
/// # Errors
/// None.
/// # Conventions
/// Silica counts as SiO2.
/// # Source
/// Hem 1985, US Geological Survey Water-Supply Paper 2254, page 157 (from memory).
/// # Checked against
/// `19-water-chemistry.json`.
pub fn dissolved_solids(sample: &[(Solute, f64)]) -> Option<f64> {
    let residue = |(solute, mg): &(Solute, f64)| match solute {
        Solute::Bicarbonate => mg * MASS_CARBONATE / (2.0 * MASS_BICARBONATE),
        Solute::NitrateAsN => nitrate_as_no3(*mg),
        _ => *mg,
    };
    let sum: f64 = sample.iter().map(residue).sum();
    (usable(sample) && !sample.is_empty() && sum.is_finite()).then_some(sum)
}

/// Hardness as mg/L of CaCO3.
///
/// # Computes
/// 2.497 Ca + 4.118 Mg.
/// # Takes
/// mg/L of calcium and magnesium.
/// # Gives
/// mg/L of CaCO3.
/// # Errors
/// None.
/// # Conventions
/// Calcium and magnesium alone, with the factors laboratories use; see [`hardness_from_masses`].
/// # Source
/// Standard Methods for the Examination of Water and Wastewater, 2340 B (from memory).
/// # Checked against
/// `19-water-chemistry.json`.
pub fn hardness(calcium: f64, magnesium: f64) -> f64 {
    HARDNESS_CALCIUM * calcium + HARDNESS_MAGNESIUM * magnesium
}

/// [`hardness`] from the molar masses themselves.
pub fn hardness_from_masses(calcium: f64, magnesium: f64) -> f64 {
    MASS_CALCIUM_CARBONATE * (calcium / MASS_CALCIUM + magnesium / MASS_MAGNESIUM)
}

/// mg/L of nitrate as N into mg/L of nitrate as NO3.
pub fn nitrate_as_no3(as_n: f64) -> f64 {
    as_n * MASS_NITRATE / MASS_NITROGEN
}

/// mg/L of nitrate as NO3 into mg/L of nitrate as N.
pub fn nitrate_as_n(as_no3: f64) -> f64 {
    as_no3 * MASS_NITROGEN / MASS_NITRATE
}

/// mg/L of alkalinity as CaCO3 into mg/L of bicarbonate, where no carbonate is present, from the molar masses.
pub fn bicarbonate_of_alkalinity(as_caco3: f64) -> f64 {
    as_caco3 * 2.0 * MASS_BICARBONATE / MASS_CALCIUM_CARBONATE
}

fn usable(sample: &[(Solute, f64)]) -> bool {
    sample.iter().all(|(_, mg)| mg.is_finite() && *mg >= 0.0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Sample 2 of US Geological Survey WRIR 02-4045, Table 4: solids 4020, hardness 2500, both from rounded inputs.
    #[test]
    fn a_printed_analysis() {
        let sample = [
            (Solute::Calcium, 550.0),
            (Solute::Magnesium, 280.0),
            (Solute::Sodium, 270.0),
            (Solute::Potassium, 14.0),
            (Solute::Bicarbonate, 326.0),
            (Solute::Chloride, 18.0),
            (Solute::Sulfate, 2700.0),
            (Solute::Fluoride, 0.3),
            (Solute::SilicaAsSio2, 17.0),
        ];
        assert!((dissolved_solids(&sample).unwrap() - 4020.0).abs() < 20.0);
        assert!((hardness(550.0, 280.0) - 2500.0).abs() < 50.0);
        let balance = ion_balance(&sample).unwrap();
        assert!(balance.percent.abs() < 1.0 && balance.missing.is_empty());
    }

    #[test]
    fn the_gap_is_told() {
        let few = ion_balance(&[(Solute::Calcium, 12.0), (Solute::Sodium, 8.0), (Solute::Chloride, 9.0)]).unwrap();
        assert_eq!(few.missing, [Solute::Magnesium, Solute::Bicarbonate, Solute::Sulfate]);
        assert_eq!(ion_balance(&[]), None);
        assert_eq!(ion_balance(&[(Solute::SilicaAsSio2, 10.0)]), None);
        assert_eq!(ion_balance(&[(Solute::Calcium, f64::NAN)]), None);
        assert_eq!(dissolved_solids(&[(Solute::Calcium, f64::INFINITY)]), None);
        assert_eq!(dissolved_solids(&[]), None);
    }

    proptest! {
        #[test]
        fn balance_is_a_percentage(ca in 0.0..1e4f64, cl in 0.0..1e4f64, unit in 0.1..10.0f64) {
            if let Some(b) = ion_balance(&[(Solute::Calcium, ca), (Solute::Chloride, cl)]) {
                prop_assert!((-100.0..=100.0).contains(&b.percent));
                let scaled = ion_balance(&[(Solute::Chloride, cl * unit), (Solute::Calcium, ca * unit)]).unwrap();
                prop_assert!((b.percent - scaled.percent).abs() < 1e-9);
            }
        }

        #[test]
        fn nitrate_there_and_back(x in 0.0..1e4f64) {
            prop_assert!((nitrate_as_n(nitrate_as_no3(x)) - x).abs() <= 1e-12 * x);
        }
    }
}
