//! What an entry or a heading holds, place by place, and which place the cursor is at.
//!
//! The shape is told whole, however little of it stands there; the tokens in front of the cursor say which place is next. It shares the
//! cursor and the names with [`super::complete`], and computes no circuit.

use std::ops::Range;

use notation::token::TokenKind;
use notation::tree::{BlockKind, PartName};
use notation::word::PhraseForm;
use quantity::Want;

use super::complete::cursor::{Cursor, Inside, Tok, behind};
use super::complete::known::Known;
use super::complete::{About, phrases};
use crate::database::{Desk, Document, layout};

/// The shape of what is being typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Signature {
    /// All of it on one line: `U1a TYPE: + NODE, - NODE, out NODE[, supply RAIL RAIL]`.
    pub label: String,
    /// Its places.
    pub places: Vec<SignaturePlace>,
    /// The place that the cursor is at; `None` where it is at none of them.
    pub active: Option<usize>,
    /// Where its documentation is found.
    pub about: About,
    /// The last token in front of the cursor has just led to another place: worth showing unasked.
    pub fresh: bool,
}

/// A place of a signature.
#[derive(Clone, Debug, PartialEq)]
pub struct SignaturePlace {
    /// Bytes of the label.
    pub range: Range<usize>,
    /// What belongs there.
    pub told: String,
}

/// The shape at a byte; `None` in comments and quoted texts, and where nothing has a shape.
pub(crate) fn signature(db: &dyn Desk, document: Document, offset: usize) -> Option<Signature> {
    let (text, layout) = (document.text(db), layout(db, document));
    let cursor = Cursor::at(text, &layout, offset)?;
    if cursor.inside != Inside::Code && cursor.before.first().is_none_or(|t| t.text != "include" && t.text != "design")
    {
        return None;
    }
    let known = Known::of(db, document, &layout, &cursor);
    let (shape, active) = Reader { c: &cursor, known: &known }.shape()?;
    let mut signature = shape.signature();
    signature.active = active.and_then(|key| shape.place(&key));
    signature.fresh = cursor.word.is_empty() && fresh(&cursor);
    Some(signature)
}

/// Whether a blank behind this token begins another place.
fn fresh(c: &Cursor) -> bool {
    let Some(last) = c.last() else { return false };
    matches!(last.kind, TokenKind::Colon | TokenKind::Comma | TokenKind::Arrow)
        || matches!(last.text, "of" | "at" | "over" | "when" | "from" | "against")
        || phrases::standing(&c.before).rest.is_empty()
            && matches!(c.kind, Some(BlockKind::Require | BlockKind::Formula))
}

/// A shape as it is written down: `{key|TEXT|what belongs there}` is a place.
struct Shape {
    written: String,
    about: About,
}

impl Shape {
    fn new(written: impl Into<String>, page: &str) -> Shape {
        let about = if manual::find(page).is_some() { About::Page(page.to_string()) } else { About::Nothing };
        Shape { written: written.into(), about }
    }

    /// The places with their keys: key, text, what belongs there; what stands between has no key.
    fn pieces(&self) -> Vec<(Option<&str>, &str, &str)> {
        let mut pieces = Vec::new();
        let mut rest = &*self.written;
        while let Some((before, place)) = rest.split_once('{') {
            pieces.push((None, before, ""));
            let (inner, behind) = place.split_once('}').unwrap_or((place, ""));
            let mut parts = inner.splitn(3, '|');
            let (key, text) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
            pieces.push((Some(key), text, parts.next().unwrap_or_default()));
            rest = behind;
        }
        pieces.push((None, rest, ""));
        pieces
    }

    fn place(&self, key: &str) -> Option<usize> {
        self.pieces().iter().filter_map(|p| p.0).position(|k| k == key)
    }

