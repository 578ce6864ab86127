//! The letters' template: the built-in one or the county's own, checked before any result is read.
//!
//! A merge field that does not exist would leave a hole in every letter, so each name inside the marks is held against the known
//! fields, with its line; then the template is filled in twice, with everything and with nothing.

use super::fields::Letter;
use crate::files::Inputs;
use crate::plan::Plan;
use crate::problem::{Problem, Problems, nearest};
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use std::collections::BTreeSet;
use std::path::Path;

/// The built-in template.
const BUILT_IN: &str = include_str!("../../../data-dictionary/letter.html");
/// Code of every fault of a template.
const CODE: &str = "letter-template-faulty";
/// Name under which the engine knows it.
const NAME: &str = "letter.html";
/// What the engine itself provides.
const ENGINE: [&str; 8] = ["range", "dict", "namespace", "debug", "loop", "self", "super", "caller"];

/// A sound template.
#[derive(Debug)]
pub struct Template(Environment<'static>);

impl Template {
    /// The plan's template; `None` where the plan asks for no letters.
    ///
    /// # Errors
    /// A file that cannot be read, and every fault of it, with line and field.
    pub fn read(plan: &Plan, inputs: &Inputs) -> Result<Option<Template>, Problems> {
        let Some(letters) = &plan.letters else { return Ok(None) };
        let Some(path) = &letters.template else {
            return Template::parse(Path::new("data-dictionary/letter.html"), BUILT_IN).map(Some);
        };
        let text = String::from_utf8(inputs.read(path)?.to_vec())
            .map_err(|_| Problem::file(path, CODE, "it is not UTF-8 text", "save it again as UTF-8"))?;
        Template::parse(path, &text).map(Some)
    }

    /// Checks a template.
    ///
    /// # Errors
    /// As `read`.
    pub fn parse(path: &Path, text: &str) -> Result<Template, Problems> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_auto_escape_callback(|_| AutoEscape::Html);
        environment.set_formatter(|out, state, value| match value.as_str().filter(|text| text.contains(steers)) {
            Some(text) => minijinja::escape_formatter(out, state, &minijinja::Value::from(text.replace(steers, ""))),
            None => minijinja::escape_formatter(out, state, value),
        });
        let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build();
        environment.set_syntax(syntax.map_err(|fault| engine_fault(path, &fault))?);
        environment.add_template_owned(NAME, text.to_owned()).map_err(|fault| engine_fault(path, &fault))?;
        let template = Template(environment);
        template.unknown_fields(path, text).or(())?;
        for letter in [Letter::sample(), Letter::default()] {
            template.render(&letter).map_err(|fault| engine_fault(path, &fault))?;
        }
        Ok(template)
    }

    /// One letter.
    ///
    /// # Errors
    /// A fault that the check did not see.
    pub fn render(&self, letter: &Letter) -> Result<String, minijinja::Error> {
        self.0.get_template(NAME)?.render(Value::from(Serde(letter)))
    }

    fn unknown_fields(&self, path: &Path, text: &str) -> Problems {
        let (top, inner) = known();
        let template = self.0.get_template(NAME);
        let free: BTreeSet<String> =
            template.map(|template| template.undeclared_variables(false).into_iter().collect()).unwrap_or_default();
        let mut problems = Problems::default();
        for word in words(text) {
            let list = if word.inner { &inner } else { &top };
            let of_engine = ENGINE.contains(&word.text.as_str());
            let unknown = if word.inner {
                !list.contains(&word.text)
            } else {
                free.contains(&word.text) && !list.contains(&word.text)
            };
            if unknown && !of_engine {
                let known: Vec<&str> = list.iter().map(String::as_str).collect();
                let near = nearest(&word.text, known.iter().copied()).map(|near| format!("did you mean {near}? "));
                let wanted = format!("{}fields: {}", near.unwrap_or_default(), known.join(", "));
                let found = format!("there is no merge field {:?}", word.text);
                problems.push(Problem::file(path, CODE, found, wanted).at(word.line).under(word.text));
            }
        }
        problems
    }
}

/// Names of fields of a letter, and of the lines of its lists.
fn known() -> (BTreeSet<String>, BTreeSet<String>) {
    let sample = serde_json::to_value(Letter::sample()).unwrap_or_default();
    let (mut top, mut inner) = (BTreeSet::new(), BTreeSet::new());
    for (name, value) in sample.as_object().into_iter().flatten() {
        top.insert(name.clone());
        let lines = value.as_array().into_iter().flatten().filter_map(serde_json::Value::as_object);
        inner.extend(lines.flat_map(|line| line.keys().cloned()));
    }
    (top, inner)
}

