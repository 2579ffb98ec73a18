//! What a token is beyond its kind, so that the grammar decides without looking at text.

use crate::token::TokenKind;
use crate::word::is_unit_alike;

/// Words and look-alikes that the grammar tells apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Key {
    /// No word of the notation.
    None,
    // Clause words.
    All,
    Above,
    Against,
    At,
    Below,
    From,
    Of,
    On,
    Over,
    When,
    Within,
    // Words at their place.
    As,
    For,
    Stage,
    Supply,
    Typ,
    Min,
    Max,
    Peak,
    /// Written for `..`.
    To,
    /// Class letters without a number.
    Class,
    /// One letter that may be an SI prefix a blank too far from its figure.
    Prefix,
    /// A unit symbol but for its capitals or an ending, which is read as one behind a figure: what it should be is said there.
    UnitAlike,
    // Parts, by what may follow them.
    PartValue,
    PartVariable,
    PartSwitch,
    PartTyped,
    // Look-alikes, by what they look like.
    LikeDash,
    LikeLongLink,
    LikeLongArrow,
    LikeFatArrow,
    LikeBar,
    LikeDots,
    LikeLess,
    LikeGreater,
    LikeEqual,
    LikePlusMinus,
    LikePower,
    LikeDivide,
    LikeOther,
    /// `a-weighted`
    LikeWeighted,
}

impl Key {
    pub fn of(kind: TokenKind, text: &str) -> Key {
        match kind {
            TokenKind::Name => Key::of_name(text),
            TokenKind::Part => Key::of_part(text),
            TokenKind::LookAlike => Key::of_look_alike(text),
            _ => Key::None,
        }
    }

    fn of_name(text: &str) -> Key {
        match text {
            "all" => Key::All,
            "above" => Key::Above,
            "against" => Key::Against,
            "at" => Key::At,
            "below" => Key::Below,
            "from" => Key::From,
            "of" => Key::Of,
            "on" => Key::On,
            "over" => Key::Over,
            "when" => Key::When,
            "within" => Key::Within,
            "as" => Key::As,
            "for" => Key::For,
            "stage" => Key::Stage,
            "supply" => Key::Supply,
            "typ" => Key::Typ,
            "min" => Key::Min,
            "max" => Key::Max,
            "peak" | "pp" => Key::Peak,
            "to" => Key::To,
            "R" | "VR" | "C" | "L" | "U" | "SW" | "D" | "Q" => Key::Class,
            "f" | "p" | "n" | "u" | "m" | "k" | "M" | "G" | "T" | "K" => Key::Prefix,
            _ if is_unit_alike(text) => Key::UnitAlike,
            _ => Key::None,
        }
    }

    fn of_part(text: &str) -> Key {
        let own = text.rsplit('.').next().unwrap_or(text);
        match own.trim_end_matches(|c: char| c.is_ascii_digit() || c.is_ascii_lowercase()) {
            "R" | "C" | "L" => Key::PartValue,
            "VR" => Key::PartVariable,
            "SW" => Key::PartSwitch,
            _ => Key::PartTyped,
        }
    }

    fn of_look_alike(text: &str) -> Key {
        match text {
            "–" | "—" | "―" => Key::LikeDash,
            "=>" => Key::LikeFatArrow,
            "|" | "‖" => Key::LikeBar,
            "…" => Key::LikeDots,
            "<=" | "=<" | "≤" | "⩽" => Key::LikeLess,
            ">=" | "≥" | "⩾" => Key::LikeGreater,
            "+-" => Key::LikePlusMinus,
            "**" => Key::LikePower,
            "÷" => Key::LikeDivide,
            "~" | "≈" => Key::LikeEqual,
            _ if text.starts_with("==") => Key::LikeEqual,
            _ if text.starts_with("..") => Key::LikeDots,
            _ if text.starts_with("||") => Key::LikeBar,
            _ if text.starts_with(['-', '–', '—', '―', '−']) && text.ends_with('>') => Key::LikeLongArrow,
            _ if text.starts_with(['-', '–', '—', '―', '−']) => Key::LikeLongLink,
            _ => Key::LikeOther,
        }
    }

    /// A word that begins a clause or joins words, and so never names anything.
    pub fn is_clause(self) -> bool {
        matches!(
            self,
            Key::All
                | Key::Above
                | Key::Against
                | Key::At
                | Key::Below
                | Key::From
                | Key::Of
                | Key::On
                | Key::Over
                | Key::When
                | Key::Within
        )
    }
}
