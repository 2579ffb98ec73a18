//! What a misspelt word was probably meant to be.

/// How many misspelt words of a file are compared with all its names, which takes a while in a file without end; further ones are
/// told without a guess.
pub const GUESSES: u32 = 64;

/// `true` if the words differ by one slip: a letter missing, added or changed, or two neighbours exchanged.
pub fn one_slip(a: &str, b: &str) -> bool {
    a.len().abs_diff(b.len()) <= 4 && slips(a, b) == 1
}

/// The candidate nearest to the word, if one is near enough to be worth a question: equal but for capitals, one slip away,
/// or, from six letters on, two. `None` for a word that is a candidate itself. Of several equally near, the first.
///
/// ```
/// use notation::near::nearest;
///
/// assert_eq!(nearest("wipre", ["cw", "wiper", "ccw"]), Some("wiper"));
/// assert_eq!(nearest("Wiper", ["cw", "wiper", "ccw"]), Some("wiper"));
/// assert_eq!(nearest("base", ["cw", "wiper", "ccw"]), None);
/// ```
pub fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    let letters = word.chars().count();
    // Longer than any name in use; the comparison takes the square of the length.
    if letters == 0 || letters > 60 {
        return None;
    }
    let reach = if letters >= 6 { 2 } else { 1 };
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        if candidate == word {
            return None;
        }
        if candidate.len().abs_diff(word.len()) > 8 {
            continue;
        }
        let distance = if candidate.eq_ignore_ascii_case(word) { 0 } else { slips(word, candidate) };
        // Of a word of one or two letters every other one is "one slip away".
        let near = distance == 0 || (distance <= reach && letters.min(candidate.chars().count()) > 2);
        if near && best.is_none_or(|(d, _)| distance < d) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// The candidates that begin with the word, as while it is being typed.
pub fn beginning_with<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Vec<&'c str> {
    candidates.into_iter().filter(|c| c.len() > word.len() && c.starts_with(word)).collect()
}

/// The word of a list that was probably meant, if one is near.
pub fn meant(word: &str, list: &[&'static str]) -> Option<&'static str> {
    let near = nearest(word, list.iter().copied())?;
    list.iter().copied().find(|w| *w == near)
}

fn slips(a: &str, b: &str) -> usize {
    strsim::osa_distance(a, b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_slip_is_missing_added_changed_or_exchanged() {
        for near in ["stge", "staage", "stags", "stgae"] {
            assert!(one_slip(near, "stage"), "{near}");
        }
        assert!(!one_slip("stage", "stage") && !one_slip("sage1", "stage"));
    }

    #[test]
    fn short_words_are_left_alone() {
        assert_eq!(nearest("fa", ["fb", "in"]), None);
        assert_eq!(nearest("GND", ["gnd"]), Some("gnd"));
    }
}
