//! A circuit as equations: which unknowns there are, which stamps each part makes, and which number each parameter takes.
//!
//! Full modified nodal analysis (Ho, Ruehli and Brennan, IEEE Trans. Circuits Syst. 22, 1975): one unknown a node, one a
//! branch current that is kept. Unknown and equation `n − 1` belong to node `n`; a branch's unknown and its own law share a
//! number too. Everything here is topology and names: a value's edit leaves the network as it is.

use circuit::Name;
use circuit::{
    Circuit, ControlId, ControlKind, GROUND, NodeId, Part, PartId, PartKind, Point, Quantity, SourceId, SourceKind,
    StageId,
};
use pencil::{Builder, Column, Domain, Parameter, Pencil, Value};

/// What a parameter of the pencil is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quality {
    /// A resistance in ohms.
    Resistance,
    /// A capacitance in farads.
    Capacitance,
    /// An inductance in henries.
    Inductance,
    /// The track from `ccw` to the wiper, in ohms.
    LowTrack,
    /// The track from the wiper to `cw`, in ohms.
    HighTrack,
    /// 1 where this position's contact is closed, else 0.
    Closed(u32),
    /// 1 where it is open, else 0.
    Open(u32),
    /// 1/A₀
    InverseGain,
    /// 1/(2π·GBW), in seconds
    InverseBandwidth,
    /// R_out/A₀, in ohms
    OutputOverGain,
    /// R_out/(2π·GBW), in ohm-seconds
    OutputOverBandwidth,
    /// 1/ω₂ of a decompensated amplifier's second pole, in seconds: see [`Known::second`]
    SecondDelay,
    /// R_out of an amplifier with a second pole, in ohms
    OutputResistance,
    /// R_out/ω₂, in ohm-seconds
    OutputTimesSecond,
    /// Each input's capacitance to `gnd`
    InputCapacitance,
    /// Between the inputs
    DifferentialCapacitance,
}

/// A part as the equations see it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Piece {
    /// Its designator.
    pub name: Name,
    /// Its stage.
    pub stage: StageId,
    /// Between what.
    pub shape: Shape,
    /// The branch's number among the unknowns, where its current is kept.
    pub branch: Option<u32>,
    /// What moves it.
    pub control: Option<ControlId>,
    /// Its own value is exactly 0: an inductor or a track without ohms joins its ends wherever its control stands.
    pub short: bool,
    /// It is a plain switch, which stands open or closed.
    pub plain: bool,
}

/// What a part is to the equations.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Shape {
    /// A resistor in admittance form; its resistance is not 0.
    Resistor([NodeId; 2]),
    /// A resistor of exactly 0 Ω: a link.
    Link([NodeId; 2]),
    /// A capacitor.
    Capacitor([NodeId; 2]),
    /// An inductor.
    Inductor([NodeId; 2]),
    /// A variable resistor; the branch is that from `ccw` to the wiper, else the one to `cw`, and the second follows it.
    Variable {
        /// Anticlockwise end.
        ccw: Option<NodeId>,
        /// Wiper.
        wiper: NodeId,
        /// Clockwise end.
        cw: Option<NodeId>,
    },
    /// A switch: its contacts are branches in a row.
    Switch(Vec<(u32, [NodeId; 2])>),
    /// An amplifier.
    Amplifier {
        /// Non-inverting input.
        plus: NodeId,
        /// Inverting input.
        minus: NodeId,
        /// Output.
        out: NodeId,
        /// Which of its data are known.
        known: Known,
    },
    /// Not fitted; the nodes that it would stand at.
    Absent(Vec<NodeId>),
}

/// Which data of an amplifier are known; what is not is taken as ideal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Known {
    /// Open-loop gain.
    pub gain: bool,
    /// Gain-bandwidth product.
    pub bandwidth: bool,
    /// Output resistance.
    pub resistance: bool,
    /// Input capacitance.
    pub input: bool,
    /// Differential capacitance.
    pub differential: bool,
    /// A minimum gain above 1 and a gain-bandwidth product: a second pole stands where the loop has 45° left at that noise
    /// gain.
    pub second: bool,
    /// It is the ideal amplifier, which lacks nothing.
    pub ideal: bool,
}

/// A source as the equations see it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Feed {
    /// Its name.
    pub name: Name,
    /// Plus.
    pub plus: NodeId,
    /// Minus.
    pub minus: NodeId,
    /// The branch's number, of a voltage source.
    pub branch: Option<u32>,
}

