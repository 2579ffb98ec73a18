//! Names that nothing is called by yet.

use std::collections::HashSet;

/// A name that is neither taken nor a word of the notation: the word itself, or with a number behind it in place of its own.
pub(crate) fn fresh(word: &str, taken: impl Fn(&str) -> bool) -> String {
    let free = |name: &str| !taken(name) && !notation::is_reserved_name(name);
    if free(word) {
        return word.to_string();
    }
    let stem = word.trim_end_matches(|c: char| c.is_ascii_digit());
    (2..).map(|n| format!("{stem}{n}")).find(|name| free(name)).unwrap_or_else(|| word.to_string())
}

/// All words of a text, in comments too: what a name must not be that is to be new to a reader as well.
pub(crate) fn words(text: &str) -> HashSet<&str> {
    text.split(|c: char| !(c.is_alphanumeric() || c == '_')).collect()
}
