//! Rows of advice become tables: recommend, panel, outreach, and the internal sample-next, follow-up and retest.

use super::number;
use super::tables::{Names, owned, pair};
use crate::dictionary::Dictionary;
use crate::ids::{AnalyteId, WellId};
use crate::place::Wells;
use crate::recommend::{AdviceRow, FollowUps, InBudget, OutreachRow, PanelRow, Retests, SampleNextRow};
use crate::table::{Cell, Cells, Listing, Table};

/// Columns of recommend.csv.
pub const RECOMMEND: [&str; 19] = [
    "area_id",
    "area_name",
    "analyte",
    "advice",
    "where_tested",
    "how_often",
    "chance_of_concern",
    "expected_per_100",
    "wells",
    "evidence",
    "because",
    "price",
    "in_words",
    "limit_set",
    "first_year",
    "last_year",
    "parts_sampled",
    "more_wells_to_halve",
    "more_wells_to_settle",
];
/// Columns of panel.csv.
pub const PANEL: [&str; 11] = [
    "area_id",
    "area_name",
    "step",
    "bought",
    "tests_added",
    "price",
    "cumulative_price",
    "found_per_100",
    "cumulative_found_per_100",
    "found_per_100_a_unit",
    "in_budget",
];
/// Columns of outreach.csv.
pub const OUTREACH: [&str; 19] = [
    "rank",
    "area_id",
    "area_name",
    "wells_on_record",
    "wells_sampled",
    "share_sampled",
    "expected_wells_over",
    "expected_low",
    "expected_high",
    "leading_analyte",
    "because",
    "rank_low",
    "rank_high",
    "households",
    "expected_households_over",
    "household_rank",
    "infants",
    "expected_infants_over",
    "infant_rank",
];
/// Columns of sample-next.csv.
pub const SAMPLE_NEXT: [&str; 10] = [
    "area_id",
    "area_name",
    "order",
    "part",
    "wells_sampled",
    "wells_listed",
    "gap_m",
    "longitude",
    "latitude",
    "because",
];
/// Columns of follow-up.csv.
pub const FOLLOW_UP: [&str; 11] = [
    "urgency",
    "well",
    "analyte",
    "result",
    "limit",
    "benchmark_set",
    "sampled",
    "age_years",
    "why",
    "later_sample",
    "caution",
];
/// Columns of retest.csv.
pub const RETEST: [&str; 7] = ["well", "due", "status", "since", "last_sampled", "tests", "because"];

/// recommend.csv
pub fn recommend(rows: &[AdviceRow], names: Names<'_>) -> Table {
    let count = |n: Option<u32>| Cell::count(n);
    let rows = rows.iter().map(|row| {
        vec![
            Cell::text(names.area_id(row.area)),
            Cell::text(names.area_name(row.area)),
            Cell::text(names.analyte(row.analyte)),
            Cell::text(row.advice.words()),
            Cell::text(row.where_tested),
            Cell::text(row.how_often),
            Cell::number(row.chance_of_concern),
            Cell::number(row.expected_per_100),
            Cell::Count(row.wells.into()),
            Cell::text(row.evidence),
            Cell::text(row.because.clone()),
            Cell::number(row.price),
            Cell::text(row.in_words.clone()),
            Cell::text(row.limit_set.clone()),
            count(row.years.map(|years| years.0)),
            count(row.years.map(|years| years.1)),
            count(row.parts_sampled),
            count(row.more_to_halve),
            count(row.more_to_settle),
        ]
    });
    Table { name: "recommend", columns: owned(&RECOMMEND), rows: rows.collect() }
}

/// panel.csv
pub fn panel(rows: &[PanelRow], names: Names<'_>) -> Table {
    let list =
        |analytes: &[AnalyteId]| analytes.iter().map(|analyte| names.analyte(*analyte)).collect::<Vec<_>>().join(";");
    let rows = rows.iter().map(|row| {
        let budget = match row.in_budget {
            None => "",
            Some(InBudget::Yes) => "yes",
            Some(InBudget::No) => "no",
        };
        let mut cells = vec![
            Cell::text(names.scope_id(row.scope)),
            Cell::text(names.scope_name(row.scope)),
            Cell::Count(row.step.into()),
            Cell::text(row.bought.clone()),
            Cell::text(list(&row.adds)),
        ];
        let per_unit = (row.price > 0.0).then(|| row.found / row.price);
        cells.extend([row.price, row.spent, row.found, row.found_so_far].map(Cell::Number));
        cells.extend([Cell::number(per_unit), Cell::text(budget)]);
        cells
    });
    Table { name: "panel", columns: owned(&PANEL), rows: rows.collect() }
}

