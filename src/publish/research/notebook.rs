//! analysis.ipynb, from the templates in `notebooks-export/`: opened and run as they are, but for the survey's title.

use super::Edition;

const INTERNAL: &str = include_str!("../../../notebooks-export/internal.ipynb");
const PUBLIC: &str = include_str!("../../../notebooks-export/public.ipynb");

/// What stands in a template for the survey's title.
const TITLE: &str = "SURVEY-TITLE";

/// The notebook's text; the title is put in as Markdown that means nothing but its letters.
pub(super) fn text(title: &str, edition: Edition) -> String {
    let template = match edition {
        Edition::Internal => INTERNAL,
        Edition::Public => PUBLIC,
    };
    let quoted = serde_json::to_string(&plain(title)).unwrap_or_default();
    template.replace(TITLE, quoted.trim_matches('"'))
}

/// Text as Markdown on one line, without marks of its own.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::new();
    for c in text.chars() {
        match c {
            _ if c.is_control() => plain.push(' '),
            '<' => plain.push_str("&lt;"),
            '&' => plain.push_str("&amp;"),
            '\\' | '`' | '*' | '[' | ']' | '#' | '|' | '$' | '!' | '~' => plain.extend(['\\', c]),
            _ => plain.push(c),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_of_marks_stays_a_title() {
        for edition in [Edition::Internal, Edition::Public] {
            let made = text("a \"b\" <script> \\ [x](y) $z$\nnext", edition);
            let notebook: serde_json::Value = serde_json::from_str(&made).unwrap();
            let first = notebook["cells"][0]["source"][0].as_str().unwrap();
            assert_eq!(first.trim_end(), "# a \"b\" &lt;script> \\\\ \\[x\\](y) \\$z\\$ next");
            assert!(!made.contains(TITLE));
        }
    }
}
