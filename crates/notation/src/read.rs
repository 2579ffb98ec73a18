//! From the text of one heading, entry or phrase to its tree. Pure functions of their arguments: callers may cache by text.

use chumsky::prelude::*;

use crate::grammar::amount::Amounts;
use crate::grammar::desk::Tk;
use crate::grammar::element::{Place, element};
use crate::grammar::heading::Headings;
use crate::grammar::quantity::Quantities;
use crate::grammar::{Desk, In, Key, Rule, Said, assume, design, device, expr, path, sheet, statement};
use crate::heading_word;
use crate::spoil;
use crate::token::TokenKind;
use crate::tree::{
    BlockKind, Entry, EntryTree, Fault, Grade, Heading, HeadingEntry, PhraseSubject, QuantityPhrase, Span, Strays,
};

/// All parsers, built once a thread: they share reference-counted pieces, which do not cross threads.
struct Grammar {
    path: Rule<EntryTree>,
    device: Rule<EntryTree>,
    replacement: Rule<EntryTree>,
    design: Rule<EntryTree>,
    let_: Rule<EntryTree>,
    formula: Rule<EntryTree>,
    require: Rule<EntryTree>,
    assume: Rule<EntryTree>,
    sheet: Rule<EntryTree>,
    headings: Headings,
    phrase: Rule<QuantityPhrase>,
}

impl Grammar {
    fn new() -> Grammar {
        let expr = expr::expr();
        let amounts = Amounts::new(expr.clone());
        let quantities = Quantities::new(&amounts);
        let replacement = element(&amounts, Place::Override)
            .then_ignore(crate::grammar::rest(|desk, range| {
                let t = desk.toks[range.start];
                match t.kind {
                    TokenKind::Link => Said::open(
                        "leftover",
                        t.span,
                        "Below `use` a part gets another value; its path stays as in the stage",
                    ),
                    TokenKind::Colon => Said::open(
                        "leftover",
                        t.span,
                        "Below `use` a part gets another value; its terminals stay as in the stage",
                    ),
                    _ => crate::grammar::leftover(desk, range),
                }
            }))
            .map(EntryTree::Override)
            .boxed();
        Grammar {
            path: path::path(&amounts),
            device: device::device(&amounts),
            replacement,
            design: design::design(&quantities, &amounts),
            let_: statement::let_(expr.clone()),
            formula: statement::formula(&quantities, expr),
            require: statement::require(&quantities, &amounts),
            assume: assume::assume(&quantities, &amounts),
            sheet: sheet::sheet(&amounts),
            headings: Headings::new(&amounts),
            phrase: quantities
                .quantity
                .then_ignore(crate::grammar::rest(|desk, range| {
                    let t = desk.toks[range.start];
                    match t.kind {
                        TokenKind::Less | TokenKind::Greater | TokenKind::Equal => {
                            Said::open("leftover", t.span, "A limit has no place here: this asks for the reading alone")
                        }
                        _ => crate::grammar::leftover(desk, range),
                    }
                }))
                .boxed(),
        }
    }
}

thread_local! {
    static GRAMMAR: Grammar = Grammar::new();
}

/// What one parse gave.
struct Parsed<T> {
    tree: Option<T>,
    grade: Grade,
    fault: Option<Fault>,
    /// All that is wrong: the rules, and where.
    troubles: Vec<(&'static str, Span)>,
    strays: Strays,
}

/// Runs a parser over tokens and picks the leftmost fault.
fn run<T: 'static>(rule: &Rule<T>, mut desk: Desk, from: usize) -> Parsed<T> {
    let toks: Vec<Tk> = desk.toks[from..].to_vec();
    // Parsers count tokens from their first one.
    desk.lead = from.checked_sub(1).map_or(0, |i| desk.toks[i].span.end);
    desk.toks.drain(..from);
    let (tree, said) = rule.parse_with_state(In::from_iter(toks), &mut desk).into_output_errors();
    let mut grade = Grade::Whole;
    let mut fault: Option<Fault> = None;
    let mut troubles = Vec::new();
    for trouble in said.into_iter().filter_map(|s| s.0) {
        grade = grade.max(trouble.grade);
        troubles.push((trouble.fault.id, trouble.fault.span));
        if fault.as_ref().is_none_or(|f| trouble.fault.span.start < f.span.start) {
            fault = Some(trouble.fault);
        }
    }
    Parsed { tree, grade, fault, troubles, strays: desk.strays }
}

