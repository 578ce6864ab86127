//! From which units each analyte can be reached, and how. Every conversion table row is an edge between
//! (unit, basis) pairs; starting from the analyte's preferred unit the edges are walked backwards, and the
//! shortest chain to every pair is kept. Done once at start, so that a look-up is one hash.
//!
//! A row without `family` holds for every substance and leaves the basis alone; a row with one holds only
//! for analytes that list it. That is what keeps milligrams of uranium from becoming picocuries.

use rustc_hash::FxHashMap;

use crate::ids::AnalyteId;

use super::analytes::{Analyte, Analytes};
use super::bases::{Bases, Basis};
use super::conversion::{Conversion, quotient};
use super::fault::DictionaryFault;
use super::table::{Row, Table};
use super::units::{Unit, Units};

/// Why a unit cannot be used for an analyte.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, thiserror::Error)]
pub enum UnitFault {
    /// The text is no known unit (or is empty where one is needed).
    #[error("the unit is not known")]
    Unknown,
    /// The unit is known but measures something else.
    #[error("the unit does not fit the analyte")]
    DoesNotFit,
    /// Neither name nor unit says what the mass is counted as, or they disagree.
    #[error("neither name nor unit states one basis")]
    BasisMissing,
}

/// A unit with the basis it stands in.
type Node = (Unit, Option<Basis>);

/// One row of the conversion table, in one direction.
#[derive(Debug, Clone)]
struct Edge {
    from: Node,
    to: Node,
    change: Conversion,
    family: String,
}

/// All chains of conversions.
#[derive(Debug, Clone, Default)]
pub(super) struct Reach {
    chains: FxHashMap<(AnalyteId, Node), Conversion>,
}

/// No chain in the table needs more steps.
const MOST_STEPS: usize = 6;

impl Reach {
    /// Reads `conversions.csv` and walks it for every analyte.
    pub(super) fn read(
        table: &Table,
        units: &Units,
        bases: &Bases,
        analytes: &Analytes,
    ) -> Result<Self, DictionaryFault> {
        let mut edges = Vec::new();
        for row in table.rows() {
            let edge = edge(row, units, bases)?;
            if row.yes("both_ways")? {
                edges.push(edge.turned());
            }
            edges.push(edge);
        }
        let mut reach = Self::default();
        for (id, analyte) in analytes.iter() {
            for (node, change) in chains(analyte, &edges, units) {
                reach.chains.insert((id, node), change);
            }
        }
        Ok(reach)
    }

    /// From `unit` in `basis` to the preferred unit and basis of `analyte`.
    pub(super) fn find(
        &self,
        id: AnalyteId,
        analyte: &Analyte,
        unit: Unit,
        basis: Option<Basis>,
    ) -> Result<Conversion, UnitFault> {
        let chain = |basis| self.chains.get(&(id, (unit, basis))).copied();
        if let Some(change) = chain(basis) {
            return Ok(change);
        }
        match (basis, chain(analyte.own_basis)) {
            (None, Some(_)) if analyte.basis_must_be_stated => Err(UnitFault::BasisMissing),
            (None, Some(change)) => Ok(change),
            // A unit that needs no basis (grains, moles) beside the usual one says the same thing twice.
            (Some(_), None) if basis == analyte.own_basis => chain(None).ok_or(UnitFault::DoesNotFit),
            _ => Err(UnitFault::DoesNotFit),
        }
    }
}

impl Edge {
    fn turned(&self) -> Self {
        Self { from: self.to, to: self.from, change: self.change.inverse(), family: self.family.clone() }
    }

    /// Where the edge starts if it is to end at `node`.
    fn start_for(&self, node: Node) -> Option<Node> {
        if self.family.is_empty() && self.from.1.is_none() && self.to.1.is_none() {
            return (self.to.0 == node.0).then_some((self.from.0, node.1));
        }
        (self.to == node).then_some(self.from)
    }
}

fn edge(row: Row<'_>, units: &Units, bases: &Bases) -> Result<Edge, DictionaryFault> {
    let would_do = "a number or a quotient such as 14.007/62.004";
    let (times, over) = quotient(row.cell("factor")).ok_or_else(|| row.fault("factor", would_do))?;
    let (above, below) = quotient(row.cell("offset")).ok_or_else(|| row.fault("offset", would_do))?;
    let change = Conversion::new(times, over, above / below);
    Ok(Edge {
        from: node(row, "from_unit", units, bases)?,
        to: node(row, "to_unit", units, bases)?,
        change: change.ok_or_else(|| row.fault("factor", "a finite factor other than zero"))?,
        family: row.owned("family"),
    })
}

fn node(row: Row<'_>, heading: &str, units: &Units, bases: &Bases) -> Result<Node, DictionaryFault> {
    let text = row.cell(heading);
    let cut = text.split_once(" as ").or_else(|| text.split_once(" at "));
    let (unit, basis) = cut.map_or((text, None), |(unit, basis)| (unit, Some(basis)));
    let known = basis.map(|basis| bases.find(basis).ok_or_else(|| row.fault(heading, "a known basis")));
    let unit = units.named(unit).ok_or_else(|| row.fault(heading, "name a unit of units.csv"))?;
    Ok((unit, known.transpose()?))
}

/// Every pair from which the preferred unit of `analyte` can be reached, nearest first.
fn chains(analyte: &Analyte, edges: &[Edge], units: &Units) -> Vec<(Node, Conversion)> {
    let own = substance_edges(analyte, units);
    let fits = |edge: &&Edge| edge.family.is_empty() || analyte.families.contains(&edge.family);
    let mine: Vec<&Edge> = edges.iter().filter(fits).chain(&own).collect();
    let mut found = vec![((analyte.preferred_unit, analyte.own_basis), Conversion::SAME)];
    let mut ring = found.clone();
    for _ in 0..MOST_STEPS {
        let mut next: Vec<(Node, Conversion)> = Vec::new();
        for (node, onward) in &ring {
            for edge in &mine {
                let Some(start) = edge.start_for(*node) else {
                    continue;
                };
                if !found.iter().chain(&next).any(|(known, _)| *known == start) {
                    next.push((start, edge.change.then(onward)));
                }
            }
        }
        found.extend_from_slice(&next);
        ring = next;
    }
    found
}

/// Moles and equivalents of the substance itself. They need no basis: a mole of nitrate is a mole of
/// nitrogen. Sums without a CAS number (alkalinity, hardness) have none: there a mole is ambiguous, and only
/// the conversion table speaks.
fn substance_edges(analyte: &Analyte, units: &Units) -> Vec<Edge> {
    let Some(molar) = analyte.molar_mass.filter(|_| analyte.cas.is_some()) else {
        return Vec::new();
    };
    let per_charge = analyte.charge.map(|charge| ("meq/L", charge.abs()));
    let parts = [("mmol/L", 1.0)].into_iter().chain(per_charge);
    parts.filter_map(|(unit, over)| substance_edge(analyte, units, unit, molar, over)).collect()
}

fn substance_edge(analyte: &Analyte, units: &Units, unit: &str, molar: f64, over: f64) -> Option<Edge> {
    Some(Edge {
        from: (units.named(unit)?, None),
        to: (units.named("mg/L")?, analyte.own_basis),
        change: Conversion::new(molar, over, 0.0)?,
        family: "substance".to_owned(),
    })
}
