//! Cuts a unit text into unit and basis: "mg/L as N", "mg/L-N", "mg N/L", "mg{N}/L", "mg/l (as CaCO3)",
//! "ug/L As". The basis may stand at the end or before the slash. A cut is made only at a space, sign or
//! step from small to capital letter, so "mgs/L" never becomes milligrams as sulfur.

use super::bases::{Bases, Basis};
use super::units::{Unit, UnitReading, Units};

/// What `text` says, or `None` when no unit can be made out. An empty text says nothing.
pub(super) fn read(units: &Units, bases: &Bases, text: &str) -> Option<UnitReading> {
    let text = text.trim();
    if let Some(unit) = units.spelled(text) {
        return Some(units.reading(unit, None));
    }
    let cut = basis_last(units, bases, text).or_else(|| basis_inside(units, bases, text));
    cut.map(|(unit, basis)| units.reading(unit, Some(basis)))
}

fn basis_last(units: &Units, bases: &Bases, text: &str) -> Option<(Unit, Basis)> {
    cuts(text).find_map(|(unit, rest)| Some((units.spelled(unit)?, named_basis(bases, rest)?)))
}

fn basis_inside(units: &Units, bases: &Bases, text: &str) -> Option<(Unit, Basis)> {
    let (above, below) = text.split_once('/')?;
    cuts(above).find_map(|(mass, rest)| {
        let unit = units.spelled(&format!("{mass}/{below}"))?;
        Some((unit, named_basis(bases, rest)?))
    })
}

fn named_basis(bases: &Bases, rest: &str) -> Option<Basis> {
    bases.find(rest.trim_start_matches(|c: char| c != '@' && !c.is_alphanumeric()))
}

/// Every way to cut a text in two at a lawful place.
fn cuts(text: &str) -> impl Iterator<Item = (&str, &str)> {
    let pairs = text.char_indices().zip(text.char_indices().skip(1));
    pairs
        .filter(|((_, before), (_, after))| boundary(*before, *after))
        .filter_map(|(_, (at, _))| text.split_at_checked(at))
}

fn boundary(before: char, after: char) -> bool {
    !after.is_alphanumeric() || !before.is_alphanumeric() || (before.is_lowercase() && after.is_uppercase())
}
