//! The names that an entry holds, wherever they stand in its tree.

use crate::grammar::expr::parts_in;
use crate::tree::{
    Against, Amount, AssumeClause, Clause, DesignEntry, Element, Entry, EntryTree, Expr, ExprKind, PartName,
    PhraseSubject, Point, Position, QuantityPhrase, State, Step, Subject, Thing, Word,
};

/// Names of an entry, in no particular order; a name that stands twice is given twice.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Names<'e> {
    /// Names of nodes, pairs, stages, settings, sources, rails and `let` values.
    pub names: Vec<&'e Word>,
    /// Names of parts.
    pub parts: Vec<&'e PartName>,
    /// Names in expressions, which have no places of their own there but the expression's.
    pub values: Vec<&'e str>,
}

/// All names of an entry, its strays included.
///
/// ```
/// use notation::{names_of, read_entry};
/// use notation::tree::BlockKind;
///
/// let entry = read_entry(BlockKind::Stage, "fb -- R3 1k -- C2 22u");
/// let names = names_of(&entry);
/// assert_eq!(names.names.iter().map(|w| &*w.text).collect::<Vec<_>>(), ["fb"]);
/// assert_eq!(names.parts.iter().map(|p| &*p.text).collect::<Vec<_>>(), ["R3", "C2"]);
/// ```
pub fn names_of(entry: &Entry) -> Names<'_> {
    let mut n = Names::default();
    n.names.extend(&entry.strays.names);
    n.parts.extend(&entry.strays.parts);
    match &entry.tree {
        EntryTree::Design(d) => n.design(d),
        EntryTree::Let(l) => {
            n.names.extend(&l.name);
            n.expr(l.value.as_ref());
        }
        EntryTree::Path(p) => p.steps.iter().for_each(|s| n.step(s)),
        EntryTree::Device(d) => {
            n.element(&d.element);
            d.terminals.iter().for_each(|t| n.names.extend(&t.nodes));
        }
        EntryTree::Override(e) => n.element(e),
        EntryTree::Datum(d) => d.data.iter().for_each(|d| {
            n.amount(d.amount.as_ref());
            n.amount(d.to.as_ref());
        }),
        EntryTree::Assume(a) => {
            for subject in &a.subjects {
                match subject {
                    Subject::Part(p) => n.parts.push(&p.part),
                    Subject::Stage(w) => n.names.extend(w),
                }
            }
            a.clauses.iter().for_each(|c| n.assume_clause(c));
        }
        EntryTree::Formula(f) => {
            n.quantity(f.quantity.as_ref());
            n.expr(f.value.as_ref());
        }
        EntryTree::Require(r) => n.quantity(r.quantity.as_ref()),
        EntryTree::Unread { names, parts } => {
            n.names.extend(names);
            n.parts.extend(parts);
        }
    }
    n
}

/// The names of the nodes that an entry of a stage touches, in the order written.
pub fn nodes_of(entry: &Entry) -> Vec<&Word> {
    match &entry.tree {
        EntryTree::Path(p) => p
            .steps
            .iter()
            .filter_map(|s| match s {
                Step::Node(w) => Some(w),
                _ => None,
            })
            .collect(),
        EntryTree::Device(d) => d.terminals.iter().flat_map(|t| &t.nodes).collect(),
        EntryTree::Unread { names, .. } => names.iter().collect(),
        _ => Vec::new(),
    }
}

