//! All that a public file may be made from: no well, no single value, no figure that is hidden.
//!
//! Page, maps, areas files and research files take this and nothing else, so that a writer that forgets to ask what is hidden
//! finds nothing to give away; only this file makes one. What is left of single values is how many wells of the region fall into wide classes of
//! amounts, where the region's row is shown.

use super::{Protection, Results, Told, spread};
use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, AreaId};
use crate::place::{Areas, Region};
use crate::plan::Plan;
use crate::problem::{Problems, Warning};
use crate::publish::Names;
use crate::publish::report::Distribution;
use crate::recommend::sampled;
use crate::summarise::QualityRow;
use std::collections::{BTreeMap, BTreeSet};

/// A line of the accounting.
#[derive(Clone, Copy, Debug)]
pub struct ToldCount {
    /// Stage.
    pub stage: &'static str,
    /// Reason.
    pub reason: &'static str,
    /// Results.
    pub results: u64,
    /// Wells; `None` where hidden.
    pub wells: Option<u64>,
}

/// What may be told of a run, or of a further layer of areas.
#[derive(Debug)]
pub struct Public<'a> {
    pub(in crate::publish) plan: &'a Plan,
    pub(in crate::publish) dictionary: &'a Dictionary,
    pub(in crate::publish) areas: &'a Areas,
    pub(in crate::publish) region: &'a Region,
    pub(in crate::publish) protection: &'a Protection,
    /// Rows without anything hidden.
    pub(in crate::publish) told: Told,
    /// Checks of enough wells.
    pub(in crate::publish) quality: Vec<QualityRow>,
    pub(in crate::publish) accounting: Vec<ToldCount>,
    /// Results read and used.
    pub(in crate::publish) results: (u64, u64),
    pub(in crate::publish) warnings: Vec<Warning>,
    /// Wells with a result; `None` where hidden.
    pub(in crate::publish) sampled: Option<u64>,
    /// Areas with a result; `None` where it would say how many of the hidden ones have none.
    pub(in crate::publish) areas_with_results: Option<u64>,
    /// Analytes with a value.
    pub(in crate::publish) analytes: Vec<AnalyteId>,
    /// How the region's wells spread over classes of amounts.
    pub(in crate::publish) spreads: BTreeMap<AnalyteId, Distribution>,
    /// What time the results speak of.
    pub(in crate::publish) period: String,
    /// Nothing outside this file can make one.
    _made_here: (),
}

impl Public<'_> {
    /// Names for ids.
    pub fn names(&self) -> Names<'_> {
        Names { dictionary: self.dictionary, areas: self.areas }
    }
}

impl Protection {
    /// Takes out what is hidden.
    ///
    /// # Errors
    /// As `told`.
    pub fn public<'a>(&'a self, results: &Results<'a>, quality: &[QualityRow]) -> Result<Public<'a>, Problems> {
        let (job, wells, survey) = (results.job, results.wells, results.survey);
        let sizes = sampled(wells, survey);
        let analytes: BTreeSet<AnalyteId> = survey.values.iter().map(|value| value.analyte).collect();
        let spreads = analytes.iter().filter_map(|id| Some((*id, spread::of_region(results, self, *id)?)));
        let hides_areas = (0_u32..).zip(&sizes).any(|(at, _)| self.hides_area(AreaId(at)));
        let with_results = sizes.iter().filter(|n| **n > 0).count() as u64;
        let total = sizes.iter().map(|n| u64::from(*n)).sum();
        Ok(Public {
            plan: &job.plan,
            dictionary: &job.dictionary,
            areas: wells.areas(),
            region: wells.region(),
            protection: self,
            told: self.told(results)?,
            quality: quality.iter().filter(|row| !self.hides_check(row)).cloned().collect(),
            accounting: survey.accounting.rows.iter().map(|row| self.told_count(row)).collect(),
            results: (survey.accounting.read(), survey.accounting.used()),
            warnings: self.told_warnings(results),
            sampled: (!self.hides_sampled()).then_some(total),
            areas_with_results: (!hides_areas).then_some(with_results),
            spreads: spreads.collect(),
            analytes: analytes.into_iter().collect(),
            period: period(results),
            _made_here: (),
        })
    }

    fn told_count(&self, row: &crate::per_well::StageCount) -> ToldCount {
        let (stage, reason, results) = (row.stage, row.reason, row.results);
        ToldCount { stage, reason, results, wells: Some(row.wells).filter(|_| !self.hides_accounted(row)) }
    }

    /// No file is named, since a name may carry a well's; once is told as no number, since a few may be a few wells.
    fn told_warnings(&self, results: &Results<'_>) -> Vec<Warning> {
        // A warning names a file as the plan's folder sees it, wherever the program was started.
        let base = &results.job.plan.base;
        let facts = results.job.inputs.facts();
        let inputs: BTreeSet<String> = facts.keys().map(|path| crate::plan::shown_path(base, path)).collect();
        let few = u64::from(self.smallest_group());
        let mut told: Vec<Warning> = Vec::new();
        for Warning { subject, text, count, .. } in crate::survey::warnings(results.wells, results.survey) {
            let subject = if inputs.contains(&subject) { "an input file".to_owned() } else { subject };
            match told.iter_mut().find(|known| known.subject == subject && known.text == text) {
                Some(known) => known.count += count,
                None => told.push(Warning { subject, text, count, examples: Vec::new() }),
            }
        }
        told.iter_mut().filter(|warning| warning.count < few).for_each(|warning| warning.count = 1);
        told
    }
}

/// What time the results speak of; never the clock.
pub(in crate::publish) fn period(results: &Results<'_>) -> String {
    let days = || results.survey.values.iter().map(|value| value.day);
    let span = results.job.plan.survey.period.or_else(|| days().min().zip(days().max()));
    span.map_or("no samples".to_owned(), |(from, to)| format!("samples of {from} to {to}"))
}
