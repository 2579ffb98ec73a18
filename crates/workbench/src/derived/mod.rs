//! The hand working of a stage, held against the solver before it is shown.

mod alone;
mod around;
mod fix;
mod latched;
mod numbers;
mod numeric;
mod shown;
mod taken;
mod words;

use std::sync::Arc;

use crate::database::{Desk, Document, circuit_of};
use crate::hints::blank;
use alone::Alone;
use circuit::{Circuit, ControlId, ControlKind, Name, Neglect, NodeId, PartId, PartKind, Position, StageId};
use derivation::{Line, Page, Refusal, Section, said};
use numeric::numeric;

pub(crate) use fix::fix;

/// A stage's derivation.
#[derive(Clone, Debug, PartialEq)]
pub struct Derivation {
    /// The stage's name.
    pub stage: Name,
    /// The whole.
    pub page: Page,
    /// The few lines that lead to the results, for a hover.
    pub short: Vec<Line>,
    /// Entries of `formula` that the file's hand model confirms.
    pub formulas: Vec<String>,
    /// Amplifiers that they take as ideal, where the file does not say as much.
    pub ideal: Vec<PartId>,
    /// Of formulas that hold only while values are alike: with which.
    notes: Vec<(String, String)>,
    /// Whether a working was found.
    pub found: bool,
}

/// Works a stage out; the whole has what takes its time too: what each neglect costs, and the roots of what is past a hand derivation.
#[salsa::tracked(returns(clone))]
pub fn derived(db: &dyn Desk, document: Document, stage: u32, whole: bool) -> Arc<Derivation> {
    let circuit = circuit_of(db, document);
    let id = StageId(stage);
    let (steady, held) = around::steadied(&circuit, id);
    let mut deriver = Deriver::new(db, document, [&circuit, &steady], &held, id, whole);
    match deriver.unfit() {
        Some(why) => deriver.put("Working", vec![said(format!("Unknown: {why}."))]),
        None => deriver.derive(),
    }
    Arc::new(deriver.done)
}

/// Positions of the switches of one stage, more than this, are not worked out one by one.
const CASES: usize = 8;

struct Deriver<'a> {
    db: &'a dyn Desk,
    document: Document,
    /// As it is written.
    written: &'a Circuit,
    /// With what other stages' amplifiers hold still as rails.
    circuit: &'a Circuit,
    held: &'a [(NodeId, PartId)],
    /// Those and the virtual earths of other stages at which what loads this one ends: the amplifiers on which the working leans.
    leant: Vec<(NodeId, PartId)>,
    id: StageId,
    neglects: Vec<Neglect>,
    /// With what takes its time: costs and roots.
    whole: bool,
    done: Derivation,
}

/// A position of the switches: as a `when` clause names it, and where all controls stand.
struct Case {
    name: String,
    positions: Vec<Position>,
}

impl<'a> Deriver<'a> {
    fn new(
        db: &'a dyn Desk,
        document: Document,
        [written, circuit]: [&'a Circuit; 2],
        held: &'a [(NodeId, PartId)],
        id: StageId,
        whole: bool,
    ) -> Deriver<'a> {
        let stage = &circuit.stages[id.at()];
        let names = |nodes: &[NodeId]| nodes.iter().map(|n| circuit.node_name(*n)).collect::<Vec<_>>().join(", ");
        let arrow = if stage.outputs.is_empty() { String::new() } else { format!(" → {}", names(&stage.outputs)) };
        let title = format!("stage {}: {}{arrow}", stage.name, names(&stage.inputs));
        let page = Page { title, sections: Vec::new() };
        let done = Derivation {
            stage: stage.name.clone(),
            page,
            short: Vec::new(),
            formulas: Vec::new(),
            ideal: Vec::new(),
            notes: Vec::new(),
            found: false,
        };
        Deriver { db, document, written, circuit, held, leant: Vec::new(), id, neglects: Vec::new(), whole, done }
    }

    fn put(&mut self, head: &str, lines: Vec<Line>) {
        if !lines.is_empty() {
            self.done.page.sections.push(Section { head: head.into(), lines });
        }
    }

