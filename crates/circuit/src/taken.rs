//! Which clauses a quantity takes: where it is read, and what drives. One that has no meaning for it is not passed over.

use notation::tree::{Amount, Clause, Fault, Span};

use crate::piece::fault;

/// Whether a clause, by its first word, has a meaning behind a quantity of these words. `weighted` stands for both weightings.
///
/// ```
/// use circuit::taken::takes;
///
/// assert!(takes("gain", "at") && takes("noise", "weighted") && takes("low corner", "against"));
/// assert!(!takes("noise", "at") && !takes("gain", "weighted") && !takes("phase margin", "over"));
/// ```
pub fn takes(words: &str, clause: &str) -> bool {
    let noise = matches!(words, "noise" | "input noise");
    match clause {
        "at" => at_why(words).is_none() && !noise,
        "over" => over_why(words).is_none(),
        "from" => from_why(words).is_none() && words != "impedance",
        "against" => words.ends_with("corner") || words == "flatness",
        "weighted" => noise,
        _ => clause == "when",
    }
}

/// What is wrong with a clause behind a quantity of these words, if it does not belong there.
pub(crate) fn misplaced(words: &str, clause: &Clause) -> Option<Fault> {
    let amounts = |all: &[&Option<Amount>]| all.iter().filter_map(|a| Some(a.as_ref()?.span())).reduce(Span::to);
    let (span, why) = match clause {
        Clause::At(at) => (amounts(&[at]), at_why(words)?),
        Clause::Over(low, high) => (amounts(&[low, high]), over_why(words)?),
        Clause::From(from) => (from.as_ref().map(|w| w.span), from_why(words)?),
        Clause::When(_) | Clause::Against(_) | Clause::Weighted(_) => return None,
    };
    Some(fault("clause-of-other", span?, why))
}

/// Why no frequency is chosen for a quantity.
fn at_why(words: &str) -> Option<String> {
    match words {
        "low corner" | "high corner" => Some(
            "a corner is found, not taken at a frequency: `against` names the frequency that it is referred to".into(),
        ),
        "flatness" => {
            Some("flatness is taken over a band: `over 100 Hz .. 10 kHz`, or without `at` over the design's own".into())
        }
        _ => own(words, "at"),
    }
}

/// Why no band is.
fn over_why(words: &str) -> Option<String> {
    match words {
        "low corner" | "high corner" => {
            Some("a corner is one frequency, and no band is chosen for it: leave `over` out".into())
        }
        "rejection" | "balance" | "noise density" | "input noise density" => {
            Some(format!("{words} is taken at one frequency: `at 1 kHz` in place of `over`"))
        }
        _ => own(words, "over"),
    }
}

/// Why no source is.
fn from_why(words: &str) -> Option<String> {
    match words {
        "noise" | "noise density" => {
            Some(format!("{words} comes from the parts, every source quiet: leave `from` out"))
        }
        "rejection" => Some("a rejection has ideal sources in place of what drives its pair: leave `from` out".into()),
        _ => own(words, "from"),
    }
}

/// The same for what has neither frequency nor source to choose.
fn own(words: &str, clause: &str) -> Option<String> {
    let why = match words {
        "dc" | "offset" => format!("{words} is a voltage at rest, signals quiet"),
        "supply current" | "dissipation" => format!("{words} is taken at rest, signals quiet"),
        "phase margin" | "gain margin" => "a margin is found at the loop's own crossings".into(),
        "natural frequency" | "q" => "poles are the circuit's own".into(),
        _ => return None,
    };
    Some(format!("{why}: leave `{clause}` out"))
}
