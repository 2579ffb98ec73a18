//! What a wrong formula was meant to be: each place in it changed by one of the slips that people make, until one is right.
//!
//! A change counts only where it makes the formula the hand model's with the file's values and with others, at several frequencies and
//! positions, so that what is named is the slip and no coincidence.

use std::collections::BTreeSet;
use std::f64::consts::TAU;

use circuit::expr::{self, Term};
use circuit::{Circuit, PartKind, Position, Standing};
use notation::Name;
use notation::tree::{Expr, ExprKind, Figure, Operator, PartName, Span, Word};
use num_complex::Complex64;

/// A place at which a formula is held against the hand model.
pub(crate) struct Spot<'c> {
    pub circuit: &'c Circuit,
    pub positions: Vec<Position>,
    pub hertz: f64,
    pub hand: Complex64,
}

/// A formula with one place changed.
pub(crate) struct Change {
    /// What the formula should be.
    pub expr: Expr,
    /// What was slipped, a clause.
    pub clause: String,
    /// How soon it is thought of: the least first.
    rank: u8,
}

impl Change {
    /// Whether what stands there is the right parts in other places: exchanged, upside down, in series for in parallel.
    pub fn is_exchange(&self) -> bool {
        self.rank < 2
    }

    /// Whether something stood in another's place, which is thought of before a part is too much or missing.
    pub fn is_one_place(&self) -> bool {
        self.rank < 4
    }
}

/// An expression holds within this share.
const RIGHT: f64 = 1e-9;
/// Of longer formulas no slip is looked for.
const LONG: usize = 80;
/// So many parts are tried in place of one, and beside it.
const PARTS: usize = 24;

/// The change that makes a formula right at all spots, the likeliest first; `parts` may have been meant, or forgotten.
pub(crate) fn change(value: &Expr, parts: &[Name], spots: &[Spot], pulse: &dyn Fn()) -> Option<Change> {
    let first = spots.first()?;
    if size(value) > LONG {
        return None;
    }
    let dimension = term(value, first)?.dimension;
    let circuit = first.circuit;
    let mut all = changes(value, &Hands { circuit, parts });
    all.sort_by_key(|c| c.rank);
    all.into_iter().enumerate().find_map(|(k, change)| {
        if k % 64 == 0 {
            pulse();
        }
        let right = |spot: &Spot| {
            term(&change.expr, spot).is_some_and(|t| t.dimension == dimension && near(t.value, spot.hand, RIGHT))
        };
        spots.iter().all(right).then_some(change)
    })
}

/// The change that makes one value another within a share: what it would come to is true whatever was meant.
pub(crate) fn change_of_value(
    value: &Expr,
    parts: &[Name],
    scope: &Standing,
    hertz: f64,
    wanted: f64,
    within: f64,
) -> Option<Change> {
    if size(value) > LONG {
        return None;
    }
    let spot = Spot { circuit: scope.circuit, positions: scope.positions.to_vec(), hertz, hand: wanted.into() };
    let dimension = term(value, &spot)?.dimension;
    let mut all = changes(value, &Hands { circuit: scope.circuit, parts });
    all.sort_by_key(|c| c.rank);
    all.into_iter()
        .find(|c| term(&c.expr, &spot).is_some_and(|t| t.dimension == dimension && near(t.value, spot.hand, within)))
}

fn near(a: Complex64, b: Complex64, share: f64) -> bool {
    (a - b).norm() <= share * a.norm().max(b.norm())
}

fn term(value: &Expr, spot: &Spot) -> Option<Term> {
    let scope = Standing { circuit: spot.circuit, positions: &spot.positions };
    expr::evaluate(value, &scope, Some(Complex64::new(0.0, TAU * spot.hertz))).ok()
}

fn size(e: &Expr) -> usize {
    1 + match &e.kind {
        ExprKind::Negate(a) | ExprKind::Call(_, a) | ExprKind::Spoiled(a) => size(a),
        ExprKind::Binary(_, a, b) => size(a) + size(b),
        ExprKind::List(all) => all.iter().map(size).sum(),
        _ => 0,
    }
}

/// What is at hand: the circuit, and the parts that may have been meant.
struct Hands<'a> {
    circuit: &'a Circuit,
    parts: &'a [Name],
}