    /// Why nothing can be worked out: a clause.
    fn unfit(&mut self) -> Option<String> {
        let stage = &self.circuit.stages[self.id.at()];
        let why = blank(self.db, self.document).or_else(|| self.circuit.doubled(self.id));
        if let Some(why) = why.or_else(|| stage.unread.as_ref().map(|w| w.to_string())) {
            return Some(why);
        }
        match crate::formulas::neglects(self.db, self.document, self.circuit) {
            Ok(all) => self.neglects = all,
            Err(why) => return Some(why),
        }
        if stage.outputs.iter().all(|n| taken::still(self.circuit, *n)) {
            return Some(format!("{} has no output, and so no gain to work out", stage.name));
        }
        if taken::inputs(self.circuit, self.id).is_empty() {
            return Some(format!("{} has no input that carries a signal", stage.name));
        }
        None
    }

    /// The circuit with the neglects of this stage, its amplifiers ideal, and what loads its outputs taken in.
    fn bent(&self, loads: &[PartId]) -> Circuit {
        let own = |id: &PartId| self.circuit.parts[id.at()].stage == self.id || loads.contains(id);
        let neglected = |n: &Neglect| match n {
            Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => own(id),
            Neglect::Undrawn(_) => false,
        };
        let mut all: Vec<Neglect> = self.neglects.iter().copied().filter(neglected).collect();
        for (i, part) in self.circuit.parts.iter().enumerate() {
            let id = PartId(i as u32);
            if matches!(part.kind, PartKind::Amplifier { .. }) && own(&id) && !all.contains(&Neglect::Ideal(id)) {
                all.push(Neglect::Ideal(id));
            }
        }
        let mut bent = self.circuit.neglecting(&all);
        loads.iter().for_each(|id| bent.parts[id.at()].stage = self.id);
        bent
    }

    /// The positions of the stage's switches; one where there are none, or too many.
    fn cases(&self, bent: &Circuit) -> Vec<Case> {
        let rest: Vec<Position> = bent.controls.iter().map(|c| c.rest).collect();
        let mut found = vec![Case { name: String::new(), positions: rest }];
        for (i, control) in bent.controls.iter().enumerate() {
            let id = ControlId(i as u32);
            let own = taken::parts(bent, self.id)
                .any(|p| matches!(&p.kind, PartKind::Switch { control, .. } if *control == id));
            let ControlKind::Steps { positions, .. } = &control.kind else { continue };
            if !own || found.len() * positions.len() > CASES {
                continue;
            }
            let each = found.iter().flat_map(|case| {
                positions.iter().map(|n| {
                    let mut at = case.positions.clone();
                    at[i] = Position::Step(*n);
                    let own = format!("{} {}", control.name, self.circuit.say(id, Position::Step(*n)));
                    let name = if case.name.is_empty() { own } else { format!("{}, {own}", case.name) };
                    Case { name, positions: at }
                })
            });
            found = each.collect();
        }
        found
    }

    fn derive(&mut self) {
        let around = around::around(self.circuit, self.id, &self.neglects);
        let loads: Vec<PartId> = around.loads.iter().map(|(_, id)| *id).collect();
        self.leant = self.held.iter().chain(&around.earths).copied().collect();
        let mut bent = self.bent(&loads);
        around::lay(&mut bent, around.earths.iter().map(|(node, _)| *node));
        let mut start = words::neglected(self.db, self.document, self.circuit, self.id, &self.leant, self.whole);
        start.push(words::around(self.circuit, self.id, &around));
        start.extend(self.held.iter().map(|(node, id)| words::held(self.circuit, *node, *id)));
        self.put("Assumed", start);
        if let Some((part, node, other)) = &around.entangled {
            self.put("Working", vec![words::entangled(self.circuit, self.id, part, *node, *other)]);
            return;
        }
        let inputs = taken::inputs(self.circuit, self.id);
        let Some(alone) = Alone::of(&bent, self.id, &inputs, &[]) else {
            self.put("Working", vec![said("Unknown: the stage by itself has no unique answer.")]);
            return;
        };
        let mut written = Vec::new();
        for case in self.cases(&bent) {
            let head =
                |what: &str| if case.name.is_empty() { what.to_string() } else { format!("{what}, {}", case.name) };
            let taken = match taken::taken(&bent, self.id, &case.positions, &[]) {
                Ok(taken) => taken,
                Err(why) => {
                    self.put(&head("Working"), vec![said(format!("Unknown: {why}."))]);
                    continue;
                }
            };
            self.plain(&taken, &case, &head, &mut written);
            if taken.network.outputs.is_empty() {
                continue;
            }
            if let Some(lines) = latched::latched(&bent, &taken.network, &case.positions) {
                self.done.short.push(lines[0].clone());
                self.put(&head("Working"), lines);
                continue;
            }
            match derivation::working(&taken.network) {
                Ok(working) => self.shown(&bent, &alone, &taken, &case, &working, &head, &mut written),
                Err(Refusal::NoAnswer) => {
                    // What a current source drives into a virtual earth has no voltage to begin with.
                    let currents = taken::currents(self.circuit, self.id);
                    let by_current = (!currents.is_empty())
                        .then(|| {
                            let taken = taken::taken(&bent, self.id, &case.positions, &currents).ok()?;
                            let working = derivation::working(&taken.network).ok()?;
                            Some((Alone::of(&bent, self.id, &inputs, &currents)?, taken, working))
                        })
                        .flatten();
                    match by_current {
                        Some((alone, taken, working)) => {
                            self.shown(&bent, &alone, &taken, &case, &working, &head, &mut written);
                        }
                        None => self.refused(&alone, &taken, &case, Refusal::NoAnswer, &head),
                    }
                }
                Err(refusal) => self.refused(&alone, &taken, &case, refusal, &head),
            }
        }
        self.finish(written);
    }

