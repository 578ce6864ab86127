//! Turns a spelling into what is compared. Names become lower-case words of letters and digits, so that
//! case, punctuation, spacing and accents do not count. Units keep the signs that carry meaning
//! (`/ # % + -`), because "mg/L" and "mg L" must not be the same thing.

/// The words of a name: lower case, accents off, cut at everything that is not a letter or digit.
pub(super) fn words(text: &str) -> Vec<String> {
    let plain: String = text.replace('@', " at ").chars().flat_map(plain_letter).collect();
    let parts = plain.split(|c: char| !c.is_alphanumeric());
    parts.filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

/// The key of a sequence of words.
pub(super) fn compact(words: &[String]) -> String {
    words.concat()
}

/// The key of words whose order does not count.
pub(super) fn bag(words: &[String]) -> String {
    let mut sorted: Vec<&str> = words.iter().map(String::as_str).collect();
    sorted.sort_unstable();
    sorted.join(" ")
}

/// The key of a unit: lower case, both micro signs as `u`, "per" as `/`, negative powers as `/`, no
/// spaces or brackets.
pub(super) fn unit_key(text: &str) -> String {
    let lower: String = text.chars().flat_map(plain_letter).collect();
    let slashed = format!(" {lower} ").replace(" per ", "/");
    let kept: String = slashed.chars().filter(|c| !dropped(*c)).collect();
    NEGATIVE_POWERS
        .iter()
        .fold(kept, |key, (power, slash)| key.strip_suffix(power).map_or(key.clone(), |unit| format!("{unit}{slash}")))
}

const NEGATIVE_POWERS: [(&str, &str); 7] = [
    ("100ml-1", "/100ml"),
    ("ml-1", "/ml"),
    ("l-1", "/l"),
    ("dm-3", "/dm3"),
    ("cm-1", "/cm"),
    ("m-1", "/m"),
    ("m-3", "/m3"),
];

fn dropped(c: char) -> bool {
    c.is_whitespace() || "()[]{}.·*_^°'\"".contains(c)
}

/// A character in lower case without accent; both micro signs are u, raised digits are digits.
fn plain_letter(c: char) -> impl Iterator<Item = char> {
    let plain = match c {
        'à'..='å' | 'À'..='Å' => 'a',
        'ç' | 'Ç' => 'c',
        'è'..='ë' | 'È'..='Ë' => 'e',
        'ì'..='ï' | 'Ì'..='Ï' => 'i',
        'ñ' | 'Ñ' => 'n',
        'ò'..='ö' | 'Ò'..='Ö' | 'ø' | 'Ø' => 'o',
        'ù'..='ü' | 'Ù'..='Ü' => 'u',
        '\u{b5}' | '\u{3bc}' => 'u',
        '²' | '₂' => '2',
        '³' | '₃' => '3',
        '¹' | '₁' => '1',
        '₄' => '4',
        '₅' => '5',
        '⁻' | '−' | '–' | '—' | '\u{2010}' | '\u{2011}' => '-',
        '⁺' => '+',
        other => other,
    };
    plain.to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::{bag, compact, unit_key, words};

    #[test]
    fn names_fold_to_words() {
        assert_eq!(compact(&words("E. Coli")), "ecoli");
        assert_eq!(words("Nitrogen, Nitrate (as N)"), ["nitrogen", "nitrate", "as", "n"]);
        assert_eq!(bag(&words("SOLIDS, DISSOLVED")), "dissolved solids");
        assert_eq!(compact(&words("Sulfaté")), "sulfate");
    }

    #[test]
    fn units_keep_their_slash() {
        for text in ["\u{b5}g/L", "\u{3bc}g / l", "UG/L", "ug L-1", "\u{b5}g·L\u{207b}\u{b9}"] {
            assert_eq!(unit_key(text), "ug/l", "{text}");
        }
        assert_eq!(unit_key("CFU per 100 mL"), "cfu/100ml");
        assert_eq!(unit_key("[pCi]/L"), "pci/l");
    }
}
