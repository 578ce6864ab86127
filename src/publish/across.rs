//! What several layers of areas tell together: hides rows of a further layer that, beside the rows of another one, would tell of a
//! few households.
//!
//! Each layer is protected on its own first (`protect`). Then two layers are laid over one another. An outsider sees sums of both,
//! and may know from the map which areas of the two do not meet. What can then be worked out exactly are differences: the areas
//! J of one layer less the areas I of the other, where every area that I meets is in J. The smallest such difference that holds a given
//! piece (what an area of one shares with an area of the other) is the smallest cut between the two, which `flows` finds as
//! a greatest flow. If any is below `smallest_group`, the further layer's area is hidden, and with it as many as it takes; hidden areas of a layer
//! count as one, whose sum is known. A reader would question the pieces that do not meet: those are the empty ones, so more is
//! taken as known than a map tells.
//!
//! Each further layer is held against every layer before it, in pairs, which is exact; and where there are three or more, against all of them together
//! (`joint`), since three layers can tell more than any two.

mod joint;

use super::protect::{Protection, is_safe};
use crate::dictionary::SumRule;
use crate::ids::{AnalyteId, AreaId, WellId};
use crate::per_well::Survey;
use crate::place::Wells;
use crate::summarise::Scope;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// A layer, and what of it is hidden.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// The wells in their areas of the layer.
    pub wells: &'a Wells,
    /// What is hidden of it.
    pub protection: &'a Protection,
}

/// What a number of wells is about: an analyte, or any result at all.
type Topic = Option<AnalyteId>;

/// An area of a layer as an outsider knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Area(AreaId),
    /// All hidden areas together.
    Hidden,
    /// In none of the layer's areas.
    Outside,
}

