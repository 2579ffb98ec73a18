//! Ways out where designators stand twice: numbers that are free, and a copy in place of a block that was pasted.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;

use circuit::Finding;
use notation::layout::{Block, Layout};
use notation::token::{TokenKind, tokens};
use notation::tree::{BlockKind, Heading, PartName, Word};

use crate::plain::{Edit, Fix};

/// Each of these ways out takes a look at the whole file, so of a file in which very much stands twice the first ones are looked for.
pub(crate) const LOOKED_FOR: usize = 32;

/// The ways out of a finding about names that stand twice; none of any other.
pub(crate) fn fixes(layout: &Layout, text: &str, finding: &Finding, at: &Range<usize>) -> Vec<Fix> {
    let block = finding.block as usize;
    match (finding.fault.id, finding.entry) {
        ("repeated-designator", Some(_)) => one(layout, text, at.clone()).into_iter().collect(),
        ("repeated-designator", None) => {
            all(layout, text, block).into_iter().chain(copy(layout, text, block)).collect()
        }
        ("repeated-stage", None) => copy(layout, text, block).into_iter().collect(),
        _ => Vec::new(),
    }
}

/// A designator's class and number, which all units of a device have in common.
pub(crate) type Shaft = (String, u32);

/// The device that a part is a unit of; none where the number is still missing.
pub(crate) fn shaft(part: &PartName) -> Option<Shaft> {
    Some((part.class.to_string(), part.number?))
}

/// `U1a` is unit `a` of (U, 1). Parts of copies have the numbers of their pattern.
fn numbered(part: &str) -> Option<(Shaft, String)> {
    let name = PartName::parse(part).filter(|n| n.prefix == 0)?;
    Some((shaft(&name)?, name.unit.map(String::from).unwrap_or_default()))
}

/// The designators in a block's entries, each with its first byte in the file.
fn parts<'t>(block: &'t Block, text: &'t str) -> impl Iterator<Item = (usize, &'t str)> {
    block.entries.iter().flat_map(move |e| {
        let entry = &text[e.range.clone()];
        let is_part = |t: &notation::token::Token| t.kind == TokenKind::Part;
        let all = tokens(entry).into_iter().filter(is_part);
        all.map(move |t| (e.range.start + t.span.start as usize, &entry[t.span.range()]))
    })
}

fn shafts(block: &Block, text: &str) -> BTreeSet<Shaft> {
    parts(block, text).filter_map(|(_, p)| Some(numbered(p)?.0)).collect()
}

/// The first number of a class that nothing in the file has, from its highest on.
fn free(taken: &mut BTreeSet<Shaft>, class: &str) -> u32 {
    let last = taken.range((class.to_string(), 0)..=(class.to_string(), u32::MAX)).next_back();
    let number = last.map_or(1, |(_, n)| n.saturating_add(1));
    taken.insert((class.to_string(), number));
    number
}

/// Gives one part another number: the one whose name begins at a byte.
fn one(layout: &Layout, text: &str, at: Range<usize>) -> Option<Fix> {
    let ((class, _), unit) = numbered(text.get(at.clone())?)?;
    let mut taken = layout.blocks.iter().flat_map(|b| shafts(b, text)).collect();
    let name = format!("{class}{}{unit}", free(&mut taken, &class));
    Some(Fix { title: format!("write {name}"), edits: vec![Edit { range: at, text: name }] })
}

/// Gives the parts of a block that stand in other blocks too new numbers, the units of a device one together.
fn all(layout: &Layout, text: &str, block: usize) -> Option<Fix> {
    let pasted = layout.blocks.get(block)?;
    let others = layout.blocks.iter().enumerate().filter(|(b, _)| *b != block);
    let stages = others.filter(|(_, b)| b.kind == Some(BlockKind::Stage));
    let elsewhere: BTreeSet<Shaft> = stages.flat_map(|(_, b)| shafts(b, text)).collect();
    let mut taken: BTreeSet<Shaft> = layout.blocks.iter().flat_map(|b| shafts(b, text)).collect();
    let mut renamed: BTreeMap<Shaft, u32> = BTreeMap::new();
    let mut edits = Vec::new();
    for (at, part) in parts(pasted, text) {
        let Some((old, unit)) = numbered(part).filter(|(old, _)| elsewhere.contains(old)) else { continue };
        let class = old.0.clone();
        let number = *renamed.entry(old).or_insert_with(|| free(&mut taken, &class));
        edits.push(Edit { range: at..at + part.len(), text: format!("{class}{number}{unit}") });
    }
    (!edits.is_empty()).then(|| Fix { title: "number these parts anew".into(), edits })
}

