//! Amounts: figures with sign and unit, undecoded, or expressions in parentheses; ranges and tolerances of them.

use chumsky::prelude::*;

use super::{Desk, Key, Reads, Rule, Said, Tk, key, kind, lack, lack_open, one};
use crate::token::TokenKind;
use crate::tree::{Amount, Expr, ExprKind, Figure, Span, Tolerated};

/// The parsers for amounts, which share one expression parser.
#[derive(Clone)]
pub(crate) struct Amounts {
    /// An amount. `None` if what stands here is a figure that cannot be read; fails if no amount stands here.
    pub amount: Rule<Option<Amount>>,
    /// A figure with its unit and without a sign.
    pub figure: Rule<Figure>,
    /// An expression in parentheses.
    pub paren: Rule<Expr>,
}

/// What is wrong with a look-alike of a figure.
pub(crate) fn unreadable(desk: &Desk, tk: &Tk) -> Said {
    let slice = desk.slice(tk);
    match tk.kind {
        TokenKind::DecimalComma => {
            let plain = slice.replacen(',', ".", 1);
            let behind = slice.split(',').nth(1).unwrap_or_default();
            // 10,000 is ten thousand for one half of the world and ten for the other.
            if slice.matches(',').count() == 1 && behind.bytes().take_while(u8::is_ascii_digit).count() == 3 {
                let whole = slice.replacen(',', "", 1);
                let message = format!(
                    "{slice} has a comma, which could part thousands or stand for the point: {whole} or {plain}"
                );
                return Said::open("decimal-comma", tk.span, message).fix(tk.span, whole).fix(tk.span, plain);
            }
            Said::open(
                "decimal-comma",
                tk.span,
                format!("{slice} has a decimal comma, and a comma parts the items of a list: {plain}"),
            )
            .fix(tk.span, plain)
        }
        TokenKind::BarePoint => {
            let plain = format!("0{slice}");
            Said::open(
                "bare-point",
                tk.span,
                format!("{slice} begins with a point, which is easily overlooked: {plain}"),
            )
            .fix(tk.span, plain)
        }
        _ => super::too_much(tk),
    }
}

/// The unit behind a figure, a bare prefix that stands a blank too far, or a misspelt unit: what that means is decided where figures are decoded.
pub(crate) fn unit() -> impl Reads<Tk> {
    one(|t: &Tk| {
        matches!(t.kind, TokenKind::Unit | TokenKind::Percent) || matches!(t.key, Key::Prefix | Key::UnitAlike)
    })
}

/// A figure and its unit.
fn figure(sign: Option<Tk>, tk: Tk, unit: Option<Tk>, desk: &Desk) -> Figure {
    let mut span = tk.span;
    if let Some(unit) = unit {
        span = span.to(unit.span);
    }
    if let Some(sign) = sign {
        span = span.to(sign.span);
    }
    Figure {
        negative: sign.is_some_and(|s| s.kind != TokenKind::Plus),
        signed: sign.is_some(),
        text: desk.slice(&tk).into(),
        unit: unit.map(|u| desk.slice(&u).into()),
        span,
        figure_span: tk.span,
    }
}

/// A dash in front of a figure that was meant as a minus.
fn sign() -> impl Reads<Tk> {
    one(|t: &Tk| matches!(t.kind, TokenKind::Plus | TokenKind::Minus) || t.key == Key::LikeDash).validate(
        |t: Tk, e, emitter| {
            if t.key == Key::LikeDash {
                let slice = e.state().slice(&t).to_string();
                emitter.emit(
                    Said::open("look-alike", t.span, format!("`{slice}` is a dash: minus is `-`")).fix(t.span, "-"),
                );
            }
            t
        },
    )
}

impl Amounts {
    /// Builds them on an expression parser that stops at the closing parenthesis.
    pub fn new(expr: Rule<Expr>) -> Amounts {
        let apart = super::apart::apart().boxed();
        let plain = kind(TokenKind::Figure).then(unit().or_not()).map_with(|(f, u), e| figure(None, f, u, e.state()));
        let plain = apart.clone().or(plain).boxed();
        let paren = super::expr::parenthesised(expr).boxed();
        let alike = one(|t: &Tk| matches!(t.kind, TokenKind::DecimalComma | TokenKind::BarePoint | TokenKind::TooMuch))
            .validate(|t, e, emitter| emitter.emit(unreadable(e.state(), &t)))
            .then_ignore(unit().or_not());
        let unsigned = kind(TokenKind::Figure).then(unit().or_not());
        enum Body {
            Figure(Tk, Option<Tk>),
            Apart(Figure),
            Paren(Expr),
            None,
        }
        let body = choice((
            apart.map(Body::Apart),
            unsigned.map(|(f, u)| Body::Figure(f, u)),
            paren.clone().map(Body::Paren),
            alike.map(|()| Body::None),
        ));
        let signed = sign().then(
            body.clone().or(lack_open("figure-missing", "A figure is missing behind the sign").map(|()| Body::None)),
        );
        let amount = body
            .map(|b| (None, b))
            .or(signed.map(|(s, b)| (Some(s), b)))
            .map_with(|(sign, body), e| match (sign, body) {
                (sign, Body::Figure(f, u)) => Some(Amount::Figure(figure(sign, f, u, e.state()))),
                (sign, Body::Apart(figure)) => Some(Amount::Figure(Figure {
                    negative: sign.is_some_and(|s| s.kind != TokenKind::Plus),
                    signed: sign.is_some(),
                    span: sign.map_or(figure.span, |s| figure.span.to(s.span)),
                    ..figure
                })),
                (Some(sign), Body::Paren(inner)) if sign.kind != TokenKind::Plus => {
                    let span = sign.span.to(inner.span);
                    Some(Amount::Expression(Expr { kind: ExprKind::Negate(Box::new(inner)), span }))
                }
                (_, Body::Paren(inner)) => Some(Amount::Expression(inner)),
                (_, Body::None) => None,
            })
            .boxed();
        Amounts { amount, figure: plain, paren }
    }

