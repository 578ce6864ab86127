//! Reading one table of the plan: a key's node becomes a value of the wanted type, or a problem that says what
//! stood there and what would do.
//!
//! Readers give `None` both for a key that is absent and for one that is wrong; the wrong one has then been told,
//! so that a caller may put a default in either case and go on to the next key.

use super::codes;
use super::notes::{Notes, quoted};
use super::written::{Node, Value, join};
use crate::problem::nearest;

/// One table of the plan.
pub(super) struct Section<'a> {
    pub notes: &'a Notes,
    pub path: &'a str,
    pub line: u64,
    entries: &'a [(String, Node)],
    /// Known keys that some unknown key was probably meant to be; they are not told again as missing.
    meant: Vec<String>,
}

impl<'a> Section<'a> {
    /// Opens a table whose keys are `known`, telling of every other; `name` is how the plan writes it.
    pub(super) fn open(notes: &'a Notes, node: &'a Node, name: &str, known: &[&str]) -> Option<Section<'a>> {
        let mut section = Section::open_free(notes, node, &table_wanted(name, known))?;
        for (key, node) in section.entries.iter().filter(|(key, _)| !known.contains(&key.as_str())) {
            let near = nearest(key, known.iter().copied());
            let hint = near.map(|near| format!("did you mean {near}? ")).unwrap_or_default();
            let wanted = hint + &elsewhere(key) + &keys_known(name, known);
            notes.tell_at(node, codes::UNKNOWN_KEY, "unknown key", wanted);
            section.meant.extend(near.map(str::to_string));
        }
        Some(section)
    }

    /// Opens a table whose keys are the user's own words.
    pub(super) fn open_free(notes: &'a Notes, node: &'a Node, wanted: &str) -> Option<Section<'a>> {
        let Value::Table(entries) = &node.value else {
            notes.wrong_type(node, "a table", wanted);
            return None;
        };
        Some(Section { notes, path: &node.path, line: node.line, entries, meant: Vec::new() })
    }

    /// All keys, in the order of the plan.
    pub(super) fn entries(&self) -> &'a [(String, Node)] {
        self.entries
    }

    pub(super) fn node(&self, key: &str) -> Option<&'a Node> {
        self.entries.iter().find(|(known, _)| known == key).map(|(_, node)| node)
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.node(key).is_some()
    }

    /// Tells of a key that has to be there; `example` is how it would be written.
    pub(super) fn missing(&self, key: &str, example: &str) {
        self.missing_since(key, "missing", &format!("write {example}"));
    }

    /// Tells of a key that has to be there for a reason of its own.
    pub(super) fn missing_since(&self, key: &str, found: &str, wanted: &str) {
        if !self.meant.iter().any(|meant| meant == key) {
            let path = join(self.path, key);
            self.notes.tell((&path, self.line), codes::MISSING_KEY, found, wanted);
        }
    }

    /// The node of a key that has to be there.
    pub(super) fn needed(&self, key: &str, example: &str) -> Option<&'a Node> {
        let node = self.node(key);
        if node.is_none() {
            self.missing(key, example);
        }
        node
    }

    /// Tells of a key that has no meaning beside another.
    pub(super) fn clash(&self, key: &str, with: &str, wanted: &str) {
        if let Some(node) = self.node(key) {
            self.notes.tell_at(node, codes::KEYS_DISAGREE, format!("does not go with {with}"), wanted);
        }
    }

    /// A text with something in it.
    pub(super) fn text(&self, key: &str) -> Option<String> {
        self.node(key).and_then(|node| text_of(self.notes, node))
    }

    /// A name or heading that has to be there: it goes into file names, columns and the head of every map.
    pub(super) fn needed_name(&self, key: &str, example: &str) -> String {
        let name = self.needed_text(key, example);
        self.node(key).into_iter().for_each(|node| self.no_longer(node, &name));
        name
    }

    /// Tells of a name that is too long.
    pub(super) fn no_longer(&self, node: &Node, name: &str) {
        const LONGEST: usize = 200;
        let letters = name.chars().count();
        if letters > LONGEST {
            let found = format!("a text of {letters} letters");
            self.notes.tell_at(node, codes::OUT_OF_RANGE, found, format!("{LONGEST} letters at most"));
        }
    }

    /// A text that has to be there; empty where it is not, and told.
    pub(super) fn needed_text(&self, key: &str, example: &str) -> String {
        self.needed(key, example).and_then(|node| text_of(self.notes, node)).unwrap_or_default()
    }

    /// true or false.
    pub(super) fn truth(&self, key: &str) -> Option<bool> {
        let node = self.node(key)?;
        let Value::Truth(truth) = node.value else {
            self.notes.wrong_type(
                node,
                "true or false",
                format!("write {key} = true or {key} = false, without quotes"),
            );
            return None;
        };
        Some(truth)
    }

    /// One of the words of a list.
    pub(super) fn word<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        self.node(key).and_then(|node| word_of(self.notes, node, words))
    }

    /// A word of a list that has to be there.
    pub(super) fn needed_word<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        self.needed(key, &format!("{key} = {}", in_quotes(&known, " or ")))
            .and_then(|node| word_of(self.notes, node, words))
    }

    /// The items of a list; a lone value of the right type is told and taken as the only item.
    pub(super) fn list(&self, key: &str, items: &Items) -> Option<&'a [Node]> {
        let node = self.node(key)?;
        if let Value::List(items) = &node.value {
            return Some(items);
        }
        self.notes.wrong_type(node, items.name, format!("write {}", items.example));
        (items.fits)(&node.value).then_some(std::slice::from_ref(node))
    }

    /// A list of texts.
    pub(super) fn texts(&self, key: &str, example: &str) -> Option<Vec<String>> {
        let items = self.list(key, &Items::texts(example))?;
        Some(items.iter().filter_map(|item| text_of(self.notes, item)).collect())
    }
}