    /// Past a hand derivation: poles, zeros and constant from the solver.
    fn refused(
        &mut self,
        alone: &Alone,
        taken: &taken::Taken,
        case: &Case,
        refusal: Refusal,
        head: &dyn Fn(&str) -> String,
    ) {
        let mut lines = match refusal {
            Refusal::NoAnswer => {
                let current = |s: &&circuit::Source| s.kind == circuit::SourceKind::Current;
                let driven = |s: &&circuit::Source| taken.network.inputs.iter().any(|i| taken.nodes[*i] == s.plus);
                let why = match self.circuit.sources.iter().filter(current).find(driven) {
                    Some(source) => format!(
                        "{} is driven by a current, and what is worked out here is driven by voltages: the transimpedance is read and checked, not derived.",
                        source.name
                    ),
                    None => "The equations of the stage by itself, its amplifiers ideal, have no unique answer: a loop is open, or a source meets a virtual earth.".to_string(),
                };
                vec![said(why)]
            }
            Refusal::Past => vec![said("This is past a hand derivation. From the solver, with the controls at rest:")],
        };
        if refusal == Refusal::Past {
            lines.extend(self.roots(alone, taken, case));
        }
        self.done.short.push(lines[0].clone());
        self.put(&head("Working"), lines);
    }

    /// Poles, zeros and constant of every way through a stage. A hover has none: roots take their time.
    fn roots(&self, alone: &Alone, taken: &taken::Taken, case: &Case) -> Vec<Line> {
        let mut lines = Vec::new();
        if !self.whole {
            return lines;
        }
        let names: Vec<&str> = taken.network.parts.iter().map(|p| p.name.as_str()).collect();
        let mut stands = vec![numbers::Stand { name: String::new(), positions: case.positions.clone() }];
        stands
            .extend(numbers::stands(self.circuit, &case.positions, &names).into_iter().filter(|s| !s.name.is_empty()));
        for output in &taken.network.outputs {
            for input in &taken.network.inputs {
                let (from, to) = (taken.nodes[*input], taken.nodes[*output]);
                let what = format!("V({})/V({})", self.circuit.node_name(to), self.circuit.node_name(from));
                for stand in &stands {
                    let at = if stand.name.is_empty() { what.clone() } else { format!("{what} at {}", stand.name) };
                    lines.extend(numeric(alone, &at, from, to, &stand.positions, self.circuit.reference));
                }
            }
        }
        lines
    }
}

impl crate::Snapshot {
    /// The names of a file's stages that stand in its circuit, in the order written.
    pub fn stages(&self, path: &str) -> Vec<String> {
        let Some(document) = self.document(path) else { return Vec::new() };
        circuit_of(&self.database, document).stages.iter().map(|s| s.name.to_string()).collect()
    }

    /// The hand working of a stage, by its place among [`crate::Snapshot::stages`].
    pub fn derivation(&self, path: &str, stage: usize) -> Option<Arc<Derivation>> {
        let document = self.document(path)?;
        let count = circuit_of(&self.database, document).stages.len();
        (stage < count).then(|| derived(&self.database, document, stage as u32, true))
    }
}
