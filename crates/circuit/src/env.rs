//! What names mean in a file's expressions while its circuit is being made: `let` names and parts, worked out when they are
//! asked for, each once.

use std::cell::RefCell;
use std::sync::Arc;

use notation::Name;
use notation::tree::{BlockKind, Expr, Heading};
use num_complex::Complex64;
use quantity::{Series, Want};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::assemble::File;
use crate::circuit::{Given, Let, LetValue, Position, Taper};
use crate::copies;
use crate::element::{Class, Elem, rounded};
use crate::expr::{self, Failure, PartTerm, Scope, Term, Why};
use crate::piece::{Piece, PieceKind, WrittenPosition, in_reach};

/// The names of a file. Without an expression anywhere nobody asks for one, and it stays empty.
pub(crate) fn of(file: &File) -> Env {
    let mut env = Env::default();
    let includes = || file.includes.iter().enumerate().map(|(i, f)| (i as u32 + 1, &f.blocks));
    let files = || std::iter::once((0, &file.blocks)).chain(includes());
    let speaks = |p: &Piece| p.pending.is_some() || matches!(p.kind, PieceKind::Let(..));
    if !files().flat_map(|(_, blocks)| blocks).flat_map(|b| &b.entries).any(|p| speaks(p)) {
        return env;
    }
    for (k, blocks) in files() {
        for piece in blocks.iter().flat_map(|b| &b.entries) {
            if let PieceKind::Let(name, expr) = &piece.kind {
                env.add_let(k, &name.text, expr);
            }
        }
    }
    for (b, block) in file.blocks.iter().enumerate() {
        match block.heading.map(|h| &h.tree) {
            Some(Heading::Use { stage: Some(stage), name: Some(name), .. }) => {
                let Ok(pattern) = copies::pattern(file, &stage.text) else { continue };
                let prefix: Name = format!("{}.", name.text).into();
                let here = copies::replaced(&block.entries).map(|e| (b as u32, e));
                let replacing: Vec<(u32, &Elem)> = pattern.overrides.iter().copied().chain(here).collect();
                for elem in pattern.entries.iter().flat_map(|p| copies::elems(p)) {
                    let mut own = elem.clone();
                    let mut from = pattern.file;
                    let own_new = || replacing.iter().copied().filter(|(_, n)| n.name == elem.name);
                    copies::replace_all(&mut own, own_new());
                    for (_, new) in own_new() {
                        from = if new.expression.is_some() { 0 } else { from };
                    }
                    own.name = format!("{prefix}{}", elem.name).into();
                    env.add_part(from, &prefix, &own);
                }
            }
            _ if block.kind == Some(BlockKind::Stage) => {
                for elem in block.entries.iter().flat_map(|p| copies::elems(p)) {
                    env.add_part(0, &"".into(), elem);
                }
            }
            _ => {}
        }
    }
    env
}

/// A part as its entry gives it.
struct Raw {
    class: Class,
    value: Given,
    expression: Option<(Arc<Expr>, Option<Series>)>,
    taper: Taper,
    rest: f64,
    /// Why where it rests is not known.
    unrest: Option<Name>,
    /// The copy that it belongs to, with its dot; empty for a part of the file itself.
    prefix: Name,
    /// The file that its expression's `let` names stand in.
    file: u32,
}

/// All names of a file and of what it includes.
#[derive(Default)]
pub(crate) struct Env {
    lets: FxHashMap<(u32, Name), Arc<Expr>>,
    /// `let` names that stand twice: neither value is sure to be the one that is meant.
    doubled: FxHashSet<(u32, Name)>,
    order: Vec<Name>,
    parts: FxHashMap<Name, Raw>,
    /// What is being worked out, so that a circle is seen.
    open: RefCell<Vec<Name>>,
    done: RefCell<FxHashMap<Name, Result<PartTerm, Why>>>,
}

impl Env {
    /// Adds a `let` name.
    pub fn add_let(&mut self, file: u32, name: &Name, expr: &Arc<Expr>) {
        let key = (file, name.clone());
        if self.lets.contains_key(&key) {
            self.doubled.insert(key);
            return;
        }
        if file == 0 {
            self.order.push(name.clone());
        }
        self.lets.insert(key, expr.clone());
    }

    /// Adds a part; the first of a name counts.
    pub fn add_part(&mut self, file: u32, prefix: &Name, elem: &Elem) {
        let rest = match elem.rest {
            Some(WrittenPosition::Share(p)) => p,
            _ => 0.5,
        };
        self.parts.entry(elem.name.clone()).or_insert_with(|| Raw {
            class: elem.class,
            value: elem.doubt.clone().map_or_else(|| elem.value.clone(), Given::Unknown),
            expression: elem.expression.clone().filter(|_| elem.doubt.is_none()).map(|e| (e, elem.series)),
            taper: elem.taper,
            rest,
            unrest: elem.unrest.clone(),
            prefix: prefix.clone(),
            file,
        });
    }

