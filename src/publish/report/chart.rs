//! Dot-and-bar charts: for each row a strip with the figure as a dot and its interval as a bar.
//!
//! A strip places everything in percent of its own width, so it stretches with the page while text beside it keeps
//! its size: readable on a phone and on paper. The figures stand beside it as text; the strip only shows them.

use super::input::Spread;
use crate::publish::maps::THIN_INTERVAL;

/// Ends a scale may have.
const ENDS: [f64; 8] = [0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.8, 1.0];

/// The end of a common scale from 0 that holds all intervals.
pub(super) fn scale_end<'a>(spreads: impl Iterator<Item = &'a Spread>) -> f64 {
    let highest = spreads.map(|spread| spread.high.max(spread.value)).fold(0.0, f64::max);
    ENDS.into_iter().find(|end| *end >= highest).unwrap_or(1.0)
}

/// The strip of one row, as an SVG element. Its quarter lines are drawn by the page's style.
pub(super) fn strip(spread: &Spread, end: f64) -> String {
    let (low, high, at) = (place(spread.low, end), place(spread.high, end), place(spread.value, end));
    let thin = if is_thin(spread) { " class=\"thin\"" } else { "" };
    format!(
        "<svg{thin} aria-hidden=\"true\"><line class=\"bar\" x1=\"{low}\" x2=\"{high}\" y1=\"50%\" y2=\"50%\"/>\
         <circle class=\"dot\" cx=\"{at}\" cy=\"50%\" r=\"5\"/></svg>"
    )
}

/// Whether the interval is so wide that the figure says little.
pub(super) fn is_thin(spread: &Spread) -> bool {
    spread.high - spread.low > THIN_INTERVAL
}

/// The scale that stands above the strips, as an SVG element.
pub(super) fn axis(end: f64) -> String {
    let tick = |share: f64| {
        let anchor = if share == 0.0 {
            "start"
        } else if share == 1.0 {
            "end"
        } else {
            "middle"
        };
        let words = super::words::percent(share * end);
        format!("<text x=\"{}\" y=\"13\" text-anchor=\"{anchor}\">{words}</text>", place(share, 1.0))
    };
    let ticks: String = [0.0, 0.5, 1.0].into_iter().map(tick).collect();
    format!("<svg aria-hidden=\"true\">{ticks}</svg>")
}

fn place(share: f64, end: f64) -> String {
    let share = if share.is_finite() { (share / end).clamp(0.0, 1.0) } else { 1.0 };
    format!("{:.1}%", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_holds_the_widest_interval() {
        let spreads = [Spread { value: 0.1, low: 0.05, high: 0.21 }, Spread { value: 0.0, low: 0.0, high: 0.04 }];
        assert_eq!(scale_end(spreads.iter()), 0.3);
        assert_eq!(scale_end([].iter()), 0.02);
    }

    #[test]
    fn dot_and_bar_stand_where_the_figures_say() {
        let strip = strip(&Spread { value: 0.1, low: 0.05, high: 0.2 }, 0.2);
        assert!(
            !strip.contains("thin") && super::strip(&Spread { value: 0.1, low: 0.0, high: 0.6 }, 0.8).contains("thin")
        );
        assert!(strip.contains("x1=\"25.0%\" x2=\"100.0%\"") && strip.contains("cx=\"50.0%\""));
    }
}
