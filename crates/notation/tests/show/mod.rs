//! Trees on one line, for tests that are read: `path fb | R3 1k | ?`. A question mark is something missing.

#![allow(dead_code)]

use notation::tree::*;

/// An entry's tree.
pub fn entry(e: &Entry) -> String {
    let mut out = tree(&e.tree);
    let strays: Vec<&str> =
        e.strays.names.iter().map(|w| &*w.text).chain(e.strays.parts.iter().map(|p| &*p.text)).collect();
    if !strays.is_empty() {
        out += &format!("  strays {}", strays.join(" "));
    }
    out
}

fn tree(tree: &EntryTree) -> String {
    match tree {
        EntryTree::Design(d) => format!("design {}", design(d)),
        EntryTree::Let(l) => format!("let {} = {}", word(&l.name), maybe(&l.value, expr)),
        EntryTree::Path(p) => format!("path {}", p.steps.iter().map(step).collect::<Vec<_>>().join(" | ")),
        EntryTree::Device(d) => {
            let terminals: Vec<String> = d.terminals.iter().map(terminal).collect();
            format!("device {}: {}", element(&d.element), terminals.join(", ")).trim_end().to_string()
        }
        EntryTree::Override(e) => format!("override {}", element(e)),
        EntryTree::Datum(d) => {
            let data: Vec<String> = d.data.iter().map(datum).collect();
            format!("datum {}: {}", words(&d.words), data.join(", ")).trim_end().to_string()
        }
        EntryTree::Assume(a) => {
            let subjects: Vec<String> = a.subjects.iter().map(subject).collect();
            let clauses: Vec<String> = a.clauses.iter().map(assume_clause).collect();
            join(&["assume", &subjects.join(", "), &word(&a.neglect), &clauses.join(" ")])
        }
        EntryTree::Formula(f) => format!("formula {} = {}", maybe(&f.quantity, quantity), maybe(&f.value, expr)),
        EntryTree::Require(r) => {
            let limit = r.limit.as_ref().map(limit).unwrap_or_default();
            join(&["reading", &maybe(&r.quantity, quantity), &limit, r.peak.as_ref().map_or("", |w| &*w.text)])
        }
        EntryTree::Unread { names, parts } => {
            let parts: Vec<&str> = parts.iter().map(|p| &*p.text).collect();
            join(&["unread", &words(names), &parts.join(" ")])
        }
    }
}

fn join(pieces: &[&str]) -> String {
    pieces.iter().filter(|p| !p.is_empty()).copied().collect::<Vec<_>>().join(" ")
}

fn maybe<T>(it: &Option<T>, show: impl Fn(&T) -> String) -> String {
    it.as_ref().map_or("?".into(), show)
}

fn word(w: &Option<Word>) -> String {
    maybe(w, |w| w.text.to_string())
}

fn words(w: &[Word]) -> String {
    w.iter().map(|w| &*w.text).collect::<Vec<_>>().join(" ")
}

fn design(d: &DesignEntry) -> String {
    match d {
        DesignEntry::Band(a, b) => format!("band {} .. {}", amount(a), amount(b)),
        DesignEntry::Reference(a) => format!("reference {}", amount(a)),
        DesignEntry::Temperature(a) => format!("temperature {}", amount(a)),
        DesignEntry::Supply(rails) => {
            let rails: Vec<String> = rails.iter().map(|(w, t)| format!("{} {}", w.text, maybe(t, tolerated))).collect();
            format!("supply {}", rails.join(", "))
        }
        DesignEntry::Source { node, amount: a, peak } => {
            join(&["source", &word(node), &amount(a), &peak.as_ref().map_or(String::new(), |w| w.text.to_string())])
        }
        DesignEntry::Tolerance(list) => {
            let list: Vec<String> = list.iter().map(|(w, a)| format!("{} {}", w.text, amount(a))).collect();
            format!("tolerance {}", list.join(", "))
        }
        DesignEntry::Matched(parts, a) => {
            let parts: Vec<String> = parts.iter().map(part_ref).collect();
            format!("matched {} {}", parts.join(", "), amount(a))
        }
        DesignEntry::Balanced { name, hot, cold } => format!("balanced {}: {}, {}", word(name), word(hot), word(cold)),
        DesignEntry::Setting(name, list) => format!("setting {}: {}", word(name), states(list)),
        DesignEntry::Trim(part, q, a) => {
            format!("trim {}: {} = {}", maybe(part, part_ref), maybe(q, quantity), amount(a))
        }
        DesignEntry::Accept { rule, what, reason } => {
            format!("accept {} for {}: {}", words(rule), word(what), maybe(reason, |w| format!("{:?}", w.text)))
        }
        DesignEntry::Unknown(w) => format!("?{}", w.text),
    }
}

