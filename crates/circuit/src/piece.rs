//! One entry, read: its figures decoded, its words matched, its terminals sorted.
//!
//! A piece is a pure function of the entry's tree, so it is kept as long as the entry's text stands. What needs a second
//! entry to be seen (a node used once, a repeated designator) is found in [`mod@crate::assemble`].

use std::sync::Arc;

use notation::tree::{
    Clause, DesignEntry, Entry, EntryTree, Expr, ExprKind, Fault, Figure as Written, Grade, PartName, PartRef,
    QuantityPhrase, Span, State, Strays, Word,
};
use quantity::{Unit, Want};

use crate::circuit::Given;
use crate::datum::{self, DatumPiece};
use crate::device;
use crate::element::{self, Elem};
use crate::expr::{self, Failure, Scope};
use crate::limit::{self, RequirePiece};

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Worth knowing.
    Note,
    /// Probably not what was meant.
    Warning,
    /// Cannot be what was meant.
    Error,
}

/// One entry, read.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// What it says.
    pub kind: PieceKind,
    /// How much of it is there, figures included.
    pub grade: Grade,
    /// The leftmost fault, and cautions beside it.
    pub findings: Vec<(Weight, Fault)>,
    /// The entry itself, where it holds expressions: what they come to is known with the rest of the file only, and the entry
    /// is then read again.
    pub pending: Option<Arc<Entry>>,
}

/// What an entry says.
#[derive(Clone, Debug, PartialEq)]
pub enum PieceKind {
    /// A path through a stage.
    Path(Vec<PathStep>),
    /// A part with named terminals.
    Device(Box<device::DevicePiece>),
    /// `band`
    Band(Option<f64>, Option<f64>),
    /// `reference`
    Reference(Option<f64>),
    /// `supply`
    Supply(Vec<(Word, Given, Option<crate::circuit::Tolerance>)>),
    /// `source`
    Source {
        /// The node or pair.
        node: Option<Word>,
        /// A current rather than a voltage.
        current: bool,
        /// The level, rms.
        level: Option<f64>,
    },
    /// `balanced`
    Balanced {
        /// The pair's name.
        name: Option<Word>,
        /// Plus.
        hot: Option<Word>,
        /// Minus.
        cold: Option<Word>,
        /// More stands there than could be read.
        vague: bool,
    },
    /// `setting`
    Setting {
        /// Its name.
        name: Option<Word>,
        /// What it sets.
        states: Vec<StatePiece>,
        /// More stands there than could be read.
        lost: bool,
    },
    /// `let`: a name and what it stands for.
    Let(Word, Arc<Expr>),
    /// A new value or attribute for a part of a copy.
    Override(Box<Elem>),
    /// `tolerance`
    Tolerance {
        /// Class letters with their share; `None` where it cannot be read.
        shares: Vec<(Word, Option<f64>)>,
        /// More stands there than could be read.
        lost: bool,
    },
    /// `matched`
    Matched {
        /// Which parts.
        parts: Vec<PartRef>,
        /// The share by which any two differ at most; `None` where it cannot be read.
        share: Option<f64>,
        /// Not all of the parts could be read.
        vague: bool,
    },
    /// `temperature`, in degrees Celsius.
    Temperature(Option<f64>),
    /// `trim`: the control, the quantity, and what it is set to (`None`: to the greatest).
    Trim(Box<TrimPiece>),
    /// `require`
    Require(Box<RequirePiece>),
    /// `accept`: the rule's words, what it is accepted for, and why.
    Accept(Vec<Word>, Option<Word>, Option<Word>),
    /// An entry of a data sheet.
    Datum(DatumPiece),
    /// An entry of `design` whose first word is a slip away from one of the list: its word, the one that it is near to, and the
    /// names that it holds.
    Misspelt(Word, &'static str, Strays),
    /// `assume`
    Assume(Arc<notation::tree::AssumeEntry>),
    /// `formula`
    Formula(Arc<notation::tree::FormulaEntry>),
    /// An entry that adds nothing to the circuit as this edition computes it.
    Aside,
}

/// A preset as it is written.
#[derive(Clone, Debug, PartialEq)]
pub struct TrimPiece {
    /// The control.
    pub part: PartRef,
    /// What it is set by; `None` while that is not written.
    pub quantity: Option<QuantityPhrase>,
    /// What that is set to, in base units (a gain in decibels as a ratio); `None` for the greatest that can be had.
    pub target: Option<f64>,
    /// The target is a ratio with its sign.
    pub signed: bool,
    /// The target, or what is brought to it, could not be read.
    pub unreadable: bool,
}

/// A step of a path.
#[derive(Clone, Debug, PartialEq)]
pub enum PathStep {
    /// A node.
    Node(Word),
    /// Parts in parallel.
    Parts(Vec<Elem>),
    /// Something that is missing.
    Missing,
}

/// A control's position in a setting or a `when`.
#[derive(Clone, Debug, PartialEq)]
pub struct StatePiece {
    /// The control's part.
    pub part: PartRef,
    /// Where it stands; `None` where it cannot be read.
    pub position: Option<WrittenPosition>,
}

/// A position as it is written, before the control is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WrittenPosition {
    /// `30 %`, as a share.
    Share(f64),
    /// `2`
    Number(u32),
    /// `open`
    Open,
    /// `closed`
    Closed,
}

