//! Shapes that everyone draws in one way: bands of a tone control, and a string of resistors tapped by a selector.

use crate::grow::Garden;
use crate::model::Kind;

/// A potentiometer between what drives and an amplifier's output, its wiper at the inverting input.
#[derive(Clone, Debug)]
pub struct Band {
    /// The potentiometer.
    pub part: usize,
    /// Its anticlockwise end, its clockwise end and its wiper.
    pub nodes: [usize; 3],
    /// Which end lies to the left.
    pub left: usize,
    /// What drives it.
    pub driver: usize,
    /// Between that and its left end.
    pub before: Option<usize>,
    /// Between its right end and the output.
    pub behind: Option<usize>,
    /// Between the wiper and the input.
    pub wiper: Option<usize>,
    /// From the left end to the wiper.
    pub left_bridge: Option<usize>,
    /// From the wiper to the right end.
    pub right_bridge: Option<usize>,
    /// From end to end.
    pub bridge: Option<usize>,
}

/// A string of parts from an amplifier's output to ground, tapped by a selector at the inverting input.
#[derive(Clone, Debug)]
pub struct Ladder {
    /// The selector.
    pub part: usize,
    /// The taps from the output on: contacts by their numbers.
    pub taps: Vec<usize>,
    /// Between one tap and the next.
    pub steps: Vec<usize>,
    /// From the last tap to ground.
    pub foot: Option<usize>,
}

impl Garden<'_> {
    /// The bands around an amplifier; they are taken.
    pub fn bands(&mut self, minus: usize, out: usize) -> Vec<Band> {
        let mut all = Vec::new();
        for part in self.devices.clone() {
            let Kind::Variable { ccw: Some(ccw), cw: Some(cw), wiper, .. } = self.circuit.parts[part].kind else {
                continue;
            };
            let nodes = [ccw, cw, wiper];
            let found = [1, 0].into_iter().find_map(|left| self.band(part, nodes, left, minus, out));
            let Some(band) = found else { continue };
            for e in [band.before, band.behind, band.wiper, band.left_bridge, band.right_bridge, band.bridge]
                .into_iter()
                .flatten()
            {
                self.used[e] = true;
            }
            for node in nodes {
                self.claimed[node] = true;
            }
            self.placed[part] = true;
            all.push(band);
        }
        all
    }

    fn band(&self, part: usize, nodes: [usize; 3], left: usize, minus: usize, out: usize) -> Option<Band> {
        let (l, r, w) = (nodes[left], nodes[1 - left], nodes[2]);
        let free =
            |n: usize| !self.claimed[n] && !self.is_rail(n) && !self.input[n] && self.column_of_output[n].is_none();
        if self.placed[part]
            || l == r
            || l == w
            || r == w
            || !free(l)
            || (w != minus && !free(w))
            || (r != out && !free(r))
        {
            return None;
        }
        if self.right[l] || self.right[w] || (r != out && (self.left[r] || self.right[r])) {
            return None;
        }
        let (mut before, mut behind, mut wiper, mut bridges) = (None, None, None, [None; 3]);
        let put = |slot: &mut Option<usize>, e: usize| slot.replace(e).is_none();
        let mut driver = self.left[l].then_some(l);
        for node in [l, r, w] {
            if node == out || node == minus || self.left[node] {
                continue;
            }
            for e in self.edges_at(node) {
                if self.used[e] {
                    return None;
                }
                let other = self.edges[e].other(node);
                let fine = match (node, other) {
                    (n, o) if (n == l && o == r) || (n == r && o == l) => n == r || put(&mut bridges[0], e),
                    (n, o) if (n == l && o == w) || (n == w && o == l) => {
                        n == w && w != minus || put(&mut bridges[1], e)
                    }
                    (n, o) if (n == r && o == w) || (n == w && o == r) => {
                        n == w && w != minus || put(&mut bridges[2], e)
                    }
                    (n, o) if n == w && o == minus => put(&mut wiper, e),
                    (n, o) if n == r && o == out => put(&mut behind, e),
                    (n, o) if n == l && o != out && o != minus && !self.is_rail(o) => {
                        driver = Some(o);
                        put(&mut before, e)
                    }
                    _ => false,
                };
                if !fine {
                    return None;
                }
            }
            if self.touching_count(node) > 1 {
                return None;
            }
        }
        if (w != minus && wiper.is_none()) || (r != out && behind.is_none()) {
            return None;
        }
        let [bridge, left_bridge, right_bridge] = bridges;
        let driver = driver?;
        Some(Band { part, nodes, left, driver, before, behind, wiper, left_bridge, right_bridge, bridge })
    }

    /// The string that a selector taps for an amplifier; it is taken.
    pub fn ladder(&mut self, minus: usize, out: usize) -> Option<Ladder> {
        let part = self.devices.iter().copied().find(|d| {
            let kind = &self.circuit.parts[*d].kind;
            !self.placed[*d] && matches!(kind, Kind::Selector { pole, contacts, .. } if *pole == minus && contacts.iter().any(|(_, n)| *n == out))
        })?;
        let Kind::Selector { contacts, .. } = &self.circuit.parts[part].kind else { return None };
        let mut ladder = Ladder { part, taps: Vec::new(), steps: Vec::new(), foot: None };
        let mut here = out;
        loop {
            let tap = contacts.iter().position(|(_, n)| *n == here)?;
            ladder.taps.push(tap);
            if ladder.taps.len() > contacts.len() {
                return None;
            }
            let mine: Vec<usize> =
                self.edges_at(here).into_iter().filter(|e| !self.used[*e] && !ladder.steps.contains(e)).collect();
            let is_tap = |n: usize| contacts.iter().any(|(_, c)| *c == n);
            let next: Vec<usize> = mine.iter().copied().filter(|e| is_tap(self.edges[*e].other(here))).collect();
            if here != out && (self.left[here] || self.right[here] || self.claimed[here] || mine.len() != 1) {
                return None;
            }
            match next.as_slice() {
                [e] => {
                    ladder.steps.push(*e);
                    here = self.edges[*e].other(here);
                }
                [] if here != out && self.is_rail(self.edges[mine[0]].other(here)) => {
                    ladder.foot = Some(mine[0]);
                    break;
                }
                _ => return None,
            }
        }
        if ladder.taps.len() != contacts.len() {
            return None;
        }
        for e in ladder.steps.iter().chain(&ladder.foot) {
            self.used[*e] = true;
        }
        for (_, node) in contacts {
            self.claimed[*node] = true;
        }
        self.placed[part] = true;
        Some(ladder)
    }
}