impl Hands<'_> {
    /// The parts of the same kind, but for itself.
    fn others(&self, name: &str) -> Vec<&Name> {
        let kind = |name: &str| {
            let part = self.circuit.parts.iter().find(|p| *p.name == *name)?;
            Some(match part.kind {
                PartKind::Resistor { .. } | PartKind::Variable { .. } => 'R',
                PartKind::Capacitor { .. } => 'C',
                PartKind::Inductor { .. } => 'L',
                _ => return None,
            })
        };
        let own = kind(name);
        self.parts.iter().filter(|o| own.is_some() && ***o != *name && kind(o) == own).take(PARTS).collect()
    }
}

/// A place changed: what stands there then, the clause, and how soon it is thought of.
type Turned = (ExprKind, String, u8);

/// The formula with each of its places changed in each way.
fn changes(value: &Expr, hands: &Hands) -> Vec<Change> {
    let mut found: Vec<Change> = Vec::new();
    let mut add = |(kind, clause, rank): Turned| {
        found.push(Change { expr: Expr { kind, span: value.span }, clause, rank });
    };
    whole(value, &mut add);
    exchanged(value, &mut add);
    everywhere(value, &mut |e| own(e, hands), &mut add);
    found
}

/// Each place of an expression turned by `own`, the whole rebuilt around it.
fn everywhere(e: &Expr, own: &mut dyn FnMut(&Expr) -> Vec<Turned>, put: &mut dyn FnMut(Turned)) {
    own(e).into_iter().for_each(&mut *put);
    match &e.kind {
        ExprKind::Negate(a) => everywhere(a, own, &mut |(kind, clause, rank)| {
            put((ExprKind::Negate(boxed(kind, a.span)), clause, rank));
        }),
        ExprKind::Call(f, a) => everywhere(a, own, &mut |(kind, clause, rank)| {
            put((ExprKind::Call(f.clone(), boxed(kind, a.span)), clause, rank));
        }),
        ExprKind::Binary(op, a, b) => {
            everywhere(a, own, &mut |(kind, clause, rank)| {
                put((ExprKind::Binary(*op, boxed(kind, a.span), b.clone()), clause, rank));
            });
            everywhere(b, own, &mut |(kind, clause, rank)| {
                put((ExprKind::Binary(*op, a.clone(), boxed(kind, b.span)), clause, rank));
            });
        }
        _ => {}
    }
}

fn boxed(kind: ExprKind, span: Span) -> Box<Expr> {
    Box::new(Expr { kind, span })
}

fn binary(op: Operator, a: &Expr, b: &Expr) -> ExprKind {
    ExprKind::Binary(op, Box::new(a.clone()), Box::new(b.clone()))
}

fn figure(text: &str, span: Span) -> Expr {
    let figure = Figure { negative: false, signed: false, text: text.into(), unit: None, span, figure_span: span };
    Expr { kind: ExprKind::Figure(figure), span }
}

fn name(text: &str, span: Span) -> Expr {
    Expr { kind: ExprKind::Name(text.into()), span }
}

fn is_figure(e: &Expr, text: &str) -> bool {
    matches!(&e.kind, ExprKind::Figure(f) if !f.negative && f.unit.is_none() && &*f.text == text)
}

