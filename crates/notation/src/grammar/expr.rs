//! Expressions: `+ -` under `* /` under `^`, and `||` between sums.

use chumsky::prelude::*;

use super::amount::unreadable;
use super::{Desk, Key, Reads, Rule, Said, Tk, anything, kind, lack, lack_open, one};
use crate::near::nearest;
use crate::token::TokenKind;
use crate::tree::{Expr, ExprKind, Figure, Operator, PartName, Span, Word};
use crate::word::{FUNCTIONS, is_unit_symbol};

/// An operator between two factors.
#[derive(Clone, Copy, PartialEq)]
enum Between {
    Times,
    Divide,
    Parallel,
}

/// Factors behind the first, each with the operator in front and its place.
type Chain = Vec<((Between, Span), Expr)>;

/// `(` expression `)`; the second one may be missing.
pub(crate) fn parenthesised(expr: Rule<Expr>) -> impl Reads<Expr> {
    let close = kind(TokenKind::Close).map(|_| ()).or(lack(|desk, i| {
        let at = desk.gap(i);
        Said::open("parenthesis-missing", at, "`)` is missing")
            .unfinished(desk.ends(i))
            .fix_all("write )", vec![(at, ")".into())])
    }));
    // What cannot be read inside parentheses is skipped up to the closing one, so that the rest of the entry stays.
    let odd = one(inside).rewind().ignore_then(super::junk(
        |t| matches!(t.kind, TokenKind::Close | TokenKind::Link | TokenKind::Colon),
        super::leftover,
    ));
    kind(TokenKind::Open).ignore_then(expr).then_ignore(odd.or_not()).then_ignore(close).map_with(|inner, e| {
        let range = e.span().into_range();
        Expr { kind: inner.kind, span: e.state().place(range) }
    })
}

/// Whether a token that no expression can use is skipped inside parentheses, rather than taken as their end.
fn inside(t: &Tk) -> bool {
    matches!(
        t.kind,
        TokenKind::Equal
            | TokenKind::Unknown
            | TokenKind::Foreign
            | TokenKind::Comma
            | TokenKind::Percent
            | TokenKind::LookAlike
            | TokenKind::Text
            | TokenKind::TooMuch
    )
}

/// The expression parser.
pub(crate) fn expr() -> Rule<Expr> {
    recursive(|expr| {
        let expr: Rule<Expr> = expr.boxed();
        let power = power(primary(expr).boxed()).boxed();
        sum(product(power).boxed())
    })
    .boxed()
}

fn missing(at: Span) -> Expr {
    Expr { kind: ExprKind::Missing, span: at }
}

/// The place of nothing, as a missing expression, with a message that names the token in front.
fn operand_missing() -> impl Reads<Expr> {
    lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(before) => format!("A value is missing behind `{}`", desk.slice(before)),
            None => "A value is missing".to_string(),
        };
        Said::open("operand-missing", desk.gap(i), message).unfinished(desk.ends(i))
    })
    .map_with(|(), e| {
        let i = e.span().start;
        missing(e.state().gap(i))
    })
}

