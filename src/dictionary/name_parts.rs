//! Peels from a name what is not the substance: the fraction ("total", "dissolved", "first draw") and the
//! basis ("as N"). Turns words into the same words without them, and what was taken off. Peeling happens
//! only after the whole name was not found, since "dissolved oxygen" is no fraction of oxygen.

use super::bases::{Bases, Basis};
use super::names::Fraction;

/// A name after peeling.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Peeled {
    pub(super) words: Vec<String>,
    pub(super) basis: Option<Basis>,
    pub(super) fraction: Option<Fraction>,
}

/// The name whole, then with less and less of it.
pub(super) fn peelings(words: &[String], bases: &Bases) -> Vec<Peeled> {
    let whole = Peeled { words: words.to_vec(), basis: None, fraction: None };
    let no_basis = without_basis(&whole, bases);
    let no_fraction = without_fraction(&whole);
    let neither = no_fraction.as_ref().and_then(|peeled| without_basis(peeled, bases));
    [Some(whole), no_basis, no_fraction, neither].into_iter().flatten().collect()
}

/// "nitrate as n" is "nitrate" with the basis N; "arsenic as as" is arsenic with the basis As.
fn without_basis(from: &Peeled, bases: &Bases) -> Option<Peeled> {
    (1..from.words.len()).find_map(|at| {
        let (stem, tail) = from.words.split_at_checked(at)?;
        let marked = matches!(tail, [lead, _, ..] if lead == "as" || lead == "at");
        marked.then_some(Peeled { words: stem.to_vec(), basis: Some(bases.find_words(tail)?), fraction: from.fraction })
    })
}

fn without_fraction(from: &Peeled) -> Option<Peeled> {
    let mut words = from.words.clone();
    let mut fraction = None;
    for (pattern, means) in FRACTIONS {
        let at = words.windows(pattern.len()).position(|part| part == *pattern);
        if let Some(at) = at {
            words.drain(at..at + pattern.len());
            // A filtered first draw is neither of the two strata.
            if fraction == Some(Fraction::FirstDraw) && *means == Fraction::Dissolved {
                return None;
            }
            fraction = fraction.or(Some(*means));
        }
    }
    (fraction.is_some() && !words.is_empty()).then_some(Peeled { words, basis: from.basis, fraction })
}

/// First draw goes first, because "lead, total (first draw)" is first of all a first draw.
const FRACTIONS: &[(&[&str], Fraction)] = &[
    (&["first", "draw"], Fraction::FirstDraw),
    (&["1st", "draw"], Fraction::FirstDraw),
    (&["firstdraw"], Fraction::FirstDraw),
    (&["first", "flush"], Fraction::FirstDraw),
    (&["flushed"], Fraction::Flushed),
    (&["flush"], Fraction::Flushed),
    (&["total", "dissolved"], Fraction::Dissolved),
    (&["total", "recoverable"], Fraction::Total),
    (&["total"], Fraction::Total),
    (&["tot"], Fraction::Total),
    (&["dissolved"], Fraction::Dissolved),
    (&["diss"], Fraction::Dissolved),
    (&["filtered"], Fraction::Dissolved),
];