/// What may have gone wrong with the formula as one thing.
fn whole(value: &Expr, add: &mut dyn FnMut(Turned)) {
    let span = value.span;
    if let ExprKind::Binary(Operator::Multiply, factor, logarithm) = &value.kind
        && let ExprKind::Call(log, inner) = &logarithm.kind
        && &*log.text == "log10"
    {
        let of_power = if is_figure(factor, "10") { ", and of powers besides" } else { "" };
        let clause = format!("it is in decibels{of_power}, and the quantity is a ratio: `{}` is", text(inner));
        add((inner.kind.clone(), clause, 0));
    }
    // All that speaks of the frequency at once.
    let named: BTreeSet<&str> = expr::names(value).into_iter().map(|n| &**n).collect();
    let mut turn = |from: &str, to: &Expr, clause: String| {
        if named.contains(from) {
            add((
                replaced(value, &|e| matches!(&e.kind, ExprKind::Name(n) if &**n == from).then(|| to.kind.clone()))
                    .kind,
                clause,
                5,
            ));
        }
    };
    let s = name("s", span);
    turn("w", &s, "j is missing: `s` is jω, and `w` is ω alone".into());
    let over = Expr { kind: binary(Operator::Multiply, &figure("2", span), &name("pi", span)), span };
    turn(
        "f",
        &Expr { kind: binary(Operator::Divide, &s, &over), span },
        "j is missing: `s` is j2πf, and `f` is a frequency alone".into(),
    );
    turn("s", &name("w", span), "j is too much: `w` is ω, and `s` is jω".into());
    turn("s", &name("f", span), "`s` is j2πf, and `f` was to be there".into());
    turn("f", &name("w", span), "2π is missing: `w` is 2πf".into());
    turn("w", &name("f", span), "2π is too much: `w` is 2πf".into());
    turn("f", &s, "2π and j are missing: `s` is j2πf".into());
    // A divider read off at its other leg, a low-pass taken for a high-pass.
    let clause = "it is what is left of 1, as a divider's other leg has".to_string();
    add((binary(Operator::Subtract, &figure("1", span), value), clause, 4));
    let more = Expr { kind: binary(Operator::Add, &figure("1", span), value), span };
    let clause = format!("the formula stops short: `/ (1 + {})` is missing behind it", text(value));
    add((binary(Operator::Divide, value, &more), clause, 4));
    // One power more or less of the whole.
    if let ExprKind::Binary(Operator::Power, base, two) = &value.kind
        && is_figure(two, "2")
    {
        add((base.kind.clone(), "it is the square of what it should be".into(), 6));
    }
    add((binary(Operator::Power, value, &figure("2", span)), "it is the square root of what it should be".into(), 7));
    let root = Word { text: "sqrt".into(), span };
    add((ExprKind::Call(root, Box::new(value.clone())), "it is the square of what it should be".into(), 7));
}

/// Two parts in each other's places.
fn exchanged(value: &Expr, add: &mut dyn FnMut(Turned)) {
    let mut parts: Vec<PartName> = Vec::new();
    let mut see = |e: &Expr| {
        if let ExprKind::Part(p) = &e.kind
            && !parts.iter().any(|o| o.text == p.text)
        {
            parts.push(p.clone());
        }
    };
    walk(value, &mut see);
    for (k, a) in parts.iter().enumerate() {
        for b in &parts[k + 1..] {
            let swap = |e: &Expr| match &e.kind {
                ExprKind::Part(p) if p.text == a.text => Some(ExprKind::Part(b.clone())),
                ExprKind::Part(p) if p.text == b.text => Some(ExprKind::Part(a.clone())),
                _ => None,
            };
            add((replaced(value, &swap).kind, format!("{} and {} have changed places", a.text, b.text), 1));
        }
    }
}

fn walk(e: &Expr, see: &mut dyn FnMut(&Expr)) {
    see(e);
    match &e.kind {
        ExprKind::Negate(a) | ExprKind::Call(_, a) | ExprKind::Spoiled(a) => walk(a, see),
        ExprKind::Binary(_, a, b) => {
            walk(a, see);
            walk(b, see);
        }
        ExprKind::List(all) => all.iter().for_each(|e| walk(e, see)),
        _ => {}
    }
}

fn replaced(e: &Expr, by: &dyn Fn(&Expr) -> Option<ExprKind>) -> Expr {
    if let Some(kind) = by(e) {
        return Expr { kind, span: e.span };
    }
    let inner = |a: &Expr| Box::new(replaced(a, by));
    let kind = match &e.kind {
        ExprKind::Negate(a) => ExprKind::Negate(inner(a)),
        ExprKind::Call(f, a) => ExprKind::Call(f.clone(), inner(a)),
        ExprKind::Binary(op, a, b) => ExprKind::Binary(*op, inner(a), inner(b)),
        other => other.clone(),
    };
    Expr { kind, span: e.span }
}