    /// An amount where one is wanted: a name is taken as an expression that lacks its parentheses, and if nothing fits,
    /// `missing` is said.
    pub fn wanted(&self, id: &'static str, missing: &'static str) -> Rule<Option<Amount>> {
        let named = one(|t: &Tk| {
            (t.kind == TokenKind::Name
                && !t.key.is_clause()
                && !matches!(t.key, Key::Typ | Key::Min | Key::Max | Key::Peak))
                || t.kind == TokenKind::Part
        })
        .validate(|t, e, emitter| {
            let desk = e.state();
            let slice = desk.slice(&t).to_string();
            if crate::word::is_unit_symbol(&slice) {
                emitter.emit(Said::open("figure-missing", t.span, format!("A figure is missing before {slice}")));
                return None;
            }
            emitter.emit(
                Said::open(
                    "name-for-figure",
                    t.span,
                    format!("`{slice}` is a name: where a figure is wanted it stands in parentheses"),
                )
                .fix(t.span, format!("({slice})")),
            );
            let kind = match t.kind {
                TokenKind::Part => ExprKind::Part(desk.part(&t)),
                _ => ExprKind::Name(slice.into()),
            };
            Some(Amount::Expression(Expr { kind, span: t.span }))
        });
        choice((self.amount.clone(), named, lack_open(id, missing).map(|()| None))).boxed()
    }

    /// `a .. b`, of which anything may be missing.
    pub fn range(&self) -> Rule<(Option<Amount>, Option<Amount>)> {
        let dots = dots();
        let both = self.wanted("figure-missing", "The band's lower end is missing").then(
            dots.ignore_then(self.wanted("band-end-missing", "The band's upper end is missing")).or(lack_open(
                "band-end-missing",
                "`..` and the band's upper end are missing",
            )
            .map(|()| None)),
        );
        // With nothing at all there is one thing to say, not two.
        let empty = one(range_start)
            .rewind()
            .not()
            .ignore_then(lack_open("band-missing", "A band is missing, as in 20 Hz .. 20 kHz").map(|()| (None, None)));
        empty.or(both).boxed()
    }

    /// `± t` behind an amount.
    pub fn tolerance(&self) -> Rule<Option<Amount>> {
        plus_minus().ignore_then(self.wanted("tolerance-missing", "A tolerance is missing behind `±`")).boxed()
    }

    /// `amount [± amount]`; `None` where the amount cannot be read.
    pub fn tolerated(&self, id: &'static str, missing: &'static str) -> Rule<Option<Tolerated>> {
        self.wanted(id, missing)
            .then(self.tolerance().or_not())
            .map(|(amount, tolerance)| amount.map(|amount| Tolerated { amount, tolerance: tolerance.flatten() }))
            .boxed()
    }
}

/// Whether a range may begin with the token.
fn range_start(t: &Tk) -> bool {
    matches!(
        t.kind,
        TokenKind::Figure
            | TokenKind::Plus
            | TokenKind::Minus
            | TokenKind::Open
            | TokenKind::DecimalComma
            | TokenKind::BarePoint
            | TokenKind::TooMuch
            | TokenKind::Range
            | TokenKind::Part
    ) || (t.kind == TokenKind::Name && !t.key.is_clause())
        || matches!(t.key, Key::LikeDash | Key::LikeDots)
}

/// `..`, or what is written for it.
pub(crate) fn dots() -> impl Reads<()> {
    let alike = one(|t: &Tk| t.kind == TokenKind::Minus || matches!(t.key, Key::LikeDash | Key::LikeDots | Key::To))
        .validate(|t, e, emitter| {
            let slice = e.state().slice(&t).to_string();
            emitter.emit(
                Said::open("look-alike", t.span, format!("`{slice}` makes no range: `..` does")).fix(t.span, ".."),
            );
        });
    kind(TokenKind::Range).map(|_| ()).or(alike)
}

/// `±`, or what is written for it.
pub(crate) fn plus_minus() -> impl Reads<Span> {
    let alike = key(Key::LikePlusMinus).validate(|t, _, emitter| {
        emitter.emit(Said::open("look-alike", t.span, "`+-` is no tolerance: `+/-` or `±`").fix(t.span, "±"));
        t.span
    });
    kind(TokenKind::PlusMinus).map(|t| t.span).or(alike)
}

/// What to say where a figure of something named is missing.
pub(crate) fn figure_of(id: &'static str, what: impl Fn(&Desk, usize) -> String + Clone + 'static) -> impl Reads<()> {
    lack(move |desk, i| Said::open(id, desk.gap(i), what(desk, i)).unfinished(desk.ends(i)))
}
