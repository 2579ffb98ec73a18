//! What is to be drawn: plain data, by numbers into its own lists.

/// A circuit to be drawn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Circuit {
    /// The design's title.
    pub title: Option<String>,
    /// All nodes.
    pub nodes: Vec<Node>,
    /// All parts, in the order written.
    pub parts: Vec<Part>,
    /// All stages, in the order written.
    pub stages: Vec<Stage>,
    /// What drives.
    pub sources: Vec<Source>,
    /// Lines below the picture: what is missing from it, say.
    pub notes: Vec<String>,
}

/// A node.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Its name.
    pub name: String,
    /// The text gives it no name, so that none is shown.
    pub unnamed: bool,
    /// What it is.
    pub role: Role,
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It carries a signal.
    Signal,
    /// The reference node: drawn as a symbol wherever something ends there.
    Ground,
    /// A supply of 0 V or more: drawn as a bar above.
    High,
    /// A supply below 0 V: drawn as a bar below.
    Low,
}

/// A part in its stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its designator.
    pub name: String,
    /// Its value or type as text; it has no say in where anything stands.
    pub value: String,
    /// The stage that it stands in.
    pub stage: usize,
    /// What it is, between which nodes.
    pub kind: Kind,
    /// It stands outside: a load, a cable.
    pub external: bool,
    /// It has its place but is not fitted.
    pub unfitted: bool,
}

/// What a part is.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A resistor.
    Resistor([usize; 2]),
    /// A capacitor; a polar one's first end is positive.
    Capacitor([usize; 2], bool),
    /// An inductor.
    Inductor([usize; 2]),
    /// A variable resistor or divider.
    Variable {
        /// The anticlockwise end.
        ccw: Option<usize>,
        /// The wiper.
        wiper: usize,
        /// The clockwise end.
        cw: Option<usize>,
        /// It is set once, with a screwdriver.
        preset: bool,
    },
    /// A switch that connects its ends or does not.
    Switch([usize; 2], bool),
    /// A switch that connects its pole to one of its contacts, each with its position.
    Selector {
        /// The pole.
        pole: usize,
        /// Position and node, in the order of the positions.
        contacts: Vec<(u32, usize)>,
        /// The position at which it is drawn.
        at: u32,
    },
    /// An operational amplifier.
    Amplifier {
        /// The non-inverting input.
        plus: usize,
        /// The inverting input.
        minus: usize,
        /// The output.
        out: usize,
        /// Its supply, positive first, where it is known.
        rails: Option<[usize; 2]>,
    },
}

impl Kind {
    /// The nodes that it touches, each as often as it has a terminal there; supplies last.
    pub fn nodes(&self) -> Vec<usize> {
        match self {
            Kind::Resistor(e) | Kind::Capacitor(e, _) | Kind::Inductor(e) | Kind::Switch(e, _) => e.to_vec(),
            Kind::Variable { ccw, wiper, cw, .. } => [*ccw, Some(*wiper), *cw].into_iter().flatten().collect(),
            Kind::Selector { pole, contacts, .. } => {
                std::iter::once(*pole).chain(contacts.iter().map(|(_, n)| *n)).collect()
            }
            Kind::Amplifier { plus, minus, out, rails } => {
                [*plus, *minus, *out].into_iter().chain(rails.iter().flatten().copied()).collect()
            }
        }
    }

    /// The two ends of a part that has just two.
    pub fn two_ends(&self) -> Option<[usize; 2]> {
        match self {
            Kind::Resistor(e) | Kind::Capacitor(e, _) | Kind::Inductor(e) | Kind::Switch(e, _) => Some(*e),
            Kind::Variable { ccw, wiper, cw, .. } => match (ccw, cw) {
                (Some(end), None) | (None, Some(end)) => Some([*end, *wiper]),
                _ => None,
            },
            Kind::Selector { .. } | Kind::Amplifier { .. } => None,
        }
    }
}

/// A stage with its ports.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// Its name.
    pub name: String,
    /// Its inputs.
    pub inputs: Vec<usize>,
    /// Its outputs.
    pub outputs: Vec<usize>,
}

/// What drives the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Its name, unlike that of any part: it is the picture's name for it.
    pub name: String,
    /// Its level as text.
    pub value: String,
    /// From here …
    pub plus: usize,
    /// … to here.
    pub minus: usize,
    /// It gives a current and not a voltage.
    pub current: bool,
}
