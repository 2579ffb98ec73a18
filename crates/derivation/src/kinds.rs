//! Circuits that a person knows by sight, and their names.

use crate::document::Piece;
use crate::expr::Expr;
use crate::immittance::{Immittance, Kind};
use crate::network::{Amplifier, Branch, Drawn, Network};

/// Sentences piece by piece.
pub struct Sentence(pub Vec<Piece>);

impl Sentence {
    /// Words.
    pub fn say(mut self, text: impl Into<String>) -> Sentence {
        self.0.push(Piece::Text(text.into()));
        self
    }

    /// A two-terminal network by its name: `R2 + VR1`, `R5 beside C4`.
    pub fn name(mut self, what: &Immittance) -> Sentence {
        match what {
            Immittance::Lump(lump) => self.0.push(Piece::Math(lump.value.clone())),
            Immittance::Series(all) | Immittance::Parallel(all) => {
                let joint = if matches!(what, Immittance::Series(_)) { " in series with " } else { " beside " };
                for (k, one) in all.iter().enumerate() {
                    if k > 0 {
                        self.0.push(Piece::Text(joint.into()));
                    }
                    let several = matches!(one, Immittance::Series(_) | Immittance::Parallel(_));
                    if several {
                        self = self.say("(").name(one).say(")");
                    } else {
                        self = self.name(one);
                    }
                }
            }
        }
        self
    }

    /// A node's voltage.
    pub fn voltage(mut self, network: &Network, node: usize) -> Sentence {
        self.0.push(Piece::Math(voltage(network, node)));
        self
    }
}

/// A node's voltage; the reference's is 0. Of an input that is a current, the current.
pub fn voltage(network: &Network, node: usize) -> Expr {
    match node {
        0 => Expr::Integer(0),
        _ if network.current(node).is_some() => Expr::Current(network.nodes[node].clone()),
        _ => Expr::Voltage(network.nodes[node].clone()),
    }
}

struct Seen<'a> {
    network: &'a Network,
    drawn: &'a Drawn,
}

impl<'a> Seen<'a> {
    fn between(&self, a: usize, b: usize) -> Option<&'a Branch> {
        self.drawn.branches.iter().find(|x| x.ends == [a, b] || x.ends == [b, a])
    }

    /// The branches at a node, each with the node at its other end.
    fn at(&self, node: usize) -> Vec<(&'a Branch, usize)> {
        let other = |x: &Branch| if x.ends[0] == node { x.ends[1] } else { x.ends[0] };
        self.drawn.branches.iter().filter(|x| x.ends.contains(&node)).map(|x| (x, other(x))).collect()
    }

    fn node(&self, node: usize) -> String {
        if node == 0 { "gnd".into() } else { self.network.nodes[node].clone() }
    }
}

/// What the circuit is, a sentence for each amplifier, or one for a circuit without.
pub fn sentences(network: &Network, drawn: &Drawn) -> Vec<Vec<Piece>> {
    let seen = Seen { network, drawn };
    if network.amplifiers.is_empty() {
        return network.outputs.iter().filter_map(|out| passive(&seen, *out)).map(|s| s.0).collect();
    }
    network.amplifiers.iter().map(|a| amplifier(&seen, a).0).collect()
}

/// A divider, a lag, a lead: one branch from a given node and one to the reference.
fn passive(seen: &Seen, out: usize) -> Option<Sentence> {
    let at = seen.at(out);
    let [(a, from), (b, to)] = at.try_into().ok()?;
    let ((top, from), (foot, to)) = if to == 0 { ((a, from), (b, to)) } else { ((b, to), (a, from)) };
    if to != 0 || !seen.network.given(from) {
        return None;
    }
    let called = match (kind(&top.what), kind(&foot.what)) {
        (Some(Kind::R), Some(Kind::C)) | (Some(Kind::L), Some(Kind::R)) => "a low-pass",
        (Some(Kind::C), Some(Kind::R)) | (Some(Kind::R), Some(Kind::L)) => "a high-pass",
        _ => "a divider",
    };
    let start = Sentence(Vec::new()).say(format!("From {} to {} this is {called}: ", seen.node(from), seen.node(out)));
    Some(start.name(&top.what).say(" above, ").name(&foot.what).say(" to gnd below."))
}

