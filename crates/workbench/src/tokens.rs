//! What each word of a file is, for editors that colour by meaning.
//!
//! The notation's tokens say where words begin and end, its trees say what a word is at its place: a node may be called `noise`, and a
//! type `5532`. What is unfinished is classified as far as it goes; nothing here computes a circuit.

use std::collections::HashMap;
use std::ops::Range;
use std::sync::Arc;

use notation::token::{self, TokenKind as Kind};
use notation::tree::{
    Amount, AssumeClause, Attribute, BlockKind, DesignEntry, Device, Element, Entry, EntryTree, Heading, Pin, Ports,
    QuantityPhrase, Span, Step, Word,
};
use notation::word::{CLASSES, CLAUSE_WORDS, DESIGN_WORDS, EXPRESSION_NAMES, FUNCTIONS, is_attribute};

use crate::database::{BlockText, Desk, Document, Read, block_reads, block_text, layout};

/// A word or a mark, and what it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// Bytes of the file.
    pub range: Range<usize>,
    /// What it is.
    pub kind: TokenKind,
    /// Its name is given here: a stage's in its heading, a part's in its path.
    pub definition: bool,
}

/// What a word or a mark is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum TokenKind {
    /// The word of a heading.
    Heading,
    /// A stage's, setting's or pair's name where it is given or copied.
    Stage,
    /// The word that says what an entry or a figure is, or which terminal: `band`, `typ`, `wiper`.
    Word,
    /// The words of a quantity: `low corner`.
    Reading,
    /// `of`, `at`, `when` …
    Clause,
    /// A part, or the letters of a class.
    Part,
    /// An amplifier's type.
    Type,
    /// A node, a pair, a setting or a `let` name.
    Node,
    /// `gnd`
    Ground,
    /// What a data sheet tells: `slew rate`.
    Datum,
    /// A figure without the unit that stands apart.
    Figure,
    /// A unit behind a figure, `%` included.
    Unit,
    /// `pi`, `E24`, `A-weighted`
    Constant,
    /// `polar`, `log15`, `open`
    Attribute,
    /// `sqrt`
    Function,
    /// `--`, `||`, `..`, `<`, `*` …
    Operator,
    /// `:`, `,` and parentheses.
    Separator,
    /// A quoted text with its marks.
    String,
    /// `#` to the line's end.
    Comment,
    /// What looks like a mark or a figure of the notation and is none.
    Slip,
}

/// The words of a file, or those that a range of its bytes touches, in order.
pub fn tokens(db: &dyn Desk, document: Document, range: Option<Range<usize>>) -> Vec<Token> {
    let (layout, text) = (layout(db, document), document.text(db));
    let wanted = |r: &Range<usize>| range.as_ref().is_none_or(|w| r.start <= w.end && w.start <= r.end);
    let mut found = Vec::new();
    let mut at = 0;
    for block in &layout.blocks {
        let (start, key) = block_text(db, block, text);
        let end = start + key.text(db).len();
        if wanted(&(at..start)) {
            between(text, at..start, &mut found);
        }
        if wanted(&(start..end)) {
            let moved = |t: &Token| Token { range: start + t.range.start..start + t.range.end, ..t.clone() };
            found.extend(block_tokens(db, key).iter().map(moved));
        }
        at = end;
    }
    between(text, at..text.len(), &mut found);
    found.retain(|token| wanted(&token.range));
    found
}

/// The words of a block, counted from its first byte. A key changes one block of a file.
#[salsa::tracked(returns(clone))]
fn block_tokens<'db>(db: &'db dyn Desk, key: BlockText<'db>) -> Arc<Vec<Token>> {
    let (reads, text) = (block_reads(db, key), key.text(db));
    let mut found = Vec::new();
    let mut at = 0;
    for (&(start, end), read) in key.chunks(db).iter().zip(reads.heading.iter().chain(&reads.entries)) {
        let chunk = start as usize..end as usize;
        between(text, at..chunk.start, &mut found);
        classify(&text[chunk.clone()], chunk.start, key.kind(db), &Names::of(read), &mut found);
        at = chunk.end;
    }
    Arc::new(found)
}

/// Between entries there are blanks and comments.
fn between(text: &str, range: Range<usize>, found: &mut Vec<Token>) {
    for t in token::tokens(&text[range.clone()]).iter().filter(|t| t.kind == Kind::Comment) {
        let range = range.start + t.span.start as usize..range.start + t.span.end as usize;
        found.push(Token { range, kind: TokenKind::Comment, definition: false });
    }
}

/// What a tree knows of the words of its entry or heading, by their first bytes.
#[derive(Default)]
struct Names {
    heading: bool,
    known: HashMap<u32, (TokenKind, bool)>,
    readings: Vec<Span>,
}

