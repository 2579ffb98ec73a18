//! Assumptions: what is neglected, over which band, how much it may cost, and the circuit in which it is neglected.

use notation::Name;
use notation::tree::{Amount, AssumeClause, AssumeEntry, QuantityPhrase, Subject};
use quantity::{Unit, Want};

use crate::circuit::{Circuit, Given, NodeId, Part, PartId, PartKind, Ratings, Stage, StageId};
use crate::expr;
use crate::{library, piece};

/// One neglect.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Neglect {
    /// The part's ends are joined.
    Short(PartId),
    /// The part is not there.
    Open(PartId),
    /// The amplifier is the ideal one.
    Ideal(PartId),
    /// The stage's input ports draw nothing.
    Undrawn(StageId),
}

/// How much a neglect may cost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Allowed {
    /// In decibels.
    Decibels(f64),
    /// As a share of the magnitude.
    Share(f64),
}

impl Default for Allowed {
    /// Where nothing is written: a tenth of a decibel.
    fn default() -> Self {
        Allowed::Decibels(0.1)
    }
}

/// An entry of `assume`, read in its circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// What is neglected, each alone.
    pub neglects: Vec<Neglect>,
    /// Where the band begins, in hertz; `None`: where the design's does.
    pub from: Option<f64>,
    /// Where it ends.
    pub to: Option<f64>,
    /// What the cost is looked for in, where that is written.
    pub on: Option<QuantityPhrase>,
    /// What it may cost, where the entry says so itself.
    pub within: Option<Allowed>,
}

/// Reads an entry of `assume`.
///
/// # Errors
/// A clause that says what of it cannot be read; at its place that is told by itself.
pub fn assumption(circuit: &Circuit, entry: &AssumeEntry) -> Result<Assumption, Name> {
    let neglect = entry.neglect.as_ref().map_or("", |w| &*w.text);
    let mut found = Assumption { neglects: Vec::new(), from: None, to: None, on: None, within: None };
    for subject in &entry.subjects {
        match subject {
            Subject::Part(part) => {
                let parts = crate::design::parts_of(circuit, part);
                if parts.is_empty() {
                    return Err(format!("there is no part {}", part.part.text).into());
                }
                for id in parts {
                    let amplifier = matches!(circuit.parts[id.at()].kind, PartKind::Amplifier { .. });
                    found.neglects.push(match (neglect, amplifier) {
                        ("short", false) => Neglect::Short(id),
                        ("open", false) => Neglect::Open(id),
                        ("ideal", true) => Neglect::Ideal(id),
                        _ => return Err(format!("{} cannot be neglected as {neglect}", part.part.text).into()),
                    });
                }
            }
            Subject::Stage(name) => {
                let name = name.as_ref().map_or("", |w| &*w.text);
                let stage = circuit.stages.iter().position(|s| &*s.name == name);
                match stage.filter(|_| neglect == "open") {
                    Some(s) => found.neglects.push(Neglect::Undrawn(StageId(s as u32))),
                    None => return Err(format!("stage {name} cannot be neglected so").into()),
                }
            }
        }
    }
    for clause in &entry.clauses {
        match clause {
            AssumeClause::Above(f) => found.from = Some(frequency(circuit, f.as_ref())?),
            AssumeClause::Below(f) => found.to = Some(frequency(circuit, f.as_ref())?),
            AssumeClause::Over(a, b) => {
                found.from = Some(frequency(circuit, a.as_ref())?);
                found.to = Some(frequency(circuit, b.as_ref())?);
            }
            AssumeClause::On(quantity) => {
                found.on = Some(quantity.clone().ok_or_else(|| Name::from("its quantity is unfinished"))?);
            }
            AssumeClause::Within(error) => {
                let error = error.as_ref().ok_or_else(|| Name::from("what it may cost is unfinished"))?;
                found.within = Some(allowed(circuit, error)?);
            }
        }
    }
    Ok(found)
}

/// What a neglect may cost, as it is written behind `within`.
///
/// # Errors
/// A clause: it cannot be read.
pub fn allowed(circuit: &Circuit, amount: &Amount) -> Result<Allowed, Name> {
    let lost = || Name::from("what it may cost cannot be read");
    let (x, unit) = match amount {
        Amount::Figure(figure) => piece::decode(figure, Want::Any).map(|(x, unit, _)| (x, unit)).map_err(|_| lost())?,
        Amount::Expression(expr) => {
            let tried = expr::wanted(expr, circuit, Want::Decibels);
            tried.or_else(|_| expr::wanted(expr, circuit, Want::Percentage)).map_err(|_| lost())?
        }
    };
    match unit {
        Unit::Decibel if x > 0.0 => Ok(Allowed::Decibels(x)),
        Unit::Percent if x > 0.0 => Ok(Allowed::Share(x / 100.0)),
        _ => Err(lost()),
    }
}

