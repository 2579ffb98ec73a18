//! Paths: `node -- part -- node`.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::element::{Place, element, name_span, number_missing};
use super::{Desk, Key, Reads, Rule, Said, Tk, key, kind, lack, one};
use crate::token::TokenKind;
use crate::tree::{Element, EntryTree, PartName, Path, Span, Step, Word};

/// A step before it is known whether class letters alone are a node or a part that is being typed.
#[derive(Clone)]
enum Piece {
    Node(Word),
    Class(Tk),
    Parts(Vec<Option<Element>>),
    Missing(Span),
}

/// The path parser: total, it takes the whole entry.
pub(crate) fn path(amounts: &Amounts) -> Rule<EntryTree> {
    let group = group(element(amounts, Place::Path)).boxed();
    let class = key(Key::Class).map(Piece::Class);
    let node = super::name("a node").map(Piece::Node);
    let step = choice((group, class, node)).boxed();
    let wanted = step.clone().or(lack(step_missing).map_with(|(), e| {
        let i = e.span().start;
        Piece::Missing(e.state().gap(i))
    }));
    let first = step.clone().or(lack(|desk, i| {
        Said::torn(
            "path-begins-without-node",
            desk.tok(i).map_or(desk.gap(i), |t| t.span),
            "A path begins with a node, as in a -- R1 10k -- b",
        )
    })
    .map_with(|(), e| {
        let i = e.span().start;
        Piece::Missing(e.state().gap(i))
    }));
    // What fits nowhere is passed over up to the next link or name.
    let odd = super::junk(|t| begins_step(t) || links(t), odd_in_path).or_not().map(|_| ()).boxed();
    let linked = link().ignore_then(wanted).boxed();
    let unlinked = one(begins_step).rewind().validate(|_, e, emitter| {
        let i = e.span().start;
        emitter.emit(link_missing(e.state(), i));
    });
    let next = linked.or(unlinked.ignore_then(step)).then_ignore(odd.clone());
    first
        .then_ignore(odd)
        .then(next.repeated().collect::<Vec<_>>())
        .validate(|(first, rest), e, emitter| {
            let end = e.span().into_range().end;
            let desk = e.state();
            let steps = settled(desk, first, rest, &mut |said| emitter.emit(said));
            for said in ends(desk, &steps, end) {
                emitter.emit(said);
            }
            EntryTree::Path(Path { steps })
        })
        .boxed()
}

/// Parts in parallel.
fn group(element: Rule<Element>) -> impl Reads<Piece> {
    let bars = kind(TokenKind::Parallel).map(|_| ()).or(key(Key::LikeBar).validate(|t, e, emitter| {
        let slice = e.state().slice(&t).to_string();
        emitter.emit(
            Said::torn("look-alike", t.span, format!("`{slice}` connects nothing: parts in parallel take `||`"))
                .fix(t.span, "||"),
        );
    }));
    let lone_class = key(Key::Class).map_with(|t, e| {
        let desk = e.state();
        desk.part(&t)
    });
    let lone_class = lone_class.validate(|part, e, emitter| {
        let end = e.span().into_range().end;
        let desk = e.state();
        emitter.emit(number_missing(desk, &part, desk.ends(end)));
        Some(Element { span: part.span, part, value: None, attributes: Vec::new() })
    });
    let other = choice((
        element.clone().map(Some),
        lone_class,
        lack(|desk, i| {
            let said = match desk.tok(i) {
                Some(t) if t.kind == TokenKind::Name => Said::torn(
                    "parallel-with-node",
                    t.span,
                    format!("{} is a node, and only parts stand in parallel", desk.slice(t)),
                ),
                _ => Said::torn("part-missing", desk.gap(i), "A part is missing behind `||`"),
            };
            said.unfinished(desk.ends(i))
        })
        .map(|()| None),
    ));
    element.map(Some).then(bars.ignore_then(other).repeated().collect::<Vec<_>>()).map(|(first, rest)| {
        let mut parts = vec![first];
        parts.extend(rest);
        Piece::Parts(parts)
    })
}

/// Whether a token begins a step.
fn begins_step(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Part | TokenKind::Series | TokenKind::Foreign | TokenKind::Unit)
        || (t.kind == TokenKind::Name && !t.key.is_clause())
}

