//! A row of trend.csv in plain words.

use super::words::spoken;
use crate::dictionary::Dictionary;
use crate::publish::number::text;
use crate::summarise::{Scope, TrendRow};

/// Adjusted p up to which a trend is called clear, and up to which there are signs of one (common practice, no source).
const CLEAR: f64 = 0.05;
/// See `CLEAR`.
const SIGNS: f64 = 0.2;

/// One or two sentences.
pub fn trend_words(dictionary: &Dictionary, row: &TrendRow) -> String {
    let name = spoken(dictionary, row.analyte);
    let here = if row.scope == Scope::Region { "in the region" } else { "here" };
    let (Some(tau), Some(p)) = (row.tau, row.q.or(row.p)) else {
        return format!(
            "It cannot be told yet whether results for {name} rise or fall {here}: too few wells were tested again and again."
        );
    };
    let wells = format!("{} wells {here} that were tested again and again", row.wells);
    if p > SIGNS || tau == 0.0 {
        return format!("No change to be seen: in {wells}, results for {name} rose about as often as they fell.");
    }
    let rising = tau > 0.0;
    let (head, went) = match (p <= CLEAR, rising) {
        (true, true) => ("Rising", "went up"),
        (true, false) => ("Falling", "went down"),
        (false, true) => ("Perhaps rising", "went up, but chance could have done that"),
        (false, false) => ("Perhaps falling", "went down, but chance could have done that"),
    };
    let slope = row.slope_per_year.filter(|slope| (*slope > 0.0) == rising && *slope != 0.0);
    let by = slope.map_or(String::new(), |slope| {
        let unit = dictionary.unit_text(row.analyte);
        format!("; about {} {unit} a year at the middle one of them", text(two_digits(slope.abs())))
    });
    format!("{head}: in {wells}, {name} {went}{by}.")
}

fn two_digits(x: f64) -> f64 {
    let scale = libm::pow(10.0, 1.0 - libm::floor(libm::log10(x)));
    (x * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::AreaId;

    #[test]
    fn what_is_said_follows_the_figures() {
        let dictionary = Dictionary::built_in().unwrap();
        let analyte = dictionary.analytes().find("nitrate_as_n").unwrap();
        let row = |tau, slope, q| TrendRow {
            scope: Scope::Area(AreaId(0)),
            analyte,
            wells: 8,
            tau,
            slope_per_year: slope,
            p: q,
            q,
            notes: Vec::new(),
        };
        let said = |tau, slope, q| trend_words(&dictionary, &row(tau, slope, q));
        assert_eq!(
            said(Some(0.5), Some(0.1472), Some(0.001)),
            "Rising: in 8 wells here that were tested again and again, nitrate went up; about 0.15 mg/L as N a year at the middle one of them."
        );
        assert!(said(Some(-0.3), None, Some(0.1)).starts_with("Perhaps falling: "));
        assert!(said(Some(0.1), Some(0.2), Some(0.6)).starts_with("No change to be seen"));
        assert!(said(None, None, None).starts_with("It cannot be told yet"));
        assert_eq!([two_digits(123.4), two_digits(0.0456)], [120.0, 0.046]);
    }
}