/// What a piece is made with: it gathers findings while the entry is read.
pub(crate) struct Reader<'a> {
    pub grade: Grade,
    pub findings: Vec<(Weight, Fault)>,
    /// Whose figures are being read: a designator, a datum's words, an entry's first word. Messages begin with it.
    pub subject: String,
    /// What names mean in expressions; `None` while an entry is read by itself.
    pub scope: Option<&'a dyn Scope>,
    /// An expression was met that could not be worked out without the rest of the file.
    pub pending: bool,
    /// Why the latest expression has no value though nothing in it is wrong.
    pub elsewhere: Option<String>,
    /// Where the leftmost thing stands that is wrong with the entry's tree.
    pub trouble: Option<Span>,
}

impl<'a> Reader<'a> {
    /// A reader of an entry of that grade.
    pub fn new(grade: Grade, scope: Option<&'a dyn Scope>) -> Self {
        Reader {
            grade,
            findings: Vec::new(),
            subject: String::new(),
            scope,
            pending: false,
            elsewhere: None,
            trouble: None,
        }
    }

    /// Works an expression out for a place that wants this.
    pub fn expression(&mut self, expr: &Expr, want: Want) -> Option<(f64, Unit)> {
        let Some(scope) = self.scope else {
            self.pending = true;
            return None;
        };
        match expr::wanted(expr, scope, want) {
            Ok(found) => Some(found),
            Err(Failure::Here(mut fault)) => {
                if !fault.id.starts_with("un") {
                    fault = self.named_colon(fault);
                }
                self.open(fault);
                None
            }
            Err(Failure::Unreadable) => {
                self.grade = self.grade.max(Grade::Open);
                None
            }
            Err(Failure::Elsewhere(why)) => {
                self.grade = self.grade.max(Grade::Open);
                if let Some(fault) = elsewhere(&why, &self.subject, expr.span) {
                    self.open(fault);
                }
                self.elsewhere = Some(why.clause);
                None
            }
        }
    }

