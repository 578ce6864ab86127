//! What three and more layers of areas tell together.
//!
//! A piece is what an area of every layer shares: numbers of wells of which only the sums by layer and area are told. A piece of a few wells is hidden well if it
//! could as well hold `smallest_group` of them, all sums being as they are. First two other pieces are looked for that could lend it the wells; where there
//! are none, all of the pieces around it (`methods/vertex`). A reader would question that only so many pieces around are looked at, and mostly corners of whole numbers: where more
//! would show a piece to be safe, an area too many is hidden, never one too few.

use super::Part;
use crate::methods::vertex::Sums;
use std::collections::{BTreeMap, BTreeSet};

/// Pieces looked at together.
const MOST: usize = 160;

/// Wells by their parts of all layers, the own one last.
pub(super) type Tuples = BTreeMap<Vec<Part>, u64>;

/// The pieces under `smallest` that cannot be taken for larger.
pub(super) fn too_small(tuples: &Tuples, smallest: u64) -> Vec<&Vec<Part>> {
    let small: Vec<Piece<'_>> = tuples.iter().map(|(key, n)| (key, *n)).filter(|(_, n)| *n < smallest).collect();
    let beside = Beside::of(tuples);
    let left: Vec<&Vec<Part>> =
        small.into_iter().filter(|(key, n)| !beside.lend(key, smallest - n)).map(|(key, _)| key).collect();
    if left.is_empty() || tuples.len() > MOST {
        return left.into_iter().filter(|key| !reaches(&beside.around(key), key, smallest)).collect();
    }
    let all: Vec<Piece<'_>> = tuples.iter().map(|(key, n)| (key, *n)).collect();
    let Some(mut sums) = sums(&all) else { return left };
    let place = |key: &&Vec<Part>| all.iter().position(|(other, _)| other == key);
    left.into_iter().filter(|key| !place(key).is_some_and(|at| sums.reaches(at, smallest))).collect()
}

fn reaches(pieces: &[Piece<'_>], key: &Vec<Part>, smallest: u64) -> bool {
    let at = pieces.iter().position(|(other, _)| *other == key);
    at.zip(sums(pieces)).is_some_and(|(at, mut sums)| sums.reaches(at, smallest))
}

/// Every part of every layer is a sum.
fn sums(pieces: &[Piece<'_>]) -> Option<Sums> {
    let mut members: BTreeMap<(usize, Part), Vec<usize>> = BTreeMap::new();
    for (at, (key, _)) in pieces.iter().enumerate() {
        for (layer, part) in key.iter().enumerate() {
            members.entry((layer, *part)).or_default().push(at);
        }
    }
    let lists: Vec<Vec<usize>> = members.into_values().collect();
    Sums::of(&lists, &pieces.iter().map(|(_, n)| *n).collect::<Vec<_>>())
}

/// A piece by its parts, and its wells.
type Piece<'t> = (&'t Vec<Part>, u64);

/// Pieces by the parts they lie in.
struct Beside<'t> {
    tuples: &'t Tuples,
    of_part: BTreeMap<(usize, Part), Vec<Piece<'t>>>,
}

impl<'t> Beside<'t> {
    fn of(tuples: &'t Tuples) -> Beside<'t> {
        let mut of_part: BTreeMap<(usize, Part), Vec<Piece<'t>>> = BTreeMap::new();
        for (key, n) in tuples {
            for (layer, part) in key.iter().enumerate() {
                of_part.entry((layer, *part)).or_default().push((key, *n));
            }
        }
        Beside { tuples, of_part }
    }

    fn in_part(&self, layer: usize, part: Part) -> &[Piece<'t>] {
        self.of_part.get(&(layer, part)).map_or(&[], Vec::as_slice)
    }

    /// Whether two pieces could give `more` wells each to this one and to a fourth, all sums staying as they are.
    fn lend(&self, key: &[Part], more: u64) -> bool {
        let lenders = key.iter().enumerate().flat_map(|(layer, part)| self.in_part(layer, *part));
        lenders.filter(|(first, n)| *n >= more && first.as_slice() != key).any(|(first, _)| {
            // The second has this piece's parts where the first has others.
            let apart = key.iter().zip(*first).position(|(own, other)| own != other);
            let seconds = apart.and_then(|layer| Some(self.in_part(layer, *key.get(layer)?))).unwrap_or(&[]);
            seconds.iter().filter(|(second, n)| *n >= more && second.as_slice() != key).any(|(second, _)| {
                let fits = key.iter().zip(*first).zip(*second).all(|((own, a), b)| own == a || own == b);
                let fourth = || -> Vec<Part> {
                    key.iter().zip(*first).zip(*second).map(|((own, a), b)| if own == a { *b } else { *a }).collect()
                };
                fits && first != second && self.tuples.contains_key(&fourth())
            })
        })
    }

    /// The pieces nearest to one, by how often a part in common has to be gone through.
    fn around(&self, key: &Vec<Part>) -> Vec<Piece<'t>> {
        let mut seen: BTreeSet<&Vec<Part>> = BTreeSet::new();
        let mut found: Vec<Piece<'t>> = Vec::new();
        if let Some((own, n)) = self.tuples.get_key_value(key) {
            found.push((own, *n));
            seen.insert(own);
        }
        let mut at = 0;
        while let Some((key, _)) = found.get(at).copied() {
            at += 1;
            for (layer, part) in key.iter().enumerate() {
                for (other, n) in self.in_part(layer, *part) {
                    if found.len() >= MOST {
                        return found;
                    }
                    if seen.insert(other) {
                        found.push((other, *n));
                    }
                }
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::AreaId;

    fn tuples(pieces: &[([u32; 3], u64)]) -> Tuples {
        pieces.iter().map(|(key, n)| (key.map(|id| Part::Area(AreaId(id))).to_vec(), *n)).collect()
    }

    /// Any two of the three layers leave the first piece as large as wanted; together they tell it.
    #[test]
    fn three_layers_tell_what_no_two_of_them_do() {
        let told = tuples(&[([0, 0, 0], 2), ([0, 1, 1], 20), ([1, 0, 1], 20), ([1, 1, 0], 20)]);
        assert_eq!(too_small(&told, 5).len(), 1);
        let two: Tuples = told.iter().map(|(key, n)| (key[..2].to_vec(), *n)).collect();
        assert!(too_small(&two, 5).is_empty());
    }

    #[test]
    fn a_piece_that_others_can_fill_is_safe() {
        let told = tuples(&[([0, 0, 0], 2), ([0, 1, 1], 20), ([1, 0, 0], 20), ([1, 1, 1], 20)]);
        assert!(too_small(&told, 5).is_empty());
    }
}