    /// What names mean in an entry of this file, as a part of this copy.
    pub fn scope<'a>(&'a self, file: u32, prefix: &Name) -> Scoped<'a> {
        Scoped { env: self, file, prefix: prefix.clone() }
    }

    /// The `let` names of the file itself with what they come to.
    pub fn lets(&self, reference: f64) -> Vec<Let> {
        let scope = self.scope(0, &"".into());
        let s = Complex64::new(0.0, std::f64::consts::TAU * reference);
        let one = |name: &Name| {
            let expr = self.lets[&(0, name.clone())].clone();
            let value = if self.doubled.contains(&(0, name.clone())) {
                LetValue::Unknown(format!("{name} is given two values").into())
            } else if self.is_curve(0, &expr, &mut Vec::new()) {
                match expr::evaluate(&expr, &scope, Some(s)) {
                    Ok(_) => LetValue::Curve,
                    Err(failure) => LetValue::Unknown(clause(name, failure)),
                }
            } else {
                match expr::evaluate(&expr, &scope, None) {
                    Ok(term) => LetValue::Value(term.value.re, term.dimension),
                    Err(failure) => LetValue::Unknown(clause(name, failure)),
                }
            };
            Let { name: name.clone(), expr, value }
        };
        self.order.iter().map(one).collect()
    }

    /// Whether an expression speaks of a frequency, by itself or through a name.
    pub fn is_curve(&self, file: u32, expr: &Expr, above: &mut Vec<Name>) -> bool {
        if expr::speaks_of_frequency(expr) {
            return true;
        }
        names(expr).into_iter().any(|name| {
            if above.contains(&name) {
                return false;
            }
            let Some(inner) = self.lets.get(&(file, name.clone())) else { return false };
            above.push(name);
            let curve = self.is_curve(file, inner, above);
            above.pop();
            curve
        })
    }

    /// Runs with a name marked as being worked out; where it is already, that is a circle.
    fn opened<T>(&self, key: Name, work: impl FnOnce() -> T) -> Result<T, Why> {
        let before = self.open.borrow().iter().position(|k| *k == key);
        if let Some(at) = before {
            // A `let` name is marked with its file.
            let plain = |key: &Name| Name::from(key.rsplit(' ').next().unwrap_or_default());
            let clause = format!("{}'s value is worked out from itself", plain(&key));
            let circle = self.open.borrow()[at..].iter().map(plain).collect();
            return Err(Why { circle, ..Why::ruled("value-of-itself", clause) });
        }
        self.open.borrow_mut().push(key);
        let done = work();
        self.open.borrow_mut().pop();
        Ok(done)
    }

    /// A part's value for the circuit, and what its expression came to in front of the rounding.
    pub fn given(&self, name: &Name) -> Given {
        match self.part(name) {
            Some(Ok(PartTerm::Ohms(x) | PartTerm::Farads(x) | PartTerm::Henries(x))) => Given::Number(x),
            Some(Err(why)) => Given::Unknown(why.clause.into()),
            None => Given::Unknown(format!("{name} has no value").into()),
        }
    }

    /// What a part's expression comes to in front of the rounding.
    pub fn exact(&self, name: &Name) -> Option<f64> {
        let raw = self.parts.get(name)?;
        let term = expr::evaluate(&raw.expression.as_ref()?.0, &self.scope(raw.file, &raw.prefix), None).ok()?;
        Some(term.value.re)
    }

    fn part(&self, name: &Name) -> Option<Result<PartTerm, Why>> {
        let raw = self.parts.get(name)?;
        let Some((expr, series)) = &raw.expression else {
            return Some(match &raw.value {
                Given::Number(x) => term(raw.class, *x).ok_or_else(|| Why::said(format!("{name} has no value"))),
                Given::Unknown(why) => Err(Why::said(why.to_string())),
            });
        };
        if let Some(done) = self.done.borrow().get(name) {
            return Some(done.clone());
        }
        let want = match raw.class {
            Class::Capacitor => Want::CapacitorValue,
            Class::Inductor => Want::InductorValue,
            _ => Want::ResistorValue,
        };
        let found = self.opened(name.clone(), || match expr::wanted(expr, &self.scope(raw.file, &raw.prefix), want) {
            Ok((x, _)) => term(raw.class, rounded(x, *series))
                .filter(|_| in_reach(x) && (x > 0.0 || (x == 0.0 && raw.class == Class::Resistor)))
                .ok_or_else(|| Why::said(format!("{name} comes to a value that no part has"))),
            Err(Failure::Elsewhere(why)) => Err(why),
            Err(Failure::Here(_)) => Err(Why::said(format!("{name}'s value cannot be worked out"))),
            Err(Failure::Unreadable) => Err(Why::said(format!("{name}'s value cannot be read"))),
        });
        let found = found.unwrap_or_else(Err);
        if self.open.borrow().is_empty() {
            self.done.borrow_mut().insert(name.clone(), found.clone());
        }
        Some(found)
    }
}