/// What may have gone wrong at one place.
fn own(e: &Expr, hands: &Hands) -> Vec<Turned> {
    let span = e.span;
    let mut all: Vec<Turned> = Vec::new();
    let said = text(e);
    match &e.kind {
        ExprKind::Binary(op, a, b) => {
            let (left, right) = (text(a), text(b));
            match op {
                Operator::Add => {
                    let clause = format!("{left} and {right} lie in parallel, and the formula has them in series");
                    all.push((binary(Operator::Parallel, a, b), clause, 1));
                    let clause = format!("the sign in front of `{right}` is the other way round");
                    all.push((binary(Operator::Subtract, a, b), clause, 2));
                    // Of three in a row, one may lie beside the two others.
                    let terms = summed(e);
                    if terms.len() > 2 {
                        for (k, one) in terms.iter().enumerate() {
                            let rest = terms.iter().enumerate().filter(|(j, _)| *j != k).map(|(_, t)| (*t).clone());
                            let add = |x: Expr, y: Expr| Expr { kind: binary(Operator::Add, &x, &y), span };
                            let Some(rest) = rest.reduce(add) else { continue };
                            let (one_text, rest_text) = (text(one), text(&rest));
                            let clause = format!(
                                "{one_text} and {rest_text} lie in parallel, and the formula has them in series"
                            );
                            all.push((binary(Operator::Parallel, one, &rest), clause, 1));
                        }
                    }
                    if is_figure(a, "1") {
                        all.push((b.kind.clone(), format!("`1 +` in front of `{right}` is too much"), 3));
                    } else if is_figure(b, "1") {
                        all.push((a.kind.clone(), format!("`+ 1` behind `{left}` is too much"), 3));
                    } else {
                        all.push((a.kind.clone(), format!("`{right}` is too much beside `{left}`"), 6));
                        all.push((b.kind.clone(), format!("`{left}` is too much beside `{right}`"), 6));
                    }
                }
                Operator::Subtract => {
                    if is_figure(a, "1") {
                        all.push((
                            ExprKind::Negate(b.clone()),
                            format!("the `1` in front of `- {right}` is too much"),
                            3,
                        ));
                    }
                    let clause = format!("the sign in front of `{right}` is the other way round");
                    all.push((binary(Operator::Add, a, b), clause, 2));
                    let clause = format!("`{said}` has its sign the other way round");
                    all.push((binary(Operator::Subtract, b, a), clause, 2));
                }
                Operator::Parallel => {
                    let clause = format!("{left} and {right} lie in series, and the formula has them in parallel");
                    all.push((binary(Operator::Add, a, b), clause, 1));
                    all.push((a.kind.clone(), format!("{right} is too much beside {left}"), 6));
                    all.push((b.kind.clone(), format!("{left} is too much beside {right}"), 6));
                }
                Operator::Divide => {
                    all.push((binary(Operator::Divide, b, a), format!("`{said}` is upside down"), 1));
                    all.push((
                        binary(Operator::Multiply, a, b),
                        format!("`{right}` divides where it should multiply"),
                        4,
                    ));
                    // a·b/(a + b), written out, for what lies in series: before what its sum alone might have been.
                    if let ExprKind::Binary(Operator::Add, g, h) = &b.kind {
                        let mut factors = multiplied(a);
                        let mut take = |x: &Expr| {
                            let at = factors.iter().position(|f| text(f) == text(x))?;
                            Some(factors.remove(at))
                        };
                        if let (Some(one), Some(other)) = (take(g), take(h)) {
                            let clause = format!(
                                "{} and {} lie in series, and the formula has them in parallel",
                                text(one),
                                text(other)
                            );
                            let product = |x: Expr, y: &Expr| Expr { kind: binary(Operator::Multiply, &x, y), span };
                            let rest = factors.into_iter().cloned().reduce(|x, y| product(x, &y));
                            let kind = rest.map_or(b.kind.clone(), |rest| product(rest, b).kind);
                            all.push((kind, clause, 0));
                        }
                    }
                }
                Operator::Multiply => {
                    all.push((
                        binary(Operator::Divide, a, b),
                        format!("`{right}` multiplies where it should divide"),
                        4,
                    ));
                    all.push((a.kind.clone(), format!("the factor `{right}` is too much"), 6));
                    all.push((b.kind.clone(), format!("the factor `{left}` is too much"), 6));
                }
                Operator::Power => {}
            }
        }
        ExprKind::Negate(a) => {
            all.push((a.kind.clone(), format!("the minus in front of `{}` is too much", text(a)), 2))
        }
        ExprKind::Part(p) => {
            for other in hands.others(&p.text) {
                let part = PartName { text: other.clone(), ..p.clone() };
                let there = Expr { kind: ExprKind::Part(part), span };
                all.push((there.kind.clone(), format!("{} stands where {other} belongs", p.text), 3));
                all.push((
                    binary(Operator::Add, e, &there),
                    format!("{other} in series with {} is missing", p.text),
                    7,
                ));
                let clause = format!("{other} in parallel with {} is missing", p.text);
                all.push((binary(Operator::Parallel, e, &there), clause, 7));
            }
        }
        _ => {}
    }
    if matches!(&e.kind, ExprKind::Call(..) | ExprKind::List(_)) {
        return all;
    }
    let one = figure("1", span);
    if !is_figure(e, "1") {
        all.push((binary(Operator::Add, &one, e), format!("`1 +` is missing in front of `{said}`"), 3));
    }
    // Factors that are forgotten or doubled: at a leaf, which reaches every product, and at sums.
    let leaf = matches!(&e.kind, ExprKind::Part(_) | ExprKind::Name(_));
    if leaf || matches!(&e.kind, ExprKind::Binary(Operator::Add | Operator::Subtract | Operator::Parallel, ..)) {
        let pi = Expr { kind: binary(Operator::Multiply, &figure("2", span), &name("pi", span)), span };
        let root = Expr { kind: ExprKind::Call(Word { text: "sqrt".into(), span }, Box::new(figure("2", span))), span };
        let factors = [
            (pi, "2π is missing", "2π is too much"),
            (figure("2", span), "a factor of 2 is missing", "a factor of 2 is too much"),
            (root, "√2 is missing, as between RMS and peak,", "√2 is too much, as between peak and RMS,"),
            (figure("1000", span), "a kilo is missing", "a kilo is too much"),
        ];
        for (factor, missing, much) in factors {
            all.push((binary(Operator::Multiply, e, &factor), format!("{missing} at `{said}`"), 5));
            all.push((binary(Operator::Divide, e, &factor), format!("{much} at `{said}`"), 5));
        }
    }
    all
}