/// A circuit's topology as equations.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Network {
    /// Nodes' names by number.
    pub nodes: Vec<Name>,
    /// Parts by number.
    pub pieces: Vec<Piece>,
    /// Sources by number.
    pub feeds: Vec<Feed>,
    /// Rails: held at 0 for signals.
    pub rails: Vec<Feed>,
    /// The input ports of the stages, each with its stage.
    pub inputs: Vec<(StageId, NodeId)>,
    /// The number of unknowns: nodes without `gnd`, then branches.
    pub unknowns: u32,
    /// What each parameter of the pencil is.
    pub parameters: Vec<(PartId, Quality)>,
    /// The equations.
    pub pencil: Pencil,
}

/// A change of the equations for one question.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Variant {
    /// Branches whose law is replaced by "no current": lifted amplifier outputs and sources.
    pub lifted: Vec<u32>,
    /// Further voltage sources between these nodes; their branches are the last unknowns.
    pub sources: Vec<(NodeId, NodeId)>,
    /// Equations that are replaced by "this unknown is 0", each with its unknown: where the circuit itself has no unique
    /// answer, so that the rest of it still has one. Nothing that hangs on such an unknown may be shown.
    pub replaced: Vec<(u32, u32)>,
}

impl Network {
    /// The equations of a circuit.
    pub fn of(circuit: &Circuit) -> Network {
        Network::outline(circuit).complete()
    }

    /// What the equations follow from: nodes, parts, sources and the numbers of the branches, without the equations. It is
    /// cheap to make and to compare, and the same outline has the same equations.
    pub fn outline(circuit: &Circuit) -> Network {
        let mut next = circuit.nodes.len() as u32 - 1;
        let mut take = |n: usize| {
            let first = next;
            next += n as u32;
            (n > 0).then_some(first)
        };
        let pieces = circuit.parts.iter().map(|p| piece(circuit, p, &mut take)).collect();
        let feeds = circuit.sources.iter().map(|s| {
            let held = s.kind == SourceKind::Voltage;
            Feed { name: s.name.clone(), plus: s.plus, minus: s.minus, branch: take(usize::from(held)) }
        });
        let feeds: Vec<Feed> = feeds.collect();
        let mut rails: Vec<Feed> = Vec::new();
        for (node, _) in circuit.supplies.iter().flat_map(|s| &s.rails) {
            // A node that two supplies name is held once.
            if *node != GROUND && !rails.iter().any(|r| r.plus == *node) {
                rails.push(Feed { name: circuit.node_name(*node).into(), plus: *node, minus: GROUND, branch: take(1) });
            }
        }
        let stages = circuit.stages.iter().enumerate();
        let inputs = stages.flat_map(|(i, s)| s.inputs.iter().map(move |n| (StageId(i as u32), *n)));
        Network {
            nodes: circuit.nodes.iter().map(|n| n.name.clone()).collect(),
            pieces,
            feeds,
            rails,
            inputs: inputs.collect(),
            unknowns: next,
            parameters: Vec::new(),
            pencil: Builder::new(0, 0).finish(),
        }
    }

    /// An outline with its equations.
    pub fn complete(&self) -> Network {
        let (pencil, parameters) = self.build(&Variant::default(), self.unknowns);
        Network { pencil, parameters, ..self.clone() }
    }

    /// The equations changed for one question. Parameters keep their numbers.
    pub fn variant(&self, variant: &Variant) -> Pencil {
        self.build(variant, self.pencil.unknowns()).0
    }

    /// What an unknown is: a node's name, or `the current of R3`.
    pub fn unknown_name(&self, unknown: u32) -> Name {
        if let Some(node) = self.nodes.get(unknown as usize + 1) {
            return node.clone();
        }
        let held = self.feeds.iter().chain(&self.rails).find(|f| f.branch == Some(unknown)).map(|f| &f.name);
        let part = self.pieces.iter().rev().find(|p| p.branch.is_some_and(|b| b <= unknown)).map(|p| &p.name);
        held.or(part).map_or_else(|| "the added source".into(), |n| format!("the current of {n}").into())
    }

