//! Which heading a line opens: by its word, or by a word one slip away from it with the rest of that heading's shape.

use crate::near::one_slip;
use crate::token::{TokenKind, tokens};
use crate::tree::BlockKind;
use crate::word::{HEADING_WORDS, heading_kind};

/// The first word of a text, with its length in bytes. Empty if the text begins with something else.
pub(crate) fn first_word(text: &str) -> &str {
    let end = text.bytes().take_while(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'.')).count();
    &text[..end]
}

/// The kind of block whose word a text begins with.
pub(crate) fn exact(text: &str) -> Option<BlockKind> {
    let word = first_word(text);
    // `leté` is another word.
    heading_kind(word).filter(|_| text[word.len()..].chars().next().is_none_or(|c| !c.is_alphanumeric()))
}

/// The kind of block that a text opens when it stands in column 0, and whether its word is misspelt.
pub(crate) fn of(text: &str) -> Option<(BlockKind, bool)> {
    if let Some(kind) = exact(text) {
        return Some((kind, false));
    }
    let word = first_word(text);
    // The longest heading word has nine letters, and two more cannot be one slip.
    if word.is_empty() || word.len() > 11 || !word.bytes().all(|b| b.is_ascii_alphabetic()) {
        return None;
    }
    let near = |(candidate, kind): &(&str, BlockKind)| {
        let slip = word.eq_ignore_ascii_case(candidate) || one_slip(word, candidate);
        (slip && Rest::of(&text[word.len()..]).fits(*kind, word, candidate)).then_some((*kind, true))
    };
    HEADING_WORDS.iter().find_map(near)
}

/// The heading words that a text is the beginning of, when it is one word and nothing else.
pub(crate) fn begun(text: &str) -> Vec<&'static str> {
    let word = first_word(text);
    if word.is_empty() || word.len() != text.len() {
        return Vec::new();
    }
    HEADING_WORDS.iter().map(|(w, _)| *w).filter(|w| w.len() > word.len() && w.starts_with(word)).collect()
}

/// The first tokens behind a heading's word.
struct Rest<'t> {
    kinds: Vec<TokenKind>,
    words: Vec<&'t str>,
}

impl<'t> Rest<'t> {
    fn of(text: &'t str) -> Rest<'t> {
        // Four tokens tell the shapes apart; a line of a megabyte need not be cut into tokens for them.
        let head: usize = text.char_indices().nth(400).map_or(text.len(), |(at, _)| at);
        let (mut kinds, mut words) = (Vec::new(), Vec::new());
        for t in
            tokens(&text[..head]).iter().filter(|t| !matches!(t.kind, TokenKind::Blank | TokenKind::Comment)).take(4)
        {
            kinds.push(t.kind);
            words.push(&text[t.span.range()]);
        }
        Rest { kinds, words }
    }

    /// Whether this can stand behind a heading's word.
    fn fits(&self, kind: BlockKind, word: &str, candidate: &str) -> bool {
        use TokenKind::{Colon, CurlyText, Figure, Name, OpenText, Text};
        let empty = self.kinds.is_empty();
        // A word by itself: of short ones nearly every word is one slip away, so only exchanged and doubled letters count, and
        // what is merely the beginning of a heading opens nothing yet.
        let alone = empty
            && !candidate.starts_with(word)
            && (candidate.len() > 5 || same_letters(word, candidate) || doubled(word, candidate));
        match kind {
            BlockKind::Design => alone || matches!(self.kinds[..], [Text | OpenText | CurlyText, ..]),
            BlockKind::Let | BlockKind::Formula | BlockKind::Require => {
                alone || (!empty && matches!(self.kinds[..], [Colon]))
            }
            BlockKind::Assume => alone || self.words.first() == Some(&"within"),
            BlockKind::Stage => matches!(self.kinds[..], [Name] | [Name, Colon, ..]),
            BlockKind::Use => matches!(self.kinds[..], [Name, Name, ..]) && self.words[1] == "as",
            BlockKind::Include => matches!(self.kinds[..], [Text | OpenText | CurlyText, ..]),
            BlockKind::Datasheet => matches!(self.kinds[..], [Name | Figure, Colon, Name, ..]),
        }
    }
}

fn same_letters(a: &str, b: &str) -> bool {
    let sorted = |s: &str| {
        let mut v = s.to_ascii_lowercase().into_bytes();
        v.sort_unstable();
        v
    };
    sorted(a) == sorted(b)
}

/// Whether the first word is the second with one letter written twice.
fn doubled(word: &str, candidate: &str) -> bool {
    let (word, candidate) = (word.to_ascii_lowercase().into_bytes(), candidate.as_bytes());
    word.len() == candidate.len() + 1
        && (1..word.len())
            .any(|i| word[i] == word[i - 1] && word[..i] == candidate[..i] && word[i + 1..] == candidate[i..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_slip_opens_what_it_means_if_the_rest_has_its_shape() {
        assert_eq!(of("stgae preamp: in -> drive"), Some((BlockKind::Stage, true)));
        assert_eq!(of("Stage preamp: in -> drive"), Some((BlockKind::Stage, true)));
        assert_eq!(of("stae preamp"), Some((BlockKind::Stage, true)));
        assert_eq!(of("requrie"), Some((BlockKind::Require, true)));
        assert_eq!(of("datashet fet: opamp"), Some((BlockKind::Datasheet, true)));
        assert_eq!(of("usr channel as ch2: in2 -> bus"), Some((BlockKind::Use, true)));
        assert_eq!(of("stgae -- R3 1k -- gnd"), None);
        assert_eq!(of("use -- R3 1k -- gnd"), Some((BlockKind::Use, false)));
        assert_eq!(of("net"), None);
        assert_eq!(of("elt"), Some((BlockKind::Let, true)));
        assert_eq!(of("lett"), Some((BlockKind::Let, true)));
        assert_eq!(of("leet"), Some((BlockKind::Let, true)));
        assert_eq!(of("left"), None);
    }

    #[test]
    fn a_beginning_opens_nothing() {
        assert_eq!(of("stag"), None);
        assert_eq!(of("requir"), None);
        assert_eq!(begun("sta"), ["stage"]);
        assert_eq!(begun("d"), ["design", "datasheet"]);
        assert!(begun("stage").is_empty() && begun("fb").is_empty() && begun("sta x").is_empty());
    }
}