fn frequency(circuit: &Circuit, amount: Option<&Amount>) -> Result<f64, Name> {
    let lost = || Name::from("its band cannot be read");
    let f = match amount.ok_or_else(lost)? {
        Amount::Figure(figure) => piece::decode(figure, Want::Frequency).map_err(|_| lost())?.0,
        Amount::Expression(expr) => expr::wanted(expr, circuit, Want::Frequency).map_err(|_| lost())?.0,
    };
    if f.is_finite() && f > 0.0 { Ok(f) } else { Err(lost()) }
}

impl Circuit {
    /// The circuit with these neglected. Parts, nodes, stages and controls keep their numbers; new ones stand behind the old.
    pub fn neglecting(&self, neglects: &[Neglect]) -> Circuit {
        let mut circuit = self.clone();
        for neglect in neglects {
            match *neglect {
                Neglect::Short(id) => short(&mut circuit.parts[id.at()]),
                Neglect::Open(id) => circuit.parts[id.at()].unfitted = true,
                Neglect::Ideal(id) => {
                    if let PartKind::Amplifier { sheet, .. } = &mut circuit.parts[id.at()].kind {
                        *sheet = library::ideal();
                    }
                }
                Neglect::Undrawn(id) => undraw(&mut circuit, id),
            }
        }
        circuit
    }
}

/// Joins the ends of a part.
fn short(part: &mut Part) {
    let nothing = || Given::Number(0.0);
    match &mut part.kind {
        PartKind::Capacitor { ends, .. } => part.kind = PartKind::Resistor { ends: *ends, ohms: nothing() },
        PartKind::Switch { contacts, .. } => {
            if let [(_, ends)] = contacts[..] {
                part.kind = PartKind::Resistor { ends, ohms: nothing() };
            }
        }
        PartKind::Resistor { ohms: value, .. }
        | PartKind::Variable { ohms: value, .. }
        | PartKind::Inductor { henries: value, .. } => *value = nothing(),
        PartKind::Amplifier { .. } => {}
    }
}

/// Puts a follower in front of each input port of a stage: the stage hears what stood there, and draws nothing.
fn undraw(circuit: &mut Circuit, id: StageId) {
    let Stage { name, inputs, .. } = circuit.stages[id.at()].clone();
    for (k, port) in inputs.into_iter().enumerate() {
        let behind = NodeId(circuit.nodes.len() as u32);
        circuit.nodes.push(crate::circuit::Node { name: format!("{name}.{}", k + 1).into(), unnamed: true });
        for part in circuit.parts.iter_mut().filter(|p| p.stage == id) {
            part.kind.rewire(port, behind);
        }
        let kind = PartKind::Amplifier { sheet: library::ideal(), plus: port, minus: behind, out: behind, rails: None };
        circuit.parts.push(Part {
            name: format!("{name}'s input {}", k + 1).into(),
            stage: id,
            unfitted: false,
            external: true,
            kind,
            tolerance: None,
            ratings: Ratings::default(),
            note: None,
            made_of: Vec::new(),
            exact: None,
            copy_of: None,
        });
    }
}

impl PartKind {
    /// Moves all ends that stand at one node to another.
    fn rewire(&mut self, from: NodeId, to: NodeId) {
        let each = |node: &mut NodeId| {
            if *node == from {
                *node = to;
            }
        };
        match self {
            PartKind::Resistor { ends, .. } | PartKind::Capacitor { ends, .. } | PartKind::Inductor { ends, .. } => {
                ends.iter_mut().for_each(each);
            }
            PartKind::Variable { ccw, wiper, cw, .. } => {
                [ccw.as_mut(), Some(wiper), cw.as_mut()].into_iter().flatten().for_each(each);
            }
            PartKind::Switch { contacts, .. } => contacts.iter_mut().flat_map(|(_, ends)| ends).for_each(each),
            PartKind::Amplifier { plus, minus, out, .. } => [plus, minus, out].into_iter().for_each(each),
        }
    }
}
