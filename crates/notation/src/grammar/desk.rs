//! What the grammar works on: tokens without blanks, the text beside them, and the names that no tree has room for.

use chumsky::input::{Checkpoint, Cursor, Stream};
use chumsky::inspector::Inspector;

use super::key::Key;
use crate::token::{TokenKind, tokens};
use crate::tree::{PartName, Span, Strays, Word};
use crate::word::is_reserved_name;

/// Parentheses deeper than this are not looked at: a person cannot read them and the stack is finite.
pub(crate) const DEEPEST: usize = 64;
/// An outermost expression of more tokens than this is not looked at beyond them: trees are walked by recursion.
pub(crate) const LONGEST: usize = 1024;

/// A token of the grammar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tk {
    pub kind: TokenKind,
    pub key: Key,
    pub span: Span,
}

/// The input of every parser: owned, so that parsers outlive any one text.
pub(crate) type In = Stream<std::vec::IntoIter<Tk>>;

/// The state of one parse.
pub(crate) struct Desk {
    pub text: String,
    pub toks: Vec<Tk>,
    pub strays: Strays,
    /// Where the text in front of the tokens ends: 0, or the end of a heading's word.
    pub lead: u32,
}

/// Strays collected so far: both counts go back when the parser does.
#[derive(Clone, Copy)]
pub(crate) struct Mark(usize, usize);

impl Inspector<'static, In> for Desk {
    type Checkpoint = Mark;
    fn on_token(&mut self, _: &Tk) {}
    fn on_save<'parse>(&self, _: &Cursor<'static, 'parse, In>) -> Mark {
        Mark(self.strays.names.len(), self.strays.parts.len())
    }
    fn on_rewind<'parse>(&mut self, to: &Checkpoint<'static, 'parse, In, Mark>) {
        let Mark(names, parts) = *to.inspector();
        self.strays.names.truncate(names);
        self.strays.parts.truncate(parts);
    }
}

impl Desk {
    /// Prepares an entry. `equation` says that everything behind the first `=` is one expression.
    pub fn new(text: &str, equation: bool) -> Desk {
        let mut desk = Desk { text: text.to_string(), toks: Vec::new(), strays: Strays::default(), lead: 0 };
        let raw: Vec<Tk> = tokens(text)
            .into_iter()
            .filter(|t| {
                !matches!(t.kind, TokenKind::Blank | TokenKind::Comment | TokenKind::LineEnd | TokenKind::LoneReturn)
            })
            .map(|t| Tk { kind: t.kind, key: Key::of(t.kind, &text[t.span.range()]), span: t.span })
            .collect();
        let raw = if equation { raw } else { weightings(raw, text) };
        desk.toks = desk.bounded(raw, equation);
        desk
    }

    /// Replaces what is nested too deep or too long by one token each.
    fn bounded(&mut self, raw: Vec<Tk>, equation: bool) -> Vec<Tk> {
        use TokenKind::{Close, Colon, Equal, Link, Open};
        let mut out: Vec<Tk> = Vec::with_capacity(raw.len());
        let (mut depth, mut length, mut behind_equal) = (0usize, 0usize, false);
        let mut i = 0;
        while i < raw.len() {
            let kind = raw[i].kind;
            if kind == Open && depth == DEEPEST {
                i = self.skip(&raw, i, 0, 0, false, &mut out);
                continue;
            }
            if length >= LONGEST && kind != Close {
                // Up to the outermost parenthesis, which is left; of an equation, all of it.
                i = self.skip(&raw, i, depth, 1, behind_equal, &mut out);
                (depth, length) = (depth.min(1), 0);
                continue;
            }
            match kind {
                Open => depth += 1,
                Close => depth = depth.saturating_sub(1),
                // An expression ends here at the latest, whether or not its parentheses do.
                Link | Colon => depth = 0,
                Equal if equation => behind_equal = true,
                _ => {}
            }
            length = if depth > 0 || behind_equal { length + 1 } else { 0 };
            out.push(raw[i]);
            i += 1;
        }
        out
    }

    /// Puts one token for a stretch that begins at `from` inside `depth` parentheses, and returns the index behind it: behind
    /// the group that begins there (`floor` 0), in front of the parenthesis that closes the outermost one (`floor` 1), in
    /// front of a mark that ends every expression, or at the end.
    fn skip(&mut self, raw: &[Tk], from: usize, mut depth: usize, floor: usize, all: bool, out: &mut Vec<Tk>) -> usize {
        let mut i = from;
        while let Some(tk) = raw.get(i) {
            match tk.kind {
                TokenKind::Link | TokenKind::Colon if !all => break,
                TokenKind::Open => depth += 1,
                TokenKind::Close if floor == 1 && depth == 1 && !all => break,
                TokenKind::Close => depth = depth.saturating_sub(1),
                _ => {}
            }
            self.stray(tk);
            i += 1;
            if floor == 0 && depth == 0 {
                break;
            }
        }
        let span = raw[from].span.to(raw[i.max(from + 1) - 1].span);
        out.push(Tk { kind: TokenKind::TooMuch, key: Key::None, span });
        i.max(from + 1)
    }

