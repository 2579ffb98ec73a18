//! Expressions: worked out with their dimensions, at one frequency where they speak of one.
//!
//! An expression that names `s`, `f` or `w`, or an impedance `Z(C4)`, is a curve: it has a value at each frequency and none
//! by itself. Figures are taken in their base units; decibels become a ratio, dBu and dBV volts, a percentage a fraction.

use std::f64::consts::{PI, TAU};

use notation::Name;
use notation::tree::{Expr, ExprKind, Fault, Fix, Operator, Span};
use num_complex::Complex64;
use quantity::{Dimension, Unit, Want};

use crate::decibels::{self, Level};
use crate::piece::{decode, fault};

/// A value with its dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// In base units; complex only at a frequency.
    pub value: Complex64,
    /// What it counts.
    pub dimension: Dimension,
    /// The same in decibels, where it is written in them.
    pub level: Option<Level>,
}

impl Term {
    /// A real value.
    pub fn real(value: f64, dimension: Dimension) -> Term {
        Term::new(Complex64::new(value, 0.0), dimension)
    }

    /// A value that is not in decibels.
    pub fn new(value: Complex64, dimension: Dimension) -> Term {
        Term { value, dimension, level: None }
    }
}

/// Why an expression has no value.
#[derive(Clone, Debug, PartialEq)]
pub enum Failure {
    /// Something in it is wrong, here.
    Here(Fault),
    /// Something that it names is not known.
    Elsewhere(Why),
    /// Something in it cannot be read: that is said where it stands.
    Unreadable,
}

/// Names that are worked out from each other, sorted.
pub type Circle = std::sync::Arc<[notation::Name]>;

/// Why a name has no value.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// A clause that can stand behind "unknown: ".
    pub clause: String,
    /// Under which rule it is said where the name is used; `None` where it is said at the place of what is wrong.
    pub rule: Option<&'static str>,
    /// The names that are worked out from each other, if that is why.
    pub circle: Option<Circle>,
}

impl Why {
    /// A name that leads back to itself, by these.
    pub(crate) fn of_itself(name: &str, circle: &Circle) -> Why {
        Why {
            circle: Some(circle.clone()),
            ..Why::ruled("value-of-itself", format!("{name}'s value is worked out from itself"))
        }
    }

    /// Something that is said at its own place.
    pub fn said(clause: impl Into<String>) -> Why {
        Why { clause: clause.into(), rule: None, circle: None }
    }

    /// Something that is said where the name is used, under a rule.
    pub fn ruled(rule: &'static str, clause: impl Into<String>) -> Why {
        Why { clause: clause.into(), rule: Some(rule), circle: None }
    }

    /// The same to whoever uses `name`, at whose own expression it is said: the fault is told once, where it stands.
    pub(crate) fn once_told(self, name: &str) -> Why {
        match (&self.rule, &self.circle) {
            (Some(_), None) => Why::said(format!("{name} cannot be worked out")),
            _ => self,
        }
    }

    /// What is said at one of the names in a circle: the same whichever of them is asked for first.
    pub fn round(&self) -> Option<String> {
        /// So many names are told; a circle of hundreds is found from the first few.
        const TOLD: usize = 6;
        match &self.circle.as_ref()?[..] {
            [one] => Some(format!("{one} is worked out from itself, so it has no value")),
            all => {
                let mut told: Vec<String> = all.iter().take(TOLD).map(|n| n.to_string()).collect();
                if all.len() > TOLD {
                    told.push(format!("{} more", all.len() - TOLD));
                }
                let said = crate::circuit::Circuit::list(&told);
                Some(format!("{said} are worked out from each other, so none of them has a value"))
            }
        }
    }
}

/// What a part is to an expression.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PartTerm {
    /// A resistor, or a control's whole track: ohms.
    Ohms(f64),
    /// Farads.
    Farads(f64),
    /// Henries.
    Henries(f64),
}

impl PartTerm {
    /// Its value as a term.
    pub fn term(self) -> Term {
        match self {
            PartTerm::Ohms(x) => Term::real(x, Dimension::RESISTANCE),
            PartTerm::Farads(x) => Term::real(x, Dimension::CAPACITANCE),
            PartTerm::Henries(x) => Term::real(x, Dimension::INDUCTANCE),
        }
    }