/// Reads one entry of a block of a kind. The result depends on the two arguments only.
///
/// ```
/// use notation::read_entry;
/// use notation::tree::{BlockKind, Grade};
///
/// let entry = read_entry(BlockKind::Stage, "fb -- R3 1k -- gnd");
/// assert_eq!(entry.grade, Grade::Whole);
///
/// let entry = read_entry(BlockKind::Stage, "fb - R3 1k -- gnd");
/// assert_eq!(entry.grade, Grade::Torn);
/// assert_eq!(entry.fault.unwrap().message, "`-` connects nothing: `--` does.");
/// ```
pub fn read_entry(kind: BlockKind, text: &str) -> Entry {
    let desk = Desk::new(text, matches!(kind, BlockKind::Let | BlockKind::Formula));
    if desk.toks.is_empty() {
        return Entry {
            tree: EntryTree::Unread { names: Vec::new(), parts: Vec::new() },
            grade: Grade::Torn,
            fault: Some(fault("entry-empty", Span::default(), "Nothing stands here yet.", true)),
            strays: Strays::default(),
        };
    }
    GRAMMAR.with(|g| {
        let rule = match kind {
            BlockKind::Design => &g.design,
            BlockKind::Let => &g.let_,
            BlockKind::Stage if is_device(&desk) => &g.device,
            BlockKind::Stage => &g.path,
            BlockKind::Use if matches!(desk.toks[0].kind, TokenKind::Part) => &g.replacement,
            BlockKind::Use => {
                return unread(
                    desk,
                    "override-unread",
                    "An entry below `use` begins with a part of the copy and gives it another value, as in R1 22k.",
                );
            }
            BlockKind::Include => {
                return unread(desk, "include-entry", "An include has no entries: a stage's entries need its heading.");
            }
            BlockKind::Datasheet => &g.sheet,
            BlockKind::Assume => &g.assume,
            BlockKind::Formula => &g.formula,
            BlockKind::Require => &g.require,
        };
        let parsed = run(rule, desk, 0);
        match parsed.tree {
            Some(mut tree) => {
                if !parsed.troubles.is_empty() {
                    spoil::spoil(&mut tree, text, &parsed.troubles);
                }
                Entry { tree, grade: parsed.grade, fault: parsed.fault, strays: parsed.strays }
            }
            // The grammar is total; should it ever not be, the entry is torn and says so.
            None => Entry {
                tree: EntryTree::Unread { names: parsed.strays.names, parts: parsed.strays.parts },
                grade: Grade::Torn,
                fault: Some(fault("unread", Span::new(0, text.len()), "This entry cannot be read.", false)),
                strays: Strays::default(),
            },
        }
    })
}

fn fault(id: &'static str, span: Span, message: &str, unfinished: bool) -> Fault {
    Fault { id, span, message: message.into(), unfinished, fixes: Vec::new() }
}

/// An entry of which only the names are kept.
fn unread(mut desk: Desk, id: &'static str, message: &str) -> Entry {
    let all = desk.toks.len();
    let span = desk.place(0..all);
    crate::grammar::keep_names(&mut desk, 0..all);
    Entry {
        tree: EntryTree::Unread { names: desk.strays.names, parts: desk.strays.parts },
        grade: Grade::Torn,
        fault: Some(fault(id, span, message, false)),
        strays: Strays::default(),
    }
}