fn engine_fault(path: &Path, fault: &minijinja::Error) -> Problem {
    let found = fault.detail().map_or_else(|| fault.kind().to_string(), |detail| format!("{}: {detail}", fault.kind()));
    let problem = Problem::file(
        path,
        CODE,
        found,
        "the built-in template, data-dictionary/letter.html, shows how fields are written",
    );
    fault.line().map_or(problem.clone(), |line| problem.at(line as u64))
}

/// A name inside the marks.
struct Word {
    line: u64,
    text: String,
    /// It stands after a dot, and not after `loop`.
    inner: bool,
}

/// Every name in `{{ }}` and `{% %}`, texts in quotes left out.
fn words(text: &str) -> Vec<Word> {
    let mut found = Vec::new();
    let mut line = 1;
    let mut rest = text;
    while let Some((before, after)) = split_at_mark(rest) {
        line += before.matches('\n').count() as u64;
        let close = if after.starts_with("{{") { "}}" } else { "%}" };
        let (tag, left) = after.split_once(close).unwrap_or((after, ""));
        of_tag(tag, line, &mut found);
        line += tag.matches('\n').count() as u64;
        rest = left;
    }
    found
}

fn split_at_mark(text: &str) -> Option<(&str, &str)> {
    let at = [text.find("{{"), text.find("{%")].into_iter().flatten().min()?;
    text.split_at_checked(at)
}

fn of_tag(tag: &str, first_line: u64, found: &mut Vec<Word>) {
    let (mut line, mut quote, mut word, mut base, mut dotted) = (first_line, None, String::new(), String::new(), false);
    for mark in tag.chars().chain(std::iter::once(' ')) {
        if mark == '\n' {
            line += 1;
        }
        match quote {
            Some(open) if mark == open => quote = None,
            Some(_) => {}
            None if mark.is_alphanumeric() || mark == '_' => word.push(mark),
            None => {
                if !word.is_empty() {
                    let number = word.starts_with(|c: char| c.is_ascii_digit());
                    // What is called, as in `text.upper()`, is the engine's own.
                    if !(number || dotted && (base == "loop" || mark == '(')) {
                        found.push(Word { line, text: word.clone(), inner: dotted });
                    }
                    base = std::mem::take(&mut word);
                }
                dotted = mark == '.';
                if mark == '"' || mark == '\'' {
                    quote = Some(mark);
                }
            }
        }
    }
}

/// Marks that turn the direction of the text around them (Unicode UAX #9): left out, since a county's template need not set names
/// apart from the words beside them.
fn steers(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> String {
        Template::parse(Path::new("letter.html"), text).map(|_| ()).unwrap_err().to_string()
    }

    #[test]
    fn the_built_in_template_is_sound_and_names_every_field() {
        Template::parse(Path::new("letter.html"), BUILT_IN).unwrap();
        let (top, inner) = known();
        let used: BTreeSet<String> = words(BUILT_IN).into_iter().map(|word| word.text).collect();
        let unused: Vec<&String> = top.union(&inner).filter(|name| !used.contains(*name)).collect();
        assert!(unused.is_empty(), "{unused:?}");
    }

    #[test]
    fn an_unknown_field_is_told_with_file_line_and_name() {
        let told = faults(
            "<p>{{ title }}</p>\n<p>{{ wel }}</p>\n{% for r in results %}\n{{ r.tset }} {{ loop.index }}\n{% endfor %}",
        );
        for part in [
            "letter.html, line 2, wel: there is no merge field \"wel\"",
            "did you mean well?",
            "letter.html, line 4, tset: there is no merge field \"tset\"",
            "did you mean test?",
            "[letter-template-faulty]",
        ] {
            assert!(told.contains(part), "{part} in\n{told}");
        }
        assert!(faults("{% if well %}\n{{ well }").contains("line 2"), "{}", faults("{% if well %}\n{{ well }"));
        assert!(faults("a\n{{ well|shout }}").contains("line 2"));
    }

    #[test]
    fn what_is_merged_is_escaped() {
        let template = Template::parse(Path::new("letter.html"), BUILT_IN).unwrap();
        let nasty = "<script>alert(1)</script>&\"'";
        let letter = Letter { well: nasty.to_owned(), contact: nasty.to_owned(), ..Letter::sample() };
        let page = template.render(&letter).unwrap();
        assert!(!page.contains("<script>") && page.contains("&lt;script&gt;"));
    }
}
