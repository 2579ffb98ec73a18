//! What a response does in time: its step, and the envelope of a burst of tone.
//!
//! The inverse transform of H(s)·U(s) is a sum of residues, and residues of poles that lie close together are large numbers
//! that cancel. So poles are gathered into clusters. One that stands alone has its residue; around several the integral
//! (1/2πj)∮H(s)U(s)e^(st)ds is taken on a circle, where the trapezoidal rule converges with every point like a power (Trefethen
//! and Weideman, SIAM Review 56, 2014). A cascade of equal sections keeps its digits.

use std::f64::consts::TAU;

use num_complex::Complex64;

use crate::factored::Factored;

/// Points on a circle: its integrand is known to 2⁻⁹⁶ of its size where the circle keeps its distances.
const POINTS: usize = 96;
/// Poles that lie nearer than this share of their modulus are taken together.
const NEAR: f64 = 0.05;

/// A circle around some of the poles of an integrand and none of the others.
#[derive(Clone, Copy, Debug)]
struct Circle {
    centre: Complex64,
    radius: f64,
}

/// The response at `times` (in seconds, 0 and up) to a step of 1 at 0.
///
/// # Errors
/// Where the response grows with frequency, so that a step has no finite answer: a clause.
pub fn step(response: &Factored, times: &[f64]) -> Result<Vec<f64>, String> {
    let drive = Complex64::new(0.0, 0.0);
    Ok(driven(response, drive, times)?.into_iter().map(|z| z.re).collect())
}

/// The envelope at `times` (in seconds) of a burst of tone of amplitude 1 that begins at 0 and ends after `seconds`: the
/// modulus of the response to e^(jωt), which for a steady tone is |H|.
///
/// # Errors
/// As [`step`].
pub fn burst_envelope(response: &Factored, hertz: f64, seconds: f64, times: &[f64]) -> Result<Vec<f64>, String> {
    let drive = Complex64::new(0.0, TAU * hertz);
    let on = driven(response, drive, times)?;
    let later: Vec<f64> = times.iter().map(|t| t - seconds).collect();
    let off = driven(response, drive, &later)?;
    let turned = (drive * seconds).exp();
    Ok(on.iter().zip(off).map(|(a, b)| (a - b * turned).norm()).collect())
}

/// The response to e^(s₀t) from 0 on; 0 before.
fn driven(response: &Factored, drive: Complex64, times: &[f64]) -> Result<Vec<Complex64>, String> {
    if response.at_infinity() < 0 {
        return Err("the response rises with frequency without end: a step has no finite answer".into());
    }
    let mut poles = response.poles.clone();
    poles.push(drive);
    let nodes: Vec<(Complex64, Complex64)> =
        clusters(&poles).iter().flat_map(|(own, circle)| nodes(response, drive, own, *circle)).collect();
    let one = |t: f64| -> Complex64 {
        if t < 0.0 { Complex64::new(0.0, 0.0) } else { nodes.iter().map(|(s, w)| w * (s * t).exp()).sum() }
    };
    Ok(times.iter().map(|t| one(*t)).collect())
}

/// Exponents and weights that stand for a cluster: the pole itself, or points of a circle.
fn nodes(response: &Factored, drive: Complex64, own: &[Complex64], circle: Circle) -> Vec<(Complex64, Complex64)> {
    if let [pole] = *own {
        let weight = if pole == drive {
            response.value_at(drive)
        } else {
            let at = response.poles.iter().position(|p| *p == pole).unwrap_or_default();
            let mut rest = response.clone();
            rest.poles.remove(at);
            rest.value_at(pole) / (pole - drive)
        };
        return vec![(pole, weight)];
    }
    let one = |k: usize| {
        let arm = Complex64::from_polar(circle.radius, TAU * k as f64 / POINTS as f64);
        let s = circle.centre + arm;
        (s, response.value_at(s) / (s - drive) * arm / POINTS as f64)
    };
    (0..POINTS).map(one).collect()
}

