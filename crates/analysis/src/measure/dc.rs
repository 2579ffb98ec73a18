//! Direct voltages: `dc`, what rails and resistances set; `offset`, how far amplifiers may pull it away.

use std::collections::BTreeSet;
use std::sync::Arc;

use circuit::{Circuit, Measure, Name, NodeId, PartId, PartKind, Point, Quantity, Query, Sheet};
use pencil::Injection;
use quantity::{Style, Unit};

use super::rest::Still;
use super::{Bench, Found, Whole};
use crate::network::Network;
use crate::positions::Stand;
use crate::reading::Place;

/// In a chain of more amplifiers than these only the last one is asked whether offsets drive it to a rail: each asks for all in front of it.
pub(super) const CHAIN: usize = 24;

/// A computed value as it is printed.
pub(super) fn say(x: f64, unit: Unit) -> String {
    quantity::computed(x, unit, Style::default()).unwrap_or_else(|| "unknown".into())
}

/// The unknowns of a point.
pub(super) fn rows(point: &Point) -> Vec<u32> {
    point.terms.iter().filter_map(|(_, n)| Network::row(*n)).collect()
}

impl Bench<'_> {
    /// An amplifier's data sheet.
    pub(super) fn sheet(&self, amplifier: PartId) -> &Sheet {
        match &self.circuit.parts[amplifier.at()].kind {
            PartKind::Amplifier { sheet, .. } => sheet,
            _ => unreachable!("an amplifier's shape is an amplifier's"),
        }
    }

    /// Why an amplifier's output is at rest where no linear equation puts it: a clause. The least offset drives one without feedback
    /// as far as it can go.
    pub(super) fn at_a_rail(&self, amplifier: PartId) -> Option<String> {
        let open = |f: &&crate::soundness::Flaw| f.id == "no-feedback" && f.part == Some(amplifier);
        let flaw = self.whole.sound.flaws.iter().find(open)?;
        Some(format!("{}, so its output rests at a rail", flaw.clause))
    }

    /// Why an amplifier gives all the current that it can at rest: a clause. What it gives then is no linear circuit's.
    pub(super) fn shorted(&self, amplifier: PartId) -> Result<(), String> {
        let name = &self.circuit.parts[amplifier.at()].name;
        let short =
            |f: &&crate::soundness::Flaw| f.id == "inductor-across-source" && f.names.iter().any(|n| *n == **name);
        self.whole.sound.flaws.iter().find(short).map_or(Ok(()), |f| Err(f.clause.clone()))
    }

    /// The nodes that feed an amplifier: its own, else the first supply's, `gnd` being the second of a single one.
    ///
    /// # Errors
    /// Says why one of them is not known.
    pub(super) fn rails_of(&self, amplifier: PartId) -> Result<[NodeId; 2], String> {
        let nodes = self.feeding(amplifier)?;
        let given = |n: &NodeId| self.circuit.supplies.iter().flat_map(|s| &s.rails).find(|r| r.0 == *n);
        match nodes.iter().filter_map(given).find_map(|r| r.1.unknown()) {
            Some(why) => Err(why.to_string()),
            None => Ok(nodes),
        }
    }

    fn feeding(&self, amplifier: PartId) -> Result<[NodeId; 2], String> {
        let part = &self.circuit.parts[amplifier.at()];
        let none = || format!("{} has no supply: `supply vpos +12 V, vneg -12 V` would give it one", part.name);
        self.circuit.rails_of(part).ok_or_else(none)
    }

    /// A node's voltage as a functional.
    pub(super) fn node(&self, node: NodeId) -> pencil::Functional {
        self.functional(&Network::row(node).map(|r| (r, 1.0)).into_iter().collect::<Vec<_>>())
    }

    /// Whether the amplifiers that have a say in some unknowns at rest can stand where the linear equations put them, and give what
    /// flows there; and how many they are.
    ///
    /// # Errors
    /// Names the first that cannot: a clause.
    pub(super) fn stands(&self, stand: &Stand, still: &Still, unknowns: &[u32]) -> Result<usize, String> {
        let mut count = 0;
        let carried = super::clip::Carried::of(self, unknowns);
        let laws = self.amplifiers().into_iter().filter_map(|(id, _)| self.whole.network.pieces[id.at()].branch);
        let few = laws.filter(|law| still.matters(*law) && carried.holds(*law)).count() <= CHAIN;
        for (id, [.., out]) in self.amplifiers() {
            let Some(law) = self.whole.network.pieces[id.at()].branch.filter(|b| still.matters(*b)) else { continue };
            count += 1;
            if let Some(why) = self.at_a_rail(id).filter(|_| carried.holds(law)) {
                return Err(why);
            }
            // Where it has rails, it stays between them.
            if self.feeding(id).is_ok() {
                self.rails_of(id)?;
                self.fed(stand, id)?;
            }
            let name = &self.circuit.parts[id.at()].name;
            if let Some([v, high, low]) = self.stance(stand, id, out) {
                // A linear amplifier would go on beyond its rails; a real one stays at one of them.
                let slack = 1e-9 * (high - low);
                if v > high + slack || v < low - slack {
                    return Err(format!(
                        "{name} would have to stand at {}, beyond its rails of {} and {}",
                        say(v, Unit::Volt),
                        say(high, Unit::Volt),
                        say(low, Unit::Volt)
                    ));
                }
            }
            if few && carried.holds(law) {
                self.swamped(stand, id)?;
            }
            let sheet = self.sheet(id);
            if let Ok((most, _)) = least(sheet, "output current", &sheet.output_current) {
                let flows = still.solve(&[self.functional(&[(law, 1.0)])])?[0];
                strained(name, flows, most)?;
            }
        }
        Ok(count)
    }

    /// Whether what is drawn from rails that no supply holds leaves an amplifier something to stand on; where it is not known what that is,
    /// nothing is said here.
    ///
    /// # Errors
    /// Says that it does not: a clause.
    fn fed(&self, stand: &Stand, amplifier: PartId) -> Result<(), String> {
        let Some(behind) = self.behind().into_iter().find(|b| b.id == amplifier) else { return Ok(()) };
        if super::supply::quiescent(self, amplifier).is_err() {
            return Ok(());
        }
        let rails: Vec<u32> = behind.rails.iter().filter_map(|n| Network::row(*n)).collect();
        self.still(stand, &rails).map(|_| ())
    }

    /// Whether an amplifier's output stays between its rails with the offsets and bias currents that may come to it: beyond every rail there is no
    /// offset to speak of, it stands at one of them. Where a datum is missing, nothing is said here.
    ///
    /// # Errors
    /// By how much they are too many: a clause.
    pub(super) fn swamped(&self, stand: &Stand, amplifier: PartId) -> Result<(), String> {
        let Some(Swamped { volts, .. }) = self.swamp(stand, amplifier) else { return Ok(()) };
        let part = &self.circuit.parts[amplifier.at()];
        let PartKind::Amplifier { out, .. } = part.kind else { return Ok(()) };
        Err(format!(
            "{}'s offsets and bias currents would come to {} at {}, more than lies between its rails: it has too little feedback at rest",
            part.name,
            say(volts, Unit::Volt),
            self.circuit.node_name(out)
        ))
    }

    fn swamp(&self, stand: &Stand, amplifier: PartId) -> Option<Swamped> {
        let PartKind::Amplifier { out, .. } = self.circuit.parts[amplifier.at()].kind else { return None };
        let [_, high, low] = self.stance(stand, amplifier, out)?;
        let unknowns: Vec<u32> = Network::row(out).into_iter().collect();
        let still = self.still(stand, &unknowns).ok()?;
        let (shares, _) = shares(self, &still, &unknowns, &self.node(out)).ok()?;
        let volts = shares.iter().map(|s| s.volts).sum();
        (volts > high - low).then_some(Swamped { volts, between: high - low })
    }

    /// An amplifier's output and rails at rest, the higher rail first; none where its rails are not known.
    fn stance(&self, stand: &Stand, amplifier: PartId, out: NodeId) -> Option<[f64; 3]> {
        let [a, b] = self.rails_of(amplifier).ok()?;
        let unknowns: Vec<u32> = [a, b, out].into_iter().filter_map(Network::row).collect();
        let x = self.still(stand, &unknowns).ok()?.solve(&[self.node(out), self.node(a), self.node(b)]).ok()?;
        Some([x[0], x[1].max(x[2]), x[1].min(x[2])])
    }
}

