//! Loops that latch at some values: who does, and where the controls stand then.

use std::ops::Range;
use std::sync::Arc;

use analysis::latching::Latched;
use analysis::positions::{self, Hands};
use circuit::{Circuit, ControlId, Name, PartId};

use crate::database::{Desk, Document, circuit_of, network, sound};
use crate::plain::{Problem, Severity};

/// A loop that latches.
#[derive(Clone, Debug, PartialEq)]
pub struct Latching {
    /// The first position at which it does; empty where it does at rest.
    pub position: Name,
    /// It does at every position that was looked at.
    pub always: bool,
    /// The amplifiers of the loop.
    pub amplifiers: Vec<PartId>,
    /// The node that the first of them drives.
    pub out: Name,
    /// Who latches, and why.
    pub latched: Arc<Latched>,
}

/// The loops of a circuit that latch at the values of its parts.
#[salsa::tracked(returns(clone))]
pub fn latching(db: &dyn Desk, document: Document) -> Arc<Vec<Latching>> {
    let (Some(sound), network) = (sound(db, document), network(db, document)) else { return Arc::default() };
    if sound.balances.is_empty() {
        return Arc::default();
    }
    let circuit = circuit_of(db, document);
    let hands = Hands::of(&circuit);
    let one = |balance: &Arc<analysis::latching::Balance>| {
        db.unwind_if_revision_cancelled();
        let weighed = balance.weighed(&network, &circuit);
        let mut on: Vec<ControlId> = balance.parts(&network).filter_map(|p| network.pieces[p.at()].control).collect();
        on.sort_unstable();
        on.dedup();
        let mut stands = vec![hands.rest()];
        stands.extend(hands.examined(&on, positions::MOST).into_iter().take(positions::SOUGHT));
        // A setting that cannot be read is no position.
        stands.retain(|s| s.unknown.is_none());
        let mut first: Option<(Name, Arc<Latched>)> = None;
        let mut always = true;
        for stand in &stands {
            match weighed.at(&stand.positions) {
                Some(latched) => drop(first.get_or_insert((stand.name.clone(), latched))),
                None => always = false,
            }
        }
        let (position, latched) = first?;
        let of: Vec<_> = latched.of.iter().map(|i| &balance.amplifiers[*i]).collect();
        let amplifiers = of.iter().map(|a| a.part).collect();
        let out = of.first()?.out.clone();
        Some(Latching { position, always, amplifiers, out, latched })
    };
    Arc::new(sound.balances.iter().filter_map(one).collect())
}

/// What is said about them; the place is that of a part.
pub(crate) fn problems(
    circuit: &Circuit,
    found: &[Latching],
    place: impl Fn(usize) -> Option<Range<usize>>,
) -> Vec<Problem> {
    let one = |l: &Latching| {
        let mut names: Vec<String> = l.amplifiers.iter().map(|p| circuit.parts[p.at()].name.to_string()).collect();
        let message = message(l);
        names.push(l.out.to_string());
        Some(Problem {
            range: place(l.amplifiers.first()?.at())?,
            severity: if l.position.is_empty() { Severity::Error } else { Severity::Warning },
            id: "latching",
            message,
            names,
            fixes: Vec::new(),
            unfinished: false,
        })
    };
    found.iter().filter_map(one).collect()
}

fn message(l: &Latching) -> String {
    if l.latched.even {
        let at = if l.position.is_empty() { String::new() } else { format!("at {} ", l.position) };
        return format!(
            "{at}{}. A part that is off by a hair decides whether it holds or latches; a load where it feeds the + side, or more to the - side, would hold it.",
            l.latched.clause
        );
    }
    let at = if l.position.is_empty() { String::new() } else { format!(" at {}", l.position) };
    let clause = l.latched.clause.replacen(" latches", &format!(" latches{at}"), 1);
    let mend = match &l.amplifiers[..] {
        [_] if l.always && !l.latched.high => "With + and - exchanged the loop holds.",
        [_] => "Less of it to the + input, or more to the - input, would hold it.",
        _ => "One side of the loop turned over, or less fed back, would hold it.",
    };
    format!("{clause}, so whatever moves it is driven further, until it stands at a rail. {mend}")
}