fn amount(a: &Option<Amount>) -> String {
    maybe(a, |a| match a {
        Amount::Figure(f) => figure(f),
        Amount::Expression(e) => format!("({})", expr(e)),
    })
}

fn figure(f: &Figure) -> String {
    let sign = match (f.signed, f.negative) {
        (_, true) => "-",
        (true, _) => "+",
        _ => "",
    };
    format!("{sign}{}{}", f.text, f.unit.as_ref().map_or(String::new(), |u| format!(" {u}")))
}

fn tolerated(t: &Tolerated) -> String {
    let tolerance = t.tolerance.as_ref().map_or(String::new(), |a| format!(" ± {}", amount(&Some(a.clone()))));
    amount(&Some(t.amount.clone())) + &tolerance
}

fn part_ref(p: &PartRef) -> String {
    format!("{}{}", if p.all { "all " } else { "" }, part(&p.part))
}

fn part(p: &PartName) -> String {
    match p.number {
        Some(_) => p.text.to_string(),
        None => format!("{}#?", p.text),
    }
}

fn states(list: &[State]) -> String {
    if list.is_empty() {
        return "?".into();
    }
    let one = |s: &State| match s {
        State::Setting(w) => w.text.to_string(),
        State::Control(p, position) => {
            let position = maybe(position, |p| match p {
                Position::Amount(a) => amount(&Some(a.clone())),
                Position::Word(w) => w.text.to_string(),
            });
            format!("{} {position}", part_ref(p))
        }
    };
    list.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// An expression, with all its parentheses.
pub fn expr(e: &Expr) -> String {
    match &e.kind {
        ExprKind::Figure(f) => figure(f),
        ExprKind::Name(n) => n.to_string(),
        ExprKind::Part(p) => part(p),
        ExprKind::Negate(e) => format!("-{}", expr(e)),
        ExprKind::Binary(op, a, b) => {
            let op = match op {
                Operator::Add => "+",
                Operator::Subtract => "-",
                Operator::Multiply => "*",
                Operator::Divide => "/",
                Operator::Power => "^",
                Operator::Parallel => "||",
            };
            format!("[{} {op} {}]", expr(a), expr(b))
        }
        ExprKind::Call(f, e) => format!("{}({})", f.text, expr(e)),
        ExprKind::List(list) => list.iter().map(expr).collect::<Vec<_>>().join(", "),
        ExprKind::Spoiled(e) => format!("{}!", expr(e)),
        ExprKind::Missing => "?".into(),
    }
}

fn step(s: &Step) -> String {
    match s {
        Step::Node(w) => w.text.to_string(),
        Step::Parts(parts) => parts.iter().map(|p| maybe(p, element)).collect::<Vec<_>>().join(" || "),
        Step::Missing(_) => "?".into(),
    }
}

fn element(e: &Element) -> String {
    let mut out = format!("[{}", part(&e.part));
    let typed = matches!(&*e.part.class, "U" | "SW") || e.value.is_some();
    if let Some(v) = &e.value {
        out += &format!(" {}", amount(&Some(v.clone())));
    } else if !typed {
        out += " ?";
    }
    for a in &e.attributes {
        out += " ";
        out += &match a {
            Attribute::Figure { plus_minus, figure: f } => {
                format!("{}{}", if *plus_minus { "±" } else { "" }, figure(f))
            }
            Attribute::Series(w) | Attribute::Word(w) => w.text.to_string(),
            Attribute::Text(w) => format!("{:?}", w.text),
            Attribute::At(_, f) => format!("at {}", maybe(f, figure)),
            Attribute::Junk(_) => "junk".into(),
        };
    }
    out + "]"
}

fn terminal(t: &Terminal) -> String {
    let pin = match &t.pin {
        Pin::Plus(_) => "+".into(),
        Pin::Minus(_) => "-".into(),
        Pin::Word(w) => w.text.to_string(),
        Pin::Position(f) => figure(f),
        Pin::Missing(_) => return "?".into(),
    };
    let nodes = if t.nodes.is_empty() { "?".into() } else { words(&t.nodes) };
    format!("{pin} {nodes}")
}

fn datum(d: &Datum) -> String {
    let tag = d.tag.as_ref().map_or(String::new(), |w| format!("{} ", w.text));
    let to = d.to.as_ref().map_or(String::new(), |a| format!(" .. {}", amount(&Some(a.clone()))));
    format!("{tag}{}{to}", amount(&d.amount))
}

fn subject(s: &Subject) -> String {
    match s {
        Subject::Part(p) => part_ref(p),
        Subject::Stage(w) => format!("stage {}", word(w)),
    }
}

fn assume_clause(c: &AssumeClause) -> String {
    match c {
        AssumeClause::Above(a) => format!("(above {})", amount(a)),
        AssumeClause::Below(a) => format!("(below {})", amount(a)),
        AssumeClause::Over(a, b) => format!("(over {} .. {})", amount(a), amount(b)),
        AssumeClause::On(q) => format!("(on {})", maybe(q, quantity)),
        AssumeClause::Within(a) => format!("(within {})", amount(a)),
    }
}

/// A quantity.
pub fn quantity(q: &QuantityPhrase) -> String {
    let subject = match &q.subject {
        PhraseSubject::Of(things) => {
            let things: Vec<String> = things
                .iter()
                .map(|t| match t {
                    Thing::Name(w) => w.text.to_string(),
                    Thing::Part(p) => part_ref(p),
                })
                .collect();
            format!("of {}", if things.is_empty() { "?".into() } else { things.join(", ") })
        }
        PhraseSubject::FromTo(a, b) => format!("{} -> {}", maybe(a, point), maybe(b, point)),
    };
    let clauses: Vec<String> = q.clauses.iter().map(clause).collect();
    join(&[q.phrase.unwrap_or("?"), &subject, &clauses.join(" ")])
}

fn point(p: &Point) -> String {
    let mut out = String::new();
    for (n, (minus, w)) in p.terms.iter().enumerate() {
        out += match (n, minus) {
            (0, false) => "",
            (0, true) => "-",
            (_, false) => " + ",
            (_, true) => " - ",
        };
        out += &w.text;
    }
    out
}

fn clause(c: &Clause) -> String {
    match c {
        Clause::At(a) => format!("(at {})", amount(a)),
        Clause::Over(a, b) => format!("(over {} .. {})", amount(a), amount(b)),
        Clause::When(list) => format!("(when {})", states(list)),
        Clause::From(w) => format!("(from {})", word(w)),
        Clause::Against(a) => {
            let a = maybe(a, |a| match a {
                Against::Amount(a) => amount(&Some(a.clone())),
                Against::Name(w) => w.text.to_string(),
            });
            format!("(against {a})")
        }
        Clause::Weighted(w) => format!("({})", w.text),
    }
}

fn limit(l: &Limit) -> String {
    match l {
        Limit::Below(a) => format!("< {}", amount(a)),
        Limit::Above(a) => format!("> {}", amount(a)),
        Limit::Equal(t) => format!("= {}", maybe(t, tolerated)),
        Limit::Between(a, b) => format!("= {} .. {}", amount(a), amount(b)),
    }
}

/// A heading.
pub fn heading(h: &Heading) -> String {
    let ports = |p: &Option<Ports>| {
        maybe(p, |p| {
            let side = |w: &[Word]| {
                if w.is_empty() { "?".into() } else { w.iter().map(|w| &*w.text).collect::<Vec<_>>().join(", ") }
            };
            format!("{} -> {}", side(&p.inputs), side(&p.outputs))
        })
    };
    match h {
        Heading::Design { title } => format!("design {}", word(title)),
        Heading::Let => "let".into(),
        Heading::Stage { name, ports: p } => format!("stage {}: {}", word(name), ports(p)),
        Heading::Use { stage, name, ports: p } => format!("use {} as {}: {}", word(stage), word(name), ports(p)),
        Heading::Include { path } => format!("include {}", word(path)),
        Heading::Datasheet { name, kind } => format!("datasheet {}: {}", word(name), word(kind)),
        Heading::Assume { within } => format!("assume within {}", amount(within)),
        Heading::Formula => "formula".into(),
        Heading::Require => "require".into(),
    }
}

/// The text with a fix applied. Edits count from the text's first byte and do not overlap.
pub fn fixed(text: &str, fix: &Fix) -> String {
    let mut edits = fix.edits.clone();
    // Of two insertions at one place the one given first stands first.
    edits.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut out = text.to_string();
    for (span, new) in edits {
        out.replace_range(span.range(), &new);
    }
    out
}