/// The direct voltage at nominal values: amplifiers without offset and bias current.
pub(super) fn dc(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let unknowns = rows(point);
    let still = bench.still(stand, &unknowns)?;
    let mut found = Found::of(still.solve(&[bench.voltage(point)])?[0]);
    found.working.push("at rest: capacitors open, inductors short, signal sources quiet".into());
    for rail in bench.whole.network.rails.iter().filter(|r| r.branch.is_some_and(|b| still.matters(b))) {
        let volts = still.solve(&[bench.node(rail.plus)])?[0];
        found.working.push(format!("{} = {}", rail.name, say(volts, Unit::Volt)));
    }
    found.typical.extend(still.drawn.typical.iter().cloned());
    found.working.extend(still.drawn.told.iter().cloned());
    let amplifiers = bench.stands(stand, &still, &unknowns)?;
    if amplifiers > 0 {
        found.working.push("amplifiers without offset and bias current: those are `offset`".into());
    }
    for (sign, node) in point.terms.iter().filter(|_| point.terms.len() > 1) {
        let volts = still.solve(&[bench.node(*node)])?[0];
        let sign = if *sign < 0 { "−" } else { "+" };
        found.working.push(format!("{sign} {}: {}", bench.circuit.node_name(*node), say(volts, Unit::Volt)));
    }
    found.working.push(format!("{} = {}", point.name, say(found.value, Unit::Volt)));
    Ok(found)
}

