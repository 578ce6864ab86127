//! Land use in words: what the bands say of one analyte and benchmark, for a reader who never met an odds ratio.
//!
//! The words give the counts first, then how rare such a difference would be without a link. They never say that a
//! land use causes anything.

use super::analyte::{LandUseFigures, LandUseLine};
use super::further::NeighbourCheck;
use super::words::{chance, number, percent};

/// Below this adjusted p a difference is called hard to explain by chance; common practice, no source.
const RARE: f64 = 0.05;

/// One paragraph on the bands of one land use, in order of exposure, for one benchmark or none.
pub(super) fn land_use(bands: &[&LandUseLine]) -> String {
    let (Some(first), Some(last)) = (bands.first(), bands.last()) else {
        return String::new();
    };
    let (Some(low), Some(high)) = (&first.figures, &last.figures) else {
        return "Too few wells in some bands to say anything in words; see the numbers that can be shown.".to_owned();
    };
    if first.benchmark.is_empty() {
        return levels(last, high);
    }
    let mut parts = vec![counts(last, high, first, low)];
    parts.extend(odds(high));
    parts.extend(high.trend_p.filter(|_| bands.len() > 2).map(trend));
    parts.push(levels(last, high));
    parts.retain(|part| !part.is_empty());
    parts.join(" ")
}

/// Whether what was called holds up when neighbours are allowed to be alike.
pub(super) fn neighbours(bands: &[&LandUseLine], check: NeighbourCheck) -> Option<String> {
    let rare = |p: Option<f64>| p.is_some_and(|p| p < RARE);
    let high = bands.last()?.figures.as_ref()?;
    let shares = check.shares.filter(|_| rare(high.fisher_q) || rare(high.trend_p));
    let amounts = check.amounts.filter(|_| rare(high.rank_q));
    let known = [shares.map(|q| ("shares", q, "adjusted p")), amounts.map(|p| ("concentrations", p, "p"))];
    let told = |what: &str, wanted: &dyn Fn(f64) -> bool| {
        let those = known.iter().flatten().filter(|(_, p, _)| wanted(*p));
        let named: Vec<String> = those.map(|(name, p, kind)| format!("{name} ({kind} {})", chance(*p))).collect();
        (!named.is_empty()).then(|| format!("{what} in {}", named.join(" and in ")))
    };
    let holds = told("The difference", &|p| p < RARE)
        .map(|words| format!("{words} holds up when wells close together are allowed to be alike."));
    // An adjusted p may be large for the number of tests alone.
    let why = if shares.is_some_and(|q| q >= RARE) {
        "are allowed to be alike and the number of comparisons is counted: it may be chance, or the doing of a few neighbourhoods."
    } else {
        "are allowed to be alike: a few neighbourhoods may make all of it."
    };
    let fails = told("But the difference", &|p| p >= RARE)
        .map(|words| format!("{words} does not hold up when wells close together {why}"));
    let both: Vec<String> = holds.into_iter().chain(fails).collect();
    (!both.is_empty()).then(|| both.join(" "))
}

fn counts(last: &LandUseLine, high: &LandUseFigures, first: &LandUseLine, low: &LandUseFigures) -> String {
    let Some(above) = share_words(high) else {
        return "No well in the most exposed band could be judged.".to_owned();
    };
    let Some(base) = share_words(low) else {
        return "No well in the least exposed band could be judged.".to_owned();
    };
    let passed =
        if last.benchmark.starts_with("with ") { "had it".to_owned() } else { format!("were {}", last.benchmark) };
    format!(
        "Of the wells in the {} band of {} ({}), {above} {passed}; in the {} band ({}), {base}.",
        last.band, last.land_use, last.range, first.band, first.range
    )
}

/// `12 of 31 (39%)`, of the wells that could be judged.
fn share_words(figures: &LandUseFigures) -> Option<String> {
    let exceeding = figures.exceeding?;
    let judged = figures.wells.checked_sub(figures.undetermined.unwrap_or(0)).filter(|judged| *judged > 0)?;
    Some(format!("{exceeding} of {judged} ({})", percent(f64::from(exceeding) / f64::from(judged))))
}

