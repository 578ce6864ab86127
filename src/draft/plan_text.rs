//! The text of a plan, line by line: keys, doubts as comments, and lines for the user to take into use.
//!
//! Every doubt is written twice: beside its line, and in the list that is told on the terminal.

/// A plan being written.
#[derive(Debug, Default)]
pub(super) struct PlanText {
    /// The text so far.
    pub text: String,
    /// Every doubt, with the key it concerns.
    pub doubts: Vec<String>,
    heading: String,
}

impl PlanText {
    /// A heading such as `[[results]]`; `named` is how doubts call it, such as `results[1]`.
    pub(super) fn heading(&mut self, heading: &str, named: &str) {
        self.line(heading);
        self.heading = named.to_owned();
    }

    /// A line as it is.
    pub(super) fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// A remark.
    pub(super) fn remark(&mut self, remark: &str) {
        for line in remark.lines() {
            self.line(format!("# {line}").trim_end());
        }
    }

    /// A key; `value` is TOML already. An empty doubt is none.
    pub(super) fn key(&mut self, key: &str, value: &str, doubt: &str) {
        if doubt.is_empty() {
            self.line(&format!("{key} = {value}"));
        } else {
            let doubt = one_line(doubt);
            self.line(&format!("{key} = {value}  # unsure: {doubt}"));
            self.doubts.push(format!("{}.{key}: {doubt}", self.heading));
        }
    }

    /// A key with a value that fits many surveys, and what to know of it. That is no doubt about the files.
    pub(super) fn usual(&mut self, key: &str, value: &str, note: &str) {
        self.line(&format!("{key} = {value}  # {}", one_line(note)));
    }

    /// A key for the user to take into use.
    pub(super) fn offer(&mut self, key: &str, value: &str, why: &str) {
        self.line(format!("# {key} = {value}  # {}", one_line(why)).trim_end_matches([' ', '#']));
    }

    /// A doubt about the part as a whole.
    pub(super) fn unsure(&mut self, doubt: &str) {
        self.remark(&format!("unsure: {}", one_line(doubt)));
        self.doubts.push(format!("{}: {}", self.heading, one_line(doubt)));
    }
}

/// A text as a TOML string.
pub(super) fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            c if c.is_control() => quoted.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => quoted.push(c),
        }
    }
    quoted + "\""
}

/// A list of texts.
pub(super) fn list<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    format!("[{}]", texts.into_iter().map(quoted).collect::<Vec<_>>().join(", "))
}

/// A text that cannot end a comment early.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_text_comes_back_from_a_plan() {
        for text in ["Well ID", "5\" pipe", "a\\b", "µg/L", "two\nlines", "\u{feff}x", "'"] {
            let plan = format!("{} = {}", quoted(text), quoted(text));
            let table: toml::Table = plan.parse().unwrap();
            assert_eq!(table.get(text).and_then(toml::Value::as_str), Some(text), "{plan}");
        }
    }
}
