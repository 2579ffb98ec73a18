//! The circuit that a plot is of, and where it is asked to look.

use std::sync::Arc;

use analysis::positions::{Hands, Look, MOST, Stand};
use analysis::{Inputs, Plan};
use circuit::{Circuit, ControlId, ControlKind, Position, Quantity, Query, Refusal, When};

use super::{Chosen, Refused};
use crate::database::{Desk, Document, WayKey, circuit_of, inputs, planned, way};

/// The circuit, and what was chosen for all phrases.
pub(crate) struct Scene<'a> {
    pub db: &'a dyn Desk,
    pub document: Document,
    pub circuit: Arc<Circuit>,
    pub hands: Hands,
    /// The band of the sheet, in hertz, where one was asked for.
    pub over: Option<(f64, f64)>,
    /// The position, where one was asked for.
    pub when: Option<When>,
    /// Whether builds are drawn about responses.
    pub tolerance: bool,
}

/// A question's plan and its numbers.
pub(crate) type Planned = (Arc<Plan>, Arc<Inputs>);

impl<'a> Scene<'a> {
    pub fn new(db: &'a dyn Desk, document: Document) -> Scene<'a> {
        let circuit = circuit_of(db, document);
        let hands = Hands::of(&circuit);
        Scene { db, document, circuit, hands, over: None, when: None, tolerance: false }
    }

    /// Takes in what was chosen for all phrases, as it is written behind `over` and `when`.
    ///
    /// # Errors
    /// What of it cannot be meant.
    pub fn set(&mut self, chosen: Chosen) -> Result<(), Refused> {
        self.tolerance = chosen.tolerance;
        let node = self.circuit.nodes.iter().skip(1).find(|n| !n.unnamed).map(|n| n.name.clone());
        let Some(node) = node else { return Err(Refused::Not("there is no node to look at".into())) };
        let ask = |clause: String| -> Result<Query, Refused> {
            let front = format!("impedance of {node} ");
            let phrase = format!("{front}{clause}");
            let wrong = |mut fault: notation::tree::Fault| {
                let back = |at: u32| (at as usize).saturating_sub(front.len());
                fault.span = notation::tree::Span::new(back(fault.span.start), back(fault.span.end));
                Refused::Wrong { phrase: clause.clone(), fault }
            };
            let (parsed, fault) = notation::read_phrase(&phrase);
            if let Some(fault) = fault {
                return Err(wrong(fault));
            }
            match circuit::resolve::resolve(&self.circuit, &parsed) {
                Ok(mut all) if all.len() == 1 => Ok(all.remove(0)),
                Err(Refusal::Wrong(fault)) => Err(wrong(fault)),
                Err(Refusal::Undecided(why)) => Err(Refused::Not(why)),
                _ => Err(Refused::Not(format!("`{clause}` is unfinished"))),
            }
        };
        let over = chosen.over.map(|band| ask(format!("over {band}"))).transpose()?;
        let when = chosen.setting.map(|setting| ask(format!("when {setting}"))).transpose()?;
        self.over = over.and_then(|q| q.over);
        self.when = when.and_then(|q| q.when);
        Ok(())
    }

    /// A question's plan and its numbers.
    ///
    /// # Errors
    /// Where nothing can be made of the circuit.
    pub fn planned(&self, query: &Query) -> Result<Planned, String> {
        let key = WayKey::new(self.db, way(self.db, self.document, &query.quantity, query.from));
        let found = planned(self.db, self.document, key).zip(inputs(self.db, self.document, key));
        found.ok_or_else(|| "the circuit has no unique answer".to_string())
    }

    /// How closely a question is looked at.
    pub fn look<'b>(&self, pulse: &'b dyn Fn()) -> Look<'b> {
        Look { most: MOST, pulse }
    }

    pub fn pulse(&self) {
        self.db.unwind_if_revision_cancelled();
    }

    /// The question at one position.
    pub fn at(&self, query: &Query, stand: &Stand) -> Query {
        let all = stand.positions.iter().enumerate();
        let positions = all.map(|(i, p)| (ControlId(i as u32), *p)).collect();
        Query { when: Some(When { name: stand.name.clone(), positions, unread: Vec::new() }), ..query.clone() }
    }

    /// The one position at which a question is drawn beside others: where it says, where all do, or at rest.
    pub fn stand(&self, query: &Query, on: &[ControlId]) -> Stand {
        match query.when.as_ref().or(self.when.as_ref()) {
            Some(when) => self.hands.when(when, on),
            None => self.hands.rest(),
        }
    }

    /// One control elsewhere.
    pub fn moved(&self, stand: &Stand, control: ControlId, position: Position) -> Stand {
        let mut moved = stand.clone();
        moved.positions[control.at()] = position;
        moved.name = format!("{} {}", self.hands.controls[control.at()].name, self.hands.say(control, position)).into();
        moved
    }

    /// The positions at which a curve is drawn as a family: of one control both ends and rest, of a switch each, of several the named settings
    /// and rest.
    pub fn family(&self, query: &Query, on: &[ControlId]) -> Vec<Stand> {
        let stand = self.stand(query, on);
        if query.when.is_some() || self.when.is_some() || on.is_empty() {
            return vec![stand];
        }
        if let [control] = on {
            let c = &self.hands.controls[control.at()];
            let positions: Vec<Position> = match &c.kind {
                ControlKind::Travel(_) => {
                    let mut all = vec![Position::Travel(0.0), Position::Travel(1.0)];
                    if !all.contains(&c.rest) {
                        all.insert(1, c.rest);
                    }
                    all
                }
                ControlKind::Steps { positions, .. } => positions.iter().take(8).map(|p| Position::Step(*p)).collect(),
            };
            return positions.into_iter().map(|p| self.moved(&stand, *control, p)).collect();
        }
        let mut all: Vec<Stand> = Vec::new();
        let mut add = |stand: Stand| {
            let alike = |s: &Stand| on.iter().all(|c| s.positions[c.at()] == stand.positions[c.at()]);
            if stand.unknown.is_none() && !all.iter().any(alike) && all.len() < 6 {
                all.push(stand);
            }
        };
        for setting in &self.hands.settings {
            add(self.hands.when(&setting.when(), on));
        }
        add(Stand { name: "at rest".into(), ..stand.clone() });
        // Where nothing is named, all at one end and all at the other.
        if self.hands.settings.is_empty() {
            for (name, last) in [("all at one end", false), ("all at the other", true)] {
                let mut end = Stand { name: name.into(), ..stand.clone() };
                for c in on {
                    end.positions[c.at()] = match &self.hands.controls[c.at()].kind {
                        ControlKind::Travel(_) => Position::Travel(if last { 1.0 } else { 0.0 }),
                        ControlKind::Steps { positions, .. } => {
                            let at = if last { positions.last() } else { positions.first() };
                            at.map_or(end.positions[c.at()], |p| Position::Step(*p))
                        }
                    };
                }
                add(end);
            }
        }
        all
    }

    /// What a plot of a question is called.
    pub fn titled(&self, query: &Query, on: &[ControlId]) -> String {
        let when = self.when.as_ref().filter(|_| query.when.is_none());
        let mut title = query.phrase.to_string();
        if let Some(when) = when {
            title.push_str(&format!(" when {}", when.name));
        } else if let ([control], None) = (on, &query.when) {
            title.push_str(&format!(" over {}", self.hands.controls[control.at()].name));
        }
        title
    }
}

/// Whether what is asked is a response from one place to another, so that it has a curve in decibels, and from where to where.
pub(crate) fn ends(quantity: &Quantity) -> Option<(&circuit::Point, &circuit::Point)> {
    use circuit::Measure::{Delay, Flatness, InputNoise, InputNoiseDensity, Rejection};
    match quantity {
        Quantity::Gain(a, b)
        | Quantity::Phase(a, b)
        | Quantity::LowCorner(a, b)
        | Quantity::HighCorner(a, b)
        | Quantity::Transimpedance(a, b)
        | Quantity::Measure(
            Delay(a, b) | Flatness(a, b) | InputNoise(a, b) | InputNoiseDensity(a, b) | Rejection(a, b),
        ) => Some((a, b)),
        _ => None,
    }
}
