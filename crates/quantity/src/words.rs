//! Small turns of phrase.

/// `a`, `a or b`, `a, b or c`.
pub(crate) fn either<T: AsRef<str>>(items: &[T]) -> String {
    let items: Vec<&str> = items.iter().map(AsRef::as_ref).collect();
    match items.as_slice() {
        [] => String::new(),
        [one] => one.to_string(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// The same words with a capital at the beginning.
pub(crate) fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