    fn signature(&self) -> Signature {
        let mut signature = Signature { about: self.about.clone(), ..Signature::default() };
        for (key, text, told) in self.pieces() {
            let start = signature.label.len();
            signature.label.push_str(text);
            if key.is_some() {
                signature.places.push(SignaturePlace { range: start..signature.label.len(), told: told.to_string() });
            }
        }
        signature
    }
}

/// A shape, and the key of the place that the cursor is at.
type Found = Option<(Shape, Option<String>)>;

fn at(shape: Shape, key: &str) -> Found {
    Some((shape, Some(key.to_string())))
}

struct Reader<'c, 't> {
    c: &'c Cursor<'t>,
    known: &'c Known,
}

impl Reader<'_, '_> {
    fn shape(&self) -> Found {
        if let Some(found) = self.function() {
            return Some(found);
        }
        let toks = &self.c.before[..];
        let first = toks.first()?;
        if self.c.heading {
            return self.heading(&toks[1..]);
        }
        match self.c.kind {
            Some(BlockKind::Design) => self.design(first.text, &toks[1..]),
            Some(BlockKind::Let) => at(
                Shape::new(
                    "{name|NAME|a name of its own} = {value|EXPRESSION|figures with units, parts, other names; with s, f or w a curve}",
                    "let",
                ),
                if toks.iter().any(|t| t.kind == TokenKind::Equal) { "value" } else { "name" },
            ),
            Some(BlockKind::Stage | BlockKind::Use) | None => self.stage(toks),
            Some(BlockKind::Include) => None,
            Some(BlockKind::Datasheet) => self.datum(toks),
            Some(BlockKind::Assume) => self.assume(toks),
            Some(BlockKind::Formula | BlockKind::Require) => self.quantity(toks),
        }
    }

    /// Inside of a function's parentheses.
    fn function(&self) -> Found {
        let open = self.c.parenthesis()?;
        let name = self.c.before.get(open.checked_sub(1)?)?;
        let shape = match name.text {
            "Z" => "Z({a|PART|whose impedance it is})",
            "cw" => "cw({a|CONTROL|from its wiper to the clockwise end})",
            "ccw" => "ccw({a|CONTROL|from its wiper to the anticlockwise end})",
            "min" | "max" => "{f|NAME|}({a|VALUE|}, {b|VALUE|of the same kind})",
            "sqrt" | "ln" | "log10" | "exp" | "abs" => "{f|NAME|}({a|VALUE|})",
            _ => return None,
        };
        let written = shape.replace("{f|NAME|}", name.text);
        let second = self.c.before[open..].iter().any(|t| t.kind == TokenKind::Comma);
        at(Shape::new(written, name.text), if second { "b" } else { "a" })
    }

