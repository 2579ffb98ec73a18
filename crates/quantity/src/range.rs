//! How a range is printed.

use crate::print::printed;
use crate::{Style, Unit};

/// A range of computed values: `6.0 … 34.3 dB`, with one unit where one does for both ends (`7.2 Hz … 58 kHz` has two).
/// The ends keep the order in which they are given, which is a control's own order where a control moves them. Ends
/// that print alike print once. In ASCII: `6.0 .. 34.3 dB`. `None` if an end is not finite.
pub fn range(from: f64, to: f64, unit: Unit, style: Style) -> Option<String> {
    let (from, to) = (printed(from, unit, style)?, printed(to, unit, style)?);
    let dots = if style.ascii { ".." } else { "…" };
    Some(if from == to {
        from.text()
    } else if from.suffix == to.suffix {
        format!("{} {dots} {}{}", from.number, to.number, to.suffix)
    } else {
        format!("{} {dots} {}", from.text(), to.text())
    })
}
