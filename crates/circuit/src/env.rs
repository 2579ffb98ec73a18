//! What names mean in a file's expressions while its circuit is being made: `let` names and parts, worked out when they are
//! asked for, each once.

use std::cell::{Cell, OnceCell, RefCell};
use std::sync::Arc;

use notation::Name;
use notation::tree::{BlockKind, Expr, ExprKind, Heading};
use num_complex::Complex64;
use quantity::{Series, Want};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::assemble::File;
use crate::circuit::{Given, Let, LetValue, Position, Taper};
use crate::copies::{self, Patterns};
use crate::element::{Class, Elem, rounded};
use crate::expr::{self, Circle, Failure, PartTerm, Scope, Term, Why};
use crate::piece::{Piece, PieceKind, WrittenPosition, in_reach};
use crate::worth::{self, Worth};

/// The names of a file. Without an expression anywhere nobody asks for one, and it stays empty.
pub(crate) fn of(file: &File) -> Env {
    let mut env = Env::default();
    let includes = || file.includes.iter().enumerate().map(|(i, f)| (i as u32 + 1, &f.blocks));
    let files = || std::iter::once((0, &file.blocks)).chain(includes());
    let speaks = |p: &Piece| {
        p.pending.is_some() || matches!(p.kind, PieceKind::Let(..) | PieceKind::Formula(_) | PieceKind::Assume(_))
    };
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
    let patterns = Patterns::new(file);
    for (b, block) in file.blocks.iter().enumerate() {
        match block.heading.map(|h| &h.tree) {
            Some(Heading::Use { stage: Some(stage), name: Some(name), .. }) => {
                let Ok(pattern) = patterns.of(&stage.text) else { continue };
                let prefix: Name = format!("{}.", name.text).into();
                let mut replacing: FxHashMap<&Name, Vec<(u32, &Elem)>> = FxHashMap::default();
                let here = copies::replaced(&block.entries).map(|e| (b as u32, e));
                for (block, new) in pattern.overrides.iter().copied().chain(here) {
                    replacing.entry(&new.name).or_default().push((block, new));
                }
                for elem in pattern.entries.iter().flat_map(|p| copies::elems(p)) {
                    let mut own = elem.clone();
                    let mut from = pattern.file;
                    let all = replacing.get(&elem.name).map_or(&[][..], |all| all);
                    copies::replace_all(&mut own, all.iter().copied());
                    for (_, new) in all {
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
    /// The `let` names that are curves over frequency, by themselves or through a name.
    curves: OnceCell<FxHashSet<(u32, Name)>>,
    /// How often it was asked what a name may have been meant to be.
    guesses: Cell<u32>,
    /// What has been worked out already.
    values: RefCell<FxHashMap<Key, Result<Term, Why>>>,
}

/// What can be worked out by name.
#[derive(Clone, PartialEq, Eq, Hash)]
pub(crate) enum Key {
    /// A `let` name of a file, at a complex frequency (its bits) or as a plain value.
    Let(u32, Name, Option<[u64; 2]>),
    /// A part, by its full name.
    Part(Name),
}

impl Env {
    /// Adds a `let` name.
    pub fn add_let(&mut self, file: u32, name: &Name, expr: &Arc<Expr>) {
        let key = (file, name.clone());
        if self.lets.contains_key(&key) {
            self.doubled.insert(key);
            return;
        }
        if &**name == "pi" {
            self.doubled.insert(key.clone());
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
            } else if self.is_curve(0, &expr) {
                match expr::evaluate(&expr, &scope, Some(s)) {
                    Ok(_) => LetValue::Curve,
                    Err(failure) => LetValue::Unknown(clause(name, failure)),
                }
            } else {
                match expr::evaluate(&expr, &scope, None) {
                    Ok(term) => LetValue::Value(term),
                    Err(failure) => LetValue::Unknown(clause(name, failure)),
                }
            };
            Let { name: name.clone(), expr, value }
        };
        self.order.iter().map(one).collect()
    }

    /// Whether an expression speaks of a frequency, by itself or through a name.
    pub fn is_curve(&self, file: u32, expr: &Expr) -> bool {
        expr::speaks_of_frequency(expr)
            || expr::names(expr).into_iter().any(|name| self.curves().contains(&(file, name.clone())))
    }

    /// The names that are curves: those that speak of a frequency themselves, and all that name one of these. They are found from
    /// the far end, so that each name is looked at once however the names hang together.
    fn curves(&self) -> &FxHashSet<(u32, Name)> {
        self.curves.get_or_init(|| {
            let mut named_by: FxHashMap<(u32, &Name), Vec<&(u32, Name)>> = FxHashMap::default();
            let mut waiting: Vec<&(u32, Name)> = Vec::new();
            for (key, expr) in &self.lets {
                if expr::speaks_of_frequency(expr) {
                    waiting.push(key);
                }
                expr::names(expr).into_iter().for_each(|n| named_by.entry((key.0, n)).or_default().push(key));
            }
            let mut curves = FxHashSet::default();
            while let Some(key) = waiting.pop() {
                if curves.insert(key.clone()) {
                    waiting.extend(named_by.get(&(key.0, &key.1)).into_iter().flatten());
                }
            }
            curves
        })
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
        let lacks = || Why::said(format!("{name} has no value"));
        if raw.expression.is_some() {
            let value = worth::of(self, Key::Part(name.clone()));
            return Some(value.and_then(|t| term(raw.class, t.value.re).ok_or_else(lacks)));
        }
        Some(match &raw.value {
            Given::Number(x) => term(raw.class, *x).ok_or_else(lacks),
            Given::Unknown(why) => Err(Why::said(why.to_string())),
        })
    }

    /// The value behind a key, once all that it names has been worked out.
    fn value(&self, key: &Key) -> Result<Term, Why> {
        match key {
            Key::Let(file, name, _) if self.doubled.contains(&(*file, name.clone())) => {
                Err(Why::said(format!("{name} is given two values")))
            }
            Key::Let(file, name, bits) => {
                let s = bits.map(|[re, im]| Complex64::new(f64::from_bits(re), f64::from_bits(im)));
                match expr::evaluate(&self.lets[&(*file, name.clone())], &self.scope(*file, &"".into()), s) {
                    Ok(term) => Ok(term),
                    Err(Failure::Elsewhere(why)) => Err(why.once_told(name)),
                    Err(Failure::Here(f)) if f.id == "curve-for-value" => Err(Why::ruled(
                        "curve-for-value",
                        format!("{name} is a curve over frequency: one value is wanted here"),
                    )),
                    Err(failure) => Err(Why::said(&*clause(name, failure))),
                }
            }
            Key::Part(name) => {
                let raw = &self.parts[name];
                let lacks = || Why::said(format!("{name} has no value"));
                let (expr, series) = raw.expression.as_ref().ok_or_else(lacks)?;
                let want = match raw.class {
                    Class::Capacitor => Want::CapacitorValue,
                    Class::Inductor => Want::InductorValue,
                    _ => Want::ResistorValue,
                };
                match expr::wanted(expr, &self.scope(raw.file, &raw.prefix), want) {
                    Ok((x, _)) => term(raw.class, rounded(x, *series))
                        .filter(|_| in_reach(x) && (x > 0.0 || (x == 0.0 && raw.class == Class::Resistor)))
                        .map(PartTerm::term)
                        .ok_or_else(|| Why::said(format!("{name} comes to a value that no part has"))),
                    Err(Failure::Elsewhere(why)) => Err(why.once_told(&format!("{name}'s value"))),
                    Err(Failure::Here(_)) => Err(Why::said(format!("{name}'s value cannot be worked out"))),
                    Err(Failure::Unreadable) => Err(Why::said(format!("{name}'s value cannot be read"))),
                }
            }
        }
    }
}

impl Worth for Env {
    type Key = Key;

    fn needs(&self, key: &Key) -> Vec<Key> {
        let (file, prefix, bits, expr) = match key {
            Key::Let(file, name, bits) => (*file, Name::from(""), *bits, self.lets.get(&(*file, name.clone()))),
            Key::Part(name) => {
                let Some(raw) = self.parts.get(name) else { return Vec::new() };
                (raw.file, raw.prefix.clone(), None, raw.expression.as_ref().map(|e| &e.0))
            }
        };
        let mut found = Vec::new();
        let scope = self.scope(file, &prefix);
        if let Some(expr) = expr {
            expr::leaves(expr, &mut |leaf| match leaf {
                ExprKind::Name(n) if self.lets.contains_key(&(file, n.clone())) => {
                    found.push(Key::Let(file, n.clone(), bits));
                }
                ExprKind::Part(p) => {
                    let computed = |full: &Name| self.parts[full].expression.is_some();
                    found.extend(scope.full(&p.text).filter(computed).map(Key::Part));
                }
                _ => {}
            });
        }
        found
    }

    /// A value that is worked out already.
    fn known(&self, key: &Key) -> Option<Result<Term, Why>> {
        self.values.borrow().get(key).cloned()
    }

    fn name(&self, key: &Key) -> Name {
        let (Key::Let(_, name, _) | Key::Part(name)) = key;
        name.clone()
    }

    fn settle(&self, key: Key, circle: Option<&Circle>) {
        let found = match circle {
            Some(circle) => Err(Why::of_itself(&Worth::name(self, &key), circle)),
            None => self.value(&key),
        };
        self.values.borrow_mut().insert(key, found);
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
        Failure::Elsewhere(why) => why.once_told(name).clause.into(),
        Failure::Here(_) => format!("{name} cannot be worked out").into(),
        Failure::Unreadable => format!("{name} cannot be read").into(),
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
        let name: Name = name.into();
        self.env.lets.contains_key(&(self.file, name.clone())).then(|| {
            let bits = s.map(|s| [s.re.to_bits(), s.im.to_bits()]);
            worth::of(self.env, Key::Let(self.file, name, bits))
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
        // Each guess looks at every name: who misspells more than these gets the rest of them unguessed, and no wait.
        let asked = self.env.guesses.get();
        if asked >= notation::near::GUESSES {
            return Vec::new();
        }
        self.env.guesses.set(asked + 1);
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