    fn heading(&self, rest: &[Tok]) -> Found {
        let colon = rest.iter().position(|t| t.kind == TokenKind::Colon);
        let ports = |colon: usize| {
            let outputs = rest[colon + 1..].iter().any(|t| t.kind == TokenKind::Arrow);
            if outputs { "out" } else { "in" }
        };
        match self.c.kind? {
            BlockKind::Design => {
                at(Shape::new("design {title|\"TITLE\"|what the design is called, in quotes}", "design"), "title")
            }
            BlockKind::Stage => at(
                Shape::new(
                    "stage {name|NAME|what the stage is called}: {in|INPUT, …|the nodes where signals come in} -> {out|OUTPUT, …|the nodes where they go out; none for a load}",
                    "stage",
                ),
                colon.map_or("name", ports),
            ),
            BlockKind::Use => {
                let pattern =
                    rest.first().filter(|t| t.kind == TokenKind::Name).and_then(|t| self.known.pattern(t.text));
                let list = |ports: &[notation::Name], side: &str| {
                    let one = |(i, n): (usize, &notation::Name)| format!("{{{side}{i}|{n}|the node in {n}'s place}}");
                    ports.iter().enumerate().map(one).collect::<Vec<_>>().join(", ")
                };
                let Some(pattern) = pattern else {
                    let shape = "use {stage|STAGE|the stage that is copied} as {name|NAME|what the copy is called}: {in|INPUT, …|nodes in the inputs' places} -> {out|OUTPUT, …|nodes in the outputs' places}";
                    let key = match (rest, colon) {
                        (_, Some(colon)) => ports(colon),
                        ([], _) => "stage",
                        _ => "name",
                    };
                    return at(Shape::new(shape, "use"), key);
                };
                let arrow = if pattern.outputs.is_empty() { "" } else { " -> " };
                let shape = format!(
                    "use {{stage|{}|the stage that is copied}} as {{name|NAME|what the copy is called}}: {}{arrow}{}",
                    pattern.name.as_deref().unwrap_or("STAGE"),
                    list(&pattern.inputs, "in"),
                    list(&pattern.outputs, "out"),
                );
                let key = match colon {
                    Some(colon) => {
                        let (_, side) = behind(&rest[colon + 1..], &[TokenKind::Arrow]);
                        let commas = side.iter().filter(|t| t.kind == TokenKind::Comma).count();
                        format!("{}{commas}", ports(colon))
                    }
                    None if rest.len() > 1 => "name".to_string(),
                    None => "stage".to_string(),
                };
                Some((Shape::new(shape, "use"), Some(key)))
            }
            BlockKind::Include => {
                at(Shape::new("include {file|\"FILE\"|its path from this file's folder}", "include"), "file")
            }
            BlockKind::Datasheet => at(
                Shape::new("datasheet {name|NAME|the type's name}: {kind|opamp|what it describes}", "datasheet"),
                if colon.is_some() { "kind" } else { "name" },
            ),
            BlockKind::Assume => at(
                Shape::new("assume within {error|ERROR|what one neglect may cost, in dB; 0.1 dB without}", "assume"),
                "error",
            ),
            _ => None,
        }
    }

    fn design(&self, word: &str, rest: &[Tok]) -> Found {
        let has = |kind: TokenKind| rest.iter().any(|t| t.kind == kind);
        let (_, own) = behind(rest, &[TokenKind::Comma, TokenKind::Colon]);
        let second = |a: &'static str, b: &'static str| if own.is_empty() { a } else { b };
        let (shape, key) = match word {
            "band" => (
                "band {a|FREQUENCY|its lower edge} .. {b|FREQUENCY|its upper edge}",
                if has(TokenKind::Range) { "b" } else { "a" },
            ),
            "reference" => ("reference {a|FREQUENCY|where a reading is taken that says nothing else}", "a"),
            "temperature" => ("temperature {a|TEMPERATURE|of resistors and junctions, in degC}", "a"),
            "supply" => {
                let shape = "supply {a|RAIL|the positive rail's node} {b|VOLTAGE|with ± how far it may be off}, {c|RAIL|the other rail's node} {d|VOLTAGE|}";
                let key = match (has(TokenKind::Comma), own.is_empty()) {
                    (false, true) => "a",
                    (false, false) => "b",
                    (true, true) => "c",
                    (true, false) => "d",
                };
                (shape, key)
            }
            "source" => (
                "source {a|NODE|a node or a pair} {b|LEVEL|a voltage, or a current into the node, rms} [{c|peak|the level is peak, or pp}]",
                match rest.len() {
                    0 => "a",
                    1 | 2 => "b",
                    _ => "c",
                },
            ),
            "tolerance" => {
                ("tolerance {a|CLASS|R, C, L or VR} {b|PERCENT|how far its parts may be off}, …", second("a", "b"))
            }
            "matched" => (
                "matched {a|PART, …|parts that are alike} {b|PERCENT|how far any two of them differ at most}",
                if own.iter().any(|t| t.kind == TokenKind::Figure) { "b" } else { "a" },
            ),
            "balanced" => (
                "balanced {name|NAME|what the pair is called}: {a|HOT|the node that counts positive}, {b|COLD|the other}",
                match (has(TokenKind::Colon), has(TokenKind::Comma)) {
                    (false, _) => "name",
                    (true, false) => "a",
                    (true, true) => "b",
                },
            ),
            "setting" => (
                "setting {name|NAME|what the setting is called}: {a|CONTROL|a VR or a SW} {b|POSITION|a percentage, a position, open or closed}, …",
                match has(TokenKind::Colon) {
                    false => "name",
                    true => second("a", "b"),
                },
            ),
            "trim" => (
                "trim {a|CONTROL|the preset}: {b|QUANTITY|what it is set by} = {c|TARGET|what that comes to; without, to its greatest}",
                match (has(TokenKind::Colon), has(TokenKind::Equal)) {
                    (false, _) => "a",
                    (true, false) => "b",
                    (true, true) => "c",
                },
            ),
            "accept" => (
                "accept {a|RULE|its name, with blanks} for {b|NAME|a part, a node or a stage}: {c|\"REASON\"|which a report lists}",
                match (rest.iter().any(|t| t.text == "for"), has(TokenKind::Colon)) {
                    (_, true) => "c",
                    (true, _) => "b",
                    _ => "a",
                },
            ),
            _ => return None,
        };
        at(Shape::new(shape, word), key)
    }

