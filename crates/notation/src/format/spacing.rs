//! The blanks between the words of a heading or an entry.

use std::ops::Range;

use crate::token::{TokenKind, tokens};
use crate::tree::BlockKind;

/// A word of a line.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// What kind of word.
    pub kind: TokenKind,
    /// Bytes of the text.
    pub range: Range<usize>,
    /// What is typed for it, where it was pasted in another form.
    pub plain: Option<&'static str>,
    /// How many blanks stand in front of it.
    pub gap: usize,
    /// Whether the author put any there.
    had_gap: bool,
    /// How many characters it is wide.
    pub width: usize,
}

/// The words of the lines of one heading (`kind` is then `None`) or entry, each line with its first byte in the file.
///
/// Nothing, if the words would be others with these blanks. No text is known for which that is so; it is looked at all the same,
/// since the harm would be silent.
pub(crate) fn laid(codes: &[(usize, &str)], kind: Option<BlockKind>) -> Option<Vec<Vec<Piece>>> {
    let mut spacer = Spacer::new(kind);
    let mut out = Vec::with_capacity(codes.len());
    for &(first, code) in codes {
        let mut pieces = pieces(first, code);
        spacer.space(&mut pieces);
        if !same_words(first, code, &pieces) {
            return None;
        }
        out.push(pieces);
    }
    Some(out)
}

fn pieces(first: usize, code: &str) -> Vec<Piece> {
    let all = tokens(code);
    let mut out = Vec::with_capacity(all.len() / 2 + 1);
    let mut had_gap = false;
    for token in all {
        if token.kind == TokenKind::Blank {
            had_gap = true;
            continue;
        }
        let slice = &code[token.span.range()];
        let plain = plain(slice);
        out.push(Piece {
            kind: token.kind,
            range: first + token.span.start as usize..first + token.span.end as usize,
            plain,
            gap: 0,
            had_gap,
            width: plain.unwrap_or(slice).chars().count(),
        });
        had_gap = false;
    }
    out
}

/// What is typed for a mark of typeset pages.
fn plain(slice: &str) -> Option<&'static str> {
    Some(match slice {
        "−" => "-",
        "→" => "->",
        "×" | "·" => "*",
        "∥" => "||",
        _ => return None,
    })
}

/// Whether a line with these blanks is cut into the words that it was cut into.
fn same_words(first: usize, code: &str, pieces: &[Piece]) -> bool {
    let word = |piece: &Piece| piece.plain.unwrap_or(&code[piece.range.start - first..piece.range.end - first]);
    let mut line = String::with_capacity(code.len() + pieces.len());
    for piece in pieces {
        line.extend(std::iter::repeat_n(' ', piece.gap));
        line.push_str(word(piece));
    }
    let mut after = tokens(&line).into_iter().filter(|t| t.kind != TokenKind::Blank);
    pieces.iter().all(|p| after.next().is_some_and(|t| t.kind == p.kind && &line[t.span.range()] == word(p)))
        && after.next().is_none()
}

/// What has been seen of an entry so far.
struct Spacer {
    /// Everything behind the first `=` is an expression.
    equation: bool,
    /// `±` begins an attribute of a part here, and the blank behind it is the author's; elsewhere it stands between two figures.
    attributes: bool,
    behind_equal: bool,
    depth: usize,
    /// The word before, over the lines of the entry.
    before: Option<TokenKind>,
}

/// How a sign or an operator stands.
#[derive(Clone, Copy, PartialEq)]
enum Stand {
    /// It belongs to what follows.
    Sign,
    /// Between two operands, with blanks or without.
    Between(bool),
    /// It is none.
    Other,
}

fn is_sign(kind: TokenKind) -> bool {
    matches!(kind, TokenKind::Plus | TokenKind::Minus)
}

impl Spacer {
    fn new(kind: Option<BlockKind>) -> Spacer {
        Spacer {
            equation: matches!(kind, Some(BlockKind::Let | BlockKind::Formula)),
            attributes: matches!(kind, Some(BlockKind::Stage | BlockKind::Use)),
            behind_equal: false,
            depth: 0,
            before: None,
        }
    }

    /// Sets the blanks of one line; the lines of an entry come in order.
    fn space(&mut self, line: &mut [Piece]) {
        let mut stood = Stand::Other;
        for i in 0..line.len() {
            let kind = line[i].kind;
            let stands = self.stands(line, i);
            line[i].gap = if i == 0 { 0 } else { self.gap(line, i, stood, stands) };
            match kind {
                TokenKind::Open => self.depth += 1,
                TokenKind::Close => self.depth = self.depth.saturating_sub(1),
                TokenKind::Equal if self.equation => self.behind_equal = true,
                _ => {}
            }
            self.before = Some(kind);
            stood = stands;
        }
    }