    /// The text of a token.
    pub fn slice(&self, tk: &Tk) -> &str {
        &self.text[tk.span.range()]
    }

    /// A token as a word; of a quoted text, what stands between the marks.
    pub fn word(&self, tk: &Tk) -> Word {
        let slice = self.slice(tk);
        let text = match tk.kind {
            TokenKind::Text => &slice[1..slice.len() - 1],
            TokenKind::OpenText => &slice[1..],
            TokenKind::CurlyText => slice.trim_matches(['“', '”', '„', '"']),
            _ => slice,
        };
        Word { text: text.into(), span: tk.span }
    }

    /// A token as a part's name.
    pub fn part(&self, tk: &Tk) -> PartName {
        PartName::parse_at(self.slice(tk), tk.span).unwrap_or_else(|| PartName {
            text: self.slice(tk).into(),
            prefix: 0,
            class: "".into(),
            number: None,
            unit: None,
            span: tk.span,
        })
    }

    /// The token at an index.
    pub fn tok(&self, index: usize) -> Option<&Tk> {
        self.toks.get(index)
    }

    /// The kind of the token at an index.
    pub fn kind(&self, index: usize) -> Option<TokenKind> {
        self.toks.get(index).map(|t| t.kind)
    }

    /// Whether the index is behind the last token.
    pub fn ends(&self, index: usize) -> bool {
        index >= self.toks.len()
    }

    /// The place of nothing in front of the token at an index: directly behind the token before it.
    pub fn gap(&self, index: usize) -> Span {
        let at = match index.checked_sub(1).and_then(|i| self.toks.get(i)) {
            Some(before) => before.span.end,
            None if self.lead > 0 => self.lead,
            None => self.toks.first().map_or(0, |t| t.span.start),
        };
        Span { start: at, end: at }
    }

    /// The place of the tokens of a range of indices; of an empty range, the gap.
    pub fn place(&self, range: std::ops::Range<usize>) -> Span {
        match (self.toks.get(range.start), range.end.checked_sub(1).and_then(|i| self.toks.get(i))) {
            (Some(first), Some(last)) if range.start < range.end => first.span.to(last.span),
            _ => self.gap(range.start),
        }
    }

    /// Keeps the name that a token holds, if it holds one.
    pub fn stray(&mut self, tk: &Tk) {
        match tk.kind {
            TokenKind::Name if !is_reserved_name(self.slice(tk)) => {
                let word = self.word(tk);
                self.strays.names.push(word);
            }
            TokenKind::Part => {
                let part = self.part(tk);
                self.strays.parts.push(part);
            }
            _ => {}
        }
    }
}

/// `a-weighted` reads as a node, a minus and another node; written like this it was meant as the weighting, unless an arrow
/// beside it makes it a difference of nodes.
fn weightings(raw: Vec<Tk>, text: &str) -> Vec<Tk> {
    let is = |t: &Tk, words: &[&str]| t.kind == TokenKind::Name && words.contains(&&text[t.span.range()]);
    let arrow = |t: Option<&Tk>| t.is_some_and(|t| t.kind == TokenKind::Arrow);
    let weighting = |i: usize| {
        let (a, minus) = (raw.get(i)?, raw.get(i + 1)?);
        let capital = is(a, &["A"]);
        if !(capital || is(a, &["a"])) || minus.kind != TokenKind::Minus || a.span.end != minus.span.start {
            return None;
        }
        // `A` can be no node, so that any beginning of the word is one; `a` can.
        let word = raw.get(i + 2).filter(|b| minus.span.end == b.span.start && b.kind == TokenKind::Name);
        let Some(b) = word else { return (capital && i + 2 == raw.len()).then(|| (a.span.to(minus.span), 2)) };
        let begun = capital && "weighted".starts_with(&text[b.span.range()]);
        let difference = arrow(raw.get(i + 3)) || arrow(i.checked_sub(1).and_then(|i| raw.get(i)));
        let words = begun || (is(b, &["weighted", "weight", "weighting", "Weighted"]) && (capital || !difference));
        words.then(|| (a.span.to(b.span), 3))
    };
    let mut out = Vec::with_capacity(raw.len());
    let mut i = 0;
    while i < raw.len() {
        match weighting(i) {
            Some((span, count)) => {
                out.push(Tk { kind: TokenKind::Unknown, key: Key::LikeWeighted, span });
                i += count;
            }
            None => {
                out.push(raw[i]);
                i += 1;
            }
        }
    }
    out
}