    fn named_colon(&self, mut fault: Fault) -> Fault {
        if !self.subject.is_empty() {
            fault.message = format!("{}: {}", self.subject, fault.message);
        }
        fault
    }
    fn named(&self, mut fault: Fault) -> Fault {
        if !self.subject.is_empty() {
            fault.message = format!("{} {}", self.subject, fault.message);
        }
        fault
    }
    /// Adds a fault that leaves the entry's topology standing.
    pub fn open(&mut self, fault: Fault) {
        self.grade = self.grade.max(Grade::Open);
        self.findings.push((Weight::Error, fault));
    }
    /// Adds a fault that leaves an end missing.
    pub fn torn(&mut self, fault: Fault) {
        self.grade = Grade::Torn;
        self.findings.push((Weight::Error, fault));
    }
    /// Adds something that is probably not what was meant.
    pub fn warn(&mut self, fault: Fault) {
        self.findings.push((Weight::Warning, fault));
    }

    /// Decodes a figure, in SI units; what is wrong with it is said.
    pub fn decode(&mut self, figure: &Written, want: Want) -> Option<(f64, Unit)> {
        match decode(figure, want) {
            Ok((value, unit, caution)) => {
                if let Some(caution) = caution {
                    let caution = self.named(caution);
                    self.warn(caution);
                }
                Some((value, unit))
            }
            Err(fault) => {
                let fault = self.named(fault);
                self.open(fault);
                None
            }
        }
    }

    /// The number of an amount: a figure of the wanted kind, or nothing yet for an expression.
    pub fn amount(&mut self, amount: &Option<notation::tree::Amount>, want: Want) -> Option<(f64, Unit)> {
        match amount {
            Some(notation::tree::Amount::Figure(f)) => self.decode(f, want),
            Some(notation::tree::Amount::Expression(e)) => self.expression(e, want),
            None => None,
        }
    }
}

/// A figure in SI units with its unit and what to beware of, or what is wrong with it.
pub fn decode(figure: &Written, want: Want) -> Result<(f64, Unit, Option<Fault>), Fault> {
    // Places inside a figure count from its own token; the unit may stand a blank apart.
    let place = |range: std::ops::Range<usize>| {
        let width = (figure.figure_span.end - figure.figure_span.start) as usize;
        let unit = figure.unit.as_ref().map_or(0, |u| u.len());
        let behind = (figure.span.end as usize).saturating_sub(unit);
        let shift = |at: usize| {
            if at <= width { figure.figure_span.start as usize + at } else { behind + (at - width).min(unit) }
        };
        let (mut start, end) = (shift(range.start), shift(range.end));
        // What is wrong with the unit alone begins at the unit, not at the blank before it.
        if range.start == width && range.end > width {
            start = behind;
        }
        if end > start { Span::new(start, end) } else { figure.span }
    };
    let whole = Span { start: figure.figure_span.start, end: figure.span.end };
    let fix =
        |text: &String| notation::tree::Fix { title: format!("write {text}"), edits: vec![(whole, text.clone())] };
    match quantity::read(&figure.text, figure.unit.as_deref(), want) {
        Ok((q, caution)) => {
            let value = if figure.negative { -q.value } else { q.value };
            let caution = caution.map(|c| Fault {
                id: "unlikely-value",
                span: whole,
                message: c.message,
                unfinished: false,
                fixes: c.fixes.iter().map(fix).collect(),
            });
            Ok((value, q.unit, caution))
        }
        Err(f) => {
            // What is said of the figure alone is said with its sign, and mended with it.
            let number = f.message.split(' ').next().is_some_and(|first| figure.text.starts_with(first));
            let message = if figure.negative && number { format!("-{}", f.message) } else { f.message };
            let signed = |text: &String| {
                let text = format!("-{text}");
                notation::tree::Fix { title: format!("write {text}"), edits: vec![(figure.span, text)] }
            };
            let fixes = f.fixes.iter().map(|text| if figure.negative { signed(text) } else { fix(text) });
            Err(Fault {
                id: "unreadable-figure",
                span: place(f.range),
                message,
                unfinished: false,
                fixes: fixes.collect(),
            })
        }
    }
}

