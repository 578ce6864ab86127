//! The embedded font: loaded once, and the widths of texts in it.
//!
//! Widths come from the embedded font for both SVG and PNG, so that both break lines at the same words.

use std::sync::OnceLock;

use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};

use super::fault::MapFault;

/// The name under which the embedded font is known to the drawing library.
const FAMILY: &str = "wellreeve-map";
/// Open Sans Regular, Apache-2.0; see font/SOURCE.md.
static BYTES: &[u8] = include_bytes!("font/OpenSans-Regular.ttf");
/// Line height of the font in ems: ascent 2189 and descent 600 of 2048 units, read from its `hhea` table.
/// The drawing library takes sizes as line heights.
const LINE_EMS: f64 = (2189.0 + 600.0) / 2048.0;
/// Size at which widths are measured, large because the library gives whole pixels.
const MEASURE_PX: f64 = 1000.0;

/// The font at a size in pixels an em.
pub(super) fn at_size(px: f64) -> Result<FontDesc<'static>, MapFault> {
    static LOADED: OnceLock<bool> = OnceLock::new();
    let loaded = LOADED.get_or_init(|| register_font(FAMILY, FontStyle::Normal, BYTES).is_ok());
    if *loaded {
        Ok(FontDesc::new(FontFamily::Name(FAMILY), px * LINE_EMS, FontStyle::Normal))
    } else {
        Err(MapFault::Font("it could not be read".to_owned()))
    }
}

/// How far the library sets the base line below the place it is given, for a size in pixels an em.
pub(super) fn base_line(px: f64) -> f64 {
    px * LINE_EMS / 2.0
}

/// Whether the embedded font has the letters of a text: Latin, Greek, Cyrillic, common signs. Others would be empty
/// boxes in a PNG.
pub(super) fn can_write(text: &str) -> bool {
    let known = |c: char| matches!(u32::from(c), 0x20..=0x52f | 0x1e00..=0x1fff | 0x2010..=0x2027 | 0x2030..=0x205e);
    text.chars().all(known)
}

/// Width of a text in pixels, for a size in pixels an em.
pub(super) fn width(text: &str, px: f64) -> Result<f64, MapFault> {
    let font = at_size(MEASURE_PX)?;
    let (width, _) = font.box_size(text).map_err(|fault| MapFault::Font(fault.to_string()))?;
    Ok(f64::from(width) / MEASURE_PX * px)
}

/// A text broken into lines no wider than `room`; a single word that is wider stands alone. A no-break space keeps
/// its words together.
pub(super) fn wrap(text: &str, px: f64, room: f64) -> Result<Vec<String>, MapFault> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_ascii_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match (longer, lines.last_mut()) {
            (Some(longer), Some(line)) if width(&longer, px)? <= room => *line = longer,
            _ => lines.push(word.to_owned()),
        }
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_of_the_font() {
        // Advance widths of 2048 units an em, read from the font's hmtx table: digits 1169, space 532.
        assert!((width("0", 2048.0).unwrap() - 1169.0).abs() < 4.0);
        assert!((width("0 0", 2048.0).unwrap() - 2870.0).abs() < 8.0);
    }

    #[test]
    fn lines_keep_every_word_and_their_room() {
        let text = "share of sampled wells above the limit, with the chance that it is higher";
        let lines = wrap(text, 12.0, 150.0).unwrap();
        assert_eq!(lines.join(" "), text);
        assert!(lines.len() > 1 && lines.iter().all(|line| width(line, 12.0).unwrap() <= 150.0));
    }
}