    /// Its impedance at a complex frequency.
    pub fn impedance(self, s: Complex64) -> Complex64 {
        match self {
            PartTerm::Ohms(x) => Complex64::new(x, 0.0),
            PartTerm::Farads(x) => 1.0 / (s * x),
            PartTerm::Henries(x) => s * x,
        }
    }
}

/// Where an expression finds what its names mean.
pub trait Scope {
    /// The value of a `let` name, at a frequency if there is one; `None` for a name that is not there.
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>>;
    /// A part's value; `None` for one that is not there, a clause for one without a value.
    fn part(&self, name: &str) -> Option<Result<PartTerm, Why>>;
    /// The resistances of a control from `ccw` to the wiper and from there to `cw`, where it stands.
    fn track(&self, name: &str) -> Option<Result<[f64; 2], Why>>;
    /// All names that may be meant by a misspelt one.
    fn known(&self) -> Vec<String>;
}

/// Works an expression out: as a plain value, or at a complex frequency `s` in radians a second.
///
/// # Errors
/// What is wrong with it and where, or which name elsewhere has no value.
pub fn evaluate(expr: &Expr, scope: &dyn Scope, s: Option<Complex64>) -> Result<Term, Failure> {
    let term = Worker { scope, s }.term(expr)?;
    if !(term.value.re.is_finite() && term.value.im.is_finite()) {
        return Err(here(
            "no-finite-value",
            expr.span,
            "this has no finite value: something divides by zero or overflows",
        ));
    }
    Ok(term)
}

/// Whether an expression is a curve by itself; what its names are is not looked at.
pub fn speaks_of_frequency(expr: &Expr) -> bool {
    match &expr.kind {
        ExprKind::Name(n) => matches!(&**n, "s" | "f" | "w"),
        ExprKind::Call(f, inner) => &*f.text == "Z" || speaks_of_frequency(inner),
        ExprKind::Negate(a) | ExprKind::Spoiled(a) => speaks_of_frequency(a),
        ExprKind::Binary(_, a, b) => speaks_of_frequency(a) || speaks_of_frequency(b),
        ExprKind::List(all) => all.iter().any(speaks_of_frequency),
        ExprKind::Figure(_) | ExprKind::Part(_) | ExprKind::Missing => false,
    }
}

/// The names in an expression.
pub fn names(expr: &Expr) -> Vec<&Name> {
    let mut found = Vec::new();
    leaves(expr, &mut |leaf| {
        if let ExprKind::Name(n) = leaf {
            found.push(n);
        }
    });
    found
}

/// The parts in an expression, in the order written.
pub fn parts(expr: &Expr) -> Vec<&Name> {
    let mut found = Vec::new();
    leaves(expr, &mut |leaf| {
        if let ExprKind::Part(part) = leaf {
            found.push(&part.text);
        }
    });
    found
}

/// Shows each figure, name and part of an expression, in the order written.
pub(crate) fn leaves<'e>(expr: &'e Expr, see: &mut dyn FnMut(&'e ExprKind)) {
    let mut waiting = vec![expr];
    while let Some(expr) = waiting.pop() {
        match &expr.kind {
            ExprKind::Negate(a) | ExprKind::Call(_, a) | ExprKind::Spoiled(a) => waiting.push(a),
            ExprKind::Binary(_, a, b) => waiting.extend([&**b, &**a]),
            ExprKind::List(all) => waiting.extend(all.iter().rev()),
            leaf => see(leaf),
        }
    }
}

