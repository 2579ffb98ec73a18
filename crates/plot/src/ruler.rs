//! An axis with its ends, its ticks and their figures.

use quantity::{Style, Unit};

use crate::data::{Axis, Ends, Scale};
use crate::figure;
use crate::ticks::{decades, multiples, round_up};

/// A tick with its figure. Of two figures that do not both fit, the one of lower rank stays.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    pub at: f64,
    pub text: String,
    pub rank: u8,
}

/// An axis, ready to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Ruler {
    pub low: f64,
    pub high: f64,
    pub scale: Scale,
    /// With figures.
    pub ticks: Vec<Tick>,
    /// Where a line goes over the sheet.
    pub lines: Vec<f64>,
    /// Where a fainter one does.
    pub minor: Vec<f64>,
    pub title: String,
    pub unit: Unit,
    /// Names stand in place of figures.
    pub named: bool,
}

impl Ruler {
    /// The axis of what lies between `extent`'s ends, with at most so many figures. A `loose` one may end between them.
    pub fn of(axis: &Axis, extent: Option<(f64, f64)>, room: usize, loose: bool, style: Style) -> Ruler {
        let room = room.max(2);
        let (low, high, step) = match axis.scale {
            Scale::Linear => linear(axis, extent, room, loose),
            Scale::Logarithmic => {
                let (low, high) = logarithmic(axis, extent);
                (low, high, 0.0)
            }
        };
        let mut ruler = Ruler {
            low,
            high,
            scale: axis.scale,
            ticks: Vec::new(),
            lines: Vec::new(),
            minor: Vec::new(),
            title: figure::title(&axis.label, axis.unit, style),
            unit: axis.unit,
            named: !axis.names.is_empty(),
        };
        if ruler.named {
            ruler.ticks = axis.names.iter().map(|(at, name)| Tick { at: *at, text: name.clone(), rank: 0 }).collect();
            ruler.lines = axis.names.iter().map(|n| n.0).collect();
            return ruler;
        }
        let text = |x: f64| figure::tick(x, step, axis.unit, style);
        match axis.scale {
            Scale::Linear => {
                ruler.lines = multiples(low, high, step);
                ruler.ticks = ruler.lines.iter().map(|x| Tick { at: *x, text: text(*x), rank: 0 }).collect();
            }
            Scale::Logarithmic => {
                let all = decades(low, high);
                let whole = all.iter().filter(|t| t.1 == 1).count();
                // So many decades go from one figure to the next.
                let stride = whole.div_ceil(room).max(1) as i32;
                let near = |x: f64, y: f64| (x / y - 1.0).abs() < 1e-6;
                for (x, digit) in all {
                    let end = near(x, low) || near(x, high);
                    let counted = digit == 1 && (x.log10().round() as i32).rem_euclid(stride) == 0;
                    // With few decades, 2 and 5 have their figures too.
                    let between = (whole <= 2 && matches!(digit, 2 | 5)) || (whole <= 1 && matches!(digit, 3 | 7));
                    // Among many decades their figures go before those of odd ends.
                    let end = end && stride == 1 && (whole <= 4 || digit == 1);
                    let rank = match (end, counted, between) {
                        (true, ..) => Some(0),
                        (_, true, _) => Some(1),
                        (_, _, true) => Some(2 + u8::from(!matches!(digit, 2 | 5))),
                        _ => None,
                    };
                    ruler.ticks.extend(rank.map(|rank| Tick { at: x, text: text(x), rank }));
                    if digit == 1 { ruler.lines.push(x) } else { ruler.minor.push(x) }
                }
                // Over many decades the lines between them say nothing more.
                if whole > 12 {
                    ruler.minor.clear();
                }
                // Ends that are not round still tell where they are.
                for end in [low, high] {
                    if stride == 1 && !ruler.ticks.iter().any(|t| near(t.at, end)) {
                        let text = quantity::computed(end, axis.unit, style).unwrap_or_default();
                        ruler.ticks.push(Tick { at: end, text, rank: if whole <= 4 { 0 } else { 3 } });
                    }
                }
                if ruler.ticks.len() > room {
                    ruler.ticks.retain(|t| t.rank < 2);
                }
                ruler.ticks.sort_by(|a, b| a.at.total_cmp(&b.at));
            }
        }
        ruler
    }