/// outreach.csv
pub fn outreach(rows: &[OutreachRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let mut cells = vec![
            Cell::Count(row.rank.into()),
            Cell::text(names.area_id(row.area)),
            Cell::text(names.area_name(row.area)),
            Cell::count(row.wells_on_record),
            Cell::Count(row.wells_sampled.into()),
            Cell::number(row.share_sampled),
            Cell::number(row.expected_wells_over),
        ];
        cells.extend(pair(row.expected_interval));
        cells.extend([
            row.leading.map_or(Cell::Empty, |a| Cell::text(names.analyte(a))),
            Cell::text(row.because.clone()),
            Cell::count(row.rank_interval.map(|ranks| ranks.0)),
            Cell::count(row.rank_interval.map(|ranks| ranks.1)),
        ]);
        for ((people, expected), rank) in [(row.households, row.household_rank), (row.infants, row.infant_rank)] {
            cells.extend([Cell::count(people), Cell::number(expected), Cell::count(rank)]);
        }
        cells
    });
    Table { name: "outreach", columns: owned(&OUTREACH), rows: rows.collect() }
}

/// sample-next.csv; `lonlat` are the rows' places.
pub fn sample_next(rows: &[SampleNextRow], lonlat: &[Option<[f64; 2]>], names: Names<'_>) -> Table {
    let rows = rows.iter().zip(lonlat).map(|(row, place)| {
        vec![
            Cell::text(names.area_id(row.area)),
            Cell::text(names.area_name(row.area)),
            Cell::Count(row.order.into()),
            Cell::text(row.part),
            Cell::Count(row.sampled.into()),
            Cell::Count(row.listed.into()),
            Cell::number(row.gap_m.map(f64::round)),
            Cell::number(place.map(|p| p[0])),
            Cell::number(place.map(|p| p[1])),
            Cell::text(row.because.clone()),
        ]
    });
    Table { name: "sample-next", columns: owned(&SAMPLE_NEXT), rows: rows.collect() }
}

/// follow-up.csv
pub fn follow_up<'a>(calls: &'a FollowUps, dictionary: &'a Dictionary, wells: &'a Wells) -> Listing<'a> {
    let rows = move |number: usize, cells: &mut dyn Cells| {
        let Some(row) = calls.row(dictionary, wells, number) else { return };
        [row.urgency.word(), row.well, dictionary.analytes().id(row.analyte)].iter().for_each(|text| cells.text(text));
        cells.text(&row.result);
        [row.limit, row.set].iter().for_each(|text| cells.text(text));
        cells.words(format_args!("{}", row.date));
        cells.figure(number::rounded((row.age_years * 10.0).round() / 10.0));
        [row.why, &row.later, row.caution].iter().for_each(|text| cells.text(text));
        cells.end();
    };
    Listing { name: "follow-up", columns: owned(&FOLLOW_UP), things: calls.len(), rows: Box::new(rows) }
}

/// retest.csv
pub fn retest<'a>(calendar: &'a Retests, dictionary: &'a Dictionary, wells: &'a Wells) -> Listing<'a> {
    let ids: Vec<WellId> = wells.ids().collect();
    let rows = move |number: usize, cells: &mut dyn Cells| {
        let well = ids.get(number).map(|well| calendar.of_well(dictionary, wells, *well));
        for row in well.into_iter().flatten() {
            [row.well, row.due, row.status].iter().for_each(|text| cells.text(text));
            cells.words(format_args!("{}", row.since));
            match row.last_sampled {
                Some(day) => cells.words(format_args!("{day}")),
                None => cells.text(""),
            }
            cells.text(row.tests);
            cells.words(format_args!("{}", row.because));
            cells.end();
        }
    };
    Listing { name: "retest", columns: owned(&RETEST), things: wells.len(), rows: Box::new(rows) }
}
