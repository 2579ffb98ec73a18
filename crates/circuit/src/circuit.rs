//! The named circuit: what the text says, without the text.
//!
//! Nothing here knows a place in a file; `Places` stands beside it for those who must point at one. Two texts that differ in
//! comments, order of blank lines or spelling of a figure only give equal circuits, and equal circuits give equal numbers.

use notation::Name;
use num_complex::Complex64;
use std::fmt;
use std::sync::Arc;

use smallvec::{SmallVec, smallvec};

macro_rules! index {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub u32);
        impl $name {
            /// As an index into the circuit's list.
            pub fn at(self) -> usize {
                self.0 as usize
            }
        }
    };
}

index!(
    /// A node; 0 is `gnd`.
    NodeId
);
index!(
    /// A part.
    PartId
);
index!(
    /// A stage.
    StageId
);
index!(
    /// A control: one shaft or spindle, however many units it carries.
    ControlId
);
index!(
    /// A source.
    SourceId
);

use crate::expr::{PartTerm, Scope, Term, Why};

/// The reference node.
pub const GROUND: NodeId = NodeId(0);

/// A number that the text gives, or why there is none.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// In SI units.
    Number(f64),
    /// `R3 has no value`: a clause that can stand behind "unknown: ".
    Unknown(Name),
}

impl Given {
    /// The number, if there is one.
    pub fn number(&self) -> Option<f64> {
        match self {
            Given::Number(x) => Some(*x),
            Given::Unknown(_) => None,
        }
    }
    /// Why there is none.
    pub fn unknown(&self) -> Option<&Name> {
        match self {
            Given::Number(_) => None,
            Given::Unknown(why) => Some(why),
        }
    }
}

/// A design's circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// The design's title.
    pub title: Option<Name>,
    /// Where statements hold, in hertz.
    pub band: (f64, f64),
    /// Where a reading without `at` is taken, in hertz.
    pub reference: f64,
    /// Nodes by [`NodeId`]; the first is `gnd`.
    pub nodes: Vec<Node>,
    /// Parts by [`PartId`], in the order written.
    pub parts: Vec<Part>,
    /// Stages by [`StageId`], in the order written.
    pub stages: Vec<Stage>,
    /// Supplies; amplifiers take the first one's rails.
    pub supplies: Vec<Supply>,
    /// Sources by [`SourceId`], written and implied.
    pub sources: Vec<Source>,
    /// Declared pairs.
    pub pairs: Vec<Pair>,
    /// The names of pairs of which an end is at fault, each with why: a clause.
    pub lost_pairs: Vec<(Name, Name)>,
    /// Controls by [`ControlId`].
    pub controls: Vec<Control>,
    /// Named settings.
    pub settings: Vec<Setting>,
    /// `let` names.
    pub lets: Vec<Let>,
    /// The temperature of resistors and junctions, in degrees Celsius; no number where one is written that cannot be read.
    pub temperature: f64,
    /// By class letters: the share by which a value may be off, or why that is not known.
    pub tolerances: Vec<(Name, Given)>,
    /// Parts that are matched.
    pub matched: Vec<Matched>,
    /// Presets.
    pub trims: Vec<Trim>,
    /// Rules that are conceded.
    pub accepted: Vec<Accepted>,
    /// What keeps the circuit as a whole from being known, though every line is finished: `use` is not computed yet, say.
    pub unknown: Option<Name>,
}

/// A node.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Node {
    /// Its name; one between two parts in a row is called after them (`R3.C2`).
    pub name: Name,
    /// It has no name in the text.
    pub unnamed: bool,
}

/// A stage with its ports.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Stage {
    /// Its name.
    pub name: Name,
    /// Its inputs.
    pub inputs: Vec<NodeId>,
    /// Its outputs.
    pub outputs: Vec<NodeId>,
    /// Why its ports are not known though some are written: a clause.
    pub unread: Option<Name>,
    /// Another stage has its name too.
    pub doubled: bool,
}

