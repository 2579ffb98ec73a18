//! Statements: `require`, `formula` and `let`. A limit is parsed apart from its quantity, so that one can be broken and the other stand.

use chumsky::prelude::*;

use super::amount::{Amounts, dots};
use super::quantity::{Quantities, ends_quantity};
use super::{Desk, Key, Reads, Rule, Said, Tk, expr, key, kind, lack, lack_open, one, rest};
use crate::token::TokenKind;
use crate::tree::{EntryTree, Expr, FormulaEntry, LetEntry, Limit, QuantityPhrase, RequireEntry, Tolerated, Word};
use crate::word::{EXPRESSION_NAMES, FUNCTIONS, reserved_because};

/// A quantity up to the mark where it ends; what stands between is said.
fn quantity(q: &Quantities) -> impl Reads<Option<QuantityPhrase>> {
    let odd = super::junk(
        |t| {
            matches!(t.kind, TokenKind::Less | TokenKind::Greater | TokenKind::Equal)
                || matches!(t.key, Key::LikeLess | Key::LikeGreater | Key::LikeEqual | Key::LikeFatArrow)
        },
        misplaced,
    );
    q.quantity.clone().map(Some).or(empty().map(|()| None)).then_ignore(odd.or_not())
}

/// A clause that belongs to an assumption.
fn misplaced(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    match t.key {
        Key::Above => Said::open("clause-misplaced", t.span, "`above` belongs to an assumption: a limit is `>`"),
        Key::Below => Said::open("clause-misplaced", t.span, "`below` belongs to an assumption: a limit is `<`"),
        Key::Within => Said::open(
            "clause-misplaced",
            t.span,
            "`within` belongs to an assumption: a limit is `=` and a value with `±`",
        ),
        Key::On => Said::open("clause-misplaced", t.span, "`on` belongs to an assumption"),
        _ => super::leftover(desk, range),
    }
}

/// The entry of `require`.
pub(crate) fn require(q: &Quantities, amounts: &Amounts) -> Rule<EntryTree> {
    quantity(q)
        .then(limit(amounts).or_not())
        .then_ignore(rest(behind_limit))
        .map(|(quantity, limit)| {
            let (limit, peak) = limit.map_or((None, None), |(limit, peak)| (Some(limit), peak));
            EntryTree::Require(RequireEntry { quantity, limit, peak })
        })
        .boxed()
}

fn behind_limit(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    match (t.kind, t.key) {
        _ if ends_quantity(t) => {
            Said::open("limit-twice", t.span, "A requirement has one limit: a second one has its own line")
        }
        (TokenKind::Weighted, _) | (_, Key::At | Key::Over | Key::When | Key::From | Key::Against) => Said::open(
            "clause-behind-limit",
            t.span,
            format!("`{}` belongs to the quantity: it stands before the limit", desk.slice(t)),
        ),
        (TokenKind::PlusMinus, _) => {
            Said::open("leftover", t.span, "A tolerance goes with `=`: `<` and `>` take one figure")
        }
        _ => super::leftover(desk, range),
    }
}

/// The relation and what follows it.
fn limit(amounts: &Amounts) -> impl Reads<(Limit, Option<Word>)> {
    let alike = |plain: &'static str, like: fn(&Tk) -> bool| {
        one(like).validate(move |t: Tk, e, emitter| {
            let slice = e.state().slice(&t).to_string();
            emitter.emit(
                Said::open(
                    "look-alike",
                    t.span,
                    format!("`{slice}` is no mark of the notation: a limit is written `{plain}`"),
                )
                .fix(t.span, plain),
            );
        })
    };
    let less = kind(TokenKind::Less).map(|_| ()).or(alike("<", |t| t.key == Key::LikeLess));
    let greater =
        kind(TokenKind::Greater).map(|_| ()).or(alike(">", |t| matches!(t.key, Key::LikeGreater | Key::LikeFatArrow)));
    let equal = equal();
    let figure = amounts.wanted("limit-missing", "A limit is missing behind the mark, as in < 3 dB");
    let peak = key(Key::Peak).map_with(|t, e| e.state().word(&t)).or_not();
    let below = less.ignore_then(figure.clone()).map(Limit::Below);
    let above = greater.ignore_then(figure.clone()).map(Limit::Above);
    #[derive(Clone)]
    enum Tail {
        Tolerance(Option<crate::tree::Amount>),
        To(Option<crate::tree::Amount>),
        None,
    }
    let range_end =
        dots().ignore_then(amounts.wanted("band-end-missing", "The range's upper end is missing")).map(Tail::To);
    let tail = choice((
        amounts.tolerance().map(Tail::Tolerance),
        range_end,
        lack(|desk, i| {
            Said::open(
                "tolerance-missing",
                desk.gap(i),
                "`=` wants a tolerance `±`, or a range `..`: no figure is met exactly",
            )
            .unfinished(desk.ends(i))
        })
        .map(|()| Tail::None),
    ));
    // Without a figure there is one thing to say, not two.
    let nothing = one(|t: &Tk| t.kind != TokenKind::PlusMinus)
        .not()
        .ignore_then(lack_open("limit-missing", "A limit is missing, as in 12 dB ± 0.5 dB"));
    let equals = equal.ignore_then(nothing.map(|()| (Limit::Equal(None), None)).or(
        figure.then(peak.clone()).then(tail).map(|((amount, peak), tail)| {
            let limit = match tail {
                Tail::To(to) => Limit::Between(amount, to),
                Tail::Tolerance(tolerance) => Limit::Equal(amount.map(|amount| Tolerated { amount, tolerance })),
                Tail::None => Limit::Equal(amount.map(|amount| Tolerated { amount, tolerance: None })),
            };
            (limit, peak)
        }),
    ));
    let plain = below.or(above).map(|limit| (limit, None));
    choice((plain, equals)).then(peak).map(|((limit, first), last)| (limit, first.or(last)))
}

