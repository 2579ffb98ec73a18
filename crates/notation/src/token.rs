//! Text to tokens, losslessly: every byte stands in exactly one token, blanks and comments included.
//!
//! A word that begins with a digit is a figure, a word that begins with a letter is a name, and either is read whole.

use logos::Logos;

use crate::part::has_part_shape;
use crate::tree::Span;
use crate::word::{is_series, is_unit_symbol};

/// One token with its place in the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Bytes of the text given to [`tokens`].
    pub span: Span,
}

/// The kinds of token.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum TokenKind {
    /// Blanks, tabs and the no-break and thin blanks of typeset pages.
    Blank,
    /// LF or CRLF.
    LineEnd,
    /// A carriage return without its line feed.
    LoneReturn,
    /// `#` to the line's end.
    Comment,
    /// `"text"`
    Text,
    /// `"text` to the line's end: the closing mark is missing.
    OpenText,
    /// `“text”`: curly marks, a look-alike of [`TokenKind::Text`].
    CurlyText,
    /// A word that begins with a digit: `4k7`, `22uF`, `18nV/√Hz`, `5532`.
    Figure,
    /// `1,5k`: a look-alike of a figure.
    DecimalComma,
    /// `.47u`: a look-alike of a figure.
    BarePoint,
    /// A word that begins with a letter: a node, a stage, a word of the notation, a unit symbol that follows no figure.
    Name,
    /// A name of the shape that is kept for parts: `R12`, `cold.VR1a`.
    Part,
    /// `E3` … `E192`
    Series,
    /// A unit symbol directly behind a figure.
    Unit,
    /// `%`
    Percent,
    /// `A-weighted`, `468-weighted`
    Weighted,
    /// `±`, `+/-`
    PlusMinus,
    /// `--`
    Link,
    /// `->`, `→`
    Arrow,
    /// `||`, `∥`
    Parallel,
    /// `..`
    Range,
    /// `<`
    Less,
    /// `>`
    Greater,
    /// `=`
    Equal,
    /// `+`
    Plus,
    /// `-`, `−`
    Minus,
    /// `*`, `×`, `·`
    Times,
    /// `/`
    Divide,
    /// `^`
    Power,
    /// `(`
    Open,
    /// `)`
    Close,
    /// `:`
    Colon,
    /// `,`
    Comma,
    /// Something that looks like a mark of the notation and is none: `–`, `≤`, `-->`, `;` …
    LookAlike,
    /// A word with letters other than a-z: `größe`.
    Foreign,
    /// Anything else.
    Unknown,
    /// A stretch of an expression that is nested too deep or is too long to be looked at. Only the parser makes these.
    TooMuch,
}

/// What logos tells apart; the rest depends on the word's own spelling or on the token in front of it.
#[derive(Logos, Clone, Copy, Debug, PartialEq)]
enum Raw {
    #[regex(r"[ \t\u{00A0}\u{2009}\u{202F}]+")]
    Blank,
    #[regex(r"\r?\n")]
    LineEnd,
    #[token("\r")]
    LoneReturn,
    // A carriage return inside a comment belongs to it unless it is the first half of the line's end.
    #[regex(r"#([^\r\n]|\r+[^\r\n])*", allow_greedy = true)]
    Comment,
    #[regex(r#""[^"\r\n]*""#)]
    Text,
    #[regex(r#""[^"\r\n]*"#)]
    OpenText,
    #[regex(r#"[“”„][^“”„"\r\n#]*[“”"]"#)]
    CurlyText,
    #[regex(r"[0-9]+(\.[0-9]+)?(e[+-]?[0-9]+)?[A-Za-z0-9_µ\u{03BC}Ω\u{2126}]*([VA]/((√|rt)Hz|[µ\u{03BC}um]s))?")]
    Figure,
    #[regex(r"[0-9]+,[0-9]+[A-Za-z0-9µ\u{03BC}Ω\u{2126}]*")]
    DecimalComma,
    #[regex(r"\.[0-9]+[A-Za-z0-9µ\u{03BC}Ω\u{2126}]*")]
    BarePoint,
    #[regex(r"[A-Za-z_][A-Za-z0-9_]*(\.[A-Za-z_][A-Za-z0-9_]*)*")]
    Name,
    #[regex(r"[fpnµ\u{03BC}umkMGT]?[VA]/((√|rt)Hz|[µ\u{03BC}um]s)|[fpnµ\u{03BC}umkMGT]?(Ω|\u{2126})|[µ\u{03BC}][A-Za-z]*|°C?")]
    Unit,
    #[token("%")]
    Percent,
    #[token("A-weighted")]
    #[token("468-weighted")]
    Weighted,
    #[token("±")]
    #[token("+/-")]
    PlusMinus,
    #[token("--")]
    Link,
    #[token("->")]
    #[token("→")]
    Arrow,
    #[token("||")]
    #[token("∥")]
    Parallel,
    #[token("..")]
    Range,
    #[token("<")]
    Less,
    #[token(">")]
    Greater,
    #[token("=")]
    Equal,
    #[token("+")]
    Plus,
    #[token("-")]
    #[token("−")]
    Minus,
    #[token("*")]
    #[token("×")]
    #[token("·")]
    Times,
    #[token("/")]
    Divide,
    #[token("^")]
    Power,
    #[token("(")]
    Open,
    #[token(")")]
    Close,
    #[token(":")]
    Colon,
    #[token(",")]
    Comma,
    #[regex(r"---+>?|-->|[–—―]+>?|−−+>?|−>|-−|−-")]
    #[regex(r"\.\.\.+|…|<=|>=|=<|=>|==+|≤|≥|⩽|⩾|\+-|\*\*|\||‖|\|\|\|+|÷|~|≈|@|;")]
    #[regex(r"[{}\[\]“”„‘’'`]")]
    LookAlike,
}