impl<'e> Names<'e> {
    fn design(&mut self, entry: &'e DesignEntry) {
        match entry {
            DesignEntry::Band(a, b) => {
                self.amount(a.as_ref());
                self.amount(b.as_ref());
            }
            DesignEntry::Reference(a) | DesignEntry::Temperature(a) => self.amount(a.as_ref()),
            DesignEntry::Supply(rails) => rails.iter().for_each(|(w, t)| {
                self.names.push(w);
                self.amount(t.as_ref().map(|t| &t.amount));
                self.amount(t.as_ref().and_then(|t| t.tolerance.as_ref()));
            }),
            DesignEntry::Source { node, amount, .. } => {
                self.names.extend(node);
                self.amount(amount.as_ref());
            }
            DesignEntry::Tolerance(list) => list.iter().for_each(|(_, a)| self.amount(a.as_ref())),
            DesignEntry::Matched(parts, a) => {
                self.parts.extend(parts.iter().map(|p| &p.part));
                self.amount(a.as_ref());
            }
            DesignEntry::Balanced { name, hot, cold } => {
                self.names.extend([name, hot, cold].into_iter().flatten());
            }
            DesignEntry::Setting(name, states) => {
                self.names.extend(name);
                states.iter().for_each(|s| self.state(s));
            }
            DesignEntry::Trim(part, quantity, goal) => {
                self.parts.extend(part.iter().map(|p| &p.part));
                self.quantity(quantity.as_ref());
                self.amount(goal.as_ref());
            }
            DesignEntry::Accept { rule, what, .. } => {
                self.names.extend(rule);
                self.names.extend(what);
            }
            DesignEntry::Unknown(word) => self.names.push(word),
        }
    }

    fn step(&mut self, step: &'e Step) {
        match step {
            Step::Node(w) => self.names.push(w),
            Step::Parts(parts) => parts.iter().flatten().for_each(|e| self.element(e)),
            Step::Missing(_) => {}
        }
    }

    fn element(&mut self, element: &'e Element) {
        self.parts.push(&element.part);
        self.amount(element.value.as_ref());
    }

    fn state(&mut self, state: &'e State) {
        match state {
            State::Setting(w) => self.names.push(w),
            State::Control(part, position) => {
                self.parts.push(&part.part);
                if let Some(Position::Amount(a)) = position {
                    self.amount(Some(a));
                }
            }
        }
    }

    fn assume_clause(&mut self, clause: &'e AssumeClause) {
        match clause {
            AssumeClause::Above(a) | AssumeClause::Below(a) | AssumeClause::Within(a) => self.amount(a.as_ref()),
            AssumeClause::Over(a, b) => {
                self.amount(a.as_ref());
                self.amount(b.as_ref());
            }
            AssumeClause::On(q) => self.quantity(q.as_ref()),
        }
    }

    fn quantity(&mut self, quantity: Option<&'e QuantityPhrase>) {
        let Some(q) = quantity else { return };
        match &q.subject {
            PhraseSubject::Of(things) => {
                for thing in things {
                    match thing {
                        Thing::Name(w) => self.names.push(w),
                        Thing::Part(p) => self.parts.push(&p.part),
                    }
                }
            }
            PhraseSubject::FromTo(a, b) => {
                let terms = |p: &'e Option<Point>| p.iter().flat_map(|p| p.terms.iter().map(|(_, w)| w));
                self.names.extend(terms(a));
                self.names.extend(terms(b));
            }
        }
        for clause in &q.clauses {
            match clause {
                Clause::At(a) => self.amount(a.as_ref()),
                Clause::Over(a, b) => {
                    self.amount(a.as_ref());
                    self.amount(b.as_ref());
                }
                Clause::When(states) => states.iter().for_each(|s| self.state(s)),
                Clause::From(w) => self.names.extend(w),
                Clause::Against(Some(Against::Amount(a))) => self.amount(Some(a)),
                Clause::Against(Some(Against::Name(w))) => self.names.push(w),
                Clause::Against(None) | Clause::Weighted(_) => {}
            }
        }
    }

    fn amount(&mut self, amount: Option<&'e Amount>) {
        if let Some(Amount::Expression(e)) = amount {
            self.expr(Some(e));
        }
    }

    fn expr(&mut self, expr: Option<&'e Expr>) {
        let Some(expr) = expr else { return };
        parts_in(expr, &mut self.parts);
        self.values_in(expr);
    }

    fn values_in(&mut self, expr: &'e Expr) {
        match &expr.kind {
            ExprKind::Name(n) => self.values.push(n),
            ExprKind::Negate(e) | ExprKind::Spoiled(e) => self.values_in(e),
            ExprKind::Call(word, e) => {
                self.values.push(&word.text);
                self.values_in(e);
            }
            ExprKind::Binary(_, a, b) => {
                self.values_in(a);
                self.values_in(b);
            }
            ExprKind::List(list) => list.iter().for_each(|e| self.values_in(e)),
            ExprKind::Figure(_) | ExprKind::Part(_) | ExprKind::Missing => {}
        }
    }
}
