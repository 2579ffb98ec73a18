//! What encloses a place, from the word outwards: the figure with its unit, the part with its value, the entry, the block, the file.

use std::ops::Range;

use notation::token::{Token, TokenKind, tokens};
use notation::tree::{
    Against, Amount, AssumeClause, Attribute, Clause, DesignEntry, Element, Entry, EntryTree, Expr, ExprKind, Figure,
    Heading, Limit, PhraseSubject, Point, Position, QuantityPhrase, Span, State, Step, Subject, Thing, Tolerated, Word,
};

use super::fold::comments;
use crate::database::{Desk, Document, Read, layout, reads};

/// The places that hold a byte (which may stand behind the last one's end), each inside the next, the file last.
pub(crate) fn around(db: &dyn Desk, document: Document, offset: usize) -> Vec<Range<usize>> {
    let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
    let offset = (0..=offset.min(text.len())).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
    let mut found: Vec<Range<usize>> = std::iter::once(0..text.len()).collect();
    let mut word = None;
    for (block, read) in layout.blocks.iter().zip(reads.iter()) {
        let chunks = || block.heading.iter().chain(&block.entries);
        let (Some(first), Some(last)) = (chunks().next(), chunks().last()) else { continue };
        let end = chunks().map(|c| line_end(text, c.range.end)).max().unwrap_or(last.range.end);
        found.push(first.range.start..end);
        found.extend(first.description.as_ref().map(|d| d.start..end));
        for (chunk, read) in chunks().zip(read.heading.iter().chain(&read.entries)) {
            // Its comments belong to an entry: those above it, and the one behind it.
            let end = line_end(text, chunk.range.end);
            let start = chunk.description.as_ref().map_or(chunk.range.start, |d| d.start);
            if !(start..=end).contains(&offset) {
                continue;
            }
            found.extend([start..end, chunk.range.start..end, chunk.range.clone()]);
            let shift = |span: Span| chunk.range.start + span.start as usize..chunk.range.start + span.end as usize;
            let mut spans = Spans::default();
            match &**read {
                Read::Heading(h) => spans.heading(&h.tree),
                Read::Entry(entry, _) => spans.entry(entry),
            }
            found.extend(spans.0.into_iter().map(shift));
            if chunk.range.start <= offset {
                word = word_at(text, chunk.range.start..end, offset, &mut found).or(word);
            }
        }
    }
    for run in comments(text) {
        if run.contains(&offset) || run.end == offset {
            let start = crate::line::line_start(text, offset);
            let line = start + text[start..].find('#').unwrap_or(0)..line_end(text, offset);
            found.extend([line, run]);
        }
    }
    nested(found, word, offset)
}

/// Those that hold the byte and the word there, each inside the next: what would cross is left out.
fn nested(mut all: Vec<Range<usize>>, word: Option<Range<usize>>, offset: usize) -> Vec<Range<usize>> {
    let holds = |r: &Range<usize>| match &word {
        Some(word) => r.start <= word.start && word.end <= r.end,
        None => r.start <= offset && offset <= r.end,
    };
    let file = all[0].clone();
    all.retain(|r| r.start < r.end && holds(r));
    all.push(file);
    all.sort_by_key(|r| (r.len(), std::cmp::Reverse(r.start)));
    let mut found: Vec<Range<usize>> = Vec::new();
    for range in all {
        match found.last() {
            Some(last) if *last == range || range.start > last.start || range.end < last.end => {}
            _ => found.push(range),
        }
    }
    found
}

/// The end of a byte's line, without blanks and what ends it.
fn line_end(text: &str, at: usize) -> usize {
    let end = text[at..].find('\n').map_or(text.len(), |n| at + n);
    at + text[at..end].trim_end().len()
}

/// The word at a byte, which is also added with what it is a member of. Of two that meet there the one behind the byte counts, unless it is
/// a mark.
fn word_at(text: &str, lines: Range<usize>, offset: usize, found: &mut Vec<Range<usize>>) -> Option<Range<usize>> {
    let start = lines.start;
    let at = |t: &Token| start + t.span.start as usize..start + t.span.end as usize;
    let tokens = tokens(&text[lines]);
    let touching = tokens.iter().filter(|t| at(t).start <= offset && offset <= at(t).end);
    let rank = |t: &&Token| {
        let behind = offset < at(t).end;
        match t.kind {
            TokenKind::Blank | TokenKind::LineEnd | TokenKind::LoneReturn => None,
            TokenKind::Name | TokenKind::Part | TokenKind::Figure | TokenKind::Unit | TokenKind::Percent => {
                Some((0, !behind))
            }
            TokenKind::Series | TokenKind::Weighted | TokenKind::Text | TokenKind::Comment => Some((0, !behind)),
            _ => Some((1, !behind)),
        }
    };
    let token = touching.filter(|t| rank(t).is_some()).min_by_key(|t| rank(t))?;
    let range = at(token);
    found.push(range.clone());
    if matches!(token.kind, TokenKind::Name | TokenKind::Part) {
        let mut at = range.start;
        let members = text[range.clone()].split('.').map(|member| {
            let own = at..at + member.len();
            at = own.end + 1;
            own
        });
        let all: Vec<Range<usize>> = members.collect();
        let member = all.into_iter().rfind(|m| m.start <= offset && offset <= m.end && m.start < m.end)?;
        found.push(member.clone());
        return Some(member);
    }
    let inside = super::links::unquoted(text, range.clone());
    if token.kind == TokenKind::Text && inside.start <= offset && offset <= inside.end {
        found.push(inside.clone());
        return Some(inside).filter(|i| i.start < i.end);
    }
    Some(range)
}