impl Names {
    fn of(read: &Read) -> Names {
        let mut names = Names::default();
        match read {
            Read::Heading(h) => {
                names.heading = true;
                names.heading(&h.tree);
            }
            Read::Entry(entry, _) => names.entry(entry),
        }
        names
    }

    fn put(&mut self, span: Span, kind: TokenKind, definition: bool) {
        self.known.insert(span.start, (kind, definition));
    }

    fn word(&mut self, word: Option<&Word>, kind: TokenKind, definition: bool) {
        if let Some(word) = word {
            self.put(word.span, kind, definition);
        }
    }

    fn heading(&mut self, heading: &Heading) {
        match heading {
            Heading::Stage { name, ports } => {
                self.word(name.as_ref(), TokenKind::Stage, true);
                self.ports(ports.as_ref());
            }
            Heading::Use { stage, name, ports } => {
                self.word(stage.as_ref(), TokenKind::Stage, false);
                self.word(name.as_ref(), TokenKind::Stage, true);
                self.ports(ports.as_ref());
            }
            Heading::Datasheet { name, kind } => {
                self.word(name.as_ref(), TokenKind::Type, true);
                self.word(kind.as_ref(), TokenKind::Datum, false);
            }
            _ => {}
        }
    }

    fn ports(&mut self, ports: Option<&Ports>) {
        for port in ports.iter().flat_map(|p| p.inputs.iter().chain(&p.outputs)) {
            self.put(port.span, TokenKind::Node, false);
        }
    }

    fn entry(&mut self, entry: &Entry) {
        let all = notation::names_of(entry);
        all.names.iter().for_each(|word| self.put(word.span, TokenKind::Node, false));
        all.parts.iter().for_each(|part| self.put(part.span, TokenKind::Part, false));
        match &entry.tree {
            EntryTree::Design(design) => self.design(design),
            EntryTree::Let(entry) => self.word(entry.name.as_ref(), TokenKind::Node, true),
            EntryTree::Path(path) => {
                let parts = path.steps.iter().filter_map(|step| match step {
                    Step::Parts(parts) => Some(parts),
                    Step::Node(_) | Step::Missing(_) => None,
                });
                parts.flatten().flatten().for_each(|element| self.element(element, true));
            }
            EntryTree::Device(Device { element, terminals }) => {
                self.element(element, true);
                for terminal in terminals {
                    match &terminal.pin {
                        Pin::Plus(span) | Pin::Minus(span) => self.put(*span, TokenKind::Word, false),
                        Pin::Word(word) => self.put(word.span, TokenKind::Word, false),
                        Pin::Position(figure) => self.put(figure.figure_span, TokenKind::Word, false),
                        Pin::Missing(_) => {}
                    }
                }
            }
            EntryTree::Override(element) => self.element(element, false),
            EntryTree::Datum(datum) => {
                datum.words.iter().for_each(|word| self.put(word.span, TokenKind::Datum, false));
            }
            EntryTree::Assume(assume) => {
                for clause in &assume.clauses {
                    if let AssumeClause::On(phrase) = clause {
                        self.phrase(phrase.as_ref());
                    }
                }
            }
            EntryTree::Formula(formula) => self.phrase(formula.quantity.as_ref()),
            EntryTree::Require(require) => self.phrase(require.quantity.as_ref()),
            EntryTree::Unread { .. } => {}
        }
    }

    fn design(&mut self, entry: &DesignEntry) {
        match entry {
            DesignEntry::Tolerance(list) => {
                list.iter().for_each(|(class, _)| self.put(class.span, TokenKind::Part, false));
            }
            DesignEntry::Balanced { name, .. } | DesignEntry::Setting(name, _) => {
                self.word(name.as_ref(), TokenKind::Stage, true);
            }
            DesignEntry::Trim(_, phrase, _) => self.phrase(phrase.as_ref()),
            _ => {}
        }
    }

    fn element(&mut self, element: &Element, definition: bool) {
        self.put(element.part.span, TokenKind::Part, definition);
        if &*element.part.class == "U" {
            match (&element.value, element.attributes.first()) {
                (Some(Amount::Figure(figure)), _) => self.put(figure.figure_span, TokenKind::Type, false),
                (None, Some(Attribute::Word(word))) => self.put(word.span, TokenKind::Type, false),
                _ => {}
            }
        }
    }

    fn phrase(&mut self, phrase: Option<&QuantityPhrase>) {
        self.readings.extend(phrase.filter(|phrase| phrase.phrase.is_some()).map(|phrase| phrase.phrase_span));
    }

    fn is_reading(&self, span: Span) -> bool {
        self.readings.iter().any(|r| r.start <= span.start && span.end <= r.end)
    }
}

/// Where one is in an entry or heading, reading from its first token to its last.
struct Reader<'n> {
    kind: Option<BlockKind>,
    names: &'n Names,
    /// No word came yet.
    first: bool,
    /// Open parentheses.
    depth: u32,
    /// An `=` came.
    equal: bool,
}

