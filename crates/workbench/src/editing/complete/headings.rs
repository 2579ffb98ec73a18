//! Headings: their words, and what stands behind those.

use notation::token::TokenKind;
use notation::tree::BlockKind;
use notation::word::HEADING_WORDS;
use quantity::Want;

use super::basket::{template, text};
use super::cursor::{Tok, behind};
use super::{Basket, CompletionKind, Scene, nodes, skeletons, values};

/// Words that open a block, and whole stages. In the middle of a block only another of its kind leaves what follows in its place.
pub(crate) fn words(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    if !c.naming() || c.indented && !c.heading && !c.ends() {
        return;
    }
    // In an indented line entries go first, and a heading takes the blanks in front of it away.
    let deep = c.indented && !c.heading;
    let rank = if deep { 500 } else { 0 };
    let unindent = deep.then_some(c.line..c.word.start);
    let designed = scene.known.blocks.iter().any(|b| b.kind == Some(BlockKind::Design));
    for (i, (word, kind)) in HEADING_WORDS.iter().enumerate() {
        if c.followed && !leaves(scene, *kind) {
            continue;
        }
        if *kind == BlockKind::Design && designed && scene.known_word() != *word {
            continue;
        }
        let rest = c.rest(scene.document.text(scene.db));
        if !c.ends() && notation::read_heading(&format!("{word} {rest}")).fault.is_some() {
            continue;
        }
        let (detail, behind) = shape(scene, *kind);
        let insert = if c.ends() { template(&format!("{word}{behind}")) } else { vec![text(*word)] };
        let item =
            out.put(rank + order(*kind, i), CompletionKind::Heading, *word).detail(detail).insert(insert).page(word);
        item.unindent.clone_from(&unindent);
    }
    if !c.indented && c.ends() && !c.followed {
        skeletons::skeletons(scene, out, 100);
    }
}

/// How many of the entries that follow in the block are looked at.
const LOOKED_AT: usize = 8;

/// Whether the entries that follow read under a heading of another kind as well as they do now: one that had gone is typed again.
fn leaves(scene: &Scene, kind: BlockKind) -> bool {
    let c = &scene.cursor;
    let now = c.kind.unwrap_or(BlockKind::Stage);
    if kind == now {
        return true;
    }
    let (layout, text) = (crate::database::layout(scene.db, scene.document), scene.document.text(scene.db));
    let line_end = crate::line::line_end(text, c.at);
    let entries = c.block.map(|b| &layout.blocks[b].entries[..]).unwrap_or_default();
    let following = entries[entries.partition_point(|e| e.range.start <= line_end)..].iter().take(LOOKED_AT);
    let reads = |kind, entry: &str| notation::read_entry(kind, entry).fault.is_none();
    following.map(|e| &text[e.range.clone()]).all(|entry| reads(kind, entry) || !reads(now, entry))
}

fn order(kind: BlockKind, i: usize) -> u32 {
    match kind {
        BlockKind::Stage => 0,
        BlockKind::Require => 1,
        _ => 2 + i as u32,
    }
}

/// What a block is for, and what its heading holds at first.
fn shape(scene: &Scene, kind: BlockKind) -> (&'static str, String) {
    let known = &scene.known;
    match kind {
        BlockKind::Design => ("band, supplies, sources, settings", " \"{1:title}\"".into()),
        BlockKind::Let => ("names for values", String::new()),
        BlockKind::Stage => {
            let above = skeletons::input(scene);
            (
                "parts between ports",
                format!(
                    " {{1:{}}}: {{2:{above}}} -> {{3:{}}}",
                    skeletons::unused(scene, "amp"),
                    skeletons::unused(scene, "out")
                ),
            )
        }
        BlockKind::Use => {
            let pattern = known.stages().find(|s| s.kind == Some(BlockKind::Stage) && s.name.is_some());
            let included =
                known.included.iter().map(|(_, b)| &**b).find(|b| b.kind == Some(BlockKind::Stage) && b.name.is_some());
            let behind = included.or(pattern).map(|p| copy(scene, p));
            (
                "a copy of a stage",
                format!(" {}", behind.unwrap_or_else(|| "{1:stage} as {2:copy}: {3:in} -> {4:out}".into())),
            )
        }
        BlockKind::Include => ("stages and data sheets of another file", " \"{1:other.stage}\"".into()),
        BlockKind::Datasheet => ("an amplifier's figures", " {1:name}: opamp".into()),
        BlockKind::Assume => ("what is neglected by hand", " within {1:0.1 dB}".into()),
        BlockKind::Formula => ("algebra done by hand", String::new()),
        BlockKind::Require => ("what the design must do", String::new()),
    }
}

