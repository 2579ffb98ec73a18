//! What a plot is told.

use quantity::Unit;

/// A plot. Values are in base units; of what an axis has in decibels, in decibels.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What it shows: `gain in -> out`.
    pub title: String,
    /// What it holds under, one line each: `when low`, `rests on typical figures of fet_dual`.
    pub notes: Vec<String>,
    /// What lies along the sheet.
    pub x: Axis,
    /// What stands up at its left edge.
    pub y: Axis,
    /// What stands up at its right edge, if anything does.
    pub right: Option<Axis>,
    /// Curves, in the order in which they are drawn.
    pub curves: Vec<Curve>,
    /// Filled bands, behind the curves.
    pub bands: Vec<Band>,
    /// Where a requirement forbids.
    pub limits: Vec<Limit>,
    /// Places on a curve with a word.
    pub marks: Vec<Mark>,
    /// Single points.
    pub dots: Vec<Dot>,
}

impl Plot {
    /// An empty sheet with these axes.
    pub fn new(x: Axis, y: Axis) -> Plot {
        Plot {
            title: String::new(),
            notes: Vec::new(),
            x,
            y,
            right: None,
            curves: Vec::new(),
            bands: Vec::new(),
            limits: Vec::new(),
            marks: Vec::new(),
            dots: Vec::new(),
        }
    }

    /// The axis on a side; the left one where there is no other.
    pub fn axis(&self, side: Side) -> &Axis {
        match side {
            Side::Right => self.right.as_ref().unwrap_or(&self.y),
            Side::Left => &self.y,
        }
    }

    /// Whether there is anything to draw.
    pub fn is_empty(&self) -> bool {
        let drawn = |c: &Curve| c.points.iter().filter(|p| p.1.is_finite()).count() > 1;
        !self.curves.iter().any(drawn) && self.dots.is_empty()
    }
}

/// An axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What it counts: `gain`, `frequency`, `VR1`.
    pub label: String,
    /// In what.
    pub unit: Unit,
    /// How it is divided.
    pub scale: Scale,
    /// Where it begins and ends.
    pub ends: Ends,
    /// Places with names in place of figures, such as the nodes of a level diagram.
    pub names: Vec<(f64, String)>,
}

impl Axis {
    /// An axis whose ends follow from what is drawn.
    pub fn new(label: &str, unit: Unit, scale: Scale) -> Axis {
        let least = match (scale, unit) {
            (Scale::Logarithmic, _) => 10.0,
            // What is level should look it.
            (_, Unit::Decibel | Unit::Dbu | Unit::Dbv) => 4.0,
            (_, Unit::Degree) => 30.0,
            _ => 0.0,
        };
        Axis { label: label.into(), unit, scale, ends: Ends::Round { depth: None, least }, names: Vec::new() }
    }

    /// Frequency in decades.
    pub fn frequency() -> Axis {
        Axis::new("frequency", Unit::Hertz, Scale::Logarithmic)
    }

    /// A gain or an error in decibels.
    pub fn decibels(label: &str) -> Axis {
        Axis::new(label, Unit::Decibel, Scale::Linear)
    }

    /// The same from exactly here to there.
    pub fn from_to(mut self, low: f64, high: f64) -> Axis {
        self.ends = Ends::Exactly(low, high);
        self
    }

    /// The same, with what lies more than so far below the highest left out.
    pub fn deep(mut self, most: f64) -> Axis {
        if let Ends::Round { depth, .. } = &mut self.ends {
            *depth = Some(most);
        }
        self
    }

    /// The same, over at least so much: a difference, of a logarithmic axis a ratio.
    pub fn at_least(mut self, span: f64) -> Axis {
        if let Ends::Round { least, .. } = &mut self.ends {
            *least = span;
        }
        self
    }
}

/// How an axis is divided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// In equal steps.
    Linear,
    /// In decades; what is not above 0 has no place.
    Logarithmic,
}

/// Where an axis begins and ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ends {
    /// Here.
    Exactly(f64, f64),
    /// At round figures that hold all that is drawn.
    Round {
        /// What lies more than so far below the highest (by difference; by ratio where the axis is logarithmic) is left out.
        depth: Option<f64>,
        /// The axis goes over at least that much.
        least: f64,
    },
}

/// The axis that something is counted on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// The left one.
    #[default]
    Left,
    /// The right one.
    Right,
}

/// A curve.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// What stands at its end; a curve that is alone needs none.
    pub name: String,
    /// From left to right. What is no number breaks the curve; −∞ lies below every sheet.
    pub points: Vec<(f64, f64)>,
    /// The axis that it is counted on.
    pub side: Side,
    /// Curves of one family have one hue.
    pub hue: usize,
    /// Its place in the family, from 0 (palest) to 1 (fullest).
    pub shade: Option<f64>,
    /// How it is drawn.
    pub dash: Dash,
    /// Its points are shown, as they are all that is known.
    pub dotted: bool,
}

/// How a curve is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Dash {
    /// In one line.
    #[default]
    Solid,
    /// In dashes.
    Dashed,
    /// In dots.
    Dotted,
}

/// A filled band between a lower and an upper curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// What stands beside it, if anything does.
    pub name: String,
    /// x, lower, upper; from left to right.
    pub points: Vec<(f64, f64, f64)>,
    /// The axis that it is counted on.
    pub side: Side,
    /// As of the curve that it belongs to.
    pub hue: usize,
}

/// A line that a requirement draws; one side of it is forbidden.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Where along the sheet; both ends are one where it holds at one place.
    pub over: (f64, f64),
    /// At which height.
    pub at: f64,
    /// The axis that this is counted on.
    pub side: Side,
    /// Which side is forbidden.
    pub forbidden: Forbidden,
    /// What stands beside it, if anything does: `> −3 dB`.
    pub name: String,
}

/// The forbidden side of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Forbidden {
    /// All that is higher.
    Above,
    /// All that is lower.
    Below,
}

/// A place on a curve with a word, and a thin line down to the axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where along the sheet.
    pub x: f64,
    /// At which height.
    pub y: f64,
    /// The axis that this is counted on.
    pub side: Side,
    /// `7.2 Hz`
    pub text: String,
}

/// A single point.
#[derive(Clone, Debug, PartialEq)]
pub struct Dot {
    /// Where along the sheet.
    pub x: f64,
    /// At which height.
    pub y: f64,
    /// The axis that this is counted on.
    pub side: Side,
    /// As of a curve.
    pub hue: usize,
    /// What stands beside it, if anything does.
    pub text: String,
}