/// What is said where a name without a value is used for `subject`: of a circle only at what is part of it.
pub(crate) fn elsewhere(why: &expr::Why, subject: &str, span: Span) -> Option<Fault> {
    let Some(circle) = &why.circle else { return Some(fault(why.rule?, span, why.clause.clone())) };
    let own = |name: &notation::Name| name.strip_suffix(subject).is_some_and(|p| p.is_empty() || p.ends_with('.'));
    let member = circle.binary_search_by(|n| (**n).cmp(subject)).is_ok() || circle.iter().any(own);
    member.then(|| why.round()).flatten().map(|said| fault("value-of-itself", span, said))
}

/// A fault without fixes.
pub(crate) fn fault(id: &'static str, span: Span, message: impl Into<String>) -> Fault {
    Fault { id, span, message: message.into(), unfinished: false, fixes: Vec::new() }
}

/// Reads an entry by itself.
pub fn read(entry: &Entry) -> Piece {
    read_in(entry, None)
}

/// Reads an entry, with what the names in its expressions mean.
pub fn read_in(entry: &Entry, scope: Option<&dyn Scope>) -> Piece {
    let mut reader = Reader::new(entry.grade, scope);
    reader.trouble = entry.fault.as_ref().map(|f| f.span);
    let mut kind = kind(&mut reader, &entry.tree);
    // What follows a figure that is not its unit (`100 db`) may have changed what the figure says.
    if let PieceKind::Datum(datum) = &mut kind {
        datum.unreadable |= reader.grade != Grade::Whole;
    }
    match &mut kind {
        // A word by itself is on its way to one of the list, and says nothing yet.
        PieceKind::Misspelt(..) if entry.fault.as_ref().is_some_and(|f| f.unfinished) => kind = PieceKind::Aside,
        PieceKind::Misspelt(word, _, strays) => {
            strays.clone_from(&entry.strays);
            strays.parts.extend(PartName::parse_at(&word.text, word.span));
            strays.names.push(word.clone());
        }
        // Parts that stand where none is wanted may have been meant to match, too.
        PieceKind::Matched { parts, .. } => {
            parts.extend(entry.strays.parts.iter().map(|p| PartRef { all: false, part: p.clone() }));
        }
        _ => {}
    }
    // An entry has one message, the leftmost; cautions about finished figures may stand beside it.
    // Of two at one place the tree's own goes first, which knows whether the word there is still being typed.
    let mut findings: Vec<_> = entry.fault.clone().map(|f| (Weight::Error, f)).into_iter().collect();
    findings.append(&mut reader.findings);
    let mut errors: Vec<_> = findings.iter().filter(|(w, _)| *w == Weight::Error).cloned().collect();
    errors.sort_by_key(|(_, f)| f.span.start);
    let mut kept: Vec<_> = errors.into_iter().take(1).collect();
    if kept.is_empty() {
        kept.extend(findings.into_iter().filter(|(w, _)| *w != Weight::Error));
    }
    let pending = reader.pending.then(|| Arc::new(entry.clone()));
    Piece { kind, grade: reader.grade, findings: kept, pending }
}