    /// A device, or a part of a path.
    fn stage(&self, toks: &[Tok]) -> Found {
        let colon = toks.iter().position(|t| t.kind == TokenKind::Colon);
        let linked = toks.iter().position(|t| matches!(t.kind, TokenKind::Link | TokenKind::Parallel));
        let part = |t: &Tok| PartName::parse(t.text).filter(|_| t.kind == TokenKind::Part);
        if linked.is_none_or(|l| colon.is_some_and(|c| c < l)) {
            let name = part(toks.first()?)?;
            return match colon {
                Some(colon) => self.device(&name, toks, &toks[colon + 1..]),
                None if matches!(&*name.class, "U" | "VR" | "SW") && self.c.kind != Some(BlockKind::Use) => {
                    self.device(&name, toks, &[])
                }
                None => element(&name, &toks[1..]),
            };
        }
        let (_, own) = behind(toks, &[TokenKind::Link, TokenKind::Parallel]);
        element(&part(own.first()?)?, &own[1..])
    }

    fn device(&self, name: &PartName, toks: &[Tok], terminals: &[Tok]) -> Found {
        let written = |t: Option<&Tok>| t.filter(|t| t.kind != TokenKind::Colon).map(|t| t.text.to_string());
        let (shape, order): (String, &[&str]) = match &*name.class {
            "U" => {
                let kind = written(toks.get(1)).unwrap_or_else(|| "TYPE".to_string());
                let shape = format!(
                    "{} {{head|{kind}|the amplifier's type; ideal without}}: {{+|+ NODE|the non-inverting input}}, {{-|- NODE|the inverting input}}, {{out|out NODE|the output}}[, {{supply|supply RAIL RAIL|its rails, the positive one first; the first supply's without}}]",
                    name.text
                );
                (shape, &["+", "-", "out", "supply"])
            }
            "VR" => {
                let shape = format!(
                    "{} {{head|OHMS [TAPER] [at POSITION]|the whole track, its law, and where it rests}}: {{cw|cw NODE|the clockwise end}}, {{wiper|wiper NODE|the wiper}}, {{ccw|ccw NODE|the anticlockwise end, 0 % of the travel}}",
                    name.text
                );
                (shape, &["cw", "wiper", "ccw"])
            }
            "SW" => {
                let shape = format!(
                    "{} {{head|[at POSITION]|where it rests; position 1 without}}: {{pole|pole NODE|what is switched}}, {{1|1 NODE|where position 1 leads}}, {{2|2 NODE|where position 2 leads; so on}}, …",
                    name.text
                );
                (shape, &["pole", "1", "2"])
            }
            _ => return None,
        };
        let shape = Shape::new(shape, &name.class);
        if !toks.iter().any(|t| t.kind == TokenKind::Colon) {
            return at(shape, "head");
        }
        let given: Vec<&str> =
            terminals.split(|t| t.kind == TokenKind::Comma).filter_map(|t| t.first()).map(|t| t.text).collect();
        let (_, own) = behind(terminals, &[TokenKind::Comma]);
        let begun = own.first().map(|t| t.text).or_else(|| order.contains(&self.c.typed).then_some(self.c.typed));
        let position = |word: &str| word.parse::<u32>().ok().map(|n| if n == 1 { "1" } else { "2" });
        let key = match begun {
            Some(word) => position(word).unwrap_or(word).to_string(),
            None => {
                order.iter().find(|t| !given.contains(t)).or(order.last()).map_or(String::new(), ToString::to_string)
            }
        };
        Some((shape, Some(key)))
    }

