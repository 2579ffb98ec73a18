//! Small turns of phrase.

/// `a`, `a and b`, `a, b and c`, with the word that stands before the last.
pub fn list<T: AsRef<str>>(items: &[T], word: &str) -> String {
    let items: Vec<&str> = items.iter().map(AsRef::as_ref).collect();
    match items.as_slice() {
        [] => String::new(),
        [one] => one.to_string(),
        [first @ .., last] => format!("{} {word} {last}", first.join(", ")),
    }
}

/// `a`, `a or b`, `a, b or c`.
pub(crate) fn either<T: AsRef<str>>(items: &[T]) -> String {
    list(items, "or")
}

/// The same words with a capital at the beginning.
pub(crate) fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
