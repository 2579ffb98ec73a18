//! A build: one circuit of many made from a design, and what a reading is in it.

use std::sync::Arc;

use circuit::{Circuit, ControlId, Given, Measure, NodeId, PartId, Position, Quantity, Query};
use num_complex::Complex64;
use pencil::Lane;

use crate::network::Network;
use crate::plan::{Impedance, Local, Plan};
use crate::positions::Stand;
use crate::reading::{Kind, Place};
use crate::response::{Inputs, over, ratio};
use crate::soundness::Sound;
use crate::{answer, measure};

/// What makes a build differ from the design.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Build {
    /// What parts' values are multiplied by, in the order of the parts.
    pub factors: Vec<(PartId, f64)>,
    /// What rails' voltages are multiplied by.
    pub rails: Vec<(NodeId, f64)>,
    /// Where its presets stand.
    pub travels: Vec<(ControlId, f64)>,
}

impl Build {
    /// Where the controls stand.
    fn stand(&self, stand: &Stand) -> Stand {
        let mut stand = stand.clone();
        for (control, travel) in &self.travels {
            stand.positions[control.at()] = Position::Travel(*travel);
        }
        stand
    }
}

/// A reading in one build at one position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Least and greatest: two only over a band.
    pub ends: [f64; 2],
    /// What is nearly linear in the parts' values, and the ends follow from by the way's [`Scale`].
    pub steer: [Complex64; 2],
}

/// How a value follows from what is nearly linear in the parts' values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// It is that.
    Real,
    /// Its magnitude.
    Size,
    /// Its magnitude with the sign of its real part.
    Signed,
    /// Its magnitude, with a minus sign for a negative resistance.
    Resistance,
    /// −20 log of its magnitude, as a rejection is told.
    Decibels,
}

impl Scale {
    /// The value.
    pub fn value(self, z: Complex64) -> f64 {
        match self {
            Scale::Real => z.re,
            Scale::Size => z.norm(),
            Scale::Signed if z.re < 0.0 => -z.norm(),
            Scale::Signed => z.norm(),
            Scale::Resistance => crate::print::resistance(z),
            Scale::Decibels => measure::rejected(z),
        }
    }
}

/// How a reading is had in builds, with all that they have in common.
pub enum Way<'a> {
    /// By the plan of a question.
    Local {
        /// The plan.
        plan: &'a Plan,
        /// Its equations.
        local: &'a Local,
        /// Nominal numbers.
        inputs: Inputs,
        /// The topology.
        network: &'a Network,
        /// The question.
        query: &'a Query,
        /// The scale of a gain or an impedance.
        scale: Scale,
        /// In degrees: phases are told in the turn of this one.
        turn: f64,
    },
    /// By the gains of a difference and of a common mode, whose quotient is linear where the nominal parts match.
    Pair {
        /// The equations of both.
        locals: [Box<Local>; 2],
        /// Nominal numbers of both.
        inputs: [Inputs; 2],
        /// The topology.
        network: &'a Network,
        /// In hertz.
        hertz: f64,
    },
    /// By the whole circuit.
    Whole {
        /// Its equations.
        whole: &'a measure::Whole,
        /// The nominal circuit.
        circuit: &'a Arc<Circuit>,
        /// The question.
        query: &'a Query,
    },
}

/// Builds whose numbers stand in memory at once.
const TOGETHER: usize = 256;

type Row = Result<Vec<Complex64>, ()>;