/// The places of a tree's pieces.
#[derive(Default)]
struct Spans(Vec<Span>);

impl Spans {
    fn put(&mut self, span: Span) {
        self.0.push(span);
    }

    /// From the first of some places to the last.
    fn all(&mut self, spans: impl Iterator<Item = Span>) {
        self.0.extend(spans.reduce(Span::to));
    }

    fn heading(&mut self, heading: &Heading) {
        match heading {
            Heading::Stage { ports: Some(ports), .. } | Heading::Use { ports: Some(ports), .. } => {
                let side = |words: &[Word]| words.iter().map(|w| w.span).collect::<Vec<_>>();
                self.all(side(&ports.inputs).into_iter());
                self.all(side(&ports.outputs).into_iter());
                self.all(ports.inputs.iter().chain(&ports.outputs).map(|w| w.span));
            }
            Heading::Assume { within } => self.amount(within.as_ref()),
            _ => {}
        }
    }

    fn entry(&mut self, entry: &Entry) {
        match &entry.tree {
            EntryTree::Design(design) => self.design(design),
            EntryTree::Let(l) => self.expr(l.value.as_ref()),
            EntryTree::Path(path) => path.steps.iter().for_each(|step| {
                if let Step::Parts(parts) = step {
                    parts.iter().flatten().for_each(|e| self.element(e));
                    self.all(parts.iter().flatten().map(|e| e.span));
                }
            }),
            EntryTree::Device(device) => {
                self.element(&device.element);
                device.terminals.iter().for_each(|t| self.put(t.span));
                self.all(device.terminals.iter().map(|t| t.span));
            }
            EntryTree::Override(element) => self.element(element),
            EntryTree::Datum(datum) => {
                self.all(datum.words.iter().map(|w| w.span));
                for datum in &datum.data {
                    self.amount(datum.amount.as_ref());
                    self.amount(datum.to.as_ref());
                    let amounts = datum.amount.iter().chain(&datum.to).map(Amount::span);
                    self.all(datum.tag.iter().map(|t| t.span).chain(amounts));
                }
            }
            EntryTree::Assume(assume) => {
                let subject = |s: &Subject| match s {
                    Subject::Part(part) => Some(part.part.span),
                    Subject::Stage(word) => word.as_ref().map(|w| w.span),
                };
                self.all(assume.subjects.iter().filter_map(subject));
                for clause in &assume.clauses {
                    match clause {
                        AssumeClause::Above(a) | AssumeClause::Below(a) | AssumeClause::Within(a) => {
                            self.amount(a.as_ref());
                        }
                        AssumeClause::Over(a, b) => self.band(a.as_ref(), b.as_ref()),
                        AssumeClause::On(quantity) => self.quantity(quantity.as_ref()),
                    }
                }
            }
            EntryTree::Formula(formula) => {
                self.quantity(formula.quantity.as_ref());
                self.expr(formula.value.as_ref());
            }
            EntryTree::Require(require) => {
                self.quantity(require.quantity.as_ref());
                match &require.limit {
                    Some(Limit::Below(a) | Limit::Above(a)) => self.amount(a.as_ref()),
                    Some(Limit::Equal(tolerated)) => self.tolerated(tolerated.as_ref()),
                    Some(Limit::Between(a, b)) => self.band(a.as_ref(), b.as_ref()),
                    None => {}
                }
            }
            EntryTree::Unread { .. } => {}
        }
    }