/// All tokens of a text, in order and without gaps.
///
/// ```
/// use notation::token::{TokenKind, tokens};
///
/// let kinds: Vec<TokenKind> = tokens("fb -- R3 4k7").iter().map(|t| t.kind).collect();
/// use TokenKind::*;
/// assert_eq!(kinds, [Name, Blank, Link, Blank, Part, Blank, Figure]);
/// ```
pub fn tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::with_capacity(text.len() / 3 + 4);
    // Whether the last token that was no blank or comment is a figure: a unit symbol is one only behind a figure.
    let mut behind_figure = false;
    let mut lexer = Raw::lexer(text);
    while let Some(raw) = lexer.next() {
        let span = lexer.span();
        let slice = lexer.slice();
        let kind = classify(raw.ok(), slice, behind_figure);
        if let Some(last) = out.last_mut()
            && joins(last, kind, slice, span.start, text)
        {
            last.kind = TokenKind::Foreign;
            last.span.end = span.end as u32;
            behind_figure = false;
            continue;
        }
        if !matches!(kind, TokenKind::Blank | TokenKind::Comment) {
            behind_figure = kind == TokenKind::Figure;
        }
        out.push(Token { kind, span: Span::new(span.start, span.end) });
    }
    out
}

fn classify(raw: Option<Raw>, slice: &str, behind_figure: bool) -> TokenKind {
    use TokenKind as T;
    let Some(raw) = raw else {
        return if slice.chars().all(char::is_alphabetic) { T::Foreign } else { T::Unknown };
    };
    match raw {
        Raw::Name if behind_figure && is_unit_symbol(slice) => T::Unit,
        Raw::Name if is_series(slice) => T::Series,
        Raw::Name if has_part_shape(slice) => T::Part,
        Raw::Name => T::Name,
        // "µF" or "Ω" where no figure stands in front is no word of the notation.
        Raw::Unit if behind_figure => T::Unit,
        Raw::Unit => T::Foreign,
        Raw::Blank => T::Blank,
        Raw::LineEnd => T::LineEnd,
        Raw::LoneReturn => T::LoneReturn,
        Raw::Comment => T::Comment,
        Raw::Text => T::Text,
        Raw::OpenText => T::OpenText,
        Raw::CurlyText => T::CurlyText,
        Raw::Figure => T::Figure,
        Raw::DecimalComma => T::DecimalComma,
        Raw::BarePoint => T::BarePoint,
        Raw::Percent => T::Percent,
        Raw::Weighted => T::Weighted,
        Raw::PlusMinus => T::PlusMinus,
        Raw::Link => T::Link,
        Raw::Arrow => T::Arrow,
        Raw::Parallel => T::Parallel,
        Raw::Range => T::Range,
        Raw::Less => T::Less,
        Raw::Greater => T::Greater,
        Raw::Equal => T::Equal,
        Raw::Plus => T::Plus,
        Raw::Minus => T::Minus,
        Raw::Times => T::Times,
        Raw::Divide => T::Divide,
        Raw::Power => T::Power,
        Raw::Open => T::Open,
        Raw::Close => T::Close,
        Raw::Colon => T::Colon,
        Raw::Comma => T::Comma,
        Raw::LookAlike => T::LookAlike,
    }
}

