//! A way home for an input's bias current, as an edit.

use analysis::Flaw;
use argument::rules::Mend;
use circuit::PartKind;

use crate::database::{Desk, Document, assembled, layout};
use crate::plain::Fix;

/// The usual values: the least that leaves the band alone is taken.
const USUAL: [f64; 3] = [100e3, 1e6, 10e6];

/// A resistor from an input without a way for its bias current to gnd, or of a − input from its output, below the amplifier; `None` where gnd
/// is no place for it to rest.
pub(crate) fn fix(db: &dyn Desk, document: Document, flaw: &Flaw) -> Option<Fix> {
    if flaw.id != "no-bias-return" {
        return None;
    }
    let (all, layout) = (assembled(db, document), layout(db, document));
    let circuit = &all.circuit;
    let (part, node) = (flaw.part?, flaw.node?);
    let at = circuit.nodes.get(node.at())?;
    // A − input's comes from its output, which that holds at rest.
    let from = match &circuit.parts[part.at()].kind {
        PartKind::Amplifier { minus, out, .. } if *minus == node => circuit.nodes.get(out.at()),
        _ => None,
    };
    let named = |n: &circuit::Node| !n.unnamed && !n.name.contains('.');
    // From a single supply gnd is a rail, and the input is to rest in the middle.
    let single = from.is_none() && circuit.supplies.first().is_some_and(|s| s.rails.len() < 2);
    if !named(at) || from.is_some_and(|n| !named(n)) || circuit.parts[part.at()].copy_of.is_some() || single {
        return None;
    }
    let blocking = circuit.parts.iter().filter(|p| flaw.names.iter().any(|n| **n == *p.name));
    let farads = blocking.filter_map(|p| match &p.kind {
        PartKind::Capacitor { farads, .. } => Some((p, farads.number()?)),
        _ => None,
    });
    let around: Vec<_> = farads.collect();
    // The capacitor across which it stands is the one that it makes a corner with.
    let across = |p: &circuit::Part| match (&p.kind, &circuit.parts[part.at()].kind) {
        (PartKind::Capacitor { ends, .. }, PartKind::Amplifier { minus, out, .. }) if *minus == node => {
            ends.contains(minus) && ends.contains(out)
        }
        _ => false,
    };
    let beside = around.iter().copied().find(|(p, _)| across(p));
    let largest = beside.or_else(|| around.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)));
    let corner = |ohms: f64| largest.as_ref().map(|(_, c)| 1.0 / (std::f64::consts::TAU * ohms * c));
    // Half the band's lower edge: 1 dB there is still much.
    let low = |ohms: &f64| corner(*ohms).is_none_or(|f| f <= 0.5 * circuit.band.0);
    let ohms = USUAL.into_iter().find(low).unwrap_or(USUAL[2]);
    let value = quantity::canonical(ohms, quantity::Unit::Ohm)?;
    let entry = match from {
        Some(out) => format!("{} -- {{}} {value} -- {}", out.name, at.name),
        None => format!("{} -- {{}} {value} -- gnd", at.name),
    };
    let mend = Mend::Part { class: "R", entry };
    let mut fix =
        crate::review::mend::fix(db, document, &layout, document.text(db), &mend, *all.places.parts.get(part.at())?)?;
    let corner = largest.as_ref().and_then(|(c, _)| {
        let hertz = quantity::computed(corner(ohms)?, quantity::Unit::Hertz, quantity::Style::default())?;
        Some(format!(": {hertz} with {}", c.name))
    });
    fix.title.push_str(&corner.unwrap_or_default());
    Some(fix)
}
