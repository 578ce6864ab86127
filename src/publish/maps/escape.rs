//! Text from data into SVG: escaped, without characters that XML forbids, and without marks that turn the
//! direction of the text around it.

/// Text fit for SVG content and attributes.
pub(super) fn xml(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().filter(|c| allowed(*c)) {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// A name set apart from the words around it, whatever its direction (Unicode UAX #9: FSI and PDI).
pub(super) fn apart(name: &str) -> String {
    let isolates = ['\u{2068}', '\u{2069}'];
    let plain: String = name.chars().filter(|c| allowed(*c) && !isolates.contains(c)).collect();
    if plain.is_ascii() { plain } else { format!("\u{2068}{plain}\u{2069}") }
}

/// Characters of XML 1.0 that do not steer the direction of text; our own isolates (U+2068, U+2069) may pass.
fn allowed(c: char) -> bool {
    let control = c < ' ' && !matches!(c, '\t' | '\n' | '\r') || ('\u{7f}'..='\u{9f}').contains(&c);
    let steering = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}' | '\u{2067}' | '\u{200e}' | '\u{200f}');
    let nothing = matches!(c, '\u{fffe}' | '\u{ffff}' | '\u{feff}');
    !(control || steering || nothing)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_and_controls_do_not_pass() {
        assert_eq!(xml("<a href=\"x\">&'\u{0}\u{7}</a>"), "&lt;a href=&quot;x&quot;&gt;&amp;&#39;&lt;/a&gt;");
        assert_eq!(xml("Elm\u{202e}mlE\u{2066}\nRise"), "ElmmlE Rise");
    }

    #[test]
    fn names_of_other_directions_stand_apart() {
        assert_eq!(apart("Elm Rise"), "Elm Rise");
        assert_eq!(apart("\u{5d0}\u{5d1}"), "\u{2068}\u{5d0}\u{5d1}\u{2069}");
    }
}