/// The value of an expression as what a place wants, in that place's base unit (a percentage in per cent).
///
/// # Errors
/// As [`evaluate`], and where its dimension does not fit.
pub fn wanted(expr: &Expr, scope: &dyn Scope, want: Want) -> Result<(f64, Unit), Failure> {
    let mut term = evaluate(expr, scope, None)?;
    if let ExprKind::Name(name) = &expr.kind
        && let Some(Ok(named)) = scope.name(name, None)
    {
        term = named;
    }
    // A level that is written as one stays one: `(-6 dB)` is `-6 dB`.
    if let Some(level) = term.level.filter(|l| want.takes(l.unit)) {
        return Ok((level.value, level.unit));
    }
    let value = term.value.re;
    let unit = match (term.dimension.unit(), want) {
        (Some(Unit::One), Want::Percentage) => return Ok((value * 100.0, Unit::Percent)),
        // A bare figure is ohms as a resistor's value, and so is a bare result.
        (Some(Unit::One), Want::ResistorValue) => Some(Unit::Ohm),
        // Degrees Celsius are reckoned with as they stand.
        (None, Want::Temperature) if term.dimension == Dimension::TEMPERATURE => Some(Unit::Celsius),
        (unit, _) => unit,
    };
    match unit.filter(|u| want.takes(*u)) {
        Some(unit) => Ok((value, unit)),
        None => Err(here(
            "wrong-dimension",
            expr.span,
            format!("{} is wanted here, and this is in {}", want.words(), term.dimension.name()),
        )),
    }
}

/// The unit that a name in an expression was meant as: itself, or the symbol that it misspells.
fn unit_like(name: &str) -> Option<String> {
    if Unit::read(name).is_some() {
        return Some(name.into());
    }
    let near = notation::word::is_unit_alike(name).then(|| quantity::suggestions(name));
    near?.into_iter().next()
}

fn here(id: &'static str, span: Span, message: impl Into<String>) -> Failure {
    Failure::Here(fault(id, span, message))
}

struct Worker<'a> {
    scope: &'a dyn Scope,
    s: Option<Complex64>,
}

