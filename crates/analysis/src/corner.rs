//! Corners: the ends of the connected interval of frequency around a reference in which |G| ≥ |G(ref)|/√2.
//!
//! They are found on |G| itself, by bracketing and narrowing, never read off a pole.

/// Where the search ends on either side, in hertz.
pub const SEARCH: (f64, f64) = (1e-6, 1e10);

/// How many frequencies are narrowed in at once: as many as the solver has lanes.
const WIDTH: usize = 8;
/// Points a decade of the search.
const DENSITY: f64 = 24.0;

/// A side of the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Below it.
    Low,
    /// Above it.
    High,
}

/// Finds a corner of `gain` (|G| at each frequency, in hertz, or why not). `Ok(None)`: |G| never falls so far on that side.
pub fn corner(
    side: Side,
    reference: f64,
    gain: &mut dyn FnMut(&[f64]) -> Result<Vec<f64>, String>,
) -> Result<Option<f64>, String> {
    let level = gain(&[reference])?[0] * std::f64::consts::FRAC_1_SQRT_2;
    if level == 0.0 {
        return Err("there is no gain at the reference".into());
    }
    let end = match side {
        Side::Low => SEARCH.0.min(reference),
        Side::High => SEARCH.1.max(reference),
    };
    let decades = (end / reference).log10().abs();
    let steps = ((decades * DENSITY).ceil() as usize).max(1);
    let at = |k: usize| if k == steps { end } else { reference * (end / reference).powf(k as f64 / steps as f64) };
    // The two latest points with their gains: a dip between them and the next shows as a lowest point in the middle.
    let (mut before, mut last) = ((reference, f64::INFINITY), (reference, f64::INFINITY));
    let mut k = 1;
    while k <= steps {
        let chunk: Vec<f64> = (k..=(k + 4 * WIDTH - 1).min(steps)).map(at).collect();
        for (&f, g) in chunk.iter().zip(gain(&chunk)?) {
            if g < level {
                return narrow(last.0, f, level, gain).map(Some);
            }
            if last.1 <= g
                && last.1 < before.1
                && let Some((above, below)) = dip(before.0, f, level, gain)?
            {
                return narrow(above, below, level, gain).map(Some);
            }
            (before, last) = (last, (f, g));
        }
        k += chunk.len();
    }
    Ok(None)
}

/// Looks for a point below `level` between `from` and `to`, where a lowest point lies; the bracket (above, below) if found.
fn dip(
    from: f64,
    to: f64,
    level: f64,
    gain: &mut dyn FnMut(&[f64]) -> Result<Vec<f64>, String>,
) -> Result<Option<(f64, f64)>, String> {
    let (mut from, mut to) = (from, to);
    let start = from;
    for _ in 0..12 {
        let points = between(from, to);
        let gains = gain(&points)?;
        let least = (0..points.len()).min_by(|&a, &b| gains[a].total_cmp(&gains[b])).unwrap_or(0);
        if gains[least] < level {
            // The first point below the level, seen from where the search came.
            let first = (0..points.len()).find(|&i| gains[i] < level).unwrap_or(least);
            let above = if first == 0 { if least == 0 { start } else { from } } else { points[first - 1] };
            return Ok(Some((above, points[first])));
        }
        let next = (
            if least == 0 { from } else { points[least - 1] },
            if least + 1 == points.len() { to } else { points[least + 1] },
        );
        if (next.0 / next.1 - 1.0).abs() < 1e-9 {
            break;
        }
        (from, to) = next;
    }
    Ok(None)
}

/// Points strictly between two frequencies, evenly spread in the logarithm.
fn between(from: f64, to: f64) -> Vec<f64> {
    (1..=WIDTH).map(|i| from * (to / from).powf(i as f64 / (WIDTH + 1) as f64)).collect()
}

/// Narrows a bracket (|G| ≥ level at `above`, < level at `below`) until its ends are neighbours.
fn narrow(
    above: f64,
    below: f64,
    level: f64,
    gain: &mut dyn FnMut(&[f64]) -> Result<Vec<f64>, String>,
) -> Result<f64, String> {
    let (mut above, mut below) = (above, below);
    for _ in 0..40 {
        let points = between(above, below);
        let gains = gain(&points)?;
        let first = gains.iter().position(|g| *g < level);
        let next = match first {
            Some(0) => (above, points[0]),
            Some(i) => (points[i - 1], points[i]),
            None => (points[WIDTH - 1], below),
        };
        let still = next == (above, below);
        (above, below) = next;
        if still || (below / above - 1.0).abs() <= 2.0 * f64::EPSILON {
            break;
        }
    }
    Ok(if (below / above - 1.0).abs() <= 4.0 * f64::EPSILON { above } else { (above * below).sqrt() })
}