    fn in_expression(&self) -> bool {
        self.depth > 0 || self.behind_equal
    }

    fn stands(&self, line: &[Piece], i: usize) -> Stand {
        use TokenKind::{Comma, Divide, Equal, Figure, Minus, Open, Parallel, Plus, Power, Times};
        let kind = line[i].kind;
        if !matches!(kind, Plus | Minus | Times | Divide) {
            return Stand::Other;
        }
        if !self.in_expression() {
            // `-12 V` is signed; in `+ in` and `low + high` the mark stands by itself.
            let signs = is_sign(kind) && line.get(i + 1).is_some_and(|next| next.kind == Figure);
            return if signs { Stand::Sign } else { Stand::Other };
        }
        let begins =
            matches!(self.before, None | Some(Open | Comma | Equal | Parallel | Plus | Minus | Times | Divide | Power));
        if begins && is_sign(kind) {
            return Stand::Sign;
        }
        // A sum is read in its terms; how a product groups is the author's.
        Stand::Between(is_sign(kind) || line[i].had_gap || line.get(i + 1).is_some_and(|next| next.had_gap))
    }

    /// The blanks in front of a word that is not the first of its line.
    fn gap(&self, line: &[Piece], i: usize, stood: Stand, stands: Stand) -> usize {
        use TokenKind::{Close, Colon, Comma, Name, Open, Percent, PlusMinus, Power, Unit};
        let (before, next) = (line[i - 1].kind, line[i].kind);
        match (before, next) {
            (_, Close | Comma | Colon) | (Open, _) | (Power, _) | (_, Power) => 0,
            // Two signs without a blank would be another mark.
            _ if stood == Stand::Sign => usize::from(stands == Stand::Sign),
            _ if let Stand::Between(wide) = stood => usize::from(wide),
            _ if let Stand::Between(wide) = stands => usize::from(wide),
            (Name, Open) if self.in_expression() => 0,
            (_, Unit | Percent) => usize::from(line[i].had_gap),
            (PlusMinus, _) if self.attributes && !self.in_expression() => usize::from(line[i].had_gap),
            _ => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::read_entry;
    use proptest::prelude::*;

    fn entries() -> impl Strategy<Value = (BlockKind, String)> {
        let word = prop::sample::select(vec![
            "R1",
            "x",
            "a",
            "1",
            "5 %",
            "22 uF",
            "(",
            ")",
            "sqrt(",
            "+",
            "-",
            "−",
            "*",
            "×",
            "/",
            "^",
            "||",
            "∥",
            ",",
            "- ",
            "--",
            "->",
            "→",
            ":",
            "..",
            "±",
            "+/-",
            "<",
            "=",
            "U1a",
            "out",
            "gain",
            "at",
            "of",
            "weighted",
            "A-weighted",
            "\"x\"",
            "typ",
            "E24",
        ]);
        let words = prop::collection::vec((word, prop::sample::select(vec!["", " ", "  "])), 1..9);
        let begin = prop::sample::select(vec![
            (BlockKind::Let, "x ="),
            (BlockKind::Let, "x = a"),
            (BlockKind::Formula, "gain a-b -> c ="),
            (BlockKind::Stage, "a -- R1 (1"),
            (BlockKind::Stage, "a -- R1 1k"),
            (BlockKind::Stage, "U1a x:"),
            (BlockKind::Require, "gain a"),
            (BlockKind::Require, "gain a -> b"),
            (BlockKind::Design, "source a"),
            (BlockKind::Datasheet, "gain bandwidth"),
        ]);
        (begin, words).prop_map(|((kind, begin), words)| {
            let words: String = words.into_iter().map(|(a, b)| a.to_string() + b).collect();
            (kind, format!("{begin}{}{words}", if begin.ends_with('=') { "" } else { " " }))
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

        /// The look at the words afterwards finds nothing: whatever has no fault keeps its words between the blanks given here.
        #[test]
        fn what_is_whole_keeps_its_words((kind, text) in entries()) {
            if read_entry(kind, &text).fault.is_none() {
                prop_assert!(laid(&[(0, &text)], Some(kind)).is_some(), "{text}");
            }
        }
    }
}
