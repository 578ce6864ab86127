//! Land use on the page: one table of bands for each limit, and the model of all land uses as a table of what can be compared.
//!
//! What a row says in the tables' short words (a term's name, how a fit went) is said here in plain ones. A model that was not
//! fitted is one sentence, not a table of dashes.

use serde::Serialize;

use super::analyte::{LandUseLine, ModelLine};
use super::footnotes::Footnotes;
use super::further::{NeighbourCheck, TestFurther};
use super::gather::effect_words;
use super::sentences;

/// All land uses against one limit.
#[derive(Debug, Serialize)]
pub(super) struct LandView<'a> {
    set: &'a str,
    benchmark: &'a str,
    uses: Vec<UseView<'a>>,
    notes: Footnotes,
    tells: Tells,
}

/// Whether a table of bands has anything to compare.
#[derive(Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Tells {
    Something,
    /// Every band is shown, and no well of any exceeds.
    Nothing,
}

/// One land use: its bands, lowest exposure first, and what they say.
#[derive(Debug, Serialize)]
struct UseView<'a> {
    land_use: &'a str,
    words: String,
    bands: Vec<BandView<'a>>,
}

#[derive(Debug, Serialize)]
struct BandView<'a> {
    line: &'a LandUseLine,
    notes: Vec<usize>,
}

/// Notes that the page says elsewhere or in other words.
const SAID_ELSEWHERE: [&str; 2] = ["benchmark: ", "neighbours alike in "];

/// By limit, in the order of the rows.
pub(super) fn land_uses<'a>(lines: &'a [LandUseLine], further: Option<&TestFurther>) -> Vec<LandView<'a>> {
    let checks = further.map(|test| test.neighbours.as_slice()).unwrap_or_default();
    let mut limits: Vec<(&str, &str)> = Vec::new();
    for line in lines {
        let limit = (line.set.as_str(), line.benchmark.as_str());
        if !limits.contains(&limit) {
            limits.push(limit);
        }
    }
    limits.into_iter().map(|limit| against(lines, checks, limit)).collect()
}

fn against<'a>(lines: &'a [LandUseLine], checks: &[NeighbourCheck], limit: (&'a str, &'a str)) -> LandView<'a> {
    let own =
        || lines.iter().enumerate().filter(move |(_, line)| (line.set.as_str(), line.benchmark.as_str()) == limit);
    let mut names: Vec<&str> = Vec::new();
    for (_, line) in own() {
        if !names.contains(&line.land_use.as_str()) {
            names.push(&line.land_use);
        }
    }
    let mut notes = Footnotes::default();
    let uses = names.into_iter().map(|name| {
        let of_use: Vec<(usize, &LandUseLine)> = own().filter(|(_, line)| line.land_use == name).collect();
        one_use(name, &of_use, checks, &mut notes)
    });
    let uses = uses.collect();
    let none_exceeds = |line: &LandUseLine| line.figures.as_ref().is_some_and(|figures| figures.exceeding == Some(0));
    let tells = match own().all(|(_, line)| none_exceeds(line)) && !limit.1.is_empty() {
        true => Tells::Nothing,
        false => Tells::Something,
    };
    LandView { set: limit.0, benchmark: limit.1, uses, notes, tells }
}

fn one_use<'a>(
    land_use: &'a str,
    lines: &[(usize, &'a LandUseLine)],
    checks: &[NeighbourCheck],
    notes: &mut Footnotes,
) -> UseView<'a> {
    let mut check = NeighbourCheck::default();
    for (at, _) in lines {
        let told = checks.get(*at).copied().unwrap_or_default();
        check.shares = check.shares.or(told.shares);
        check.amounts = check.amounts.or(told.amounts);
    }
    let mut bands: Vec<&LandUseLine> = lines.iter().map(|(_, line)| *line).collect();
    bands.sort_by_key(|band| band.band_number);
    let neighbours = sentences::neighbours(&bands, check).map_or_else(String::new, |words| format!(" {words}"));
    let words = format!("{}{neighbours}", sentences::land_use(&bands));
    let bands = bands.into_iter().map(|line| BandView { line, notes: notes.numbers(&wanted(line)) }).collect();
    UseView { land_use, words, bands }
}

/// A note without the names of the tables' columns.
fn without_columns(note: &str) -> String {
    const CHECKS: [(&str, &str); 2] = [
        ("no neighbour_p: ", "not checked whether shares hold up where neighbours are alike: "),
        ("no rank_neighbour_p: ", "not checked whether concentrations hold up where neighbours are alike: "),
    ];
    let said = CHECKS.iter().find_map(|(column, words)| Some(format!("{words}{}", note.strip_prefix(column)?)));
    said.unwrap_or_else(|| note.to_owned())
}