fn kind(reader: &mut Reader, tree: &EntryTree) -> PieceKind {
    match tree {
        EntryTree::Path(path) => PieceKind::Path(element::path(reader, path)),
        EntryTree::Device(d) => PieceKind::Device(Box::new(device::device(reader, d))),
        EntryTree::Datum(d) => datum::datum(reader, d).map_or(PieceKind::Aside, PieceKind::Datum),
        EntryTree::Design(d) => design(reader, d),
        EntryTree::Let(l) => match (&l.name, &l.value) {
            (Some(name), Some(value)) => PieceKind::Let(name.clone(), Arc::new(value.clone())),
            // A name whose value is not written yet is declared all the same, so that nothing is said where it is used.
            (Some(name), None) => {
                let end = Span { start: name.span.end, end: name.span.end };
                PieceKind::Let(name.clone(), Arc::new(Expr { kind: ExprKind::Missing, span: end }))
            }
            _ => PieceKind::Aside,
        },
        EntryTree::Override(e) => PieceKind::Override(Box::new(element::replacement(reader, e))),
        EntryTree::Assume(assume) => {
            assume.clauses.iter().for_each(|clause| assumed(reader, clause));
            PieceKind::Assume(Arc::new(assume.clone()))
        }
        EntryTree::Formula(formula) => {
            formula.quantity.iter().for_each(|quantity| clauses(reader, quantity));
            formula.value.iter().for_each(|value| figures(reader, value));
            PieceKind::Formula(Arc::new(formula.clone()))
        }
        EntryTree::Require(r) => match &r.quantity {
            Some(quantity) => {
                clauses(reader, quantity);
                // While the limit is being typed the reading stays; what is wrong with the limit takes the verdict only.
                let mut limit = r.limit.as_ref().and_then(|l| limit::limit(reader, quantity, l));
                if let Some(word) = &r.peak {
                    limit = limit.and_then(|l| limit::of_a_sine(reader, quantity, l, word));
                }
                // A mark that had to be guessed (`=<`), or a second limit: what is wanted is then not known either.
                if reader.trouble.is_some_and(|t| t.start >= quantity.span.end) {
                    limit = None;
                }
                PieceKind::Require(Box::new(RequirePiece {
                    quantity: quantity.clone(),
                    limit,
                    limited: r.limit.is_some(),
                    sine: r.peak.is_some(),
                    doubtful: reader.trouble.is_some_and(|t| t.start < quantity.span.end),
                }))
            }
            None => PieceKind::Aside,
        },
        EntryTree::Unread { .. } => PieceKind::Aside,
    }
}

/// What is wrong with the figures of a quantity's clauses is said whatever the circuit is like.
fn clauses(reader: &mut Reader, quantity: &QuantityPhrase) {
    for clause in &quantity.clauses {
        match clause {
            Clause::At(at) => {
                reader.amount(at, Want::Frequency);
            }
            Clause::Over(from, to) => {
                reader.amount(from, Want::Frequency);
                reader.amount(to, Want::Frequency);
            }
            Clause::When(states) => states.iter().for_each(|s| drop(state(reader, s))),
            _ => {}
        }
    }
}

/// What is wrong with the figures of an assumption's clauses.
fn assumed(reader: &mut Reader, clause: &notation::tree::AssumeClause) {
    use notation::tree::{Amount, AssumeClause};
    let mut read = |amount: &Option<Amount>, want: Want| match amount {
        Some(Amount::Figure(figure)) => drop(reader.decode(figure, want)),
        Some(Amount::Expression(expr)) => figures(reader, expr),
        None => {}
    };
    match clause {
        AssumeClause::Above(at) | AssumeClause::Below(at) => read(at, Want::Frequency),
        AssumeClause::Over(low, high) => {
            read(low, Want::Frequency);
            read(high, Want::Frequency);
        }
        AssumeClause::Within(error) => read(error, Want::Any),
        AssumeClause::On(quantity) => quantity.iter().for_each(|q| clauses(reader, q)),
    }
}

/// What is wrong with the figures of an expression, whatever its names are.
fn figures(reader: &mut Reader, expr: &Expr) {
    crate::expr::leaves(expr, &mut |leaf| {
        if let notation::tree::ExprKind::Figure(figure) = leaf {
            reader.decode(figure, Want::Any);
        }
    });
}

