//! The colours and patterns of the maps.
//!
//! Class colours are five steps of cividis, light for low and dark for high: lightness rises evenly, so the classes
//! keep their order in grey print and for colour-blind readers. What is not a rate is white with a pattern, never
//! a colour. Source of the scheme: Nuñez, Anderson, Renslow 2018, Optimizing colormaps with consideration for color
//! vision deficiency, PLoS ONE 13(7): e0199239.

/// A colour: red, green, blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rgb(pub(super) u8, pub(super) u8, pub(super) u8);

impl Rgb {
    /// The colour as SVG writes it.
    pub(super) fn hex(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }

    /// Lightness by the weights of ITU-R BT.709, 0 to 255.
    pub(super) fn lightness(self) -> f64 {
        0.2126 * f64::from(self.0) + 0.7152 * f64::from(self.1) + 0.0722 * f64::from(self.2)
    }
}

/// Paper.
pub(super) const PAPER: Rgb = Rgb(255, 255, 255);
/// Text and frame.
pub(super) const INK: Rgb = Rgb(29, 42, 51);
/// Lesser text.
pub(super) const SOFT: Rgb = Rgb(84, 98, 108);
/// What lies outside all areas.
pub(super) const OUTSIDE: Rgb = Rgb(243, 245, 246);
/// Lines of the degree net.
pub(super) const NET: Rgb = Rgb(204, 212, 217);
/// Borders of areas.
pub(super) const BORDER: Rgb = Rgb(70, 76, 82);
/// Ink of the patterns on white.
pub(super) const PATTERN: Rgb = Rgb(120, 128, 134);

/// Steps of cividis from low to high rate (light to dark), at 8, 6, 4, 2 and 0 ninths of the scheme: its lightest
/// ninth is left out, for a large pale yellow area would draw the eye to the lowest rates.
const STEPS: [Rgb; 5] = [Rgb(225, 204, 85), Rgb(165, 156, 116), Rgb(112, 113, 115), Rgb(59, 73, 108), Rgb(0, 34, 78)];

/// The colour of a class; `classes` is 1 to 5. Fewer classes spread over the whole scheme.
pub(super) fn class_colour(class: usize, classes: usize) -> Rgb {
    let picks: &[usize] = match classes {
        0 | 1 => &[1],
        2 => &[0, 3],
        3 => &[0, 2, 4],
        4 => &[0, 1, 3, 4],
        _ => &[0, 1, 2, 3, 4],
    };
    let step = picks.get(class).or(picks.last()).copied().unwrap_or(0);
    STEPS.get(step).copied().unwrap_or(PAPER)
}

/// Ink that can be read on a colour.
pub(super) fn ink_on(colour: Rgb) -> Rgb {
    if colour.lightness() < 125.0 { PAPER } else { INK }
}

/// Colours of the four states of a well on the internal map, by shape as well: see `dots`.
pub(super) mod states {
    use super::Rgb;

    /// Exceeds.
    pub(in super::super) const EXCEEDS: Rgb = Rgb(0, 34, 78);
    /// Detected, meets the benchmark.
    pub(in super::super) const BELOW: Rgb = Rgb(138, 134, 120);
    /// Not detected.
    pub(in super::super) const ABSENT: Rgb = Rgb(84, 98, 108);
    /// The result allows both.
    pub(in super::super) const EITHER: Rgb = Rgb(150, 90, 20);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_darken_evenly_enough_to_keep_their_order_in_grey() {
        for classes in 2..=5 {
            let light: Vec<f64> = (0..classes).map(|class| class_colour(class, classes).lightness()).collect();
            assert!(light.windows(2).all(|pair| pair[0] - pair[1] > 30.0), "{light:?}");
        }
    }
}
