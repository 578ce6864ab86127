//! outreach.csv: where to go first, by the expected number of wells on record that are over a health limit.
//!
//! An analyte's chance is the smoothed rate of its worst health limit. Close relatives count once, by the worst of them; the others
//! are combined as if independent, which overstates the number a little where contaminants go together. Intervals and ranks
//! come from joint draws of the posteriors. Second rankings go by households and by infants where the area layer counts them; the
//! infants' is about nitrate and nitrite alone, since those limits are made for them.

use super::draws::Draws;
use super::family::worst;
use super::rows::OutreachRow;
use super::words::{percent, spoken};
use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;
use crate::summarise::{ExceedanceRow, Findings};
use std::collections::BTreeMap;

/// Analytes of which infants are the ones at risk.
const INFANTS: [&str; 2] = ["nitrate_as_n", "nitrite_as_n"];

/// Areas, the first to go to first, and the draws behind their intervals. Areas without wells on record stand last.
pub fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    wells: &Wells,
    survey: &Survey,
    findings: &Findings,
) -> (Vec<OutreachRow>, Draws) {
    let worst = worst(dictionary, findings);
    let draws = Draws::of(&worst, wells.areas().len(), plan.summary.seed, plan.summary.interval);
    let sampled = sampled(wells, survey);
    let mut rows: Vec<OutreachRow> = (0..wells.areas().len() as u32)
        .map(AreaId)
        .map(|area| {
            let families = worst.get(&area).cloned().unwrap_or_default();
            row(dictionary, wells, &draws, area, sampled.get(area.index()).copied().unwrap_or(0), &families)
        })
        .collect();
    rows.sort_by(|a, b| {
        let weight = |row: &OutreachRow| row.expected_wells_over.unwrap_or(-1.0);
        weight(b).total_cmp(&weight(a)).then(a.area.cmp(&b.area))
    });
    set_ranks(&mut rows, &draws);
    (rows, draws)
}

/// Ranks of rows in the order they stand in, and what the draws allow, among these rows alone.
pub fn set_ranks(rows: &mut [OutreachRow], draws: &Draws) {
    let among: Vec<(AreaId, u32)> = rows
        .iter()
        .filter(|row| row.expected_wells_over.is_some())
        .filter_map(|row| Some((row.area, row.wells_on_record?)))
        .collect();
    let allowed = draws.ranks(&among);
    for (row, rank) in rows.iter_mut().zip(1..) {
        row.rank = rank;
        row.rank_interval = allowed.get(&row.area).copied();
    }
    second_rank(rows, |row| row.households.1, |row, rank| row.household_rank = rank);
    second_rank(rows, |row| row.infants.1, |row, rank| row.infant_rank = rank);
}

fn second_rank(
    rows: &mut [OutreachRow],
    number: impl Fn(&OutreachRow) -> Option<f64>,
    set: impl Fn(&mut OutreachRow, Option<u32>),
) {
    let mut order: Vec<(f64, AreaId)> = rows.iter().filter_map(|row| Some((number(row)?, row.area))).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let ranks: BTreeMap<AreaId, u32> = order.into_iter().zip(1..).map(|((_, area), rank)| (area, rank)).collect();
    rows.iter_mut().for_each(|row| set(row, ranks.get(&row.area).copied()));
}

/// Wells of each area with any used result.
pub(crate) fn sampled(wells: &Wells, survey: &Survey) -> Vec<u32> {
    let mut counts = vec![0u32; wells.areas().len()];
    for (well, seen) in wells.ids().zip(with_result(wells, survey)) {
        if let (true, Some(count)) = (seen, wells.area(well).and_then(|area| counts.get_mut(area.index()))) {
            *count += 1;
        }
    }
    counts
}

/// Whether each well has a used result.
pub(crate) fn with_result(wells: &Wells, survey: &Survey) -> Vec<bool> {
    let mut seen = vec![false; wells.len()];
    for value in &survey.values {
        seen.get_mut(value.well.index()).into_iter().for_each(|mark| *mark = true);
    }
    seen
}

