//! Further findings in words: what an area is told beyond rates and advice, which tests to buy, and two periods side by side.

use serde::Serialize;

use super::further::{AreaFurther, Further, PanelLine, PeriodFigures, PeriodLine, TestFurther, WithinBudget};
use super::input::AnyHealth;
use super::words::{count, interval, number, percent, wells};

/// Steps of a panel that are named where there is no budget.
const WITHOUT_BUDGET: usize = 5;

/// What an area's part says beyond rates and advice.
#[derive(Debug, Default, Serialize)]
pub(super) struct AreaParts<'a> {
    any_health: String,
    gap: String,
    panel: Option<PanelView<'a>>,
    trends: &'a [String],
    changes: &'a [String],
    amid_high: &'a [String],
    amid_low: &'a [String],
}

/// Which tests to buy.
#[derive(Debug, Serialize)]
pub(super) struct PanelView<'a> {
    /// What fits the budget, or the first steps.
    chosen: Vec<&'a PanelLine>,
    /// All steps.
    steps: &'a [PanelLine],
    budget: Option<f64>,
    /// What the chosen ones find and cost.
    words: String,
    /// The best that does not fit any more.
    next: Option<&'a PanelLine>,
    /// The scale's end for bars.
    most: f64,
}

/// What is known of an area, in words.
pub(super) fn area<'a>(known: Option<&'a AreaFurther>, budget: Option<f64>) -> AreaParts<'a> {
    let Some(known) = known else { return AreaParts::default() };
    AreaParts {
        any_health: known.any_health.as_ref().map_or_else(String::new, any_health),
        gap: known.gap_km.map_or_else(String::new, |km| {
            format!("The place farthest from any sampled well is about {} km from the nearest one.", number(km))
        }),
        panel: panel(&known.panel, budget),
        trends: &known.trends,
        changes: &known.changes,
        amid_high: &known.amid_high,
        amid_low: &known.amid_low,
    }
}

fn any_health(any: &AnyHealth) -> String {
    let is = if any.exceeding == 1 { "is" } else { "are" };
    let share = any.rate.map_or_else(String::new, |rate| {
        format!(" ({}, interval {})", percent(rate.value), interval(rate.low, rate.high))
    });
    let open = match any.undetermined {
        0 => String::new(),
        more => format!("; {} more could not be judged", count(more)),
    };
    format!(
        "Of the {} tested for every common health test, {} {is} above at least one health limit{share}{open}.",
        wells(any.wells),
        count(any.exceeding)
    )
}

/// The region's panel.
pub(super) fn region_panel(further: &Further) -> Option<PanelView<'_>> {
    panel(&further.panel, further.budget)
}

fn panel(steps: &[PanelLine], budget: Option<f64>) -> Option<PanelView<'_>> {
    let fits = |line: &&PanelLine| line.in_budget != Some(WithinBudget::No);
    let most = if budget.is_some() { usize::MAX } else { WITHOUT_BUDGET };
    let chosen: Vec<&PanelLine> = steps.iter().filter(fits).take(most).collect();
    let next = steps.iter().find(|line| !fits(line)).or(steps.get(chosen.len()));
    let most = steps.last()?.found_so_far;
    let cost: f64 = chosen.iter().map(|line| line.price).sum();
    let words = match (chosen.as_slice(), found(steps, &chosen)) {
        ([], _) => "Not even the first of these tests is within the budget.".to_owned(),
        (_, found) => format!(
            "Together they cost {} and would find about {} results above a health limit in 100 wells (one well can have several).",
            number(cost),
            number(found.round())
        ),
    };
    Some(PanelView { chosen, steps, budget, words, next, most })
}

/// Results that the chosen steps add, each as it stands in the order.
fn found(steps: &[PanelLine], chosen: &[&PanelLine]) -> f64 {
    let before = std::iter::once(0.0).chain(steps.iter().map(|line| line.found_so_far));
    let own = steps.iter().zip(before).filter(|(line, _)| chosen.iter().any(|one| one == line));
    own.map(|(line, before)| line.found_so_far - before).sum()
}