/// `channel as {2:channel2}: {3:in} -> {4:out}`
fn copy(scene: &Scene, pattern: &super::known::BlockKnown) -> String {
    let name = pattern.name.as_deref().unwrap_or("stage");
    let mut number = 2;
    let ports = |list: &[notation::Name], number: &mut u32| {
        let one = |n: &notation::Name| {
            *number += 1;
            format!("{{{number}:{n}}}", number = *number)
        };
        list.iter().map(one).collect::<Vec<_>>().join(", ")
    };
    let inputs = ports(&pattern.inputs, &mut number);
    let outputs = ports(&pattern.outputs, &mut number);
    let arrow = if pattern.outputs.is_empty() { String::new() } else { format!(" -> {outputs}") };
    format!("{name} as {{2:{}}}: {inputs}{arrow}", skeletons::unused(scene, &format!("{name}2")))
}

/// Behind a heading's word.
pub(crate) fn line(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    let Some((_, rest)) = c.before.split_first() else { return };
    let colon = rest.iter().position(|t| t.kind == TokenKind::Colon);
    match c.kind {
        Some(BlockKind::Stage) => {
            if let Some(colon) = colon {
                ports(scene, out, &rest[colon + 1..]);
            }
        }
        Some(BlockKind::Use) => match (rest, colon) {
            (_, Some(colon)) => ports(scene, out, &rest[colon + 1..]),
            ([], None) => patterns(scene, out),
            ([_], None) if c.after.first().is_none_or(|t| t.text != "as") => {
                out.put(0, CompletionKind::Word, "as").page("use");
            }
            _ => {}
        },
        Some(BlockKind::Datasheet) if colon.is_some_and(|i| i + 1 == rest.len()) => {
            out.put(0, CompletionKind::Word, "opamp").page("datasheet");
        }
        Some(BlockKind::Assume) => match rest {
            [] => {
                if c.naming() && c.after.first().is_none_or(|t| t.text != "within") {
                    let insert = template(if c.ends() { "within {1:0.1 dB}" } else { "within" });
                    out.put(0, CompletionKind::Clause, "within").insert(insert).page("within");
                }
            }
            [_, figure @ ..] => {
                values::amount(scene, out, figure, Want::Decibels);
            }
        },
        _ => {}
    }
}

/// A port: what other stages end in and begin with, and the stage's own nodes.
fn ports(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let (_, own) = behind(toks, &[TokenKind::Comma, TokenKind::Arrow]);
    if !own.is_empty() || !scene.cursor.naming() {
        return;
    }
    nodes::ports(scene, out, 1);
    if let Some(stage) = scene.known.stage() {
        for node in scene.known.nodes(stage).filter(|n| &***n != "gnd") {
            out.put(0, CompletionKind::Node, &**node).detail("in this stage");
        }
    }
    nodes::rails(scene, out, 2);
    nodes::others(scene, out, 3);
    // A port stands there once.
    let given: Vec<&str> = toks.iter().chain(&scene.cursor.after).map(|t| t.text).collect();
    out.leave_out(|item| given.contains(&&*item.label));
}

/// The stages that a copy may be of.
fn patterns(scene: &Scene, out: &mut Basket) {
    let known = &scene.known;
    let own = known.blocks.iter().map(|b| (None, &**b));
    let included = known.included.iter().map(|(file, b)| (Some(file), &**b));
    for (file, block) in included.chain(own).filter(|(_, b)| b.kind == Some(BlockKind::Stage)) {
        let Some(name) = &block.name else { continue };
        let ports = nodes::heading_ports(&block.inputs, &block.outputs);
        let detail = file.map_or(ports.clone(), |f| format!("{ports} · {f}"));
        let insert = match scene.cursor.ends() {
            true => template(&copy(scene, block)),
            false => vec![text(&**name)],
        };
        out.put(0, CompletionKind::Stage, &**name).detail(detail).insert(insert);
    }
}