impl<'a> Way<'a> {
    /// How a question is had in builds; `None` where it is the same in all. A gain, a phase or an impedance is told on a scale and, in
    /// degrees, in the turn of an angle.
    ///
    /// # Errors
    /// Why it cannot be planned: a clause.
    pub fn of(
        network: &'a Network,
        sound: &Sound,
        whole: Option<&'a measure::Whole>,
        circuit: &'a Arc<Circuit>,
        plan: &'a Plan,
        query: &'a Query,
        (scale, turn): (Scale, f64),
    ) -> Result<Option<Way<'a>>, String> {
        if let (Quantity::Measure(measure), Some(whole)) = (&query.quantity, whole) {
            if let Measure::Rejection(pair, to) = measure
                && let Some((hot, cold)) = pair.ends()
            {
                let locals = crate::plan::pair_gains(network, sound, hot, cold, to)?;
                let inputs = [0, 1].map(|i| Inputs::of(Some(&locals[i]), network, circuit));
                let hertz = query.at.unwrap_or(circuit.reference);
                return Ok(Some(Way::Pair { locals, inputs, network, hertz }));
            }
            return Ok(Some(Way::Whole { whole, circuit, query }));
        }
        let Some(local) = plan.local() else { return Ok(None) };
        let inputs = Inputs::of(Some(local), network, circuit);
        Ok(Some(Way::Local { plan, local, inputs, network, query, scale, turn }))
    }

    /// Whether it is one value a build: over a band a gain is two.
    pub fn single(&self) -> bool {
        let Way::Local { inputs, query, .. } = self else { return true };
        !matches!(answer::place(answer::kind(&query.quantity), inputs, query), Place::Over(..))
    }

    /// The parts that the reading hangs on.
    pub fn parts(&self) -> Vec<PartId> {
        let of = |local: &Local, network: &Network| -> Vec<PartId> {
            local.parameters.iter().map(|p| network.parameters[*p as usize].0).collect()
        };
        match self {
            Way::Local { local, network, .. } => of(local, network),
            Way::Pair { locals, network, .. } => locals.iter().flat_map(|l| of(l, network)).collect(),
            Way::Whole { whole, circuit, query } => measure::parts(whole, circuit, query),
        }
    }

    /// The rails whose voltages it may hang on.
    pub fn rails(&self) -> Vec<NodeId> {
        let Way::Whole { circuit, query, .. } = self else { return Vec::new() };
        let Quantity::Measure(measure) = &query.quantity else { return Vec::new() };
        if !measure::at_rest(measure) {
            return Vec::new();
        }
        circuit.supplies.iter().flat_map(|s| &s.rails).map(|r| r.0).collect()
    }

    /// The controls that move it.
    pub fn controls(&self) -> Vec<ControlId> {
        match self {
            Way::Local { local, .. } => local.controls.clone(),
            Way::Pair { locals: [a, b], .. } => {
                let mut all: Vec<ControlId> = a.controls.iter().chain(&b.controls).copied().collect();
                all.sort_unstable();
                all.dedup();
                all
            }
            Way::Whole { whole, circuit, query } => measure::controls(whole, circuit, query),
        }
    }

    /// How the ends follow from what is steered by.
    pub fn scale(&self) -> Scale {
        match self {
            Way::Pair { .. } => Scale::Decibels,
            Way::Local { scale, .. } if self.at_once().is_some() => *scale,
            _ => Scale::Real,
        }
    }

    /// Whether many builds are read about as fast as a few.
    pub fn quick(&self) -> bool {
        matches!(self, Way::Pair { .. }) || self.at_once().is_some()
    }

    /// The frequency of a question that takes one solution a build.
    fn at_once(&self) -> Option<f64> {
        let Way::Local { inputs, query, .. } = self else { return None };
        let kind = answer::kind(&query.quantity);
        match answer::place(kind, inputs, query) {
            Place::At(f) if inputs.types.iter().all(|t| !t.1) && inputs.missing().is_none() => Some(f),
            _ => None,
        }
    }

    /// The reading in each build at one position of the controls. `pulse` is called now and then: it may unwind.
    pub fn see(&self, stand: &Stand, builds: &[Build], pulse: &dyn Fn()) -> Vec<Result<Seen, String>> {
        let mut all = Vec::with_capacity(builds.len());
        for some in builds.chunks(TOGETHER) {
            pulse();
            match (self, self.at_once()) {
                (Way::Local { local, inputs, network, .. }, Some(hertz)) => {
                    let (rows, numbers) = rows(local, inputs, network, stand, some, hertz);
                    for ((row, numbers), build) in rows.into_iter().zip(&numbers).zip(some) {
                        // What the kept order does not settle is taken with all care, one by one.
                        let seen = row.ok().and_then(|row| self.seen(&row, hertz, numbers));
                        all.push(seen.map_or_else(|| self.carefully(stand, build), Ok));
                    }
                }
                (Way::Pair { locals, inputs, network, hertz }, _) => {
                    let both = [0, 1].map(|i| rows(&locals[i], &inputs[i], network, stand, some, *hertz).0);
                    let [differential, common] = both;
                    all.extend(differential.into_iter().zip(common).map(|pair| match pair {
                        (Ok(d), Ok(c)) if d[0].norm() > 0.0 => {
                            let steer = c[0] / d[0];
                            Ok(Seen { ends: [Scale::Decibels.value(steer); 2], steer: [steer; 2] })
                        }
                        (Ok(_), Ok(_)) => Err("nothing of the difference arrives".into()),
                        _ => Err("at these values the circuit has no unique answer".into()),
                    }));
                }
                _ => {
                    for build in some {
                        pulse();
                        all.push(self.carefully(stand, build));
                    }
                }
            }
        }
        all
    }

    fn seen(&self, row: &[Complex64], hertz: f64, numbers: &[f64]) -> Option<Seen> {
        let Way::Local { plan, query, scale, turn, .. } = self else { return None };
        let z = match plan {
            Plan::Impedance(Impedance::Way { current, .. }) => over(row, hertz, numbers, current).ok()?,
            _ => ratio(row[1], row[0]).ok()?,
        };
        if answer::kind(&query.quantity) == Kind::Phase {
            return (z.norm() > 0.0).then(|| real(turned(z.arg().to_degrees(), *turn)));
        }
        Some(Seen { ends: [scale.value(z); 2], steer: [z; 2] })
    }

    /// One build by the same way as the design itself.
    fn carefully(&self, stand: &Stand, build: &Build) -> Result<Seen, String> {
        let stand = build.stand(stand);
        let ends = match self {
            Way::Local { plan, local, inputs, network, query, scale, turn } => {
                let inputs = inputs.scaled(network, &build.factors);
                let signed = *scale == Scale::Signed;
                let mut ends = answer::ends(plan, local, &inputs, query, &stand, signed)?;
                if answer::kind(&query.quantity) == Kind::Phase {
                    let middle = 0.5 * (ends[0] + ends[1]);
                    let shift = turned(middle, *turn) - middle;
                    ends = ends.map(|x| x + shift);
                }
                ends
            }
            Way::Whole { whole, circuit, query } => {
                measure::ends(whole, &Arc::new(built(circuit, build)), query, &stand)?
            }
            Way::Pair { .. } => return Err("at these values the circuit has no unique answer".into()),
        };
        Ok(Seen { ends, steer: ends.map(|x| Complex64::new(x, 0.0)) })
    }
}