/// One row of two periods.
#[derive(Debug, Serialize)]
pub(super) struct PeriodView<'a> {
    area_id: &'a str,
    area: &'a str,
    set: &'a str,
    cells: Option<PeriodCells<'a>>,
}

#[derive(Debug, Serialize)]
struct PeriodCells<'a> {
    shares: [String; 2],
    counts: [String; 2],
    difference: String,
    span: String,
    words: &'a str,
}

/// Two periods of one test: the region and every area with a clear change; the others stand in the table.
#[derive(Debug, Default, Serialize)]
pub(super) struct PeriodsView<'a> {
    rows: Vec<PeriodView<'a>>,
    /// Whether there are areas without a clear change.
    others: Others,
    /// Names of the areas that are hidden.
    hidden: Vec<&'a str>,
}

/// Whether there are areas that the rows leave out.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Others {
    #[default]
    None,
    Unchanged,
}

/// The region and the areas with a clear change, at most `most` rows.
pub(super) fn periods(test: Option<&TestFurther>, most: usize) -> PeriodsView<'_> {
    let lines = test.map(|test| test.periods.as_slice()).unwrap_or_default();
    let told = |line: &PeriodLine| {
        line.area_id == "region" || line.figures.as_ref().is_some_and(|figures| figures.words.contains("clearly"))
    };
    let unchanged = lines.iter().any(|line| !told(line) && line.figures.is_some());
    let mut hidden: Vec<&str> = Vec::new();
    for line in lines.iter().filter(|line| !told(line) && line.figures.is_none()) {
        if !hidden.contains(&line.area.as_str()) {
            hidden.push(&line.area);
        }
    }
    PeriodsView {
        rows: lines.iter().filter(|line| told(line)).take(most).map(period).collect(),
        others: if unchanged { Others::Unchanged } else { Others::None },
        hidden,
    }
}

fn period(line: &PeriodLine) -> PeriodView<'_> {
    PeriodView { area_id: &line.area_id, area: &line.area, set: &line.set, cells: line.figures.as_ref().map(cells) }
}

fn cells(figures: &PeriodFigures) -> PeriodCells<'_> {
    let [before, after] = figures.exceeding;
    let [wells_before, wells_after] = figures.wells;
    let counted = |above: u64, of: u64| format!("{} above, {}", count(above), wells(of));
    PeriodCells {
        shares: figures.rate.map(|rate| rate.map_or_else(|| "–".to_owned(), percent)),
        counts: [counted(before, wells_before), counted(after, wells_after)],
        difference: figures.difference.map_or_else(|| "–".to_owned(), |d| points(d.value)),
        span: figures.difference.map_or_else(String::new, |d| format!("{} to {}", points(d.low), points(d.high))),
        words: &figures.words,
    }
}

/// A difference of shares in points of 100, with its sign.
fn points(difference: f64) -> String {
    let points = (difference * 1000.0).round() / 10.0;
    let sign = if points > 0.0 { "+" } else { "" };
    format!("{sign}{}", number(points))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(bought: &str, price: f64, found_so_far: f64, in_budget: Option<WithinBudget>) -> PanelLine {
        PanelLine { bought: bought.to_owned(), adds: Vec::new(), price, spent: 0.0, found_so_far, in_budget }
    }

    #[test]
    fn what_fits_the_budget_counts_its_own_finds_alone() {
        let yes = Some(WithinBudget::Yes);
        let steps =
            [step("a", 20.0, 10.0, yes), step("b", 90.0, 40.0, Some(WithinBudget::No)), step("c", 5.0, 41.0, yes)];
        let view = panel(&steps, Some(30.0)).unwrap();
        assert!(view.words.contains("cost 25") && view.words.contains("about 11 results"), "{}", view.words);
        assert_eq!(view.next.map(|line| line.bought.as_str()), Some("b"));
        assert!(panel(&[], Some(30.0)).is_none());
    }

    #[test]
    fn points_have_a_sign() {
        assert_eq!([points(0.0035), points(-0.1), points(0.0)], ["+0.4", "-10", "0"]);
    }
}
