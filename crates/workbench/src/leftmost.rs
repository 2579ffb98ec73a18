//! Of several messages the one that is to be read first: an entry has one, and a node that leads nowhere explains what hangs on it.

use std::collections::HashSet;

use argument::rules::{over_power, over_voltage};
use notation::layout::Layout;

use crate::plain::{Problem, Severity};

/// A message by its first byte and its rule.
pub(crate) type Seen = HashSet<(usize, &'static str)>;

/// Leaves each entry and each heading the leftmost of its errors. While it has one, warnings about what the circuit makes of it
/// wait; cautions about its own figures stand beside it, and so does what a part cannot bear.
pub(crate) fn one_an_entry(found: &mut Vec<Problem>, layout: &Layout, cautions: &Seen) {
    if found.len() < 2 || found.iter().all(|p| p.severity != Severity::Error) {
        return;
    }
    // Entries stand in the order of their places, and so do the messages when they are looked through.
    let chunks = layout.blocks.iter().flat_map(|b| b.heading.iter().chain(&b.entries));
    let starts: Vec<usize> = chunks.map(|c| c.range.start).collect();
    let entry = |p: &Problem| starts.partition_point(|s| *s <= p.range.start);
    found.sort_by_key(|p| p.range.start);
    let mut blamed = HashSet::new();
    let first: Vec<bool> = found.iter().map(|p| p.severity == Severity::Error && blamed.insert(entry(p))).collect();
    let mut first = first.into_iter();
    found.retain(|p| match p.severity {
        _ if first.next() == Some(true) => true,
        Severity::Error => false,
        Severity::Warning => {
            let rating = matches!(p.id, over_voltage::ID | over_power::ID);
            rating || !blamed.contains(&entry(p)) || cautions.contains(&(p.range.start, p.id))
        }
        Severity::Note => true,
    });
}

/// Takes out what an amplifier lacks where it is told that nobody uses it.
pub(crate) fn follows_from_idle_amplifiers(found: &mut Vec<Problem>) {
    let idle = |p: &&Problem| p.id == argument::rules::unused_amplifier::ID;
    let names: HashSet<String> = found.iter().filter(idle).flat_map(|p| p.names.first().cloned()).collect();
    let follows = |p: &Problem| matches!(p.id, "node-used-once" | "open-input" | "no-feedback");
    found.retain(|p| !follows(p) || !p.names.iter().any(|n| names.contains(n)));
}

/// Takes out what the circuit lacks at a node that is used once, in the wrong stage, as a port alone, or in place of gnd: the name is to be mended
/// first, and the rest is often gone with it.
pub(crate) fn follows_from_lonely_nodes(found: &mut Vec<Problem>, flaws: &Seen) {
    if flaws.is_empty() {
        return;
    }
    let node = |p: &Problem| match p.id {
        "node-used-once" | "node-crosses-stages" | "ground-name" => p.names.first().cloned(),
        "idle-port" => p.names.get(1).cloned(),
        _ => None,
    };
    let lonely: HashSet<String> = found.iter().filter_map(node).collect();
    let follows = |p: &Problem| flaws.contains(&(p.range.start, p.id)) && p.names.iter().any(|n| lonely.contains(n));
    found.retain(|p| !follows(p));
}
