//! From the protected tables to the page's further parts: panels, ranks, changes, coverage, neighbours.
//!
//! Only what stands in a protected table can come onto the page by this way: a hidden row's cells are empty, and so is its part.

use super::protect::{Protected, Public};
use super::report::{
    AnyHealth, AreaFurther, Further, NeighbourCheck, PanelLine, PeriodFigures, PeriodLine, RadiiLine, Ranks, Spread,
    TestFurther, WithinBudget, count, number,
};
use crate::dictionary::Dictionary;
use crate::table::{Cell, Table};

/// False discoveries that are put up with among areas called, as in hot-spots.csv.
const CALLED: f64 = 0.05;

/// Gathers them from the tables that there are.
pub(super) fn further(public: &Public<'_>, tables: &[(Table, Protected<Table>)]) -> Further {
    let plan = public.plan;
    let mut found = Further {
        budget: plan.recommend.budget,
        periods: plan.survey.compare_periods.map(|two| two.map(|(from, to)| format!("{from} to {to}"))),
        ..Further::default()
    };
    let parts = Parts { dictionary: public.dictionary };
    for (_, table) in tables {
        let table = table.get();
        for cells in &table.rows {
            let row = Line { table, cells };
            match table.name {
                "any-health" => parts.any_health(&mut found, row),
                "coverage" => parts.coverage(&mut found, row),
                "outreach" => parts.ranks(&mut found, row),
                "panel" => parts.panel(&mut found, row),
                "trend" => parts.trend(&mut found, row),
                "period" => parts.period(&mut found, row),
                "hot-spots" => parts.neighbours(&mut found, row),
                "land-use" => parts.blocks(&mut found, row),
                "radii" => parts.radii(&mut found, row),
                _ => {}
            }
        }
    }
    found
}

/// One row of a protected table, read by the names of its columns.
#[derive(Clone, Copy)]
pub(super) struct Line<'a> {
    /// The table.
    pub(super) table: &'a Table,
    /// The row's cells.
    pub(super) cells: &'a [Cell],
}

impl Line<'_> {
    fn cell(&self, column: &str) -> Option<&Cell> {
        self.cells.get(self.table.columns.iter().position(|name| name == column)?)
    }

    /// The column's text; empty or none where there is none.
    pub(super) fn text(&self, column: &str) -> String {
        match self.cell(column) {
            Some(Cell::Text(text)) => text.clone(),
            _ => String::new(),
        }
    }

    /// The column's number; empty or none where there is none.
    pub(super) fn number(&self, column: &str) -> Option<f64> {
        match self.cell(column)? {
            Cell::Number(value) => Some(*value),
            Cell::Count(value) => Some(*value as f64),
            _ => None,
        }
    }

    /// The column's count; empty or none where there is none.
    pub(super) fn count(&self, column: &str) -> Option<u64> {
        match self.cell(column)? {
            Cell::Count(value) => Some(*value),
            _ => None,
        }
    }

    fn spread(&self, value: &str, low: &str, high: &str) -> Option<Spread> {
        Spread::of(self.number(value), self.number(low).zip(self.number(high)))
    }

    fn area<'f>(&self, found: &'f mut Further) -> &'f mut AreaFurther {
        found.areas.entry(self.text("area_id")).or_default()
    }

    fn test<'f>(&self, found: &'f mut Further) -> &'f mut TestFurther {
        found.tests.entry(self.text("analyte")).or_default()
    }
}

struct Parts<'a> {
    dictionary: &'a Dictionary,
}