fn design(reader: &mut Reader, entry: &DesignEntry) -> PieceKind {
    reader.subject = match entry {
        DesignEntry::Band(..) => "band".into(),
        DesignEntry::Reference(_) => "reference".into(),
        DesignEntry::Temperature(_) => "temperature".into(),
        DesignEntry::Source { node, .. } => node.as_ref().map_or("source".into(), |n| format!("source {}", n.text)),
        _ => String::new(),
    };
    match entry {
        DesignEntry::Band(low, high) => {
            let a = reader.amount(low, Want::Frequency).map(|x| x.0);
            let b = reader.amount(high, Want::Frequency).map(|x| x.0);
            if let (Some(a), Some(b), Some(to)) = (a, b, high)
                && a >= b
            {
                reader.open(fault(
                    "band-order",
                    to.span(),
                    "the band ends below its beginning: the lower frequency stands first",
                ));
                return PieceKind::Band(None, None);
            }
            PieceKind::Band(
                frequency(
                    reader,
                    a,
                    low,
                    "a band begins above 0 Hz; noise alone may be asked from there, `over 0 Hz .. …`",
                ),
                frequency(reader, b, high, ""),
            )
        }
        DesignEntry::Reference(at) => {
            let f = reader.amount(at, Want::Frequency).map(|x| x.0);
            PieceKind::Reference(frequency(reader, f, at, "the reference is a frequency above 0 Hz"))
        }
        DesignEntry::Supply(rails) => PieceKind::Supply(
            rails
                .iter()
                .map(|(name, level)| {
                    reader.subject = name.text.to_string();
                    let amount = level.as_ref().map(|t| t.amount.clone());
                    let volts = reader.amount(&amount, Want::Voltage).map(|x| x.0);
                    let off = level.as_ref().and_then(|t| t.tolerance.clone());
                    use crate::circuit::Tolerance;
                    let slack = off.is_some().then(|| match reader.amount(&off, Want::Tolerance(Unit::Volt)) {
                        Some((by, Unit::Percent)) if by >= 0.0 => Tolerance::Share(by / 100.0),
                        Some((by, of)) if by >= 0.0 && of != Unit::Percent => Tolerance::Absolute(by),
                        _ => Tolerance::Unknown,
                    });
                    (
                        name.clone(),
                        volts.map_or_else(
                            || Given::Unknown(format!("{} has no voltage", name.text).into()),
                            Given::Number,
                        ),
                        slack,
                    )
                })
                .collect(),
        ),
        DesignEntry::Source { node, amount, peak } => {
            let level = reader.amount(amount, Want::Level);
            let factor = match peak.as_ref().map(|w| &*w.text) {
                Some("peak") => 0.5f64.sqrt(),
                Some("pp") => 0.125f64.sqrt(),
                _ => 1.0,
            };
            let volts = |(value, unit): (f64, Unit)| match unit {
                Unit::Dbu => quantity::dbu_to_volts(value),
                Unit::Dbv => quantity::dbv_to_volts(value),
                _ => value,
            };
            PieceKind::Source {
                node: node.clone(),
                current: matches!(level, Some((_, Unit::Ampere))),
                level: level.map(|l| volts(l).abs() * factor),
            }
        }
        DesignEntry::Balanced { name, hot, cold } => {
            if let (Some(h), Some(c)) = (hot, cold)
                && h.text == c.text
            {
                reader.open(fault("pair-of-one", c.span, format!("a pair has two nodes: both ends are {}", h.text)));
                return PieceKind::Aside;
            }
            let vague = reader.trouble.is_some();
            PieceKind::Balanced { name: name.clone(), hot: hot.clone(), cold: cold.clone(), vague }
        }
        DesignEntry::Setting(name, states) => {
            let mut lost = false;
            let mut read: Vec<StatePiece> = Vec::new();
            for written in states {
                if let State::Setting(word) = written {
                    lost = true;
                    let message = format!(
                        "{} is no control: a setting says where each of them stands, as in VR1 30 %, SW1 open",
                        word.text
                    );
                    reader.open(fault("unknown-position", word.span, message));
                }
                read.extend(state(reader, written));
            }
            // Where all that was read is sound, what is wrong is something else that stands there.
            lost |= reader.trouble.is_some() && read.iter().all(|s| s.position.is_some());
            PieceKind::Setting { name: name.clone(), states: read, lost }
        }
        DesignEntry::Tolerance(all) => {
            let mut doubtful = false;
            let shares: Vec<(Word, Option<f64>)> = all
                .iter()
                .map(|(class, amount)| {
                    if !crate::off::CLASSES.contains(&&*class.text) {
                        doubtful = true;
                        reader.open(fault(
                            "unknown-class",
                            class.span,
                            format!("{} is no class of parts: R, VR, C and L have tolerances", class.text),
                        ));
                    }
                    reader.subject = class.text.to_string();
                    let share = reader.amount(amount, Want::Percentage).map(|x| x.0 / 100.0);
                    let share = sensible(reader, share, amount);
                    doubtful |= share.is_none();
                    (class.clone(), share)
                })
                .collect();
            // Where all that was read is sound, what is wrong is something else that stands there.
            PieceKind::Tolerance { shares, lost: reader.trouble.is_some() && !doubtful }
        }
        DesignEntry::Matched(parts, amount) => {
            reader.subject = "matched".into();
            let share = reader.amount(amount, Want::Percentage).map(|x| x.0 / 100.0);
            let share = sensible(reader, share, amount);
            PieceKind::Matched { parts: parts.clone(), vague: reader.trouble.is_some() && share.is_some(), share }
        }
        DesignEntry::Trim(Some(part), quantity, target) => {
            reader.subject = part.part.text.to_string();
            let want = quantity.as_ref().map_or(Want::Any, crate::resolve::want_of);
            let value = reader.amount(target, want);
            let signed = matches!(value, Some((_, Unit::One)));
            // A phase is told in degrees, as its reading is.
            let value = value.map(|(x, unit)| match unit {
                Unit::Degree => x,
                _ => quantity::Quantity::new(x, unit).linear().0,
            });
            PieceKind::Trim(Box::new(TrimPiece {
                part: part.clone(),
                quantity: quantity.clone(),
                target: value,
                signed,
                unreadable: reader.trouble.is_some() || (target.is_some() && value.is_none()),
            }))
        }
        DesignEntry::Trim(None, ..) => PieceKind::Aside,
        DesignEntry::Temperature(at) => {
            let degrees = reader.amount(at, Want::Temperature).map(|x| x.0);
            if let (Some(t), Some(at)) = (degrees, at)
                && t <= -273.15
            {
                reader.open(fault("temperature-out-of-range", at.span(), "nothing is colder than −273.15 °C"));
                return PieceKind::Temperature(None);
            }
            PieceKind::Temperature(degrees)
        }
        DesignEntry::Accept { rule, what, reason } => PieceKind::Accept(rule.clone(), what.clone(), reason.clone()),
        DesignEntry::Unknown(word) => {
            let near = notation::near::meant(&word.text, notation::word::DESIGN_WORDS);
            match near.or_else(|| wordless(&word.text)) {
                Some(meant) => PieceKind::Misspelt(word.clone(), meant, Strays::default()),
                None => PieceKind::Aside,
            }
        }
    }
}

