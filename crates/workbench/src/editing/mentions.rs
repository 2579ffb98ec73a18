//! The names that a block mentions: each with its place, with what may stand there, and with what is done to it there.
//!
//! This knows the trees alone. Which stage, node or part a mention means is found in [`super::family`].

use std::ops::Range;
use std::sync::Arc;

use notation::Name;
use notation::tree::{
    Against, Amount, AssumeClause, AssumeEntry, Attribute, BlockKind, Clause, DesignEntry, Device, Element, Entry,
    EntryTree, Expr, ExprKind, Heading, Limit, PartName, PartRef, PhraseSubject, Pin, Point, Ports, Position,
    QuantityPhrase, Span, State, Step, Subject, Thing, Tolerated, Word,
};
use notation::word::EXPRESSION_NAMES;

use crate::database::{BlockText, Desk, Read, block_reads};

/// A name where it stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mention {
    /// Bytes from the block's first.
    pub range: Range<usize>,
    /// As written.
    pub text: Name,
    /// What may stand there.
    pub what: What,
    /// What is done to it there.
    pub role: Role,
    /// Which of the block's entries it stands in; `None` for the heading.
    pub entry: Option<u32>,
}

/// What a place takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum What {
    /// A node or a pair.
    Node,
    /// A stage or a copy.
    Stage,
    /// A stage or a node: what is unfinished, and what `accept` is for.
    Any,
    /// A part.
    Part(PartAt),
    /// A `let` name.
    Let,
    /// A setting.
    Setting,
    /// A data sheet, as an amplifier's type.
    Sheet,
}

/// How a part is named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PartAt {
    /// By itself.
    Plain,
    /// With `all` in front: its copies too.
    All,
    /// Below `use`, where it gets another value.
    Replaced,
    /// In an expression, where a part of the same copy goes before one of the file.
    Value,
}

/// What is done to a name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Role {
    /// It is asked for, or something hangs on it.
    #[default]
    Read,
    /// Something drives or sets it.
    Driven,
    /// It is made here.
    Made,
    /// It is made here as a pair of nodes.
    Paired,
    /// It is an end of a pair that is declared here.
    Ends,
}

impl Role {
    /// Whether something drives it, sets it or makes it.
    pub fn writes(self) -> bool {
        !matches!(self, Role::Read | Role::Ends)
    }
}

/// All mentions of a block, in the order of their places. A key changes one block of a file.
#[salsa::tracked(returns(clone), no_eq)]
pub(crate) fn block_mentions<'db>(db: &'db dyn Desk, key: BlockText<'db>) -> Arc<Vec<Mention>> {
    let (reads, text) = (block_reads(db, key), key.text(db));
    let headed = usize::from(key.headed(db));
    let mut found = Vec::new();
    for (i, (&(start, end), read)) in key.chunks(db).iter().zip(reads.heading.iter().chain(&reads.entries)).enumerate()
    {
        let chunk = &text[start as usize..end as usize];
        let entry = i.checked_sub(headed).map(|e| e as u32);
        let before = found.len();
        let mut finder = Finder { text: chunk, start: start as usize, entry, found: &mut found };
        match &**read {
            Read::Heading(h) => finder.heading(&h.tree),
            Read::Entry(e, _) => finder.entry(e, key.kind(db)),
        }
        found[before..].sort_by_key(|m| m.range.start);
    }
    found.dedup_by(|a, b| a.range == b.range);
    Arc::new(found)
}

struct Finder<'f> {
    text: &'f str,
    start: usize,
    entry: Option<u32>,
    found: &'f mut Vec<Mention>,
}