    fn datum(&self, toks: &[Tok]) -> Found {
        let count =
            toks.iter().take_while(|t| t.kind == TokenKind::Name && !matches!(t.text, "typ" | "min" | "max")).count();
        let said = toks[..count].iter().map(|t| t.text).collect::<Vec<_>>().join(" ");
        let (words, want) = circuit::datum::keys().find(|(words, _)| *words == said)?;
        let figure = word_of(want);
        if words == "supply range" {
            let shape = format!("{words} {{a|{figure}|the least between the rails}} .. {{b|{figure}|the most}}");
            let key = if toks.iter().any(|t| t.kind == TokenKind::Range) { "b" } else { "a" };
            return at(Shape::new(shape, words), key);
        }
        let tag =
            toks[count..].iter().rev().find(|t| matches!(t.text, "typ" | "min" | "max")).map_or("typ", |t| t.text);
        let shape = format!(
            "{words} [{{typ|typ {figure}|what the middle of the lot does}}][, {{min|min {figure}|the guaranteed least}}][, {{max|max {figure}|the guaranteed most}}]"
        );
        at(Shape::new(shape, words), tag)
    }

    fn assume(&self, toks: &[Tok]) -> Found {
        let shape = "{a|PART, …|what is neglected, or stage NAME} {b|short|or open, or ideal} [{above|above FREQUENCY|from where on}] [{below|below FREQUENCY|up to where}] [{over|over FREQUENCY .. FREQUENCY|where}] [{on|on QUANTITY|what it is judged by; each gain of its stage without}] [{within|within ERROR|what it may cost}]";
        let neglect = toks.iter().position(|t| matches!(t.text, "short" | "open" | "ideal"));
        let clause = |t: &&Tok| matches!(t.text, "above" | "below" | "over" | "on" | "within");
        let (_, own) = behind(toks, &[TokenKind::Comma]);
        let named = !own.is_empty() && self.c.word.is_empty() | self.c.naming();
        let key = match neglect {
            None if named => "b",
            None => "a",
            Some(at) => toks[at..].iter().rev().find(clause).map_or("above", |t| t.text),
        };
        self::at(Shape::new(shape, "assume"), key)
    }

