//! A network in short words, for the tests: `in -> out; R1 in sum; U1a gnd sum out`.

use derivation::{Amplifier, Kind, Network, Part};

/// Reads one.
pub fn network(text: &str) -> Network {
    let mut network = Network { nodes: vec!["gnd".into()], ..Network::default() };
    let node = |network: &mut Network, name: &str| {
        network.nodes.iter().position(|n| n == name).unwrap_or_else(|| {
            network.nodes.push(name.into());
            network.nodes.len() - 1
        })
    };
    for entry in text.split(';').map(str::trim).filter(|e| !e.is_empty()) {
        if let Some((from, to)) = entry.split_once("->") {
            for name in from.split_whitespace() {
                match name.strip_prefix("I(").and_then(|n| n.strip_suffix(')')) {
                    Some(name) => {
                        let n = node(&mut network, name);
                        network.nodes.push(name.into());
                        network.inputs.push(network.nodes.len() - 1);
                        network.currents.push([network.nodes.len() - 1, n]);
                    }
                    None => {
                        let n = node(&mut network, name);
                        network.inputs.push(n);
                    }
                }
            }
            for name in to.split_whitespace() {
                let n = node(&mut network, name);
                network.outputs.push(n);
            }
            continue;
        }
        let words: Vec<&str> = entry.split_whitespace().collect();
        let mut at = |k: usize| node(&mut network, words[k]);
        let name = words[0].to_string();
        if name.starts_with('U') {
            let (plus, minus, out) = (at(1), at(2), at(3));
            network.amplifiers.push(Amplifier { name, plus, minus, out });
        } else {
            let kind = match name.trim_start_matches("cw(").trim_start_matches("ccw(").chars().next() {
                Some('C') => Kind::C,
                Some('L') => Kind::L,
                _ => Kind::R,
            };
            let ends = [at(1), at(2)];
            network.parts.push(Part { name, kind, ends });
        }
    }
    network
}
