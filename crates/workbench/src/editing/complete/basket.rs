//! The things that can stand at a place as they are gathered, and their order.

use std::collections::HashMap;

use super::{About, Completion, CompletionKind, Cursor, Piece};

/// How many a list holds at most: more than anyone reads, and little to send.
const MOST: usize = 100;

/// The rank of what has no place any more.
const GONE: u32 = u32::MAX;

/// What was gathered.
pub(crate) struct Basket<'c> {
    cursor: &'c Cursor<'c>,
    /// Each with its rank: the lower, the sooner; of one rank the first put in stands first.
    items: Vec<(u32, Completion)>,
    /// Where each word of a kind stands among them.
    said: HashMap<(String, CompletionKind), usize>,
    /// What is changed of a word that has a better place already.
    spare: Completion,
    incomplete: bool,
}

impl<'c> Basket<'c> {
    pub fn new(cursor: &'c Cursor<'c>) -> Self {
        Basket {
            cursor,
            items: Vec::new(),
            said: HashMap::new(),
            spare: item(String::new(), CompletionKind::Word),
            incomplete: false,
        }
    }

    /// What was put in hangs on the very letters that were typed.
    pub fn hangs_on_letters(&mut self) {
        self.incomplete = true;
    }

    /// Puts a word in that stands for itself. What follows may change any of it. A word that is there already keeps the better place.
    pub fn put(&mut self, rank: u32, kind: CompletionKind, label: impl Into<String>) -> &mut Completion {
        let label = label.into();
        let key = (label.clone(), kind);
        match self.said.get(&key) {
            Some(known) if self.items[*known].0 <= rank => {
                self.spare = item(label, kind);
                return &mut self.spare;
            }
            Some(known) => self.items[*known].0 = GONE,
            None => {}
        }
        self.said.insert(key, self.items.len());
        self.items.push((rank, item(label, kind)));
        &mut self.items.last_mut().expect("one was just pushed").1
    }

    /// Takes out what has no place there after all.
    pub fn leave_out(&mut self, what: impl Fn(&Completion) -> bool) {
        self.items.iter_mut().filter(|(_, item)| what(item)).for_each(|(rank, _)| *rank = GONE);
    }

    /// The likeliest, and whether some were left out or hang on the letters typed.
    pub fn finish(mut self) -> (Vec<Completion>, bool) {
        self.items.retain(|(rank, _)| *rank != GONE);
        self.items.sort_by_key(|(rank, _)| *rank);
        let plain = plainly(self.cursor.typed);
        if plain != self.cursor.typed {
            // A client compares letters: what was typed with Ω or µ is found all the same.
            for (_, item) in &mut self.items {
                if plainly(item.filter.as_deref().unwrap_or(&item.label)).starts_with(&plain) {
                    item.filter = Some(self.cursor.typed.to_string());
                }
            }
        }
        if self.items.len() > MOST {
            // What the client would leave out makes room for what it shows.
            let typed = self.cursor.typed;
            self.items.retain(|(_, item)| looks_like(item.filter.as_deref().unwrap_or(&item.label), typed));
            self.incomplete |= self.items.len() > MOST || !typed.is_empty();
            self.items.truncate(MOST);
        }
        (self.items.into_iter().map(|(_, item)| item).collect(), self.incomplete)
    }
}

fn item(label: String, kind: CompletionKind) -> Completion {
    let insert = vec![Piece::Text(label.clone())];
    Completion { label, kind, detail: String::new(), insert, filter: None, unindent: None, about: About::Nothing }
}

impl Completion {
    /// With a few words beside it.
    pub(crate) fn detail(&mut self, detail: impl Into<String>) -> &mut Self {
        self.detail = detail.into();
        self
    }
    /// With its documentation in the manual.
    pub(crate) fn page(&mut self, word: &str) -> &mut Self {
        if manual::find(word).is_some() {
            self.about = About::Page(word.to_string());
        }
        self
    }
    /// With other text than its label.
    pub(crate) fn insert(&mut self, pieces: Vec<Piece>) -> &mut Self {
        self.insert = pieces;
        self
    }
    /// Found by other letters than its label's.
    pub(crate) fn filter(&mut self, filter: impl Into<String>) -> &mut Self {
        self.filter = Some(filter.into());
        self
    }
}

/// Text that stands.
pub(crate) fn text(text: impl Into<String>) -> Piece {
    Piece::Text(text.into())
}

/// A place to be filled in.
pub(crate) fn stop(number: u32, text: impl Into<String>) -> Piece {
    Piece::Stop(number, text.into())
}

/// A place to be filled in with one of a few words.
pub(crate) fn choice(number: u32, words: Vec<String>) -> Piece {
    match &words[..] {
        [one] => Piece::Stop(number, one.clone()),
        _ => Piece::Choice(number, words),
    }
}

/// A template: `{1:name}` is a place to be filled in, `{1}` the same as it was filled in before.
pub(crate) fn template(written: &str) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut filled: Vec<(u32, String)> = Vec::new();
    let mut rest = written;
    while let Some((before, behind)) = rest.split_once('{') {
        if !before.is_empty() {
            pieces.push(text(before));
        }
        let (inner, behind) = behind.split_once('}').unwrap_or((behind, ""));
        let (number, word) = inner.split_once(':').unwrap_or((inner, ""));
        let number = number.parse().unwrap_or(0);
        let known = filled.iter().find(|(n, _)| *n == number).map(|(_, w)| w.clone());
        let word = known.unwrap_or_else(|| word.to_string());
        filled.push((number, word.clone()));
        pieces.push(stop(number, word));
        rest = behind;
    }
    if !rest.is_empty() {
        pieces.push(text(rest));
    }
    pieces
}

/// In ASCII: `kΩ` as `kohm`, `µF` as `uF`, `√Hz` as `rtHz`.
fn plainly(word: &str) -> String {
    let mut plain = String::with_capacity(word.len());
    for c in word.chars() {
        match c {
            'Ω' | '\u{2126}' => plain.push_str("ohm"),
            'µ' | '\u{3bc}' => plain.push('u'),
            '√' => plain.push_str("rt"),
            '°' => plain.push_str("deg"),
            c => plain.push(c),
        }
    }
    plain
}

/// Whether the letters typed stand in a word in their order, capitals aside, the first at its beginning.
fn looks_like(word: &str, typed: &str) -> bool {
    let mut letters = word.chars().map(|c| c.to_ascii_lowercase());
    let mut typed = typed.chars().map(|c| c.to_ascii_lowercase());
    match (typed.next(), letters.next()) {
        (None, _) => true,
        (Some(a), Some(b)) if a == b => typed.all(|c| letters.any(|l| l == c)),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_template_has_its_stops() {
        assert_eq!(
            template("gain {1:in} -> {2:out}, {1}"),
            [text("gain "), stop(1, "in"), text(" -> "), stop(2, "out"), text(", "), stop(1, "in")]
        );
        assert_eq!(template("plain"), [text("plain")]);
    }

    #[test]
    fn letters_in_their_order_are_enough() {
        assert!(looks_like("drive", "dv") && looks_like("R13", "r") && looks_like("x", ""));
        assert!(!looks_like("drive", "rv") && !looks_like("", "a"));
    }

    #[test]
    fn what_the_trade_writes_in_its_own_letters_is_found() {
        assert_eq!(
            (plainly("kΩ").as_str(), plainly("µF").as_str(), plainly("nV/√Hz").as_str()),
            ("kohm", "uF", "nV/rtHz")
        );
    }
}