/// The factors of a product without a division in it.
fn multiplied(e: &Expr) -> Vec<&Expr> {
    match &e.kind {
        ExprKind::Binary(Operator::Multiply, a, b) => [multiplied(a), multiplied(b)].concat(),
        _ => vec![e],
    }
}

/// A formula turned as one thing, in the order in which people slip: the other sign, the other way up, a 1 more or less, a factor.
pub(crate) fn turned(value: &Expr) -> Vec<Expr> {
    let span = value.span;
    let one = figure("1", span);
    let two = figure("2", span);
    let tau = Expr { kind: binary(Operator::Multiply, &two, &name("pi", span)), span };
    let of = |op, a: &Expr, b: &Expr| Expr { kind: binary(op, a, b), span };
    let negated = negated(value);
    let over = inverted(value);
    let plus = of(Operator::Add, &one, value);
    let mut all = vec![
        negated.clone(),
        over.clone(),
        self::negated(&over),
        plus,
        of(Operator::Subtract, value, &one),
        of(Operator::Add, &one, &over),
    ];
    // A factor that is there already is taken away rather than made up for.
    match &value.kind {
        ExprKind::Binary(Operator::Multiply, a, b) if is_figure(a, "2") => all.push((**b).clone()),
        ExprKind::Binary(Operator::Divide, a, b) if is_figure(b, "2") => all.push((**a).clone()),
        _ => {}
    }
    all.extend([of(Operator::Multiply, &two, value), of(Operator::Divide, value, &two)]);
    if let ExprKind::Binary(op @ (Operator::Add | Operator::Subtract), first, rest) = &value.kind
        && is_figure(first, "1")
    {
        let other = if *op == Operator::Add { Operator::Subtract } else { Operator::Add };
        all.extend([(**rest).clone(), self::negated(rest), of(*op, &one, &inverted(rest)), of(other, &one, rest)]);
    }
    all.extend([of(Operator::Multiply, &tau, value), of(Operator::Divide, value, &tau)]);
    all.push(of(Operator::Subtract, &one, value));
    all
}