    fn design(&mut self, entry: &DesignEntry) {
        match entry {
            DesignEntry::Band(a, b) => self.band(a.as_ref(), b.as_ref()),
            DesignEntry::Reference(a) | DesignEntry::Temperature(a) => self.amount(a.as_ref()),
            DesignEntry::Supply(rails) => rails.iter().for_each(|(rail, level)| {
                self.tolerated(level.as_ref());
                let level = level.iter().flat_map(|t| std::iter::once(&t.amount).chain(&t.tolerance));
                self.all(std::iter::once(rail.span).chain(level.map(Amount::span)));
            }),
            DesignEntry::Source { amount, peak, .. } => {
                self.amount(amount.as_ref());
                self.all(amount.iter().map(Amount::span).chain(peak.iter().map(|p| p.span)));
            }
            DesignEntry::Tolerance(list) => list.iter().for_each(|(class, share)| {
                self.amount(share.as_ref());
                self.all(std::iter::once(class.span).chain(share.iter().map(Amount::span)));
            }),
            DesignEntry::Matched(parts, share) => {
                self.all(parts.iter().map(|p| p.part.span));
                self.amount(share.as_ref());
            }
            DesignEntry::Balanced { hot, cold, .. } => self.all(hot.iter().chain(cold).map(|w| w.span)),
            DesignEntry::Setting(_, states) => self.states(states),
            DesignEntry::Trim(_, quantity, goal) => {
                self.quantity(quantity.as_ref());
                self.amount(goal.as_ref());
            }
            DesignEntry::Accept { rule, .. } => self.all(rule.iter().map(|w| w.span)),
            DesignEntry::Unknown(_) => {}
        }
    }

    fn element(&mut self, element: &Element) {
        self.amount(element.value.as_ref());
        let value = element.value.iter().map(Amount::span);
        self.all(std::iter::once(element.part.span).chain(value));
        for attribute in &element.attributes {
            match attribute {
                Attribute::Figure { figure, .. } => self.figure(figure),
                Attribute::At(span, figure) => {
                    self.all(std::iter::once(*span).chain(figure.iter().map(|f| f.span)));
                    figure.iter().for_each(|f| self.figure(f));
                }
                _ => {}
            }
        }
        self.put(element.span);
    }

    fn states(&mut self, states: &[State]) {
        let mut whole = Vec::new();
        for state in states {
            let span = match state {
                State::Setting(word) => word.span,
                State::Control(part, position) => {
                    let place = match position {
                        Some(Position::Amount(amount)) => {
                            self.amount(Some(amount));
                            Some(amount.span())
                        }
                        Some(Position::Word(word)) => Some(word.span),
                        None => None,
                    };
                    place.map_or(part.part.span, |p| part.part.span.to(p))
                }
            };
            self.put(span);
            whole.push(span);
        }
        self.all(whole.into_iter());
    }

    fn quantity(&mut self, quantity: Option<&QuantityPhrase>) {
        let Some(quantity) = quantity else { return };
        self.put(quantity.span);
        self.put(quantity.phrase_span);
        match &quantity.subject {
            PhraseSubject::Of(things) => self.all(things.iter().map(|thing| match thing {
                Thing::Name(word) => word.span,
                Thing::Part(part) => part.part.span,
            })),
            PhraseSubject::FromTo(a, b) => {
                let spans = |p: &Option<Point>| p.iter().flat_map(|p| &p.terms).map(|t| t.1.span).collect::<Vec<_>>();
                let (a, b) = (spans(a), spans(b));
                self.all(a.clone().into_iter());
                self.all(b.clone().into_iter());
                self.all(a.into_iter().chain(b));
            }
        }
        for clause in &quantity.clauses {
            match clause {
                Clause::At(a) => self.amount(a.as_ref()),
                Clause::Over(a, b) => self.band(a.as_ref(), b.as_ref()),
                Clause::When(states) => self.states(states),
                Clause::Against(Some(Against::Amount(a))) => self.amount(Some(a)),
                Clause::Against(_) | Clause::From(_) | Clause::Weighted(_) => {}
            }
        }
    }

    fn band(&mut self, low: Option<&Amount>, high: Option<&Amount>) {
        self.amount(low);
        self.amount(high);
        self.all(low.into_iter().chain(high).map(Amount::span));
    }

    fn tolerated(&mut self, tolerated: Option<&Tolerated>) {
        if let Some(tolerated) = tolerated {
            self.band(Some(&tolerated.amount), tolerated.tolerance.as_ref());
        }
    }

    fn amount(&mut self, amount: Option<&Amount>) {
        match amount {
            Some(Amount::Figure(figure)) => self.figure(figure),
            Some(Amount::Expression(expr)) => self.expr(Some(expr)),
            None => {}
        }
    }

    fn figure(&mut self, figure: &Figure) {
        self.put(figure.span);
        self.put(Span { start: figure.figure_span.start, end: figure.span.end });
    }

    fn expr(&mut self, expr: Option<&Expr>) {
        let mut waiting: Vec<&Expr> = expr.into_iter().collect();
        while let Some(expr) = waiting.pop() {
            self.put(expr.span);
            match &expr.kind {
                ExprKind::Figure(figure) => self.figure(figure),
                ExprKind::Negate(e) | ExprKind::Spoiled(e) | ExprKind::Call(_, e) => waiting.push(e),
                ExprKind::Binary(_, a, b) => waiting.extend([&**a, &**b]),
                ExprKind::List(list) => waiting.extend(list),
                ExprKind::Name(_) | ExprKind::Part(_) | ExprKind::Missing => {}
            }
        }
    }
}