/// A part in its stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its designator.
    pub name: Name,
    /// The stage that it stands in.
    pub stage: StageId,
    /// On the parts list but not in the circuit.
    pub unfitted: bool,
    /// In the circuit but not on the parts list.
    pub external: bool,
    /// What it is.
    pub kind: PartKind,
    /// How far its value may be off, where that is written at the part itself.
    pub tolerance: Option<Tolerance>,
    /// What it may be put to.
    pub ratings: Ratings,
    /// An order code or another quoted note.
    pub note: Option<Name>,
    /// The words that say how it is made, in the order written: `film`, `c0g`, `polar`.
    pub made_of: Vec<Name>,
    /// What its value was worked out to, before it was rounded to the series.
    pub exact: Option<f64>,
    /// It is a copy's: the part that it was copied from is called this.
    pub copy_of: Option<Name>,
}

/// How far a value may be off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// By this share of the value.
    Share(f64),
    /// By this much, in the value's own unit.
    Absolute(f64),
    /// One is written that cannot be read.
    Unknown,
    /// Two are written that differ: which is meant is not known.
    Two,
}

/// What a part may be put to at most, each where it is written.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ratings {
    /// Volts across it.
    pub volts: Option<f64>,
    /// Watts in it.
    pub watts: Option<f64>,
    /// Amperes through it.
    pub amperes: Option<f64>,
    /// Degrees Celsius around it.
    pub celsius: Option<f64>,
    /// Two of one kind are written that differ; of those neither is kept.
    pub two: bool,
}

/// A `let` name.
#[derive(Clone, Debug, PartialEq)]
pub struct Let {
    /// Its name.
    pub name: Name,
    /// What it stands for.
    pub expr: Arc<notation::tree::Expr>,
    /// Its value, where it has one by itself.
    pub value: LetValue,
}

/// What a `let` name comes to.
#[derive(Clone, Debug, PartialEq)]
pub enum LetValue {
    /// A value: real.
    Value(crate::expr::Term),
    /// A value at each frequency.
    Curve,
    /// None: a clause.
    Unknown(Name),
}

/// Parts of which any two differ by at most a share, in ratio to nominal.
#[derive(Clone, Debug, PartialEq)]
pub struct Matched {
    /// Which; where the share is not known, all that may be meant.
    pub parts: Vec<PartId>,
    /// The share, or why it or its parts are not known.
    pub share: Given,
}

/// A preset: a control that is set in every build until a quantity has its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Trim {
    /// The control.
    pub control: ControlId,
    /// The quantity as it is written.
    pub quantity: notation::tree::QuantityPhrase,
    /// What it is set to, in base units (decibels as a ratio); `None`: the greatest that can be had.
    pub target: Option<f64>,
    /// The target is a ratio with its sign, and not one of magnitudes as in decibels.
    pub signed: bool,
    /// Why it cannot be made, where its entry says so itself.
    pub unread: Option<Name>,
}

/// A rule that is conceded, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// The rule, as its problems are called: `no-bias-return`.
    pub rule: Name,
    /// For what: a part, a node or a stage.
    pub what: Name,
    /// Why.
    pub reason: Name,
}

/// What a part is, between which nodes.
#[derive(Clone, Debug, PartialEq)]
pub enum PartKind {
    /// A resistor, in ohms.
    Resistor {
        /// Its ends.
        ends: [NodeId; 2],
        /// In ohms.
        ohms: Given,
    },
    /// A capacitor, in farads.
    Capacitor {
        /// Its ends; of a polar one the first is positive.
        ends: [NodeId; 2],
        /// In farads.
        farads: Given,
        /// It must not be reversed.
        polar: bool,
        /// Its dielectric is an oxide: `electrolytic`, `tantalum`, and what is told to be `polar` or `bipolar`.
        electrolytic: bool,
    },
    /// An inductor, in henries.
    Inductor {
        /// Its ends.
        ends: [NodeId; 2],
        /// In henries.
        henries: Given,
    },
    /// A variable resistor or divider.
    Variable {
        /// What moves it.
        control: ControlId,
        /// The whole track, in ohms.
        ohms: Given,
        /// How the resistance follows the travel.
        taper: Taper,
        /// The anticlockwise end, where the resistance to the wiper is 0 at 0 %.
        ccw: Option<NodeId>,
        /// The wiper.
        wiper: NodeId,
        /// The clockwise end.
        cw: Option<NodeId>,
    },
    /// A switch.
    Switch {
        /// What moves it.
        control: ControlId,
        /// One a position that connects something: position, and the two nodes.
        contacts: Vec<(u32, [NodeId; 2])>,
        /// Why it is not known how it stands: a clause.
        unknown: Option<Name>,
    },
    /// An operational amplifier.
    Amplifier {
        /// Its data sheet.
        sheet: Arc<Sheet>,
        /// The non-inverting input.
        plus: NodeId,
        /// The inverting input.
        minus: NodeId,
        /// The output.
        out: NodeId,
        /// Its rails, positive first, where the text tells.
        rails: Option<[NodeId; 2]>,
    },
}