/// What a list is made of.
pub(super) struct Items<'a> {
    /// The list's name in messages, with its article.
    pub name: &'a str,
    /// Whether a lone value could be an item.
    pub fits: fn(&Value) -> bool,
    /// How the key would be written.
    pub example: &'a str,
}

impl<'a> Items<'a> {
    pub(super) fn texts(example: &'a str) -> Items<'a> {
        Items { name: "a list of texts", fits: |value| matches!(value, Value::Text(_)), example }
    }
}

/// A node's text, with something in it.
pub(super) fn text_of(notes: &Notes, node: &Node) -> Option<String> {
    let Value::Text(text) = &node.value else {
        let lone = !matches!(node.value, Value::List(_) | Value::Table(_));
        let example = if lone { "put it in quotes" } else { "write one text in quotes" };
        notes.wrong_type(node, "a text", example);
        return None;
    };
    if text.trim().is_empty() {
        notes.tell_at(node, codes::EMPTY_TEXT, "an empty text", "write a text, or leave the key out");
        return None;
    }
    Some(text.clone())
}

/// The meaning of a node's word.
pub(super) fn word_of<T: Copy>(notes: &Notes, node: &Node, words: &[(&str, T)]) -> Option<T> {
    let text = text_of(notes, node)?;
    let found = words.iter().find(|(word, _)| *word == text).map(|(_, meaning)| *meaning);
    if found.is_none() {
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let wanted = did_you_mean(&text, &known) + "accepted: " + &in_quotes(&known, ", ");
        notes.tell_at(node, codes::UNKNOWN_WORD, format!("unknown word {}", quoted(&text)), wanted);
    }
    found
}

/// `did you mean "x"? `, or nothing.
pub(super) fn did_you_mean(word: &str, known: &[&str]) -> String {
    nearest(word, known.iter().copied()).map(|near| format!("did you mean {near:?}? ")).unwrap_or_default()
}

/// Words in quotes, as the plan writes them.
pub(super) fn in_quotes(words: &[&str], between: &str) -> String {
    words.iter().map(|word| format!("{word:?}")).collect::<Vec<_>>().join(between)
}

fn table_wanted(name: &str, known: &[&str]) -> String {
    let form = if name.starts_with('[') {
        format!("head it with {name}")
    } else {
        format!("write {{ {} = ..., ... }}", known.first().unwrap_or(&"key"))
    };
    format!("{form}; {}", keys_known(name, known))
}

fn keys_known(name: &str, known: &[&str]) -> String {
    format!("keys known in {name}: {}", known.join(", "))
}

/// Where else a key belongs, for one written under the wrong heading.
fn elsewhere(key: &str) -> String {
    let places = super::sections::KNOWN.iter().chain(super::sections::INNER);
    let names: Vec<&str> = places.filter(|(_, known)| known.contains(&key)).map(|(name, _)| *name).collect();
    if names.is_empty() { String::new() } else { format!("{key} belongs under {}; ", names.join(", ")) }
}