    /// Where a value lies, from 0 to 1; beyond the ends it is less or more.
    pub fn share(&self, value: f64) -> f64 {
        let place = |x: f64| match self.scale {
            Scale::Linear => x,
            Scale::Logarithmic if x > 0.0 => x.log10(),
            Scale::Logarithmic => f64::NEG_INFINITY,
        };
        (place(value) - place(self.low)) / (place(self.high) - place(self.low))
    }

    /// Whether a value lies between the ends.
    pub fn holds(&self, value: f64) -> bool {
        (-1e-9..=1.0 + 1e-9).contains(&self.share(value))
    }
}

/// The ends and the step of an axis in equal steps.
fn linear(axis: &Axis, extent: Option<(f64, f64)>, room: usize, loose: bool) -> (f64, f64, f64) {
    if let Ends::Exactly(low, high) = axis.ends {
        let (low, high) = if high > low { (low, high) } else { (low, low + 1.0) };
        return (low, high, round_up((high - low) / (room - 1) as f64, axis.unit));
    }
    let Ends::Round { depth, least } = axis.ends else { return (0.0, 1.0, 1.0) };
    let (mut low, mut high) = extent.unwrap_or((0.0, 1.0));
    if let Some(depth) = depth {
        low = low.max(high - depth);
    }
    let (first, last) = (low, high);
    let least = if least > 0.0 { least } else { 1e-3 * low.abs().max(high.abs()).max(1e-12) };
    let short = least - (high - low);
    if short > 0.0 {
        (low, high) = (low - 0.5 * short, high + 0.5 * short);
    }
    // A curve does not run along the frame; what never goes below 0 begins there, and angles end at their own round figures.
    let margin = if axis.unit == Unit::Degree { 0.0 } else { 0.02 * (high - low) };
    let scaled = matches!(axis.unit, Unit::Decibel | Unit::Dbu | Unit::Dbv | Unit::Celsius);
    low = if first >= 0.0 && !scaled { (low - margin).max(0.0) } else { low - margin };
    high = if last <= 0.0 && !scaled { (high + margin).min(0.0) } else { high + margin };
    if high <= low {
        high = low + 1.0;
    }
    let mut step = round_up((high - low) / (room - 1) as f64, axis.unit);
    if loose {
        // Where there is room for few figures, whole steps would leave half of the sheet empty.
        let fine = 0.25 * step;
        return ((low / fine + 1e-9).floor() * fine, (high / fine - 1e-9).ceil() * fine, step);
    }
    loop {
        let (from, to) = ((low / step + 1e-9).floor() * step, (high / step - 1e-9).ceil() * step);
        if (to - from) / step <= room as f64 + 1e-9 || !step.is_finite() {
            return (from, to, step);
        }
        step = round_up(step * 1.001, axis.unit);
    }
}