/// The kind of a single part.
fn kind(what: &Immittance) -> Option<Kind> {
    match what {
        Immittance::Lump(l) => Some(l.kind),
        _ => None,
    }
}

fn amplifier(seen: &Seen, amp: &Amplifier) -> Sentence {
    let name = &amp.name;
    let start = |called: &str| Sentence(Vec::new()).say(format!("{name} is {called}: "));
    if let Some(sentence) = second_order(seen, amp) {
        return sentence;
    }
    if amp.minus == amp.out {
        return start("a follower")
            .say(format!("its output is its − input, and its + input is {}.", seen.node(amp.plus)));
    }
    let at = seen.at(amp.minus);
    let Some((back, _)) = at.iter().find(|(_, other)| *other == amp.out) else {
        return Sentence(Vec::new())
            .say(format!("{name}'s feedback reaches its − input through the network around it."));
    };
    let others: Vec<&(&Branch, usize)> = at.iter().filter(|(_, other)| *other != amp.out).collect();
    let list = |mut s: Sentence, of: &[&(&Branch, usize)]| {
        for (k, (branch, from)) in of.iter().enumerate() {
            if k > 0 {
                s = s.say(if k + 1 == of.len() { " and " } else { ", " });
            }
            s = s.name(&branch.what).say(format!(" from {}", seen.node(*from)));
        }
        s
    };
    type Branches<'b> = Vec<&'b (&'b Branch, usize)>;
    let (to_ground, from_nodes): (Branches, Branches) = others.iter().copied().partition(|(_, n)| *n == 0);
    if amp.plus == 0 {
        let called = match &from_nodes[..] {
            [(one, _)] => match (kind(&one.what), kind(&back.what)) {
                (Some(Kind::R), Some(Kind::C)) => "an inverting integrator",
                (Some(Kind::C), Some(Kind::R)) => "an inverting differentiator",
                _ => "an inverting amplifier",
            },
            [] => "an amplifier whose input is a current",
            _ => "an inverting summing amplifier",
        };
        let mut s = list(start(called), &from_nodes);
        let currents = seen.network.currents.iter().filter(|c| c[1] == amp.minus);
        for (k, [input, _]) in currents.enumerate() {
            let joint = if k > 0 || !from_nodes.is_empty() { " and " } else { "" };
            s = s.say(joint).voltage(seen.network, *input);
        }
        let joint = if s.0.len() == 1 { "" } else { " to its − input, " };
        let s = s.say(joint).name(&back.what).say(" from its output back to there");
        // What lies from the virtual earth to gnd has no say in the name.
        let s = to_ground.iter().fold(s, |s, (b, _)| s.say(", ").name(&b.what).say(" from there to gnd"));
        return s.say(", its + input at gnd.");
    }
    // Two amplifiers that share the part between their inverting inputs.
    let shared = from_nodes.iter().find_map(|(b, n)| {
        let other = seen.network.amplifiers.iter().find(|o| o.minus == *n && o.name != *name)?;
        Some((b, other))
    });
    if let Some((branch, other)) = shared {
        return start("one half of an instrumentation amplifier")
            .name(&back.what)
            .say(" from its output to its − input, ")
            .name(&branch.what)
            .say(format!(" from there to {}'s − input.", other.name));
    }
    if from_nodes.is_empty() {
        let s = start("a non-inverting amplifier").name(&back.what).say(" from its output back to its − input");
        return match &to_ground[..] {
            [(foot, _)] => s.say(", ").name(&foot.what).say(" from there to gnd."),
            _ => s.say(": no current flows in it, and the output follows the + input."),
        };
    }
    let plus = seen.at(amp.plus);
    // A signal comes from where its voltage is made, by something else than this amplifier.
    let made = |n: usize| seen.network.held(n) && n != amp.out;
    let signals = |all: &[&(&Branch, usize)]| all.iter().all(|(_, n)| *n == 0 || made(*n));
    if !signals(&from_nodes) || !(made(amp.plus) || signals(&plus.iter().collect::<Vec<_>>())) {
        return Sentence(Vec::new())
            .say(format!("{name}'s feedback reaches its inputs through the network around it."));
    }
    let fed: Vec<usize> = plus.iter().map(|(_, n)| *n).filter(|n| *n != 0).collect();
    let called = match (&fed[..], &from_nodes[..]) {
        ([p], [(_, m)]) if p == m => "an amplifier of which both inputs hang on one node, as in an all-pass",
        ([_, ..], [_]) => "a difference amplifier",
        _ => EITHER,
    };
    // What the amplifier itself moves is no signal that comes from outside: in a circle of amplifiers such a name says the wrong thing.
    let circle = moved(seen, amp);
    let comes = from_nodes.iter().map(|(_, n)| n).chain(plus.iter().map(|(_, n)| n));
    if called != EITHER && comes.into_iter().any(|n| circle.contains(n)) {
        let others = seen.network.amplifiers.iter().filter(|o| o.name != *name && circle.contains(&o.out));
        let others: Vec<String> = others.map(|o| o.name.clone()).collect();
        return Sentence(Vec::new()).say(format!(
            "{name} stands in a circle of amplifiers: its output comes back to its inputs by way of {}.",
            crate::redrawn::listed(&others)
        ));
    }
    list(start(called), &from_nodes).say(" to its − input, ").name(&back.what).say(" from its output back to there.")
}

/// The outputs of other amplifiers that one amplifier's output moves, over parts and over others.
fn moved(seen: &Seen, amp: &Amplifier) -> Vec<usize> {
    let (mut reached, mut open) = (vec![amp.out], vec![amp.out]);
    let mut outputs = Vec::new();
    while let Some(node) = open.pop() {
        let beside = seen.at(node).into_iter().map(|(_, n)| n).filter(|n| *n != 0 && !seen.network.held(*n));
        let others = seen.network.amplifiers.iter().filter(|o| o.name != amp.name);
        let behind: Vec<usize> = others.filter(|o| o.plus == node || o.minus == node).map(|o| o.out).collect();
        outputs.extend(behind.iter().copied().filter(|n| !outputs.contains(n)).collect::<Vec<_>>());
        for next in beside.chain(behind).collect::<Vec<_>>() {
            if !reached.contains(&next) {
                reached.push(next);
                open.push(next);
            }
        }
    }
    outputs
}

/// What an amplifier is called into both of whose inputs signals come.
const EITHER: &str = "an amplifier with a signal at either input";

/// Second-order sections of one amplifier.
fn second_order(seen: &Seen, amp: &Amplifier) -> Option<Sentence> {
    let network = seen.network;
    let name = &amp.name;
    let free = |n: &usize| !network.held(*n);
    if amp.plus != 0 && free(&amp.plus) {
        // From the + input one branch goes to the reference and one to a node from which another comes back from the output.
        let at = seen.at(amp.plus);
        let ([(first, x)], true) =
            (&at.iter().filter(|(_, n)| *n != 0).copied().collect::<Vec<_>>()[..], at.iter().any(|(_, n)| *n == 0))
        else {
            return None;
        };
        if !free(x) || seen.between(*x, amp.out).is_none() {
            return None;
        }
        let back = seen.between(*x, amp.out)?;
        let foot = seen.between(amp.plus, 0)?;
        // As a low-pass the shunts are capacitors, as a high-pass or a band-pass the part in the row is.
        let kinds = [&back.what, &first.what, &foot.what].map(kind);
        if kinds != [Some(Kind::C), Some(Kind::R), Some(Kind::C)]
            && kinds != [Some(Kind::R), Some(Kind::C), Some(Kind::R)]
        {
            return None;
        }
        return Some(
            Sentence(Vec::new())
                .say(format!("{name} makes a Sallen-Key section: "))
                .name(&back.what)
                .say(format!(" from its output back to {}, ", seen.node(*x)))
                .name(&first.what)
                .say(" from there to its + input, ")
                .name(&foot.what)
                .say(" from the + input to gnd."),
        );
    }
    if amp.plus == 0 {
        let at = seen.at(amp.minus);
        let (back, _) = at.iter().find(|(_, n)| *n == amp.out)?;
        let (first, x) = at.iter().find(|(_, n)| free(n) && seen.between(*n, amp.out).is_some())?;
        let second = seen.between(*x, amp.out)?;
        return Some(
            Sentence(Vec::new())
                .say(format!("{name} makes a section with multiple feedback: "))
                .name(&back.what)
                .say(" from its output to its − input and ")
                .name(&second.what)
                .say(format!(" to {}, from where ", seen.node(*x)))
                .name(&first.what)
                .say(" leads to the − input."),
        );
    }
    None
}
