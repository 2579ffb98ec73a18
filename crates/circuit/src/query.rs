//! Questions to the circuit: what is asked, where, and how it is said.

use notation::Name;

use crate::circuit::{Circuit, ControlId, GROUND, NodeId, PartId, Position, SourceId, StageId};

/// A question to the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Query {
    /// The question in the notation's words, as a person reads it.
    pub phrase: Name,
    /// What is asked.
    pub quantity: Quantity,
    /// `at`, in hertz.
    pub at: Option<f64>,
    /// `over`, in hertz.
    pub over: Option<(f64, f64)>,
    /// `when`: the controls that it sets; the others are at rest.
    pub when: Option<When>,
    /// `from`, where the quantity takes a source.
    pub from: Option<SourceId>,
    /// `against` a frequency, in hertz.
    pub against: Option<f64>,
    /// `against` a `let` curve.
    pub curve: Option<Name>,
    /// `A-weighted`, `468-weighted`
    pub weighting: Option<Weighting>,
}

impl Query {
    /// A question without a clause, and without words of its own.
    pub fn of(quantity: Quantity) -> Query {
        Query {
            phrase: Name::default(),
            quantity,
            at: None,
            over: None,
            when: None,
            from: None,
            against: None,
            curve: None,
            weighting: None,
        }
    }
}

/// A `when` clause.
#[derive(Clone, Debug, PartialEq)]
pub struct When {
    /// As written: `low`, `VR1 30 %`.
    pub name: Name,
    /// What it sets.
    pub positions: Vec<(ControlId, Position)>,
    /// What it sets to a place that cannot be read, with a clause that says so; `None` where the control is not known.
    pub unread: Vec<(Option<ControlId>, Name)>,
}

impl crate::circuit::Setting {
    /// As a `when` clause that names it.
    pub fn when(&self) -> When {
        When { name: self.name.clone(), positions: self.positions.clone(), unread: self.unread.clone() }
    }
}

/// What can be asked of a circuit.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// V(B)/V(A)
    Gain(Point, Point),
    /// Its angle.
    Phase(Point, Point),
    /// The lower end of the interval around the reference in which the gain stays within 3.01 dB.
    LowCorner(Point, Point),
    /// The upper end.
    HighCorner(Point, Point),
    /// V(B) over the current of the source at A, in ohms.
    Transimpedance(Point, Point),
    /// Between a node and `gnd`, or through a pair.
    Impedance(Point),
    /// At a stage's input port.
    InputImpedance(StageId, Point),
    /// At a stage's output port.
    OutputImpedance(StageId, Point),
    /// One that takes the circuit as a whole.
    Measure(Measure),
}

/// Quantities that take the circuit as a whole: sources with their levels, amplifiers with all their data.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Measure {
    /// −dφ/dω, in seconds.
    Delay(Point, Point),
    /// The greatest difference over a band from the gain at the reference or from a curve, in decibels.
    Flatness(Point, Point),
    /// Volts rms with the sources at their levels.
    Level(Point),
    /// The level at which the first amplifier reaches a limit.
    ClipLevel(Point),
    /// Clip level over level, in decibels.
    Headroom(Point),
    /// Volts rms over the band.
    Noise(Point),
    /// V/√Hz at a frequency.
    NoiseDensity(Point),
    /// Noise at B over the gain from A.
    InputNoise(Point, Point),
    /// Noise density at B over the gain from A at that frequency.
    InputNoiseDensity(Point, Point),
    /// Volts, magnitudes added.
    Offset(Point),
    /// Volts, nominal.
    Dc(Point),
    /// Of an amplifier's loop, in degrees.
    PhaseMargin(PartId),
    /// Of an amplifier's loop, in decibels.
    GainMargin(PartId),
    /// Of the pole pair with the highest |Q| of those that belong to the stage, in hertz.
    NaturalFrequency(StageId),
    /// Its Q.
    Q(StageId),
    /// Differential over common gain from a pair, in decibels.
    Rejection(Point, Point),
    /// Of the signal on a pair, in decibels.
    Balance(Point),
    /// In watts.
    Power(PartId),
    /// In volts.
    Voltage(PartId),
    /// In amperes.
    Current(PartId),
    /// What a rail gives at rest, in amperes.
    SupplyCurrent(NodeId),
    /// What amplifiers turn into heat at rest, by the name that was asked for, in watts.
    Dissipation(Name, Vec<PartId>),
}

/// A weighting of noise over frequency.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Weighting {
    /// IEC 61672-1, A
    A,
    /// ITU-R BS.468
    Itu468,
}

/// A node, a pair, or a sum of them.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Point {
    /// As written: `line`, `p - q`.
    pub name: Name,
    /// Nodes with their sign (+1 or −1); a pair stands as hot minus cold. `gnd` is left out.
    pub terms: Vec<(i8, NodeId)>,
}