    fn build(&self, variant: &Variant, unknowns: u32) -> (Pencil, Vec<(PartId, Quality)>) {
        let extra = variant.sources.len() as u32;
        let mut s = Stamps {
            builder: Builder::new(unknowns + extra, 0),
            parameters: Vec::new(),
            lifted: &variant.lifted,
            replaced: &variant.replaced,
        };
        for (i, p) in self.pieces.iter().enumerate() {
            s.piece(PartId(i as u32), p);
        }
        for feed in self.feeds.iter().chain(&self.rails) {
            if let Some(branch) = feed.branch {
                s.held(branch, feed.plus, feed.minus);
            }
        }
        for (k, &(plus, minus)) in variant.sources.iter().enumerate() {
            s.held(unknowns + k as u32, plus, minus);
        }
        for &(row, column) in &variant.replaced {
            s.builder.stamp(Value::Constant(1.0), Domain::Static, &[(row, 1.0)], &[(Column::Unknown(column), 1.0)]);
        }
        (s.builder.finish(), s.parameters)
    }

    /// The equation of Kirchhoff's current law at a node, which has the node's voltage as its unknown; none for `gnd`.
    pub fn row(node: NodeId) -> Option<u32> {
        node.0.checked_sub(1)
    }

    /// The equation that a source excites and the sign with which +1 of the source enters it: its own law for a voltage, the
    /// nodes' current laws for a current.
    pub fn excitation(&self, source: SourceId) -> Vec<(u32, f64)> {
        let feed = &self.feeds[source.at()];
        match feed.branch {
            Some(branch) => vec![(branch, 1.0)],
            None => Network::injection(feed.plus, feed.minus),
        }
    }

    /// The current source whose own a point is, with the sign of its current in the point's order.
    pub fn own_current(&self, a: &Point) -> Option<(SourceId, f64)> {
        let ends = a.ends()?;
        let own = |f: &Feed| match ends {
            _ if ends == (f.plus, f.minus) => Some(1.0),
            _ if ends == (f.minus, f.plus) => Some(-1.0),
            _ => None,
        };
        let (i, sign) = self.feeds.iter().enumerate().find_map(|(i, f)| Some((i, own(f)?)))?;
        self.feeds[i].branch.is_none().then_some((SourceId(i as u32), sign))
    }

    /// The quantity by whose plan phases, corners and curves from A to B are read: per volt at A, or per ampere where A is a current source's own.
    pub fn response(&self, a: &Point, b: &Point) -> Quantity {
        match self.own_current(a) {
            Some(_) => Quantity::Transimpedance(a.clone(), b.clone()),
            None => Quantity::Gain(a.clone(), b.clone()),
        }
    }

    /// 1 A out of `minus` into `plus`.
    pub fn injection(plus: NodeId, minus: NodeId) -> Vec<(u32, f64)> {
        [(plus, 1.0), (minus, -1.0)].into_iter().filter_map(|(n, c)| Some((Network::row(n)?, c))).collect()
    }
}

fn piece(circuit: &Circuit, part: &Part, take: &mut impl FnMut(usize) -> Option<u32>) -> Piece {
    let (shape, branches, control) = match &part.kind {
        _ if part.unfitted => (Shape::Absent(part.ends().to_vec()), 0, None),
        PartKind::Resistor { ends, ohms } if ohms.number() == Some(0.0) => (Shape::Link(*ends), 1, None),
        PartKind::Resistor { ends, .. } => (Shape::Resistor(*ends), 0, None),
        PartKind::Capacitor { ends, .. } => (Shape::Capacitor(*ends), 0, None),
        PartKind::Inductor { ends, .. } => (Shape::Inductor(*ends), 1, None),
        PartKind::Variable { control, ccw, wiper, cw, .. } => {
            let n = usize::from(ccw.is_some()) + usize::from(cw.is_some());
            (Shape::Variable { ccw: *ccw, wiper: *wiper, cw: *cw }, n, Some(*control))
        }
        PartKind::Switch { control, contacts, .. } => (Shape::Switch(contacts.clone()), contacts.len(), Some(*control)),
        PartKind::Amplifier { sheet, plus, minus, out, .. } => {
            // One of which nothing is known is not the ideal amplifier: it may have all of these.
            let unknown = sheet.unknown.is_some();
            let known = Known {
                gain: unknown || sheet.open_loop_gain.nominal().is_some(),
                bandwidth: unknown || sheet.gain_bandwidth.nominal().is_some(),
                resistance: unknown || sheet.output_resistance.nominal().is_some_and(|r| r != 0.0),
                input: unknown || sheet.input_capacitance.nominal().is_some(),
                differential: unknown || sheet.differential_capacitance.nominal().is_some(),
                second: !unknown
                    && sheet.gain_bandwidth.nominal().is_some()
                    && sheet.minimum_gain.nominal().is_some_and(|g| g > 1.0),
                ideal: sheet.ideal,
            };
            let shape = Shape::Amplifier { plus: *plus, minus: *minus, out: *out, known };
            (shape, 1 + usize::from(known.second), None)
        }
    };
    let short = match &part.kind {
        PartKind::Inductor { henries: value, .. } | PartKind::Variable { ohms: value, .. } => {
            value.number() == Some(0.0)
        }
        _ => false,
    };
    let kind = control.map(|c| &circuit.controls[c.at()].kind);
    let plain = matches!(kind, Some(ControlKind::Steps { plain: true, .. }));
    Piece { name: part.name.clone(), stage: part.stage, shape, branch: take(branches), control, short, plain }
}