/// The ends of an axis in decades.
fn logarithmic(axis: &Axis, extent: Option<(f64, f64)>) -> (f64, f64) {
    let sound = |low: f64, high: f64| low > 0.0 && high > low && high.is_finite();
    match axis.ends {
        Ends::Exactly(low, high) if sound(low, high) => return (low, high),
        Ends::Exactly(..) => return (1.0, 10.0),
        Ends::Round { .. } => {}
    }
    let Ends::Round { depth, least } = axis.ends else { return (1.0, 10.0) };
    let Some((mut low, mut high)) = extent.filter(|(a, b)| *a > 0.0 && b >= a) else { return (1.0, 10.0) };
    if let Some(depth) = depth {
        low = low.max(high / depth);
    }
    let least = least.max(1.0 + 1e-3);
    let short = (least / (high / low)).sqrt();
    if short > 1.0 {
        (low, high) = (low / short, high * short);
    }
    // To the next of 1, 2 and 5.
    let round = |x: f64, up: bool| {
        let power = x.log10().floor() as i32;
        let all: Vec<f64> = [(power, 1), (power, 2), (power, 5), (power + 1, 1)]
            .iter()
            .map(|(p, d)| crate::ticks::ten(*p, *d))
            .collect();
        if up {
            all.iter().copied().find(|r| *r >= x * (1.0 - 1e-9)).unwrap_or(x)
        } else {
            all.iter().rev().copied().find(|r| *r <= x * (1.0 + 1e-9)).unwrap_or(x)
        }
    };
    (round(low, false), round(high, true))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(ruler: &Ruler) -> Vec<&str> {
        ruler.ticks.iter().map(|t| &*t.text).collect()
    }

    #[test]
    fn an_audio_band_has_its_ends_and_its_decades() {
        let axis = Axis::frequency().from_to(20.0, 20e3);
        let ruler = Ruler::of(&axis, None, 8, false, Style::default());
        assert_eq!(texts(&ruler), ["20 Hz", "100 Hz", "1 kHz", "10 kHz", "20 kHz"]);
        assert_eq!(ruler.ticks.iter().map(|t| t.rank).collect::<Vec<_>>(), [0, 1, 1, 1, 0]);
        assert!(ruler.share(20.0) == 0.0 && (ruler.share(20e3) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn decibels_go_in_round_steps_with_room_above_the_curve() {
        let ruler = Ruler::of(&Axis::decibels("gain"), Some((-37.0, 40.0)), 6, false, Style::default());
        assert_eq!(texts(&ruler), ["−40", "−20", "0", "20", "40", "60"]);
        assert_eq!(ruler.title, "gain, dB");
        let level = Ruler::of(&Axis::decibels("gain"), Some((6.0, 6.0)), 6, false, Style::default());
        assert!(level.low <= 4.0 && level.high >= 8.0, "{level:?}");
    }

    #[test]
    fn what_is_never_below_nothing_begins_there() {
        let axis = Axis::new("level", Unit::Volt, Scale::Linear);
        let ruler = Ruler::of(&axis, Some((0.001, 0.0121)), 6, false, Style::default());
        assert_eq!(texts(&ruler), ["0 V", "5 mV", "10 mV", "15 mV"]);
    }

    #[test]
    fn impedances_go_in_decades() {
        let axis = Axis::new("impedance", Unit::Ohm, Scale::Logarithmic);
        let ruler = Ruler::of(&axis, Some((3.3e3, 9.1e6)), 6, false, Style::default());
        assert_eq!((ruler.low, ruler.high), (2e3, 10e6));
        assert_eq!(texts(&ruler), ["2 kΩ", "10 kΩ", "100 kΩ", "1 MΩ", "10 MΩ"]);
    }

    #[test]
    fn many_decades_are_counted_in_strides() {
        let axis = Axis::frequency().from_to(1e-6, 1e10);
        let ruler = Ruler::of(&axis, None, 6, false, Style::default());
        assert!(ruler.ticks.len() <= 6, "{:?}", texts(&ruler));
    }

    #[test]
    fn no_extent_and_a_wrong_one_still_make_an_axis() {
        for axis in [Axis::frequency(), Axis::decibels("x"), Axis::frequency().from_to(5.0, 1.0)] {
            for extent in [None, Some((0.0, 0.0)), Some((-1.0, 5.0))] {
                let ruler = Ruler::of(&axis, extent, 5, false, Style::default());
                assert!(ruler.low < ruler.high && ruler.low.is_finite(), "{ruler:?}");
            }
        }
    }
}