impl Point {
    /// A single node.
    pub fn node(circuit: &Circuit, node: NodeId) -> Point {
        let terms = if node == GROUND { Vec::new() } else { vec![(1, node)] };
        Point { name: circuit.node_name(node).into(), terms }
    }
    /// A declared pair.
    pub fn pair(pair: &crate::circuit::Pair) -> Point {
        let terms = [(1, pair.hot), (-1, pair.cold)].into_iter().filter(|t| t.1 != GROUND).collect();
        Point { name: pair.name.clone(), terms }
    }
    /// The two nodes of a two-node point, or the node and `gnd`; `None` for a sum.
    pub fn ends(&self) -> Option<(NodeId, NodeId)> {
        match self.terms[..] {
            [] => Some((GROUND, GROUND)),
            [(1, n)] => Some((n, GROUND)),
            [(-1, n)] => Some((GROUND, n)),
            [(1, p), (-1, n)] | [(-1, n), (1, p)] => Some((p, n)),
            _ => None,
        }
    }
}

/// A stage's first port, or the declared pair that its first two ports make.
pub fn port_point(circuit: &Circuit, stage: StageId, input: bool) -> Option<Point> {
    let s = &circuit.stages[stage.at()];
    let ports = if input { &s.inputs } else { &s.outputs };
    match ports[..] {
        [] => None,
        [a, b, ..] => match circuit.pair_of(a, b) {
            Some((pair, _)) => Some(Point::pair(pair)),
            None => Some(Point::node(circuit, a)),
        },
        [a] => Some(Point::node(circuit, a)),
    }
}

impl Measure {
    /// What it is of, in words: `in -> out`, `U1a`, a stage's name.
    pub fn subject(&self, circuit: &Circuit) -> String {
        use Measure::*;
        match self {
            Delay(a, b) | Flatness(a, b) | InputNoise(a, b) | InputNoiseDensity(a, b) | Rejection(a, b) => {
                format!("{} -> {}", a.name, b.name)
            }
            Level(p) | ClipLevel(p) | Headroom(p) | Noise(p) | NoiseDensity(p) | Offset(p) | Dc(p) | Balance(p) => {
                format!("of {}", p.name)
            }
            PhaseMargin(p) | GainMargin(p) | Power(p) | Voltage(p) | Current(p) => {
                format!("of {}", circuit.parts[p.at()].name)
            }
            SupplyCurrent(rail) => format!("of {}", circuit.node_name(*rail)),
            Dissipation(name, _) => format!("of {name}"),
            NaturalFrequency(s) | Q(s) => format!("of {}", circuit.stages[s.at()].name),
        }
    }
}

/// A question in the notation's words; `port` is the one that `from` names.
pub(crate) fn print(circuit: &Circuit, words: &str, quantity: &Quantity, q: &Query, port: Option<&str>) -> String {
    let mut text = match quantity {
        Quantity::Measure(m) => format!("{words} {}", m.subject(circuit)),
        Quantity::Gain(a, b)
        | Quantity::Phase(a, b)
        | Quantity::LowCorner(a, b)
        | Quantity::HighCorner(a, b)
        | Quantity::Transimpedance(a, b) => {
            format!("{words} {} -> {}", a.name, b.name)
        }
        Quantity::Impedance(p) => format!("{words} of {}", p.name),
        Quantity::InputImpedance(s, _) | Quantity::OutputImpedance(s, _) => {
            format!("{words} of {}", circuit.stages[s.at()].name)
        }
    };
    let hertz = |f: f64| quantity::written(f, quantity::Unit::Hertz, quantity::Style::default()).unwrap_or_default();
    if let Some(f) = q.at {
        text.push_str(&format!(" at {}", hertz(f)));
    }
    if let Some((a, b)) = q.over {
        text.push_str(&format!(" over {} .. {}", hertz(a), hertz(b)));
    }
    if let Some(w) = &q.when {
        text.push_str(&format!(" when {}", w.name));
    }
    if let Some(from) = q.from.map(|s| &*circuit.sources[s.at()].name).or(port) {
        text.push_str(&format!(" from {from}"));
    }
    if let Some(f) = q.against {
        text.push_str(&format!(" against {}", hertz(f)));
    }
    if let Some(curve) = &q.curve {
        text.push_str(&format!(" against {curve}"));
    }
    text.push_str(match q.weighting {
        Some(Weighting::A) => " A-weighted",
        Some(Weighting::Itu468) => " 468-weighted",
        None => "",
    });
    text
}

impl Circuit {
    /// What leads from A to B: per volt at A, or per ampere where A is a current source's own node or pair.
    pub fn response(&self, a: &Point, b: &Point) -> Quantity {
        let own = |s: &&crate::circuit::Source| {
            let ends = a.ends();
            ends == Some((s.plus, s.minus)) || ends == Some((s.minus, s.plus))
        };
        match self.sources.iter().find(own).map(|s| s.kind) {
            Some(crate::circuit::SourceKind::Current) => Quantity::Transimpedance(a.clone(), b.clone()),
            _ => Quantity::Gain(a.clone(), b.clone()),
        }
    }

    /// A control's position in words: `30 %`, `closed`, `3`.
    pub fn say(&self, control: ControlId, position: Position) -> String {
        use crate::circuit::ControlKind::Steps;
        match (&self.controls[control.at()].kind, position) {
            (Steps { plain: true, .. }, Position::Step(0)) => "open".into(),
            (Steps { plain: true, .. }, Position::Step(_)) => "closed".into(),
            (_, position) => position.to_string(),
        }
    }
}