impl Worker<'_> {
    fn term(&self, expr: &Expr) -> Result<Term, Failure> {
        match &expr.kind {
            ExprKind::Missing | ExprKind::Spoiled(_) => Err(Failure::Unreadable),
            ExprKind::Figure(f) => {
                let (value, unit, _) = decode(f, Want::Any).map_err(Failure::Here)?;
                if let Some(level) = Level::of(value, unit) {
                    return Ok(level.term());
                }
                let (value, dimension) = quantity::Quantity::new(value, unit).linear();
                Ok(Term::real(value, dimension))
            }
            ExprKind::Name(name) => self.name(name, expr.span),
            ExprKind::Part(part) => Ok(self.part(&part.text, expr.span)?.term()),
            ExprKind::Negate(a) => match (&a.kind, self.term(a)?) {
                // A level below 0 dBu is written with its own minus.
                (ExprKind::Figure(_), Term { level: Some(Level { value, unit }), .. }) => {
                    Ok(Level { value: -value, unit }.term())
                }
                (_, term) => decibels::negated(term).map_err(|said| here("dimensions-differ", expr.span, said)),
            },
            ExprKind::Binary(op, a, b) => self.binary(*op, a, b, expr.span),
            ExprKind::Call(function, argument) => self.call(&function.text, function.span, argument),
            ExprKind::List(_) => {
                Err(here("list-outside-call", expr.span, "several values with commas stand in min( ) and max( ) only"))
            }
        }
    }

    fn name(&self, name: &str, span: Span) -> Result<Term, Failure> {
        let frequency = |value: Complex64| match self.s {
            Some(_) => Ok(Term::new(value, Dimension::FREQUENCY)),
            None => Err(here(
                "curve-for-value",
                span,
                format!("{name} is the frequency, so this is a curve: one value is wanted here"),
            )),
        };
        let s = self.s.unwrap_or_default();
        match name {
            // Where a `let` gives it another value, neither is sure to be the one that is meant.
            "pi" => match self.scope.name(name, self.s) {
                Some(Err(why)) => Err(Failure::Elsewhere(why)),
                _ => Ok(Term::real(PI, Dimension::NONE)),
            },
            "s" => frequency(s),
            "w" => frequency(Complex64::new(s.im, 0.0)),
            "f" => frequency(Complex64::new(s.im / TAU, 0.0)),
            _ => match self.scope.name(name, self.s) {
                // In a sum or a product a named gain is the ratio: `R3 * (gain - 1)`.
                Some(Ok(term)) => Ok(Term { level: None, ..term }),
                Some(Err(why)) => Err(Failure::Elsewhere(why)),
                None => Err(self.unknown(name, span, "value")),
            },
        }
    }

    fn part(&self, name: &str, span: Span) -> Result<PartTerm, Failure> {
        match self.scope.part(name) {
            Some(Ok(term)) => Ok(term),
            Some(Err(why)) => Err(Failure::Elsewhere(why)),
            None => Err(self.unknown(name, span, "part")),
        }
    }

    fn unknown(&self, name: &str, span: Span, kind: &str) -> Failure {
        if kind == "value"
            && let Some(unit) = unit_like(name)
        {
            let fix = format!("1 {unit}");
            let said = if unit == name {
                format!("{name} is a unit and wants a figure in front: {fix}")
            } else {
                format!("{name} has no value: a unit is written with a figure in front, {fix}")
            };
            let mut f = fault("unknown-name", span, said);
            f.fixes.push(Fix { title: format!("write {fix}"), edits: vec![(span, fix)] });
            return Failure::Here(f);
        }
        let known = self.scope.known();
        let near = notation::near::nearest(name, known.iter().map(String::as_str));
        let hint = near.map_or_else(
            || if kind == "value" { format!(": `let {name} = …` would give it one") } else { String::new() },
            |n| format!(": did you mean {n}"),
        );
        let said = if kind == "value" {
            format!("{name} has no value{hint}")
        } else {
            format!("there is no part called {name}{hint}")
        };
        let mut f = fault("unknown-name", span, said);
        if let Some(n) = near {
            f.fixes.push(Fix { title: format!("write {n}"), edits: vec![(span, n.into())] });
        }
        Failure::Here(f)
    }

    fn binary(&self, op: Operator, a: &Expr, b: &Expr, span: Span) -> Result<Term, Failure> {
        let (x, y) = (self.term(a)?, self.term(b)?);
        let term = match decibels::operated(op, &x, &y) {
            Some(term) => return term.map_err(|said| here("dimensions-differ", span, said)),
            None => self.operated(op, x, y, b.span, span)?,
        };
        // What vanishes though nothing in it is 0 is too small to be told from nothing, and is not 0.
        let product = !matches!(op, Operator::Add | Operator::Subtract);
        let none = |t: &Term| t.value.norm() == 0.0;
        if product && term.value.norm() < f64::MIN_POSITIVE && !none(&x) && !(none(&y) && op != Operator::Power) {
            return Err(here("no-finite-value", span, "this comes out too small to be reckoned with"));
        }
        Ok(term)
    }

    fn operated(&self, op: Operator, x: Term, y: Term, exponent: Span, span: Span) -> Result<Term, Failure> {
        let beyond = || here("dimension-out-of-reach", span, "powers of units this high mean nothing in a circuit");
        match op {
            Operator::Add | Operator::Subtract | Operator::Parallel => {
                if x.dimension != y.dimension {
                    let word = match op {
                        Operator::Add => "added to",
                        Operator::Subtract => "taken from",
                        _ => "put in parallel with",
                    };
                    let (first, second) =
                        if op == Operator::Subtract { (y.dimension, x.dimension) } else { (x.dimension, y.dimension) };
                    let message = format!("{} cannot be {word} {}", first.name(), second.name());
                    return Err(here("dimensions-differ", span, message));
                }
                let value = match op {
                    Operator::Add => x.value + y.value,
                    Operator::Subtract => x.value - y.value,
                    _ => x.value * y.value / (x.value + y.value),
                };
                Ok(Term::new(value, x.dimension))
            }
            Operator::Multiply => Ok(Term::new(x.value * y.value, x.dimension.times(y.dimension).ok_or_else(beyond)?)),
            Operator::Divide => Ok(Term::new(x.value / y.value, x.dimension.per(y.dimension).ok_or_else(beyond)?)),
            Operator::Power => {
                if y.dimension != Dimension::NONE || y.value.im != 0.0 {
                    return Err(here("exponent-with-unit", exponent, "an exponent is a plain number"));
                }
                let dimension = x.dimension.power(y.value.re).ok_or_else(|| {
                    here("dimension-of-power", span, format!("no unit comes of {} to this power", x.dimension.name()))
                })?;
                Ok(Term::new(power(x.value, y.value.re), dimension))
            }
        }
    }

    fn call(&self, function: &str, span: Span, argument: &Expr) -> Result<Term, Failure> {
        if let ("Z" | "cw" | "ccw", ExprKind::Part(part)) = (function, &argument.kind) {
            let (name, at) = (&*part.text, argument.span);
            if function == "Z" {
                let term = self.part(name, at)?;
                let Some(s) = self.s else {
                    return Err(here(
                        "curve-for-value",
                        span,
                        "an impedance is a curve over frequency: one value is wanted here",
                    ));
                };
                return Ok(Term::new(term.impedance(s), Dimension::RESISTANCE));
            }
            return match self.scope.track(name) {
                Some(Ok([low, high])) => {
                    Ok(Term::real(if function == "ccw" { low } else { high }, Dimension::RESISTANCE))
                }
                Some(Err(why)) => Err(Failure::Elsewhere(why)),
                None => Err(self.unknown(name, at, "part")),
            };
        }
        if matches!(function, "Z" | "cw" | "ccw") {
            let what = if function == "Z" { "a part, as in Z(C4)" } else { "a control, as in cw(VR1)" };
            return Err(here("part-wanted", argument.span, format!("{function} is of {what}")));
        }
        if let "min" | "max" = function {
            let all = match &argument.kind {
                ExprKind::List(all) => &all[..],
                _ => std::slice::from_ref(argument),
            };
            let terms: Vec<Term> = all.iter().map(|e| self.term(e)).collect::<Result<_, _>>()?;
            if let Some(odd) = terms.iter().position(|t| t.dimension != terms[0].dimension) {
                return Err(here(
                    "dimensions-differ",
                    all[odd].span,
                    format!("{} cannot be compared with {}", terms[odd].dimension.name(), terms[0].dimension.name()),
                ));
            }
            let unit = |t: &Term| t.level.map(|l| l.unit);
            if let Some(odd) = terms.iter().position(|t| unit(t) != unit(&terms[0])) {
                let said = "decibels are compared with decibels: beside anything else write the ratio or the volts";
                return Err(here("dimensions-differ", all[odd].span, said));
            }
            let better = |a: Term, b: Term| if (a.value.re < b.value.re) == (function == "min") { a } else { b };
            return terms
                .into_iter()
                .reduce(better)
                .ok_or_else(|| here("argument-missing", span, format!("{function} wants values in parentheses")));
        }
        let x = self.term(argument)?;
        if let Some(term) = decibels::called(function, &x) {
            return term.map_err(|said| here("dimensions-differ", argument.span, said));
        }
        let plain = |value: Complex64| {
            if x.dimension == Dimension::NONE {
                Ok(Term::new(value, Dimension::NONE))
            } else {
                Err(here(
                    "argument-with-unit",
                    argument.span,
                    format!("{function} is of a plain number, and this is in {}", x.dimension.name()),
                ))
            }
        };
        match function {
            "sqrt" => {
                let dimension = x.dimension.root().ok_or_else(|| {
                    here(
                        "dimension-of-power",
                        argument.span,
                        format!("no unit comes of the square root of {}", x.dimension.name()),
                    )
                })?;
                if self.s.is_none() && x.value.re < 0.0 {
                    return Err(here("root-of-negative", argument.span, "this is negative and has no square root"));
                }
                Ok(Term::new(x.value.sqrt(), dimension))
            }
            "abs" => Ok(Term::new(Complex64::new(x.value.norm(), 0.0), x.dimension)),
            "exp" if x.value.re < -708.0 => {
                Err(here("no-finite-value", span, "this comes out too small to be reckoned with"))
            }
            "exp" => plain(x.value.exp()),
            "ln" | "log10" if self.s.is_none() && x.value.re <= 0.0 => {
                Err(here("log-of-nothing", argument.span, format!("{function} is of a number above 0")))
            }
            "ln" => plain(x.value.ln()),
            "log10" => plain(x.value.log10()),
            _ => Err(here(
                "unknown-function",
                span,
                format!(
                    "there is no function {function}: sqrt, ln, log10, exp, min, max, abs, Z, cw and ccw are known"
                ),
            )),
        }
    }
}

/// A whole power by multiplying, so that squares are as exact as they look; any other by the logarithm.
fn power(x: Complex64, exponent: f64) -> Complex64 {
    if exponent.fract() == 0.0 && exponent.abs() <= 64.0 {
        x.powi(exponent as i32)
    } else if x.im == 0.0 && x.re >= 0.0 {
        Complex64::new(x.re.powf(exponent), 0.0)
    } else {
        x.powf(exponent)
    }
}