/// Puts a copy of another stage in a block's place, if the block says the same but for its nodes.
fn copy(layout: &Layout, text: &str, block: usize) -> Option<Fix> {
    let pasted = layout.blocks.get(block)?;
    let before = &layout.blocks[..block];
    let (pattern, nodes) = before.iter().find_map(|b| Some((b, same(b, pasted, text)?)))?;
    let (Heading::Stage { name: Some(stage), ports }, Heading::Stage { name: Some(own), ports: own_ports }) =
        (heading(pattern, text)?, heading(pasted, text)?)
    else {
        return None;
    };
    let (ports, own_ports) = (ports?, own_ports?);
    let pairs = ports.inputs.iter().zip(&own_ports.inputs).chain(ports.outputs.iter().zip(&own_ports.outputs));
    let fits = (ports.inputs.len(), ports.outputs.len()) == (own_ports.inputs.len(), own_ports.outputs.len());
    // `gnd`, rails and sources are the same node in both.
    let shared: Vec<&str> =
        layout.blocks.iter().filter(|b| b.kind == Some(BlockKind::Design)).flat_map(|b| designed(b, text)).collect();
    if nodes.iter().any(|(a, b)| a != b && [a, b].iter().any(|n| **n == "gnd" || shared.contains(n))) {
        return None;
    }
    // A port that no part stands at may be called anything.
    if !fits || !pairs.into_iter().all(|(a, b)| nodes.get(&*a.text).is_none_or(|n| *n == &*b.text)) {
        return None;
    }
    // A block that was pasted as it stood needs a name of its own.
    let name = if own.text == stage.text { format!("{}_2", own.text) } else { own.text.to_string() };
    let range = pasted.heading.as_ref()?.range.start..pasted.entries.last()?.range.end;
    let list = |words: &[Word]| words.iter().map(|w| &*w.text).collect::<Vec<_>>().join(", ");
    let arrow = if own_ports.outputs.is_empty() { "" } else { " -> " };
    let copy = format!("use {} as {name}: {}{arrow}{}", stage.text, list(&own_ports.inputs), list(&own_ports.outputs));
    Some(Fix { title: format!("make it a copy of {}", stage.text), edits: vec![Edit { range, text: copy }] })
}

/// The names in a `design` block.
fn designed<'t>(block: &Block, text: &'t str) -> Vec<&'t str> {
    let entries = block.entries.iter().map(|e| &text[e.range.clone()]);
    let names = |t: &&'t str| {
        let all = tokens(t).into_iter().filter(|t| t.kind == TokenKind::Name);
        all.map(|n| &t[n.span.range()]).collect::<Vec<_>>()
    };
    entries.flat_map(|e| names(&e)).collect()
}

fn heading(block: &Block, text: &str) -> Option<Heading> {
    let range = block.heading.as_ref()?.range.clone();
    (block.kind == Some(BlockKind::Stage)).then(|| notation::read_heading(&text[range]).tree)
}

/// How the nodes of one block are called in another that says the same: one name there for each name here, and the other way.
fn same<'t>(a: &Block, b: &Block, text: &'t str) -> Option<HashMap<&'t str, &'t str>> {
    if a.entries.is_empty() || a.entries.len() != b.entries.len() {
        return None;
    }
    let (a, b) = (words(a, text), words(b, text));
    let (mut there, mut here) = (HashMap::new(), HashMap::new());
    let fits = |(x, y): (&Said<'t>, &Said<'t>)| match (x, y) {
        (Said::Node(x), Said::Node(y)) => *there.entry(*x).or_insert(*y) == *y && *here.entry(*y).or_insert(*x) == *x,
        _ => x == y,
    };
    (!a.is_empty() && a.len() == b.len() && a.iter().zip(&b).all(fits)).then_some(there)
}

/// A word of an entry.
#[derive(PartialEq)]
enum Said<'t> {
    Node(&'t str),
    Other(&'t str),
    End,
}

/// What a block's entries say, comments and blanks left out.
fn words<'t>(block: &Block, text: &'t str) -> Vec<Said<'t>> {
    let mut all = Vec::new();
    for chunk in &block.entries {
        let entry = &text[chunk.range.clone()];
        let read = notation::read_entry(BlockKind::Stage, entry);
        let nodes: Vec<_> = notation::nodes_of(&read).iter().map(|w| w.span).collect();
        let silent = |kind| matches!(kind, TokenKind::Blank | TokenKind::Comment | TokenKind::LineEnd);
        all.extend(tokens(entry).iter().filter(|t| !silent(t.kind)).map(|t| match nodes.contains(&t.span) {
            true => Said::Node(&entry[t.span.range()]),
            false => Said::Other(&entry[t.span.range()]),
        }));
        all.push(Said::End);
    }
    all
}
