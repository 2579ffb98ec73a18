//! What the redrawn circuit leaves out, and on what the working rests.

use crate::document::{Line, said};
use crate::network::{Drawn, Network};

/// What the redrawn circuit leaves out.
pub(crate) fn left_out(network: &Network, drawn: &Drawn) -> Vec<Line> {
    let mut lines = Vec::new();
    let node = |n: usize| if n == 0 { "gnd" } else { &network.nodes[n] };
    let mut across: Vec<([usize; 2], Vec<String>)> = Vec::new();
    for (name, [a, b]) in &drawn.across {
        let ends = [*a.max(b), *a.min(b)];
        match across.iter_mut().find(|x| x.0 == ends) {
            Some((_, names)) => names.push(name.clone()),
            None => across.push((ends, vec![name.clone()])),
        }
    }
    for ([a, b], names) in &across {
        let who = |n: &usize| if network.given(*n) { "driven" } else { "an amplifier's output" };
        let why = match *b {
            0 => format!("{} is {}", node(*a), who(a)),
            _ => format!("{} is {} and {} is {}", node(*a), who(a), node(*b), who(b)),
        };
        let verbs = if names.len() == 1 { "draws current and changes" } else { "draw current and change" };
        lines.push(said(format!("{} from {} to {} {verbs} nothing: {why}.", listed(names), node(*a), node(*b))));
    }
    if !drawn.idle.is_empty() {
        let verb = if drawn.idle.len() == 1 { "carries" } else { "carry" };
        lines.push(said(format!("{} {verb} no current.", listed(&drawn.idle))));
    }
    lines
}

/// `R1, R2 and R3`
pub fn listed(names: &[String]) -> String {
    match names {
        [most @ .., last] if !most.is_empty() => format!("{} and {last}", most.join(", ")),
        _ => names.concat(),
    }
}

/// On what the virtual shorts rest.
pub(crate) fn feedback(network: &Network) -> Vec<Line> {
    let names: Vec<String> = network.amplifiers.iter().map(|a| a.name.clone()).collect();
    match names.len() {
        0 => Vec::new(),
        1 => vec![said(format!(
            "{}'s loop gain is large and its feedback negative: only then are its inputs at one voltage.",
            names[0]
        ))],
        _ => vec![said(format!(
            "The loop gains of {} are large and their feedback negative: only then are their inputs at one voltage.",
            listed(&names)
        ))],
    }
}

/// By node: over how many branches and amplifiers a signal comes there from the inputs.
pub(crate) fn distances(network: &Network, drawn: &Drawn) -> Vec<usize> {
    let mut steps = vec![usize::MAX; network.nodes.len()];
    // A current is felt at the node that it flows into.
    let mut next: Vec<usize> = network.inputs.iter().map(|i| network.current(*i).unwrap_or(*i)).collect();
    let mut count = 0;
    while !next.is_empty() {
        next.retain(|n| *n != 0 && steps[*n] == usize::MAX);
        next.iter().for_each(|n| steps[*n] = count);
        count += 1;
        let beyond = |n: &usize| {
            let at = drawn
                .branches
                .iter()
                .filter(|b| b.ends.contains(n))
                .map(|b| if b.ends[0] == *n { b.ends[1] } else { b.ends[0] });
            let made = network.amplifiers.iter().filter(|a| a.plus == *n || a.minus == *n).map(|a| a.out);
            at.chain(made).collect::<Vec<_>>()
        };
        next = next.iter().flat_map(beyond).collect();
    }
    steps
}