impl Parts<'_> {
    fn any_health(&self, found: &mut Further, row: Line<'_>) {
        let (Some(wells), Some(exceeding), Some(undetermined)) =
            (row.count("wells"), row.count("exceeding"), row.count("undetermined"))
        else {
            return;
        };
        let rate = row.spread("rate", "rate_low", "rate_high");
        let known = AnyHealth { wells, exceeding, undetermined, rate, note: row.text("note") };
        row.area(found).any_health = Some(known).filter(|known| known.wells > 0);
    }

    fn coverage(&self, found: &mut Further, row: Line<'_>) {
        row.area(found).gap_km = row.number("largest_gap_m").map(|metres| metres / 1000.0);
    }

    fn ranks(&self, found: &mut Further, row: Line<'_>) {
        let pair = |value: &str, rank: &str| row.number(value).zip(row.count(rank));
        let ranks = Ranks {
            range: row.count("rank_low").zip(row.count("rank_high")),
            households: pair("expected_households_over", "household_rank"),
            infants: pair("expected_infants_over", "infant_rank"),
        };
        found.ranks.insert(row.text("area_id"), ranks);
    }

    fn panel(&self, found: &mut Further, row: Line<'_>) {
        let (Some(price), Some(spent), Some(found_so_far)) =
            (row.number("price"), row.number("cumulative_price"), row.number("cumulative_found_per_100"))
        else {
            return;
        };
        let bought = row.text("bought");
        let adds = row.text("tests_added");
        let alone = adds == bought;
        let line = PanelLine {
            adds: adds.split(';').filter(|id| !alone && !id.is_empty()).map(|id| self.display(id)).collect(),
            bought: if alone { self.display(&bought) } else { bought },
            price,
            spent,
            found_so_far,
            in_budget: match row.text("in_budget").as_str() {
                "yes" => Some(WithinBudget::Yes),
                "no" => Some(WithinBudget::No),
                _ => None,
            },
        };
        if row.text("area_id") == "region" { found.panel.push(line) } else { row.area(found).panel.push(line) }
    }

    fn trend(&self, found: &mut Further, row: Line<'_>) {
        let words = row.text("in_words");
        let Some((head, _)) = words.split_once(':') else { return };
        let area = row.text("area_id");
        let head = head.to_lowercase();
        if area == "region" {
            row.test(found).trend.clone_from(&words);
        } else if head != "no change to be seen" && !head.starts_with("it cannot") {
            row.area(found).trends.push(words.clone());
        }
        row.test(found).trend_words.insert(area, head);
    }

    fn period(&self, found: &mut Further, row: Line<'_>) {
        let pair = |name: &str| Some([row.count(&format!("{name}_first"))?, row.count(&format!("{name}_second"))?]);
        let figures = pair("exceeding").zip(pair("wells")).map(|(exceeding, wells)| PeriodFigures {
            exceeding,
            wells,
            rate: [row.number("rate_first"), row.number("rate_second")],
            difference: row.spread("difference", "difference_low", "difference_high"),
            words: row.text("note"),
        });
        let (area_id, set) = (row.text("area_id"), row.text("benchmark_set"));
        let clear = |figures: &&PeriodFigures| figures.words.contains("clearly");
        if let Some(clear) = figures.as_ref().filter(clear) {
            let [before, after] = [0, 1].map(|at| {
                let of = |two: &[u64; 2]| two.get(at).copied().unwrap_or(0);
                format!("{} of {}", count(of(&clear.exceeding)), count(of(&clear.wells)))
            });
            let name = self.display(&row.text("analyte"));
            let sentence = format!(
                "{name} ({}): {before} wells above the limit in the earlier period, {after} in the later one; {}.",
                self.set(&set),
                clear.words
            );
            row.area(found).changes.push(sentence);
        }
        let line = PeriodLine { area_id, area: row.text("area_name"), set: self.set(&set), figures };
        row.test(found).periods.push(line);
    }

    fn neighbours(&self, found: &mut Further, row: Line<'_>) {
        let (Some(z), Some(q)) = (row.number("z"), row.number("q")) else { return };
        let name = format!("{} ({})", self.display(&row.text("analyte")), self.set(&row.text("benchmark_set")));
        match z {
            _ if q > CALLED => {}
            z if z > 0.0 => row.area(found).amid_high.push(name),
            _ => row.area(found).amid_low.push(name),
        }
    }

    fn blocks(&self, found: &mut Further, row: Line<'_>) {
        let check = NeighbourCheck { shares: row.number("neighbour_q"), amounts: row.number("rank_neighbour_p") };
        row.test(found).neighbours.push(check);
    }

    fn radii(&self, found: &mut Further, row: Line<'_>) {
        let radii = row.text("radii_m");
        if radii.is_empty() {
            return;
        }
        let (low, high) = (row.number("odds_lowest"), row.number("odds_highest"));
        let odds = low.zip(high).map(|(low, high)| format!("; odds ratios {} to {}", number(low), number(high)));
        let words = format!("{}{}", row.text("note"), odds.unwrap_or_default());
        let line =
            RadiiLine { land_use: row.text("land_use"), set: self.set(&row.text("benchmark_set")), radii, words };
        row.test(found).radii.push(line);
    }

    fn set(&self, id: &str) -> String {
        super::words::set_words(self.dictionary, id)
    }

    fn display(&self, id: &str) -> String {
        let analytes = self.dictionary.analytes();
        let entry = analytes.find(id).and_then(|analyte| analytes.get(analyte));
        entry.map_or_else(|| id.to_owned(), |entry| entry.display_name.clone())
    }
}