/// `=`, or what is written for it.
pub(crate) fn equal() -> impl Reads<()> {
    let alike = one(|t: &Tk| t.key == Key::LikeEqual).validate(|t: Tk, e, emitter| {
        let slice = e.state().slice(&t).to_string();
        emitter.emit(
            Said::open("look-alike", t.span, format!("`{slice}` is no mark of the notation: `=` is")).fix(t.span, "="),
        );
    });
    kind(TokenKind::Equal).map(|_| ()).or(alike)
}

/// `=` and an expression, of which anything may be missing.
fn equation(expr: Rule<Expr>) -> impl Reads<Option<Expr>> {
    let wrong = one(ends_quantity).validate(|t: Tk, e, emitter| {
        let slice = e.state().slice(&t).to_string();
        emitter.emit(
            Said::open("equal-missing", t.span, format!("`{slice}` states a limit, and a formula equates: `=`"))
                .fix(t.span, "="),
        );
    });
    let missing = lack_open("equal-missing", "`=` and an expression are missing").map(|()| None);
    equal().or(wrong).ignore_then(expr::wanted(expr)).or(missing)
}

/// The entry of `formula`.
pub(crate) fn formula(q: &Quantities, expr: Rule<Expr>) -> Rule<EntryTree> {
    quantity(q)
        .then(equation(expr))
        .then_ignore(rest(expr::leftover))
        .map(|(quantity, value)| EntryTree::Formula(FormulaEntry { quantity, value }))
        .boxed()
}

/// The entry of `let`.
pub(crate) fn let_(expr: Rule<Expr>) -> Rule<EntryTree> {
    let word = one(|t: &Tk| {
        matches!(t.kind, TokenKind::Name | TokenKind::Part | TokenKind::Series | TokenKind::Foreign | TokenKind::Unit)
    })
    .validate(|t, e, emitter| {
        let desk = e.state();
        let slice = desk.slice(&t);
        if let Some(said) = super::alike(desk, &t) {
            emitter.emit(said);
        } else if EXPRESSION_NAMES.contains(&slice) {
            emitter.emit(Said::torn(
                "reserved-name",
                t.span,
                format!("`{slice}` has its meaning in every expression already: a `let` needs another name"),
            ));
        } else if FUNCTIONS.contains(&slice) {
            emitter.emit(Said::torn(
                "reserved-name",
                t.span,
                format!("`{slice}` is a function: a `let` needs another name"),
            ));
        } else if let Some(because) = reserved_because(slice) {
            emitter.emit(Said::torn(
                "reserved-name",
                t.span,
                format!("`{slice}` {because}: a `let` needs another name"),
            ));
        }
        Some(desk.word(&t))
    });
    let name = word.or(lack(|desk, i| {
        let said = match desk.tok(i) {
            Some(t) if t.kind == TokenKind::Figure => Said::torn(
                "name-missing",
                t.span,
                format!("{} begins with a digit, and a name with a letter", desk.slice(t)),
            ),
            _ => Said::torn("name-missing", desk.gap(i), "A name is missing before `=`"),
        };
        said.unfinished(desk.ends(i))
    })
    .map(|()| None));
    let odd = super::junk(
        |t| t.kind == TokenKind::Equal || t.key == Key::LikeEqual,
        |desk, range| {
            let t = &desk.toks[range.start];
            super::alike(desk, t).unwrap_or_else(|| {
                let place = desk.place(range.clone());
                Said::open("leftover", place, format!("`{}` has no meaning before `=`", desk.slice(t))).fix_all(
                    format!("delete {}", super::clip(&desk.text[place.range()])),
                    vec![(super::cut(desk, range), String::new())],
                )
            })
        },
    );
    name.then_ignore(odd.or_not())
        .then(equation(expr))
        .then_ignore(rest(expr::leftover))
        .map(|(name, value)| EntryTree::Let(LetEntry { name, value }))
        .boxed()
}
