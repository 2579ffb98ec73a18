//! How a word finds its page.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::page::{Kind, Page};

const FILES: &[(Kind, &str)] = include!(concat!(env!("OUT_DIR"), "/pages.rs"));

/// How many words are offered for one that is not found.
const OFFERED: usize = 3;

struct Manual {
    pages: Vec<Page>,
    /// By each word as it is written.
    exact: HashMap<&'static str, usize>,
    /// By each word in small letters with single blanks. `M` and `m` share a place here and are told apart above.
    loose: HashMap<String, usize>,
}

static MANUAL: LazyLock<Manual> = LazyLock::new(|| {
    let pages: Vec<Page> = FILES.iter().map(|(kind, file)| Page::read(*kind, file)).collect();
    let (mut exact, mut loose) = (HashMap::new(), HashMap::new());
    for (i, page) in pages.iter().enumerate() {
        for word in page.words() {
            exact.entry(word).or_insert(i);
            loose.entry(loosely(word)).or_insert(i);
        }
    }
    Manual { pages, exact, loose }
});

/// All pages, in the order of the contents.
pub fn pages() -> &'static [Page] {
    &MANUAL.pages
}

/// The page of a word: a word of the notation, a quantity, a mark, the name of a rule. Capitals and hyphens do not matter where no
/// two words are told apart by them. `None` where there is no such word; [`nearest`] offers others then.
pub fn find(word: &str) -> Option<&'static Page> {
    let word = word.trim();
    let at = MANUAL.exact.get(word).or_else(|| MANUAL.loose.get(&loosely(word)))?;
    Some(&MANUAL.pages[*at])
}

/// The first paragraph of a word's page in plain text.
pub fn short(word: &str) -> Option<String> {
    find(word).map(Page::short)
}

/// Words that may have been meant by one that has no page, the likeliest first: those that differ by few letters, then those that
/// it is a part of. Empty where nothing comes near.
pub fn nearest(word: &str) -> Vec<&'static str> {
    let word = loosely(word);
    let letters = word.chars().count();
    // Longer than any word of the manual; the comparison takes the square of the length.
    if letters == 0 || letters > 60 {
        return Vec::new();
    }
    let reach = (letters / 3).max(1);
    let mut near: Vec<(usize, &'static str)> = Vec::new();
    for page in &MANUAL.pages {
        for candidate in page.words() {
            let other = loosely(candidate);
            let slips = strsim::osa_distance(&word, &other);
            // Of a word of two letters every other one is a slip or two away.
            let close = slips <= reach && letters.min(other.chars().count()) > 2;
            let part = letters > 2 && other.split(' ').any(|w| w.starts_with(&word));
            if close {
                near.push((slips, candidate));
            } else if part {
                near.push((reach + 1, candidate));
            }
        }
    }
    near.sort_by_key(|(slips, candidate)| (*slips, candidate.len(), *candidate));
    near.into_iter().map(|(_, candidate)| candidate).take(OFFERED).collect()
}

/// Small letters, hyphens as blanks, single blanks. A mark made of hyphens stays one.
fn loosely(word: &str) -> String {
    if !word.chars().any(char::is_alphanumeric) {
        return word.trim().to_string();
    }
    word.replace(['-', '_'], " ").split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_leads_to_one_page() {
        let mut seen: HashMap<&str, &str> = HashMap::new();
        for page in pages() {
            for word in page.words() {
                if let Some(other) = seen.insert(word, page.title) {
                    panic!("{word} leads to {other} and to {}", page.title);
                }
                assert_eq!(find(word).map(|p| p.title), Some(page.title), "{word}");
            }
        }
    }

    #[test]
    fn what_a_page_points_at_is_there() {
        for page in pages() {
            for word in &page.see_also {
                let other = find(word).unwrap_or_else(|| panic!("{} sees {word}, which has no page", page.title));
                assert_ne!(other.title, page.title, "{} sees itself", page.title);
            }
            assert!(!page.see_also.is_empty(), "{} leads nowhere", page.title);
        }
    }

    #[test]
    fn capitals_and_hyphens_matter_only_where_they_tell_words_apart() {
        assert_eq!(find("Phase-Margin").map(|p| p.title), Some("phase margin"));
        assert_eq!(find("no dc path").map(|p| p.title), Some("no-dc-path"));
        assert_eq!(find("gnd").map(|p| p.title), Some("gnd"));
        assert_eq!(find("C").map(|p| p.title), Some("C"));
        assert_eq!(find("->").map(|p| p.title), Some("--"));
        assert_eq!(find("nothing of the kind"), None);
    }

    #[test]
    fn a_misspelt_word_gets_its_neighbours() {
        assert_eq!(nearest("flatnes"), ["flatness"]);
        assert!(nearest("margn").contains(&"margin"));
        assert!(nearest("noise c").is_empty() || nearest("noise c").iter().all(|w| w.contains("noise")));
        assert!(nearest("xyzzyq").is_empty());
        assert!(nearest("").is_empty());
    }

    #[test]
    fn pages_are_short_and_begin_with_a_sentence() {
        for page in pages() {
            let lines = page.text.lines().count();
            assert!((6..=60).contains(&lines), "{} has {lines} lines", page.title);
            let short = page.short();
            assert!(short.ends_with(['.', ':']), "{}: {short}", page.title);
            assert!((20..420).contains(&short.chars().count()), "{}: {short}", page.title);
            assert!(page.text.contains("```stage"), "{} has no example", page.title);
            assert_eq!(page.text.matches("```").count() % 2, 0, "{} has an open block", page.title);
        }
    }
}