impl Finder<'_> {
    /// Takes a name in, if it stands there as it is called: what the grammar repaired is nobody's name.
    fn put(&mut self, text: &Name, span: Span, what: What, role: Role) {
        if self.text.get(span.range()) == Some(&**text) && !text.is_empty() {
            let range = self.start + span.start as usize..self.start + span.end as usize;
            self.found.push(Mention { range, text: text.clone(), what, role, entry: self.entry });
        }
    }

    fn word(&mut self, word: Option<&Word>, what: What, role: Role) {
        if let Some(word) = word {
            self.put(&word.text, word.span, what, role);
        }
    }

    fn part(&mut self, part: &PartName, at: PartAt, role: Role) {
        // Letters without a number are a class, not a part.
        if notation::has_part_shape(&part.text) {
            self.put(&part.text, part.span, What::Part(at), role);
        }
    }

    fn part_ref(&mut self, part: &PartRef, role: Role) {
        self.part(&part.part, if part.all { PartAt::All } else { PartAt::Plain }, role);
    }

    fn heading(&mut self, heading: &Heading) {
        match heading {
            Heading::Stage { name, ports } => {
                self.word(name.as_ref(), What::Stage, Role::Made);
                self.ports(ports.as_ref());
            }
            Heading::Use { stage, name, ports } => {
                self.word(stage.as_ref(), What::Stage, Role::Read);
                self.word(name.as_ref(), What::Stage, Role::Made);
                self.ports(ports.as_ref());
            }
            Heading::Datasheet { name, .. } => self.word(name.as_ref(), What::Sheet, Role::Made),
            Heading::Assume { within } => self.amount(within.as_ref()),
            Heading::Design { .. } | Heading::Let | Heading::Include { .. } | Heading::Formula | Heading::Require => {}
        }
    }

    fn ports(&mut self, ports: Option<&Ports>) {
        let Some(ports) = ports else { return };
        ports.inputs.iter().for_each(|w| self.word(Some(w), What::Node, Role::Read));
        ports.outputs.iter().for_each(|w| self.word(Some(w), What::Node, Role::Driven));
    }

    fn entry(&mut self, entry: &Entry, kind: Option<BlockKind>) {
        let circuit = matches!(kind, None | Some(BlockKind::Stage));
        let stray = if circuit { What::Node } else { What::Any };
        match &entry.tree {
            EntryTree::Design(design) => self.design(design),
            EntryTree::Let(l) => {
                self.word(l.name.as_ref(), What::Let, Role::Made);
                self.expr(l.value.as_ref());
            }
            EntryTree::Path(path) => path.steps.iter().for_each(|step| match step {
                Step::Node(word) => self.word(Some(word), What::Node, Role::Read),
                Step::Parts(parts) => {
                    parts.iter().flatten().for_each(|e| self.element(e, PartAt::Plain, Role::Made));
                }
                Step::Missing(_) => {}
            }),
            EntryTree::Device(device) => self.device(device),
            EntryTree::Override(element) => self.element(element, PartAt::Replaced, Role::Driven),
            EntryTree::Datum(datum) => datum.data.iter().for_each(|d| {
                self.amount(d.amount.as_ref());
                self.amount(d.to.as_ref());
            }),
            EntryTree::Assume(assume) => self.assume(assume),
            EntryTree::Formula(formula) => {
                self.quantity(formula.quantity.as_ref());
                self.expr(formula.value.as_ref());
            }
            EntryTree::Require(require) => {
                self.quantity(require.quantity.as_ref());
                self.limit(require.limit.as_ref());
            }
            EntryTree::Unread { names, parts } => {
                names.iter().for_each(|w| self.word(Some(w), stray, Role::Read));
                parts.iter().for_each(|p| self.part(p, PartAt::Plain, Role::Read));
            }
        }
        // What the tree has a place for goes before what strays.
        entry.strays.names.iter().for_each(|w| self.word(Some(w), stray, Role::Read));
        entry.strays.parts.iter().for_each(|p| self.part(p, PartAt::Plain, Role::Read));
    }

    fn design(&mut self, entry: &DesignEntry) {
        match entry {
            DesignEntry::Band(a, b) => [a, b].into_iter().for_each(|a| self.amount(a.as_ref())),
            DesignEntry::Reference(a) | DesignEntry::Temperature(a) => self.amount(a.as_ref()),
            DesignEntry::Supply(rails) => rails.iter().for_each(|(rail, level)| {
                self.word(Some(rail), What::Node, Role::Driven);
                self.tolerated(level.as_ref());
            }),
            DesignEntry::Source { node, amount, .. } => {
                self.word(node.as_ref(), What::Node, Role::Driven);
                self.amount(amount.as_ref());
            }
            DesignEntry::Tolerance(list) => list.iter().for_each(|(_, a)| self.amount(a.as_ref())),
            DesignEntry::Matched(parts, share) => {
                parts.iter().for_each(|p| self.part_ref(p, Role::Read));
                self.amount(share.as_ref());
            }
            DesignEntry::Balanced { name, hot, cold } => {
                self.word(name.as_ref(), What::Node, Role::Paired);
                [hot, cold].into_iter().for_each(|w| self.word(w.as_ref(), What::Node, Role::Ends));
            }
            DesignEntry::Setting(name, states) => {
                self.word(name.as_ref(), What::Setting, Role::Made);
                states.iter().for_each(|s| self.state(s, Role::Driven));
            }
            DesignEntry::Trim(part, quantity, goal) => {
                part.iter().for_each(|p| self.part_ref(p, Role::Driven));
                self.quantity(quantity.as_ref());
                self.amount(goal.as_ref());
            }
            DesignEntry::Accept { what: Some(what), .. } => {
                let part = notation::has_part_shape(&what.text);
                self.word(Some(what), if part { What::Part(PartAt::Plain) } else { What::Any }, Role::Read);
            }
            DesignEntry::Accept { what: None, .. } => {}
            DesignEntry::Unknown(_) => {}
        }
    }

    fn device(&mut self, device: &Device) {
        self.element(&device.element, PartAt::Plain, Role::Made);
        for terminal in &device.terminals {
            let drives = matches!(&terminal.pin, Pin::Word(word) if &*word.text == "out");
            let role = if drives { Role::Driven } else { Role::Read };
            terminal.nodes.iter().for_each(|w| self.word(Some(w), What::Node, role));
        }
    }

    fn element(&mut self, element: &Element, at: PartAt, role: Role) {
        self.part(&element.part, at, role);
        if &*element.part.class != "U" {
            return self.amount(element.value.as_ref());
        }
        // An amplifier's type is its first word, or stands where others have their value: `5532`.
        match &element.value {
            Some(Amount::Figure(figure)) => {
                let text: Name = format!("{}{}", figure.text, figure.unit.as_deref().unwrap_or("")).into();
                self.put(&text, figure.span, What::Sheet, Role::Read);
            }
            Some(expression) => self.amount(Some(expression)),
            None => {
                let kind = element.attributes.iter().find_map(|a| match a {
                    Attribute::Word(w) if !matches!(&*w.text, "external" | "unfitted") => Some(w),
                    _ => None,
                });
                self.word(kind, What::Sheet, Role::Read);
            }
        }
    }

    fn state(&mut self, state: &State, role: Role) {
        match state {
            State::Setting(word) => self.word(Some(word), What::Setting, Role::Read),
            State::Control(part, position) => {
                self.part_ref(part, role);
                if let Some(Position::Amount(amount)) = position {
                    self.amount(Some(amount));
                }
            }
        }
    }

    fn assume(&mut self, assume: &AssumeEntry) {
        for subject in &assume.subjects {
            match subject {
                Subject::Part(part) => self.part_ref(part, Role::Read),
                Subject::Stage(word) => self.word(word.as_ref(), What::Stage, Role::Read),
            }
        }
        for clause in &assume.clauses {
            match clause {
                AssumeClause::Above(a) | AssumeClause::Below(a) | AssumeClause::Within(a) => self.amount(a.as_ref()),
                AssumeClause::Over(a, b) => [a, b].into_iter().for_each(|a| self.amount(a.as_ref())),
                AssumeClause::On(quantity) => self.quantity(quantity.as_ref()),
            }
        }
    }

    fn quantity(&mut self, quantity: Option<&QuantityPhrase>) {
        let Some(quantity) = quantity else { return };
        let takes = match quantity.phrase {
            Some("input impedance" | "output impedance" | "natural frequency" | "q") => What::Stage,
            Some(_) => What::Node,
            None => What::Any,
        };
        match &quantity.subject {
            PhraseSubject::Of(things) => things.iter().for_each(|thing| match thing {
                Thing::Name(word) => self.word(Some(word), takes, Role::Read),
                Thing::Part(part) => self.part_ref(part, Role::Read),
            }),
            PhraseSubject::FromTo(a, b) => [a, b].into_iter().for_each(|p| self.point(p.as_ref())),
        }
        for clause in &quantity.clauses {
            match clause {
                Clause::At(a) => self.amount(a.as_ref()),
                Clause::Over(a, b) => [a, b].into_iter().for_each(|a| self.amount(a.as_ref())),
                Clause::When(states) => states.iter().for_each(|s| self.state(s, Role::Read)),
                Clause::From(word) => self.word(word.as_ref(), What::Node, Role::Read),
                Clause::Against(Some(Against::Amount(a))) => self.amount(Some(a)),
                Clause::Against(Some(Against::Name(word))) => self.word(Some(word), What::Let, Role::Read),
                Clause::Against(None) | Clause::Weighted(_) => {}
            }
        }
    }

    fn point(&mut self, point: Option<&Point>) {
        for (_, word) in point.iter().flat_map(|p| &p.terms) {
            self.word(Some(word), What::Node, Role::Read);
        }
    }

    fn limit(&mut self, limit: Option<&Limit>) {
        match limit {
            Some(Limit::Below(a) | Limit::Above(a)) => self.amount(a.as_ref()),
            Some(Limit::Equal(tolerated)) => self.tolerated(tolerated.as_ref()),
            Some(Limit::Between(a, b)) => [a, b].into_iter().for_each(|a| self.amount(a.as_ref())),
            None => {}
        }
    }

    fn tolerated(&mut self, tolerated: Option<&Tolerated>) {
        if let Some(tolerated) = tolerated {
            self.amount(Some(&tolerated.amount));
            self.amount(tolerated.tolerance.as_ref());
        }
    }

    fn amount(&mut self, amount: Option<&Amount>) {
        if let Some(Amount::Expression(expr)) = amount {
            self.expr(Some(expr));
        }
    }

    /// The names of an expression. A list of what waits will do: what is found in an entry is put in order afterwards.
    fn expr(&mut self, expr: Option<&Expr>) {
        let mut waiting: Vec<&Expr> = expr.into_iter().collect();
        while let Some(expr) = waiting.pop() {
            match &expr.kind {
                ExprKind::Name(name) if !EXPRESSION_NAMES.contains(&&**name) => {
                    // A name in parentheses by itself has their place.
                    let said = self.text.get(expr.span.range()).unwrap_or_default();
                    let inside = said.trim_start_matches(|c: char| c == '(' || c.is_whitespace());
                    let start = expr.span.start as usize + said.len() - inside.len();
                    self.put(name, Span::new(start, start + name.len()), What::Let, Role::Read);
                }
                ExprKind::Part(part) => self.part(part, PartAt::Value, Role::Read),
                ExprKind::Negate(e) | ExprKind::Spoiled(e) | ExprKind::Call(_, e) => waiting.push(e),
                ExprKind::Binary(_, a, b) => waiting.extend([&**a, &**b]),
                ExprKind::List(list) => waiting.extend(list),
                ExprKind::Name(_) | ExprKind::Figure(_) | ExprKind::Missing => {}
            }
        }
    }
}
