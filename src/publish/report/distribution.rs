//! How a test's results spread over the region's wells: found amounts as a histogram, not-found ones as bars from zero.
//!
//! A result below a laboratory's limit lies somewhere between nothing and that limit, so it is drawn as that whole
//! stretch and never as a point. The scale is logarithmic, with zero set apart at its left end, unless all amounts lie
//! close together (pH); a reader would question that, and the figure says which it is.

use serde::Serialize;

use super::escape::html;
use super::words::{count, number, wells};

/// Wells with a found amount from one value up to another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ValueClass {
    /// Lower end, which belongs to the class.
    pub from: f64,
    /// Upper end, which does not.
    pub to: f64,
    /// Wells.
    pub wells: u32,
}

/// The region's values of one analyte, in its preferred unit.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Distribution {
    /// Unit, with its basis.
    pub unit: String,
    /// Found amounts in touching classes, rising.
    pub found: Vec<ValueClass>,
    /// Wells where it was not found, by the limit they are below, rising.
    pub not_found: Vec<(f64, u32)>,
    /// Wells of which only is known that they are above some amount.
    pub above: u32,
    /// Wells with a found amount at or below zero (counts of radioactivity), which a logarithmic scale cannot show.
    pub at_zero: u32,
    /// Benchmarks: limit and words.
    pub limits: Vec<(f64, String)>,
    /// The scale.
    pub scale: Scale,
}

/// How amounts are laid along the figure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub enum Scale {
    /// Each step is ten times the one before.
    #[default]
    Logarithmic,
    /// Even steps.
    Even,
}

/// Width of the figure in its own units, chosen so that its letters can be read on a phone.
const WIDTH: f64 = 440.0;
/// Where zero stands, and where the scale begins and ends.
const ZERO: f64 = 10.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 428.0;
/// Height of the tallest column.
const TALL: f64 = 92.0;
/// Height of one bar of not-found results, and of a line of words.
const ROW: f64 = 19.0;

impl Distribution {
    /// The figure in words, for readers who do not see it.
    pub(super) fn words(&self) -> String {
        let found: u32 = self.found.iter().map(|class| class.wells).sum::<u32>() + self.at_zero + self.above;
        let not: u32 = self.not_found.iter().map(|(_, wells)| wells).sum();
        let mut parts = vec![format!("Found in {} of {}.", count(found.into()), wells((found + not).into()))];
        let limits: Vec<String> = self
            .not_found
            .iter()
            .map(|(limit, n)| format!("below {} {} ({})", number(*limit), self.unit, wells((*n).into())))
            .collect();
        if !limits.is_empty() {
            parts.push(format!("Where it was not found, the amount is somewhere {}.", limits.join(", or ")));
        }
        if self.above > 0 {
            parts.push(format!("In {} it was more than could be measured.", wells(self.above.into())));
        }
        if self.at_zero > 0 {
            parts.push(format!("In {} the count was zero or less and has no place here.", wells(self.at_zero.into())));
        }
        parts.join(" ")
    }

    /// The figure as an SVG element; empty where there is nothing to draw.
    pub(super) fn figure(&self) -> String {
        let Some((low, high)) = self.ends() else { return String::new() };
        let place = |value: f64| self.place(value, low, high);
        let top = 6.0 + ROW * self.limits.len() as f64;
        let floor = top + TALL;
        let rows = floor + 24.0;
        let height = rows + ROW * self.not_found.len() as f64 + if self.not_found.is_empty() { 0.0 } else { 24.0 };
        let mut out = format!(
            "<svg class=\"spread\" viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"img\" aria-label=\"{}\">",
            html(&self.words())
        );
        out.push_str(&self.columns(floor, &place));
        // Lines of limits go under every word, or they would strike it out.
        out.push_str(&self.marks(height, &place));
        out.push_str(&self.axis(floor, (low, high), &place));
        out.push_str(&self.bars(rows, &place));
        out.push_str("</svg>");
        out
    }

