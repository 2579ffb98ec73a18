//! A stage by itself as the solver sees it, which every working is held against before it is shown.

use std::sync::Arc;

use analysis::plan::{Gain, Impedance};
use analysis::positions::Stand;
use analysis::response::Response;
use analysis::{Factored, Inputs, Network, Plan, Sound};
use circuit::expr::evaluate;
use circuit::{Circuit, GROUND, Name, NodeId, Point, Position, Source, SourceKind, Standing};
use notation::tree::Expr;
use num_complex::Complex64;

use crate::database::query;
use crate::derived::taken::parts;

/// A stage with an ideal source at each input and nothing at its outputs, the neglects made.
pub struct Alone {
    circuit: Circuit,
    network: Network,
    sound: Sound,
}

/// An expression is the response where they agree this closely.
const RIGHT: f64 = 1e-9;
/// So many sets of other values are tried.
const DRAWS: u32 = 3;

impl Alone {
    /// Of a circuit in which the neglects are made, driven at its inputs, at some of them by currents. `None` where it has no unique answer.
    pub fn of(bent: &Circuit, stage: circuit::StageId, inputs: &[NodeId], currents: &[NodeId]) -> Option<Alone> {
        let mut circuit = bent.clone();
        circuit.parts.iter_mut().filter(|p| p.stage != stage).for_each(|p| p.unfitted = true);
        let source = |node: &NodeId| Source {
            name: Name::from(bent.node_name(*node)),
            plus: *node,
            minus: GROUND,
            kind: if currents.contains(node) { SourceKind::Current } else { SourceKind::Voltage },
            level: None,
            implied: true,
            two: false,
        };
        circuit.sources = inputs.iter().map(source).collect();
        circuit.pairs.clear();
        circuit.trims.clear();
        parts(&circuit, stage).next()?;
        let network = Network::of(&circuit);
        let sound = Sound::of(&network)?;
        Some(Alone { circuit, network, sound })
    }

    fn planned(&self, from: NodeId, to: NodeId) -> Plan {
        let (a, b) = (Point::node(&self.circuit, from), Point::node(&self.circuit, to));
        // Per volt, or per ampere where a current drives.
        let quantity = self.network.response(&a, &b);
        analysis::plan(&self.network, &self.sound, &query(quantity, None, None))
    }

    /// The gain, or transimpedance, of an input to an output with a circuit's values and positions at each frequency.
    fn gains(
        &self,
        plan: &Plan,
        circuit: &Circuit,
        positions: &[Position],
        hertz: &[f64],
    ) -> Result<Vec<Complex64>, String> {
        let local = match plan {
            Plan::Gain(Gain::One) => return Ok(vec![Complex64::new(1.0, 0.0); hertz.len()]),
            Plan::Gain(Gain::Way { local, .. }) => local,
            Plan::Impedance(Impedance::Way { local, .. }) => local,
            Plan::Gain(Gain::Unknown(why)) | Plan::Impedance(Impedance::Unknown(why)) => return Err(why.clone()),
            _ => return Err("it is no gain".into()),
        };
        // Algebra is right or wrong whether or not the values that it is tried with would latch.
        let inputs = Inputs::of(Some(local), &self.network, circuit).standing();
        if let Some(why) = inputs.missing().map(Name::from).or_else(|| inputs.clash(positions)) {
            return Err(why.to_string());
        }
        let stand = Stand { name: "".into(), positions: positions.to_vec(), unknown: None };
        let response = Response::new(local, &inputs);
        response.along(plan, &response.values(&stand), hertz).into_iter().collect()
    }