/// Makes stamps.
struct Stamps<'a> {
    builder: Builder,
    parameters: Vec<(PartId, Quality)>,
    lifted: &'a [u32],
    replaced: &'a [(u32, u32)],
}

/// A difference of two nodes' voltages as columns.
fn across(a: NodeId, b: NodeId) -> Vec<(Column, f64)> {
    Network::injection(a, b).into_iter().map(|(r, c)| (Column::Unknown(r), c)).collect()
}

impl Stamps<'_> {
    fn parameter(&mut self, part: PartId, quality: Quality) -> Parameter {
        self.parameters.push((part, quality));
        self.builder.parameter()
    }

    fn stamp(&mut self, value: Value, domain: Domain, rows: &[(u32, f64)], columns: &[(Column, f64)]) {
        let kept: Vec<_> = rows.iter().copied().filter(|(r, _)| !self.replaced.iter().any(|x| x.0 == *r)).collect();
        self.builder.stamp(value, domain, &kept, columns);
    }

    fn one(&mut self, rows: &[(u32, f64)], columns: &[(Column, f64)]) {
        self.stamp(Value::Constant(1.0), Domain::Static, rows, columns);
    }

    /// The current of a branch leaves `a` and enters `b`.
    fn current(&mut self, branch: u32, a: NodeId, b: NodeId) {
        self.one(&Network::injection(a, b), &[(Column::Unknown(branch), 1.0)]);
    }

    /// v(plus) − v(minus) = what the excitation says, 0 while it is quiet; or no current, where it is lifted.
    fn held(&mut self, branch: u32, plus: NodeId, minus: NodeId) {
        self.current(branch, plus, minus);
        if self.lifted.contains(&branch) {
            self.one(&[(branch, 1.0)], &[(Column::Unknown(branch), 1.0)]);
        } else {
            self.one(&[(branch, 1.0)], &across(plus, minus));
        }
    }

    /// v(a) − v(b) − r·i = 0
    fn impedance(&mut self, branch: u32, [a, b]: [NodeId; 2], value: Parameter, domain: Domain) {
        self.current(branch, a, b);
        self.one(&[(branch, 1.0)], &across(a, b));
        self.stamp(Value::Parameter(value), domain, &[(branch, -1.0)], &[(Column::Unknown(branch), 1.0)]);
    }

    fn admittance(&mut self, [a, b]: [NodeId; 2], value: Value, domain: Domain) {
        self.stamp(value, domain, &Network::injection(a, b), &across(a, b));
    }

    fn piece(&mut self, id: PartId, p: &Piece) {
        let branch = p.branch.unwrap_or(u32::MAX);
        match &p.shape {
            Shape::Absent(_) => {}
            Shape::Resistor(ends) => {
                let r = self.parameter(id, Quality::Resistance);
                self.admittance(*ends, Value::Reciprocal(r), Domain::Static);
            }
            Shape::Link([a, b]) => {
                self.current(branch, *a, *b);
                self.one(&[(branch, 1.0)], &across(*a, *b));
                // Where both ends are one node the law is empty; then the link carries nothing.
                if a == b {
                    self.one(&[(branch, 1.0)], &[(Column::Unknown(branch), 1.0)]);
                }
            }
            Shape::Capacitor(ends) => {
                let c = self.parameter(id, Quality::Capacitance);
                self.admittance(*ends, Value::Parameter(c), Domain::Dynamic);
            }
            Shape::Inductor(ends) => {
                let l = self.parameter(id, Quality::Inductance);
                self.impedance(branch, *ends, l, Domain::Dynamic);
            }
            Shape::Variable { ccw, wiper, cw } => {
                let mut branch = branch;
                for (end, quality) in [(ccw, Quality::LowTrack), (cw, Quality::HighTrack)] {
                    if let Some(end) = end {
                        let r = self.parameter(id, quality);
                        self.impedance(branch, [*end, *wiper], r, Domain::Static);
                        branch += 1;
                    }
                }
            }
            Shape::Switch(contacts) => {
                for (k, (position, [a, b])) in contacts.iter().enumerate() {
                    let branch = branch + k as u32;
                    let closed = self.parameter(id, Quality::Closed(*position));
                    let open = self.parameter(id, Quality::Open(*position));
                    self.current(branch, *a, *b);
                    self.stamp(Value::Parameter(closed), Domain::Static, &[(branch, 1.0)], &across(*a, *b));
                    self.stamp(
                        Value::Parameter(open),
                        Domain::Static,
                        &[(branch, 1.0)],
                        &[(Column::Unknown(branch), 1.0)],
                    );
                }
            }
            Shape::Amplifier { plus, minus, out, known } => self.amplifier(id, branch, [*plus, *minus, *out], *known),
        }
    }

    /// a(s)·(v_out + R_out·i) − (v₊ − v₋) = 0 with a = 1/A₀ + s/(2π·GBW) and i the current that the amplifier gives. With a
    /// second pole an unknown of its own, x = (1 + s/ω₂)(v_out + R_out·i), stands in the place of the sum.
    fn amplifier(&mut self, id: PartId, branch: u32, [plus, minus, out]: [NodeId; 3], known: Known) {
        self.current(branch, GROUND, out);
        let (mut output, mut current) = (across(out, GROUND), vec![(Column::Unknown(branch), 1.0)]);
        let own_current = current.clone();
        if known.second {
            self.second(id, branch, &output, &current, known);
            output = vec![(Column::Unknown(branch + 1), 1.0)];
            current.clear();
        }
        let mut terms = Vec::new();
        if known.gain {
            terms.push((&output[..], Quality::InverseGain, Domain::Static));
        }
        if known.bandwidth {
            terms.push((&output[..], Quality::InverseBandwidth, Domain::Dynamic));
        }
        if known.resistance && known.gain && !known.second {
            terms.push((&current[..], Quality::OutputOverGain, Domain::Static));
        }
        if known.resistance && known.bandwidth && !known.second {
            terms.push((&current[..], Quality::OutputOverBandwidth, Domain::Dynamic));
        }
        let lifted = self.lifted.contains(&branch);
        if lifted {
            self.one(&[(branch, 1.0)], &own_current);
        } else {
            self.stamp(Value::Constant(-1.0), Domain::Static, &[(branch, 1.0)], &across(plus, minus));
        }
        for (columns, quality, domain) in terms {
            // Parameters keep their numbers in every variant, whether or not their stamp stands in it.
            let value = self.parameter(id, quality);
            if !lifted {
                self.stamp(Value::Parameter(value), domain, &[(branch, 1.0)], columns);
            }
        }
        if known.input {
            let c = self.parameter(id, Quality::InputCapacitance);
            self.admittance([plus, GROUND], Value::Parameter(c), Domain::Dynamic);
            self.admittance([minus, GROUND], Value::Parameter(c), Domain::Dynamic);
        }
        if known.differential {
            let c = self.parameter(id, Quality::DifferentialCapacitance);
            self.admittance([plus, minus], Value::Parameter(c), Domain::Dynamic);
        }
    }

    /// x − (1 + s/ω₂)(v_out + R_out·i) = 0
    fn second(&mut self, id: PartId, branch: u32, output: &[(Column, f64)], current: &[(Column, f64)], known: Known) {
        let law = [(branch + 1, -1.0)];
        self.one(&[(branch + 1, 1.0)], &[(Column::Unknown(branch + 1), 1.0)]);
        self.one(&law, output);
        let delay = self.parameter(id, Quality::SecondDelay);
        self.stamp(Value::Parameter(delay), Domain::Dynamic, &law, output);
        if known.resistance {
            let ohms = self.parameter(id, Quality::OutputResistance);
            self.stamp(Value::Parameter(ohms), Domain::Static, &law, current);
            let both = self.parameter(id, Quality::OutputTimesSecond);
            self.stamp(Value::Parameter(both), Domain::Dynamic, &law, current);
        }
    }
}