impl PartKind {
    /// The value of a part that has one, in base units: a switch and an amplifier have none.
    pub fn value(&self) -> Option<&Given> {
        match self {
            PartKind::Resistor { ohms, .. } | PartKind::Variable { ohms, .. } => Some(ohms),
            PartKind::Capacitor { farads, .. } => Some(farads),
            PartKind::Inductor { henries, .. } => Some(henries),
            PartKind::Switch { .. } | PartKind::Amplifier { .. } => None,
        }
    }

    /// Gives a part that has a value another one, in base units.
    pub fn set_value(&mut self, value: f64) {
        match self {
            PartKind::Resistor { ohms: own, .. }
            | PartKind::Variable { ohms: own, .. }
            | PartKind::Capacitor { farads: own, .. }
            | PartKind::Inductor { henries: own, .. } => *own = Given::Number(value),
            PartKind::Switch { .. } | PartKind::Amplifier { .. } => {}
        }
    }

    /// The letters of its class, with which its designator begins.
    pub fn class(&self) -> &'static str {
        match self {
            PartKind::Resistor { .. } => "R",
            PartKind::Variable { .. } => "VR",
            PartKind::Capacitor { .. } => "C",
            PartKind::Inductor { .. } => "L",
            PartKind::Switch { .. } => "SW",
            PartKind::Amplifier { .. } => "U",
        }
    }

    /// Whether its value, its type or its state is known.
    pub fn is_known(&self) -> bool {
        match self {
            PartKind::Resistor { ohms: given, .. }
            | PartKind::Capacitor { farads: given, .. }
            | PartKind::Inductor { henries: given, .. }
            | PartKind::Variable { ohms: given, .. } => given.number().is_some(),
            PartKind::Switch { unknown, .. } => unknown.is_none(),
            PartKind::Amplifier { sheet, .. } => sheet.unknown.is_none(),
        }
    }
}

/// How a control's resistance from `ccw` to the wiper follows the travel p (0 … 1).
///
/// With share m of the track at half travel the law is (bᵖ − 1)/(b − 1), b = ((1 − m)/m)²; common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taper {
    /// In proportion.
    Linear,
    /// Slow at first; the share of the track at half travel.
    Log(f64),
    /// 1 − log(1 − p).
    ReverseLog(f64),
}

impl Taper {
    /// The share of the track from `ccw` to the wiper at travel `p` (0 … 1).
    pub fn share(self, p: f64) -> f64 {
        // The ends are exact whatever the law's rounding does between them.
        if p <= 0.0 {
            return 0.0;
        }
        if p >= 1.0 {
            return 1.0;
        }
        match self {
            Taper::Linear => p,
            Taper::Log(m) => log_share(m, p),
            Taper::ReverseLog(m) => 1.0 - log_share(m, 1.0 - p),
        }
    }

    /// The travel at which the wiper stands in the electrical middle.
    pub fn electrical_half(self) -> f64 {
        match self {
            Taper::Linear => 0.5,
            Taper::Log(m) => log_half(m),
            Taper::ReverseLog(m) => 1.0 - log_half(m),
        }
    }
}

fn log_share(m: f64, p: f64) -> f64 {
    let b = ((1.0 - m) / m).powi(2);
    if (b - 1.0).abs() < 1e-12 { p } else { (b.powf(p) - 1.0) / (b - 1.0) }
}

fn log_half(m: f64) -> f64 {
    let b = ((1.0 - m) / m).powi(2);
    if (b - 1.0).abs() < 1e-12 { 0.5 } else { (0.5 * (b - 1.0) + 1.0).ln() / b.ln() }
}