    fn quantity(&self, toks: &[Tok]) -> Found {
        let (words, form) = phrases::standing(toks).words?;
        let mut shape = match form {
            PhraseForm::Of => format!("{words} of {{of|{}, …|{}}}", thing(words).0, thing(words).1),
            PhraseForm::FromTo if words == "rejection" => {
                format!("{words} {{a|PAIR|where the two signals come in}} -> {{b|NODE|where they are looked at}}")
            }
            PhraseForm::FromTo => format!(
                "{words} {{a|NODE|a node, a pair or a sum of them}} -> {{b|NODE|the same, where the signal goes}}"
            ),
        };
        let clauses = [
            ("at", "[{at|at FREQUENCY|where it is read; at the reference without}]"),
            ("over", "[{over|over FREQUENCY .. FREQUENCY|the range that it goes through there}]"),
            ("when", "[{when|when SETTING, …|settings, or controls with their positions}]"),
            ("from", "[{from|from SOURCE|who drives}]"),
            ("against", "[{against|against FREQUENCY|what it is referred to}]"),
            ("weighted", "[{weighted|A-weighted|or 468-weighted}]"),
        ];
        for (word, written) in clauses {
            let port = word == "from" && words.ends_with("put impedance");
            if circuit::taken::takes(words, word) {
                shape.push(' ');
                shape.push_str(if port { "[{from|from PORT|the stage's first one without}]" } else { written });
            }
        }
        let limit = word_of(circuit::resolve::want_of_words(words));
        if self.c.kind == Some(BlockKind::Formula) {
            shape.push_str(" = {=|EXPRESSION|the algebra done by hand}");
        } else {
            shape.push_str(&format!(" [{{<|< {limit}|less than}}] [{{>|> {limit}|more than}}] [{{=|= {limit} ± {limit}|within so much of it, or a .. b}}]"));
        }
        let rest = phrases::standing(toks).rest;
        let mark = |t: &&Tok| {
            matches!(t.text, "of" | "at" | "over" | "when" | "from" | "against" | "<" | ">" | "=")
                || matches!(t.kind, TokenKind::Weighted | TokenKind::Arrow)
        };
        let key = match rest.iter().rev().find(mark) {
            Some(t) if t.kind == TokenKind::Arrow => "b",
            Some(t) if t.kind == TokenKind::Weighted => "weighted",
            Some(t) => t.text,
            None if form == PhraseForm::Of => "of",
            None => "a",
        };
        at(Shape::new(shape, words), key)
    }
}

/// A part with two ends: its value, then its attributes.
fn element(name: &PartName, rest: &[Tok]) -> Found {
    let (value, told) = match &*name.class {
        "R" => ("OHMS", "its resistance: 4k7, 10k, 1M, or an expression in parentheses"),
        "VR" => ("OHMS", "the whole track"),
        "C" => ("FARADS", "its capacitance with a prefix: 22p, 4n7, 100n, 22u"),
        "L" => ("HENRIES", "its inductance with a prefix: 10u, 4m7"),
        "SW" => ("open", "or closed: how it rests"),
        _ => return None,
    };
    let more = match &*name.class {
        "R" => " [{more|1% 0.25W metal external …|tolerance, ratings, make, in any order}]",
        "VR" => " [{more|TAPER at POSITION external …|its law and where it rests}]",
        "C" => " [{more|5% 25V film polar external …|tolerance, ratings, make, in any order}]",
        "L" => " [{more|5% 1A ferrite external …|tolerance, ratings, core, in any order}]",
        _ => "",
    };
    let shape = format!("{} {{value|{value}|{told}}}{more}", name.text);
    at(Shape::new(shape, &name.class), if rest.is_empty() { "value" } else { "more" })
}

/// What a quantity behind `of` is of.
fn thing(words: &str) -> (&'static str, &'static str) {
    match words {
        "phase margin" | "gain margin" | "dissipation" => ("AMPLIFIER", "one amplifier or several"),
        "power" | "voltage" | "current" => ("PART", "a part with two ends, or several"),
        "input impedance" | "output impedance" | "natural frequency" | "q" => ("STAGE", "a stage or a copy"),
        "balance" => ("PAIR", "a declared pair"),
        "supply current" => ("RAIL", "a rail of `supply`"),
        _ => ("NODE", "a node or a pair, or several"),
    }
}

/// A figure's place in capitals: `FREQUENCY`.
fn word_of(want: Want) -> String {
    match want {
        Want::Decibels => "DECIBELS".to_string(),
        Want::Number => "NUMBER".to_string(),
        _ => want.words().trim_start_matches("a ").trim_start_matches("an ").to_uppercase(),
    }
}