/// Whether a token is a link, or was meant as one.
fn links(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Link | TokenKind::Arrow | TokenKind::Minus | TokenKind::Parallel)
        || matches!(t.key, Key::LikeDash | Key::LikeLongLink | Key::LikeLongArrow | Key::LikeFatArrow | Key::LikeBar)
}

/// `--`, or what is written for it.
fn link() -> impl Reads<()> {
    let alike = one(|t: &Tk| links(t) && t.kind != TokenKind::Link).validate(|t: Tk, e, emitter| {
        let end = e.span().into_range().end;
        let desk = e.state();
        let slice = desk.slice(&t).to_string();
        let said = match t.kind {
            TokenKind::Parallel => Said::torn(
                "parallel-behind-node",
                t.span,
                "`||` stands between two parts, and no part stands before it",
            ),
            TokenKind::Arrow => {
                let message = format!("`{slice}` shows a direction, and a part has none: a path is drawn with `--`");
                Said::torn("look-alike", t.span, message).fix(t.span, "--")
            }
            TokenKind::Minus if desk.ends(end) => {
                Said::torn("link-missing", t.span, "`--` connects, and only half of it stands here").fix(t.span, "--")
            }
            _ => Said::torn("look-alike", t.span, format!("`{slice}` connects nothing: `--` does")).fix(t.span, "--"),
        };
        emitter.emit(said.unfinished(desk.ends(end)));
    });
    kind(TokenKind::Link).map(|_| ()).or(alike)
}

/// Two steps side by side.
fn link_missing(desk: &Desk, i: usize) -> Said {
    let at = desk.gap(i);
    let Some(t) = desk.tok(i) else { return Said::NOT_HERE };
    let word = desk.slice(t).to_string();
    let said = Said::torn("link-missing", t.span, format!("A `--` is missing before {word}"))
        .fix_all("write --", vec![(at, " --".into())]);
    let behind_part = i.checked_sub(1).and_then(|b| desk.kind(b)).is_some_and(|k| k != TokenKind::Name);
    if t.kind == TokenKind::Name && behind_part && word != "gnd" {
        let quoted = format!("\"{word}\"");
        return said.fix_all(format!("write {quoted}, an order code"), vec![(t.span, quoted)]);
    }
    said
}

/// Nothing behind a link.
fn step_missing(desk: &Desk, i: usize) -> Said {
    let at = desk.gap(i);
    match desk.tok(i) {
        None => Said::torn("step-missing", at, "A part or a node is missing behind `--`").unfinished(true),
        Some(t) if t.kind == TokenKind::Link => {
            Said::torn("step-missing", at, "A part is missing between the two `--`")
        }
        Some(t) if t.key.is_clause() => Said::torn(
            "reserved-name",
            t.span,
            format!("`{}` is a word of the notation: a node needs another name", desk.slice(t)),
        ),
        Some(t) if t.kind == TokenKind::Figure => Said::torn(
            "part-missing",
            t.span,
            format!("{} has no part's name in front: R, C, L or VR and a number", desk.slice(t)),
        ),
        Some(_) => Said::torn("step-missing", at, "A part or a node is missing behind `--`"),
    }
}