/// The poles in clusters, each with a circle that leaves its own poles well inside and the others well outside.
fn clusters(poles: &[Complex64]) -> Vec<(Vec<Complex64>, Circle)> {
    let mut clusters: Vec<Vec<Complex64>> = Vec::new();
    for p in poles {
        let near = |q: &Complex64| (p - q).norm() <= NEAR * p.norm().max(q.norm());
        let (own, rest): (Vec<_>, Vec<_>) = clusters.into_iter().partition(|c| c.iter().any(near));
        clusters = rest;
        clusters.push(own.into_iter().flatten().chain([*p]).collect());
    }
    loop {
        let found: Vec<Circle> = (0..clusters.len()).map(|k| circle(&clusters, k)).collect();
        // Where a circle would reach another cluster, they are one.
        let reaches = |k: usize| {
            let c = found[k];
            let within = |q: &Complex64| (q - c.centre).norm() < 1.8 * c.radius;
            (0..clusters.len()).find(|m| *m != k && clusters[k].len() > 1 && clusters[*m].iter().any(within))
        };
        match (0..clusters.len()).find_map(|k| Some((k, reaches(k)?))) {
            Some((k, m)) => {
                let joined = clusters.swap_remove(k.max(m));
                clusters[k.min(m)].extend(joined);
            }
            None => return clusters.into_iter().zip(found).collect(),
        }
    }
}

fn circle(clusters: &[Vec<Complex64>], own: usize) -> Circle {
    let poles = &clusters[own];
    let centre = poles.iter().sum::<Complex64>() / poles.len() as f64;
    let spread = poles.iter().map(|p| (p - centre).norm()).fold(0.0, f64::max);
    let others = clusters.iter().enumerate().filter(|(k, _)| *k != own).flat_map(|(_, c)| c);
    let gap = others.map(|q| (q - centre).norm()).fold(f64::INFINITY, f64::min);
    // Wide, since m poles within a radius r stand for r⁻ᵐ; but not so wide that e^(st) on its far side outlives the poles.
    let wide = (0.5 * gap).min(0.5 * centre.re.abs().max(0.04 * centre.norm()));
    let radius = (2.0 * spread).max(wide);
    Circle { centre, radius: if radius.is_finite() && radius > 0.0 { radius } else { 1.0 } }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn real(x: f64) -> Complex64 {
        Complex64::new(x, 0.0)
    }

    #[test]
    fn a_lag_rises_as_its_exponential() {
        let lag = Factored { gain: 1e3, zeros: vec![], poles: vec![real(-1e3)] };
        let times = [0.0, 1e-4, 1e-3, 5e-3, 0.1];
        for (t, y) in times.iter().zip(step(&lag, &times).unwrap()) {
            assert!((y - (1.0 - (-1e3 * t).exp())).abs() < 1e-14, "{t} {y}");
        }
        assert_eq!(step(&lag, &[-1.0]).unwrap(), [0.0]);
    }

    #[test]
    fn ten_equal_lags_keep_their_digits() {
        let lags = Factored { gain: 1.0, zeros: vec![], poles: vec![real(-1.0); 10] };
        for t in [0.5f64, 3.0, 10.0, 40.0] {
            // 1 − e^(−t) Σ tᵏ/k!, k below 10
            let mut term = 1.0;
            let mut sum = 0.0;
            for k in 0..10 {
                sum += term;
                term *= t / f64::from(k + 1);
            }
            let wanted = 1.0 - (-t).exp() * sum;
            let found = step(&lags, &[t]).unwrap()[0];
            assert!((found - wanted).abs() < 1e-12, "{t}: {found} {wanted}");
        }
    }

    #[test]
    fn a_high_pass_steps_and_falls_back() {
        let high = Factored { gain: 1.0, zeros: vec![real(0.0)], poles: vec![real(-100.0)] };
        let found = step(&high, &[0.0, 1e-2]).unwrap();
        assert!((found[0] - 1.0).abs() < 1e-13 && (found[1] - (-1f64).exp()).abs() < 1e-13, "{found:?}");
        let rising = Factored { gain: 1.0, zeros: vec![real(0.0)], poles: vec![] };
        assert!(step(&rising, &[1.0]).is_err());
    }

    #[test]
    fn a_burst_swells_to_the_gain_and_dies_away() {
        // A resonance of Q 20 at 1 kHz: the envelope is 1 − e^(−t/τ) with τ = 2Q/ω₀, to the ripple of 1/Q.
        let w0 = TAU * 1e3;
        let p = Complex64::new(-w0 / 40.0, w0 * (1.0f64 - 1.0 / 1600.0).sqrt());
        let band = Factored { gain: w0 / 20.0, zeros: vec![real(0.0)], poles: vec![p, p.conj()] };
        let tau = 40.0 / w0;
        let found = burst_envelope(&band, 1e3, 0.1, &[tau, 0.1, 0.1 + tau]).unwrap();
        assert!((found[0] - (1.0 - (-1f64).exp())).abs() < 0.03, "{found:?}");
        assert!((found[1] - 1.0).abs() < 1e-6 && (found[2] - (-1f64).exp()).abs() < 0.03, "{found:?}");
    }
}
