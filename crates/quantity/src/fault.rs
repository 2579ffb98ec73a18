//! What can be wrong with a figure.

use std::fmt;
use std::ops::Range;

/// The kinds of fault in a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaultKind {
    /// A unit is needed here and none is written: `at 1`.
    MissingUnit,
    /// A capacitor's or inductor's figure has neither prefix nor unit: `C1 22`.
    MissingPrefix,
    /// The figure breaks off: `1e`, `10.`, `22E`.
    Unfinished,
    /// The unit is of another kind than the place wants: `R1 22uF`.
    WrongUnit,
    /// What stands behind the number is no unit or prefix: `10x`, `1 khz`.
    UnknownUnit,
    /// There is a blank before a bare prefix: `10 k`.
    BlankBeforePrefix,
    /// There is a blank between a prefix and its unit: `20k Hz`.
    PrefixApart,
    /// There are two units: `22uF V`.
    TwoUnits,
    /// A marking code without its digit in front: `R47`.
    NoLeadingDigit,
    /// `E` could be an ohm sign or an exponent: `4E7`.
    CapitalE,
    /// `K` stands where only `k` is read: `20K Hz`.
    CapitalK,
    /// A decimal comma, or a point without a digit in front: `1,5k`, `.47u`.
    Lookalike,
    /// The value is out of the reach of the machine's numbers: `1e999`.
    OutOfReach,
    /// No figure at all.
    NotAFigure,
}

impl FaultKind {
    /// Whether further typing at the figure's end could mend it, so that an editor may hold its message back while the
    /// figure is being typed.
    pub fn may_be_unfinished(self) -> bool {
        !matches!(self, FaultKind::NoLeadingDigit | FaultKind::Lookalike | FaultKind::OutOfReach | FaultKind::TwoUnits)
    }
}

/// What is wrong with a figure, in words, and what would mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Which kind.
    pub kind: FaultKind,
    /// Where: bytes of the figure's text followed directly by the unit's text, without the blank between them.
    /// What lies behind the figure's length is in the unit.
    pub range: Range<usize>,
    /// A sentence or two, which begins with the figure, so that a caller may put a name before it.
    pub message: String,
    /// Replacements for figure and unit together, the likeliest first; empty where any would be a guess.
    pub fixes: Vec<String>,
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.message)
    }
}

impl std::error::Error for Fault {}
