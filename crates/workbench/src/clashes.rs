//! Contacts, wipers and links that put two voltages on one node at some position.

use std::collections::HashSet;
use std::ops::Range;

use analysis::{Network, Sound};
use circuit::Circuit;

use crate::plain::{Problem, Severity};

/// What is said about them, once a part; the place is that of a part.
pub(crate) fn problems(
    network: &Network,
    sound: &Sound,
    circuit: &Circuit,
    place: impl Fn(usize) -> Option<Range<usize>>,
) -> Vec<Problem> {
    let mut named = HashSet::new();
    let mut found = Vec::new();
    for clash in &sound.clashes {
        let flaw = sound.flaws.iter().any(|f| f.is_fight() && *f.clause == *clash.clause);
        let fresh = !flaw && clash.parts.iter().all(|p| !named.contains(p)) && clash.reachable(network, circuit);
        let Some(first) = clash.parts.first().filter(|_| fresh) else { continue };
        named.extend(clash.parts.iter().copied());
        let part = &circuit.parts[first.at()].name;
        let there = if clash.zero.is_empty() { "" } else { " there" };
        let message = match clash.soft {
            false => format!(
                "{}. What hangs on it is unknown{there}; a resistor in series with {part} would keep the two apart.",
                clash.clause
            ),
            true => format!(
                "{}: an output works against it{there} with all the current that it can give. A resistor in series with {part} would keep the two apart.",
                clash.clause
            ),
        };
        found.extend(place(first.at()).map(|range| Problem {
            range,
            severity: Severity::Warning,
            id: "two-voltages",
            message,
            names: clash.names.clone(),
            fixes: Vec::new(),
            unfinished: false,
        }));
    }
    found
}