fn wanted(line: &LandUseLine) -> Vec<String> {
    let notes = line.figures.as_ref().map(|figures| figures.notes.as_slice()).unwrap_or_default();
    let here = notes.iter().filter(|note| !SAID_ELSEWHERE.iter().any(|start| note.starts_with(start)));
    here.map(|note| without_columns(note)).collect()
}

/// The model against one limit.
#[derive(Debug, Serialize)]
pub(super) struct ModelView<'a> {
    set: &'a str,
    effect: String,
    wells: Option<u32>,
    /// What is to be read with care, for all rows.
    words: Vec<String>,
    /// What the check of neighbours found where nothing stands against the model.
    sound: Option<String>,
    rows: Vec<TermView<'a>>,
}

#[derive(Debug, Serialize)]
struct TermView<'a> {
    term: String,
    each: String,
    line: &'a ModelLine,
}

/// By limit, in the order of the rows.
pub(super) fn models(lines: &[ModelLine]) -> Vec<ModelView<'_>> {
    let mut groups: Vec<(&str, &str, Vec<&ModelLine>)> = Vec::new();
    for line in lines {
        let effect = line.fit.split("; ").next().unwrap_or_default();
        match groups.iter_mut().find(|(set, known, _)| *set == line.set && *known == effect) {
            Some((_, _, group)) => group.push(line),
            None => groups.push((&line.set, effect, vec![line])),
        }
    }
    groups.into_iter().map(|(set, effect, lines)| model(set, effect, &lines)).collect()
}

fn model<'a>(set: &'a str, effect: &str, lines: &[&'a ModelLine]) -> ModelView<'a> {
    let mut words: Vec<String> = Vec::new();
    let mut rows = Vec::new();
    let mut sound = None;
    for line in lines {
        let mut each = String::new();
        for part in line.fit.split("; ").filter(|part| *part != effect && *part != "Firth") {
            match part.strip_prefix("odds ratio for each ") {
                Some(unit) => unit.clone_into(&mut each),
                None if line.term == RESIDUALS => {}
                None if words.iter().any(|known| known == part) => {}
                None => words.push(part.to_owned()),
            }
        }
        if line.term == RESIDUALS {
            match alike(line) {
                Some((true, beyond)) => words.push(beyond),
                Some((false, not)) => sound = Some(not),
                None => {}
            }
        } else if line.term != "intercept" && line.odds.is_some() {
            rows.push(TermView { term: term_words(&line.term), each, line });
        }
    }
    ModelView {
        set,
        effect: effect_words(effect).to_owned(),
        wells: lines.iter().find_map(|line| line.wells),
        words,
        sound,
        rows,
    }
}

/// The row about what the model leaves unexplained.
const RESIDUALS: &str = "residual_moran";
/// As in `sentences`.
const RARE: f64 = 0.05;

/// Whether neighbours are alike beyond the model, and the words for it.
fn alike(line: &ModelLine) -> Option<(bool, String)> {
    let q = line.q?;
    let p = super::words::chance(q);
    let beyond = q < RARE;
    let words = if beyond {
        format!(
            "neighbours are alike beyond what the model explains (Moran's I, adjusted p {p}): its p values are too small"
        )
    } else {
        format!("Neighbours are no more alike than the model explains (Moran's I, adjusted p {p}).")
    };
    Some((beyond, words))
}

fn term_words(term: &str) -> String {
    match term {
        "depth_m" => "depth of the well".to_owned(),
        "sample_year" => "year of the sample".to_owned(),
        other => other.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::input::Spread;
    use super::*;

    fn line(term: &str, fit: &str, odds: Option<Spread>) -> ModelLine {
        ModelLine { set: "limit".into(), term: term.into(), odds, q: Some(0.01), wells: Some(40), fit: fit.into() }
    }

    #[test]
    fn a_model_says_what_holds_for_all_rows_once() {
        let odds = Some(Spread { value: 2.0, low: 1.1, high: 4.0 });
        let lines = [
            line("intercept", "acute-health; Firth; thin: 9 wells", odds),
            line("depth_m", "acute-health; Firth; odds ratio for each 10 m of depth; thin: 9 wells", odds),
            line("residual_moran", "acute-health; Moran's I of the residuals", None),
        ];
        let views = models(&lines);
        assert_eq!((views.len(), views[0].rows.len(), views[0].words.len()), (1, 1, 2));
        assert_eq!(
            (views[0].rows[0].term.as_str(), views[0].rows[0].each.as_str()),
            ("depth of the well", "10 m of depth")
        );
        assert!(views[0].words[1].contains("its p values are too small"));
    }

    #[test]
    fn a_model_that_was_not_fitted_has_no_rows() {
        let lines = [line("farming", "aesthetic; not fitted: fewer than 5 wells", None)];
        let views = models(&lines);
        assert!(views[0].rows.is_empty() && views[0].words == ["not fitted: fewer than 5 wells"]);
    }
}