    /// Ends of the scale: those of the classes and of the limits of not-found results.
    fn ends(&self) -> Option<(f64, f64)> {
        let edges = self.found.iter().flat_map(|class| [class.from, class.to]);
        let all: Vec<f64> = edges.chain(self.not_found.iter().map(|(limit, _)| *limit)).collect();
        let low = all.iter().copied().min_by(f64::total_cmp)?;
        let high = all.iter().copied().max_by(f64::total_cmp)?;
        match self.scale {
            Scale::Logarithmic if low > 0.0 => Some((low.min(high / 10.0), high)),
            Scale::Logarithmic => None,
            Scale::Even => (high > low).then_some((low, high)),
        }
    }

    fn place(&self, value: f64, low: f64, high: f64) -> f64 {
        let share = match self.scale {
            Scale::Logarithmic => libm::log(value / low) / libm::log(high / low),
            Scale::Even => (value - low) / (high - low),
        };
        LEFT + (RIGHT - LEFT) * share.clamp(0.0, 1.0)
    }

    fn columns(&self, floor: f64, place: &dyn Fn(f64) -> f64) -> String {
        let tallest = f64::from(self.found.iter().map(|class| class.wells).max().unwrap_or(0).max(1));
        let column = |class: &ValueClass| {
            let (left, right) = (place(class.from), place(class.to));
            let high = (TALL * f64::from(class.wells) / tallest).max(if class.wells > 0 { 1.5 } else { 0.0 });
            format!(
                "<rect class=\"found\" x=\"{left:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{high:.1}\"><title>{} to under {} {}: {}</title></rect>",
                floor - high,
                (right - left - 1.0).max(0.5),
                number(class.from),
                number(class.to),
                html(&self.unit),
                wells(class.wells.into())
            )
        };
        let columns: String = self.found.iter().filter(|class| class.wells > 0).map(column).collect();
        let top = floor - TALL;
        format!(
            "{columns}<text class=\"end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT - 6.0,
            top + 10.0,
            count(tallest as u64)
        ) + &format!("<text class=\"end\" x=\"{:.1}\" y=\"{:.1}\">wells</text>", LEFT - 6.0, top + 23.0)
    }

    fn axis(&self, floor: f64, ends: (f64, f64), place: &dyn Fn(f64) -> f64) -> String {
        let mut out = format!("<path class=\"line\" d=\"M{LEFT} {floor}H{RIGHT}\"/>");
        for tick in ticks(ends, self.scale) {
            let x = place(tick);
            out.push_str(&format!(
                "<path class=\"line\" d=\"M{x:.1} {floor}v4\"/><text class=\"mid\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>",
                floor + 16.0,
                number(tick)
            ));
        }
        if !self.not_found.is_empty() && self.scale == Scale::Logarithmic {
            out.push_str(&format!("<text class=\"mid\" x=\"{ZERO}\" y=\"{:.1}\">0</text>", floor + 16.0));
        }
        out
    }

    /// Not-found results: one bar for each limit, from zero to the limit.
    fn bars(&self, top: f64, place: &dyn Fn(f64) -> f64) -> String {
        let mut out = String::new();
        for (row, (limit, n)) in self.not_found.iter().enumerate() {
            let y = top + ROW * row as f64 + 4.0;
            let end = place(*limit);
            let words = format!("{}: below {}", wells((*n).into()), number(*limit));
            // Words stand right of the bar, or inside its left end where there is no room.
            let (x, class) = if end < 270.0 { (end + 6.0, "") } else { (ZERO + 8.0, " class=\"on\"") };
            out.push_str(&format!(
                "<rect class=\"none\" x=\"{ZERO}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"13\"/>\
                 <text{class} x=\"{x:.1}\" y=\"{:.1}\">{words}</text>",
                end - ZERO,
                y + 10.5
            ));
        }
        if !self.not_found.is_empty() {
            let y = top + ROW * self.not_found.len() as f64 + 17.0;
            out.push_str(&format!(
                "<text x=\"{ZERO}\" y=\"{y:.1}\">Not found: anywhere in the bar, from 0 to the limit</text>"
            ));
        }
        out
    }

