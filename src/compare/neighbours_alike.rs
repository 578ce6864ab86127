//! Does a difference between bands stand when neighbours are allowed to be alike? Whole blocks of wells change places.
//!
//! Blocks are squares of one size for the whole region, so that every analyte and land use is judged by the same ones. A reader would
//! question the size: the widest of which 40 hold a sampled well. Where wells are alike over more than a block's width the check is
//! too kind still, and its note names the width so that this can be judged. Scores of the bands are 0, 1, 2 by exposure.

use super::bands::Banding;
use crate::ids::{AnalyteId, WellId};
use crate::methods::blocks::{Cells, FEWEST_BLOCKS, NoBlockTest, test};
use crate::methods::random::Stream;
use crate::per_well::Survey;
use crate::place::Wells;

/// Blocks that should hold a sampled well.
const WANTED: usize = 40;
/// Deals of the blocks.
const ROUNDS: u32 = 1999;

/// Every well's block, and its place along a curve that keeps neighbours together.
#[derive(Debug)]
pub(super) struct Blocks {
    size: f64,
    of_well: Vec<Option<(u32, u32)>>,
}

/// What is tested: one stream of random numbers each, so that no answer depends on another's.
#[derive(Clone, Copy, Debug)]
pub(super) struct Question {
    pub seed: u64,
    pub land_use: usize,
    pub analyte: AnalyteId,
    /// 0 for concentrations, 1 and on for the analyte's benchmarks.
    pub number: usize,
}

impl Blocks {
    /// Blocks over the sampled wells; `None` where they lie in too few places.
    pub(super) fn over(wells: &Wells, survey: &Survey) -> Option<Blocks> {
        let mut sampled = vec![false; wells.len()];
        for value in &survey.values {
            if let Some(seen) = sampled.get_mut(value.well.index()) {
                *seen = true;
            }
        }
        let places: Vec<Option<[f64; 2]>> =
            wells.ids().zip(sampled).map(|(well, sampled)| wells.xy(well).filter(|_| sampled)).collect();
        let known: Vec<[f64; 2]> = places.iter().copied().flatten().collect();
        let cells = [WANTED, FEWEST_BLOCKS].into_iter().find_map(|wanted| Cells::over(&known, wanted))?;
        let of_well = places.into_iter().map(|place| place.map(|p| (cells.block(p), cells.along(p)))).collect();
        Some(Blocks { size: cells.size, of_well })
    }

    /// p of outcomes (1 or 0 for exceeding, or scores) against the bands, and what to tell beside it.
    pub(super) fn check(
        &self,
        banding: &Banding,
        outcomes: &[(WellId, f64)],
        question: Question,
    ) -> (Option<f64>, String) {
        let mut known: Vec<((u32, u32), WellId, f64, f64)> = outcomes
            .iter()
            .filter_map(|(well, outcome)| {
                let band = banding.of_well.get(well.index()).copied().flatten()?;
                let block = self.of_well.get(well.index()).copied().flatten()?;
                Some((block, *well, *outcome, f64::from(band)))
            })
            .collect();
        known.sort_by_key(|(block, well, ..)| (*block, *well));
        let block: Vec<u32> = known.iter().map(|(block, ..)| block.0).collect();
        let outcome: Vec<f64> = known.iter().map(|(_, _, outcome, _)| *outcome).collect();
        let exposure: Vec<f64> = known.iter().map(|(.., band)| *band).collect();
        let number = (question.land_use as u64) << 32 | u64::from(question.analyte.0) << 8 | question.number as u64;
        let mut stream = Stream::new(question.seed, number);
        match test(&block, &outcome, &exposure, FEWEST_BLOCKS, ROUNDS, &mut stream) {
            Ok(found) => (Some(found.p), format!("block check: {} blocks of {}", found.blocks, self.width())),
            Err(NoBlockTest::FewBlocks(count)) => (
                None,
                format!(
                    "no block check: wells lie in {count} of the blocks of {}, {FEWEST_BLOCKS} are needed",
                    self.width()
                ),
            ),
            Err(NoBlockTest::AllAlike) => (None, String::new()),
            Err(why) => (None, format!("no block check: {why}")),
        }
    }

    fn width(&self) -> String {
        if self.size < 1000.0 { format!("{:.0} m", self.size) } else { format!("{:.1} km", self.size / 1000.0) }
    }
}
