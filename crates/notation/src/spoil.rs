//! Amounts with an error in them.
//!
//! The grammar repairs what it reads, so that an entry's tree stands and keeps all its names. What a repair makes of a figure or
//! an expression is a guess (a product where an operator is missing, a `)` at the end), and nothing may be worked out from
//! a guess: such an amount becomes [`ExprKind::Spoiled`], which keeps its names and has no value.

use crate::tree::{
    Against, Amount, AssumeClause, Attribute, Clause, DesignEntry, Element, EntryTree, Expr, ExprKind, Figure, Limit,
    Position, QuantityPhrase, Span, State, Step, Tolerated,
};

/// Rules about something that stands right behind an amount, blanks aside, and belongs to nothing else.
const BEHIND: &[&str] =
    &["leftover", "parenthesis-missing", "parenthesis-extra", "foreign-letters", "expression-too-long"];
/// Rules about something right in front of one.
const BEFORE: &[&str] = &["value-signed"];

/// What is wrong with an entry: the rules, and where.
pub(crate) type Troubles = [(&'static str, Span)];

/// Takes the value from every amount of an entry that has an error in it.
pub(crate) fn spoil(tree: &mut EntryTree, text: &str, troubles: &Troubles) {
    let spoiler = Spoiler::new(text, troubles);
    match tree {
        EntryTree::Design(entry) => spoiler.design(entry),
        EntryTree::Let(l) => {
            // What stands between the name and the `=` may belong to the name, and then this one has no value.
            let named = l.name.as_ref().map_or(0, |n| n.span.end);
            if let Some(e) = &mut l.value
                && troubles.iter().any(|(id, t)| *id == "leftover" && (named..e.span.start).contains(&t.start))
            {
                spoiler.take(e);
            }
            spoiler.expr(&mut l.value);
        }
        EntryTree::Path(path) => {
            for step in &mut path.steps {
                if let Step::Parts(parts) = step {
                    parts.iter_mut().flatten().for_each(|e| spoiler.element(e));
                }
            }
        }
        EntryTree::Device(device) => spoiler.element(&mut device.element),
        EntryTree::Override(element) => spoiler.element(element),
        EntryTree::Datum(datum) => {
            for d in &mut datum.data {
                spoiler.amount(&mut d.amount);
                spoiler.amount(&mut d.to);
            }
        }
        EntryTree::Assume(assume) => {
            for clause in &mut assume.clauses {
                match clause {
                    AssumeClause::Above(a) | AssumeClause::Below(a) | AssumeClause::Within(a) => spoiler.amount(a),
                    AssumeClause::Over(a, b) => {
                        spoiler.amount(a);
                        spoiler.amount(b);
                    }
                    AssumeClause::On(quantity) => quantity.iter_mut().for_each(|q| spoiler.phrase(q)),
                }
            }
        }
        EntryTree::Formula(formula) => {
            formula.quantity.iter_mut().for_each(|q| spoiler.phrase(q));
            spoiler.expr(&mut formula.value);
        }
        EntryTree::Require(require) => {
            require.quantity.iter_mut().for_each(|q| spoiler.phrase(q));
            match &mut require.limit {
                Some(Limit::Below(a) | Limit::Above(a)) => spoiler.amount(a),
                Some(Limit::Equal(Some(t))) => spoiler.tolerated(t),
                Some(Limit::Between(a, b)) => {
                    spoiler.amount(a);
                    spoiler.amount(b);
                }
                Some(Limit::Equal(None)) | None => {}
            }
        }
        EntryTree::Unread { .. } => {}
    }
}

/// The same for a quantity by itself.
pub(crate) fn spoil_phrase(phrase: &mut QuantityPhrase, text: &str, troubles: &Troubles) {
    Spoiler::new(text, troubles).phrase(phrase);
}

/// The places of what is wrong, each list in order: an entry may have thousands of amounts and as many errors.
struct Spoiler<'t> {
    text: &'t str,
    /// Where they begin.
    starts: Vec<u32>,
    /// Where those begin that make what stands in front of them doubtful.
    behind: Vec<u32>,
    /// Where those end that make what stands behind them doubtful.
    before: Vec<u32>,
}

impl<'t> Spoiler<'t> {
    fn new(text: &'t str, troubles: &Troubles) -> Self {
        let sorted = |places: &mut dyn Iterator<Item = u32>| {
            let mut all: Vec<u32> = places.collect();
            all.sort_unstable();
            all
        };
        let under = |rules: &'static [&str]| troubles.iter().filter(move |(id, _)| rules.contains(id));
        Spoiler {
            text,
            starts: sorted(&mut troubles.iter().map(|(_, t)| t.start)),
            behind: sorted(&mut under(BEHIND).map(|(_, t)| t.start)),
            before: sorted(&mut under(BEFORE).map(|(_, t)| t.end)),
        }
    }

    /// Whether an error stands in the amount at this place, or makes it doubtful from outside.
    fn touched(&self, span: Span) -> bool {
        let any = |places: &[u32], from: u32, to: u32| {
            places.get(places.partition_point(|p| *p < from)).is_some_and(|p| *p <= to)
        };
        let (start, end) = (span.start as usize, span.end as usize);
        // Only blanks may stand between.
        let next = || self.text.get(end..).map_or(span.end, |t| (self.text.len() - t.trim_start().len()) as u32);
        let last = || self.text.get(..start).map_or(span.start, |t| t.trim_end().len() as u32);
        (span.end > span.start && any(&self.starts, span.start, span.end - 1))
            || (!self.behind.is_empty() && any(&self.behind, span.end, next()))
            || (!self.before.is_empty() && any(&self.before, last(), span.start))
    }

    fn design(&self, entry: &mut DesignEntry) {
        match entry {
            DesignEntry::Band(a, b) => {
                self.amount(a);
                self.amount(b);
            }
            DesignEntry::Reference(a)
            | DesignEntry::Temperature(a)
            | DesignEntry::Source { amount: a, .. }
            | DesignEntry::Matched(_, a) => self.amount(a),
            DesignEntry::Supply(rails) => rails.iter_mut().filter_map(|r| r.1.as_mut()).for_each(|t| self.tolerated(t)),
            DesignEntry::Tolerance(all) => all.iter_mut().for_each(|(_, a)| self.amount(a)),
            DesignEntry::Setting(_, states) => states.iter_mut().for_each(|s| self.state(s)),
            DesignEntry::Trim(_, quantity, goal) => {
                quantity.iter_mut().for_each(|q| self.phrase(q));
                self.amount(goal);
            }
            DesignEntry::Balanced { .. } | DesignEntry::Accept { .. } | DesignEntry::Unknown(_) => {}
        }
    }

    fn element(&self, element: &mut Element) {
        // Behind an amplifier's name a figure is a type, and behind a switch's there is none to have.
        if !matches!(&*element.part.class, "U" | "SW") {
            self.amount(&mut element.value);
        }
        for attribute in &mut element.attributes {
            match attribute {
                Attribute::At(_, at) if at.as_ref().is_some_and(|f| self.touched(f.span)) => *at = None,
                Attribute::Figure { figure, .. } if self.touched(figure.span) => {
                    *attribute = Attribute::Junk(figure.span);
                }
                _ => {}
            }
        }
    }

    fn phrase(&self, phrase: &mut QuantityPhrase) {
        for clause in &mut phrase.clauses {
            match clause {
                Clause::At(a) => self.amount(a),
                Clause::Over(a, b) => {
                    self.amount(a);
                    self.amount(b);
                }
                Clause::When(states) => states.iter_mut().for_each(|s| self.state(s)),
                Clause::Against(Some(Against::Amount(a))) => self.one(a),
                Clause::Against(_) | Clause::From(_) | Clause::Weighted(_) => {}
            }
        }
    }

    fn state(&self, state: &mut State) {
        if let State::Control(_, Some(Position::Amount(a))) = state {
            self.one(a);
        }
    }

    fn tolerated(&self, t: &mut Tolerated) {
        self.one(&mut t.amount);
        self.amount(&mut t.tolerance);
    }

    fn amount(&self, amount: &mut Option<Amount>) {
        amount.iter_mut().for_each(|a| self.one(a));
    }

    fn one(&self, amount: &mut Amount) {
        let span = amount.span();
        if !self.touched(span) {
            return;
        }
        let inner = match amount {
            Amount::Figure(f) => Expr { kind: ExprKind::Figure(Figure::clone(f)), span },
            Amount::Expression(e) => std::mem::replace(e, Expr { kind: ExprKind::Missing, span }),
        };
        *amount = Amount::Expression(Expr { kind: ExprKind::Spoiled(Box::new(inner)), span });
    }

    fn expr(&self, expr: &mut Option<Expr>) {
        if let Some(e) = expr
            && self.touched(e.span)
        {
            self.take(e);
        }
    }

    /// Takes an expression's value.
    fn take(&self, e: &mut Expr) {
        let span = e.span;
        let inner = std::mem::replace(e, Expr { kind: ExprKind::Missing, span });
        *e = Expr { kind: ExprKind::Spoiled(Box::new(inner)), span };
    }
}