fn row(
    dictionary: &Dictionary,
    wells: &Wells,
    draws: &Draws,
    area: AreaId,
    sampled: u32,
    worst: &BTreeMap<AnalyteId, &ExceedanceRow>,
) -> OutreachRow {
    let areas = wells.areas();
    let on_record = areas.wells_on_record(area);
    let mean = any_of(worst.values().copied());
    let interval = mean.and_then(|_| draws.interval(area));
    // What other areas say of one without a result is no local finding.
    let tested = worst.values().filter(|row| row.wells > 0);
    let leading = tested.max_by(|a, b| a.smoothed.unwrap_or(0.0).total_cmp(&b.smoothed.unwrap_or(0.0)));
    let scaled = |share: Option<f64>, count: Option<u32>| Some(share? * f64::from(count?));
    let at_risk = worst.iter().filter(|(family, _)| INFANTS.contains(&dictionary.analytes().id(**family)));
    let infants = any_of(at_risk.map(|(_, row)| *row));
    OutreachRow {
        rank: 0,
        area,
        wells_on_record: on_record,
        wells_sampled: sampled,
        share_sampled: on_record.filter(|n| *n > 0).map(|n| f64::from(sampled) / f64::from(n)),
        expected_wells_over: scaled(mean, on_record),
        expected_interval: interval
            .and_then(|(low, high)| scaled(Some(low), on_record).zip(scaled(Some(high), on_record))),
        leading: leading.map(|row| row.analyte),
        because: because(dictionary, on_record, sampled, mean.zip(interval), leading.copied()),
        rank_interval: None,
        households: (areas.households(area), scaled(mean, areas.households(area))),
        household_rank: None,
        infants: (areas.infants(area), scaled(infants, areas.infants(area))),
        infant_rank: None,
    }
}

/// Chance that a well is over any of the limits; `None` of none.
fn any_of<'f>(rows: impl Iterator<Item = &'f ExceedanceRow>) -> Option<f64> {
    let rates: Vec<f64> = rows.filter_map(|row| row.smoothed).collect();
    (!rates.is_empty()).then(|| 1.0 - rates.iter().fold(1.0, |none, rate| none * (1.0 - rate)))
}

fn because(
    dictionary: &Dictionary,
    on_record: Option<u32>,
    sampled: u32,
    rate: Option<(f64, (f64, f64))>,
    leading: Option<&ExceedanceRow>,
) -> String {
    let Some((mean, (low, high))) = rate else { return "No area rate could be estimated.".to_owned() };
    let lead = leading
        .and_then(|row| Some((spoken(dictionary, row.analyte), percent(row.smoothed?))))
        .map(|(name, share)| format!("; the most frequent is {name}, {share}"))
        .unwrap_or_default();
    let never = never_sampled(on_record, sampled);
    format!("{never}; {} of the wells are expected to be over a health limit{lead}.", spread(mean, low, high))
}

/// How many wells there are, and how many of them were never sampled.
fn never_sampled(on_record: Option<u32>, sampled: u32) -> String {
    match (on_record, sampled) {
        (None, 0) => "How many private wells there are is not on record, and none was sampled".to_owned(),
        (None, 1) => "How many private wells there are is not on record; 1 was sampled".to_owned(),
        (None, _) => format!("How many private wells there are is not on record; {sampled} were sampled"),
        (Some(0), _) => "No private well is on record".to_owned(),
        (Some(1), 0) => "1 private well on record, never sampled".to_owned(),
        (Some(all), 0) => format!("{all} private wells on record, none ever sampled"),
        (Some(1), _) => "1 private well on record, sampled".to_owned(),
        (Some(all), _) if sampled >= all => format!("{all} private wells on record, all sampled"),
        (Some(all), _) => {
            let never = all - sampled;
            let share = percent(f64::from(never) / f64::from(all));
            format!("{all} private wells on record, {never} of them ({share}) never sampled")
        }
    }
}

/// A share with its interval, where the interval is wider than the words can tell.
fn spread(mean: f64, low: f64, high: f64) -> String {
    let [mean, low, high] = [mean, low, high].map(percent);
    if low == high { mean } else { format!("{mean} ({low} to {high})") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_wells_are_said_as_one_says_them() {
        let said = |on_record, sampled| never_sampled(on_record, sampled);
        assert_eq!(said(Some(400), 42), "400 private wells on record, 358 of them (90 %) never sampled");
        assert_eq!([said(Some(40), 40), said(Some(40), 41)], ["40 private wells on record, all sampled"; 2]);
        assert_eq!(said(Some(1), 0), "1 private well on record, never sampled");
        assert_eq!(said(Some(9), 0), "9 private wells on record, none ever sampled");
        assert_eq!(said(None, 1), "How many private wells there are is not on record; 1 was sampled");
    }

    #[test]
    fn a_range_that_says_nothing_is_left_out() {
        assert_eq!(
            [spread(0.12, 0.08, 0.18), spread(0.9999, 0.999, 1.0)],
            ["12 % (8 % to 18 %)", "over 99 % (over 99 % to 100 %)"]
        );
        assert_eq!([spread(0.121, 0.119, 0.124), spread(0.001, 0.0005, 0.002)], ["12 %", "under 1 %"]);
    }
}