/// One figure of a data sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Figure {
    /// Written without a word, or behind `typ`.
    pub typical: Option<f64>,
    /// Behind `min`.
    pub min: Option<f64>,
    /// Behind `max`.
    pub max: Option<f64>,
}

impl Figure {
    /// The figure for the nominal circuit: the typical one, else the middle of what is given.
    pub fn nominal(&self) -> Option<f64> {
        self.typical.or(match (self.min, self.max) {
            (Some(a), Some(b)) => Some((a * b).abs().sqrt()),
            (a, b) => a.or(b),
        })
    }
}

/// What is known of an amplifier, in SI units. What is absent is taken as ideal in the circuit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// The type's name; `ideal` where the text gives none.
    pub name: Name,
    /// It is the ideal amplifier, which lacks nothing.
    pub ideal: bool,
    /// Why nothing is known of it though a type is named.
    pub unknown: Option<Name>,
    /// Open-loop gain at DC, as a ratio.
    pub open_loop_gain: Figure,
    /// Gain-bandwidth product in hertz.
    pub gain_bandwidth: Figure,
    /// Open-loop output resistance in ohms.
    pub output_resistance: Figure,
    /// Capacitance of each input to `gnd` in farads.
    pub input_capacitance: Figure,
    /// Capacitance between the inputs in farads.
    pub differential_capacitance: Figure,
    /// In volts a second.
    pub slew_rate: Figure,
    /// White voltage noise in V/√Hz.
    pub voltage_noise: Figure,
    /// Below it the voltage noise rises as 1/f, in hertz.
    pub voltage_noise_corner: Figure,
    /// White current noise of each input in A/√Hz.
    pub current_noise: Figure,
    /// Below it the current noise rises as 1/f, in hertz.
    pub current_noise_corner: Figure,
    /// In volts, a magnitude.
    pub input_offset: Figure,
    /// Of each input, in amperes, a magnitude.
    pub input_bias: Figure,
    /// How near the output comes to the positive rail, in volts.
    pub swing_high: Figure,
    /// How near the output comes to the negative rail, in volts.
    pub swing_low: Figure,
    /// How near the inputs may come to the negative rail, in volts; below 0: beyond it.
    pub range_low: Figure,
    /// How near the inputs may come to the positive rail, in volts; below 0: beyond it.
    pub range_high: Figure,
    /// The most that the output gives or takes, in amperes.
    pub output_current: Figure,
    /// The least noise gain at which it is stable, as a ratio.
    pub minimum_gain: Figure,
    /// Between the rails, least (`min`) and greatest (`max`), in volts.
    pub supply_range: Figure,
    /// Of one amplifier, in amperes.
    pub supply_current: Figure,
    /// How many of its kind a package holds.
    pub in_package: Figure,
    /// Data that are written and cannot be read, by their words.
    pub unreadable: Vec<Name>,
    /// Why a datum that the sheet leaves out may be given all the same, in a row whose words are none of the list: a clause.
    pub strange: Option<Name>,
}

impl Sheet {
    /// A datum's nominal figure, or why there is none: a clause.
    ///
    /// # Errors
    /// That the sheet has no such datum, or that it cannot be read.
    pub fn datum(&self, words: &str, figure: &Figure) -> Result<f64, String> {
        if let Some(why) = self.torn(words, figure) {
            return Err(why);
        }
        figure.nominal().ok_or_else(|| format!("{} has no {words}", self.name))
    }

    /// Why a datum is not known though a row that may give it is written: a clause. One that is simply left out may be ideal.
    pub fn torn(&self, words: &str, figure: &Figure) -> Option<String> {
        // A row for both rails gives each of them.
        let gives = |u: &&Name| ***u == *words || (&***u == "swing from rails" && words.starts_with("swing from "));
        if let Some(row) = self.unreadable.iter().find(gives) {
            return Some(format!("{}'s {row} cannot be read", self.name));
        }
        let strange = self.strange.as_ref().filter(|_| figure.nominal().is_none());
        strange.map(|why| why.to_string())
    }
}

/// One supply.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// Rails with their voltage.
    pub rails: Vec<(NodeId, Given)>,
    /// How far rails may be off, of those of which it is written.
    pub slack: Vec<(NodeId, Tolerance)>,
}