fn odds(high: &LandUseFigures) -> Option<String> {
    let odds = high.odds?;
    let span = if odds.high.is_finite() {
        format!("{} to {}", number(odds.low), number(odds.high))
    } else {
        format!("{} or more", number(odds.low))
    };
    let times = format!("The odds were {} times as high ({span}).", number(odds.value));
    let Some(q) = high.fisher_q else {
        return Some(times);
    };
    let verdict = if q < RARE {
        "A difference this large would be rare if there were no link"
    } else {
        "A difference this large can well be chance"
    };
    Some(format!("{times} {verdict} (adjusted p {}).", chance(q)))
}

fn trend(p: f64) -> String {
    let words = if p < RARE { "The rate changes steadily over the bands" } else { "The bands show no steady change" };
    format!("{words} (p {}).", chance(p))
}

fn levels(last: &LandUseLine, high: &LandUseFigures) -> String {
    let Some(q) = high.rank_q else {
        return String::new();
    };
    let words = if q < RARE {
        "Concentrations differ between the bands"
    } else {
        "Concentrations do not clearly differ between the bands"
    };
    format!("{words} of {} (adjusted p {}).", last.land_use, chance(q))
}

#[cfg(test)]
mod tests {
    use super::super::input::Spread;
    use super::*;

    fn band(number: u32, exceeding: u32, wells: u32) -> LandUseLine {
        let figures = LandUseFigures {
            wells,
            exceeding: Some(exceeding),
            undetermined: Some(1),
            rate: None,
            odds: (number > 0).then_some(Spread { value: 8.0, low: 2.1, high: 30.0 }),
            fisher_q: (number > 0).then_some(0.004),
            trend_p: None,
            rank_q: None,
            notes: Vec::new(),
        };
        LandUseLine {
            land_use: "farming".to_owned(),
            band: if number == 0 { "low" } else { "high" }.to_owned(),
            band_number: number,
            range: if number == 0 { "under 10%" } else { "40% or more" }.to_owned(),
            set: "us-mcl".to_owned(),
            benchmark: "above 10 mg/L as N".to_owned(),
            figures: Some(figures),
        }
    }

    #[test]
    fn the_words_give_counts_of_judged_wells_and_how_rare_it_is() {
        let (low, high) = (band(0, 3, 42), band(1, 12, 32));
        let words = land_use(&[&low, &high]);
        assert!(words.contains("12 of 31 (39%)") && words.contains("3 of 41 (7.3%)"), "{words}");
        assert!(words.contains("8 times as high (2.1 to 30)") && words.contains("rare"), "{words}");
        assert!(!words.contains("cause"), "{words}");
    }

    #[test]
    fn only_a_difference_that_was_called_is_checked_against_neighbours() {
        let (low, mut high) = (band(0, 3, 42), band(1, 12, 32));
        let check = |shares| NeighbourCheck { shares, amounts: Some(0.4) };
        let said = |high: &LandUseLine, q| neighbours(&[&low, high], check(Some(q)));
        assert!(
            said(&high, 0.3).unwrap().starts_with("But the difference in shares (adjusted p 0.30) does not hold up")
        );
        assert!(said(&high, 0.3).unwrap().contains("number of comparisons is counted"));
        assert!(said(&high, 0.01).unwrap().starts_with("The difference in shares (adjusted p 0.010) holds up"));
        high.figures.as_mut().unwrap().rank_q = Some(0.01);
        assert!(said(&high, 0.01).unwrap().contains("But the difference in concentrations (p 0.40) does not"));
        high.figures.as_mut().unwrap().rank_q = None;
        high.figures.as_mut().unwrap().fisher_q = Some(0.6);
        assert_eq!(said(&high, 0.3), None);
    }

    #[test]
    fn a_hidden_band_leaves_no_number() {
        let (mut low, high) = (band(0, 3, 42), band(1, 12, 32));
        low.figures = None;
        assert!(!land_use(&[&low, &high]).chars().any(|c| c.is_ascii_digit()));
    }
}