/// What an entry of `design` is that begins with what follows its word: nothing for a figure, which follows several.
fn wordless(first: &str) -> Option<&'static str> {
    let part = PartName::parse_at(first, Span::default());
    match &part.map(|p| p.class) {
        _ if first.starts_with(|c: char| c.is_ascii_digit()) => Some(""),
        // A control stands in front of what it is trimmed by, and among those that match.
        Some(class) if matches!(&**class, "VR" | "SW") => Some("trim"),
        Some(_) => Some("matched"),
        None if crate::off::CLASSES.contains(&first) => Some("tolerance"),
        None => None,
    }
}

/// A tolerance as a share: 0 or more, below 100 %.
fn sensible(reader: &mut Reader, share: Option<f64>, at: &Option<notation::tree::Amount>) -> Option<f64> {
    match (share, at) {
        (Some(x), Some(at)) if !(0.0..1.0).contains(&x) => {
            reader.open(fault("tolerance-out-of-range", at.span(), "a tolerance is 0 % or more and less than 100 %"));
            None
        }
        _ => share,
    }
}

/// Frequencies that readings are taken at: beyond them numbers overflow or vanish, and no circuit of lumped parts is one.
const FREQUENCIES: std::ops::RangeInclusive<f64> = 1e-12..=1e15;