/// What drives the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// The node's or pair's name.
    pub name: Name,
    /// From here …
    pub plus: NodeId,
    /// … to here: `gnd`, or the pair's cold node.
    pub minus: NodeId,
    /// Voltage or current.
    pub kind: SourceKind,
    /// Its level, rms; `None` where the text gives none.
    pub level: Option<f64>,
    /// It is implied: no `source` is written, and this input port is driven by no stage.
    pub implied: bool,
    /// Two entries place it and differ, so that neither counts.
    pub two: bool,
}

impl Source {
    /// Its level, rms.
    ///
    /// # Errors
    /// Why it has none: a clause.
    pub fn sized(&self) -> Result<f64, String> {
        self.level.ok_or_else(|| match self.two {
            true => format!("{} has two sources, and which of them is meant is not known", self.name),
            false => format!("{0} has no level: `source {0} 5 mV` would give it one", self.name),
        })
    }
}

/// What a source holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SourceKind {
    /// The voltage between its nodes.
    Voltage,
    /// The current out of `minus` into `plus`.
    Current,
}

/// A declared pair; the name means hot minus cold.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Pair {
    /// Its name.
    pub name: Name,
    /// Plus.
    pub hot: NodeId,
    /// Minus.
    pub cold: NodeId,
}

/// A control: what a hand sets.
#[derive(Clone, Debug, PartialEq)]
pub struct Control {
    /// `VR1` for `VR1a` and `VR1b` alike.
    pub name: Name,
    /// What it can be set to.
    pub kind: ControlKind,
    /// Where it stands when nothing is said.
    pub rest: Position,
    /// It is a preset, which a trim sets once: no hand moves it afterwards.
    pub preset: bool,
}

/// What a control can be set to.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlKind {
    /// Any travel; the taper tells where the electrical half is.
    Travel(Taper),
    /// One of these positions. A plain switch has 0 (open) and 1 (closed).
    Steps {
        /// The positions, rising.
        positions: Vec<u32>,
        /// It is a plain switch, whose positions are called open and closed.
        plain: bool,
    },
}

/// Where a control stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Position {
    /// Share of the travel, 0 (fully anticlockwise) … 1.
    Travel(f64),
    /// A switch's position.
    Step(u32),
}

/// A named setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// Its name.
    pub name: Name,
    /// The controls that it sets; the others are at rest.
    pub positions: Vec<(ControlId, Position)>,
    /// What it sets to a place that cannot be read, with a clause that says so; `None` where not even the control is known.
    pub unread: Vec<(Option<ControlId>, Name)>,
}

impl Circuit {
    /// A node's name.
    pub fn node_name(&self, node: NodeId) -> &str {
        &self.nodes[node.at()].name
    }
    /// Why nothing is known of a stage whose name another one has too: a clause.
    pub fn doubled(&self, stage: StageId) -> Option<String> {
        let Stage { name, doubled, .. } = &self.stages[stage.at()];
        doubled.then(|| format!("there are two stages called {name}"))
    }
    /// The node of that name.
    pub fn node(&self, name: &str) -> Option<NodeId> {
        self.nodes.iter().position(|n| !n.unnamed && &*n.name == name).map(|i| NodeId(i as u32))
    }
    /// The declared pair of that name.
    pub fn pair(&self, name: &str) -> Option<&Pair> {
        self.pairs.iter().find(|p| &*p.name == name)
    }
    /// The declared pair of these two nodes, in either order, with `true` where the first is hot.
    pub fn pair_of(&self, a: NodeId, b: NodeId) -> Option<(&Pair, bool)> {
        self.pairs.iter().find_map(|p| {
            if (p.hot, p.cold) == (a, b) {
                Some((p, true))
            } else if (p.hot, p.cold) == (b, a) {
                Some((p, false))
            } else {
                None
            }
        })
    }
    /// The nodes that feed an amplifier: its own, else the first supply's, `gnd` being the second one of a single rail, or the first of a
    /// negative one.
    pub fn rails_of(&self, amplifier: &Part) -> Option<[NodeId; 2]> {
        let PartKind::Amplifier { rails, .. } = &amplifier.kind else { return None };
        rails.or_else(|| match self.supplies.first()?.rails.as_slice() {
            [(p, _), (n, _), ..] => Some([*p, *n]),
            [(n, volts)] if volts.number().is_some_and(|v| v < 0.0) => Some([GROUND, *n]),
            [(p, _)] => Some([*p, GROUND]),
            [] => None,
        })
    }
    /// The stage of that name.
    pub fn stage(&self, name: &str) -> Option<StageId> {
        self.stages.iter().position(|s| &*s.name == name).map(|i| StageId(i as u32))
    }
    /// The control of that name; a unit's name (`VR1a`) means its shaft.
    pub fn control(&self, name: &str) -> Option<ControlId> {
        let shaft = notation::device_of(name);
        let found = |n: &str| self.controls.iter().position(|c| &*c.name == n);
        found(name).or_else(|| found(shaft)).map(|i| ControlId(i as u32))
    }
}