fn real(x: f64) -> Seen {
    Seen { ends: [x; 2], steer: [Complex64::new(x, 0.0); 2] }
}

/// An angle in degrees in the turn of another.
fn turned(x: f64, near: f64) -> f64 {
    x + 360.0 * ((near - x) / 360.0).round()
}

/// What a plan wants in each build, from one replay of its kept order; and the numbers of each build.
fn rows(
    local: &Local,
    inputs: &Inputs,
    network: &Network,
    stand: &Stand,
    builds: &[Build],
    hertz: f64,
) -> (Vec<Row>, Vec<Vec<f64>>) {
    let mut factors = vec![1.0; network.pieces.len()];
    let numbers: Vec<Vec<f64>> = builds
        .iter()
        .map(|build| {
            let stand = build.stand(stand);
            build.factors.iter().for_each(|(part, factor)| factors[part.at()] = *factor);
            let mut values = vec![1.0; local.count];
            for (p, number, _) in &inputs.numbers {
                values[*p as usize] = number.at(&stand.positions) * factors[network.parameters[*p as usize].0.at()];
            }
            build.factors.iter().for_each(|(part, _)| factors[part.at()] = 1.0);
            values
        })
        .collect();
    let s = Complex64::new(0.0, std::f64::consts::TAU * hertz);
    let lanes: Vec<Lane> = numbers.iter().map(|values| Lane { s, values }).collect();
    let all = local.solver.solve(&lanes, &local.excitation, &local.wanted);
    let rows = all.chunks(local.wanted.len()).zip(builds).map(|(row, build)| {
        let positions = build.stand(stand).positions;
        // A preset may come to stand where it ties what is held, and values where a loop latches.
        if inputs.watched.iter().any(|w| w.at(&positions).is_some())
            || inputs.weighed.iter().any(|w| w.scaled(&build.factors).at(&positions).is_some())
        {
            return Err(());
        }
        row.iter().cloned().collect::<Result<_, _>>().map_err(|_| ())
    });
    (rows.collect(), numbers)
}

/// The circuit of a build.
fn built(circuit: &Circuit, build: &Build) -> Circuit {
    let mut circuit = circuit.clone();
    for (part, factor) in &build.factors {
        let kind = &mut circuit.parts[part.at()].kind;
        if let Some(x) = kind.value().and_then(Given::number) {
            kind.set_value(x * factor);
        }
    }
    for (rail, factor) in &build.rails {
        for (_, volts) in circuit.supplies.iter_mut().flat_map(|s| &mut s.rails).filter(|r| r.0 == *rail) {
            if let Given::Number(x) = volts {
                *x *= factor;
            }
        }
    }
    for (control, travel) in &build.travels {
        circuit.controls[control.at()].rest = Position::Travel(*travel);
    }
    circuit
}
