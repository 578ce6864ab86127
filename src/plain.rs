//! Text for a terminal: whatever a file or a plan says in it, it stays text.
//!
//! Names, ids and headings of files are repeated in messages. Control characters among them could clear the screen, colour a
//! line away or move back over it, and marks that turn the direction of writing could show another name than the one that is
//! there. Both are written out as TOML and JSON do, so that what is to be pasted into a plan stays pasteable.

use std::borrow::Cow;

/// The same text with `\u001B` in place of such a character. Line ends and tabs stay.
pub fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    let written = |c: char| if acts(c) { format!("\\u{:04X}", u32::from(c)) } else { c.to_string() };
    Cow::Owned(text.chars().map(written).collect())
}

/// Whether a terminal would do something instead of showing it.
fn acts(c: char) -> bool {
    let turns = matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    c.is_control() && c != '\n' && c != '\t' || turns
}

/// A number as one would write it: without the hundreds of zeros of a very large or very small one.
pub fn number(x: f64) -> String {
    let usual = x == 0.0 || !x.is_finite() || (1e-9..1e15).contains(&x.abs());
    if usual { x.to_string() } else { format!("{x:e}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_act_is_written_out() {
        assert_eq!(plain("Größe: 5 µg/L,\t\"W1\"\n"), "Größe: 5 µg/L,\t\"W1\"\n");
        assert_eq!(plain("\u{1b}[2J\r\u{7}\u{0}\u{9b}\u{7f}"), "\\u001B[2J\\u000D\\u0007\\u0000\\u009B\\u007F");
        assert_eq!(plain("W\u{202e}1"), "W\\u202E1");
        let numbers = [0.0, -5.0, 0.25, 1e300, -1e-300, f64::NAN, f64::INFINITY].map(number);
        assert_eq!(numbers, ["0", "-5", "0.25", "1e300", "-1e-300", "NaN", "inf"]);
    }
}