impl Scope for Circuit {
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>> {
        let found = self.lets.iter().find(|l| &*l.name == name)?;
        Some(match (&found.value, s) {
            (LetValue::Value(term), _) => Ok(*term),
            (LetValue::Unknown(why), _) => Err(Why::said(why.to_string())),
            (LetValue::Curve, None) => Err(Why::ruled(
                "curve-for-value",
                format!("{name} is a curve over frequency: one value is wanted here"),
            )),
            (LetValue::Curve, Some(s)) => crate::curves::at(self, name, s),
        })
    }

    fn part(&self, name: &str) -> Option<Result<PartTerm, Why>> {
        let part = self.parts.iter().find(|p| &*p.name == name)?;
        let (given, make): (&Given, fn(f64) -> PartTerm) = match &part.kind {
            PartKind::Resistor { ohms, .. } | PartKind::Variable { ohms, .. } => (ohms, PartTerm::Ohms),
            PartKind::Capacitor { farads, .. } => (farads, PartTerm::Farads),
            PartKind::Inductor { henries, .. } => (henries, PartTerm::Henries),
            PartKind::Switch { .. } | PartKind::Amplifier { .. } => {
                return Some(Err(Why::ruled("no-value-to-reckon-with", format!("{name} has no value to reckon with"))));
            }
        };
        Some(match given {
            Given::Number(x) => Ok(make(*x)),
            Given::Unknown(why) => Err(Why::said(why.to_string())),
        })
    }

    fn track(&self, name: &str) -> Option<Result<[f64; 2], Why>> {
        let part = self.parts.iter().find(|p| &*p.name == name)?;
        let PartKind::Variable { control, ohms, taper, .. } = &part.kind else {
            return Some(Err(Why::ruled("no-wiper", format!("{name} has no wiper"))));
        };
        Some(match ohms {
            Given::Number(x) => Ok(crate::env::split(*x, *taper, self.controls[control.at()].rest)),
            Given::Unknown(why) => Err(Why::said(why.to_string())),
        })
    }

    fn known(&self) -> Vec<String> {
        self.lets.iter().map(|l| l.name.to_string()).chain(self.parts.iter().map(|p| p.name.to_string())).collect()
    }
}

impl Part {
    /// The device that it is a unit of: `U1` of `U1a`.
    pub fn device(&self) -> &str {
        notation::device_of(&self.name)
    }

    /// The nodes that its ends stand at, an amplifier's rails left out.
    pub fn ends(&self) -> SmallVec<[NodeId; 4]> {
        match &self.kind {
            PartKind::Resistor { ends, .. } | PartKind::Capacitor { ends, .. } | PartKind::Inductor { ends, .. } => {
                SmallVec::from_slice(ends)
            }
            PartKind::Variable { ccw, wiper, cw, .. } => [*ccw, Some(*wiper), *cw].into_iter().flatten().collect(),
            PartKind::Switch { contacts, .. } => {
                let mut all: SmallVec<[NodeId; 4]> = contacts.iter().flat_map(|(_, ends)| *ends).collect();
                all.sort();
                all.dedup();
                all
            }
            PartKind::Amplifier { plus, minus, out, .. } => smallvec![*plus, *minus, *out],
        }
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Position::Travel(p) => write!(f, "{} %", (p * 1e4).round() / 100.0),
            Position::Step(n) => write!(f, "{n}"),
        }
    }
}