/// What is wrong with a frequency; `low` is what to say of one that is not above 0 Hz.
pub(crate) fn frequency_fault(f: f64, span: Span, low: &str) -> Option<Fault> {
    if f <= 0.0 {
        return Some(fault("frequency-not-positive", span, low));
    }
    let said = "this lies beyond what is computed: a frequency from 1e-12 Hz to 1e15 Hz is wanted here";
    (!FREQUENCIES.contains(&f)).then(|| fault("value-out-of-reach", span, said))
}

fn frequency(reader: &mut Reader, value: Option<f64>, at: &Option<notation::tree::Amount>, low: &str) -> Option<f64> {
    let (Some(f), Some(a)) = (value, at) else { return value };
    match frequency_fault(f, a.span(), low) {
        Some(fault) => {
            reader.open(fault);
            None
        }
        None => value,
    }
}

/// Values that are reckoned with, in base units: beyond them products and quotients overflow or vanish.
pub(crate) fn in_reach(x: f64) -> bool {
    x == 0.0 || (1e-24..=1e24).contains(&x.abs())
}

/// What to say of a value that is not.
pub(crate) fn out_of_reach(span: Span, what: &str) -> Fault {
    fault("value-out-of-reach", span, format!("{what} lies beyond what is reckoned with: 1e-24 to 1e24 in base units"))
}

/// A control's position, without knowing the control yet. A setting's name is no position: `None`.
pub(crate) fn state(reader: &mut Reader, state: &notation::tree::State) -> Option<StatePiece> {
    use notation::tree::{Amount, Position};
    let State::Control(part, position) = state else { return None };
    let position = match position {
        Some(Position::Word(w)) => match &*w.text {
            "open" => Some(WrittenPosition::Open),
            "closed" => Some(WrittenPosition::Closed),
            other => {
                reader.open(fault("unknown-position", w.span, format!("{} has no position called {other}: a switch is open, closed or at a number; a control stands at a percentage", part.part.text)));
                None
            }
        },
        Some(Position::Amount(Amount::Figure(f))) => written_position(reader, &part.part, f),
        Some(Position::Amount(Amount::Expression(e))) => reader
            .expression(e, Want::Percentage)
            .filter(|(p, _)| (0.0..=100.0).contains(p))
            .map(|(p, _)| WrittenPosition::Share(p / 100.0)),
        None => None,
    };
    Some(StatePiece { part: part.clone(), position })
}

/// A position's figure behind a part: a percentage of travel, or a switch's number.
pub(crate) fn written_position(reader: &mut Reader, part: &PartName, figure: &Written) -> Option<WrittenPosition> {
    let text = &*figure.text;
    if &*part.class == "SW" {
        return match (text.parse::<u32>(), &figure.unit) {
            (Ok(n), None) if !figure.signed => Some(WrittenPosition::Number(n)),
            _ => {
                reader.open(fault(
                    "unknown-position",
                    figure.span,
                    format!("{} stands at a position's number (`{} 2`), or is open or closed", part.text, part.text),
                ));
                None
            }
        };
    }
    let (percent, _) = reader.decode(figure, Want::Percentage)?;
    if !(0.0..=100.0).contains(&percent) {
        reader.open(fault(
            "travel-out-of-range",
            figure.span,
            format!("{} turns from 0 % (fully anticlockwise) to 100 %", part.text),
        ));
        return None;
    }
    Some(WrittenPosition::Share(percent / 100.0))
}