    /// Benchmarks as dashed lines over the whole figure, their words at its head.
    fn marks(&self, height: f64, place: &dyn Fn(f64) -> f64) -> String {
        let mut out = String::new();
        for (row, (limit, words)) in self.limits.iter().enumerate() {
            let (x, y) = (place(*limit), 13.0 + ROW * row as f64);
            let (at, class) = if x > 240.0 { (x - 5.0, "end lim") } else { (x + 5.0, "lim") };
            let foot = height - if self.not_found.is_empty() { 22.0 } else { 24.0 };
            out.push_str(&format!(
                "<path class=\"limit\" d=\"M{x:.1} {:.1}V{foot:.1}\"/><text class=\"{class}\" x=\"{at:.1}\" y=\"{y:.1}\">{}</text>",
                y - 10.0,
                html(words)
            ));
        }
        out
    }
}

/// Round steps: tens, with 2 and 5 between where there is room; or even steps.
fn ticks((low, high): (f64, f64), scale: Scale) -> Vec<f64> {
    let within = |v: &f64| *v >= low * 0.999 && *v <= high * 1.001;
    if scale == Scale::Even {
        let step = even_step(high - low);
        let first = (low / step).ceil();
        return (0..20).map(|i| (first + f64::from(i)) * step).filter(within).collect();
    }
    let (first, last) = (libm::log10(low).floor() as i32, libm::log10(high).ceil() as i32);
    let parts: &[f64] = match last - first {
        ..=2 => &[1.0, 2.0, 5.0],
        _ => &[1.0],
    };
    let skip = usize::try_from((last - first) / 7 + 1).unwrap_or(1);
    let tens = (first..=last).step_by(skip).map(|power| libm::pow(10.0, f64::from(power)));
    tens.flat_map(|ten| parts.iter().map(move |part| part * ten)).filter(within).collect()
}

/// The smallest 1, 2 or 5 times a power of ten that makes at most eight steps.
pub fn even_step(span: f64) -> f64 {
    let power = libm::pow(10.0, libm::log10(span.max(1e-9) / 8.0).floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|part| part * power).find(|step| span / step <= 8.0).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> Distribution {
        Distribution {
            unit: "ug/L <b>".to_owned(),
            found: vec![
                ValueClass { from: 1.0, to: 2.0, wells: 8 },
                ValueClass { from: 2.0, to: 5.0, wells: 4 },
                ValueClass { from: 5.0, to: 10.0, wells: 0 },
            ],
            not_found: vec![(0.5, 30), (2.0, 7)],
            above: 0,
            at_zero: 0,
            limits: vec![(10.0, "above 10 <i>".to_owned())],
            scale: Scale::Logarithmic,
        }
    }

    #[test]
    fn not_found_is_a_bar_from_zero_to_its_limit_and_never_a_point() {
        let figure = made().figure();
        assert_eq!(figure.matches("class=\"none\" x=\"10\"").count(), 2);
        assert_eq!(figure.matches("class=\"found\"").count(), 2);
        assert!(figure.contains("7 wells: below 2") && figure.contains("1 to under 2"));
    }

    #[test]
    fn the_words_count_every_well_once() {
        assert!(made().words().starts_with("Found in 12 of 49 wells. Where it was not found"));
    }

    #[test]
    fn texts_of_data_cannot_become_markup() {
        let figure = made().figure();
        assert!(!figure.contains("<b>") && !figure.contains("<i>") && figure.contains("&lt;i&gt;"));
    }

    #[test]
    fn steps_are_round() {
        assert_eq!(ticks((0.5, 20.0), Scale::Logarithmic), [1.0, 10.0]);
        assert_eq!(ticks((1.0, 50.0), Scale::Logarithmic), [1.0, 2.0, 5.0, 10.0, 20.0, 50.0]);
        assert_eq!(ticks((5.0, 9.0), Scale::Even), [5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0]);
        assert!(ticks((1e300, 1.000_001e300), Scale::Even).len() <= 20);
    }
}