fn classify(text: &str, start: usize, kind: Option<BlockKind>, names: &Names, found: &mut Vec<Token>) {
    let mut reader = Reader { kind, names, first: true, depth: 0, equal: false };
    let tokens = token::tokens(text);
    for (i, t) in tokens.iter().enumerate() {
        let called = tokens[i + 1..].iter().find(|t| t.kind != Kind::Blank).is_some_and(|t| t.kind == Kind::Open);
        if let Some((kind, definition)) = reader.take(t.kind, t.span, &text[t.span.range()], called) {
            let range = start + t.span.start as usize..start + t.span.end as usize;
            found.push(Token { range, kind, definition });
        }
    }
}

impl Reader<'_> {
    fn take(&mut self, kind: Kind, span: Span, word: &str, called: bool) -> Option<(TokenKind, bool)> {
        use TokenKind as T;
        let plain = match kind {
            Kind::Blank | Kind::LineEnd | Kind::LoneReturn => return None,
            Kind::Comment => return Some((T::Comment, false)),
            Kind::Text | Kind::OpenText => T::String,
            Kind::CurlyText | Kind::DecimalComma | Kind::BarePoint | Kind::LookAlike => T::Slip,
            Kind::Foreign | Kind::Unknown | Kind::TooMuch => return None,
            Kind::Figure => T::Figure,
            Kind::Part => T::Part,
            Kind::Series | Kind::Weighted => T::Constant,
            Kind::Unit | Kind::Percent => T::Unit,
            Kind::Link | Kind::Arrow | Kind::Parallel | Kind::Range | Kind::PlusMinus => T::Operator,
            Kind::Less | Kind::Greater | Kind::Equal | Kind::Plus | Kind::Minus => T::Operator,
            Kind::Times | Kind::Divide | Kind::Power => T::Operator,
            Kind::Open | Kind::Close | Kind::Colon | Kind::Comma => T::Separator,
            Kind::Name => T::Node,
        };
        match kind {
            Kind::Open => self.depth += 1,
            Kind::Close => self.depth = self.depth.saturating_sub(1),
            Kind::Equal => self.equal = true,
            _ => {}
        }
        let first = std::mem::take(&mut self.first);
        let (found, definition) = match self.names.known.get(&span.start) {
            // Some places take a node's name or a part's.
            Some(&(T::Node, definition)) if kind == Kind::Part => (T::Part, definition),
            Some(&known) if plain != T::String => known,
            _ if kind == Kind::Name => (self.name(word, span, first, called), false),
            _ => (plain, false),
        };
        // Ground is the same node everywhere.
        let ground = found == T::Node && word == "gnd";
        Some(if ground { (T::Ground, false) } else { (found, definition) })
    }

    /// What a word is that its tree says nothing of.
    fn name(&self, word: &str, span: Span, first: bool, called: bool) -> TokenKind {
        use TokenKind as T;
        let clause = CLAUSE_WORDS.contains(&word);
        if self.names.heading {
            return match self.kind {
                _ if first => T::Heading,
                Some(BlockKind::Use) if word == "as" => T::Heading,
                Some(BlockKind::Assume) if clause => T::Clause,
                Some(BlockKind::Datasheet) => T::Datum,
                _ => T::Node,
            };
        }
        if self.names.is_reading(span) {
            return T::Reading;
        }
        let algebra = matches!(self.kind, Some(BlockKind::Let | BlockKind::Formula)) && self.equal;
        if algebra || self.depth > 0 {
            return match word {
                _ if called && FUNCTIONS.contains(&word) => T::Function,
                _ if EXPRESSION_NAMES.contains(&word) => T::Constant,
                _ => T::Node,
            };
        }
        match self.kind {
            Some(BlockKind::Design) => match word {
                _ if first && DESIGN_WORDS.contains(&word) => T::Word,
                "peak" | "pp" => T::Unit,
                "open" | "closed" => T::Attribute,
                "for" => T::Clause,
                _ if clause => T::Clause,
                _ if CLASSES.iter().any(|(letters, ..)| *letters == word) => T::Part,
                _ => T::Node,
            },
            Some(BlockKind::Stage | BlockKind::Use) | None if word == "at" || is_attribute(word) => T::Attribute,
            Some(BlockKind::Datasheet) if matches!(word, "typ" | "min" | "max") => T::Word,
            Some(BlockKind::Datasheet) => T::Datum,
            Some(BlockKind::Assume) if matches!(word, "short" | "open" | "ideal") => T::Attribute,
            Some(BlockKind::Assume) if word == "stage" => T::Word,
            Some(BlockKind::Formula | BlockKind::Require) if matches!(word, "open" | "closed") => T::Attribute,
            Some(BlockKind::Assume | BlockKind::Formula | BlockKind::Require) if clause => T::Clause,
            _ => T::Node,
        }
    }
}