fn term(class: Class, x: f64) -> Option<PartTerm> {
    match class {
        Class::Resistor | Class::Variable => Some(PartTerm::Ohms(x)),
        Class::Capacitor => Some(PartTerm::Farads(x)),
        Class::Inductor => Some(PartTerm::Henries(x)),
        Class::Amplifier | Class::Switch | Class::Unknown => None,
    }
}

fn clause(name: &Name, failure: Failure) -> Name {
    match failure {
        Failure::Elsewhere(why) => why.clause.into(),
        Failure::Here(_) => format!("{name} cannot be worked out").into(),
        Failure::Unreadable => format!("{name} cannot be read").into(),
    }
}

/// The names in an expression.
pub(crate) fn names(expr: &Expr) -> Vec<Name> {
    use notation::tree::ExprKind::*;
    match &expr.kind {
        Name(n) => vec![n.clone()],
        Negate(a) | Call(_, a) | Spoiled(a) => names(a),
        Binary(_, a, b) => [names(a), names(b)].concat(),
        List(all) => all.iter().flat_map(names).collect(),
        Figure(_) | Part(_) | Missing => Vec::new(),
    }
}

/// An environment seen from one entry.
pub(crate) struct Scoped<'a> {
    env: &'a Env,
    file: u32,
    prefix: Name,
}

impl Scoped<'_> {
    /// A part of the same copy goes before one of the file.
    fn full(&self, name: &str) -> Option<Name> {
        let own: Name = format!("{}{name}", self.prefix).into();
        if self.env.parts.contains_key(&own) {
            return Some(own);
        }
        self.env.parts.contains_key(name).then(|| name.into())
    }
}

impl Scope for Scoped<'_> {
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>> {
        let expr = self.env.lets.get(&(self.file, name.into()))?;
        if self.env.doubled.contains(&(self.file, name.into())) {
            return Some(Err(Why::said(format!("{name} is given two values"))));
        }
        let key: Name = format!("let {} {name}", self.file).into();
        let scope = self.env.scope(self.file, &"".into());
        Some(match self.env.opened(key, || expr::evaluate(expr, &scope, s)) {
            Err(why) => Err(why),
            Ok(Ok(term)) => Ok(term),
            Ok(Err(Failure::Elsewhere(why))) => Err(why),
            Ok(Err(Failure::Here(f))) if f.id == "curve-for-value" => Err(Why::ruled(
                "curve-for-value",
                format!("{name} is a curve over frequency: one value is wanted here"),
            )),
            Ok(Err(failure)) => Err(Why::said(&*clause(&name.into(), failure))),
        })
    }

    fn part(&self, name: &str) -> Option<Result<PartTerm, Why>> {
        self.env.part(&self.full(name)?)
    }

    fn track(&self, name: &str) -> Option<Result<[f64; 2], Why>> {
        let full = self.full(name)?;
        let raw = &self.env.parts[&full];
        if raw.class != Class::Variable {
            return Some(Err(Why::ruled("no-wiper", format!("{name} has no wiper"))));
        }
        if let Some(why) = &raw.unrest {
            return Some(Err(Why::said(&**why)));
        }
        Some(self.env.part(&full)?.map(|t| {
            let ohms = match t {
                PartTerm::Ohms(x) | PartTerm::Farads(x) | PartTerm::Henries(x) => x,
            };
            split(ohms, raw.taper, Position::Travel(raw.rest))
        }))
    }

    fn known(&self) -> Vec<String> {
        let lets = self.env.lets.keys().filter(|k| k.0 == self.file).map(|k| k.1.to_string());
        lets.chain(self.env.parts.keys().map(|k| k.to_string())).collect()
    }
}

/// A track's resistances from `ccw` to the wiper and from there to `cw`.
pub(crate) fn split(ohms: f64, taper: Taper, position: Position) -> [f64; 2] {
    let share = match position {
        Position::Travel(p) => taper.share(p),
        Position::Step(_) => 0.0,
    };
    [ohms * share, ohms * (1.0 - share)]
}