/// Whether an amplifier can give what flows out of it at rest.
///
/// # Errors
/// Says by how much it cannot: a clause.
pub(super) fn strained(name: &Name, flows: f64, most: f64) -> Result<(), String> {
    let (flows, most) = (flows.abs(), most.abs());
    if flows < most {
        return Ok(());
    }
    Err(format!("{name} would have to give {} at rest, and can {}", say(flows, Unit::Ampere), say(most, Unit::Ampere)))
}

/// An output that offsets and bias currents drive as far as it can go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swamped {
    /// What they would come to, in volts.
    pub volts: f64,
    /// What lies between the rails.
    pub between: f64,
}

/// Whether offsets and bias currents drive an amplifier's output as far as it can go, with the controls at a position; `None` as well where that
/// is not known.
pub fn swamped(whole: &Whole, circuit: &Arc<Circuit>, amplifier: PartId, stand: &Stand) -> Option<Swamped> {
    let PartKind::Amplifier { out, .. } = circuit.parts[amplifier.at()].kind else { return None };
    let query = Query::of(Quantity::Measure(Measure::Offset(Point::node(circuit, out))));
    Bench { whole, circuit, query: &query, place: Place::At(circuit.reference), pulse: &|| {} }.swamp(stand, amplifier)
}

/// One cause of an offset.
struct Share {
    volts: f64,
    line: String,
}

/// The sum of an offset's causes, whether an amplifier's rails allow it or not.
pub(super) fn drift(bench: &Bench, stand: &Stand, point: &Point) -> Result<f64, String> {
    let unknowns = rows(point);
    let still = bench.still(stand, &unknowns)?;
    let (shares, _) = shares(bench, &still, &unknowns, &bench.voltage(point))?;
    Ok(shares.iter().map(|s| s.volts).sum())
}

/// What every amplifier's input offset and each input's bias current does to a sum of unknowns at rest, and the types whose typical figures
/// that rests on.
///
/// # Errors
/// Names the datum that an amplifier on the way lacks: a clause.
fn shares(
    bench: &Bench,
    still: &Still,
    unknowns: &[u32],
    wanted: &pencil::Functional,
) -> Result<(Vec<Share>, BTreeSet<Name>), String> {
    let (mut shares, mut types) = (Vec::new(), BTreeSet::new());
    let carried = super::clip::Carried::of(bench, unknowns);
    for (id, [plus, minus, _]) in bench.amplifiers() {
        let Some(law) = bench.whole.network.pieces[id.at()].branch else { continue };
        // A bias current acts on all that its input hangs on, whether or not its amplifier's output has a way there.
        let inputs = [plus, minus].map(|input| Network::injection(input, circuit::GROUND));
        let drawn = |by: &dyn Fn(u32) -> bool| inputs.iter().flatten().any(|(row, _)| still.matters(*row) && by(*row));
        if !still.matters(law) && !drawn(&|_| true) {
            continue;
        }
        let (name, sheet) = (&bench.circuit.parts[id.at()].name, bench.sheet(id));
        let passes = still.matters(law) && carried.holds(law);
        if let Some(why) = bench.at_a_rail(id).filter(|_| passes) {
            return Err(why);
        }
        let on_the_way = passes || drawn(&|row| carried.holds(row));
        let data = greatest(sheet, "input offset", &sheet.input_offset)
            .and_then(|v| Ok([v, greatest(sheet, "input bias", &sheet.input_bias)?]));
        let [(volts, guessed), (amperes, also)] = match data {
            Ok(data) => data,
            // One that only loads the point moves it by next to nothing, and need not have the data.
            Err(_) if !on_the_way => continue,
            Err(_) if sheet.ideal => {
                return Err(format!(
                    "{name} is ideal and has no offset: a type, as in `{name} fet_dual: …`, would give it one"
                ));
            }
            Err(why) => return Err(why),
        };
        if on_the_way && (guessed || also) {
            types.insert(sheet.name.clone());
        }
        // The law is a·v_out − (v₊ − v₋) = v_os: an offset voltage stands on its right-hand side. A bias current is drawn
        // from the input's node.
        let [plus, minus] = inputs.map(|equations| Injection { equations, givens: Vec::new() });
        let injections = [Injection::equation(law), plus, minus];
        let by = still.adjoint(wanted, &injections)?;
        shares.push(Share {
            volts: by[0].abs() * volts.abs(),
            line: line(name, "input offset", say(volts, Unit::Volt), times(by[0]), by[0].abs() * volts.abs()),
        });
        for (sign, ohms) in [("+", by[1]), ("-", by[2])] {
            let what = format!("bias current at {sign}");
            let share = ohms.abs() * amperes.abs();
            shares.push(Share {
                volts: share,
                line: line(name, &what, say(amperes, Unit::Ampere), say(ohms.abs(), Unit::Ohm), share),
            });
        }
    }
    Ok((shares, types))
}