/// Something that fits nowhere in a path.
fn odd_in_path(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    let slice = desk.slice(t);
    let before = range.start.checked_sub(1).and_then(|b| desk.tok(b));
    match (t.kind, before) {
        (TokenKind::Figure | TokenKind::DecimalComma | TokenKind::BarePoint, Some(b)) if b.kind == TokenKind::Name => {
            let node = desk.slice(b);
            let span = b.span.to(t.span);
            if let Some(part) = super::capitals(node) {
                let message = format!("A value cannot follow the node {node}: did you mean {part}?");
                return Said::torn("value-behind-node", span, message).fix(b.span, part);
            }
            Said::torn(
                "value-behind-node",
                span,
                format!("A value cannot follow the node {node}: a part's name is capitals and a number, as in R1"),
            )
        }
        (TokenKind::Divide, _) if desk.kind(range.start + 1) == Some(TokenKind::Divide) => {
            let span = desk.place(range.start..range.start + 2);
            Said::torn("look-alike", span, "`//` connects nothing: parts in parallel take `||`").fix(span, "||")
        }
        (TokenKind::Close, _) => {
            Said::torn("parenthesis-extra", t.span, "This `)` closes nothing: no `(` is open before it")
                .fix_all("delete )", vec![(t.span, String::new())])
        }
        _ if slice == ";" => Said::torn("leftover", t.span, "`;` parts nothing: the next path stands on its own line"),
        (TokenKind::Colon, _) => {
            Said::torn("leftover", t.span, "A `:` comes behind a device's type, and this is a path")
        }
        (TokenKind::Comma, Some(b))
            if matches!(b.kind, TokenKind::Figure | TokenKind::Unit | TokenKind::Percent)
                && matches!(desk.kind(range.start + 1), Some(TokenKind::Figure | TokenKind::PlusMinus)) =>
        {
            Said::torn("leftover", t.span, "A part's attributes stand side by side, without a `,`")
                .fix_all("delete ,", vec![(t.span, String::new())])
        }
        (TokenKind::Comma, _) => {
            Said::torn("leftover", t.span, "A path has no list: the next one stands on its own line")
        }
        (TokenKind::Equal, _) => {
            Said::torn("leftover", t.span, "`=` states nothing in a path: a value stands right behind its part's name")
        }
        _ => super::alike(desk, t).unwrap_or_else(|| {
            Said::torn("leftover", desk.place(range.clone()), format!("`{slice}` has no meaning in a path"))
        }),
    }
}

/// Decides what class letters alone are: behind a node a part that is being typed, since two nodes do not stand in a row;
/// elsewhere a node.
fn settled(desk: &Desk, first: Piece, rest: Vec<Piece>, emit: &mut dyn FnMut(Said)) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::with_capacity(rest.len() + 1);
    let count = rest.len() + 1;
    for (n, piece) in std::iter::once(first).chain(rest).enumerate() {
        let step = match piece {
            Piece::Node(word) => Step::Node(word),
            Piece::Parts(parts) => Step::Parts(parts),
            Piece::Missing(span) => Step::Missing(span),
            Piece::Class(tk) if n > 0 && matches!(steps[n - 1], Step::Node(_)) => {
                let part = desk.part(&tk);
                emit(number_missing(desk, &part, n + 1 == count));
                Step::Parts(vec![Some(Element { span: part.span, part, value: None, attributes: Vec::new() })])
            }
            Piece::Class(tk) => Step::Node(desk.word(&tk)),
        };
        if let (Some(Step::Node(a)), Step::Node(b)) = (steps.last(), &step) {
            emit(Said::torn(
                "nodes-in-a-row",
                b.span,
                format!("No part stands between {} and {}: one node too many, or a part missing?", a.text, b.text),
            ));
        }
        steps.push(step);
    }
    steps
}

/// What is wrong at the ends of a path.
fn ends(desk: &Desk, steps: &[Step], end: usize) -> Vec<Said> {
    let mut out = Vec::new();
    let last_part = |parts: &[Option<Element>]| parts.iter().flatten().next_back().map(|e| (e.part.clone(), e.span));
    if let [Step::Node(node)] = steps {
        let said =
            Said::torn("path-alone", desk.gap(end), format!("Behind {} a `--` and a part are missing", node.text));
        out.push(said.unfinished(true));
        return out;
    }
    if let Some(Step::Parts(parts)) = steps.first()
        && let Some(part) = parts.iter().flatten().next()
    {
        let name = &part.part.text;
        out.push(Said::torn(
            "path-begins-with-part",
            name_span(part),
            format!("A path begins with a node: which one is at {name}'s left?"),
        ));
    }
    if let Some(Step::Parts(parts)) = steps.last()
        && let Some((part, span)) = last_part(parts)
    {
        let PartName { text, .. } = &part;
        // A text without its closing mark holds whatever stands behind it: that is the thing to say first.
        let swallowed = end.checked_sub(1).and_then(|i| desk.kind(i)) == Some(TokenKind::OpenText);
        let span = if swallowed { desk.gap(end) } else { span };
        out.push(
            Said::torn("path-ends-at-part", span, format!("The path ends at {text}: a node is missing"))
                .unfinished(true),
        );
    }
    out
}
