//! What is wrong with a line of a dictionary file, ours or a county's, in four parts: where, which
//! column, what was found, what would do. Built-in files use the same type, so that one mistake in
//! `data-dictionary/` is told as plainly as one in a user's file.

/// A line of a dictionary file that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}, line {line}, column {column}: found {found}; {would_do}")]
pub struct DictionaryFault {
    /// Name of the file as the reader knows it.
    pub file: String,
    /// Line in that file, the heading being 1; 0 when the fault is not of one line.
    pub line: u64,
    /// Heading of the column.
    pub column: String,
    /// What stands there.
    pub found: String,
    /// What would be accepted instead.
    pub would_do: String,
}
