//! Ids of sets of limits become the few words that a reader knows them by. Tables keep the ids; page and maps say the words.

use crate::dictionary::Dictionary;

/// A set of limits in words; the survey's own sets have no other words than their ids.
pub(super) fn set_words(dictionary: &Dictionary, id: &str) -> String {
    let known = dictionary.benchmarks().sets().iter().find(|set| set.id == id);
    known.map_or_else(|| id.to_owned(), |set| set.short_name.clone())
}

/// A sentence of the tables with the words in place of ids in brackets.
pub(super) fn plainly(dictionary: &Dictionary, sentence: &str) -> String {
    if !sentence.contains('(') {
        return sentence.to_owned();
    }
    let named = dictionary.benchmarks().sets().iter().filter(|set| set.id != set.short_name);
    named.fold(sentence.to_owned(), |words, set| {
        words.replace(&format!("({})", set.id), &format!("({})", set.short_name))
    })
}