    /// Whether an expression is the gain from each of some inputs (with a sign) to a sum of outputs (each with a sign): with the circuit's
    /// values and with others, at several positions of its controls and at several frequencies.
    pub fn confirms(&self, value: &Expr, from: (NodeId, f64), to: &[(NodeId, f64)], switches: &[Position]) -> bool {
        let plans: Vec<(Plan, f64)> = to.iter().map(|(node, sign)| (self.planned(from.0, *node), *sign)).collect();
        let (low, high) = self.circuit.band;
        let hertz: Vec<f64> = [-0.4, 0.07, 0.33, 0.61, 0.92, 1.4].iter().map(|x| low * (high / low).powf(*x)).collect();
        // Where the controls stand between their ends everything must agree; at an end an expression may divide by nothing.
        let mut seen = 0;
        for draw in 0..=DRAWS {
            let drawn = if draw == 0 { self.circuit.clone() } else { crate::hand::drawn(&self.circuit, draw, false) };
            for (travel, inside) in [(0.31, true), (0.77, true), (0.0, false), (1.0, false)] {
                let positions: Vec<Position> = switches
                    .iter()
                    .map(|p| match p {
                        Position::Travel(_) => Position::Travel(travel),
                        step => *step,
                    })
                    .collect();
                let scope = Standing { circuit: &drawn, positions: &positions };
                let mut sum = vec![Complex64::default(); hertz.len()];
                let mut sizes = vec![0.0f64; hertz.len()];
                let mut known = true;
                for (plan, sign) in &plans {
                    match self.gains(plan, &drawn, &positions, &hertz) {
                        Ok(gains) => {
                            for (k, z) in gains.iter().enumerate() {
                                sum[k] += z * *sign;
                                sizes[k] = sizes[k].max(z.norm());
                            }
                        }
                        Err(_) => known = false,
                    }
                }
                for (k, f) in hertz.iter().enumerate() {
                    let s = Complex64::new(0.0, std::f64::consts::TAU * f);
                    match evaluate(value, &scope, Some(s)) {
                        Ok(term) if known => {
                            let exact = sum[k] * from.1;
                            let size = sizes[k].max(term.value.norm());
                            if (term.value - exact).norm() > RIGHT * size {
                                return false;
                            }
                            seen += usize::from(inside);
                        }
                        _ if inside => return false,
                        _ => {}
                    }
                }
            }
        }
        seen > 0
    }

    /// Whether nothing of an input arrives at an output.
    pub fn silent(&self, from: NodeId, to: NodeId, positions: &[Position]) -> bool {
        let found = self.gains(
            &self.planned(from, to),
            &self.circuit,
            positions,
            &[self.circuit.reference, self.circuit.band.1],
        );
        // Where there is no way at all the question has no answer, which is as good.
        found.is_err() || found.is_ok_and(|all| all.iter().all(|z| z.norm() < 1e-12))
    }

    /// Whether two inputs arrive at an output equal and opposite with the circuit's own values, at a few frequencies and positions.
    pub fn opposite(&self, from: [NodeId; 2], to: NodeId, switches: &[Position]) -> bool {
        let (low, high) = self.circuit.band;
        let hertz = [low, (low * high).sqrt(), high];
        [0.13, 0.5, 0.87].iter().all(|travel| {
            let moved = |p: &Position| if matches!(p, Position::Travel(_)) { Position::Travel(*travel) } else { *p };
            let positions: Vec<Position> = switches.iter().map(moved).collect();
            let [a, b] = from.map(|n| self.gains(&self.planned(n, to), &self.circuit, &positions, &hertz));
            let (Ok(a), Ok(b)) = (a, b) else { return false };
            a.iter().zip(&b).all(|(a, b)| (a + b).norm() <= RIGHT * a.norm().max(b.norm()))
        })
    }

    /// An input's response at an output by its zeros and poles, the controls at rest but for switches that stand somewhere.
    pub fn factored(&self, from: NodeId, to: NodeId, positions: &[Position]) -> Option<Factored> {
        let plan = self.planned(from, to);
        let mut circuit = self.circuit.clone();
        for (control, position) in circuit.controls.iter_mut().zip(positions) {
            control.rest = *position;
        }
        let inputs = Arc::new(Inputs::of(plan.local(), &self.network, &circuit).standing());
        Factored::at_rest(&plan, &inputs)
    }

    /// An input's response at an output with the circuit's own values.
    pub fn gain(&self, from: NodeId, to: NodeId, positions: &[Position], hertz: f64) -> Option<Complex64> {
        self.gains(&self.planned(from, to), &self.circuit, positions, &[hertz]).ok()?.first().copied()
    }
}