/// Figures, names, parts, calls and parentheses.
fn primary(expr: Rule<Expr>) -> impl Reads<Expr> {
    let unit = one(|t: &Tk| matches!(t.kind, TokenKind::Unit | TokenKind::Percent) || t.key == Key::UnitAlike);
    let figure = kind(TokenKind::Figure).then(unit.clone().or_not()).map_with(|(f, u), e| {
        let desk = e.state();
        let span = u.map_or(f.span, |u: Tk| f.span.to(u.span));
        let figure = Figure {
            negative: false,
            signed: false,
            text: desk.slice(&f).into(),
            unit: u.map(|u| desk.slice(&u).into()),
            span,
            figure_span: f.span,
        };
        Expr { kind: ExprKind::Figure(figure), span }
    });
    // Its thousands stand apart, which is said; what it would be in one piece is not worked out.
    let apart = super::apart::apart().map(|f| missing(f.span));
    let figure = apart.or(figure);
    let alike = one(|t: &Tk| {
        matches!(t.kind, TokenKind::DecimalComma | TokenKind::BarePoint | TokenKind::TooMuch | TokenKind::Foreign)
    })
    .then_ignore(unit.or_not())
    .validate(|t, e, emitter| {
        let desk = e.state();
        match t.kind {
            TokenKind::Foreign => emitter.emit(super::alike(desk, &t).unwrap_or(Said::NOT_HERE)),
            _ => emitter.emit(unreadable(desk, &t)),
        }
        missing(t.span)
    });
    let part = kind(TokenKind::Part).map_with(|t, e| Expr { kind: ExprKind::Part(e.state().part(&t)), span: t.span });
    let word = one(|t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause());
    let argument =
        expr.clone().separated_by(kind(TokenKind::Comma)).at_least(1).collect::<Vec<_>>().map_with(|mut list, e| {
            let range = e.span().into_range();
            match list.len() {
                1 => list.remove(0),
                _ => Expr { kind: ExprKind::List(list), span: e.state().place(range) },
            }
        });
    let call = word.clone().then(parenthesised(argument.boxed())).validate(|(f, argument), e, emitter| {
        let desk = e.state();
        let word = desk.word(&f);
        if let Some(said) = call_fault(&word, &argument) {
            emitter.emit(said);
        }
        Expr { span: word.span.to(argument.span), kind: ExprKind::Call(word, Box::new(argument)) }
    });
    let name = word.map_with(|t: Tk, e| Expr { kind: ExprKind::Name(e.state().slice(&t).into()), span: t.span });
    choice((figure, part, call, name, parenthesised(expr), alike))
}

/// Whether a token begins a primary. A look at one token, since to parse ahead would double the work at every level.
fn begins_primary(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Figure | TokenKind::Part | TokenKind::Open)
        || (t.kind == TokenKind::Name && !t.key.is_clause())
}

/// What is wrong with a call.
fn call_fault(word: &Word, argument: &Expr) -> Option<Said> {
    let name = &*word.text;
    if !FUNCTIONS.contains(&name) {
        let said = match name {
            "log" => Said::open(
                "function-unknown",
                word.span,
                "log is read two ways: ln is the natural one, log10 the decimal",
            )
            .fix(word.span, "ln")
            .fix(word.span, "log10"),
            _ => match nearest(name, FUNCTIONS.iter().copied()) {
                Some(near) => {
                    Said::open("function-unknown", word.span, format!("{name} is no function: did you mean {near}?"))
                        .fix(word.span, near)
                }
                None => Said::open(
                    "function-unknown",
                    word.span,
                    format!(
                        "{name} is no function, and a product wants its `*`: the functions are {}",
                        FUNCTIONS.join(", ")
                    ),
                ),
            },
        };
        return Some(said);
    }
    let (several, part) = (matches!(name, "min" | "max"), matches!(name, "Z" | "cw" | "ccw"));
    match &argument.kind {
        ExprKind::Missing => None,
        ExprKind::List(_) if several => None,
        ExprKind::List(list) => Some(Said::open(
            "argument-count",
            argument.span,
            format!("{name} takes one argument, and {} stand here", list.len()),
        )),
        _ if several => Some(Said::open(
            "argument-count",
            argument.span,
            format!("{name} takes two arguments or more: {name}(a, b)"),
        )),
        ExprKind::Part(_) => None,
        _ if part => Some(Said::open(
            "argument-part",
            argument.span,
            format!("{name} takes a part's name, as in {name}({})", if name == "Z" { "C4" } else { "VR1" }),
        )),
        _ => None,
    }
}

/// `a ^ b`, `a ^ -b`.
fn power(primary: Rule<Expr>) -> impl Reads<Expr> {
    let caret = one(|t: &Tk| t.kind == TokenKind::Power || t.key == Key::LikePower).validate(|t: Tk, _, emitter| {
        if t.key == Key::LikePower {
            emitter.emit(
                Said::open("look-alike", t.span, "`**` is no mark of the notation: a power is `^`").fix(t.span, "^"),
            );
        }
        t
    });
    let minus = one(|t: &Tk| matches!(t.kind, TokenKind::Minus | TokenKind::Plus));
    let exponent = minus.or_not().then(primary.clone().or(operand_missing())).map(|(sign, e)| signed(sign, e));
    primary.then(caret.then(exponent).repeated().collect::<Vec<_>>()).validate(|(base, exponents), _, emitter| {
        if let Some((second, _)) = exponents.get(1) {
            emitter.emit(Said::open(
                "power-of-power",
                second.span,
                "Two powers in a row are read either way: parentheses say which comes first",
            ));
        }
        exponents.into_iter().fold(base, |base, (_, exponent)| binary(Operator::Power, base, exponent))
    })
}