/// Whether a token goes on with the word in front of it, because one of the two has letters other than a-z:
/// `größe` is one word, not two and two letters.
fn joins(last: &Token, kind: TokenKind, slice: &str, start: usize, text: &str) -> bool {
    use TokenKind as T;
    let wordlike = |k: T| matches!(k, T::Name | T::Part | T::Series | T::Figure | T::Foreign | T::Unit);
    last.span.end as usize == start
        && wordlike(last.kind)
        && wordlike(kind)
        && (last.kind == T::Foreign || kind == T::Foreign)
        && slice.chars().next().is_some_and(char::is_alphanumeric)
        && text[last.span.range()].chars().next_back().is_some_and(|c| c.is_alphanumeric() || c == '_')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        tokens(text)
            .iter()
            .filter(|t| t.kind != TokenKind::Blank)
            .map(|t| format!("{:?}‹{}›", t.kind, &text[t.span.range()]))
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn a_word_is_read_whole() {
        assert_eq!(shown("20..20k"), "Figure‹20› Range‹..› Figure‹20k›");
        assert_eq!(
            shown("4k7 0R47 2u2 2n3904 1e3 2e-9"),
            "Figure‹4k7› Figure‹0R47› Figure‹2u2› Figure‹2n3904› Figure‹1e3› Figure‹2e-9›"
        );
        assert_eq!(shown("18nV/√Hz 13V/us 1/s"), "Figure‹18nV/√Hz› Figure‹13V/us› Figure‹1› Divide‹/› Name‹s›");
        assert_eq!(shown("R47 cold.R1 VR1a TL072 vpos"), "Part‹R47› Part‹cold.R1› Part‹VR1a› Part‹TL072› Name‹vpos›");
        assert_eq!(shown("10k E24"), "Figure‹10k› Series‹E24›");
    }

    #[test]
    fn a_unit_symbol_is_one_behind_a_figure_only() {
        assert_eq!(shown("18 nV/√Hz"), "Figure‹18› Unit‹nV/√Hz›");
        assert_eq!(shown("10 kΩ"), "Figure‹10› Unit‹kΩ›");
        assert_eq!(shown("25 °C"), "Figure‹25› Unit‹°C›");
        assert_eq!(shown("22 µF polar"), "Figure‹22› Unit‹µF› Name‹polar›");
        assert_eq!(shown("s * V"), "Name‹s› Times‹*› Name‹V›");
        // A volt over the Laplace variable, not a slew rate.
        assert_eq!(shown("10 V/s"), "Figure‹10› Unit‹V› Divide‹/› Name‹s›");
    }

    #[test]
    fn marks_and_what_looks_like_them() {
        assert_eq!(shown("a--b"), "Name‹a› Link‹--› Name‹b›");
        assert_eq!(shown("a-->b"), "Name‹a› LookAlike‹-->› Name‹b›");
        assert_eq!(shown("> -75"), "Greater‹>› Minus‹-› Figure‹75›");
        assert_eq!(shown("<-75"), "Less‹<› Minus‹-› Figure‹75›");
        assert_eq!(shown("+/- 1 %"), "PlusMinus‹+/-› Figure‹1› Percent‹%›");
        assert_eq!(shown("1,5k .47u"), "DecimalComma‹1,5k› BarePoint‹.47u›");
        assert_eq!(shown("1 a,2 b"), "Figure‹1› Name‹a› Comma‹,› Figure‹2› Name‹b›");
        assert_eq!(shown("A-weighted 468-weighted"), "Weighted‹A-weighted› Weighted‹468-weighted›");
        assert_eq!(shown("20–20k"), "Figure‹20› LookAlike‹–› Figure‹20k›");
    }

    #[test]
    fn other_letters_make_one_foreign_word() {
        assert_eq!(shown("größe -- Rñ1"), "Foreign‹größe› Link‹--› Foreign‹Rñ1›");
        assert_eq!(shown("é"), "Foreign‹é›");
    }

    #[test]
    fn texts_and_comments() {
        assert_eq!(shown("\"a # b\" # c"), "Text‹\"a # b\"› Comment‹# c›");
        assert_eq!(shown("\"47 uF, 63 V"), "OpenText‹\"47 uF, 63 V›");
        assert_eq!(shown("# c\r\nx"), "Comment‹# c› LineEnd‹\r\n› Name‹x›");
        assert_eq!(shown("# c\rd\nx"), "Comment‹# c\rd› LineEnd‹\n› Name‹x›");
    }
}