/// Magnitudes added: every amplifier's input offset and each input's bias current by itself, `max` where the sheet has it.
pub(super) fn offset(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let unknowns = rows(point);
    let still = bench.still(stand, &unknowns)?;
    let (mut shares, types) = shares(bench, &still, &unknowns, &bench.voltage(point))?;
    let mut found = Found { typical: types, ..Found::default() };
    shares.sort_by(|a, b| b.volts.total_cmp(&a.volts));
    found.value = shares.iter().map(|s| s.volts).sum();
    if shares.is_empty() {
        found.working.push(format!("at rest no amplifier has a way to {}", point.name));
        return Ok(found);
    }
    let carried = super::clip::Carried::of(bench, &unknowns);
    let carrying = bench.amplifiers().into_iter().filter(|(id, _)| {
        let law = bench.whole.network.pieces[id.at()].branch.filter(|b| still.matters(*b));
        law.is_some_and(|law| carried.holds(law))
    });
    let carrying: Vec<_> = carrying.collect();
    for (id, [.., out]) in &carrying {
        let own = point.terms.len() == 1 && point.terms[0].1 == *out;
        // What its rails are has to be known where its own output is asked about.
        if own && bench.feeding(*id).is_ok() {
            bench.rails_of(*id)?;
        }
        if own || carrying.len() <= CHAIN {
            bench.swamped(stand, *id)?;
        }
    }
    found.working.push("at rest, magnitudes added, `max` where the data sheet has it".into());
    let worth = 1e-5 * found.value;
    found.working.extend(shares.iter().filter(|s| s.volts > worth).map(|s| s.line.clone()));
    let squares = shares.iter().map(|s| s.volts * s.volts).sum::<f64>().sqrt();
    found.working.push(format!(
        "sum {}; {} as a root of squares, if each goes its own way",
        say(found.value, Unit::Volt),
        say(squares, Unit::Volt)
    ));
    Ok(found)
}

fn times(gain: f64) -> String {
    let text = quantity::ratio(gain.abs(), Style::default()).unwrap_or_else(|| "unknown".into());
    text.trim_start_matches('×').to_string()
}

fn line(name: &Name, what: &str, datum: String, by: String, volts: f64) -> String {
    format!("{name}'s {what}: {datum} × {by} = {}", say(volts, Unit::Volt))
}

/// A datum's greatest figure, and `true` where it is a typical one.
pub(super) fn greatest(sheet: &Sheet, words: &str, figure: &circuit::Figure) -> Result<(f64, bool), String> {
    let nominal = sheet.datum(words, figure)?;
    Ok(match figure.max {
        Some(max) => (max, false),
        None => (nominal, true),
    })
}

/// A datum's least figure, and `true` where it is a typical one.
pub(super) fn least(sheet: &Sheet, words: &str, figure: &circuit::Figure) -> Result<(f64, bool), String> {
    let nominal = sheet.datum(words, figure)?;
    Ok(match figure.min {
        Some(min) => (min, false),
        None => (nominal, true),
    })
}
