//! The network of one stage, and what a person leaves out and draws together before the first equation.

use crate::immittance::{Immittance, Kind};

/// A two-terminal part. Where a control stands in a path it is one of these, and where it divides it is two.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// As an expression of the notation names it: `R1`, `cw(VR1)`.
    pub name: String,
    /// Its kind.
    pub kind: Kind,
    /// Its ends, as indices into the nodes.
    pub ends: [usize; 2],
}

/// An ideal operational amplifier.
#[derive(Clone, Debug, PartialEq)]
pub struct Amplifier {
    /// Its designator.
    pub name: String,
    /// Non-inverting input.
    pub plus: usize,
    /// Inverting input.
    pub minus: usize,
    /// Output.
    pub out: usize,
}

/// A stage as it is worked out by hand: neglects made, what is joined by 0 Ω one node.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Network {
    /// Names of the nodes; the first is the reference.
    pub nodes: Vec<String>,
    /// Two-terminal parts.
    pub parts: Vec<Part>,
    /// Amplifiers.
    pub amplifiers: Vec<Amplifier>,
    /// Nodes that are driven by ideal sources.
    pub inputs: Vec<usize>,
    /// Of the inputs those that are currents: each, which stands among the nodes for the current alone, with the node that it flows into.
    pub currents: Vec<[usize; 2]>,
    /// Nodes that are read.
    pub outputs: Vec<usize>,
}

/// What lies between two nodes after drawing together.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// Its ends.
    pub ends: [usize; 2],
    /// What it is.
    pub what: Immittance,
    /// The first part in it, by its index: branches keep the order in which they were drawn.
    pub first: usize,
}

/// The network drawn together.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// What is left between the nodes that matter.
    pub branches: Vec<Branch>,
    /// Parts that lead nowhere: no current flows in them.
    pub idle: Vec<String>,
    /// Parts between nodes whose voltages are given: they draw current and change nothing.
    pub across: Vec<(String, [usize; 2])>,
}

impl Network {
    /// Whether a node's voltage is held by a source or is the reference.
    pub fn given(&self, node: usize) -> bool {
        node == 0 || self.inputs.contains(&node)
    }

    /// The node that an input's current flows into; `None` for an input that is a voltage.
    pub fn current(&self, input: usize) -> Option<usize> {
        self.currents.iter().find(|c| c[0] == input).map(|c| c[1])
    }

    /// Whether a node's voltage is given or made by an amplifier.
    pub fn held(&self, node: usize) -> bool {
        self.given(node) || self.amplifiers.iter().any(|a| a.out == node)
    }

    /// Draws the network together: what lies between held nodes and what leads nowhere is left out, parts in a row and side by side become
    /// one.
    pub fn drawn(&self) -> Drawn {
        let mut branches: Vec<Branch> = Vec::new();
        let (mut idle, mut across) = (Vec::new(), Vec::new());
        for (first, part) in self.parts.iter().enumerate() {
            let [a, b] = part.ends;
            if a == b {
                idle.push(part.name.clone());
            } else if self.held(a) && self.held(b) {
                across.push((part.name.clone(), part.ends));
            } else {
                branches.push(Branch { ends: part.ends, what: Immittance::part(part.kind, &part.name), first });
            }
        }
        loop {
            if let Some((i, j)) = pair(&branches) {
                let other = branches.remove(j);
                let one = &mut branches[i];
                one.what = one.what.clone().beside(other.what);
                continue;
            }
            match self.inner(&branches) {
                None => break,
                Some((_, at)) if at.len() == 1 => {
                    let gone = branches.remove(at[0]);
                    idle.extend(names(&gone.what));
                }
                Some((node, at)) => {
                    let second = branches.remove(at[1]);
                    let one = &mut branches[at[0]];
                    let near = if one.ends[0] == node { one.ends[1] } else { one.ends[0] };
                    let far = if second.ends[0] == node { second.ends[1] } else { second.ends[0] };
                    one.what = one.what.clone().in_series(second.what);
                    one.ends = [near, far];
                    if near == far || (self.held(near) && self.held(far)) {
                        let gone = branches.remove(at[0]);
                        across.extend(names(&gone.what).into_iter().map(|name| (name, gone.ends)));
                    }
                }
            }
        }
        Drawn { branches, idle, across }
    }

    /// A node without a say of its own, at which one or two branches end.
    fn inner(&self, branches: &[Branch]) -> Option<(usize, Vec<usize>)> {
        let free = |n: &usize| {
            !self.held(*n)
                && !self.outputs.contains(n)
                && self.currents.iter().all(|[input, into]| input != n && into != n)
                && !self.amplifiers.iter().any(|a| a.plus == *n || a.minus == *n)
        };
        (1..self.nodes.len()).filter(free).find_map(|n| {
            let at: Vec<usize> = (0..branches.len()).filter(|i| branches[*i].ends.contains(&n)).collect();
            (at.len() == 1 || at.len() == 2).then_some((n, at))
        })
    }
}

/// Two branches side by side.
fn pair(branches: &[Branch]) -> Option<(usize, usize)> {
    let same = |a: &Branch, b: &Branch| a.ends == b.ends || a.ends == [b.ends[1], b.ends[0]];
    (0..branches.len())
        .find_map(|i| (i + 1..branches.len()).find(|j| same(&branches[i], &branches[*j])).map(|j| (i, j)))
}

/// The parts in a two-terminal network.
pub fn names(what: &Immittance) -> Vec<String> {
    match what {
        Immittance::Lump(lump) => lump.value.parts().into_iter().map(String::from).collect(),
        Immittance::Series(all) | Immittance::Parallel(all) => all.iter().flat_map(names).collect(),
    }
}
