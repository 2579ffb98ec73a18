//! Over which frequencies a plot goes where nothing is said.

use circuit::{Quantity, Query};

use super::answers::answer;
use super::phrase::Subject;
use super::scene::{Scene, ends};

/// The span of what is drawn over frequency; `None` where it is drawn over something else.
pub(crate) fn of(scene: &Scene, subject: &Subject) -> Option<(f64, f64)> {
    let (Subject::Response(query) | Subject::Noise(query, _) | Subject::Sampled(query)) = subject else { return None };
    if let Some(over) = query.over.or(scene.over) {
        return Some(over);
    }
    let band = scene.circuit.band;
    Some(match (&query.quantity, ends(&query.quantity)) {
        (Quantity::Gain(..) | Quantity::Phase(..) | Quantity::Transimpedance(..), Some(_))
        | (Quantity::LowCorner(..) | Quantity::HighCorner(..), Some(_)) => response(scene, query),
        (Quantity::Measure(_), _) => band,
        // What a port shows beyond the band tells where it ends.
        _ => (down(band.0 / 10.0), up(band.1 * 10.0)),
    })
}

/// A decade beyond the corners of a response wherever its controls stand; the band where it has none.
fn response(scene: &Scene, query: &Query) -> (f64, f64) {
    let band = scene.circuit.band;
    let Some((a, b)) = ends(&query.quantity) else { return band };
    let on = scene.planned(query).map(|(plan, inputs)| analysis::sweep::controls(&plan, &inputs)).unwrap_or_default();
    let stands = scene.family(query, &on);
    let corner = |quantity: Quantity| {
        let asked = Query { quantity, at: None, over: None, curve: None, ..query.clone() };
        let found: Vec<f64> = stands
            .iter()
            .filter_map(|s| answer(scene, &asked, s).ok()?.magnitude().filter(|f| f.is_finite() && *f > 0.0))
            .collect();
        found
    };
    let low = corner(Quantity::LowCorner(a.clone(), b.clone())).into_iter().fold(f64::INFINITY, f64::min);
    let high = corner(Quantity::HighCorner(a.clone(), b.clone())).into_iter().fold(0.0, f64::max);
    // Corners far out of the band are not what the sheet is about.
    let low = if low.is_finite() { down(low / 10.0).clamp(band.0 / 1e4, band.0) } else { band.0 };
    let high = if high > 0.0 { up(high * 10.0).clamp(band.1, band.1 * 1e4) } else { band.1 };
    (low, high)
}

/// Down to the next of 1, 2 and 5 in a decade.
fn down(x: f64) -> f64 {
    let power = 10f64.powf((x * (1.0 + 1e-9)).log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|d| d * power).find(|r| *r <= x * (1.0 + 1e-9)).unwrap_or(x)
}

/// Up to it.
fn up(x: f64) -> f64 {
    let power = 10f64.powf((x * (1.0 - 1e-9)).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|d| d * power).find(|r| *r >= x * (1.0 - 1e-9)).unwrap_or(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_end_at_round_figures() {
        assert_eq!((down(0.72), up(577e3)), (0.5, 1e6));
        assert_eq!((down(2.0), up(2000.0)), (2.0, 2000.0));
        assert_eq!((down(1.0), up(10.0)), (1.0, 10.0));
    }
}