fn signed(sign: Option<Tk>, e: Expr) -> Expr {
    match sign {
        Some(s) if s.kind != TokenKind::Plus => Expr { span: s.span.to(e.span), kind: ExprKind::Negate(Box::new(e)) },
        _ => e,
    }
}

fn binary(operator: Operator, a: Expr, b: Expr) -> Expr {
    let span = a.span.to(b.span);
    Expr { kind: ExprKind::Binary(operator, Box::new(a), Box::new(b)), span }
}

/// A minus, also where a dash stands for it.
fn minus_or_plus() -> impl Reads<Tk> {
    one(|t: &Tk| matches!(t.kind, TokenKind::Minus | TokenKind::Plus) || t.key == Key::LikeDash).validate(
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

/// Factors between `*` and `/`, or between `||`, but not both.
fn product(power: impl Reads<Expr>) -> impl Reads<Expr> {
    let between = one(|t: &Tk| {
        matches!(t.kind, TokenKind::Times | TokenKind::Divide | TokenKind::Parallel)
            || matches!(t.key, Key::LikeBar | Key::LikeDivide)
    })
    .validate(|t: Tk, e, emitter| {
        let plain = match t.key {
            Key::LikeBar => "||",
            Key::LikeDivide => "/",
            _ => "",
        };
        if !plain.is_empty() {
            let slice = e.state().slice(&t).to_string();
            emitter.emit(
                Said::open("look-alike", t.span, format!("`{slice}` is no mark of the notation: `{plain}` is"))
                    .fix(t.span, plain),
            );
        }
        let between = match (t.kind, plain) {
            (TokenKind::Parallel, _) | (_, "||") => Between::Parallel,
            (TokenKind::Divide, _) | (_, "/") => Between::Divide,
            _ => Between::Times,
        };
        (between, t.span)
    });
    let factor = minus_or_plus()
        .repeated()
        .collect::<Vec<Tk>>()
        .then(power.clone().or(operand_missing()))
        .map(|(signs, e)| signs.into_iter().rev().fold(e, |e, s| signed(Some(s), e)));
    // `2 pi` and `2 (R1 + R2)`: meant as a product, and said.
    let implied = one(begins_primary).rewind().validate(|_, e, emitter| {
        let i = e.span().start;
        let desk = e.state();
        let at = desk.gap(i);
        let (a, b) = (i.checked_sub(1).and_then(|i| desk.tok(i)), desk.tok(i));
        let (a, b) = (a.map_or("", |t| desk.slice(t)), b.map_or("", |t| desk.slice(t)));
        if is_unit_symbol(b) {
            let message = format!("{b} is a unit and wants a figure in front: `* 1 {b}`");
            let said = Said::open("operator-missing", desk.toks[i].span, message);
            emitter.emit(said.fix_all(format!("write * 1 {b}"), vec![(at, " * 1".into())]));
            return (Between::Times, at);
        }
        emitter.emit(
            Said::open("operator-missing", at, format!("An operator is missing between `{a}` and `{b}`"))
                .fix_all("write *", vec![(at, " *".into())]),
        );
        (Between::Times, at)
    });
    let next = between.then(factor).or(implied.then(power.clone()));
    power.or(operand_missing()).then(next.repeated().collect::<Vec<_>>()).validate(
        |(first, rest): (Expr, Chain), _, emitter| {
            if let Some(said) = mixed(&first, &rest) {
                emitter.emit(said);
            }
            rest.into_iter().fold(first, |a, ((between, _), b)| {
                let operator = match between {
                    Between::Times => Operator::Multiply,
                    Between::Divide => Operator::Divide,
                    Between::Parallel => Operator::Parallel,
                };
                binary(operator, a, b)
            })
        },
    )
}

/// `||` beside `*` or `/`: both readings are in use, so both are offered.
fn mixed(first: &Expr, rest: &[((Between, Span), Expr)]) -> Option<Said> {
    let is_parallel = |b: Between| b == Between::Parallel;
    let kind = is_parallel(rest.first()?.0.0);
    let (_, odd) = rest.iter().find(|((b, _), _)| is_parallel(*b) != kind).map(|((b, s), _)| (b, *s))?;
    // Parentheses around each run of the one kind of operator.
    let around = |parallel: bool| {
        let mut edits: Vec<(Span, String)> = Vec::new();
        let mut run: Option<(Span, Span)> = None;
        let mut before = first.span;
        let close = |run: Option<(Span, Span)>, edits: &mut Vec<(Span, String)>| {
            if let Some((a, b)) = run {
                edits.push((Span { start: a.start, end: a.start }, "(".into()));
                edits.push((Span { start: b.end, end: b.end }, ")".into()));
            }
        };
        for ((between, _), factor) in rest {
            if is_parallel(*between) == parallel {
                run = Some((run.map_or(before, |r| r.0), factor.span));
            } else {
                close(run.take(), &mut edits);
            }
            before = factor.span;
        }
        close(run, &mut edits);
        edits
    };
    let said = Said::open(
        "parallel-beside-product",
        odd,
        "`||` beside `*` or `/` is read either way: parentheses say which comes first",
    );
    // A long chain needs no offer of a hundred edits.
    if rest.len() > 8 {
        return Some(said);
    }
    Some(said.fix_all("`||` first", around(true)).fix_all("`*` and `/` first", around(false)))
}

/// Terms between `+` and `-`.
fn sum(product: Rule<Expr>) -> impl Reads<Expr> {
    let sign = minus_or_plus();
    let signs = sign.clone().repeated().collect::<Vec<Tk>>();
    let first = signs
        .clone()
        .then(product.clone())
        .map(|(signs, e)| signs.into_iter().rev().fold(e, |e, s| signed(Some(s), e)));
    let next = sign.then(signs).then(product).map(|((op, signs), e)| {
        let e = signs.into_iter().rev().fold(e, |e, s| signed(Some(s), e));
        (op, e)
    });
    first.then(next.repeated().collect::<Vec<_>>()).map(|(first, rest)| {
        rest.into_iter().fold(first, |a, (op, b)| {
            let operator = if op.kind == TokenKind::Plus { Operator::Add } else { Operator::Subtract };
            binary(operator, a, b)
        })
    })
}

/// An expression that is wanted behind `=`.
pub(crate) fn wanted(expr: Rule<Expr>) -> impl Reads<Option<Expr>> {
    anything()
        .not()
        .ignore_then(lack_open("expression-missing", "An expression is missing behind `=`"))
        .map(|()| None)
        .or(expr.map(Some))
}

/// Names of parts in an expression, in the order written.
pub(crate) fn parts_in<'e>(expr: &'e Expr, out: &mut Vec<&'e PartName>) {
    match &expr.kind {
        ExprKind::Part(part) => out.push(part),
        ExprKind::Negate(e) | ExprKind::Call(_, e) | ExprKind::Spoiled(e) => parts_in(e, out),
        ExprKind::Binary(_, a, b) => {
            parts_in(a, out);
            parts_in(b, out);
        }
        ExprKind::List(list) => list.iter().for_each(|e| parts_in(e, out)),
        ExprKind::Figure(_) | ExprKind::Name(_) | ExprKind::Missing => {}
    }
}

/// What is left behind an expression.
pub(crate) fn leftover(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let tk = &desk.toks[range.start];
    match tk.kind {
        TokenKind::Link => {
            Said::open("double-minus", tk.span, "`--` joins parts in a path: two signs in an expression are `- -`")
                .fix(tk.span, "- -")
        }
        TokenKind::Close => {
            Said::open("parenthesis-extra", tk.span, "This `)` closes nothing: no `(` is open before it")
                .fix_all("delete )", vec![(tk.span, String::new())])
        }
        TokenKind::Comma => {
            Said::open("leftover", tk.span, "A `,` has no meaning in an expression: a decimal point is `.`")
        }
        _ => super::leftover(desk, range),
    }
}