/// Whether an entry of a stage is a device rather than a path: it begins with a part and its first mark is no link, or with
/// the letters of a class that has terminals and nothing of a path behind them.
fn is_device(desk: &Desk) -> bool {
    let toks = &desk.toks;
    let first = toks[0];
    let mark = toks.iter().find(|t| {
        matches!(t.kind, TokenKind::Link | TokenKind::Parallel | TokenKind::Colon | TokenKind::Comma)
            || matches!(t.key, Key::LikeDash | Key::LikeLongLink | Key::LikeLongArrow | Key::LikeBar)
    });
    match (first.kind, first.key) {
        // Resistors and the like have no terminals, unless a `:` claims so.
        (TokenKind::Part, Key::PartValue) => mark.is_some_and(|t| t.kind == TokenKind::Colon),
        (TokenKind::Part, _) => mark.is_none_or(|t| matches!(t.kind, TokenKind::Colon | TokenKind::Comma)),
        (TokenKind::Name, Key::Class) => {
            let by_itself = toks.len() == 1 && matches!(desk.slice(&first), "U" | "SW" | "VR");
            by_itself || toks.get(1).is_some_and(|t| t.kind == TokenKind::Colon)
        }
        _ => false,
    }
}

/// Reads a heading. A misspelt heading word (which the layout reports) opens what it means. Of a text that is no heading the
/// result is a stage's heading without a name.
pub fn read_heading(text: &str) -> HeadingEntry {
    let desk = Desk::new(text, false);
    // An indented heading comes with its blanks; trimming more kinds of blank than the notation has does no harm here.
    let Some((kind, _)) = heading_word::of(text.trim_start()) else {
        let span = desk.place(0..desk.toks.len());
        return HeadingEntry {
            tree: Heading::Stage { name: None, ports: None },
            grade: Grade::Torn,
            fault: Some(fault(
                "heading-unread",
                span,
                "This is no heading: those begin with design, let, stage, use, include, datasheet, assume, formula or require.",
                false,
            )),
        };
    };
    GRAMMAR.with(|g| {
        let h = &g.headings;
        let (tree, grade, fault) = match kind {
            BlockKind::Design => parts(run(&h.design, desk, 1), Heading::Design { title: None }),
            BlockKind::Stage => parts(run(&h.stage, desk, 1), Heading::Stage { name: None, ports: None }),
            BlockKind::Use => parts(run(&h.use_, desk, 1), Heading::Use { stage: None, name: None, ports: None }),
            BlockKind::Include => parts(run(&h.include, desk, 1), Heading::Include { path: None }),
            BlockKind::Datasheet => parts(run(&h.datasheet, desk, 1), Heading::Datasheet { name: None, kind: None }),
            BlockKind::Assume => parts(run(&h.assume, desk, 1), Heading::Assume { within: None }),
            BlockKind::Let => plain(run(&h.plain, desk, 1), Heading::Let),
            BlockKind::Formula => plain(run(&h.plain, desk, 1), Heading::Formula),
            BlockKind::Require => plain(run(&h.plain, desk, 1), Heading::Require),
        };
        HeadingEntry { tree, grade, fault }
    })
}

fn parts(parsed: Parsed<Heading>, otherwise: Heading) -> (Heading, Grade, Option<Fault>) {
    (parsed.tree.unwrap_or(otherwise), parsed.grade, parsed.fault)
}

fn plain(parsed: Parsed<()>, heading: Heading) -> (Heading, Grade, Option<Fault>) {
    (heading, parsed.grade, parsed.fault)
}

/// Reads a quantity by itself, as a command line gives it: `gain in -> line at 1 kHz when high`.
///
/// ```
/// use notation::read_phrase;
///
/// let (phrase, fault) = read_phrase("noise of line A-weighted");
/// assert_eq!((phrase.phrase, fault), (Some("noise"), None));
/// ```
pub fn read_phrase(text: &str) -> (QuantityPhrase, Option<Fault>) {
    let empty = QuantityPhrase {
        phrase: None,
        phrase_span: Span::default(),
        subject: PhraseSubject::Of(Vec::new()),
        clauses: Vec::new(),
        span: Span::default(),
    };
    let desk = Desk::new(text, false);
    if desk.toks.is_empty() {
        return (
            empty,
            Some(fault("quantity-missing", Span::default(), "A quantity is missing, as in gain in -> out.", true)),
        );
    }
    GRAMMAR.with(|g| {
        let parsed = run(&g.phrase, desk, 0);
        let mut phrase = parsed.tree.unwrap_or(empty);
        spoil::spoil_phrase(&mut phrase, text, &parsed.troubles);
        (phrase, parsed.fault)
    })
}