/// Hides in `own`, the protection of the layer `wells`, what the layers before it would give away.
pub fn hide_more(own: &mut Protection, wells: &Wells, before: &[Shown<'_>], survey: &Survey, sums: &[SumRule]) {
    let any: BTreeSet<WellId> = survey.values.iter().map(|value| value.well).collect();
    let any: Vec<WellId> = any.into_iter().collect();
    let sampled = sizes(wells, &any);
    one_topic(own, wells, before, None, (&any, &sampled));
    for (analyte, values) in survey.by_analyte() {
        one_topic(
            own,
            wells,
            before,
            Some(analyte),
            (&values.iter().map(|value| value.well).collect::<Vec<_>>(), &sampled),
        );
    }
    for rule in sums {
        let counted = with_sum(rule, survey);
        if !counted.is_empty() {
            one_topic(own, wells, before, Some(rule.analyte), (&counted, &sampled));
        }
    }
}

/// The wells with a sum computed from several analytes; none where the sum is an analyte of its own.
fn with_sum(rule: &SumRule, survey: &Survey) -> Vec<WellId> {
    if survey.by_analyte().any(|(analyte, _)| analyte == rule.analyte) {
        return Vec::new();
    }
    let mut parts: BTreeMap<WellId, usize> = BTreeMap::new();
    for (_, values) in survey.by_analyte().filter(|(id, _)| rule.parts.iter().any(|part| part.analyte == *id)) {
        for value in values.iter().filter(|value| value.interval.low().is_some() && value.interval.high().is_some()) {
            *parts.entry(value.well).or_default() += 1;
        }
    }
    parts.into_iter().filter(|(_, parts)| *parts >= rule.needed).map(|(well, _)| well).collect()
}

/// `sampled` is what an outsider knows of each area: how many wells have any result.
fn one_topic(
    own: &mut Protection,
    wells: &Wells,
    before: &[Shown<'_>],
    topic: Topic,
    (counted, sampled): (&[WellId], &[u32]),
) {
    for other in before {
        loop {
            let pieces = pieces(own, wells, *other, topic, counted);
            let found = too_small(&pieces, u64::from(own.smallest_group()));
            if found.is_empty() || !hide_one(own, wells, topic, counted, &pieces, &found) {
                break;
            }
        }
    }
    while before.len() > 1 {
        let tuples = tuples(own, wells, before, topic, counted);
        let found = joint::too_small(&tuples, u64::from(own.smallest_group()));
        if found.is_empty() || !hide_of(own, wells, topic, counted, &tuples, &found) {
            break;
        }
    }
    while !safe(own, wells, topic, counted, sampled) && hide_smallest(own, wells, topic, counted, None) {}
}

fn part(protection: &Protection, wells: &Wells, topic: Topic, well: WellId) -> Part {
    match wells.area(well) {
        None if topic.is_some_and(|analyte| protection.hides(Scope::Region, analyte)) => Part::Hidden,
        None => Part::Outside,
        Some(area) if hides(protection, area, topic) => Part::Hidden,
        Some(area) => Part::Area(area),
    }
}

fn hides(protection: &Protection, area: AreaId, topic: Topic) -> bool {
    topic.map_or_else(|| protection.hides_area(area), |analyte| protection.hides(Scope::Area(area), analyte))
}

/// Wells by the other layer's part and the own one's.
type Pieces = BTreeMap<(Part, Part), u64>;

fn pieces(own: &Protection, wells: &Wells, other: Shown<'_>, topic: Topic, counted: &[WellId]) -> Pieces {
    let mut pieces = Pieces::new();
    for well in counted {
        let row = part(other.protection, other.wells, topic, *well);
        *pieces.entry((row, part(own, wells, topic, *well))).or_default() += 1;
    }
    pieces
}

/// The pieces that a difference below `smallest` gives away.
fn too_small(pieces: &Pieces, smallest: u64) -> Vec<(Part, Part)> {
    let columns: BTreeSet<Part> = pieces.keys().map(|(_, column)| *column).collect();
    if columns.len() < 2 {
        return Vec::new(); // the layer tells nothing but the whole
    }
    let turned: Pieces = pieces.iter().map(|((row, column), n)| ((*column, *row), *n)).collect();
    let small = pieces.iter().filter(|(_, n)| **n < smallest).map(|(piece, _)| *piece);
    small
        .filter(|(row, column)| !flows(pieces, *column, *row, smallest) || !flows(&turned, *row, *column, smallest))
        .collect()
}

/// Whether at least `wanted` flows from a column to a row, where a piece carries its number from column to row and any number back:
/// if not, some difference of columns less rows that holds the piece is smaller than that.
fn flows(pieces: &Pieces, from: Part, to: Part, wanted: u64) -> bool {
    let mut left: BTreeMap<(Part, Part), u64> = pieces.clone();
    let mut flow = 0;
    while flow < wanted {
        let Some(path) = path(&left, from, to) else { return false };
        let forth = path.iter().filter(|step| step.forth).filter_map(|step| left.get(&step.piece));
        let width = forth.copied().min().unwrap_or(0).min(wanted - flow);
        for step in &path {
            let Some(n) = left.get_mut(&step.piece) else { continue };
            *n = if step.forth { n.saturating_sub(width) } else { n.saturating_add(width) };
        }
        flow += width.max(1);
    }
    true
}

/// A step over a piece, from its column to its row or back.
#[derive(Clone, Copy)]
struct Step {
    piece: (Part, Part),
    forth: bool,
}

/// Rows and columns are known apart, since both layers have areas of the same number.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Node {
    Row(Part),
    Column(Part),
}

fn path(left: &Pieces, from: Part, to: Part) -> Option<Vec<Step>> {
    let mut beside: BTreeMap<Node, Vec<(Node, Step)>> = BTreeMap::new();
    for (piece, n) in left {
        let (row, column) = (Node::Row(piece.0), Node::Column(piece.1));
        beside.entry(row).or_default().push((column, Step { piece: *piece, forth: false }));
        if *n > 0 {
            beside.entry(column).or_default().push((row, Step { piece: *piece, forth: true }));
        }
    }
    let (first, last) = (Node::Column(from), Node::Row(to));
    let mut came: BTreeMap<Node, (Node, Step)> = BTreeMap::new();
    let mut next = VecDeque::from([first]);
    while let Some(node) = next.pop_front() {
        for (other, step) in beside.get(&node).into_iter().flatten() {
            if *other != first && !came.contains_key(other) {
                came.insert(*other, (node, *step));
                next.push_back(*other);
            }
        }
        if came.contains_key(&last) {
            break;
        }
    }
    let mut steps = Vec::new();
    let mut node = last;
    while node != first {
        let (before, step) = came.get(&node)?;
        steps.push(*step);
        node = *before;
    }
    Some(steps)
}

/// Hides one more area of the layer: one that is given away or, where those are hidden, outside or hold nothing, the smallest that meets the same
/// areas of the other layer. `false` where nothing is left to hide.
fn hide_one(
    own: &mut Protection,
    wells: &Wells,
    topic: Topic,
    counted: &[WellId],
    pieces: &Pieces,
    found: &[(Part, Part)],
) -> bool {
    let own_areas: BTreeSet<AreaId> = found.iter().filter_map(|(_, column)| area_of(*column)).collect();
    if !own_areas.is_empty() {
        return hide_smallest(own, wells, topic, counted, Some(&own_areas));
    }
    let rows: BTreeSet<Part> = found.iter().map(|(row, _)| *row).collect();
    let beside: BTreeSet<AreaId> =
        pieces.keys().filter(|(row, _)| rows.contains(row)).filter_map(|(_, column)| area_of(*column)).collect();
    hide_smallest(own, wells, topic, counted, (!beside.is_empty()).then_some(&beside))
}

/// Wells by their parts of all layers, the own one last.
fn tuples(own: &Protection, wells: &Wells, before: &[Shown<'_>], topic: Topic, counted: &[WellId]) -> joint::Tuples {
    let mut tuples = joint::Tuples::new();
    for well in counted {
        let others = before.iter().map(|layer| part(layer.protection, layer.wells, topic, *well));
        let key = others.chain([part(own, wells, topic, *well)]).collect();
        *tuples.entry(key).or_default() += 1;
    }
    tuples
}

/// As `hide_one`, for pieces of several layers.
fn hide_of(
    own: &mut Protection,
    wells: &Wells,
    topic: Topic,
    counted: &[WellId],
    tuples: &joint::Tuples,
    found: &[&Vec<Part>],
) -> bool {
    let last = |key: &Vec<Part>| key.last().copied().and_then(area_of);
    let mut among: BTreeSet<AreaId> = found.iter().filter_map(|key| last(key)).collect();
    if among.is_empty() {
        let meets = |key: &&Vec<Part>| found.iter().any(|own| key.iter().zip(*own).any(|(a, b)| a == b));
        among = tuples.keys().filter(meets).filter_map(last).collect();
    }
    hide_smallest(own, wells, topic, counted, (!among.is_empty()).then_some(&among))
}

fn area_of(part: Part) -> Option<AreaId> {
    if let Part::Area(area) = part { Some(area) } else { None }
}

/// Hides the smallest shown area, of `among` where given; the whole layer's row where no area is left.
fn hide_smallest(
    own: &mut Protection,
    wells: &Wells,
    topic: Topic,
    counted: &[WellId],
    among: Option<&BTreeSet<AreaId>>,
) -> bool {
    let sizes = sizes(wells, counted);
    let shown = (0_u32..).zip(&sizes).map(|(at, size)| (*size, AreaId(at)));
    let shown = shown.filter(|(_, area)| !hides(own, *area, topic) && among.is_none_or(|among| among.contains(area)));
    match (shown.min(), topic) {
        (Some((_, area)), None) => own.hide_area(area),
        (Some((_, area)), Some(analyte)) => own.hide_group(Scope::Area(area), analyte),
        (None, Some(analyte)) if !own.hides(Scope::Region, analyte) => own.hide_group(Scope::Region, analyte),
        (None, _) => return false,
    }
    true
}

fn sizes(wells: &Wells, counted: &[WellId]) -> Vec<u32> {
    let mut sizes = vec![0; wells.areas().len()];
    for area in counted.iter().filter_map(|well| wells.area(*well)) {
        if let Some(size) = sizes.get_mut(area.index()) {
            *size += 1;
        }
    }
    sizes
}

/// Whether no hidden size can be narrowed, given the hidden sum and that no shown area has more wells than were sampled there.
fn safe(own: &Protection, wells: &Wells, topic: Topic, counted: &[WellId], sampled: &[u32]) -> bool {
    if topic.is_some_and(|analyte| own.hides(Scope::Region, analyte)) {
        return true;
    }
    let sizes = sizes(wells, counted);
    let hidden: BTreeSet<usize> =
        (0_u32..).zip(&sizes).filter(|(at, _)| hides(own, AreaId(*at), topic)).map(|(at, _)| at as usize).collect();
    let total = sizes.iter().map(|n| u64::from(*n)).sum();
    let bound = |(at, n): (u32, &u32)| if own.hides_area(AreaId(at)) { total } else { u64::from(*n) };
    let bounds: Vec<u64> =
        if topic.is_some() { (0_u32..).zip(sampled).map(bound).collect() } else { vec![total; sizes.len()] };
    hidden.is_empty() || is_safe(own.smallest_group(), &sizes, &bounds, &hidden)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(n: u32) -> Part {
        Part::Area(AreaId(n))
    }

    fn found(pieces: &[(u32, u32, u64)]) -> Vec<(u32, u32)> {
        let pieces: Pieces = pieces.iter().map(|(row, column, n)| ((area(*row), area(*column)), *n)).collect();
        let number = |part: Part| area_of(part).unwrap().0;
        too_small(&pieces, 5).into_iter().map(|(row, column)| (number(row), number(column))).collect()
    }

    #[test]
    fn a_difference_of_unions_gives_a_piece_away() {
        // Column 0 is rows 0 and 1 and two wells of row 2: column 0 less both rows is those two.
        assert_eq!(found(&[(0, 0, 20), (1, 0, 30), (2, 0, 2), (2, 1, 40)]), [(2, 0)]);
        // Enough wells there give nothing away.
        assert!(found(&[(0, 0, 20), (1, 0, 30), (2, 0, 6), (2, 1, 40)]).is_empty());
    }

    #[test]
    fn pieces_on_a_round_hide_one_another() {
        // Two small pieces that only their sums tell of, through large ones.
        assert!(found(&[(0, 0, 20), (0, 1, 30), (1, 0, 30), (1, 1, 3)]).is_empty());
        // Three small corners of four: the sum of a row less a column's is known, but holds others.
        assert_eq!(found(&[(0, 0, 2), (0, 1, 1), (1, 0, 1), (1, 1, 30)]).len(), 3);
    }

    #[test]
    fn one_column_tells_nothing_new() {
        assert!(found(&[(0, 0, 2), (1, 0, 30)]).is_empty());
    }

    proptest::proptest! {
        /// The flow finds exactly what trying every pair of unions finds.
        #[test]
        fn as_by_trying_all_unions(cells in proptest::collection::vec(0_u64..9, 9)) {
            let n = |row: u32, column: u32| cells[(row * 3 + column) as usize];
            let all = || (0..3).flat_map(|row| (0..3).map(move |column| (row, column)));
            let pieces: Vec<_> = all().map(|(r, c)| (r, c, n(r, c))).filter(|p| p.2 > 0).collect();
            let columns: BTreeSet<u32> = pieces.iter().map(|p| p.1).collect();
            let mut expected = BTreeSet::new();
            for (rows, cols) in (0..8_u32).flat_map(|rows| (0..8_u32).map(move |cols| (rows, cols))) {
                let has = |set: u32, at: u32| set >> at & 1 == 1;
                let more = pieces.iter().filter(|p| has(cols, p.1) && !has(rows, p.0)).collect::<Vec<_>>();
                let less = pieces.iter().filter(|p| has(rows, p.0) && !has(cols, p.1)).collect::<Vec<_>>();
                for (known, none) in [(&more, &less), (&less, &more)] {
                    if none.is_empty() && known.iter().map(|p| p.2).sum::<u64>() < 5 {
                        expected.extend(known.iter().map(|p| (p.0, p.1)));
                    }
                }
            }
            let expected: Vec<_> = if columns.len() < 2 { Vec::new() } else { expected.into_iter().collect() };
            proptest::prop_assert_eq!(found(&pieces), expected);
        }
    }
}
