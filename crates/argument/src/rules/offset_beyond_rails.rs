//! An offset that drives an output to a rail, since only capacitors lead back from it.

use super::Finding;
use super::say::{at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "offset-beyond-rails";

/// An output's offset beside its rails.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// The node that it drives.
    pub out: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// In volts, magnitudes added.
    pub offset: f64,
    /// What lies between the rails, in volts.
    pub between: f64,
    /// Contacts that would be such a way if they were closed.
    pub contacts: &'a [&'a str],
}

/// Holds the offset against what lies between the rails.
pub fn judge(f: &Figures) -> Option<Finding> {
    if f.offset <= f.between {
        return None;
    }
    let (offset, between, at) = (say(f.offset, Unit::Volt), say(f.between, Unit::Volt), at(f.position));
    let open = match f.contacts {
        [] => String::new(),
        some => format!(" with {} open", quantity::list(some, "and")),
    };
    let message = format!(
        "{} has no feedback at DC{at}: only capacitors lead from {} back to its inputs{open}, so its own offset and bias current would come to {offset} there, more than the {between} between its rails, and it drifts to one of them. A large resistor across the feedback capacitor would hold it.",
        f.amplifier, f.out
    );
    let mut names = vec![f.amplifier];
    names.extend(f.contacts);
    Some(Finding::new(ID, message, &names))
}