/// An expression with the other sign.
fn negated(e: &Expr) -> Expr {
    match &e.kind {
        ExprKind::Negate(a) => (**a).clone(),
        ExprKind::Binary(op @ (Operator::Multiply | Operator::Divide), a, b)
            if matches!(a.kind, ExprKind::Negate(_)) =>
        {
            Expr { kind: ExprKind::Binary(*op, Box::new(negated(a)), b.clone()), span: e.span }
        }
        _ => Expr { kind: ExprKind::Negate(Box::new(e.clone())), span: e.span },
    }
}

/// An expression the other way up.
fn inverted(e: &Expr) -> Expr {
    let span = e.span;
    match &e.kind {
        ExprKind::Negate(a) => Expr { kind: ExprKind::Negate(Box::new(inverted(a))), span },
        ExprKind::Binary(Operator::Divide, a, b) => match &a.kind {
            ExprKind::Negate(a) => negated(&Expr { kind: binary(Operator::Divide, b, a), span }),
            _ if is_figure(a, "1") => (**b).clone(),
            _ => Expr { kind: binary(Operator::Divide, b, a), span },
        },
        _ => Expr { kind: binary(Operator::Divide, &figure("1", span), e), span },
    }
}

/// The terms of a sum without a minus in it.
fn summed(e: &Expr) -> Vec<&Expr> {
    match &e.kind {
        ExprKind::Binary(Operator::Add, a, b) => [summed(a), summed(b)].concat(),
        _ => vec![e],
    }
}

/// Whether a formula begins with a 1 to which it adds, or from which it takes away.
pub(crate) fn begins_with_one(value: &Expr) -> bool {
    matches!(&value.kind, ExprKind::Binary(Operator::Add | Operator::Subtract, a, _) if is_figure(a, "1"))
}

/// An expression in the notation.
pub(crate) fn text(e: &Expr) -> String {
    written(e).0
}

/// How tightly an expression holds together.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Hold {
    Sum,
    /// `||` stands between sums, and beside `*` or `/` in a bracket only.
    Parallel,
    Product,
    Power,
    Atom,
}

fn written(e: &Expr) -> (String, Hold) {
    let held = |e: &Expr, least: Hold| match written(e) {
        (text, hold) if hold >= least => text,
        (text, _) => format!("({text})"),
    };
    match &e.kind {
        ExprKind::Figure(f) => {
            let sign = if f.negative { "-" } else { "" };
            let unit = f.unit.as_ref().map_or_else(String::new, |u| format!(" {u}"));
            (format!("{sign}{}{unit}", f.text), if f.negative { Hold::Sum } else { Hold::Atom })
        }
        ExprKind::Name(n) => (n.to_string(), Hold::Atom),
        ExprKind::Part(p) => (p.text.to_string(), Hold::Atom),
        ExprKind::Negate(a) => (format!("-{}", held(a, Hold::Product)), Hold::Sum),
        ExprKind::Call(f, a) => (format!("{}({})", f.text, text(a)), Hold::Atom),
        ExprKind::List(all) => (all.iter().map(text).collect::<Vec<_>>().join(", "), Hold::Sum),
        ExprKind::Spoiled(_) | ExprKind::Missing => ("?".into(), Hold::Atom),
        ExprKind::Binary(op, a, b) => {
            let (sign, own, left, right) = match op {
                Operator::Add => (" + ", Hold::Sum, Hold::Sum, Hold::Product),
                Operator::Subtract => (" - ", Hold::Sum, Hold::Sum, Hold::Product),
                Operator::Parallel => (" || ", Hold::Parallel, Hold::Atom, Hold::Atom),
                Operator::Multiply => ("*", Hold::Product, Hold::Product, Hold::Power),
                Operator::Divide => (" / ", Hold::Product, Hold::Product, Hold::Power),
                Operator::Power => ("^", Hold::Power, Hold::Atom, Hold::Atom),
            };
            (format!("{}{sign}{}", held(a, left), held(b, right)), own)
        }
    }
}
